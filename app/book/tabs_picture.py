"""A picture of a part and its tabs, in which tabs are put, moved and chosen."""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPainterPath, QPen
from PySide6.QtWidgets import QWidget

from ...nesting.model.part import Part
from ...nesting.shop.tabs import Tab
from ..bench.colours import Theme
from ..bench.sound import sound
from .part_picture import PartPicture

NEAR = 12.0
"""A tab is taken hold of from so many pixels away: a target of 24."""

PRESS = 5.0
"""A press that moves less than this, in pixels, is a click."""


class TabsPicture(PartPicture):
    """One part with its tabs; the list beside it does the same by keys.

    Signals
    -------
    chosen(int)
        A tab was clicked.
    wanted(float, float)
        The edge was clicked where no tab stands: a place of the part, mm.
    moved(int, float, float)
        A tab was dragged to a place of the part, mm.
    """

    chosen = Signal(int)
    wanted = Signal(float, float)
    moved = Signal(int, float, float)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(16, parent)
        self._tabs: tuple[Tab, ...] = ()
        self._chosen = -1
        self._pressed: QPointF | None = None
        self._held: int | None = None
        self._at: QPointF | None = None
        self.setAccessibleName(self.tr("The part and its tabs"))
        self.setToolTip(self.tr("Click the edge for a tab more, drag a tab along it"))

    def show_part(
        self, part: Part, index: int, tabs: Sequence[Tab], chosen: int
    ) -> None:
        """Show a part, in the colour of its place in the order."""
        self._part, self._index = part, index
        self._tabs, self._chosen = tuple(tabs), chosen
        self.setAccessibleDescription(
            self.tr("{part}: {n} tabs").format(part=part.name, n=len(tabs))
        )
        self.update()

    def _place(self, at: QPointF) -> tuple[float, float]:
        scale, left, foot = self._view()
        return (at.x() - left) / scale, (foot - at.y()) / scale

    def _hit(self, at: QPointF) -> int | None:
        away = [
            (math.dist(self.at(*tab.middle).toTuple(), at.toTuple()), i)
            for i, tab in enumerate(self._tabs)
        ]
        nearest, index = min(away, default=(math.inf, 0))
        return index if nearest <= NEAR else None

    # ------------------------------------------------------------ the pointer

    @sound
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of a tab, or begin a click."""
        if self._part is None or event.button() is not Qt.MouseButton.LeftButton:
            return
        self._pressed = event.position()
        self._held = self._hit(event.position())
        if self._held is not None:
            self.chosen.emit(self._held)

    @sound
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Show where a tab would go."""
        if self._held is not None:
            self._at = event.position()
            self.update()

    @sound
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Put or move a tab."""
        pressed, held = self._pressed, self._held
        self._pressed = self._held = self._at = None
        if pressed is None or event.button() is not Qt.MouseButton.LeftButton:
            return
        place = self._place(event.position())
        away = math.dist(pressed.toTuple(), event.position().toTuple())
        if held is None:
            self.wanted.emit(*place)
        elif away >= PRESS:
            self.moved.emit(held, *place)
        self.update()

    # ------------------------------------------------------------ painting

    def draw_on(self, painter: QPainter, theme: Theme) -> None:
        """Draw the tabs, and the one that is dragged."""
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for i, tab in enumerate(self._tabs):
            path = QPainterPath()
            points = [self.at(x, y) for x, y in tab.along.flatten(0.05).tolist()]
            path.moveTo(points[0])
            for point in points[1:]:
                path.lineTo(point)
            ink = theme.accent if i == self._chosen else theme.ink
            painter.setPen(QPen(ink, 6.0, c=Qt.PenCapStyle.FlatCap))
            painter.drawPath(path)
            if i == self._chosen:
                painter.setPen(QPen(theme.accent, 2.0))
                painter.drawEllipse(self.at(*tab.middle), 9.0, 9.0)
        if self._at is not None:
            painter.setPen(QPen(theme.accent, 2.0))
            painter.drawEllipse(self._at, 6.0, 6.0)
