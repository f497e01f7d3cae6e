"""Cutter paths as moves: how long each is, how it bends, which way it points.

A move keeps what the time of a path depends on and nothing else, so lines, arcs
and Béziers of a true outline need no flattening.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..model.curve import Arc, Cubic, Line, Segment

_CUBIC_PIECES = 16
_STRAIGHT = math.radians(0.01)
"""A join that turns less than this has no corner."""


@dataclass(frozen=True, slots=True)
class Move:
    """One stretch of path with one radius.

    Parameters
    ----------
    length : float
        mm.
    radius : float
        Radius of its bend, mm; infinite for a straight move.
    start, end : float
        Directions at its ends, radians.
    """

    length: float
    radius: float
    start: float
    end: float


def _turned(before: float, after: float) -> float:
    """Return the turn from one direction to another, left positive, -pi to pi."""
    return math.remainder(after - before, 2.0 * math.pi)


def moves_of(segments: Sequence[Segment], offset: float = 0.0) -> list[Move]:
    """Return the moves along a chain, `offset` mm to the right of it.

    To the right of an outline's loops lies the waste: outer loops run
    counter-clockwise and holes clockwise. A parallel curve is longer by the
    offset times the angle it turns through; a bend tighter than the offset has
    no parallel and vanishes. Joins are not closed here; see `offset_moves`.
    """
    found: list[Move] = []
    for segment in segments:
        if isinstance(segment, Line):
            found += _line(segment)
        elif isinstance(segment, Arc):
            found += _arc(segment, offset)
        else:
            found += _cubic(segment, offset)
    return found


def _line(line: Line) -> list[Move]:
    (x0, y0), (x1, y1) = line.start, line.end
    length = line.length()
    if length == 0.0:
        return []
    direction = math.atan2(y1 - y0, x1 - x0)
    return [Move(length, math.inf, direction, direction)]


def _arc(arc: Arc, offset: float) -> list[Move]:
    turn = math.radians(arc.sweep)
    sign = math.copysign(1.0, turn)
    radius = max(arc.radius + sign * offset, 0.0)
    start = math.radians(arc.start_angle) + sign * math.pi / 2.0
    return [Move(radius * abs(turn), radius, start, start + turn)]


def _cubic(cubic: Cubic, offset: float) -> list[Move]:
    """Cut a Bézier into pieces of equal parameter, each taken as an arc."""
    p = np.array([cubic.p0, cubic.p1, cubic.p2, cubic.p3])
    if not np.ptp(p, axis=0).any():
        return []
    t = np.linspace(0.0, 1.0, _CUBIC_PIECES + 1)[:, None]
    s = 1.0 - t
    points = s**3 * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t**3 * p[3]
    d = np.diff(p, axis=0)
    tangent = s * s * d[0] + 2 * s * t * d[1] + t * t * d[2]
    steps = np.diff(points, axis=0)
    # A control point on an end has no tangent there: the chord stands in.
    tangent[0] = tangent[0] if tangent[0].any() else steps[0]
    tangent[-1] = tangent[-1] if tangent[-1].any() else steps[-1]
    angle = np.arctan2(tangent[:, 1], tangent[:, 0])
    found = []
    for i, (x, y) in enumerate(steps):
        chord = math.hypot(x, y)
        turn = _turned(float(angle[i]), float(angle[i + 1]))
        # The arc that has this chord and this turn.
        half = abs(turn) / 2.0
        length = chord * half / math.sin(half) if half > 1e-9 else chord
        length = max(length + offset * turn, 0.0)
        radius = length / abs(turn) if abs(turn) > 1e-9 else math.inf
        start = float(angle[i])
        found.append(Move(length, radius, start, start + turn))
    return found


def offset_moves(segments: Sequence[Segment], offset: float) -> list[Move]:
    """Return the closed path `offset` mm to the right of a loop.

    Where the loop turns away from the cutter the path goes round the corner on an
    arc of radius `offset`; where it turns towards it the two neighbours are cut
    back by ``offset * tan(turn / 2)``, which is exact between lines. Empty when
    the cutter fits nowhere.

    The length for a convex loop is its length plus ``2 pi offset`` (Steiner's
    formula).
    """
    moves = moves_of(segments, offset)
    closed: list[Move] = []
    cut = [0.0] * len(moves)
    corners: list[Move | None] = []
    for i, move in enumerate(moves):
        j = (i + 1) % len(moves)
        turn = _turned(move.end, moves[j].start)
        corner = None
        if turn > _STRAIGHT and offset > 0.0:
            corner = Move(offset * turn, offset, move.end, move.end + turn)
        elif turn < -_STRAIGHT and offset > 0.0:
            back = offset * math.tan(min(-turn, math.pi - 1e-6) / 2.0)
            cut[i] += back
            cut[j] += back
        corners.append(corner)
    for move, back, corner in zip(moves, cut, corners, strict=True):
        length = max(move.length - back, 0.0)
        if length > 0.0:
            closed.append(replace(move, length=length))
        if corner is not None:
            closed.append(corner)
    return closed


def path_length(moves: Sequence[Move]) -> float:
    """Return the length of a path, mm."""
    return math.fsum(move.length for move in moves)
