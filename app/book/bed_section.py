"""The bed, and how sheets that are larger than it are sawn into blanks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from PySide6.QtWidgets import QLabel, QPushButton, QWidget

from ...nesting.model.breakdown import Breakdown
from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.stock import Stock
from ...nesting.shop.advice import Advice, warning
from ...nesting.shop.breakdown import needs_sawing, sawn_stock
from ..sawing import ways_to_saw
from ..window.document import Document
from . import shop_settings, words
from .fields import ChoiceField, form_layout
from .length_field import LengthField
from .sawing_picture import SawingPicture, cuts_in_words
from .shop import Shop
from .shop_sections import ShopForm


class BedSection(QWidget):
    """Size of the bed, the saw, and the break-down of one kind of sheet."""

    def __init__(
        self, document: Document, shop: Shop, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.shop = shop
        self._large: tuple[Stock, ...] = ()
        self._ways: list[Breakdown] = []
        self._trouble = ""
        form = form_layout(self)
        self.form = form
        tip = self.tr("What lies on the machine at a time; drawn on the bench. 0: none")
        self.bed_x = self._length(self.tr("&Bed along x"), tip)
        self.bed_y = self._length(self.tr("B&ed along y"), tip)
        self.bed_x.entered.connect(lambda v: self._bed(0, v))
        self.bed_y.entered.connect(lambda v: self._bed(1, v))
        self.saw = ShopForm(
            shop, "saw", shop_settings.saw(), lambda: document.job, self, form
        )
        self.sheet = ChoiceField(self.tr("Sheet"), [], self)
        self._row(
            self.tr("S&heet"),
            self.sheet,
            self.tr("Kinds of sheet that are larger than the bed"),
        )
        self.sheet.entered.connect(lambda _: self._find_ways())
        self.way = ChoiceField(self.tr("Sawn into"), [], self)
        self._row(
            self.tr("Sa&wn into"),
            self.way,
            self.tr("Straight cuts, full length: rips first, then cross cuts"),
        )
        self.way.entered.connect(lambda _: self._show_way())
        self.words = QLabel(self)
        self.words.setWordWrap(True)
        form.addRow(self.words)
        self.picture = SawingPicture(self)
        form.addRow(self.picture)
        self.take = QPushButton(self.tr("Lay out on these blanks"), self)
        self.take.setMinimumHeight(28)
        self.take.setToolTip(
            self.tr("Put the blanks in the stock in place of the whole sheet")
        )
        self.take.clicked.connect(self._take)
        form.addRow(self.take)
        self.refresh()

    def _length(self, label: str, tip: str) -> LengthField:
        name = label.replace("&", "")
        field = LengthField(name, lambda: self.document.job, self)
        self._row(label, field, tip)
        return field

    def _row(self, label: str, field: LengthField | ChoiceField, tip: str) -> None:
        field.focus_widget().setToolTip(tip)
        head = QLabel(label, self)
        head.setBuddy(field.focus_widget())
        head.setToolTip(tip)
        self.form.addRow(head, field)

    # ------------------------------------------------------------ showing

    def refresh(self) -> None:
        """Show what the document and the shop hold."""
        job, usual = self.document.job, self.shop.setup.machine.bed
        bed = job.bed or (0.0, 0.0)
        for field, value, default in zip(
            (self.bed_x, self.bed_y), bed, usual, strict=True
        ):
            field.show_length(value)
            field.set_default(default)
        self.saw.refresh()
        large = tuple(s for s in job.stock if needs_sawing(s, job.bed))
        chosen = self.sheet.value
        ids = [stock.id for stock in large]
        self._large = large
        self.sheet.set_choices([(s.id, s.name) for s in large])
        self.sheet.show_value(chosen if chosen in ids else next(iter(ids), None))
        self._find_ways()

    def forget(self) -> None:
        """Show the bed again, whatever was typed."""
        self.bed_x.set_back()
        self.bed_y.set_back()

    def _chosen(self) -> Stock | None:
        return next((s for s in self._large if s.id == self.sheet.value), None)

    def _find_ways(self) -> None:
        job, stock = self.document.job, self._chosen()
        self._ways, self._trouble = [], ""
        if stock is not None and job.bed is not None:
            try:
                self._ways = ways_to_saw(stock, job.bed, job, self.shop.setup)
            except InputError as error:
                self._trouble = f"{error.what}; {error.cure}".rstrip("; ")
        number = self.way.value
        self.way.set_choices(
            [(i, cuts_in_words(plan, job)) for i, plan in enumerate(self._ways)]
        )
        fits = isinstance(number, int) and number < len(self._ways)
        self.way.show_value(number if fits else (0 if self._ways else None))
        self._show_way()

    def _show_way(self) -> None:
        job, stock = self.document.job, self._chosen()
        plan = self._plan()
        for widget, shown in (
            (self.sheet, len(self._large) > 0),
            (self.way, plan is not None),
        ):
            widget.setVisible(shown)
            label = self.form.labelForField(widget)
            if label is not None:
                label.setVisible(shown)
        self.picture.setVisible(plan is not None)
        self.take.setVisible(plan is not None)
        if plan is not None and stock is not None:
            self.picture.show_plan(plan, job)
            share = 100.0 * plan.area / stock.area
            cuts = len(plan.cuts)
            text = (
                self.tr("Indexed through in {n} positions, pins in the holes.").format(
                    n=len(plan.pieces)
                )
                if plan.holes
                else self.tr("{n} cuts; {share} % of the sheet stays.").format(
                    n=cuts, share=words.shown_number(share, 1)
                )
            )
            self.words.setText(text)
        elif self._trouble:
            self.words.setText(self._trouble)
        elif job.bed is None:
            self.words.setText(self.tr("No bed: sheets are laid out whole."))
        elif job.stock:
            self.words.setText(self.tr("Every kind of stock fits the bed."))
        else:
            self.words.setText(self.tr("No stock yet."))

    def _plan(self) -> Breakdown | None:
        number = self.way.value
        if isinstance(number, int) and 0 <= number < len(self._ways):
            return self._ways[number]
        return None

    def summary(self) -> str:
        """Return what the section holds, in a few words."""
        job = self.document.job
        if job.bed is None:
            return self.tr("no bed given")
        bed = self.tr("bed {size} {unit}").format(
            size=words.said_size(job.bed, job), unit=job.units
        )
        if self._large:
            names = ", ".join(stock.name for stock in self._large)
            return self.tr("{bed}; to be sawn: {names}").format(bed=bed, names=names)
        return bed

    def advice(self) -> list[Advice]:
        """Return what to say about sheets that do not fit the bed."""
        return [
            warning(
                "larger-than-bed",
                "it is larger than the bed: saw it into blanks first",
                stock.name,
            )
            for stock in self._large
        ]

    # ------------------------------------------------------------ changing

    def _bed(self, axis: int, value: Any) -> None:
        job = self.document.job
        sides = list(job.bed or (0.0, 0.0))
        sides[axis] = float(value)
        if not sides[1 - axis]:
            sides[1 - axis] = float(value)
        bed = (sides[0], sides[1]) if value else None
        done: Job = replace(job, bed=bed)
        self.document.change(self.tr("Change the bed"), done)

    def _take(self) -> None:
        job, stock, plan = self.document.job, self._chosen(), self._plan()
        if stock is None or plan is None or job.bed is None:
            return
        sawn = sawn_stock(stock, plan, job.bed)
        kinds = tuple(
            new
            for old in job.stock
            for new in (sawn.blanks if old is stock else (old,))
        )
        text = self.tr("Saw {name} into blanks").format(name=stock.name)
        self.document.change(text, replace(job, stock=kinds))
