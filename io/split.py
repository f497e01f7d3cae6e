"""Pieces of curves, and places along them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

import numpy as np

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.motion import Point

_SAMPLES = 64
"""So many points of a cubic are looked at before the nearest one is refined."""


def piece(segment: Segment, t0: float, t1: float) -> Segment:
    """Return the stretch of a curve between two parameters; its kind stays.

    Parameters
    ----------
    segment : Segment
        The curve.
    t0, t1 : float
        Parameters from 0 to 1, `t0` the smaller one.
    """
    if t0 <= 0.0 and t1 >= 1.0:
        return segment
    if isinstance(segment, Line):
        return Line(segment.point_at(t0), segment.point_at(t1))
    if isinstance(segment, Arc):
        first = segment.start_angle + t0 * segment.sweep
        return Arc(segment.centre, segment.radius, first, (t1 - t0) * segment.sweep)
    p = np.array([segment.p0, segment.p1, segment.p2, segment.p3])
    # The control points are the curve's blossom at the two ends, mixed.
    mixed = [(t0, t0, t0), (t0, t0, t1), (t0, t1, t1), (t1, t1, t1)]
    c = [_blossom(p, *ts) for ts in mixed]
    return Cubic(c[0], c[1], c[2], c[3])


def _blossom(p: np.ndarray, a: float, b: float, c: float) -> Point:
    for t in (a, b, c):
        p = (1.0 - t) * p[:-1] + t * p[1:]
    return float(p[0][0]), float(p[0][1])


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
