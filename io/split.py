"""Pieces of curves, and places along them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable

import numpy as np

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.motion import Point, Points
from ..nesting.model.pieces import piece as piece


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
    controls = np.array([cubic.p0, cubic.p1, cubic.p2, cubic.p3]) - point
    power = _POWERS @ controls
    # The square of the distance has a slope of the fifth degree. Where a curve comes by
    # twice or turns back, several of its roots are least distances.
    slope = np.zeros(6)
    for k in range(4):
        for m in range(1, 4):
            slope[k + m - 1] += m * float(power[k] @ power[m])
    if not np.isfinite(slope).all():
        return 0.0
    roots = np.roots(slope[::-1])
    near = np.abs(roots.imag) < 1e-3  # two roots in one place may come out apart
    found = [0.0, 1.0]
    for root in roots.real[near].tolist():
        t = _polished(power, min(max(root, 0.0), 1.0))
        found.append(min(max(t, 0.0), 1.0))
    return min(found, key=lambda t: math.dist(cubic.point_at(t), point))


def _polished(power: Points, t: float) -> float:
    """Improve a place where the distance to (0, 0) is least, by Newton's steps."""
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = power.tolist()
    for _ in range(4):
        px, py = ((x3 * t + x2) * t + x1) * t + x0, ((y3 * t + y2) * t + y1) * t + y0
        vx, vy = (3.0 * x3 * t + 2.0 * x2) * t + x1, (3.0 * y3 * t + 2.0 * y2) * t + y1
        ax, ay = 6.0 * x3 * t + 2.0 * x2, 6.0 * y3 * t + 2.0 * y2
        bend = vx * vx + vy * vy + px * ax + py * ay
        if bend <= 0.0:
            break
        step = (px * vx + py * vy) / bend
        t -= step
        if abs(step) < 1e-15:
            break
    return t


_POWERS = np.array([[1, 0, 0, 0], [-3, 3, 0, 0], [3, -6, 3, 0], [-1, 3, -3, 1]])
"""From control points to the coefficients of 1, t, t² and t³."""
