"""The sections of the Cutting page that show and change the shop's set-up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from PySide6.QtWidgets import (
    QFormLayout,
    QHBoxLayout,
    QInputDialog,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.lengths import load_text
from ...nesting.model.machine import Cutter
from ...nesting.shop.plan import CutPlan, plans_of
from ..window.document import Document
from ..window.look import sign
from . import shop_settings, words
from .boxes import tint
from .buttons import push_button
from .fields import ChoiceField, form_layout
from .record_list import RecordList
from .settings import RecordForm, Setting
from .shop import Shop


class SetupBar(QWidget):
    """Which kept set-up is in use, and how far what is in use differs from it."""

    def __init__(self, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shop = shop
        self.choice = ChoiceField(self.tr("Set-up"), [], self)
        self.choice.box.setToolTip(
            self.tr("The shop's defaults: machines, cutters, boards, ways, prices")
        )
        self.choice.entered.connect(shop.choose)
        label = QLabel(self.tr("&Set-up"), self)
        label.setBuddy(self.choice.box)
        self.keep = push_button(
            self,
            self.tr("&Keep as…"),
            self.tr("Keep the values in use as the shop's defaults, under a name"),
            self._keep,
        )
        self.remove = push_button(
            self,
            self.tr("Remove"),
            self.tr("Remove this kept set-up; its values stay in use"),
            shop.remove,
        )
        self.state = QLabel(self)
        self.state.setWordWrap(True)
        self.reset = push_button(
            self,
            self.tr("Reset all to shop default"),
            self.tr("Take all values of this set-up as they were kept"),
            lambda: shop.choose(shop.name),
        )
        self.aside = push_button(
            self,
            self.tr("Set that file aside"),
            self.tr("Rename it and begin with the defaults"),
            shop.set_aside,
        )
        top = QHBoxLayout()
        top.addWidget(label)
        top.addWidget(self.choice, 1)
        top.addWidget(self.keep)
        top.addWidget(self.remove)
        below = QHBoxLayout()
        below.addWidget(self.state, 1)
        below.addWidget(self.reset)
        below.addWidget(self.aside)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 6)
        column.addLayout(top)
        column.addLayout(below)
        shop.changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show which set-up it is."""
        shop = self.shop
        self.choice.set_choices(
            [(n, n or self.tr("Common practice")) for n in shop.names()]
        )
        self.choice.show_value(shop.name)
        self.remove.setVisible(bool(shop.name))
        self.aside.setVisible(bool(shop.trouble))
        self.reset.setVisible(shop.differs and not shop.trouble)
        self.keep.setEnabled(not shop.trouble)
        if shop.trouble:
            level, text = "error", shop.trouble
        elif shop.differs:
            level, text = "info", self.tr("Changed values carry ↺ and the default.")
        else:
            level, text = "", self.tr("All values are the shop's defaults.")
        self.state.setText(f"{sign(level)}  {text}" if level else text)
        tint(self.state, level)

    def _keep(self) -> None:
        name, given = QInputDialog.getText(
            self,
            self.tr("Keep the set-up"),
            self.tr("Name, for example of the machine:"),
            text=self.shop.name or self.shop.setup.machine.name,
        )
        if given:
            self.shop.keep(name.strip())


class ShopForm(RecordForm):
    """Values of one of the set-up's records: its saw, practice or prices.

    The page that holds it calls `refresh` when the set-up in use has changed.
    """

    def __init__(
        self,
        shop: Shop,
        part: str,
        settings: Sequence[Setting],
        job: Callable[[], Job],
        parent: QWidget | None = None,
        form: QFormLayout | None = None,
    ) -> None:
        super().__init__(settings, job, parent, form)
        self.shop = shop
        self._part = part
        self.put.connect(self._store)
        self.refresh()

    def refresh(self) -> None:
        """Show what is in use."""
        shop = self.shop
        self.show_record(
            getattr(shop.setup, self._part), getattr(shop.default, self._part)
        )

    def _store(self, record: Any, label: str) -> None:
        # Other fields of the same record may have changed meanwhile; this one is whole.
        self.shop.put(replace(self.shop.setup, **{self._part: record}))


class ShopList(RecordList):
    """The machines, cutters or boards of the set-up.

    The page that holds it calls `refresh` when the set-up in use has changed.
    """

    def __init__(
        self,
        shop: Shop,
        part: str,
        name: str,
        settings: Sequence[Setting],
        job: Callable[[], Job],
        told: Callable[[Any], str],
        use: str = "",
        use_tip: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(name, settings, job, told, use, use_tip, parent)
        self.shop = shop
        self._part = part
        self.put.connect(self._store)
        self.refresh()

    def refresh(self) -> None:
        """Show what is in use."""
        shop = self.shop
        self.show_records(
            getattr(shop.setup, self._part), getattr(shop.default, self._part)
        )

    def _store(self, records: Any) -> None:
        try:
            setup = replace(self.shop.setup, **{self._part: records})
        except InputError as error:
            self.refuse(error)
            return
        self.shop.put(setup)


def cutter_words(cutter: Cutter, job: Job) -> str:
    """Return a cutter as a row of the drawer."""
    width = words.with_unit(cutter.width, job)
    return f"{cutter.name} · {width} · {cutter.kind.value}"


def machine_list(shop: Shop, document: Document, parent: QWidget) -> ShopList:
    """Return the list of machines; using one puts it first."""
    tr = parent.tr
    found = ShopList(
        shop,
        "machines",
        tr("Machines"),
        shop_settings.machine(),
        lambda: document.job,
        lambda m: f"{m.name} · {words.said_size(m.bed, document.job)}",
        tr("Use this one"),
        tr("Reckon with this machine from now on"),
        parent,
    )

    def use(machine: Any) -> None:
        others = tuple(m for m in shop.setup.machines if m is not machine)
        shop.put(replace(shop.setup, machines=(machine, *others)))
        found.choose(0)

    found.used.connect(use)
    return found


class OwnCutters(QWidget):
    """Cutters of their own for pockets, engraving and drilling."""

    def __init__(self, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shop = shop
        form = form_layout(self)
        form.setContentsMargins(0, 6, 0, 0)
        self.fields: dict[str, ChoiceField] = {}
        for key, label in (
            ("pocket_cutter", self.tr("Pockets with")),
            ("engrave_cutter", self.tr("Engraving with")),
            ("drill_cutter", self.tr("Drilling with")),
        ):
            field = ChoiceField(label, [], self)
            field.box.setToolTip(
                self.tr("Another cutter for this work; each costs a change")
            )
            head = QLabel(label, self)
            head.setBuddy(field.box)
            form.addRow(head, field)
            field.entered.connect(lambda name, k=key: self._put(k, name))
            self.fields[key] = field
        self.refresh()

    def refresh(self) -> None:
        """Show what is in use."""
        setup, usual = self.shop.setup, self.shop.default.practice
        names = [cutter.name for cutter in setup.cutters]
        for key, field in self.fields.items():
            now = getattr(setup.practice, key)
            more = [now] if now and now not in names else []
            field.set_choices(
                [("", self.tr("The job's cutter"))]
                + [(name, name) for name in (*names, *more)]
            )
            field.show_value(now)
            field.set_default(getattr(usual, key))

    def _put(self, key: str, name: str) -> None:
        setup = self.shop.setup
        practice = replace(setup.practice, **{key: name})  # type: ignore[arg-type]
        self.shop.put(replace(setup, practice=practice))


class FeedsTable(QWidget):
    """What to set on the machine for each board of the order."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 4)
        self.labels: list[QLabel] = []

    def show_feeds(self, job: Job, setup: Any) -> str:
        """Show feeds; return the summary of the first."""
        lines = [
            f"{material or self.tr('any board')}"
            f"{', ' + words.with_unit(thickness, job) if thickness else ''}:\n"
            f"    {self._words(plan, job)}"
            for (material, thickness), plan in plans_of(job, setup).items()
        ]
        while len(self.labels) < len(lines):
            label = QLabel(self)
            label.setWordWrap(True)
            self.column.addWidget(label)
            self.labels.append(label)
        for number, label in enumerate(self.labels):
            label.setVisible(number < len(lines))
            if number < len(lines):
                label.setText(lines[number])
        return " ".join(lines[0].split()) if lines else ""

    def _words(self, plan: CutPlan, job: Job) -> str:
        feeds = plan.feeds
        said = [
            self.tr("{n} turns/min").format(n=f"{feeds.rpm:.0f}"),
            self.tr("feed {f}").format(
                f=f"{words.shown_number(_round(feeds.feed, job), 1)} "
                f"{words.speed_unit(job)}"
            ),
            self.tr("plunge {p}").format(
                p=words.shown_number(_round(feeds.plunge, job), 1)
            ),
            self.tr("chip {c}").format(c=load_text(feeds.chip_load, job.units)),
        ]
        if plan.thickness:
            count = plan.passes
            passes = self.tr("1 pass") if count == 1 else self.tr("{n} passes")
            said.append(
                passes.format(n=count)
                + " "
                + self.tr("of {d}").format(
                    d=words.with_unit(round(plan.depth / count, 2), job)
                )
            )
        return " · ".join(said)


def _round(speed: float, job: Job) -> float:
    return round(speed / 25.4, 1) if job.units == "in" else round(speed, -1)
