"""Closed chains that cross, touch or retrace themselves, taken apart.

The chain is cut where it meets itself and walked once round; whenever the walk
comes back to a place, the way since then is a ring of its own.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..nesting.model.curve import Line, Segment
from ..nesting.model.motion import Point
from ..nesting.model.outline import bounds_of, flatten_chain
from .chain import ROUNDING, nodes
from .crossings import find_cuts
from .limits import Budget
from .split import pieces

TAIL = 2.0
"""A ring up to this size at a join is a slip of the drawing program, mm ..."""

TAIL_SHARE = 0.01
"""... if its area is no more than this share of the largest ring's."""

LEAST_SPUR = 0.05
"""Ways out and back shorter than this are rounding noise, mm."""

_NEAR = 0.02
"""Rings this near to each other everywhere are one, mm."""

_CHORD = 0.01
"""Chord error of the polygons that rings are compared as, mm."""


@dataclass(frozen=True, slots=True)
class Untangled:
    """What a chain that meets itself comes to.

    Parameters
    ----------
    rings : tuple of tuple of Segment
        Closed chains that do not meet themselves, the largest first.
    tails : tuple of Point
        Where tiny rings were taken out.
    spurs : tuple of Point
        Where it ran out and back along the same way, which was taken out.
    doubles : tuple of Point
        Where a ring was run through once more, which was taken out.
    meets : tuple of Point
        Where the rings that stay meet.
    clear : bool
        Whether the rings lie apart from each other or are holes of each other, so
        that it is clear what they enclose.
    """

    rings: tuple[tuple[Segment, ...], ...]
    tails: tuple[Point, ...]
    spurs: tuple[Point, ...]
    doubles: tuple[Point, ...]
    meets: tuple[Point, ...]
    clear: bool


def untangle(segments: Sequence[Segment], budget: Budget) -> Untangled | None:
    """Return a closed chain taken apart where it meets itself.

    None if it is too long to be looked at.

    Parameters
    ----------
    segments : sequence of Segment
        Each begins where the last one ended, mm.
    budget : Budget
        Stops the work when it takes too long.
    """
    cuts = find_cuts(segments, budget)
    if cuts is None:
        return None
    parts = [
        part
        for i, segment in enumerate(segments)
        for part in pieces(segment, cuts.get(i, ()), ROUNDING)
    ]
    rings = _rings(parts)
    measured = sorted(
        ((_area(ring), ring) for ring in rings), key=lambda item: -abs(item[0])
    )
    largest = abs(measured[0][0]) if measured else 0.0
    kept: list[tuple[float, tuple[Segment, ...]]] = []
    doubles: list[Point] = []
    tails: list[Point] = []
    spurs: list[Point] = []
    for area, ring in measured:
        x0, y0, x1, y1 = bounds_of(ring)
        size = max(x1 - x0, y1 - y0)
        if abs(area) <= ROUNDING * sum(s.length() for s in ring):
            if size > LEAST_SPUR:
                spurs.append(ring[0].start)
        elif size <= TAIL and abs(area) <= TAIL_SHARE * largest:
            tails.append(ring[0].start)
        elif any(_same(other, ring) for _, other in kept):
            doubles.append(ring[0].start)
        else:
            kept.append((area, ring))
    return Untangled(
        tuple(ring for _, ring in kept),
        tuple(tails),
        tuple(spurs),
        tuple(doubles),
        tuple(ring[0].start for _, ring in kept[1:]),
        _clear(kept),
    )


def _rings(parts: Sequence[Segment]) -> list[tuple[Segment, ...]]:
    """Cut a closed walk into rings that pass each place once.

    Each begins where it meets another one, if any does.
    """
    labels = nodes(np.array([part.start for part in parts]), 2.0 * ROUNDING).tolist()
    passed = Counter(labels)
    first = next((i for i, label in enumerate(labels) if passed[label] > 1), 0)
    parts = [*parts[first:], *parts[:first]]
    labels = [*labels[first:], *labels[:first]]
    out: list[tuple[Segment, ...]] = []
    stack: list[int] = []
    depth: dict[int, int] = {}
    for i in range(len(parts)):
        depth[labels[i]] = len(stack)
        stack.append(i)
        end = labels[(i + 1) % len(parts)]
        if end in depth:
            at = depth[end]
            out.append(tuple(parts[k] for k in stack[at:]))
            for k in stack[at:]:
                del depth[labels[k]]
            del stack[at:]
    return out


def _area(ring: Sequence[Segment]) -> float:
    """Return the signed area a ring encloses, mm², steps between its ends included."""
    after = (*ring[1:], ring[0])
    steps = (Line(a.end, b.start) for a, b in zip(ring, after, strict=True))
    return math.fsum(s.swept_area() for s in (*ring, *steps))


def _same(a: Sequence[Segment], b: Sequence[Segment]) -> bool:
    """Return whether two rings enclose the same."""
    if max(abs(p - q) for p, q in zip(bounds_of(a), bounds_of(b), strict=True)) > _NEAR:
        return False
    one, other = (_polygon(r).buffer(0.0) for r in (a, b))
    return bool(one.symmetric_difference(other).area <= _NEAR * one.length)


def _polygon(ring: Sequence[Segment]) -> shapely.Polygon:
    """Return a ring as a polygon; empty where it is too small to have corners."""
    points = flatten_chain(ring, _CHORD)
    return shapely.Polygon(points) if len(points) >= 3 else shapely.Polygon()


def _clear(rings: Sequence[tuple[float, tuple[Segment, ...]]]) -> bool:
    polygons = []
    for _, ring in rings:
        polygon = _polygon(ring)
        if not polygon.is_valid:
            polygon = polygon.buffer(0.0)
        polygons.append(polygon)
    if len(polygons) < 2:  # shapely refuses to search among none
        return True
    tree = shapely.STRtree(polygons)
    a, b = tree.query(polygons, predicate="intersects")
    for i, j in zip(a.tolist(), b.tolist(), strict=True):
        if i >= j:
            continue
        slack = 2.0 * _CHORD * min(polygons[i].length, polygons[j].length)
        shared = polygons[i].intersection(polygons[j]).area
        # A ring within another one is its hole if it runs the other way.
        hole = rings[i][0] * rings[j][0] < 0.0 and shared >= polygons[j].area - slack
        if shared > slack and not hole:
            return False
    return True
