"""Where curves cross, meet or lie on each other; arcs and cubics stay what they are."""

from __future__ import annotations

import itertools
import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from ..nesting.model.curve import Arc, Line, Segment
from ..nesting.model.motion import Point, Points
from .chain import ROUNDING
from .drawing import Stroke
from .limits import Budget
from .split import nearest, pieces

MOST = 5000
"""More segments than this are left as they are."""

MOST_PAIRS = 50_000
"""So are those in which more pairs of segments come near each other."""

MOST_BOXES = 500_000
"""So are those in which the boxes of more pairs overlap."""

MOST_HITS = 64
"""Crossings of chords of two curves above which the curves run along each other."""

APART = 8
"""Chords between two stretches along which curves run along each other."""

_Indices = NDArray[np.int64]

_CHORD = 0.02
"""Chord error of the lines that near pairs are searched with, mm."""


def cut_at_crossings(
    strokes: Sequence[Stroke], budget: Budget, overlaps: bool = False
) -> tuple[list[Stroke], int]:
    """Return the strokes with curves cut where they cross or meet other curves.

    Curves that lie on each other are cut at each other's ends, so that the shared
    stretch is drawn twice and can be read once.

    Parameters
    ----------
    strokes : sequence of Stroke
        What was drawn, mm.
    budget : Budget
        Stops the work when it takes too long.
    overlaps : bool
        Cut only where curves lie on each other.

    Returns
    -------
    strokes : list of Stroke
        One for each piece.
    count : int
        How many cuts were made.
    """
    drawn = [(stroke, s) for stroke in strokes for s in stroke.segments]
    cuts = find_cuts([s for _, s in drawn], budget, overlaps)
    if not cuts:
        return list(strokes), 0
    out: list[Stroke] = []
    for i, (stroke, segment) in enumerate(drawn):
        parts = pieces(segment, cuts.get(i, ()), ROUNDING)
        out += [replace(stroke, segments=(part,), closed=False) for part in parts]
    return out, len(out) - len(drawn)


def find_cuts(
    segments: Sequence[Segment], budget: Budget, overlaps: bool = False
) -> dict[int, list[float]] | None:
    """Return for segments, by index, the parameters at which others cross or meet.

    Ends of the segments themselves are not among them. None if there are too many.

    Parameters
    ----------
    segments : sequence of Segment
        Curves, mm.
    budget : Budget
        Stops the work when it takes too long.
    overlaps : bool
        Only where curves lie on each other.
    """
    if len(segments) < 2:
        return {}
    if len(segments) > MOST:
        return None
    pairs = near_pairs([s.flatten(_CHORD) for s in segments], 2.0 * _CHORD + ROUNDING)
    if pairs is None or len(pairs) > MOST_PAIRS:
        return None
    cuts: dict[int, list[float]] = defaultdict(list)
    lengths: dict[int, float] = {}
    for i, j in pairs.tolist():
        budget.tick()
        if i == j:
            continue
        a, b = segments[i], segments[j]
        if i not in lengths:
            lengths[i] = a.length()
        length = lengths[i]
        if overlaps:
            found = _overlap(a, b, length)
        else:
            found = [*_crossings(a, b), *_ends_on(a, b)]
        inside = [t for t in found if ROUNDING < t * length < length - ROUNDING]
        if inside:
            cuts[i] += inside
    return dict(cuts)


def near_pairs(lines: Sequence[Points], reach: float) -> NDArray[np.intp] | None:
    """Return which of some lines come near each other, both ways round.

    Parameters
    ----------
    lines : sequence of ndarray, shape (n, 2), mm
        Points along each.
    reach : float
        How near, mm.

    Returns
    -------
    ndarray of int, shape (k, 2), or None
        Pairs of indices; a line is near itself too. None where so many lie about
        each other that looking at all would take too long.
    """
    shapes = np.array([shapely.LineString(line) for line in lines])
    low, high = np.split(shapely.bounds(shapes), 2, axis=1)
    boxes = shapely.box(*(low - reach).T, *(high + reach).T)
    first, second = shapely.STRtree(boxes).query(boxes)
    if len(first) > MOST_BOXES:
        return None
    shapely.prepare(shapes)
    # GEOS divides by the length of lines that have next to none.
    with np.errstate(divide="ignore", invalid="ignore"):
        near = shapely.dwithin(shapes[first], shapes[second], reach)
    return np.stack([first[near], second[near]], axis=1)


def _ends_on(a: Segment, b: Segment) -> list[float]:
    """Return where on `a` the ends of `b` lie."""
    return [t for t, away in (nearest(a, p) for p in _ends(b)) if away <= ROUNDING]


def _ends(segment: Segment) -> tuple[Point, ...]:
    if isinstance(segment, Arc) and segment.is_circle:
        return ()
    return segment.start, segment.end


def _overlap(a: Segment, b: Segment, length: float) -> list[float]:
    """Return where on `a` a curve that lies on it begins and ends."""
    if type(a) is not type(b):
        return []
    if isinstance(a, Arc) and isinstance(b, Arc):
        if (
            math.dist(a.centre, b.centre) > ROUNDING
            or abs(a.radius - b.radius) > ROUNDING
        ):
            return []
    elif isinstance(a, Line) and isinstance(b, Line):
        (x1, y1), (x2, y2) = a.start, a.end
        ux, uy = (x2 - x1) / length, (y2 - y1) / length
        aside = [(y - y1) * ux - (x - x1) * uy for x, y in (b.start, b.end)]
        if max(map(abs, aside)) > ROUNDING:
            return []
    ends = _ends_on(a, b)
    # Between two such places the other curve may lie on this one, or run elsewhere.
    places = sorted({*ends, *_ends_of_on(a, b)})
    shared = [
        (low, high)
        for low, high in itertools.pairwise(places)
        if (high - low) * length > ROUNDING
        and nearest(b, a.point_at((low + high) / 2.0))[1] <= ROUNDING
    ]
    return [t for stretch in shared for t in stretch]


def _ends_of_on(a: Segment, b: Segment) -> list[float]:
    """Return which ends of `a`, as parameters, lie on `b`."""
    return [float(t) for t in (0, 1) if nearest(b, a.point_at(float(t)))[1] <= ROUNDING]


def _crossings(a: Segment, b: Segment) -> list[float]:
    """Return where on `a` it is crossed by `b`."""
    if isinstance(a, Line) and isinstance(b, Line):
        points = _line_line(a, b)
    elif isinstance(a, Line) and isinstance(b, Arc):
        points = _line_arc(a, b)
    elif isinstance(a, Arc) and isinstance(b, Line):
        points = _line_arc(b, a)
    elif isinstance(a, Arc) and isinstance(b, Arc):
        points = _arc_arc(a, b)
    else:
        return _numeric(a, b)
    out = []
    for point in points:
        t, away = nearest(a, point)
        if away <= ROUNDING and nearest(b, point)[1] <= ROUNDING:
            out.append(t)
    return out


def _line_line(a: Line, b: Line) -> list[Point]:
    (x1, y1), (x2, y2), (x3, y3), (x4, y4) = a.start, a.end, b.start, b.end
    ux, uy, vx, vy = x2 - x1, y2 - y1, x4 - x3, y4 - y3
    cross = ux * vy - uy * vx
    # Not less alone: lines without any length are parallel, too.
    if abs(cross) <= 1e-9 * math.hypot(ux, uy) * math.hypot(vx, vy):
        return []
    t = ((x3 - x1) * vy - (y3 - y1) * vx) / cross
    return [(x1 + t * ux, y1 + t * uy)]


def _line_arc(line: Line, arc: Arc) -> list[Point]:
    (x1, y1), (x2, y2), (cx, cy) = line.start, line.end, arc.centre
    length = line.length()
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    foot = (cx - x1) * ux + (cy - y1) * uy
    aside = (cx - x1) * uy - (cy - y1) * ux
    if abs(aside) > arc.radius + ROUNDING:
        return []
    # Where the line only touches, half is 0, and the two points are one.
    half = math.sqrt(max(arc.radius * arc.radius - aside * aside, 0.0))
    return [(x1 + s * ux, y1 + s * uy) for s in (foot - half, foot + half)]


def _arc_arc(a: Arc, b: Arc) -> list[Point]:
    dx, dy = b.centre[0] - a.centre[0], b.centre[1] - a.centre[1]
    apart = math.hypot(dx, dy)
    if apart < 1e-9:
        return []
    along = (apart * apart + a.radius * a.radius - b.radius * b.radius) / (2.0 * apart)
    if abs(along) > a.radius + ROUNDING:
        return []
    half = math.sqrt(max(a.radius * a.radius - along * along, 0.0))
    ux, uy = dx / apart, dy / apart
    x, y = a.centre[0] + along * ux, a.centre[1] + along * uy
    return [(x - half * uy, y + half * ux), (x + half * uy, y - half * ux)]


def _numeric(a: Segment, b: Segment) -> list[float]:
    """Return where on `a` it is crossed by `b`, found on chords and then refined."""
    # Finer chords than a millionth of the size would fill the memory.
    p, q = (s.flatten(max(_CHORD, 1e-6 * _size(s))) for s in (a, b))
    u, v = np.diff(p, axis=0), np.diff(q, axis=0)
    i, j = _meeting(p, q)
    d = q[j] - p[i]
    cross = u[i, 0] * v[j, 1] - u[i, 1] * v[j, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        s = (d[:, 0] * v[j, 1] - d[:, 1] * v[j, 0]) / cross
        t = (d[:, 0] * u[i, 1] - d[:, 1] * u[i, 0]) / cross
    slack = 1e-6
    hits = (s >= -slack) & (s <= 1.0 + slack) & (t >= -slack) & (t <= 1.0 + slack)
    out = []
    at = np.flatnonzero(hits)
    if len(at) > MOST_HITS:
        # Cubics cross nine times at most: these run along each other. Where each
        # stretch begins and ends is enough.
        step = np.diff(i[at]) > APART
        at = at[np.concatenate([[True], step]) | np.concatenate([step, [True]])]
    on_a, on_b = (i[at] + s[at]) / len(u), (j[at] + t[at]) / len(v)
    for one, other in zip(on_a.tolist(), on_b.tolist(), strict=True):
        found = _refined(a, b, one, other)
        if found is not None:
            out.append(found)
    return out


def _meeting(p: Points, q: Points) -> tuple[_Indices, _Indices]:
    """Return the pairs of chords of two polylines whose boxes meet, in order.

    All pairs would be a matrix that fills the memory where curves are long.
    """
    boxes = []
    for points in (p, q):
        low = np.minimum(points[:-1], points[1:])
        high = np.maximum(points[:-1], points[1:])
        pad = 1e-5 * np.hypot(*(high - low).T)  # more than the slack of a crossing
        boxes.append(
            shapely.box(
                low[:, 0] - pad, low[:, 1] - pad, high[:, 0] + pad, high[:, 1] + pad
            )
        )
    i, j = shapely.STRtree(boxes[1]).query(boxes[0])
    order = np.lexsort((j, i))
    return i[order], j[order]


def _size(segment: Segment) -> float:
    x0, y0, x1, y1 = segment.bounds()
    return max(x1 - x0, y1 - y0)


def _refined(a: Segment, b: Segment, s: float, t: float) -> float | None:
    """Return the parameter on `a` of the crossing near two parameters (Newton)."""
    h = 1e-6
    for _ in range(20):
        (ax, ay), (bx, by) = a.point_at(s), b.point_at(t)
        ex, ey = bx - ax, by - ay
        if math.hypot(ex, ey) < 1e-10:
            break
        (a0, a1), (b0, b1) = (
            (curve.point_at(at - h), curve.point_at(at + h))
            for curve, at in ((a, s), (b, t))
        )
        ux, uy = (a1[0] - a0[0]) / (2 * h), (a1[1] - a0[1]) / (2 * h)
        vx, vy = (b1[0] - b0[0]) / (2 * h), (b1[1] - b0[1]) / (2 * h)
        cross = ux * vy - uy * vx
        if cross == 0.0:
            return None
        s += (ex * vy - ey * vx) / cross
        t += (ex * uy - ey * ux) / cross
        if not (-0.5 <= s <= 1.5 and -0.5 <= t <= 1.5):
            return None
    near = math.dist(a.point_at(s), b.point_at(t)) <= ROUNDING
    return s if near and -1e-9 <= t <= 1.0 + 1e-9 else None
