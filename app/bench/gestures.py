"""What a pressed button becomes: moving, turning, a band, a measure, a keep-out.

A gesture shows what it would do, does it on release as one step, and leaves no trace
when it is cancelled.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath

from ...nesting.model.motion import Motion, Point
from ...nesting.model.outline import Loop
from ...nesting.model.placement import Placement
from ...nesting.model.stock import KeepOut
from . import arrange
from .contact import LEGAL, Group, Hand, Step
from .items import ScreenItem, paint_distance, placed_path
from .painting import cosmetic
from .paths import add_segments
from .shapes import flat
from .walls import Owner, Walls, walls_on
from .words import angle_text, length_text, tr

if TYPE_CHECKING:
    from .view import BenchView

Key = tuple[str, int]
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier

DROP = 8.0
"""A free place this near to the pointer's wish is taken, pixels."""

ANGLE_SNAP = 2.5
"""A turn this near to a round angle or a neighbour's edge takes it, degrees."""


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


class MoveGesture(Gesture):
    """Carry parts, snug against their neighbours; with Ctrl, through them."""

    hint = tr("Ctrl: through neighbours · Shift: along one axis · Esc: back")

    def __init__(
        self,
        view: BenchView,
        start: Point,
        placements: list[Placement],
        home: int | None = None,
        text: str = "",
    ) -> None:
        super().__init__(view, start)
        self.document = view.document
        self.job = self.document.job
        self.before = placements
        self.keys = [(p.part_id, p.copy) for p in placements]
        self.fresh = any(self.document.placement(k) is None for k in self.keys)
        self.text = text
        blanks = {p.blank for p in placements}
        self.together = len(blanks) == 1
        self.home = placements[0].blank if home is None else home
        self.blank = self.home
        self.t: Point = (0.0, 0.0)
        self.moved = list(placements)
        self._hands: dict[int, Hand] = {}
        self._walls: dict[int, Walls] = {}
        self._refused: tuple[int, Point] | None = None
        view.lift(self.keys)

    def walls(self, blank: int) -> Walls:
        """Return what is in the way on a blank, worked out when first needed."""
        if blank not in self._walls:
            self._walls[blank] = walls_on(self.job, blank, self.keys)
        return self._walls[blank]

    def hand(self, blank: int) -> Hand:
        """Return the hand that moves the parts over a blank."""
        if blank not in self._hands:
            split: dict[int, list[Placement]] = {}
            for p in self.before:
                split.setdefault(blank if self.together else p.blank, []).append(p)
            groups = [
                Group(
                    self.walls(b),
                    [(self.job.part(p.part_id).outline, p.motion) for p in ps],
                )
                for b, ps in split.items()
            ]
            self._hands[blank] = Hand(groups)
        return self._hands[blank]

    def _wish(self, blank: int, at: Point, keys: Qt.KeyboardModifier) -> Point:
        dx, dy = at[0] - self.start[0], at[1] - self.start[1]
        if keys & SHIFT:
            dx, dy = (dx, 0.0) if abs(dx) >= abs(dy) else (0.0, dy)
        (hx, hy), (bx, by) = (
            self.view.plan.origins[self.home],
            self.view.plan.origins[blank],
        )
        return dx + hx - bx, dy + hy - by

    def move(self, at: Point, keys: Qt.KeyboardModifier) -> str:
        """Follow the pointer as closely as the neighbours allow."""
        over = self.view.plan.blank_at(at)
        blank = self.blank
        if self.together and over is not None and over != self.blank:
            blank = over
        wish = self._wish(blank, at, keys)
        through = bool(keys & CTRL)
        pixel = 1.0 / self.view.scale_now()
        if blank != self.blank and not through:
            blank, wish = self._enter(blank, wish, at, keys)
        self.blank = blank
        hand = self.hand(blank)
        if through:
            step = Step(wish[0], wish[1], (), False)
            if hand.clear(np.array(wish)):
                hand.at = np.array(wish)
        else:
            drop = min(max(DROP * pixel, 0.5), 25.0)
            step = hand.move(*wish, drop=drop, starts=self._holes(at, blank))
        return self._show(step, wish, blank, through)

    def _enter(
        self, blank: int, wish: Point, at: Point, keys: Qt.KeyboardModifier
    ) -> tuple[int, Point]:
        """Come onto another blank if there is room near the pointer."""
        back = self._wish(self.blank, at, keys)
        if self._refused is not None and self._refused[0] == blank:
            if math.dist(self._refused[1], at) < 8.0 / self.view.scale_now():
                return self.blank, back
        if self.hand(blank).enter(wish):
            self._refused = None
            return blank, wish
        self._refused = (blank, at)
        return self.blank, back

    def _holes(self, at: Point, blank: int) -> list[Point]:
        """Return the moves that bring the parts to the middle of a hole pointed at."""
        if not self.together:
            return []
        group = self.hand(blank).groups[0]
        x, y = self.view.plan.on_blank(blank, at)
        mx, my = (group.box[0] + group.box[2]) / 2, (group.box[1] + group.box[3]) / 2
        wide, high = group.box[2] - group.box[0], group.box[3] - group.box[1]
        walls = self.walls(blank)
        out: list[Point] = []
        if not len(walls.solids):
            return out
        for k in walls.solid_tree.query(shapely.Point(x, y)):
            for ring in walls.solids[k].interiors:
                x0, y0, x1, y1 = ring.bounds
                fits = x1 - x0 > wide and y1 - y0 > high
                if fits and x0 <= x <= x1 and y0 <= y <= y1:
                    out.append(((x0 + x1) / 2 - mx, (y0 + y1) / 2 - my))
        return out

    def _show(self, step: Step, wish: Point, blank: int, through: bool) -> str:
        self.t = (step.x, step.y)
        self.moved = [
            replace(
                p,
                x=p.x + step.x,
                y=p.y + step.y,
                blank=blank if self.together else p.blank,
            )
            for p in self.before
        ]
        hand = self.hand(blank)
        view = self.view
        group = hand.groups[0]
        polygons = group.polygons(np.array(self.t))
        distance, owner, line = group.walls.nearest(polygons)
        units = self.job.units
        text, ends = "", None
        origin = view.plan.origins[self.moved[0].blank]
        if line is not None:
            name = view.owner_name(group.walls.owners[owner])
            text = f"{length_text(distance, units)} · {name}"
            (ax, ay), (bx, by) = line.coords[0], line.coords[-1]
            ends = (
                (ax + origin[0], ay + origin[1]),
                (bx + origin[0], by + origin[1]),
            )
        ghost = None
        if step.held and math.dist(self.t, wish) > 3.0 / view.scale_now():
            ghost = QPainterPath()
            for p in self.before:
                there = replace(
                    p,
                    x=p.x + wish[0],
                    y=p.y + wish[1],
                    blank=blank if self.together else p.blank,
                )
                ghost.addPath(
                    placed_path(self.job, there, view.plan.origins[there.blank])
                )
        bad = []
        if through and not hand.clear(np.array(self.t), LEGAL):
            bad = [
                placed_path(self.job, p, view.plan.origins[p.blank]) for p in self.moved
            ]
        view.show_hand(self.moved, ghost, ends, text, bad)
        first = self.moved[0]
        return tr("x {x}   y {y}").format(
            x=length_text(first.x, units), y=length_text(first.y, units)
        )

    def finish(self) -> None:
        """Leave the parts where they are shown, as one step."""
        self.view.drop_hand()
        document = self.document
        if self.fresh:
            document.place(self.moved)
            return
        if self.moved == self.before:
            return
        text = document.gesture_text(
            tr("Move {name}"), tr("Move {count} parts"), self.keys
        )
        document.replace_placements(text, self.moved)

    def cancel(self) -> None:
        """Leave the parts where they were picked up."""
        self.view.drop_hand()


class TurnGesture(Gesture):
    """Turn what is selected about its middle, up to the neighbours."""

    hint = tr("Shift: steps of 15° · Ctrl: freely, through neighbours · Esc: back")

    def __init__(
        self, view: BenchView, start: Point, placements: list[Placement]
    ) -> None:
        super().__init__(view, start)
        self.job = view.document.job
        self.before = placements
        self.keys = [(p.part_id, p.copy) for p in placements]
        self.blank = placements[0].blank
        boxes = [arrange.box_of(self.job, p) for p in placements]
        if len(placements) == 1:
            self.pivot = arrange.centre_of(self.job, placements[0])
        else:
            self.pivot = arrange.middle(arrange.box_round(boxes))
        self.walls = walls_on(self.job, self.blank, self.keys)
        self.moved = list(placements)
        self.by = 0.0
        self._first = self._angle(start)
        view.lift(self.keys)

    def _angle(self, at: Point) -> float:
        x, y = self.view.plan.on_blank(self.blank, at)
        return math.degrees(math.atan2(y - self.pivot[1], x - self.pivot[0]))

    def _clear(self, by: float, tolerance: float = 1e-6) -> bool:
        placed = arrange.turned(self.before, self.pivot, by)
        polygons = [
            flat(self.job.part(p.part_id).outline).moved_polygon(p.motion)
            for p in placed
        ]
        return self.walls.clear(polygons, tolerance)

    def _snapped(self, by: float, keys: Qt.KeyboardModifier) -> tuple[float, str]:
        """Return the turn that rules, round angles and neighbours make of a wish."""
        first = self.before[0]
        target = first.turn + by
        for p in self.before:
            rule = self.job.part(p.part_id).turn
            grain = self.view.document.grain_at(p.blank)
            if rule.turns(grain) is not None:
                turn = arrange.nearest_allowed(rule, grain, p.turn + by)
                words = self.view.document.turn_words((p.part_id, p.copy))
                return (turn - p.turn + 180.0) % 360.0 - 180.0, words
        if keys & CTRL:
            return by, ""
        near = round(target / 15.0) * 15.0
        if keys & SHIFT or abs(target - near) <= ANGLE_SNAP:
            return near - first.turn, tr("a step of 15°")
        mine = _directions(flat(self.job.part(first.part_id).outline).edges)
        if first.flipped:
            mine = -mine
        theirs = _directions(self._near_edges())
        if len(mine) and len(theirs):
            off = (theirs[None, :] - mine[:, None] - target + 90.0) % 180.0 - 90.0
            k = int(np.argmin(np.abs(off)))
            if abs(off.flat[k]) <= ANGLE_SNAP:
                return by + float(off.flat[k]), tr("along a neighbour's edge")
        return by, ""

    def _near_edges(self) -> np.ndarray:
        x0, y0, x1, y1 = arrange.box_round(
            [arrange.box_of(self.job, p) for p in self.before]
        )
        room = 3.0 * self.walls.gap + 20.0
        near = self.walls.tree.query(
            shapely.box(x0 - room, y0 - room, x1 + room, y1 + room)
        )
        return np.asarray(self.walls.edges[near])

    def move(self, at: Point, keys: Qt.KeyboardModifier) -> str:
        """Turn as far as the neighbours allow."""
        wish = (self._angle(at) - self._first + 180.0) % 360.0 - 180.0
        by, why = self._snapped(wish, keys)
        through = bool(keys & CTRL)
        if not through and not self._clear(by):
            free, blocked = self.by, by
            ruled = any(
                self.job.part(p.part_id).turn.turns(
                    self.view.document.grain_at(p.blank)
                )
                is not None
                for p in self.before
            )
            if ruled:  # nothing between the turns its rule lists is of any use
                by = free
            elif self._clear(free, LEGAL):
                for _ in range(22):
                    middle = (free + blocked) / 2.0
                    if self._clear(middle):
                        free = middle
                    else:
                        blocked = middle
                by = free
                why = tr("held by a neighbour")
            else:
                by = free
        self.by = by
        self.moved = arrange.turned(self.before, self.pivot, by)
        polygons = [
            flat(self.job.part(p.part_id).outline).moved_polygon(p.motion)
            for p in self.moved
        ]
        distance, owner, line = self.walls.nearest(polygons)
        origin = self.view.plan.origins[self.blank]
        text, ends = "", None
        if line is not None:
            name = self.view.owner_name(self.walls.owners[owner])
            text = f"{length_text(distance, self.job.units)} · {name}"
            (ax, ay), (bx, by_) = line.coords[0], line.coords[-1]
            ends = (
                (ax + origin[0], ay + origin[1]),
                (bx + origin[0], by_ + origin[1]),
            )
        bad = []
        if through and not self._clear(by, LEGAL):
            bad = [placed_path(self.job, p, origin) for p in self.moved]
        self.view.show_hand(self.moved, None, ends, text, bad)
        figures = angle_text(self.moved[0].turn)
        return f"{figures}   {why}" if why else figures

    def finish(self) -> None:
        """Leave the parts as they are shown, as one step."""
        self.view.drop_hand()
        if abs(self.by) < 1e-9:
            return
        document = self.view.document
        text = document.gesture_text(
            tr("Turn {name}"), tr("Turn {count} parts"), self.keys
        )
        document.replace_placements(text, self.moved)

    def cancel(self) -> None:
        """Leave the parts as they were."""
        self.view.drop_hand()


def _directions(edges: np.ndarray) -> np.ndarray:
    """Return the directions of the longer edges, degrees, each once."""
    along = edges[:, 2:] - edges[:, :2]
    length = np.hypot(along[:, 0], along[:, 1])
    if not len(length):
        return np.zeros(0)
    keep = length > 0.15 * length.max()
    angles = np.degrees(np.arctan2(along[keep, 1], along[keep, 0])) % 180.0
    return np.unique(np.round(angles, 6))[:60]


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

    hint = tr("Drag from one edge to another")

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
                    w, h = max(2 * abs(bx - cx), 1.0), max(2 * abs(by - cy), 1.0)
                    self.loop = Loop.rectangle(w, h, cx - w / 2, cy - h / 2)
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
        return tr("{width} by {height}").format(width=wide, height=high)

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
    return names.get(owner.key, "") if owner.key is not None else ""
