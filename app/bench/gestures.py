"""What a pressed button becomes: a band, a measure, a keep-out.

Moving and turning stand in files of their own.

A gesture shows what it would do, does it on release as one step, and leaves no trace
when it is cancelled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import shapely
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath

from ...nesting.model.job import Job
from ...nesting.model.motion import Motion, Point
from ...nesting.model.outline import Loop
from ...nesting.model.placement import Placement
from ...nesting.model.stock import KeepOut
from . import arrange
from .copies import Key
from .crowd_item import CROWD
from .items import ScreenItem, paint_distance, placed_path
from .painting import cosmetic
from .paths import add_segments
from .walls import Owner, Walls
from .words import length_text, shortened, tr

if TYPE_CHECKING:
    from .view import BenchView

CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


class Gesture:
    """One press, some moves, one release; this one does nothing.

    Parameters
    ----------
    view : BenchView
        Where it happens.
    start : tuple of float
        Where the button went down, on the bench, mm.
    """

    hint = ""

    def __init__(self, view: BenchView, start: Point) -> None:
        self.view = view
        self.start = start

    def move(self, at: Point, keys: Qt.KeyboardModifier) -> str:
        """Follow the pointer; return the figures to stand beside it."""
        return ""

    def finish(self) -> None:
        """Do it, as one step."""

    def cancel(self) -> None:
        """Put everything back."""


@dataclass(frozen=True)
class Nearest:
    """The distance from what is in the hand to what is nearest.

    Attributes
    ----------
    distance : str
        The distance.
    words : str
        The distance and whom to.
    line : tuple of tuple of float, or None
        Both ends on the bench, mm.
    """

    distance: str
    words: str
    line: tuple[Point, Point] | None


def nearest_words(
    walls: Walls, polygons: Sequence[Any], view: BenchView, job: Job, origin: Point
) -> Nearest:
    """Return how far some polygons on a blank are from what is nearest to them."""
    distance, owner, line = walls.nearest(polygons)
    length = length_text(distance, job.units)
    name = view.owner_name(walls.owners[owner])
    ends = None
    if line is not None:
        (ax, ay), (bx, by) = line.coords[0], line.coords[-1]
        ends = (
            (ax + origin[0], ay + origin[1]),
            (bx + origin[0], by + origin[1]),
        )
    words = tr("{distance} to {name}").format(distance=length, name=name)
    return Nearest(length, words, ends)


def paths_of(
    job: Job, placements: Sequence[Placement], origins: Sequence[Point]
) -> list[QPainterPath]:
    """Return outlines of placed copies on the bench; of a crowd the box round it."""
    if len(placements) <= CROWD:
        return [placed_path(job, p, origins[p.blank]) for p in placements]
    boxes = []
    for p in placements:
        ox, oy = origins[p.blank]
        x0, y0, x1, y1 = arrange.box_of(job, p)
        boxes.append((x0 + ox, y0 + oy, x1 + ox, y1 + oy))
    x0, y0, x1, y1 = arrange.box_round(boxes)
    path = QPainterPath()
    path.addRect(QRectF(x0, y0, x1 - x0, y1 - y0))
    return [path]


class BandGesture(Gesture):
    """Select what a band touches; with Ctrl or Shift, add to what was selected."""

    hint = tr("Selects what the band touches · Ctrl: add")

    def __init__(self, view: BenchView, start: Point, add: bool) -> None:
        super().__init__(view, start)
        self.old = (view.document.selection, view.document.current)
        self.base = view.document.selection if add else frozenset()
        self.box = QRectF()
        self.item = ScreenItem(self._draw)
        view.scene().addItem(self.item)

    def _draw(self, painter: QPainter) -> None:
        theme = self.view.theme
        wash = theme.accent.toRgb()
        wash.setAlphaF(0.10)
        painter.setPen(cosmetic(theme.accent, 1.2, Qt.PenStyle.DashLine))
        painter.setBrush(wash)
        painter.drawRect(self.box)

    def move(self, at: Point, keys: Qt.KeyboardModifier) -> str:
        """Light up what the band touches."""
        self.box = QRectF(QPointF(*self.start), QPointF(*at)).normalized()
        room = 3.0 / self.view.scale_now()
        self.item.cover(self.box.adjusted(-room, -room, room, room))
        found = self.view.finder.copies_in(self.box)
        self.view.document.select(self.base | found)
        return tr("{count} selected").format(count=len(self.base | found))

    def finish(self) -> None:
        """Keep the selection."""
        self.view.scene().removeItem(self.item)

    def cancel(self) -> None:
        """Bring the old selection back."""
        self.view.scene().removeItem(self.item)
        self.view.document.select(*self.old)


class MeasureGesture(Gesture):
    """Measure between the edges nearest to where it starts and where it ends."""

    hint = tr("Drag from one edge to another, or click one and then the other")

    def __init__(self, view: BenchView, start: Point) -> None:
        super().__init__(view, start)
        self.edge = view.finder.edge_near(start)
        self.line: tuple[Point, Point] = (start, start)
        self.item = ScreenItem(self._draw)
        view.scene().addItem(self.item)
        view.keep_measure(self.item)
        self.text = ""

    def _draw(self, painter: QPainter) -> None:
        paint_distance(painter, self.line, self.text, self.view.theme, self.view.font())

    def move(self, at: Point, keys: Qt.KeyboardModifier) -> str:
        """Measure from the first edge to the one under the pointer."""
        other = self.view.finder.edge_near(at)
        a = self.edge if self.edge is not None else shapely.Point(self.start)
        b = other if other is not None else shapely.Point(at)
        if a is b or (self.edge is not None and shapely.equals(a, b)):
            a, b = shapely.Point(self.start), shapely.Point(at)
        return self.between(a, b)

    def between(self, a: Any, b: Any) -> str:
        """Measure between two shapes on the bench, mm."""
        line = shapely.shortest_line(a, b)
        (ax, ay), (bx, by) = line.coords[0], line.coords[-1]
        self.line = ((ax, ay), (bx, by))
        units = self.view.document.job.units
        self.text = length_text(math.dist(*self.line), units, 3)
        room = 150.0 / self.view.scale_now()
        box = QRectF(QPointF(ax, ay), QPointF(bx, by)).normalized()
        self.item.cover(box.adjusted(-room, -room, room, room))
        return tr("{length}   across {dx}   up {dy}").format(
            length=self.text,
            dx=length_text(abs(bx - ax), units),
            dy=length_text(abs(by - ay), units),
        )

    def cancel(self) -> None:
        """Take the measure away."""
        self.view.keep_measure(None)


class KeepOutGesture(Gesture):
    """Draw a keep-out, move one, or take it by its rim to change its size."""

    hint = tr("On every blank of this stock · Esc: back")

    def __init__(
        self, view: BenchView, start: Point, blank: int, shape: str, index: int = -1
    ) -> None:
        super().__init__(view, start)
        self.blank = blank
        self.shape = shape
        self.index = index
        self.stock = view.document.job.stock_of(blank)
        self.loop: Loop | None = None
        self.item = ScreenItem(self._draw)
        view.scene().addItem(self.item)

    def _draw(self, painter: QPainter) -> None:
        if self.loop is None:
            return
        path = QPainterPath()
        add_segments(path, self.loop.segments)
        painter.translate(*self.view.plan.origins[self.blank])
        painter.setPen(cosmetic(self.view.theme.keep_out, 2.5))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawPath(path)

    def move(self, at: Point, keys: Qt.KeyboardModifier) -> str:
        """Show the outline it would get."""
        plan = self.view.plan
        (ax, ay), (bx, by) = (
            plan.on_blank(self.blank, self.start),
            plan.on_blank(self.blank, at),
        )
        units = self.view.document.job.units
        if self.index >= 0:
            loop = self.stock.keep_outs[self.index].loop
            if self.shape == "move":
                self.loop = loop.moved(Motion(bx - ax, by - ay))
            else:
                x0, y0, x1, y1 = loop.bounds
                cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
                if loop.is_circle:
                    self.loop = Loop.circle(
                        cx, cy, max(math.dist((cx, cy), (bx, by)), 1.0)
                    )
                else:
                    self.loop = self._stretched((ax, ay), (bx, by))
        elif self.shape == "circle":
            radius = math.dist((ax, ay), (bx, by))
            self.loop = Loop.circle(ax, ay, radius) if radius > 0.5 else None
        else:
            w, h = abs(bx - ax), abs(by - ay)
            big = w > 0.5 and h > 0.5
            self.loop = Loop.rectangle(w, h, min(ax, bx), min(ay, by)) if big else None
        self.item.cover(QRectF(self.view.sceneRect()))
        if self.loop is None:
            return ""
        x0, y0, x1, y1 = self.loop.bounds
        wide, high = length_text(x1 - x0, units, 1), length_text(y1 - y0, units, 1)
        if self.loop.is_circle:
            return tr("diameter {size}").format(size=wide)
        return tr("{width} by {height}").format(width=wide, height=high)

    def _stretched(self, start: Point, at: Point) -> Loop:
        """Return the rectangle with the sides that were taken hold of moved."""
        x0, y0, x1, y1 = self.stock.keep_outs[self.index].loop.bounds
        rim = 8.0 / self.view.scale_now()
        if abs(start[0] - x0) <= rim:
            x0 = min(at[0], x1 - 1.0)
        elif abs(start[0] - x1) <= rim:
            x1 = max(at[0], x0 + 1.0)
        if abs(start[1] - y0) <= rim:
            y0 = min(at[1], y1 - 1.0)
        elif abs(start[1] - y1) <= rim:
            y1 = max(at[1], y0 + 1.0)
        return Loop.rectangle(x1 - x0, y1 - y0, x0, y0)

    def finish(self) -> None:
        """Give the stock its keep-out, as one step."""
        self.view.scene().removeItem(self.item)
        if self.loop is None:
            return
        keep_outs = list(self.stock.keep_outs)
        if self.index >= 0:
            keep_outs[self.index] = replace(keep_outs[self.index], loop=self.loop)
            text = tr("Change a keep-out")
        else:
            keep_outs.append(KeepOut(self.loop, tr("keep clear")))
            text = tr("Add a keep-out")
        self.view.document.set_keep_outs(self.stock.id, keep_outs, text)

    def cancel(self) -> None:
        """Leave everything as it was."""
        self.view.scene().removeItem(self.item)


def owner_text(owner: Owner, names: dict[Key, str]) -> str:
    """Return how people call what a wall belongs to."""
    if owner.kind == "edge":
        return tr("edge of the blank")
    if owner.kind == "keep-out":
        return owner.label or tr("keep-out")
    name = names.get(owner.key, "") if owner.key is not None else ""
    return shortened(name)
