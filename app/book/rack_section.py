"""The rack in the shop: what stands there, taking it onto the job, putting it there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import (
    QFileDialog,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from ...io.rack import RackBoard, rack_number
from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.outline import Loop, Outline
from ...nesting.model.rules import Grain
from ..bench.sound import sound
from ..window.document import Document
from ..window.task import Task
from . import words
from .board_icon import BoardIcons
from .buttons import push_button
from .fields import ChoiceField, TextField, form_layout
from .fold import Remarks
from .length_field import LengthField
from .outline_drawing import OutlineDrawing
from .rack_keeper import RackKeeper
from .table import BookTable, Column, Index, RowsModel


class RackModel(RowsModel[RackBoard]):
    """The boards on the rack; changes go to the rack, not to the job."""

    def __init__(
        self,
        document: Document,
        rack: RackKeeper,
        columns: list[Column[RackBoard]],
    ) -> None:
        self.rack = rack
        super().__init__(
            document,
            columns,
            lambda job: rack.boards,
            lambda job, number, row: job,
            lambda board: f"{board.name} ({board.id})",
        )
        rack.changed.connect(self.show_rows)

    def show_rows(self) -> None:
        """Show what stands on the rack now."""
        self.take_rows(self.rack.boards)

    @sound
    def setData(
        self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole
    ) -> bool:
        """Say something else about a board."""
        column = self.columns[index.column()]
        board = self.row(index.row())
        text = str(value).strip()
        if column.put is None or role != Qt.ItemDataRole.EditRole:
            return False
        if text == column.text(self.document.job, board):
            return False
        try:
            changed = column.put(self.document.job, board, text)
        except InputError as error:
            what = f"{error.what}; {error.cure}" if error.cure else error.what
            self.document.say("error", f"{board.name}, {column.title}: {what}.")
            return False
        self.rack.change(changed)
        return True


class RackSection(QWidget):
    """The rack's boards, and a form for one more."""

    def __init__(
        self, document: Document, rack: RackKeeper, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.rack = rack
        self._icons = BoardIcons()
        self._outline: Outline | None = None
        self._task: Task | None = None
        self.model = RackModel(document, rack, self._columns())
        self.table = BookTable(self.model, self.tr("Boards on the rack"), self)
        self.table.setIconSize(QSize(24, 24))
        self.table.selectionModel().selectionChanged.connect(self._enable)
        self.empty = QLabel(
            self.tr("Nothing stands on the rack. Leftovers worth keeping go there."),
            self,
        )
        self.empty.setWordWrap(True)
        self.take = push_button(
            self,
            self.tr("&Take onto the job"),
            self.tr("Let this job use the selected boards; offcuts are used first"),
            self.take_chosen,
        )
        self.remove = push_button(
            self,
            self.tr("Re&move from the rack"),
            self.tr("The selected boards are gone for good"),
            self._remove,
        )
        buttons = QHBoxLayout()
        buttons.addWidget(self.take)
        buttons.addWidget(self.remove)
        buttons.addStretch(1)
        self.remarks = Remarks(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.empty)
        column.addWidget(self.table)
        column.addLayout(buttons)
        column.addWidget(self.remarks)
        column.addLayout(self._form())
        rack.changed.connect(self._changed)
        rack.done.connect(lambda text: self.remarks.say([("ok", text)]))
        rack.failed.connect(lambda text: self.remarks.say([("error", text)]))
        document.changed.connect(self._refresh)
        self._refresh()
        self._changed()

    def _columns(self) -> list[Column[RackBoard]]:
        return [
            Column(
                self.tr("No."),
                lambda job, board: str(board.id),
                tip=self.tr("The board's number on the rack: write it on the board"),
                number=True,
                icon=lambda number, board: self._icons.of(
                    board.outline, self.palette()
                ),
            ),
            Column(
                self.tr("Size"),
                lambda job, board: words.shown_size(board.outline.size, job),
                tip=self.tr("Length by width over all"),
                number=True,
                unit=True,
            ),
            Column(
                self.tr("Board"),
                lambda job, board: board.name,
                lambda job, board, text: replace(board, name=text or board.name),
                self.tr("What people call it"),
            ),
            Column(
                self.tr("Place"),
                lambda job, board: board.place,
                lambda job, board, text: replace(board, place=text),
                self.tr("Where it stands"),
            ),
            Column(
                self.tr("Value"),
                lambda job, board: f"{board.value:.2f}",
                lambda job, board, text: replace(board, value=words.amount(text)),
                self.tr("What it counts in a price"),
                number=True,
                hides=3,
            ),
            Column(
                self.tr("Since"),
                lambda job, board: board.date,
                lambda job, board, text: replace(board, date=words.date(text)),
                self.tr("When it came there: year-month-day"),
                number=True,  # never shortened
                hides=5,
            ),
            Column(
                self.tr("Material"),
                lambda job, board: board.material,
                lambda job, board, text: replace(board, material=text),
                self.tr("Name of the board; parts name the same"),
                hides=1,
            ),
            Column(
                self.tr("Thickness"),
                lambda job, board: words.shown(board.thickness, job),
                lambda job, board, text: replace(
                    board, thickness=words.length(text, job)
                ),
                self.tr("Of the board; 0 when nobody said"),
                number=True,
                unit=True,
                hides=2,
            ),
            Column(
                self.tr("Grain"),
                lambda job, board: board.grain.value,
                lambda job, board, text: replace(board, grain=words.grain(text)),
                self.tr("Along which side the face grain runs"),
                choices=tuple(grain.value for grain in Grain),
                hides=4,
            ),
        ]

    def _form(self) -> QFormLayout:
        """Return the form for a board that is put on the rack."""
        form = form_layout()
        job = self._job

        def add(label: str, field: Any, tip: str) -> None:
            field.focus_widget().setToolTip(tip)
            head = QLabel(label, self)
            head.setBuddy(field.focus_widget())
            form.addRow(head, field)

        head = QLabel(self.tr("Put another board on the rack:"), self)
        form.addRow(head)
        self.size_field = TextField(
            self.tr("Size of the new board"),
            lambda text: words.size(text, job()),
            lambda size: words.shown_size(size, job()),
            lambda: job().units,
            self,
            14,
        )
        self.size_field.show_value((600.0, 300.0))
        self.size_field.entered.connect(lambda _: self._use_outline(None))
        add(
            self.tr("Si&ze"),
            self.size_field,
            self.tr("Length by width, such as 600 x 300"),
        )
        self.drawing = push_button(
            self,
            self.tr("From a &drawing…"),
            self.tr("A DXF or SVG that holds just the board's outline"),
            self._choose_drawing,
        )
        self.draw = push_button(
            self,
            self.tr("Draw &it…"),
            self.tr("Corner by corner, by pointer, by keys or as numbers"),
            lambda: self._open_canvas(not self.canvas.isVisible()),
        )
        self.draw.setCheckable(True)
        self.drawn = QLabel(self)
        self.drawn.setWordWrap(True)
        row = QHBoxLayout()
        row.addWidget(self.drawing)
        row.addWidget(self.draw)
        row.addWidget(self.drawn, 1)
        form.addRow(self.tr("Outline"), row)
        self.canvas = OutlineDrawing(job, self)
        self.canvas.drawn.connect(self._take_drawn)
        self.canvas.hide()
        form.addRow(self.canvas)
        self.material = TextField(
            self.tr("Material of the new board"),
            str.strip,
            str,
            parent=self,
            letters=22,
        )
        self.material.show_value("")
        add(self.tr("Mate&rial"), self.material, self.tr("Name of the board"))
        self.thickness = LengthField(
            self.tr("Thickness of the new board"), job, self, 0.0, 500.0
        )
        self.thickness.show_length(0.0)
        add(self.tr("Thic&kness"), self.thickness, self.tr("0 when nobody said"))
        self.grain = ChoiceField(
            self.tr("Grain of the new board"),
            [(grain, grain.value) for grain in Grain],
            self,
        )
        self.grain.show_value(Grain.NONE)
        add(self.tr("&Grain"), self.grain, self.tr("Along which side it runs"))
        self.place = TextField(
            self.tr("Place of the new board"), str.strip, str, parent=self, letters=22
        )
        self.place.show_value("")
        add(self.tr("P&lace"), self.place, self.tr("Where it stands"))
        self.value_field = TextField(
            self.tr("Value of the new board"),
            words.amount,
            lambda value: f"{value:.2f}",
            parent=self,
        )
        self.value_field.show_value(0.0)
        add(self.tr("Val&ue"), self.value_field, self.tr("What it counts in a price"))
        self.add = push_button(
            self,
            self.tr("P&ut it on the rack"),
            self.tr("It gets a number; write that on the board"),
            self.add_board,
        )
        form.addRow("", self.add)
        return form

    def _job(self) -> Job:
        return self.document.job

    # ------------------------------------------------------------ showing

    def _changed(self) -> None:
        some = bool(self.rack.boards)
        self.empty.setVisible(not some)
        self.table.setVisible(some)
        self.table.fit_rows()
        self.table.fit_columns()
        self._enable()

    def _refresh(self) -> None:
        job = self.document.job
        for field in (self.size_field, self.thickness):
            field.show_value(field.value)
        self.canvas.refresh()
        like = job.stock[0] if job.stock else job.parts[0] if job.parts else None
        if like is not None and not self.material.value:
            self.material.show_value(like.material)
            self.thickness.show_length(like.thickness)

    def _enable(self) -> None:
        some = bool(self.table.chosen_rows())
        self.take.setEnabled(some)
        self.remove.setEnabled(some)

    def summary(self) -> str:
        """Return how many boards stand on the rack."""
        count = len(self.rack.boards)
        if not count:
            return self.tr("nothing stands there")
        area = sum(board.outline.area for board in self.rack.boards) / 1e6
        return self.tr("{n} boards, {area} m²").format(n=count, area=f"{area:.2f}")

    # ------------------------------------------------------------ changing

    def take_chosen(self) -> None:
        """Let the job use the selected boards, as one step."""
        job = self.document.job
        there = {rack_number(stock.id) for stock in job.stock}
        boards = [self.model.row(n) for n in self.table.chosen_rows()]
        new = [board.as_stock() for board in boards if board.id not in there]
        if not new:
            self.remarks.say([("info", self.tr("The job has them already."))])
            return
        text = (
            self.tr("Take {name} onto the job").format(name=new[0].name)
            if len(new) == 1
            else self.tr("Take {n} boards onto the job").format(n=len(new))
        )
        self.document.change(text, replace(job, stock=(*job.stock, *new)))
        self.remarks.say([("ok", self.tr("Taken onto the job: see the list above."))])

    def _remove(self) -> None:
        self.rack.remove([self.model.row(n).id for n in self.table.chosen_rows()])

    def add_board(self) -> None:
        """Put the board of the form on the rack."""
        drawing = self.canvas
        if not drawing.isHidden() and drawing.corners and drawing.outline() is None:
            text = self.tr(
                "What is drawn is no board: it needs three corners and an edge that "
                "does not cross itself. Mend it, or begin anew."
            )
            self.remarks.say([("error", text)])
            return
        outline = self._outline or Outline(Loop.rectangle(*self.size_field.value))
        self.rack.add(
            RackBoard(
                outline,
                self.material.value,
                self.thickness.value,
                self.grain.value,
                place=self.place.value,
                value=self.value_field.value,
            )
        )
        self._use_outline(None)
        self.canvas.forget()
        self._open_canvas(False)

    def _open_canvas(self, on: bool) -> None:
        """Show or hide the canvas."""
        self.draw.setChecked(on)
        self.canvas.setVisible(on)
        if on:
            self.canvas.canvas.setFocus()

    def _take_drawn(self, outline: Outline | None) -> None:
        """Take what is drawn on the canvas for the new board."""
        if outline is not None or self.canvas.isVisible():
            self._use_outline(outline)

    def _choose_drawing(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self,
            self.tr("Outline of a board"),
            "",
            self.tr("Drawings (*.dxf *.svg *.DXF *.SVG)"),
        )
        if name:
            self.read_outline(Path(name))

    def read_outline(self, path: Path) -> None:
        """Take the outline of the new board from a drawing."""

        def work(stopped: Callable[[], bool]) -> Outline:
            from ..racking import outline_from_drawing

            return outline_from_drawing(path, stopped)

        self._task = Task(work, self)
        self._task.done.connect(self._use_outline)
        self._task.failed.connect(
            lambda error: self.remarks.say([("error", str(error))])
        )
        self._task.start()

    def _use_outline(self, outline: Outline | None) -> None:
        self._outline = outline
        self.drawn.setText("")
        if outline is not None:
            size = outline.size
            self.size_field.show_value(size)
            shown = words.said_size(size, self.document.job)
            self.drawn.setText(self.tr("✓ drawn, {size}").format(size=shown))
            self.remarks.say([])

    def close_down(self) -> None:
        """End what runs."""
        if self._task is not None:
            self._task.close()
