"""Relief of inside corners, so that a square corner fits where a cutter is round.

A dog-bone is a circle on the bisector, a T-bone one on a wall; both pass through
the corner. The geometry is elementary: with V the corner, u and w the directions
along its walls, b their bisector into the opening and r the circle's radius, the
centres are V + r b and V + r u.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from ..model.curve import Arc, Line, Segment
from ..model.motion import Point
from ..model.outline import Loop, Outline
from ..model.part import Mark, Operation, Part
from .path import moves_of

_SHARP = math.radians(2.0)
"""A corner turns at least this much."""

_SQUARE = math.radians(1.0)


class ReliefKind(StrEnum):
    """Where the relief lies."""

    DOG_BONE = "dog-bone"
    T_BONE = "T-bone"


@dataclass(frozen=True)
class Relief:
    """What relieving did.

    Parameters
    ----------
    part : Part
        The part with its corners relieved.
    done : tuple of Point
        Corners relieved, in the part's coordinates, mm.
    left : tuple of Point
        Inside corners left as they are: walls too short, or not straight.
    """

    part: Part
    done: tuple[Point, ...]
    left: tuple[Point, ...]


def inside_corners(segments: Sequence[Segment]) -> list[tuple[int, float]]:
    """Return the corners a cutter on the right of a closed chain cannot clear.

    Each is the index of the segment that ends there, and its opening angle in
    radians, 0 to pi.
    """
    found = []
    for i, segment in enumerate(segments):
        after = segments[(i + 1) % len(segments)]
        before_moves, after_moves = moves_of([segment]), moves_of([after])
        if not before_moves or not after_moves:
            continue
        turn = math.remainder(
            after_moves[0].start - before_moves[-1].end, 2.0 * math.pi
        )
        if turn < -_SHARP:
            found.append((i, math.pi + turn))
    return found


def relieved_loop(
    loop: Loop, radius: float, kind: ReliefKind = ReliefKind.DOG_BONE
) -> tuple[Loop, list[Point], list[Point]]:
    """Return a loop with its inside corners relieved, and the corners done and left.

    Parameters
    ----------
    loop : Loop
        The waste lies on its right, as with the loops of an outline.
    radius : float
        mm, at least the cutter's.
    """
    segments = list(loop.segments)
    start_cut = [0.0] * len(segments)
    end_cut = [0.0] * len(segments)
    arcs: dict[int, Arc] = {}
    done: list[Point] = []
    left: list[Point] = []
    for i, opening in inside_corners(segments):
        j = (i + 1) % len(segments)
        before, after = segments[i], segments[j]
        corner = before.end
        if not (isinstance(before, Line) and isinstance(after, Line)):
            left.append(corner)
            continue
        square = abs(opening - math.pi / 2.0) < _SQUARE
        if kind is ReliefKind.T_BONE and square:
            on_before = before.length() >= after.length()
            back = 2.0 * radius if on_before else 0.0
            ahead = 0.0 if on_before else 2.0 * radius
        else:
            back = ahead = 2.0 * radius * math.cos(opening / 2.0)
        room_before = before.length() - start_cut[i] - end_cut[i]
        room_after = after.length() - start_cut[j] - end_cut[j]
        if back >= room_before or ahead >= room_after:
            left.append(corner)
            continue
        arcs[i] = _relief_arc(before, after, corner, radius, opening, back, ahead)
        end_cut[i] += back
        start_cut[j] += ahead
        done.append(corner)
    if not done:
        return loop, done, left
    result: list[Segment] = []
    for i, segment in enumerate(segments):
        if isinstance(segment, Line) and (start_cut[i] or end_cut[i]):
            length = segment.length()
            segment = Line(
                segment.point_at(start_cut[i] / length),
                segment.point_at(1.0 - end_cut[i] / length),
            )
        result.append(segment)
        if i in arcs:
            result.append(arcs[i])
    return Loop(tuple(result)), done, left


def _relief_arc(
    before: Line,
    after: Line,
    corner: Point,
    radius: float,
    opening: float,
    back: float,
    ahead: float,
) -> Arc:
    """Return the arc from `back` before the corner to `ahead` after it."""
    ux, uy = _direction(before.end, before.start)
    wx, wy = _direction(after.start, after.end)
    if back == 0.0 or ahead == 0.0:  # T-bone: the centre lies on a wall
        x, y = (wx, wy) if ahead else (ux, uy)
        sweep = -180.0
    else:
        bx, by = ux + wx, uy + wy
        length = math.hypot(bx, by)
        x, y = bx / length, by / length
        sweep = -2.0 * (180.0 - math.degrees(opening))
    centre = (corner[0] + radius * x, corner[1] + radius * y)
    first = (corner[0] + back * ux, corner[1] + back * uy)
    angle = math.degrees(math.atan2(first[1] - centre[1], first[0] - centre[0]))
    return Arc(centre, radius, angle, sweep)


def _direction(start: Point, end: Point) -> Point:
    length = math.dist(start, end)
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length


def relieve(
    part: Part,
    cutter: float,
    kind: ReliefKind = ReliefKind.DOG_BONE,
    *,
    outside: bool = True,
) -> Relief:
    """Return a part with relief at its inside corners, as true arcs.

    Parameters
    ----------
    cutter : float
        Cut width, mm; the relief's radius is half of it.
    outside : bool
        Whether inside corners of the outer edge are relieved too, not only those
        of holes and pockets.
    """
    radius = cutter / 2.0
    done: list[Point] = []
    left: list[Point] = []

    def mended(loop: Loop) -> Loop:
        new, here, not_here = relieved_loop(loop, radius, kind)
        done.extend(here)
        left.extend(not_here)
        return new

    outer = mended(part.outline.outer) if outside else part.outline.outer
    holes = tuple(mended(hole) for hole in part.outline.holes)
    marks = tuple(
        Mark(
            mark.operation,
            mended(Loop(mark.segments).oriented(False)).segments,
            mark.name,
        )
        if mark.operation is Operation.POCKET and mark.closed
        else mark
        for mark in part.marks
    )
    if done:
        part = replace(part, outline=Outline(outer, holes), marks=marks)
    return Relief(part, tuple(done), tuple(left))
