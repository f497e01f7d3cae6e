"""Splines and ellipses to lines, arcs and cubics: exact where that is possible.

Polynomial splines up to degree 3 become exact cubic Bézier curves. What has no
exact cubic (higher degrees, rational splines, ellipses) is approximated within a
stated distance; a rational piece that is a circular arc becomes that arc.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.motion import Point
from .affine import Affine, stretches

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST_DEGREE = 32
"""Splines of a higher degree are refused: common practice ends far below."""

_MOST_HALVINGS = 12
_AT_ONCE = 2000
_BETWEEN = np.linspace(0.0, 1.0, 9)[1:-1]

TOLERANCE = 4e-4
"""How far an approximated curve may be from the drawn one, mm."""

_ROUND = 1e-9
"""Relative deviation up to which a curve counts as exactly circular."""

_QUARTER_ERROR = 2.73e-4
"""Radial error of the usual cubic for a quarter of the unit circle; with smaller
steps it falls with the sixth power (computed; 2.7253e-4 at 90°)."""


def ellipse_segments(
    centre: Point,
    u: Point,
    v: Point,
    start: float,
    sweep: float,
    tolerance: float = TOLERANCE,
) -> list[Segment]:
    """Return the curve centre + u cos t + v sin t.

    Parameters
    ----------
    centre, u, v : Point
        The centre and two conjugate half axes.
    start, sweep : float
        First value of t and how far it runs, degrees; at most ±360.
    tolerance : float
        Greatest distance from the true ellipse, in the units of `u` and `v`.

    Returns
    -------
    list of Segment
        One arc if the curve is circular; otherwise cubics; lines if it is flat.
        Empty if it is a point.
    """
    longer, shorter = stretches(u, v)
    if not longer > 0.0 or sweep == 0.0:
        return []
    if longer - shorter <= 1e-12 * longer:
        mirrored = u[0] * v[1] - u[1] * v[0] < 0.0
        first = math.degrees(math.atan2(u[1], u[0])) + (-start if mirrored else start)
        return [Arc(centre, longer, first % 360.0, -sweep if mirrored else sweep)]
    quarter = _QUARTER_ERROR * longer / tolerance
    step = min(90.0 / max(quarter, 1e-12) ** (1.0 / 6.0), 90.0)
    count = min(max(math.ceil(abs(sweep) / step - 1e-9), 1), 4096)
    if whole := abs(sweep) == 360.0:
        count = 4 * math.ceil(count / 4)  # ends on the axes: the box is exact
    turn = math.radians(sweep) / count
    handle = 4.0 / 3.0 * math.tan(turn / 4.0)

    def at(t: float, du: float, dv: float) -> Point:
        """Return the point at `t` moved by the handle along the tangent."""
        cos, sin = math.cos(t), math.sin(t)
        x, y = cos + du * sin, sin + dv * cos
        return centre[0] + u[0] * x + v[0] * y, centre[1] + u[1] * x + v[1] * y

    pieces: list[Segment] = []
    first_point = last = at(math.radians(start), 0.0, 0.0)
    for i in range(count):
        t0 = math.radians(start) + turn * i
        t1 = math.radians(start) + turn * (i + 1)
        end = first_point if whole and i == count - 1 else at(t1, 0.0, 0.0)
        pieces.append(
            Cubic(last, at(t0, -handle, handle), at(t1, handle, -handle), end)
        )
        last = end
    if shorter <= 1e-12 * longer:
        return [Line(piece.start, piece.end) for piece in pieces]
    return pieces


def mapped(
    segment: Segment, affine: Affine, tolerance: float = TOLERANCE
) -> list[Segment]:
    """Return a segment after an affine map; an arc may become cubics."""
    if isinstance(segment, Line):
        return [Line(affine.point(segment.start), affine.point(segment.end))]
    if isinstance(segment, Cubic):
        p0, p1, p2, p3 = (
            affine.point(p) for p in (segment.p0, segment.p1, segment.p2, segment.p3)
        )
        return [Cubic(p0, p1, p2, p3)]
    r = segment.radius
    return ellipse_segments(
        affine.point(segment.centre),
        affine.vector((r, 0.0)),
        affine.vector((0.0, r)),
        segment.start_angle,
        segment.sweep,
        tolerance,
    )


_FLATTEST = 1e8
"""An arc of a greater radius would no longer give its ends back exactly."""


def bulge_segment(start: Point, end: Point, bulge: float) -> Segment | None:
    """Return a polyline's segment with a bulge; None if it has no length.

    The bulge is the tangent of a quarter of the sweep, positive counter-clockwise
    (published DXF reference, LWPOLYLINE).
    """
    chord = math.dist(start, end)
    if chord == 0.0:
        return None
    if abs(bulge) < 1e-10:
        return Line(start, end)
    sweep = math.degrees(4.0 * math.atan(bulge))
    radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    dx, dy = end[0] - start[0], end[1] - start[1]
    middle = ((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0)
    if radius > _FLATTEST:  # so flat that a parabola is the same
        return quadratic(start, (middle[0] + bulge * dy, middle[1] - bulge * dx), end)
    # From the chord's middle to the centre, along the chord's left normal.
    offset = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre = (middle[0] - offset * dy, middle[1] + offset * dx)
    angle = math.degrees(math.atan2(start[1] - centre[1], start[0] - centre[0]))
    return Arc(centre, radius, angle % 360.0, sweep)


def spline_segments(
    degree: int,
    knots: Sequence[float],
    controls: Sequence[Point],
    weights: Sequence[float] = (),
    tolerance: float = TOLERANCE,
    expect: Callable[[int], object] | None = None,
) -> list[Segment]:
    """Return a B-spline curve as lines, arcs and cubics.

    Every knot span is turned into a Bézier curve by evaluating its polar form
    (blossom) at the span's ends, which is knot insertion to full multiplicity.

    Parameters
    ----------
    degree : int
        1 or more.
    knots : sequence of float
        Not falling; as many as controls + degree + 1.
    controls : sequence of Point
        Control points.
    weights : sequence of float
        Above 0, one for each control point; empty for a polynomial curve.
    tolerance : float
        Greatest distance of what cannot be exact, in the units of `controls`.
    expect : callable, optional
        Told how many pieces it is about to come to; may raise. A span of a high degree
        counts for as many as it costs.

    Raises
    ------
    ValueError
        If the numbers do not make a spline, or its degree is above `MOST_DEGREE`.

    References
    ----------
    L. Ramshaw, Blossoms are polar forms, Computer Aided Geometric Design 6 (1989)
    323-358, https://doi.org/10.1016/0167-8396(89)90032-0
    """
    u = np.asarray(knots, dtype=np.float64)
    p = np.asarray(controls, dtype=np.float64).reshape(-1, 2)
    w = np.asarray(weights, dtype=np.float64)
    if degree > MOST_DEGREE:
        raise ValueError("no drawing needs a degree so high")
    if degree < 1 or len(p) <= degree or len(u) != len(p) + degree + 1:
        raise ValueError("knots, control points and degree do not fit together")
    if w.size and (len(w) != len(p) or not np.all(w > 0.0)):
        raise ValueError("weights must be above 0, one for each control point")
    if not (np.isfinite(u).all() and np.isfinite(p).all() and np.isfinite(w).all()):
        raise ValueError("a number is not finite")
    if np.any(np.diff(u) < 0.0):
        raise ValueError("the knots fall")
    rational = bool(w.size) and bool(np.ptp(w) > 1e-12 * w.max())
    homogeneous = np.column_stack([p * w[:, None], w]) if rational else p
    spans = np.arange(degree, len(p))
    spans = spans[u[spans + 1] > u[spans]]
    expect = expect or int
    expect(len(spans) * max(degree * degree // 9, 1))
    pieces: list[Segment] = []
    for first in range(0, len(spans), _AT_ONCE):
        some = spans[first : first + _AT_ONCE]
        beziers = _beziers_of_spans(homogeneous, u, degree, some)
        pieces += _segments(beziers, tolerance, expect)
        expect(len(pieces))
    return _merged_arcs(_joined(pieces))


def _beziers_of_spans(d: Floats, u: Floats, degree: int, spans: Ints) -> Floats:
    """Return the Bézier controls of knot spans, (spans, degree + 1, dimension)."""
    k = spans[:, None]
    rows = []
    for j in range(degree + 1):
        b = d[k + np.arange(-degree, 1)]
        for r in range(1, degree + 1):
            steps = np.arange(degree - r + 1)
            low, high = u[k - degree + r + steps], u[k + 1 + steps]
            a = u[k] if r <= degree - j else u[k + 1]
            alpha = ((a - low) / (high - low))[:, :, None]
            b = (1.0 - alpha) * b[:, :-1] + alpha * b[:, 1:]
        rows.append(b[:, 0])
    return np.stack(rows, axis=1)


def _segments(
    beziers: Floats, tolerance: float, expect: Callable[[int], object]
) -> list[Segment]:
    """Return Bézier curves in their order; homogeneous if they have 3 columns."""
    found = [_exactly(h) for h in beziers]
    rest = [n for n, segments in enumerate(found) if segments is None]
    if rest:
        if beziers.shape[2] == 2:
            ones = np.ones((*beziers.shape[:2], 1))
            beziers = np.concatenate([beziers, ones], axis=2)
        near = _approximated(beziers[rest], tolerance, expect)
        for n, cubics in zip(rest, near, strict=True):
            found[n] = cubics
    return [segment for segments in found if segments for segment in segments]


def _exactly(h: Floats) -> list[Segment] | None:
    """Return a Bézier curve as a line, a cubic or an arc; None if it is none."""
    if h.shape[1] == 3:
        # A line stays one, whatever its weights.
        if len(h) > 2 and np.ptp(h[:, 2]) > 1e-12 * h[:, 2].max():
            arc = _as_arc(h)
            return None if arc is None else [arc]
        h = h[:, :2] / h[:, 2:]
    c = [(float(x), float(y)) for x, y in h]
    if len(c) == 2:
        return [] if c[0] == c[1] else [Line(c[0], c[1])]
    if len(c) == 3:
        return [quadratic(c[0], c[1], c[2])]
    return [Cubic(c[0], c[1], c[2], c[3])] if len(c) == 4 else None


def quadratic(p0: Point, p1: Point, p2: Point) -> Cubic:
    """Return the cubic equal to a quadratic Bézier curve."""
    return Cubic(
        p0,
        (p0[0] + 2.0 * (p1[0] - p0[0]) / 3.0, p0[1] + 2.0 * (p1[1] - p0[1]) / 3.0),
        (p2[0] + 2.0 * (p1[0] - p2[0]) / 3.0, p2[1] + 2.0 * (p1[1] - p2[1]) / 3.0),
        p2,
    )


def _evaluate(h: Floats, t: Floats) -> Floats:
    """Return points of rational Bézier curves, shape (curves, len(t), 2)."""
    b = np.repeat(h[:, None], len(t), axis=1)
    s = t[:, None, None]
    while b.shape[2] > 1:
        b = (1.0 - s) * b[:, :, :-1] + s * b[:, :, 1:]
    points: Floats = b[:, :, 0, :2] / b[:, :, 0, 2:]
    return points


def _as_arc(h: Floats) -> Arc | None:
    """Return the circular arc that a rational Bézier curve is, if it is one."""
    q = _evaluate(h[None], np.linspace(0.0, 1.0, 9))[0]
    a, b, c = q[0], q[4], q[8]
    if math.dist(a, c) < 1e-6 * math.dist(a, b):
        c = q[6]  # a whole turn in one piece: its ends do not fix the circle
    (bx, by), (cx, cy) = b - a, c - a
    cross = 2.0 * (bx * cy - by * cx)
    size = max(math.hypot(bx, by), math.hypot(cx, cy))
    if abs(cross) < 1e-9 * size * size:
        return None
    bb, cc = bx * bx + by * by, cx * cx + cy * cy
    centre = np.array([cy * bb - by * cc, bx * cc - cx * bb]) / cross + a
    radii = np.hypot(*(q - centre).T)
    radius = float(radii.mean())
    if np.ptp(radii) > _ROUND * radius:
        return None
    angles = np.unwrap(np.arctan2(*(q - centre).T[::-1]))
    sweep = math.degrees(float(angles[-1] - angles[0]))
    if abs(sweep) > 360.0 - 1e-9:
        sweep = math.copysign(360.0, sweep)
    start = math.degrees(float(angles[0])) % 360.0
    return Arc((float(centre[0]), float(centre[1])), radius, start, sweep)


def _approximated(
    h: Floats, tolerance: float, expect: Callable[[int], object]
) -> list[list[Segment]]:
    """Return for each curve cubics with its own tangents, halved until near enough.

    The distance between points of equal parameter bounds the distance between
    the curves, so the test never passes a curve that is too far off.
    """
    out: list[list[Segment]] = [[] for _ in h]
    kept: list[tuple[float, list[list[float]]]] = []
    at, step = np.arange(float(len(h))), 1.0
    for depth in range(_MOST_HALVINGS + 1):
        b, error = _fitted(h)
        done = (error <= tolerance) | (depth == _MOST_HALVINGS)
        kept += zip(at[done].tolist(), b[done].tolist(), strict=True)
        h, at = h[~done], at[~done]
        expect(len(kept) + 2 * len(h))
        if not len(h):
            break
        step /= 2.0
        h, at = np.concatenate(_halves(h)), np.concatenate([at, at + step])
    kept.sort(key=lambda item: item[0])
    for place, ((x0, y0), (x1, y1), (x2, y2), (x3, y3)) in kept:
        cubic = Cubic((x0, y0), (x1, y1), (x2, y2), (x3, y3))
        out[int(place)].append(cubic)
    return out


def _fitted(h: Floats) -> tuple[Floats, Floats]:
    """Return for each curve the cubic with its ends and tangents, and how far it is."""
    n = h.shape[1] - 1
    p = h[:, :, :2] / h[:, :, 2:]
    before = n * (h[:, 1, 2:] / h[:, 0, 2:]) * (p[:, 1] - p[:, 0])
    after = n * (h[:, -2, 2:] / h[:, -1, 2:]) * (p[:, -1] - p[:, -2])
    start, end = p[:, 0], p[:, -1]
    b = np.stack([start, start + before / 3.0, end - after / 3.0, end], axis=1)
    flat = np.concatenate([b, np.ones((len(b), 4, 1))], axis=2)
    error = np.empty(len(h))
    for first in range(0, len(h), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        apart = _evaluate(h[some], _BETWEEN) - _evaluate(flat[some], _BETWEEN)
        error[some] = np.hypot(apart[:, :, 0], apart[:, :, 1]).max(axis=1)
    return b, error


def _halves(h: Floats) -> tuple[Floats, Floats]:
    left, right = [h[:, 0]], [h[:, -1]]
    while h.shape[1] > 1:
        h = (h[:, :-1] + h[:, 1:]) / 2.0
        left.append(h[:, 0])
        right.append(h[:, -1])
    return np.stack(left, axis=1), np.stack(right[::-1], axis=1)


def _joined(pieces: list[Segment]) -> list[Segment]:
    """Return the pieces with neighbouring cubics meeting to the last bit."""
    out: list[Segment] = []
    for piece in pieces:
        if (
            out
            and isinstance(piece, Cubic)
            and 0.0 < math.dist(out[-1].end, piece.start) <= 1e-9
        ):
            piece = Cubic(out[-1].end, piece.p1, piece.p2, piece.p3)
        out.append(piece)
    return out


def _merged_arcs(pieces: list[Segment]) -> list[Segment]:
    """Return the pieces with neighbouring arcs of one circle made one."""
    out: list[Segment] = []
    for piece in pieces:
        last = out[-1] if out else None
        if (
            isinstance(piece, Arc)
            and isinstance(last, Arc)
            and _one_circle(last, piece)
        ):
            sweep = last.sweep + piece.sweep
            if abs(sweep) > 360.0 - 1e-6:
                sweep = math.copysign(360.0, sweep)
            out[-1] = Arc(last.centre, last.radius, last.start_angle, sweep)
        else:
            out.append(piece)
    return out


def _one_circle(a: Arc, b: Arc) -> bool:
    near = _ROUND * max(a.radius, 1.0)
    return (
        a.sweep * b.sweep > 0.0
        and abs(a.sweep + b.sweep) <= 360.0 + 1e-6
        and abs(a.radius - b.radius) <= near
        and math.dist(a.centre, b.centre) <= near
        and math.dist(a.end, b.start) <= 1e-6
    )
