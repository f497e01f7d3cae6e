"""A picture of a part with what the cutter leaves standing in it."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from ...nesting.model.part import Part
from ...nesting.shop.reach import Standing
from ..bench.colours import Theme
from .part_picture import PartPicture


class ReachPicture(PartPicture):
    """One part; places that stay standing are filled and ringed."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(12, parent)
        self.setAccessibleName(self.tr("What the cutter leaves standing"))
        self._standing: tuple[Standing, ...] = ()

    def show_part(self, part: Part, index: int, standing: Sequence[Standing]) -> None:
        """Show a part, in the colour of its place in the order."""
        self._part, self._index, self._standing = part, index, tuple(standing)
        self.setAccessibleDescription(
            self.tr("{part}: {n} places stay standing").format(
                part=part.name, n=len(self._standing)
            )
        )
        self.update()

    def draw_on(self, painter: QPainter, theme: Theme) -> None:
        """Fill and ring what stays standing."""
        painter.setPen(QPen(theme.problem, 2.0))
        for place in self._standing:
            painter.setBrush(theme.problem)
            points = [self.at(float(x), float(y)) for x, y in place.polygon]
            painter.drawPolygon(QPolygonF(points))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(self.at(*place.place), 7.0, 7.0)
