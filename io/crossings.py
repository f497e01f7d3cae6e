"""Lines cut where they cross: for outlines drawn with lines that run past corners."""

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
    strokes: Sequence[Stroke], budget: Budget
) -> tuple[list[Stroke], int]:
    """Return the strokes with lines cut where they cross or meet other lines.

    Arcs and cubics stay whole.

    Parameters
    ----------
    strokes : sequence of Stroke
        What was drawn, mm.
    budget : Budget
        Stops the work when it takes too long.

    Returns
    -------
    strokes : list of Stroke
        One for each piece.
    count : int
        How many cuts were made.
    """
    pieces = [(stroke, s) for stroke in strokes for s in stroke.segments]
    lines = [(i, s) for i, (_, s) in enumerate(pieces) if isinstance(s, Line)]
    if len(lines) > MOST:
        return list(strokes), 0
    shapes = shapely.linestrings(np.array([[s.start, s.end] for _, s in lines]))
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes, predicate="dwithin", distance=ROUNDING)
    cuts: dict[int, list[float]] = defaultdict(list)
    for a, b in zip(first.tolist(), second.tolist(), strict=True):
        budget.tick()
        if a == b:
            continue
        t = _cut(lines[a][1], lines[b][1])
        if t is not None:
            cuts[lines[a][0]].append(t)
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


def _pieces(line: Line, cuts: list[float]) -> list[Segment]:
    points = [line.start]
    for t in sorted(cuts):
        at = line.point_at(t)
        if math.dist(points[-1], at) > ROUNDING:
            points.append(at)
    points.append(line.end)
    return [Line(a, b) for a, b in itertools.pairwise(points)]
