"""Stretches of curves, exact: a piece of an arc is an arc, of a Bézier a Bézier."""

from __future__ import annotations

import numpy as np

from .curve import Arc, Cubic, Line, Segment
from .motion import Point


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
