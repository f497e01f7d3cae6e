"""Lines that a drawing program turned into thin filled shapes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from ..nesting.model.outline import bounds_of
from .drawing import Stroke

WIDEST = 1.5
"""No wider band is taken for a line, mm: a router leaves nothing so thin standing."""


def line_width(strokes: Sequence[Stroke]) -> float | None:
    """Return the width of the line that the edges of one filled shape may be, mm.

    One closed chain far longer than wide, or two with one inside the other and the
    same small distance on all sides. None where they look like a true shape.
    """
    if not 1 <= len(strokes) <= 2 or not all(stroke.closed for stroke in strokes):
        return None
    areas = [abs(math.fsum(s.swept_area() for s in t.segments)) for t in strokes]
    rough = [_rough_length(stroke) for stroke in strokes]
    if min(rough) <= 0.0:
        return None
    if len(strokes) == 1:
        width = 2.0 * areas[0] / rough[0]
        return width if width <= WIDEST and rough[0] > 40.0 * width > 0.0 else None
    outer, inner = sorted((0, 1), key=lambda i: -areas[i])
    width = 2.0 * (areas[outer] - areas[inner]) / (rough[0] + rough[1])
    if not 0.0 < width <= WIDEST or rough[inner] < 20.0 * width:
        return None
    a, b = bounds_of(strokes[outer].segments), bounds_of(strokes[inner].segments)
    steps = (b[0] - a[0], b[1] - a[1], a[2] - b[2], a[3] - b[3])
    return width if all(0.5 * width <= s <= 1.6 * width for s in steps) else None


def _rough_length(stroke: Stroke) -> float:
    """Return a length good to a few percent, much cheaper than the exact one."""
    total = 0.0
    for segment in stroke.segments:
        points = [segment.point_at(t / 4.0) for t in range(5)]
        total += math.fsum(math.dist(p, q) for p, q in pairwise(points))
    return total
