"""A picture of a part with what the cutter leaves standing in it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QSize, Qt
from PySide6.QtGui import QBrush, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from ...nesting.model.part import Part
from ...nesting.shop.reach import Standing
from ..bench.colours import Theme
from ..bench.paths import outline_path
from ..bench.sound import sound


class ReachPicture(QWidget):
    """One part; places that stay standing are hatched and ringed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._part: Part | None = None
        self._index = 0
        self._standing: tuple[Standing, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("What the cutter leaves standing"))

    def sizeHint(self) -> QSize:
        """Return the size it likes."""
        return QSize(320, 200)

    def minimumSizeHint(self) -> QSize:
        """Return the least size."""
        return QSize(160, 140)

    def show_part(self, part: Part, index: int, standing: Sequence[Standing]) -> None:
        """Show a part, in the colour of its place in the order."""
        self._part, self._index, self._standing = part, index, tuple(standing)
        self.setAccessibleDescription(
            self.tr("{part}: {n} places stay standing").format(
                part=part.name, n=len(self._standing)
            )
        )
        self.update()

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the part."""
        if self._part is None:
            return
        theme = Theme.of(self.palette())
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        x0, y0, x1, y1 = self._part.outline.bounds
        scale = min(
            (self.width() - 24) / max(x1 - x0, 1e-9),
            (self.height() - 24) / max(y1 - y0, 1e-9),
        )
        painter.translate(QPointF(self.width() / 2, self.height() / 2))
        painter.scale(scale, -scale)
        painter.translate(QPointF(-(x0 + x1) / 2, -(y0 + y1) / 2))
        fill, _, _ = theme.part_fill(self._index)
        pen = QPen(theme.outline if not theme.dark else theme.ink, 1.2)
        pen.setCosmetic(True)
        painter.setPen(pen)
        painter.setBrush(fill)
        painter.drawPath(outline_path(self._part.outline))
        ring = QPen(theme.problem, 2.0)
        ring.setCosmetic(True)
        for place in self._standing:
            painter.setPen(ring)
            brush = QBrush(theme.problem, Qt.BrushStyle.SolidPattern)
            painter.setBrush(brush)
            points = [QPointF(float(x), float(y)) for x, y in place.polygon]
            painter.drawPolygon(QPolygonF(points))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(QPointF(*place.place), 7.0 / scale, 7.0 / scale)
        painter.end()
