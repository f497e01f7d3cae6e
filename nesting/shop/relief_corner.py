"""The relief of one corner: where its circle lies, and what it takes off the walls.

With V the corner, u and w the directions of its walls there, b their bisector into
the opening and r the radius, the circles are V + r b (dog-bone) and V + r u or
V + r w (T-bone); each passes through V (elementary geometry). A cutter comes to a
dog-bone along the bisector. Where the opening is narrower than the cutter there, in
corners below 90 degrees, it takes a lane as wide as itself off the walls: they are cut
back to r / sin(a / 2) from the corner, a the angle between them. Curved walls count
with their tangents at the corner, and are cut back to where they leave circle and lane.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from ..model.curve import Arc, Line, Segment
from ..model.holding import ReliefKind
from ..model.motion import Point
from .path import moves_of

SHARPEST = math.radians(30.0)
"""Sharper corners are not relieved: the lane would reach four radii into the part."""

_SQUARE = math.radians(1.0)
"""A corner this near to a right angle takes a T-bone where one is asked for."""

_STEPS = 24
"""Looks at a curved wall for each radius of length, before the crossing is refined."""

_MOST_STEPS = 4096

_TOUCH = 1e-9
"""A wall that enters a circle by less than this share of its radius only touches it."""

_BESIDE = 0.02
"""A wall may stand in a cutter's way by this share of its radius."""


@dataclass(frozen=True, slots=True)
class CornerRelief:
    """A relief of a corner.

    Parameters
    ----------
    edge : tuple of Segment
        What joins the wall before the corner to the wall after it: an arc through
        the corner, with a straight piece at its ends where the cutter takes a lane.
    back, ahead : float
        What it takes off the end of the wall before and the beginning of the wall
        after, as shares of their parameters, 0 to 1.
    kind : ReliefKind
        What it is.
    """

    edge: tuple[Segment, ...]
    back: float
    ahead: float
    kind: ReliefKind


@dataclass(frozen=True, slots=True)
class _Circle:
    """A circle through the corner, and the way from it into the opening."""

    centre: Point
    axis: Point
    radius: float

    def beside(self, point: Point) -> tuple[float, float]:
        """Return how far a point lies along the axis and to the left of it, mm."""
        x, y = point[0] - self.centre[0], point[1] - self.centre[1]
        ax, ay = self.axis
        return x * ax + y * ay, ax * y - ay * x

    def side(self, left: bool) -> Point:
        """Return the point of the circle at one side of the lane."""
        r = self.radius if left else -self.radius
        return self.centre[0] - r * self.axis[1], self.centre[1] + r * self.axis[0]


def corner_reliefs(
    before: Segment, after: Segment, radius: float, kind: ReliefKind
) -> Iterator[CornerRelief]:
    """Yield reliefs of the corner where two walls meet, the one asked for first.

    A dog-bone that finds no room gives way to a T-bone and the other way round. A
    T-bone lies on the longer wall first, and in no corner below a right angle.

    Parameters
    ----------
    before, after : Segment
        The walls; the waste lies on their right.
    radius : float
        Of the circle, mm.
    """
    back = before.reversed()
    u, w = _direction(back), _direction(after)
    if u is None or w is None:
        return
    opening = math.acos(max(-1.0, min(1.0, u[0] * w[0] + u[1] * w[1])))
    if not SHARPEST <= opening < math.pi - 1e-3:
        return
    dog_bone = (_unit((u[0] + w[0], u[1] + w[1])),) * 2
    ways = [(ReliefKind.DOG_BONE, *dog_bone)]
    if opening >= math.pi / 2.0 - _SQUARE:
        first = before.length() >= after.length()
        for wall, other in ((u, w), (w, u)) if first else ((w, u), (u, w)):
            dot = wall[0] * other[0] + wall[1] * other[1]
            across = _unit((other[0] - dot * wall[0], other[1] - dot * wall[1]))
            ways.append((ReliefKind.T_BONE, wall, across))
    if wanted_at(kind, opening) is ReliefKind.T_BONE:
        ways = [*ways[1:], ways[0]]
    x, y = after.start
    for made, towards, axis in ways:
        centre = (x + radius * towards[0], y + radius * towards[1])
        circle = _Circle(centre, axis, radius)
        leave = _leave_lane if made is ReliefKind.DOG_BONE else _leave_circle
        cut_back, cut_ahead = leave(back, circle), leave(after, circle)
        if cut_back is None or cut_ahead is None or not (cut_back or cut_ahead):
            continue
        edge = _edge(back.point_at(cut_back), after.point_at(cut_ahead), circle)
        yield CornerRelief(edge, cut_back, cut_ahead, made)


def wanted_at(kind: ReliefKind, opening: float) -> ReliefKind:
    """Return the relief that is wanted at a corner of this opening, radians."""
    square = abs(opening - math.pi / 2.0) < _SQUARE
    return kind if square else ReliefKind.DOG_BONE


def _direction(wall: Segment) -> Point | None:
    """Return the direction of a wall where it begins; None for a wall of no length."""
    moves = moves_of([wall])
    return (math.cos(moves[0].start), math.sin(moves[0].start)) if moves else None


def _unit(vector: Point) -> Point:
    length = math.hypot(*vector)
    return vector[0] / length, vector[1] / length


def _edge(first: Point, last: Point, circle: _Circle) -> tuple[Segment, ...]:
    """Return the edge from one wall to the other, clockwise round the circle."""
    ends = []
    for point in (first, last):
        along, left = circle.beside(point)
        r = circle.radius
        in_lane = along > _TOUCH * r and abs(abs(left) - r) < 1e-6 * r
        ends.append(circle.side(left > 0.0) if in_lane else point)
    x, y = circle.centre
    start, end = (math.degrees(math.atan2(p[1] - y, p[0] - x)) for p in ends)
    arc = Arc(circle.centre, circle.radius, start, -((start - end) % 360.0))
    lines = [Line(first, ends[0]), Line(ends[1], last)]
    into, out = (line if line.length() > 0.0 else None for line in lines)
    return tuple(part for part in (into, arc, out) if part is not None)


def _leave_lane(wall: Segment, circle: _Circle) -> float | None:
    """Return the parameter at which a wall leaves circle and lane; None if never."""
    radius = circle.radius
    if isinstance(wall, Line):
        ax, ay = circle.axis
        length = wall.length()
        dx = (wall.end[0] - wall.start[0]) / length
        dy = (wall.end[1] - wall.start[1]) / length
        cos, sin = ax * dx + ay * dy, abs(ax * dy - ay * dx)
        away = 2.0 * radius * cos if cos <= sin else radius / sin
        return away / length if away < length else None

    def outside(t: float) -> bool:
        along, left = circle.beside(wall.point_at(t))
        away = abs(left) if along > 0.0 else math.hypot(along, left)
        return away > radius * (1.0 + _TOUCH)

    return _crossing(wall, outside, radius)


def _leave_circle(wall: Segment, circle: _Circle) -> float | None:
    """Return the parameter at which a wall leaves a circle; None if never.

    None too for a wall that stands in the way of a cutter on its way there.
    """
    radius = circle.radius
    x, y = wall.start
    to_centre = (circle.centre[0] - x, circle.centre[1] - y)
    way = _direction(wall)
    assert way is not None  # it has a length
    chord = 2.0 * (to_centre[0] * way[0] + to_centre[1] * way[1])
    enters = chord > 2.0 * _TOUCH * radius
    if isinstance(wall, Line):
        length = wall.length()
        if not enters:
            return 0.0
        return chord / length if chord < length else None

    def outside(t: float) -> bool:
        return math.dist(wall.point_at(t), circle.centre) > radius * (1.0 + _TOUCH)

    for k in range(1, _looks(wall, radius) + 1):
        along, left = circle.beside(wall.point_at(k / _looks(wall, radius)))
        if 0.0 < along < 2.0 * radius and abs(left) < radius * (1.0 - _BESIDE):
            return None
    if not enters and outside(1.0 / _looks(wall, radius)):
        return 0.0
    return _crossing(wall, outside, radius)


def _looks(wall: Segment, radius: float) -> int:
    return min(max(math.ceil(_STEPS * wall.length() / radius), 8), _MOST_STEPS)


def _crossing(
    wall: Segment, outside: Callable[[float], bool], radius: float
) -> float | None:
    """Return the first parameter from which a wall is outside; None if it never is."""
    count = _looks(wall, radius)
    high = next((k / count for k in range(1, count + 1) if outside(k / count)), None)
    if high is None:
        return None
    low = high - 1.0 / count
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (low, middle) if outside(middle) else (middle, high)
    return (low + high) / 2.0
