"""Drawing the outline of a board: a canvas, and its corners as numbers beside it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.motion import Motion, Point
from ...nesting.model.outline import Loop, Outline
from ..bench.sound import sound
from . import words
from .buttons import push_button
from .fold import Remarks
from .outline_canvas import OutlineCanvas


class OutlineDrawing(QWidget):
    """A canvas and a table of corners; both show the same.

    Signals
    -------
    drawn(Outline or None)
        What is drawn now, its least corner at (0, 0); None for nothing that can be.
    """

    drawn = Signal(object)

    def __init__(self, job: Callable[[], Job], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._job = job
        hint = QLabel(
            self.tr(
                "Click corner after corner, or drag a rectangle. Corners can be "
                "dragged, and typed below."
            ),
            self,
        )
        hint.setWordWrap(True)
        self.canvas = OutlineCanvas(job, self)
        self.canvas.edited.connect(self._edited)
        self.table = QTableWidget(0, 2, self)
        self.table.setAccessibleName(self.tr("Corners of the outline"))
        self.table.horizontalHeader().setSectionResizeMode(
            QHeaderView.ResizeMode.Stretch
        )
        self.table.setMinimumHeight(120)
        self.table.setMaximumHeight(170)
        self.table.itemChanged.connect(self._typed)
        self.add = push_button(
            self,
            self.tr("Add a cor&ner"),
            self.tr("Behind the selected one; type where it lies"),
            self.add_corner,
        )
        self.remove = push_button(
            self,
            self.tr("Take the corner a&way"),
            self.tr("The selected corner of the outline"),
            self.remove_corner,
        )
        self.clear = push_button(
            self, self.tr("Begin &anew"), self.tr("Take all corners away"), self.forget
        )
        buttons = QHBoxLayout()
        for button in (self.add, self.remove, self.clear):
            buttons.addWidget(button)
        buttons.addStretch(1)
        self.remarks = Remarks(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        for widget in (hint, self.canvas, self.table):
            column.addWidget(widget)
        column.addLayout(buttons)
        column.addWidget(self.remarks)
        self._fill()

    @property
    def corners(self) -> list[Point]:
        """The corners, mm."""
        return self.canvas.corners

    def show_corners(self, corners: Sequence[Point]) -> None:
        """Show other corners."""
        self.canvas.show_corners(corners)
        self._edited()

    def forget(self) -> None:
        """Take all corners away."""
        self.show_corners([])

    def refresh(self) -> None:
        """Show lengths in the job's unit."""
        self._fill()
        self.canvas.update()

    def add_corner(self) -> None:
        """Add a corner behind the selected one, between it and the next."""
        corners = list(self.corners)
        row = self.table.currentRow()
        index = row + 1 if 0 <= row < len(corners) else len(corners)
        if len(corners) < 2:
            step = self.canvas.step
            new = (20.0 * step * len(corners), 0.0)
        else:
            a, b = corners[index - 1], corners[index % len(corners)]
            new = ((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0)
        corners.insert(index, new)
        self.show_corners(corners)
        self.table.setCurrentCell(index, 0)
        self.table.setFocus()

    def remove_corner(self) -> None:
        """Take the selected corner away."""
        row = self.table.currentRow()
        if 0 <= row < len(self.corners):
            self.canvas.remove(row)

    def outline(self) -> Outline | None:
        """Return what is drawn, its least corner at (0, 0); None if it is no board."""
        return outline_of_corners(self.corners)

    # ------------------------------------------------------------ showing

    def _fill(self) -> None:
        job = self._job()
        self.table.blockSignals(True)
        self.table.setHorizontalHeaderLabels(
            [
                self.tr("X, {unit}").format(unit=job.units),
                self.tr("Y, {unit}").format(unit=job.units),
            ]
        )
        self.table.setRowCount(len(self.corners))
        for row, corner in enumerate(self.corners):
            for column, value in enumerate(corner):
                item = QTableWidgetItem(words.shown(value, job))
                item.setTextAlignment(
                    Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
                )
                self.table.setItem(row, column, item)
        self.table.blockSignals(False)
        self.remove.setEnabled(bool(self.corners))
        self.clear.setEnabled(bool(self.corners))

    def _edited(self) -> None:
        row = self.table.currentRow()
        self._fill()
        if 0 <= row < len(self.corners):
            self.table.setCurrentCell(row, self.table.currentColumn())
        outline = self.outline()
        if outline is None and len(self.corners) > 2:
            self.remarks.say([("warn", self.tr("Its edge crosses itself."))])
        else:
            self.remarks.say([])
        self.drawn.emit(outline)

    @sound
    def _typed(self, item: QTableWidgetItem) -> None:
        row, column = item.row(), item.column()
        try:
            value = words.length(item.text().strip(), self._job())
        except InputError as error:
            what = f"{error.what}; {error.cure}" if error.cure else error.what
            self._fill()
            self.remarks.say([("error", what[:1].upper() + what[1:])])
            return
        corners = [list(corner) for corner in self.corners]
        corners[row][column] = value
        self.show_corners([(x, y) for x, y in corners])


def outline_of_corners(corners: Sequence[Point]) -> Outline | None:
    """Return the outline with these corners, its least corner at (0, 0).

    None for fewer than three, for one that encloses nothing, or whose edge crosses
    itself.
    """
    if len(corners) < 3:
        return None
    import shapely

    shape = shapely.Polygon(corners)
    if not shape.is_valid or shape.area < 1.0:
        return None
    x, y, _, _ = shape.bounds
    loop = Loop.polygon(corners).oriented(True)
    return Outline(loop).moved(Motion(-x, -y))
