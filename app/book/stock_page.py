"""The stock: sheets that can be bought, and offcuts on the rack."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QSize, Signal
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from ...io.rack import rack_number
from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.lengths import weight_text
from ...nesting.model.outline import Loop, Outline
from ...nesting.model.rules import Grain, same_board
from ...nesting.model.stock import Stock
from ...nesting.shop.weight import board_weight, lift_note
from ..bench.sound import sound
from ..window.document import Document
from ..window.task import Task
from . import words
from .board_icon import BoardIcons
from .buttons import push_button
from .fold import Fold, PageColumn, Remarks
from .importing import free_id
from .leftover_section import LeftoverSection
from .rack_keeper import RackKeeper
from .rack_section import RackSection
from .shop import Shop
from .table import BookTable, Column, RowsModel

AS_NEEDED = "as needed"


class StockPage(QWidget):
    """The page of stock.

    Signals
    -------
    tool_wanted(str)
        A keep-out is to be drawn on the bench: "circle" or "rectangle".
    """

    tool_wanted = Signal(str)

    def __init__(
        self,
        document: Document,
        shop: Shop,
        rack: RackKeeper,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.shop = shop
        self.keeper = rack
        self._icons = BoardIcons()
        self._task: Task | None = None
        page = PageColumn(self)
        inner = page.inner
        self.model = RowsModel(
            document,
            self._columns(),
            lambda job: job.stock,
            _put_stock,
            lambda stock: stock.name,
        )
        self.table = BookTable(self.model, self.tr("Stock"), inner)
        self.table.setIconSize(QSize(24, 24))
        self.empty = QLabel(
            self.tr(
                "Nothing to cut from yet. Add the sheets you can buy, and the offcuts "
                "that lean on the wall; offcuts are used first."
            ),
            self,
        )
        self.empty.setWordWrap(True)
        self.sheet = push_button(
            self,
            self.tr("Add &sheet"),
            self.tr("Add a sheet that can be bought as needed; then type its size"),
            lambda: self.add(False),
        )
        self.offcut = push_button(
            self,
            self.tr("Add &offcut"),
            self.tr("Add one leftover from the rack; it is used before whole sheets"),
            lambda: self.add(True),
        )
        self.drawing = push_button(
            self,
            self.tr("From a dra&wing…"),
            self.tr("Add an offcut whose outline a DXF or SVG holds"),
            self._choose_drawing,
        )
        self.bench = push_button(
            self,
            self.tr("Put on &bench"),
            self.tr(
                "Lay one blank of the selected stock on the bench, to fill by hand"
            ),
            self._to_bench,
        )
        self.remove = push_button(
            self,
            self.tr("&Remove"),
            self.tr("Take the selected stock out of the job, with its blanks"),
            self.remove_chosen,
        )
        buttons = QHBoxLayout()
        buttons.addWidget(self.sheet)
        buttons.addWidget(self.offcut)
        buttons.addWidget(self.drawing)
        buttons.addStretch(1)
        self.keep = QLabel(
            self.tr("Keep-outs: screws and clamps that no cut may touch"), self
        )
        self.keep.setWordWrap(True)
        self.circle = push_button(
            self,
            self.tr("Draw &circle"),
            self.tr("Then drag on a blank on the bench; Del removes a chosen one"),
            lambda: self.tool_wanted.emit("circle"),
        )
        self.rectangle = push_button(
            self,
            self.tr("Draw rec&tangle"),
            self.tr("Then drag on a blank on the bench; Del removes a chosen one"),
            lambda: self.tool_wanted.emit("rectangle"),
        )
        drawing = QHBoxLayout()
        drawing.addWidget(self.circle)
        drawing.addWidget(self.rectangle)
        drawing.addStretch(1)
        self.remarks = Remarks(inner)
        chosen = QHBoxLayout()
        chosen.addWidget(self.bench)
        chosen.addWidget(self.remove)
        chosen.addStretch(1)
        rows: tuple[QHBoxLayout | QWidget, ...] = (
            buttons,
            self.empty,
            self.table,
            self.remarks,
            chosen,
            self.keep,
            drawing,
        )
        for row in rows:
            if isinstance(row, QHBoxLayout):
                page.sections.addLayout(row)
            else:
                page.sections.addWidget(row)
        page.sections.addSpacing(8)
        self.rack = RackSection(document, rack, inner)
        self.rack_fold = Fold(self.tr("On the rack"), self.rack, inner)
        self.leftovers = LeftoverSection(document, rack, self, inner)
        self.leftovers_fold = Fold(self.tr("After cutting"), self.leftovers, inner)
        self.folds = [self.rack_fold, self.leftovers_fold]
        for fold in self.folds:
            page.add(fold)
            fold.opened.connect(rack.look)
        page.finish()
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(page)
        document.changed.connect(self.refresh)
        document.opened.connect(self.table.fit_columns)
        shop.changed.connect(self.model.repaint_all)
        rack.changed.connect(self.refresh)
        self.refresh()

    def _columns(self) -> list[Column[Stock]]:
        return [
            Column(
                self.tr("Stock"),
                lambda job, stock: stock.name,
                _put_name,
                self.tr("What people call it"),
                icon=lambda number, stock: self._icons.of(
                    stock.outline, self.palette()
                ),
            ),
            Column(
                self.tr("Size"),
                lambda job, stock: words.shown_size(stock.outline.size, job),
                _put_size,
                self.tr("Length by width; the length is the first-quoted side"),
                number=True,
                editable=lambda stock: stock.is_rectangle,
                unit=True,
            ),
            Column(
                self.tr("Count"),
                lambda job, stock: (
                    self.tr("as needed") if stock.count is None else str(stock.count)
                ),
                self._put_count,
                self.tr("How many there are, or as needed"),
                number=True,
                choices=(self.tr("as needed"), "1", "2", "3"),
            ),
            Column(
                self.tr("Price"),
                lambda job, stock: f"{stock.price:.2f}",
                lambda job, stock, text: replace(stock, price=words.amount(text)),
                self.tr("Cost of one, in your currency"),
                number=True,
                hides=1,
            ),
            Column(
                self.tr("Grain"),
                lambda job, stock: str(stock.grain.value),
                lambda job, stock, text: replace(stock, grain=words.grain(text)),
                self.tr("Along which side the face grain runs"),
                choices=tuple(grain.value for grain in Grain),
                hides=2,
            ),
            Column(
                self.tr("Offcut"),
                lambda job, stock: self.tr("yes") if stock.offcut else self.tr("no"),
                lambda job, stock, text: replace(stock, offcut=text == "yes"),
                self.tr("Whether it is a kept leftover, which is used first"),
                hides=3,
                ticked=lambda stock: stock.offcut,
            ),
            Column(
                self.tr("Material"),
                lambda job, stock: stock.material,
                lambda job, stock, text: replace(stock, material=text),
                self.tr("Name of the board; parts name the same"),
                hides=4,
            ),
            Column(
                self.tr("Thickness"),
                lambda job, stock: words.shown(stock.thickness, job),
                lambda job, stock, text: replace(
                    stock, thickness=words.length(text, job)
                ),
                self.tr("Of the board; 0 when nobody said"),
                number=True,
                unit=True,
                hides=5,
            ),
            Column(
                self.tr("Weight"),
                self._weight,
                tip=self.tr("Of one, by the density that Cutting gives the board"),
                number=True,
                hides=6,
            ),
        ]

    def _weight(self, job: Job, stock: Stock) -> str:
        density = self.shop.setup.board(stock.material).density
        weight = board_weight(stock.area, stock.thickness, density)
        return weight_text(weight, job.units) if weight else "–"

    def _put_count(self, job: Job, stock: Stock, text: str) -> Stock:
        if text.casefold() in ("", AS_NEEDED, self.tr("as needed").casefold()):
            return replace(stock, count=None)
        return replace(stock, count=words.whole(text))

    def refresh(self) -> None:
        """Show what the document holds."""
        some = bool(self.document.job.stock)
        self.empty.setVisible(not some)
        self.bench.setEnabled(some)
        self.remove.setEnabled(some)
        blanks = bool(self.document.job.layout.blanks)
        self.circle.setEnabled(blanks)
        self.rectangle.setEnabled(blanks)
        self.table.setVisible(some)
        self.table.fit_rows(3, 9)
        self.rack_fold.summarise(self.rack.summary())
        self.leftovers_fold.summarise(self.leftovers.summary())
        self._remark()

    def _remark(self) -> None:
        """Say which boards are heavy, and which parts have no board."""
        job = self.document.job
        said: list[tuple[str, str]] = []
        for stock in job.stock:
            density = self.shop.setup.board(stock.material).density
            weight = board_weight(stock.area, stock.thickness, density)
            note = lift_note(weight, self.shop.setup.practice.lift)
            if note:
                shown = weight_text(weight, job.units)
                said.append(("info", f"{stock.name}, {shown}: {note}."))
        for material, thickness in {(p.material, p.thickness): None for p in job.parts}:
            if job.stock and not any(
                same_board(s.material, s.thickness, material, thickness)
                for s in job.stock
            ):
                board = material or self.tr("no material")
                if thickness:
                    board += f" {words.with_unit(thickness, job)}"
                said.append(
                    ("warn", self.tr("No stock is {board}.").format(board=board))
                )
        there = {board.id for board in self.keeper.boards}
        if self.keeper.looked:
            for stock in job.stock:
                number = rack_number(stock.id)
                if number is not None and number not in there:
                    said.append(
                        (
                            "warn",
                            self.tr("{name} stands on the rack no more.").format(
                                name=stock.name
                            ),
                        )
                    )
        self.remarks.say(said)

    @sound
    def showEvent(self, event: QShowEvent) -> None:
        """Look what stands on the rack: another window may have changed it."""
        super().showEvent(event)
        self.keeper.look()
        self.leftovers.look()

    def _choose_drawing(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self,
            self.tr("Outline of an offcut"),
            "",
            self.tr("Drawings (*.dxf *.svg *.DXF *.SVG)"),
        )
        if name:
            self.add_drawing(Path(name))

    def add_drawing(self, path: Path) -> None:
        """Add an offcut whose outline a drawing holds."""

        def work(stopped: Callable[[], bool]) -> Outline:
            from ..racking import outline_from_drawing

            return outline_from_drawing(path, stopped)

        self._task = Task(work, self)
        self._task.done.connect(lambda outline: self.add(True, outline, path.stem))
        self._task.failed.connect(lambda error: self.document.say("error", str(error)))
        self._task.start()

    def close_down(self) -> None:
        """End what runs."""
        if self._task is not None:
            self._task.close()
        self.rack.close_down()
        self.leftovers.close_down()

    def add(self, offcut: bool, outline: Outline | None = None, name: str = "") -> None:
        """Add a sheet or an offcut like the parts ask for."""
        job = self.document.job
        stock_id = free_id("stock", {stock.id for stock in job.stock})
        like = job.parts[0] if job.parts else None
        size = (600.0, 400.0) if offcut else (2440.0, 1220.0)
        if not offcut and job.units == "in":
            size = (96 * 25.4, 48 * 25.4)
        stock = Stock(
            stock_id,
            name or (self.tr("offcut") if offcut else self.tr("sheet")),
            outline or Outline(Loop.rectangle(*size)),
            material=like.material if like else "",
            thickness=like.thickness if like else 0.0,
            count=1 if offcut else None,
            offcut=offcut,
        )
        text = self.tr("Add an offcut") if offcut else self.tr("Add a sheet")
        if self.document.change(text, replace(job, stock=(*job.stock, stock))):
            self.table.fit_columns()
            self.table.setCurrentIndex(self.model.index(self.model.rowCount() - 1, 1))
            self.table.setFocus()

    def _to_bench(self) -> None:
        rows = self.table.chosen_rows() or [0]
        for row in rows:
            self.document.add_blank(self.model.row(row).id)

    def remove_chosen(self) -> None:
        """Take the selected stock out of the job."""
        rows = set(self.table.chosen_rows())
        if not rows:
            self.document.say("info", self.tr("Select the stock to remove first."))
            return
        job = self.document.job
        gone = [stock.name for i, stock in enumerate(job.stock) if i in rows]
        left = tuple(stock for i, stock in enumerate(job.stock) if i not in rows)
        text = (
            self.tr("Remove {name}").format(name=gone[0])
            if len(gone) == 1
            else self.tr("Remove {n} kinds of stock").format(n=len(gone))
        )
        self.document.change(text, replace(job, stock=left))


def _put_stock(job: Job, number: int, stock: Stock) -> Job:
    old = job.stock[number]
    sheet = stock.sheet
    if sheet is not None:
        if (stock.outline, stock.price) != (old.outline, old.price) or stock.offcut:
            # It is no longer what the sheet gives, but a board of its own.
            stock = replace(stock, sheet=None, per_sheet=1, kerf=0.0, breakdown=None)
        else:
            sheet = replace(sheet, material=stock.material, thickness=stock.thickness)
            stock = replace(stock, sheet=sheet)
    rows = (*job.stock[:number], stock, *job.stock[number + 1 :])
    return replace(job, stock=rows)


def _put_name(job: Job, stock: Stock, text: str) -> Stock:
    if not text:
        raise InputError("", "stock needs a name", "type one")
    return replace(stock, name=text)


def _put_size(job: Job, stock: Stock, text: str) -> Stock:
    return replace(stock, outline=Outline(Loop.rectangle(*words.size(text, job))))
