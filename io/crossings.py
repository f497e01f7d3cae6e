"""Lines cut where they cross or lie on each other, for outlines drawn carelessly."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from ..nesting.model.curve import Line, Segment
from .chain import ROUNDING
from .drawing import Stroke
from .limits import Budget

MOST = 5000
"""Drawings with more lines than this are left as they are."""


def cut_at_crossings(
    strokes: Sequence[Stroke], budget: Budget, overlaps: bool = False
) -> tuple[list[Stroke], int]:
    """Return the strokes with lines cut where they cross or meet other lines.

    Lines that lie on each other are cut at each other's ends, so that the shared
    stretch is drawn twice and can be read once. Arcs and cubics stay whole.

    Parameters
    ----------
    strokes : sequence of Stroke
        What was drawn, mm.
    budget : Budget
        Stops the work when it takes too long.
    overlaps : bool
        Cut only where lines lie on each other.

    Returns
    -------
    strokes : list of Stroke
        One for each piece.
    count : int
        How many cuts were made.
    """
    pieces = [(stroke, s) for stroke in strokes for s in stroke.segments]
    lines = [(i, s) for i, (_, s) in enumerate(pieces) if isinstance(s, Line)]
    if not 1 < len(lines) <= MOST:
        return list(strokes), 0
    shapes = shapely.linestrings(np.array([[s.start, s.end] for _, s in lines]))
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes, predicate="dwithin", distance=ROUNDING)
    cuts: dict[int, list[float]] = defaultdict(list)
    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        budget.tick()
        if a == b:
            continue
        one, other = lines[a][1], lines[b][1]
        if not overlaps and (t := _cut(one, other)) is not None:
            cuts[lines[a][0]].append(t)
        cuts[lines[a][0]] += _overlap(one, other)
    out: list[Stroke] = []
    count = 0
    for i, (stroke, segment) in enumerate(pieces):
        parts = _pieces(segment, cuts[i]) if isinstance(segment, Line) else [segment]
        count += len(parts) - 1
        out += [replace(stroke, segments=(part,), closed=False) for part in parts]
    return out, count


def _cut(a: Line, b: Line) -> float | None:
    """Return where on `a`, as a parameter, `b` crosses or ends on it."""
    (x1, y1), (x2, y2), (x3, y3), (x4, y4) = a.start, a.end, b.start, b.end
    ux, uy, vx, vy = x2 - x1, y2 - y1, x4 - x3, y4 - y3
    length, other = math.hypot(ux, uy), math.hypot(vx, vy)
    cross = ux * vy - uy * vx
    if abs(cross) < 1e-9 * length * other:
        return None
    t = ((x3 - x1) * vy - (y3 - y1) * vx) / cross
    u = ((x3 - x1) * uy - (y3 - y1) * ux) / cross
    slack = 2.0 * ROUNDING
    inside = ROUNDING < t * length < length - ROUNDING
    meets = -slack <= u * other <= other + slack
    return t if inside and meets else None


def _overlap(a: Line, b: Line) -> list[float]:
    """Return where on `a`, as parameters, a line that lies on it begins and ends."""
    (x1, y1), (x2, y2) = a.start, a.end
    length = a.length()
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    along = [(x - x1) * ux + (y - y1) * uy for x, y in (b.start, b.end)]
    aside = [(y - y1) * ux - (x - x1) * uy for x, y in (b.start, b.end)]
    if max(map(abs, aside)) > ROUNDING or abs(along[0] - along[1]) < ROUNDING:
        return []
    if min(max(along), length) - max(min(along), 0.0) <= ROUNDING:
        return []  # they follow one another and share a point at most
    return [s / length for s in along if ROUNDING < s < length - ROUNDING]


def _pieces(line: Line, cuts: list[float]) -> list[Segment]:
    points = [line.start]
    for t in sorted(cuts):
        at = line.point_at(t)
        if math.dist(points[-1], at) > ROUNDING:
            points.append(at)
    points.append(line.end)
    return [Line(a, b) for a, b in itertools.pairwise(points)]
