"""A small picture of all blanks, with a frame round what the bench shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QTransform,
)
from PySide6.QtWidgets import QWidget

from .painting import STORE, body
from .sound import sound

if TYPE_CHECKING:
    from .view import BenchView

LONGEST = 160.0
"""Longest side, pixels."""

FEWEST = 4
"""Shown from this many blanks on."""


class Overview(QWidget):
    """The small picture in a corner of the bench; pressing it goes there."""

    def __init__(self, view: BenchView) -> None:
        super().__init__(view)
        self._view = view
        self._picture: QPixmap | None = None
        self.wanted = True
        self.setAccessibleName(self.tr("Overview"))
        self.setToolTip(self.tr("All blanks. Press to go there."))
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        view.horizontalScrollBar().valueChanged.connect(self._moved)
        view.verticalScrollBar().valueChanged.connect(self._moved)
        self.hide()

    def _moved(self) -> None:
        self.follow()

    def refresh(self) -> None:
        """Show what lies on the bench now."""
        self._picture = None
        self.place()
        self.follow()

    def want(self, wanted: bool) -> None:
        """Show it when it is of use, or never."""
        self.wanted = wanted
        self.follow()

    def follow(self) -> None:
        """Show what part of the bench is seen; hide when that is all of it."""
        view = self._view
        x0, y0, x1, y1 = view.plan.box
        seen = view.mapToScene(view.viewport().rect()).boundingRect()
        everything = seen.contains(QRectF(x0, y0, x1 - x0, y1 - y0))
        # Where something is dragged to must not be hidden.
        free = view.gesture is None and self.wanted
        self.setVisible(free and len(view.plan.boxes) >= FEWEST and not everything)
        self.update()

    def place(self) -> None:
        """Take the size of the plan, and the lower right corner of the bench."""
        x0, y0, x1, y1 = self._view.plan.box
        width, height = max(x1 - x0, 1.0), max(y1 - y0, 1.0)
        scale = LONGEST / max(width, height)
        w, h = round(width * scale) + 12, round(height * scale) + 12
        view = self._view.viewport().geometry()
        if (w, h) != (self.width(), self.height()):
            self._picture = None
        self.setGeometry(view.right() - w - 12, view.bottom() - h - 12, w, h)

    def _scale(self) -> float:
        x0, _, x1, _ = self._view.plan.box
        return (self.width() - 12) / max(x1 - x0, 1.0)

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the picture kept of the bench, and the frame."""
        view = self._view
        theme = view.theme
        if self._picture is None:
            self._picture = self._drawn()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.drawPixmap(0, 0, self._picture)
        seen = view.mapToScene(view.viewport().rect()).boundingRect()
        frame = self._box((seen.left(), seen.top(), seen.right(), seen.bottom()))
        frame = frame.intersected(QRectF(self.rect()).adjusted(2, 2, -2, -2))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((theme.halo, 4.0), (theme.accent, 2.0)):
            painter.setPen(QPen(colour, width))
            painter.drawRect(frame)
        painter.end()

    def _box(self, b: tuple[float, float, float, float]) -> QRectF:
        """Return a box of the bench where it lies in the small picture."""
        x0, _, _, y1 = self._view.plan.box
        scale = self._scale()
        return QRectF(
            6 + (b[0] - x0) * scale,
            6 + (y1 - b[3]) * scale,
            (b[2] - b[0]) * scale,
            (b[3] - b[1]) * scale,
        )

    def _drawn(self) -> QPixmap:
        """Paint blanks, and parts as boxes."""
        view = self._view
        theme = view.theme
        ratio = self.devicePixelRatioF()
        picture = QPixmap(self.size() * ratio)
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(QPen(theme.board_edge, 1.0))
        back = QColor(theme.bench)
        back.setAlphaF(0.93)
        painter.setBrush(back)
        rim = QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5)
        painter.drawRoundedRect(rim, 6, 6)
        for item, covered in zip(view.blank_items, view.plan.boxes, strict=False):
            ox, oy = view.plan.origins[item.index]
            stock = view.document.shown_job.stock_of(item.index)
            if stock.is_rectangle:
                painter.fillRect(self._box(covered), theme.board)
            else:
                x0, _, _, y1 = view.plan.box
                s = self._scale()
                there = QTransform(s, 0, 0, -s, 6 + (ox - x0) * s, 6 + (y1 - oy) * s)
                painter.fillPath(there.map(STORE.exact(stock.outline)), theme.board)
            for look in item.looks:
                a, b, c, d = look.box
                fill, _, _ = theme.part_fill(look.colour)
                painter.fillRect(
                    self._box((a + ox, b + oy, c + ox, d + oy)), body(fill, theme)
                )
        painter.end()
        return picture

    @sound
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Go there."""
        self._go(event.position())

    @sound
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go on going there."""
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._go(event.position())

    def _go(self, place: QPointF) -> None:
        x0, _, _, y1 = self._view.plan.box
        scale = self._scale()
        self._view.centerOn(x0 + (place.x() - 6) / scale, y1 - (place.y() - 6) / scale)
