"""A picture of a part and its tabs, in which tabs are put, moved and chosen."""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import QMouseEvent, QPainter, QPainterPath, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from ...nesting.model.part import Part
from ...nesting.shop.tabs import Tab
from ..bench.colours import Theme
from ..bench.paths import outline_path
from ..bench.sound import sound

NEAR = 12.0
"""A tab is taken hold of from so many pixels away: a target of 24."""

PRESS = 5.0
"""A press that moves less than this, in pixels, is a click."""


class TabsPicture(QWidget):
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
        super().__init__(parent)
        self._part: Part | None = None
        self._index = 0
        self._tabs: tuple[Tab, ...] = ()
        self._chosen = -1
        self._pressed: QPointF | None = None
        self._held: int | None = None
        self._at: QPointF | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("The part and its tabs"))
        self.setToolTip(self.tr("Click the edge for a tab more, drag a tab along it"))

    def sizeHint(self) -> QSize:
        """Return the size it likes."""
        return QSize(320, 200)

    def minimumSizeHint(self) -> QSize:
        """Return the least size."""
        return QSize(160, 140)

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

    # ------------------------------------------------------------ the world

    def _view(self) -> tuple[float, float, float]:
        """Return the scale, and where the part's (0, 0) lies."""
        assert self._part is not None
        x0, y0, x1, y1 = self._part.outline.bounds
        scale = min(
            (self.width() - 32) / max(x1 - x0, 1e-9),
            (self.height() - 32) / max(y1 - y0, 1e-9),
        )
        return (
            scale,
            self.width() / 2 - scale * (x0 + x1) / 2,
            self.height() / 2 + scale * (y0 + y1) / 2,
        )

    def at(self, x: float, y: float) -> QPointF:
        """Return where a point of the part lies on the widget."""
        scale, left, foot = self._view()
        return QPointF(left + scale * x, foot - scale * y)

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

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the part and its tabs."""
        if self._part is None:
            return
        theme = Theme.of(self.palette())
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        scale, left, foot = self._view()
        painter.save()
        painter.translate(left, foot)
        painter.scale(scale, -scale)
        fill, _, _ = theme.part_fill(self._index)
        pen = QPen(theme.outline if not theme.dark else theme.ink, 1.2)
        pen.setCosmetic(True)
        painter.setPen(pen)
        painter.setBrush(fill)
        painter.drawPath(outline_path(self._part.outline))
        painter.restore()
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
        painter.end()
