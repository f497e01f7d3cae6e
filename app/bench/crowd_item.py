"""Many parts in the hand at once: painted plainly, and once only while they move."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from ...nesting.model.motion import Point
from .colours import Theme
from .painting import Look, body, cosmetic, plain_paths
from .sound import sound

CROWD = 12
"""More parts than this are a crowd."""


class CrowdItem(QGraphicsItem):
    """The parts of a crowd, as one picture that is moved about."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.theme = theme
        self._paths: list[tuple[int, QPainterPath]] = []
        self._made_of: tuple[Any, ...] = ()
        self._base: Point = (0.0, 0.0)
        self._box = QRectF()
        self.setZValue(19)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)
        self.hide()

    def show_crowd(self, looks: Sequence[Look], scale: float) -> None:
        """Show parts that lie on the bench where their placements say.

        Parameters
        ----------
        scale : float
            Pixels a millimetre.
        """
        first = looks[0].placement
        level = math.floor(math.log2(scale))
        made_of = (
            level,
            *(
                (p.part_id, p.turn, p.flipped, p.x - first.x, p.y - first.y)
                for p in (look.placement for look in looks)
            ),
        )
        if not _alike(made_of, self._made_of):
            self.prepareGeometryChange()
            self._paths, _ = plain_paths(looks, 0.5**level)
            self._made_of = made_of
            self._base = (first.x, first.y)
            self._box = QRectF()
            for _, path in self._paths:
                self._box = self._box.united(path.controlPointRect())
            self.update()
        self.setPos(first.x - self._base[0], first.y - self._base[1])
        self.show()

    def covers(self) -> QRectF:
        """Return the box round all of them on the bench, mm."""
        return self.mapRectToScene(self._box)

    @sound
    def boundingRect(self) -> QRectF:
        """Return what it covers, with room for its lines."""
        return self._box.adjusted(-3.0, -3.0, 3.0, 3.0)

    @sound
    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Paint them, washed with the colour of what is selected."""
        painter.setPen(cosmetic(self.theme.accent, 0.0))
        for colour, path in self._paths:
            fill, _, _ = self.theme.part_fill(colour)
            painter.setBrush(body(fill, self.theme))
            painter.drawPath(path)
            wash = QColor(self.theme.accent)
            wash.setAlphaF(0.25)
            painter.fillPath(path, wash)


def _alike(one: tuple[Any, ...], two: tuple[Any, ...]) -> bool:
    """Compare what crowds are made of; moving them leaves some rounding."""
    if len(one) != len(two) or one[:1] != two[:1]:
        return False
    return all(
        a[:3] == b[:3] and abs(a[3] - b[3]) < 1e-6 and abs(a[4] - b[4]) < 1e-6
        for a, b in zip(one[1:], two[1:], strict=True)
    )
