"""The cutting set-up: cut and gap, bed, machine, cutters, boards, holding down."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import (
    QFormLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.holding import Holding, TabRule
from ...nesting.model.job import Cutting, Datum, Job, Objective
from ...nesting.model.rules import CleanFace
from ...nesting.shop.advice import Advice
from ...nesting.shop.plan import advice_on
from ...nesting.shop.tabs import put_tabs
from ..window.document import Document
from ..window.task import Task
from . import shop_settings, words
from .bed_section import BedSection
from .corners_section import CornersSection
from .fields import ChoiceField, Field, FlagField, SecondsBox, form_layout
from .fold import Fold, PageColumn
from .late_page import LatePage
from .length_field import LengthField
from .shop import Shop
from .shop_sections import (
    FeedsTable,
    OwnCutters,
    SetupBar,
    ShopForm,
    ShopList,
    cutter_words,
    machine_list,
)
from .tabs_section import TabsSection
from .time_record import TimeRecord

WAIT = 400
"""After an edit, advice that takes long is worked out this much later, ms."""

FEEDS = ("chip", "feed", "rub", "rpm", "speed")
"""How codes of advice about feeds begin or what they hold."""


class CuttingPage(LatePage):
    """The page of the cutting set-up.

    Signals
    -------
    units_chosen(str)
        The user wants lengths in this unit, now and in new jobs.
    """

    units_chosen = Signal(str)

    def __init__(
        self, document: Document, shop: Shop, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.shop = shop
        self._task: Task | None = None
        page = PageColumn(self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(page)
        self.bar = SetupBar(shop, page.inner)
        page.add(self.bar)
        self.cut_fold = Fold(self.tr("Cut and gap"), self._cut(page.inner), page.inner)
        self.bed = BedSection(document, shop, page.inner)
        self.bed_fold = Fold(self.tr("Bed and break-down"), self.bed, page.inner)
        self.feeds = FeedsTable(page.inner)
        self.boards = ShopList(
            shop,
            "boards",
            self.tr("Boards"),
            shop_settings.board(),
            self._job,
            lambda board: f"{board.name} · {board.density:g} kg/m³",
            parent=page.inner,
        )
        feeds = self._stack(self.feeds, self.boards)
        self.feeds_fold = Fold(self.tr("Boards and feeds"), feeds, page.inner)
        self.machines = machine_list(shop, document, page.inner)
        self.times = TimeRecord(shop, page.inner)
        machine = self._stack(self.machines, self.times)
        self.machine_fold = Fold(self.tr("Machine"), machine, page.inner)
        self.drawer = ShopList(
            shop,
            "cutters",
            self.tr("Cutter drawer"),
            shop_settings.cutter(),
            self._job,
            lambda cutter: cutter_words(cutter, document.job),
            self.tr("Cut this job with it"),
            self.tr("Take its cut width for this job"),
            page.inner,
        )
        self.drawer.used.connect(lambda cutter: self._cutting("cutter", cutter.width))
        self.own_cutters = OwnCutters(shop, page.inner)
        drawer = self._stack(self.drawer, self.own_cutters)
        self.drawer_fold = Fold(self.tr("Cutter drawer"), drawer, page.inner)
        self.corners = CornersSection(document, page.inner)
        self.corners_fold = Fold(self.tr("Inside corners"), self.corners, page.inner)
        self.holding_fold = Fold(
            self.tr("Holding down"), self._holding(page.inner), page.inner
        )
        self.depths = ShopForm(
            shop, "practice", shop_settings.depth(), self._job, page.inner
        )
        self.depth_fold = Fold(self.tr("Depth"), self.depths, page.inner)
        self.prices = ShopForm(
            shop, "prices", shop_settings.prices(), self._job, page.inner
        )
        self.prices_fold = Fold(self.tr("Prices"), self.prices, page.inner)
        self.beginnings = ShopForm(
            shop, "practice", shop_settings.beginnings(), self._job, page.inner
        )
        self.beginnings_fold = Fold(
            self.tr("New jobs begin with"), self.beginnings, page.inner
        )
        self.search_fold = Fold(
            self.tr("Search and units"), self._search(page.inner), page.inner
        )
        self.folds = [
            self.cut_fold,
            self.bed_fold,
            self.feeds_fold,
            self.machine_fold,
            self.drawer_fold,
            self.corners_fold,
            self.holding_fold,
            self.depth_fold,
            self.prices_fold,
            self.beginnings_fold,
            self.search_fold,
        ]
        for fold in self.folds:
            page.add(fold)
        page.finish()
        self.cut_fold.set_open(True)
        self.corners_fold.opened.connect(self._later)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(WAIT)
        self._timer.timeout.connect(self._work_out)
        document.changed.connect(self.refresh)
        document.opened.connect(self._opened)
        shop.changed.connect(self.refresh)
        self.fill()

    def _job(self) -> Job:
        return self.document.job

    def _stack(self, *widgets: QWidget) -> QWidget:
        body = QWidget(self)
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in widgets:
            column.addWidget(widget)
        return body

    def _form(self, parent: QWidget) -> tuple[QWidget, QFormLayout]:
        body = QWidget(parent)
        form = form_layout(body)
        return body, form

    def _row(self, form: QFormLayout, label: str, field: Field, tip: str) -> None:
        field.focus_widget().setToolTip(tip)
        head = QLabel(label, field.parentWidget())
        head.setBuddy(field.focus_widget())
        head.setToolTip(tip)
        form.addRow(head, field)

    def _length(self, form: QFormLayout, label: str, tip: str) -> LengthField:
        body = form.parentWidget()
        field = LengthField(label.replace("&", ""), self._job, body, most=10_000.0)
        self._row(form, label, field, tip)
        return field

    def _choice(
        self, form: QFormLayout, label: str, choices: list[tuple[Any, str]], tip: str
    ) -> ChoiceField:
        body = form.parentWidget()
        field = ChoiceField(label.replace("&", ""), choices, body)
        self._row(form, label, field, tip)
        return field

    # ------------------------------------------------------------ building

    def _cut(self, parent: QWidget) -> QWidget:
        body, form = self._form(parent)
        self.cutter_choice = self._choice(
            form,
            self.tr("Cu&tter"),
            [],
            self.tr("From the drawer; its cut width is taken"),
        )
        self.cutter_choice.entered.connect(self._take_cutter)
        self.cutter = self._length(
            form,
            self.tr("C&ut width"),
            self.tr("How wide a slot it really cuts; measure one. 1/4 in is 6.35 mm"),
        )
        self.allowance = self._length(
            form,
            self.tr("&Allowance"),
            self.tr("Wood left between two slots, so that no sliver breaks loose"),
        )
        self.gap = QLabel(body)
        form.addRow(self.tr("Gap between parts"), self.gap)
        self.margin = self._length(
            form,
            self.tr("&Margin"),
            self.tr("Least distance from a part to the edge of the blank"),
        )
        self.keep_side = self._length(
            form,
            self.tr("Leftovers: least side"),
            self.tr("What is narrower is not worth keeping"),
        )
        self.keep_square = self._length(
            form,
            self.tr("Leftovers: least square"),
            self.tr("What has less area than such a square is not worth keeping"),
        )
        self.keep_neck = self._length(
            form,
            self.tr("Leftovers: least neck"),
            self.tr("Narrower necks and fingers of a leftover are waste"),
        )
        for key, field in (
            ("cutter", self.cutter),
            ("allowance", self.allowance),
            ("margin", self.margin),
            ("keep_side", self.keep_side),
            ("keep_square", self.keep_square),
            ("keep_neck", self.keep_neck),
        ):
            field.entered.connect(lambda v, k=key: self._cutting(k, v))
        self.holes = FlagField(self.tr("Lay parts in the &holes of others"), body)
        self.holes.box.setToolTip(self.tr("The hole's waste is used for smaller parts"))
        self.holes.entered.connect(lambda on: self._cutting("use_holes", on))
        form.addRow(self.holes)
        self.datum = self._choice(
            form,
            self.tr("&Datum"),
            [
                (Datum.LOWER_LEFT, self.tr("Lower left corner")),
                (Datum.LOWER_RIGHT, self.tr("Lower right corner")),
                (Datum.UPPER_LEFT, self.tr("Upper left corner")),
                (Datum.UPPER_RIGHT, self.tr("Upper right corner")),
                (Datum.CENTRE, self.tr("Centre")),
            ],
            self.tr("The point of the blank that exported coordinates count from"),
        )
        self.datum.entered.connect(lambda v: self._cutting("datum", v))
        self.offsets: list[LengthField] = []
        for axis, label in enumerate(
            (self.tr("Datum from the stops, X"), self.tr("Datum from the stops, Y"))
        ):
            field = LengthField(label, self._job, body, -10_000.0, 10_000.0)
            self._row(
                form,
                label,
                field,
                self.tr(
                    "Its coordinates where they count from fixed stops on the bed; 0 "
                    "to count from the datum itself"
                ),
            )
            field.entered.connect(lambda v, a=axis: self._offset(a, v))
            self.offsets.append(field)
        self.clean = self._choice(
            form,
            self.tr("Clean &face"),
            [
                (CleanFace.NEITHER, self.tr("Does not matter")),
                (CleanFace.TOP, self.tr("Top")),
                (CleanFace.BOTTOM, self.tr("Bottom")),
                (CleanFace.BOTH, self.tr("Both")),
            ],
            self.tr(
                "The face that must stay free of torn fibres; the cutter's form decides"
            ),
        )
        self.clean.entered.connect(lambda v: self._cutting("clean", v))
        return body

    def _holding(self, parent: QWidget) -> QWidget:
        body, form = self._form(parent)
        self.tabs = self._choice(
            form,
            self.tr("Ta&bs"),
            [
                (TabRule.NONE, self.tr("None")),
                (TabRule.SMALL, self.tr("On small parts")),
                (TabRule.ALL, self.tr("On all parts")),
            ],
            self.tr("Short stretches of an edge that are not cut through"),
        )
        self.tabs.entered.connect(lambda v: self._hold("tabs", v))
        self.drop_outs = FlagField(
            self.tr("Tabs on pieces that fall &out of holes"), body
        )
        self.drop_outs.box.setToolTip(
            self.tr("What is cut free inside a hole stays put as well")
        )
        self.drop_outs.entered.connect(lambda on: self._hold("drop_outs", on))
        form.addRow(self.drop_outs)
        self.screws = ChoiceField(
            self.tr("Screw spots"),
            [(n, str(n) if n else self.tr("None")) for n in (0, 2, 3, 4, 6, 8, 12)],
            body,
        )
        self._row(
            form,
            self.tr("Scr&ew spots"),
            self.screws,
            self.tr("Places in the waste of each blank, clear of every path"),
        )
        self.screws.entered.connect(lambda v: self._hold("screws", v))
        self.part_tabs = TabsSection(self.document, self.shop, body)
        form.addRow(self.part_tabs)
        self.holding = ShopForm(
            self.shop, "practice", shop_settings.holding(), self._job, body, form
        )
        return body

    def _search(self, parent: QWidget) -> QWidget:
        body, form = self._form(parent)
        self.objective = self._choice(
            form,
            self.tr("Better &is"),
            [
                (Objective.FEWEST_SHEETS, self.tr("Fewest sheets")),
                (Objective.LEAST_COST, self.tr("Least cost")),
                (Objective.SHORTEST_LENGTH, self.tr("Shortest length")),
            ],
            self.tr("What makes one layout better than another"),
        )
        self.objective.entered.connect(
            lambda v: self._put(
                self.tr("Change what is better"),
                replace(self.document.job, objective=v),
            )
        )
        self.seconds = SecondsBox(self.tr("Nest for at most"), 3600, 30, body)
        self.seconds.setToolTip(
            self.tr("The search ends sooner when nothing can be better")
        )
        head = QLabel(self.tr("Nest f&or at most"), body)
        head.setBuddy(self.seconds)
        form.addRow(head, self.seconds)
        self.seconds.valueChanged.connect(self._summarise)
        self.units = self._choice(
            form,
            self.tr("Show &lengths in"),
            [("mm", self.tr("Millimetres")), ("in", self.tr("Inches, as fractions"))],
            self.tr("Changes what is shown, never what is stored"),
        )
        self.units.entered.connect(self._units)
        return body

    # ------------------------------------------------------------ showing

    def fill(self) -> None:
        """Show what the document and the shop hold."""
        job, practice = self.document.job, self.shop.setup.practice
        cutting = job.cutting
        self._offer_cutters()
        for field, value, default in (
            (self.cutter, cutting.cutter, practice.cut_width),
            (self.allowance, cutting.allowance, practice.allowance),
            (self.margin, cutting.margin, practice.margin),
            (self.keep_side, cutting.keep_side, practice.keep_side),
            (self.keep_square, cutting.keep_square, practice.keep_square),
            (self.keep_neck, cutting.keep_neck, practice.keep_neck),
        ):
            field.show_length(value)
            field.set_default(default)
        for field, value in zip(self.offsets, cutting.offset, strict=True):
            field.show_length(value)
            field.set_default(0.0)
        self.gap.setText(words.with_unit(cutting.gap, job))
        for other, is_now, usual in (
            (self.holes, cutting.use_holes, True),
            (self.datum, cutting.datum, Datum.LOWER_LEFT),
            (self.clean, cutting.clean, CleanFace.NEITHER),
            (self.objective, job.objective, Objective.FEWEST_SHEETS),
            (self.tabs, job.holding.tabs, TabRule.NONE),
            (self.drop_outs, job.holding.drop_outs, False),
        ):
            other.show_value(is_now)
            other.set_default(usual)
        self.units.show_value(job.units)
        screws = job.holding.screws
        counts = sorted({0, 2, 3, 4, 6, 8, 12, screws})
        self.screws.set_choices([(n, str(n) if n else self.tr("None")) for n in counts])
        self.screws.show_value(screws)
        self.screws.set_default(0)
        self.bed.refresh()
        self.corners.refresh()
        self.part_tabs.refresh()
        for form in (self.holding, self.depths, self.prices, self.beginnings):
            form.refresh()
        self.times.refresh()
        self.own_cutters.refresh()
        for records in (self.machines, self.drawer, self.boards):
            records.refresh()
        self._advise()
        self._summarise()
        self._later()

    def _opened(self) -> None:
        kept = (self.keep_side, self.keep_square, self.keep_neck)
        for field in (self.cutter, self.allowance, self.margin, *kept):
            field.set_back()
        self.bed.forget()

    def _offer_cutters(self) -> None:
        job = self.document.job
        drawer = self.shop.setup.cutters
        width = job.cutting.cutter
        fitting = [i for i, c in enumerate(drawer) if abs(c.width - width) < 1e-6]
        now = fitting[0] if fitting else -1
        choices: list[tuple[Any, str]] = [
            (i, cutter_words(c, job)) for i, c in enumerate(drawer)
        ]
        if now < 0:
            choices.append((-1, self.tr("None of the drawer")))
        # Two cutters of one width: stay with the one that was chosen.
        kept = self.cutter_choice.value
        if kept in fitting:
            now = kept
        self.cutter_choice.set_choices(choices)
        self.cutter_choice.show_value(now)

    def _summarise(self) -> None:
        job, setup = self.document.job, self.shop.setup
        machine, practice = setup.machine, setup.practice

        def length(mm: float) -> str:
            return words.with_unit(mm, job)

        self.cut_fold.summarise(
            self.tr("cut width {cutter}, gap {gap}, margin {margin}").format(
                cutter=length(job.cutting.cutter),
                gap=length(job.cutting.gap),
                margin=length(job.cutting.margin),
            )
        )
        self.bed_fold.summarise(self.bed.summary())
        feeds = self.feeds.show_feeds(job, setup)
        self.feeds_fold.summarise(feeds or self.tr("no parts yet"))
        self.machine_fold.summarise(
            self.tr("{name}: bed {bed} {unit}, {low} to {high} turns/min").format(
                name=machine.name,
                bed=words.said_size(machine.bed, job),
                unit=job.units,
                low=f"{machine.rpm_min:.0f}",
                high=f"{machine.rpm_max:.0f}",
            )
        )
        self.drawer_fold.summarise(self.tr("{n} cutters").format(n=len(setup.cutters)))
        self.corners_fold.summarise(self.corners.summary())
        skin = (
            self.tr("onion skin {skin}").format(skin=length(practice.onion_skin))
            if practice.onion_skin
            else self.tr("no onion skin")
        )
        self.holding_fold.summarise(
            self.tr("tabs: {tabs}, screw spots: {screws}, {skin}").format(
                tabs=self.tabs.words_of(job.holding.tabs).lower(),
                screws=self.screws.words_of(job.holding.screws).lower(),
                skin=skin,
            )
        )
        self.depth_fold.summarise(
            self.tr("Z zero: {zero}, overcut {overcut}").format(
                zero=practice.z_zero.value, overcut=length(practice.overcut)
            )
        )
        prices = setup.prices
        self.prices_fold.summarise(
            self.tr("machine {rate} an hour, mark-up {mark} %").format(
                rate=f"{prices.currency} {machine.rate:.2f}".strip(),
                mark=words.shown_number(100.0 * prices.mark_up, 1),
            )
        )
        self.beginnings_fold.summarise(
            self.tr(
                "cut width {cutter}, allowance {allowance}, margin {margin}"
            ).format(
                cutter=length(practice.cut_width),
                allowance=length(practice.allowance),
                margin=length(practice.margin),
            )
        )
        self.search_fold.summarise(
            self.tr("{better}, for at most {seconds} s, lengths in {unit}").format(
                better=self.objective.words_of(job.objective).lower(),
                seconds=self.seconds.value(),
                unit=job.units,
            )
        )

    # ------------------------------------------------------------ advice

    def _advise(self) -> None:
        """Say what can be said at once: cutter, feeds."""
        found = advice_on(self.document.job, self.shop.setup)
        feeds = [a for a in found if any(word in a.code for word in FEEDS)]
        self.feeds_fold.remarks.advise(feeds)
        self.cut_fold.remarks.advise([a for a in found if a not in feeds])

    def _later(self) -> None:
        self._timer.start()

    def _work_out(self) -> None:
        """Work out what takes longer, on another thread."""
        if self._task is not None:
            self._task.stop()
        job, setup = self.document.job, self.shop.setup

        def work(stopped: Callable[[], bool]) -> Any:
            from .late_advice import late_advice

            return job, late_advice(job, setup, stopped)

        self._task = Task(work, self)
        self._task.done.connect(self._late)
        self._task.start()

    def _late(self, answer: Any) -> None:
        job, advice = answer
        if job is not self.document.job:
            return
        self.machine_fold.remarks.advise(advice.machine)
        self.times.show_estimate(advice.estimated)
        self.bed_fold.remarks.advise([*advice.bed, *self.bed.advice()])
        self.holding_fold.remarks.advise(advice.holding)
        self.corners_fold.remarks.advise(_few(advice.corners))
        self.corners.show_standing(advice.standing)
        self._summarise()

    def close_down(self) -> None:
        """End what runs."""
        self._timer.stop()
        if self._task is not None:
            self._task.close()

    # ------------------------------------------------------------ changing

    def _put(self, text: str, job: Job) -> None:
        self.document.change(text, job)

    def _take_cutter(self, number: int) -> None:
        drawer = self.shop.setup.cutters
        if 0 <= number < len(drawer):
            self._cutting("cutter", drawer[number].width)

    def _cutting(self, name: str, value: object) -> None:
        job = self.document.job
        cutting: Cutting = replace(job.cutting, **{name: value})  # type: ignore[arg-type]
        labels = {
            "cutter": self.tr("Change the cut width"),
            "allowance": self.tr("Change the allowance"),
            "margin": self.tr("Change the margin"),
            "keep_side": self.tr("Change what leftovers are kept"),
            "keep_square": self.tr("Change what leftovers are kept"),
            "keep_neck": self.tr("Change what leftovers are kept"),
            "datum": self.tr("Change the datum"),
            "clean": self.tr("Change the clean face"),
            "offset": self.tr("Change the datum's offset"),
            "use_holes": self.tr("Change the use of holes"),
        }
        self._put(labels[name], replace(job, cutting=cutting))

    def _offset(self, axis: int, value: float) -> None:
        offset = list(self.document.job.cutting.offset)
        offset[axis] = float(value)
        self._cutting("offset", (offset[0], offset[1]))

    def _hold(self, name: str, value: object) -> None:
        job = self.document.job
        holding: Holding = replace(job.holding, **{name: value})  # type: ignore[arg-type]
        held = replace(job, holding=holding)
        if name != "screws":  # on the bench they can then be moved and taken away
            held = put_tabs(held, self.shop.setup.practice, anew=True)
        text = {
            "tabs": self.tr("Change the tabs"),
            "drop_outs": self.tr("Change the tabs in holes"),
            "screws": self.tr("Change the screw spots"),
        }[name]
        self._put(text, held)

    def _units(self, unit: str) -> None:
        self._put(self.tr("Change the unit"), replace(self.document.job, units=unit))
        self.units_chosen.emit(unit)


def _few(advice: list[Advice]) -> list[Advice]:
    """Keep warnings; notes stand in the section itself."""
    return [a for a in advice if a.weight.value != "note"]
