"""A small picture of all blanks, with a frame round what the bench shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from .painting import body

if TYPE_CHECKING:
    from .view import BenchView

LONGEST = 190.0
"""Longest side, pixels."""

FEWEST = 4
"""Shown from this many blanks on."""


class Overview(QWidget):
    """The small picture in a corner of the bench; pressing it goes there."""

    def __init__(self, view: BenchView) -> None:
        super().__init__(view)
        self._view = view
        self.setAccessibleName(self.tr("Overview"))
        self.setToolTip(self.tr("All blanks. Press to go there."))
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        view.horizontalScrollBar().valueChanged.connect(self._moved)
        view.verticalScrollBar().valueChanged.connect(self._moved)
        self.hide()

    def _moved(self) -> None:
        self.update()

    def refresh(self) -> None:
        """Show what lies on the bench now."""
        self.setVisible(len(self._view.plan.boxes) >= FEWEST)
        self.place()
        self.update()

    def place(self) -> None:
        """Take the size of the plan, and the lower right corner of the bench."""
        x0, y0, x1, y1 = self._view.plan.box
        width, height = max(x1 - x0, 1.0), max(y1 - y0, 1.0)
        scale = LONGEST / max(width, height)
        w, h = round(width * scale) + 12, round(height * scale) + 12
        view = self._view.viewport().geometry()
        self.setGeometry(view.right() - w - 12, view.bottom() - h - 12, w, h)

    def _scale(self) -> float:
        x0, _, x1, _ = self._view.plan.box
        return (self.width() - 12) / max(x1 - x0, 1.0)

    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint blanks, parts as boxes, and the frame."""
        view = self._view
        theme = view.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(QPen(theme.board_edge, 1.0))
        back = theme.bench.toRgb()
        back.setAlphaF(0.93)
        painter.setBrush(back)
        painter.drawRoundedRect(
            QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 6, 6
        )
        x0, _, _, y1 = view.plan.box
        scale = self._scale()

        def box(b: tuple[float, float, float, float]) -> QRectF:
            return QRectF(
                6 + (b[0] - x0) * scale,
                6 + (y1 - b[3]) * scale,
                (b[2] - b[0]) * scale,
                (b[3] - b[1]) * scale,
            )

        for item, covered in zip(view._blanks, view.plan.boxes, strict=False):
            painter.setPen(Qt.PenStyle.NoPen)
            painter.fillRect(box(covered), theme.board)
            ox, oy = view.plan.origins[item.index]
            for look in item.looks:
                a, b, c, d = look.box
                fill, _, _ = theme.part_fill(look.colour)
                painter.fillRect(
                    box((a + ox, b + oy, c + ox, d + oy)), body(fill, theme)
                )
        seen = view.mapToScene(view.viewport().rect()).boundingRect()
        frame = box((seen.left(), seen.top(), seen.right(), seen.bottom()))
        frame = frame.intersected(QRectF(self.rect()).adjusted(2, 2, -2, -2))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(theme.halo, 4.0))
        painter.drawRect(frame)
        painter.setPen(QPen(theme.accent, 2.0))
        painter.drawRect(frame)
        painter.end()

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Go there."""
        self._go(event.position())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go on going there."""
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._go(event.position())

    def _go(self, place: QPointF) -> None:
        x0, _, _, y1 = self._view.plan.box
        scale = self._scale()
        self._view.centerOn(x0 + (place.x() - 6) / scale, y1 - (place.y() - 6) / scale)
