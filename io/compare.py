"""How far two curves are apart; a line is never an arc that looks like one."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from .reread import merged_arcs

Chain = Sequence[Segment]

SPECK = 1e-9
"""Lines shorter than this are nothing, mm."""

NEAR = 1e-3
"""Ends further apart than this are not of the same joint, mm."""


def chain_difference(a: Chain, b: Chain) -> float:
    """Return the greatest distance between corresponding points of two curves, mm.

    Points are ends, centres and control points; radii count as well. A closed curve
    may begin anywhere, and both may run either way.

    Parameters
    ----------
    a, b : sequence of Segment
        Joined segments each.

    Returns
    -------
    float
        Infinity when they are not of the same kinds of segments.
    """
    closed = _closed(a)
    if closed != _closed(b):
        return math.inf
    one, two = _tidy(a, closed), _tidy(b, closed)
    if len(one) != len(two):
        return math.inf
    best = math.inf
    for turned in (two, tuple(segment.reversed() for segment in reversed(two))):
        for shift in range(len(two)) if closed else (0,):
            if best <= SPECK:
                return best
            rolled = turned[shift:] + turned[:shift]
            if len(one) > 1 and math.dist(one[0].start, rolled[0].start) > NEAR:
                continue
            best = min(best, _difference(one, rolled))
    return best


def _closed(chain: Chain) -> bool:
    return math.dist(chain[0].start, chain[-1].end) <= NEAR


def _tidy(chain: Chain, closed: bool) -> tuple[Segment, ...]:
    """Return the chain without specks, neighbouring arcs of one circle made one."""
    kept = [s for s in chain if not (isinstance(s, Line) and s.length() <= SPECK)]
    merged = merged_arcs(kept)
    if closed and len(merged) > 1:
        ends = merged_arcs((merged[-1], merged[0]))
        if len(ends) == 1:
            merged = ends + merged[1:-1]
    return merged


def _difference(a: Chain, b: Chain) -> float:
    return max(
        (_segment_difference(s, t) for s, t in zip(a, b, strict=True)), default=0.0
    )


def _segment_difference(s: Segment, t: Segment) -> float:
    if isinstance(s, Line) and isinstance(t, Line):
        return max(math.dist(s.start, t.start), math.dist(s.end, t.end))
    if isinstance(s, Arc) and isinstance(t, Arc):
        round_ones = max(math.dist(s.centre, t.centre), abs(s.radius - t.radius))
        if s.is_circle and t.is_circle:
            return round_ones
        if (s.sweep > 0.0) != (t.sweep > 0.0) or abs(s.sweep - t.sweep) > 1.0:
            return math.inf
        return max(
            abs(s.radius - t.radius),
            math.dist(s.start, t.start),
            math.dist(s.end, t.end),
            math.dist(s.point_at(0.5), t.point_at(0.5)),
        )
    if isinstance(s, Cubic) and isinstance(t, Cubic):
        return max(
            math.dist(p, q)
            for p, q in zip(
                (s.p0, s.p1, s.p2, s.p3), (t.p0, t.p1, t.p2, t.p3), strict=True
            )
        )
    return math.inf
