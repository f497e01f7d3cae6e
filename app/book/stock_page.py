"""The stock: sheets that can be bought, and offcuts on the rack."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.outline import Loop, Outline
from ...nesting.model.rules import Grain
from ...nesting.model.stock import Stock
from ..window.document import Document
from . import words
from .importing import free_id
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

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self.model = RowsModel(
            document,
            self._columns(),
            lambda job: job.stock,
            _put_stock,
            lambda stock: stock.name,
        )
        self.table = BookTable(self.model, self.tr("Stock"), self)
        self.empty = QLabel(
            self.tr(
                "Nothing to cut from yet. Add the sheets you can buy, and the offcuts "
                "that lean on the wall; offcuts are used first."
            ),
            self,
        )
        self.empty.setWordWrap(True)
        self.sheet = self._button(
            self.tr("Add &sheet"),
            self.tr("Add a sheet that can be bought as needed; then type its size"),
            lambda: self.add(False),
        )
        self.offcut = self._button(
            self.tr("Add &offcut"),
            self.tr("Add one leftover from the rack; it is used before whole sheets"),
            lambda: self.add(True),
        )
        self.bench = self._button(
            self.tr("Put on &bench"),
            self.tr(
                "Lay one blank of the selected stock on the bench, to fill by hand"
            ),
            self._to_bench,
        )
        self.remove = self._button(
            self.tr("&Remove"),
            self.tr("Take the selected stock out of the job, with its blanks"),
            self.remove_chosen,
        )
        buttons = QHBoxLayout()
        for button in (self.sheet, self.offcut, self.bench, self.remove):
            buttons.addWidget(button)
        buttons.addStretch(1)
        self.keep = QLabel(
            self.tr("Keep-outs: screws and clamps that no cut may touch"), self
        )
        self.circle = self._button(
            self.tr("Draw &circle"),
            self.tr("Then drag on a blank on the bench; Del removes a chosen one"),
            lambda: self.tool_wanted.emit("circle"),
        )
        self.rectangle = self._button(
            self.tr("Draw rec&tangle"),
            self.tr("Then drag on a blank on the bench; Del removes a chosen one"),
            lambda: self.tool_wanted.emit("rectangle"),
        )
        drawing = QHBoxLayout()
        drawing.addWidget(self.circle)
        drawing.addWidget(self.rectangle)
        drawing.addStretch(1)
        layout = QVBoxLayout(self)
        layout.addLayout(buttons)
        layout.addWidget(self.empty)
        layout.addWidget(self.table, 1)
        layout.addWidget(self.keep)
        layout.addLayout(drawing)
        document.changed.connect(self.refresh)
        document.opened.connect(self.table.fit_columns)
        self.refresh()

    def _button(self, text: str, tip: str, do: object) -> QPushButton:
        button = QPushButton(text, self)
        button.setMinimumHeight(28)
        button.setToolTip(tip)
        button.clicked.connect(lambda: do())  # type: ignore[operator]
        return button

    def _columns(self) -> list[Column[Stock]]:
        return [
            Column(
                self.tr("Stock"),
                lambda job, stock: stock.name,
                _put_name,
                self.tr("What people call it"),
            ),
            Column(
                self.tr("Size"),
                lambda job, stock: words.shown_size(stock.outline.size, job),
                _put_size,
                self.tr("Length by width; the length is the first-quoted side"),
                number=True,
                editable=lambda stock: stock.is_rectangle,
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
            ),
            Column(
                self.tr("Grain"),
                lambda job, stock: str(stock.grain.value),
                _put_grain,
                self.tr("Along which side the face grain runs"),
                choices=tuple(grain.value for grain in Grain),
            ),
            Column(
                self.tr("Offcut"),
                lambda job, stock: self.tr("yes") if stock.offcut else self.tr("no"),
                lambda job, stock, text: replace(stock, offcut=text == "yes"),
                self.tr("Whether it is a kept leftover, which is used first"),
                ticked=lambda stock: stock.offcut,
            ),
            Column(
                self.tr("Material"),
                lambda job, stock: stock.material,
                lambda job, stock, text: replace(stock, material=text),
                self.tr("Name of the board; parts name the same"),
            ),
            Column(
                self.tr("Thickness"),
                lambda job, stock: words.shown(stock.thickness, job),
                lambda job, stock, text: replace(
                    stock, thickness=words.length(text, job)
                ),
                self.tr("Of the board; 0 when nobody said"),
                number=True,
            ),
        ]

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

    def add(self, offcut: bool) -> None:
        """Add a sheet or an offcut like the parts ask for."""
        job = self.document.job
        stock_id = free_id("stock", {stock.id for stock in job.stock})
        like = job.parts[0] if job.parts else None
        size = (600.0, 400.0) if offcut else (2440.0, 1220.0)
        if not offcut and job.units == "in":
            size = (96 * 25.4, 48 * 25.4)
        stock = Stock(
            stock_id,
            self.tr("offcut") if offcut else self.tr("sheet"),
            Outline(Loop.rectangle(*size)),
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
    rows = (*job.stock[:number], stock, *job.stock[number + 1 :])
    return replace(job, stock=rows)


def _put_name(job: Job, stock: Stock, text: str) -> Stock:
    if not text:
        raise InputError("", "stock needs a name", "type one")
    return replace(stock, name=text)


def _put_size(job: Job, stock: Stock, text: str) -> Stock:
    return replace(stock, outline=Outline(Loop.rectangle(*words.size(text, job))))


def _put_grain(job: Job, stock: Stock, text: str) -> Stock:
    try:
        return replace(stock, grain=Grain(text.casefold()))
    except ValueError:
        raise InputError(
            "", f"{text!r} is no grain direction", "use length, width or none"
        ) from None
