"""Pieces of curves, and places along them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

import numpy as np

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.motion import Point
from ..nesting.model.pieces import piece as piece

_SAMPLES = 64
"""So many points of a cubic are looked at before the nearest one is refined."""


def pieces(segment: Segment, cuts: Iterable[float], least: float) -> list[Segment]:
    """Return a curve cut at parameters; pieces shorter than `least` (mm) are not cut.

    Neighbouring pieces meet to the last bit or nearly so.
    """
    length = segment.length()
    at = [0.0]
    for t in sorted(cuts):
        if (t - at[-1]) * length > least and (1.0 - t) * length > least:
            at.append(t)
    return [piece(segment, a, b) for a, b in itertools.pairwise([*at, 1.0])]


def nearest(segment: Segment, point: Point) -> tuple[float, float]:
    """Return where on a curve, as a parameter, and how near (mm) it passes a point."""
    if isinstance(segment, Line):
        (x0, y0), (x1, y1) = segment.start, segment.end
        dx, dy = x1 - x0, y1 - y0
        squared = dx * dx + dy * dy
        along = (point[0] - x0) * dx + (point[1] - y0) * dy
        t = min(max(along / squared, 0.0), 1.0) if squared else 0.0
    elif isinstance(segment, Arc):
        t = _on_arc(segment, point)
    else:
        t = _on_cubic(segment, point)
    return t, math.dist(segment.point_at(t), point)


def _on_arc(arc: Arc, point: Point) -> float:
    dx, dy = point[0] - arc.centre[0], point[1] - arc.centre[1]
    if dx == dy == 0.0:
        return 0.0
    turned = math.degrees(math.atan2(dy, dx)) - arc.start_angle
    t = (turned if arc.sweep > 0.0 else -turned) % 360.0 / abs(arc.sweep)
    if t <= 1.0:
        return t
    ends = (math.dist(arc.start, point), math.dist(arc.end, point))
    return 0.0 if ends[0] <= ends[1] else 1.0


def _on_cubic(cubic: Cubic, point: Point) -> float:
    ts = np.linspace(0.0, 1.0, _SAMPLES + 1)
    points = np.array([cubic.point_at(float(t)) for t in ts])
    best = int(np.hypot(*(points - point).T).argmin())
    low, high = ts[max(best - 1, 0)], ts[min(best + 1, _SAMPLES)]

    def away(t: float) -> float:
        return math.dist(cubic.point_at(t), point)

    # Golden section: the distance has one least value between the neighbours.
    share = (math.sqrt(5.0) - 1.0) / 2.0
    a, b = float(low), float(high)
    for _ in range(60):
        c, d = b - share * (b - a), a + share * (b - a)
        if away(c) < away(d):
            b = d
        else:
            a = c
    return (a + b) / 2.0
