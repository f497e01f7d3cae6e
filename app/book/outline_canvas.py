"""A canvas to draw a board's outline on, by pointer or by keys alone."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QColor,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from ...nesting.model.job import Job
from ...nesting.model.motion import Point
from ..bench.colours import Theme
from ..bench.sound import sound
from . import words

STEPS = {"mm": 5.0, "in": 25.4 / 4.0}
"""Corners fall on a grid of this, mm, by the job's unit; typed ones fall anywhere."""

NEAR = 12.0
"""A corner is taken hold of from so many pixels away: a target of 24."""

PRESS = 5.0
"""A press that moves less than this, in pixels, is a click."""

LEAST = 1200.0
"""The canvas shows so much of the world at least, mm."""

_EDGE = 26.0


class OutlineCanvas(QWidget):
    """Corners that are put down one after the other; the last edge closes by itself.

    A click puts a corner down, or inserts one into an edge that it hits; a corner can
    be dragged; a drag on the empty canvas draws a rectangle. By keys: arrows move the
    cross by a step of the grid, by ten with Shift; Space puts a corner down or takes
    hold of the one there, Delete takes it away.

    Signals
    -------
    edited()
        The corners are different.
    """

    edited = Signal()

    def __init__(self, job: Callable[[], Job], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._job = job
        self.corners: list[Point] = []
        self.cross: Point = (0.0, 0.0)
        self.held: int | None = None
        self._seen = (0.0, 0.0)
        self._pressed: QPointF | None = None
        self._rectangle: tuple[Point, Point] | None = None
        self._moved = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setCursor(Qt.CursorShape.CrossCursor)
        self.setAccessibleName(self.tr("Canvas for the outline of a board"))
        self._describe()

    def sizeHint(self) -> QSize:
        """Return the size it likes."""
        return QSize(340, 260)

    def minimumSizeHint(self) -> QSize:
        """Return the least size."""
        return QSize(200, 200)

    # ------------------------------------------------------------ the world

    @property
    def step(self) -> float:
        """The grid, mm."""
        return STEPS[self._job().units]

    def _world(self) -> tuple[float, float]:
        """Return how much of x and y is seen, mm."""
        across = max(self.width() - 2.0 * _EDGE, 1.0)
        up = max(self.height() - 2.0 * _EDGE, 1.0)
        right, top = self._seen
        wide = max(LEAST, right * 1.1, top * 1.1 * across / up)
        return wide, wide * up / across

    def _see_all(self) -> None:
        """Show corners and cross; not while the pointer draws: it would run away."""
        points = [*self.corners, self.cross]
        self._seen = (max(x for x, _ in points), max(y for _, y in points))
        self.update()

    def _scale(self) -> float:
        return max(self.width() - 2.0 * _EDGE, 1.0) / self._world()[0]

    def at(self, point: Point) -> QPointF:
        """Return where a point of the board lies on the widget."""
        scale = self._scale()
        return QPointF(
            _EDGE + point[0] * scale, self.height() - _EDGE - point[1] * scale
        )

    def _point(self, place: QPointF) -> Point:
        """Return the nearest point of the grid."""
        scale, step = self._scale(), self.step
        x = (place.x() - _EDGE) / scale
        y = (self.height() - _EDGE - place.y()) / scale
        return (
            max(round(x / step) * step, 0.0),
            max(round(y / step) * step, 0.0),
        )

    # ------------------------------------------------------------ changing

    def show_corners(self, corners: Sequence[Point]) -> None:
        """Show corners from elsewhere, such as typed ones."""
        self.corners = [(float(x), float(y)) for x, y in corners]
        self.held = None
        self.cross = (0.0, 0.0)
        self._describe()
        self._see_all()

    def _put(self, corners: list[Point]) -> None:
        self.corners = corners
        self._describe()
        self.update()
        self.edited.emit()

    def _hit(self, place: QPointF) -> int | None:
        """Return the corner at a place of the widget."""
        near = [
            (math.hypot(*(self.at(c) - place).toTuple()), i)
            for i, c in enumerate(self.corners)
        ]
        away, index = min(near, default=(math.inf, 0))
        return index if away <= NEAR else None

    def _edge_at(self, place: QPointF) -> int | None:
        """Return the edge at a place: the index of the corner it leads to."""
        count = len(self.corners)
        if count < 3:
            return None
        for i in range(count):
            a, b = self.at(self.corners[i - 1]), self.at(self.corners[i])
            along = b - a
            length = math.hypot(along.x(), along.y())
            if length == 0.0:
                continue
            to = place - a
            share = (to.x() * along.x() + to.y() * along.y()) / length**2
            away = abs(to.x() * along.y() - to.y() * along.x()) / length
            if 0.0 < share < 1.0 and away <= NEAR / 2.0:
                return i
        return None

    def _add(self, point: Point, place: QPointF) -> None:
        edge = self._edge_at(place)
        index = len(self.corners) if edge is None else edge
        if point not in self.corners:
            self._put([*self.corners[:index], point, *self.corners[index:]])

    def remove(self, index: int) -> None:
        """Take a corner away."""
        self.held = None
        self._put([c for i, c in enumerate(self.corners) if i != index])

    # ------------------------------------------------------------ the pointer

    @sound
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of a corner, or begin one."""
        if event.button() is not Qt.MouseButton.LeftButton:
            return
        self._pressed = event.position()
        self._moved = False
        self.held = self._hit(event.position())
        self.cross = self._point(event.position())
        self.update()

    @sound
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Drag a corner, or draw a rectangle."""
        place = event.position()
        self.cross = self._point(place)
        if self._pressed is not None:
            away = place - self._pressed
            self._moved |= math.hypot(away.x(), away.y()) >= PRESS
            if self._moved and self.held is not None:
                self.corners[self.held] = self.cross
            elif self._moved and not self.corners:
                self._rectangle = (self._point(self._pressed), self.cross)
        self.update()

    @sound
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Put down what was drawn."""
        if self._pressed is None or event.button() is not Qt.MouseButton.LeftButton:
            return
        self._pressed = None
        if self._rectangle is not None:
            (x0, y0), (x1, y1) = self._rectangle
            self._rectangle = None
            if x0 != x1 and y0 != y1:
                x0, x1 = sorted((x0, x1))
                y0, y1 = sorted((y0, y1))
                self._put([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])
        elif self.held is not None:
            if self._moved:
                self._put(list(self.corners))
        elif not self._moved:
            self._add(self._point(event.position()), event.position())
        self._see_all()

    # ------------------------------------------------------------ the keys

    @sound
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Draw by keys alone."""
        key = event.key()
        ways = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Up: (0, 1),
            Qt.Key.Key_Down: (0, -1),
        }
        if key in ways:
            many = 10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
            dx, dy = (self.step * many * way for way in ways[Qt.Key(key)])
            self.cross = (max(self.cross[0] + dx, 0.0), max(self.cross[1] + dy, 0.0))
            if self.held is not None:
                self.corners[self.held] = self.cross
                self._put(list(self.corners))
        elif key in (Qt.Key.Key_Space, Qt.Key.Key_Return, Qt.Key.Key_Enter):
            there = self._hit(self.at(self.cross))
            if self.held is not None:
                self.held = None
            elif there is not None:
                self.held, self.cross = there, self.corners[there]
            else:
                self._add(self.cross, self.at(self.cross))
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            there = (
                self.held if self.held is not None else self._hit(self.at(self.cross))
            )
            if there is None and self.corners and key == Qt.Key.Key_Backspace:
                there = len(self.corners) - 1
            if there is not None:
                self.remove(there)
        elif key == Qt.Key.Key_Escape and self.held is not None:
            self.held = None
        else:
            super().keyPressEvent(event)
            return
        self._describe()
        self._see_all()

    @sound
    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the cross."""
        super().focusInEvent(event)
        self.update()

    @sound
    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Hide the cross, let a corner go."""
        super().focusOutEvent(event)
        self.held = None
        self.update()

    def _describe(self) -> None:
        job = self._job()
        x, y = (words.shown(value, job) for value in self.cross)
        self.setAccessibleDescription(
            self.tr(
                "{n} corners; cross at {x}, {y} {unit}. Arrows move it, Space puts a "
                "corner down or takes hold of one, Delete takes it away."
            ).format(n=len(self.corners), x=x, y=y, unit=job.units)
        )

    # ------------------------------------------------------------ painting

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint grid, outline, corners and cross."""
        theme = Theme.of(self.palette())
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.fillRect(self.rect(), theme.bench)
        self._paint_grid(painter, theme)
        corners = self.corners
        if self._rectangle is not None:
            (x0, y0), (x1, y1) = self._rectangle
            corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        points = [self.at(corner) for corner in corners]
        pen = QPen(theme.outline if not theme.dark else theme.ink, 1.6)
        painter.setPen(pen)
        painter.setBrush(theme.board)
        if len(points) > 2:
            painter.drawPolygon(QPolygonF(points))
        elif len(points) == 2:
            painter.drawLine(points[0], points[1])
        self._paint_lengths(painter, theme, corners)
        for i, point in enumerate(points if self._rectangle is None else []):
            held = i == self.held
            painter.setPen(QPen(theme.accent, 2.0))
            painter.setBrush(theme.accent if held else theme.board)
            painter.drawEllipse(point, 5.0, 5.0)
        if self.hasFocus() or self.underMouse():
            self._paint_cross(painter, theme)
        if self.hasFocus():
            painter.setPen(QPen(theme.accent, 2.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.rect().adjusted(1, 1, -1, -1))
        painter.end()

    def _paint_grid(self, painter: QPainter, theme: Theme) -> None:
        """Draw lines of the grid that are not too dense, with numbers below."""
        wide, high = self._world()
        job = self._job()
        font = painter.font()
        font.setPointSizeF(max(font.pointSizeF() * 0.85, 8.0))
        painter.setFont(font)
        unit = self.step * (20.0 if job.units == "mm" else 24.0)

        def widest() -> int:
            last = words.shown(int(wide / unit) * unit, job)
            return painter.fontMetrics().horizontalAdvance(last) + 6

        while wide / unit > 14.0 or unit * self._scale() < widest():
            unit *= 2.0
        thin = QColor(theme.faint)
        thin.setAlphaF(0.35)
        lines = QPen(thin, 1.0)
        for n in range(int(wide / unit) + 1):
            top = self.at((n * unit, high))
            foot = self.at((n * unit, 0.0))
            painter.setPen(lines)
            painter.drawLine(top, foot)
            text = words.shown(n * unit, job)
            painter.setPen(theme.faint)
            painter.drawText(
                QRectF(foot.x() - 30, foot.y() + 8, 60, 20),
                Qt.AlignmentFlag.AlignHCenter,
                text,
            )
        painter.setPen(lines)
        for n in range(1, int(high / unit) + 1):
            painter.drawLine(self.at((0.0, n * unit)), self.at((wide, n * unit)))

    def _paint_lengths(
        self, painter: QPainter, theme: Theme, corners: Sequence[Point]
    ) -> None:
        """Write at every edge how long it is."""
        job = self._job()
        count = len(corners)
        painter.setPen(theme.ink)
        for i in range(count if count > 2 else count - 1):
            a, b = corners[i], corners[(i + 1) % count]
            start, end = self.at(a), self.at(b)
            if math.hypot(*(end - start).toTuple()) < 30.0:
                continue
            middle = (start + end) / 2.0
            text = words.shown(math.dist(a, b), job)
            wide = painter.fontMetrics().horizontalAdvance(text) + 6
            high = painter.fontMetrics().height()
            left = min(max(middle.x() - wide / 2, 3.0), self.width() - wide - 3.0)
            box = QRectF(left, middle.y() - high / 2, wide, high)
            painter.fillRect(box, theme.plate)
            painter.setPen(theme.plate_ink)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_cross(self, painter: QPainter, theme: Theme) -> None:
        place = self.at(self.cross)
        painter.setPen(QPen(theme.accent, 1.0))
        painter.drawLine(place - QPointF(9, 0), place + QPointF(9, 0))
        painter.drawLine(place - QPointF(0, 9), place + QPointF(0, 9))
        job = self._job()
        text = self.tr("{x}, {y} {unit}").format(
            x=words.shown(self.cross[0], job),
            y=words.shown(self.cross[1], job),
            unit=job.units,
        )
        painter.setPen(theme.ink)
        line = QRectF(_EDGE, 2.0, self.width() - 2.0 * _EDGE, _EDGE)
        painter.drawText(line, Qt.AlignmentFlag.AlignRight, text)
