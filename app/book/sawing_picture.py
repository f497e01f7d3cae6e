"""A picture of how a sheet is sawn into blanks, with its dimensions."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from ...nesting.model.breakdown import Breakdown
from ...nesting.model.job import Job
from ..bench.colours import Theme
from ..bench.sound import sound
from . import words


def cuts_in_words(plan: Breakdown, job: Job) -> str:
    """Return the sizes of the blanks and the number of cuts."""
    sizes = ", ".join(
        f"{count} × {words.said_size((width, height), job)}"
        for width, height, count in plan.sizes
    )
    return f"{sizes} {job.units}"


class SawingPicture(QWidget):
    """The sheet, its blanks, and the cuts numbered in sawing order."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._plan: Breakdown | None = None
        self._job: Job | None = None
        policy = QSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        self.setAccessibleName(self.tr("How the sheet is sawn"))

    def show_plan(self, plan: Breakdown, job: Job) -> None:
        """Show a break-down."""
        self._plan, self._job = plan, job
        self.setAccessibleDescription(cuts_in_words(plan, job))
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        """Return the size it likes."""
        return QSize(380, self.heightForWidth(380))

    def minimumSizeHint(self) -> QSize:
        """Return the least size."""
        return QSize(160, 120)

    def hasHeightForWidth(self) -> bool:
        """Return that the height follows the width."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height that goes with a width."""
        if self._plan is None:
            return 0
        long, wide = self._plan.sheet
        line = self.fontMetrics().height()
        room = width - 2 * line - 16
        return min(round(room * wide / long), 420) + 2 * line + 10

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the sheet."""
        if self._plan is None or self._job is None:
            return
        plan, job = self._plan, self._job
        theme = Theme.of(self.palette())
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        line = self.fontMetrics().height()
        long, wide = plan.sheet
        left, top = 2.0 * line, 1.0 * line + 4.0
        scale = min(
            (self.width() - left - line) / long,
            (self.height() - top - line) / wide,
        )
        size = QRectF(left, top, long * scale, wide * scale)

        def at(x: float, y: float) -> QPointF:
            return QPointF(size.left() + x * scale, size.bottom() - y * scale)

        painter.fillRect(size, theme.channel)
        painter.setPen(QPen(theme.board_edge, 1.0))
        painter.drawRect(size)
        for piece in plan.pieces:
            corner = at(piece.x, piece.y + piece.height)
            box = QRectF(
                corner.x(), corner.y(), piece.width * scale, piece.height * scale
            )
            painter.fillRect(box, theme.board)
            painter.setPen(QPen(theme.board_edge, 1.0))
            painter.drawRect(box)
            self._label(
                painter,
                box,
                words.said_size((piece.width, piece.height), job),
                theme.ink,
            )
        painter.setPen(QPen(theme.ink, 1.5))
        for number, cut in enumerate(plan.cuts, 1):
            start, end = at(*cut.start), at(*cut.end)
            pen = QPen(theme.problem, 1.5, Qt.PenStyle.DashLine)
            painter.setPen(pen)
            painter.drawLine(QLineF(start, end))
            cut_line = QLineF(start, end)
            inward = (0.9 * line) / max(cut_line.length(), 1.0)
            self._number(painter, cut_line.pointAt(inward), number, theme)
        painter.setPen(QPen(theme.ink, 1.5))
        for hole in plan.holes:
            painter.drawEllipse(at(*hole), 3.0, 3.0)
        painter.setPen(self.palette().windowText().color())
        painter.drawText(
            QRectF(size.left(), 0.0, size.width(), top - 2.0),
            int(Qt.AlignmentFlag.AlignCenter),
            words.with_unit(long, job),
        )
        painter.save()
        painter.translate(size.left() - 4.0, size.center().y())
        painter.rotate(-90.0)
        painter.drawText(
            QRectF(-size.height() / 2, -1.2 * line, size.height(), 1.2 * line),
            int(Qt.AlignmentFlag.AlignCenter),
            words.with_unit(wide, job),
        )
        painter.restore()
        painter.end()

    def _label(self, painter: QPainter, box: QRectF, text: str, colour: QColor) -> None:
        metrics = self.fontMetrics()
        wide = metrics.horizontalAdvance(text) + 4
        painter.setPen(colour)
        centre = int(Qt.AlignmentFlag.AlignCenter)
        if wide <= box.width() and metrics.height() <= box.height():
            painter.drawText(box, centre, text)
        elif wide <= box.height() and metrics.height() <= box.width():
            painter.save()
            painter.translate(box.center())
            painter.rotate(-90.0)
            half = QRectF(
                -box.height() / 2, -box.width() / 2, box.height(), box.width()
            )
            painter.drawText(half, centre, text)
            painter.restore()

    def _number(
        self, painter: QPainter, place: QPointF, number: int, theme: Theme
    ) -> None:
        radius = self.fontMetrics().height() * 0.55
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.plate)
        painter.drawEllipse(place, radius, radius)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(theme.plate_ink)
        box = QRectF(place.x() - radius, place.y() - radius, 2 * radius, 2 * radius)
        painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), str(number))
