"""Where in a drawing a finding lies: all of the drawing, and the place from near by."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPalette,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from ..bench.sound import sound
from ..window.look import ink
from .sketch import Sketch

NEAR = 0.04
"""The near view shows this share of the drawing's size, but at least `LEAST`."""

LEAST = 4.0
"""Millimetres across that the near view shows at least."""

RING = 11.0
"""Radius of the ring round the place, pixels."""


class FindingPicture(QWidget):
    """Two views of a sketch side by side, with the place ringed in both."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._sketch: Sketch | None = None
        self._path = QPainterPath()
        self._place: tuple[float, float] | None = None
        self._words = ""
        self.setMinimumHeight(108)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setAccessibleName(self.tr("Where it is in the drawing"))

    def sizeHint(self) -> QSize:
        """Return the size it likes."""
        return QSize(360, 112)

    def show_words(self, words: str) -> None:
        """Show words instead of a picture."""
        self._sketch, self._words = None, words
        self.setAccessibleDescription(words)
        self.update()

    def show_place(self, sketch: Sketch, place: tuple[float, float] | None) -> None:
        """Show a sketch, and a place in it (mm) if the finding has one."""
        if sketch is not self._sketch:
            path = QPainterPath()
            for line in sketch.lines:
                points = [QPointF(x, y) for x, y in line.tolist()]
                path.addPolygon(QPolygonF(points))
            self._path = path
        self._sketch, self._place = sketch, place
        if not sketch.lines:
            self._words = self.tr("There are no lines in it to show.")
        if place is not None:
            self.setAccessibleDescription(
                self.tr("At x {x} mm, y {y} mm").format(
                    x=f"{place[0]:.1f}", y=f"{place[1]:.1f}"
                )
            )
        self.update()

    # ------------------------------------------------------------ painting

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint both views."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        palette = self.palette()
        ground = palette.color(QPalette.ColorRole.Base)
        rim = palette.color(QPalette.ColorRole.Mid)
        area = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        sketch = self._sketch
        if sketch is None or not sketch.lines:
            painter.fillRect(area, ground)
            painter.setPen(palette.color(QPalette.ColorRole.WindowText))
            flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
            painter.drawText(area.adjusted(8, 4, -8, -4), int(flags), self._words)
            painter.end()
            return
        x0, y0, x1, y1 = sketch.box
        whole = QRectF(x0, y0, max(x1 - x0, 1e-6), max(y1 - y0, 1e-6))
        views = [(area, whole)]
        if self._place is not None:
            half = area.width() / 2.0 - 3.0
            left = QRectF(area.left(), area.top(), half, area.height())
            right = QRectF(area.right() - half, area.top(), half, area.height())
            side = max(NEAR * max(whole.width(), whole.height()), LEAST)
            x, y = self._place
            near = QRectF(x - side / 2, y - side / 2, side, side)
            views = [(left, whole), (right, near)]
        for number, (place, shown) in enumerate(views):
            painter.save()
            painter.setClipRect(place.adjusted(-0.5, -0.5, 0.5, 0.5))
            painter.fillRect(place, ground)
            self._draw(painter, place, shown)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(rim, 1.0))
            painter.drawRect(place)
            if number:
                words = self.tr("{n} mm across").format(n=f"{shown.width():.3g}")
                self._label(painter, place, words)
            painter.restore()
        painter.end()

    def _draw(self, painter: QPainter, place: QRectF, shown: QRectF) -> None:
        room = place.adjusted(8, 8, -8, -8)
        scale = min(room.width() / shown.width(), room.height() / shown.height())
        centre, middle = room.center(), shown.center()
        painter.save()
        painter.translate(centre)
        painter.scale(scale, -scale)
        painter.translate(-middle)
        pen = QPen(self.palette().color(QPalette.ColorRole.Text), 1.2)
        pen.setCosmetic(True)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPath(self._path)
        painter.restore()
        if self._place is None:
            return
        x = centre.x() + (self._place[0] - middle.x()) * scale
        y = centre.y() - (self._place[1] - middle.y()) * scale
        self._ring(painter, QPointF(x, y))

    def _ring(self, painter: QPainter, at: QPointF) -> None:
        ground = self.palette().color(QPalette.ColorRole.Base)
        accent = QColor(ink("error", self.palette()))
        for colour, width in ((ground, 5.0), (accent, 2.0)):
            painter.setPen(QPen(colour, width))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(at, RING, RING)
            for dx, dy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                painter.drawLine(
                    at + QPointF(dx * RING, dy * RING),
                    at + QPointF(dx * (RING + 7), dy * (RING + 7)),
                )

    def _label(self, painter: QPainter, place: QRectF, words: str) -> None:
        size = self.fontMetrics().boundingRect(words)
        box = QRectF(0, 0, size.width() + 10, size.height() + 4)
        box.moveBottomRight(place.bottomRight() - QPointF(3, 3))
        painter.fillRect(box, self.palette().color(QPalette.ColorRole.Base))
        painter.setPen(self.palette().color(QPalette.ColorRole.Text))
        painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), words)
