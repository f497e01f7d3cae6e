"""Turning parts among others: they give way, or stop, and never come too close.

A turn goes in small steps. Where a step brings the parts too near to something they are
pushed out of it by the least move that clears all the capsules they are in (see
`contact`), as one pushes a part along with a finger; where no such move exists the turn
ends, just before. When the turn is done the parts slide back towards where they were
picked up, as near as their neighbours allow.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...nesting.model.job import Job
from ...nesting.model.motion import Point, Points
from ...nesting.model.placement import Placement
from . import arrange
from .contact import CLEAR, LEGAL, SKIN, Group, Hand
from .walls import Walls

STEPS = 48
"""So many steps at most are done at once; the next move of the pointer goes on."""

THIN = 0.75
"""A lesser gap is stepped over by the shortest turn before anything is felt, mm."""

ROUND = 1.0
"""How far an edge goes in one step where the gap is so thin, mm."""

WAYS = 16
"""So many ways out are tried there."""

ASIDE = 3
"""How far aside a listed turn looks for room, in rings of a third of their size."""


@dataclass(frozen=True)
class Turned:
    """Where a wished turn led to.

    Attributes
    ----------
    by : float
        The turn from where the parts were picked up, degrees.
    x, y : float
        The move that came with it, mm.
    held : bool
        Whether the turn is not the one wished for.
    """

    by: float
    x: float
    y: float
    held: bool


class Turner:
    """Turns parts together about a point, snug against what is in their way.

    Parameters
    ----------
    job : Job
        Knows the parts.
    walls : Walls
        What is in the way.
    placements : sequence of Placement
        What is turned, where it was picked up; all on one blank.
    pivot : tuple of float
        What it is turned about, mm.
    """

    def __init__(
        self,
        job: Job,
        walls: Walls,
        placements: Sequence[Placement],
        pivot: Point,
    ) -> None:
        self.job = job
        self.walls = walls
        self.placements = list(placements)
        self.pivot = pivot
        self.by = 0.0
        self.shift: Points = np.zeros(2)
        rings = [ring for part in self._group(0.0).rings for ring in part]
        self._radius = max(
            float(np.hypot(*(ring - np.array(pivot)).T).max()) for ring in rings
        )
        # A step must not carry an edge through another one.
        gap = min(walls.gap, walls.margin)
        self._thin = gap < THIN
        self._way = 0.0
        self._stride = ROUND if self._thin else min(0.4 * gap, 4.0)

    def placed(self) -> list[Placement]:
        """Return the placements as turned and moved so far."""
        return self._placed(self.by, self.shift)

    def _placed(self, by: float, shift: Points) -> list[Placement]:
        turned = arrange.turned(self.placements, self.pivot, by)
        return [arrange.moved(p, float(shift[0]), float(shift[1])) for p in turned]

    def _group(self, by: float) -> Group:
        turned = arrange.turned(self.placements, self.pivot, by)
        return Group(
            self.walls,
            [(self.job.part(p.part_id).outline, p.motion) for p in turned],
        )

    def clear(self, tolerance: float = LEGAL) -> bool:
        """Return whether the parts keep every distance where they are now."""
        return self._group(self.by).clear(self.shift, tolerance)

    def free(self, by: float) -> Turned:
        """Turn without regard to anything."""
        self.by, self.shift = by, np.zeros(2)
        return Turned(by, 0.0, 0.0, False)

    def listed(self, by: float) -> Turned:
        """Turn straight to an angle, aside if there is no room where they lie.

        For parts whose rule lists turns: nothing in between is of any use to them.
        """
        return self._step_to(by) or self._aside(by) or self._stay()

    def turn(self, by: float) -> Turned:
        """Turn as near to an angle as the neighbours allow."""
        at_home = self._step_to(by)
        if at_home is not None:
            return at_home
        if not self.clear():
            # Picked up in a conflict: there is nothing to be pushed along.
            return self._aside(by) or self._stay()
        way = (by - self.by + 180.0) % 360.0 - 180.0
        step = math.degrees(self._stride / max(self._radius, 1e-9))
        count = max(math.ceil(abs(way) / step), 1)
        start = self.by
        for k in range(1, min(count, STEPS) + 1):
            wish = start + way * k / count
            shift = self._pushed(wish, self.shift)
            if shift is None:
                self._close_in(wish)
                break
            self.by, self.shift = wish, shift
        self._go_home()
        held = abs((by - self.by + 180.0) % 360.0 - 180.0) > 1e-9
        if not held:
            self.by = by
        return Turned(self.by, float(self.shift[0]), float(self.shift[1]), held)

    def _step_to(self, by: float) -> Turned | None:
        """Turn where they were picked up, if that is free."""
        if not self._group(by).clear(np.zeros(2), CLEAR):
            return None
        self.by, self.shift = by, np.zeros(2)
        return Turned(by, 0.0, 0.0, False)

    def _aside(self, by: float) -> Turned | None:
        """Turn somewhere near where they were picked up."""
        hand = Hand([self._group(by)])
        if not hand.enter((0.0, 0.0), rings=ASIDE):
            return None
        step = hand.move(0.0, 0.0)
        self.by, self.shift = by, np.array((step.x, step.y))
        return Turned(by, step.x, step.y, False)

    def _stay(self) -> Turned:
        return Turned(self.by, float(self.shift[0]), float(self.shift[1]), True)

    def _close_in(self, blocked: float) -> None:
        """Come as near to an angle that cannot be reached as there is room for."""
        free = self.by
        for _ in range(12):
            middle = (free + blocked) / 2.0
            shift = self._pushed(middle, self.shift)
            if shift is None:
                blocked = middle
            else:
                free, self.by, self.shift = middle, middle, shift

    def _pushed(self, by: float, start: Points) -> Points | None:
        """Return the nearest move that is free at an angle, or None."""
        group = self._group(by)
        if self._thin:
            return self._round(group, by, start)
        at = start
        for _ in range(10):
            if group.clear(at, CLEAR):
                return at
            capsules = group.capsules(at, 0.05)
            if not len(capsules):
                return None
            distance, away = capsules.distance(at)
            short = capsules.reach - distance
            # Those nearly touched count as well, or one push would undo another.
            keep = np.argsort(-short)[:24]
            push = least_push(
                away[keep] / np.maximum(distance[keep], 1e-12)[:, None],
                short[keep] + SKIN,
            )
            if push is None:
                return None
            at = at + push
            if math.dist(at, start) > 4.0 * self._stride:
                return None
        return None

    def _round(self, group: Group, by: float, start: Points) -> Points | None:
        """Step away from the neighbours, turn, and slide back against them.

        Where the gap is too thin to feel them in time. Touching neighbours do not tell
        either which way leads away from them, so ways all round are tried.
        """
        if group.clear(start, CLEAR):
            return start
        arc = self._radius * math.radians(abs(by - self.by)) + 2.0 * SKIN
        # The way that was free last is so again, more often than not.
        turns = sorted(range(WAYS), key=lambda k: min(k, WAYS - k))
        for far in (1.2 * arc, 2.5 * arc):
            for k in turns:
                way = self._way + 2.0 * math.pi * k / WAYS
                there = start + far * np.array((math.cos(way), math.sin(way)))
                if not group.clear(there, CLEAR):
                    continue
                self._way = way
                back = Hand([group], (float(there[0]), float(there[1])))
                back.move(float(start[0]), float(start[1]))
                return back.at if group.clear(back.at, LEGAL) else there
        return None

    def _go_home(self) -> None:
        """Slide back towards where they were picked up."""
        if not self.shift.any():
            return
        hand = Hand(
            [self._group(self.by)], (float(self.shift[0]), float(self.shift[1]))
        )
        step = hand.move(0.0, 0.0)
        there = np.array((step.x, step.y))
        if hand.groups[0].clear(there, LEGAL) and math.hypot(*there) < math.hypot(
            *self.shift
        ):
            self.shift = there


def least_push(normals: Points, depth: Points) -> Points | None:
    """Return the shortest move that leads far enough along every direction.

    Parameters
    ----------
    normals : ndarray of float64, shape (n, 2)
        Unit vectors.
    depth : ndarray of float64, shape (n,), mm
        How far the move must lead along each at least; may be below 0.

    Returns
    -------
    ndarray of float64, shape (2,), or None
        None when no move does it.
    """
    if (depth <= 0.0).all():
        return np.zeros(2)
    # The shortest one lies on the edge of one condition, or of two.
    alone = normals * depth[:, None]
    i, j = np.triu_indices(len(depth), 1)
    cross = normals[i, 0] * normals[j, 1] - normals[i, 1] * normals[j, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        x = (depth[i] * normals[j, 1] - depth[j] * normals[i, 1]) / cross
        y = (normals[i, 0] * depth[j] - normals[j, 0] * depth[i]) / cross
    both = np.stack([x, y], axis=1)[np.abs(cross) > 1e-6]
    moves = np.concatenate([alone, both])
    good = (moves @ normals.T >= depth - 1e-9).all(axis=1)
    if not good.any():
        return None
    moves = moves[good]
    best: Points = moves[np.argmin(np.hypot(moves[:, 0], moves[:, 1]))]
    return best
