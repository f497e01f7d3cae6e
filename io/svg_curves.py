"""Curves as SVG states them: elliptical arcs, and their way to mm."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.motion import Point, cos_sin
from .affine import Affine, stretches
from .bezier import ellipse_segments

ROUND = 1e-4
"""An ellipse whose half axes differ by no more than this is read as a circle, mm."""

_EXACT = 1e-9
"""Relative difference up to which half axes are equal."""

_MEET = 1e-7
"""An arc must end this near to where its neighbours begin, mm."""

_LARGEST_RADIUS = 1e7
"""Beyond this the centre is too far off for the ends to be exact, mm."""


@dataclass(frozen=True, slots=True)
class EllipticArc:
    """The curve centre + u cos t + v sin t.

    Parameters
    ----------
    centre : Point
        Middle of the ellipse.
    u, v : Point
        Conjugate half axes.
    start_angle, sweep : float
        First value of t and how far it runs, degrees.
    start, end : Point
        The ends, exactly as the drawing states them.
    """

    centre: Point
    u: Point
    v: Point
    start_angle: float
    sweep: float
    start: Point
    end: Point

    @classmethod
    def whole(cls, centre: Point, rx: float, ry: float) -> EllipticArc:
        """Return a whole ellipse with its axes along x and y."""
        first = (centre[0] + rx, centre[1])
        return cls(centre, (rx, 0.0), (0.0, ry), 0.0, 360.0, first, first)


UserSegment = Line | Cubic | EllipticArc


def arc_between(
    start: Point,
    rx: float,
    ry: float,
    turn: float,
    large: bool,
    positive: bool,
    end: Point,
) -> Line | EllipticArc | None:
    """Return the arc of a path's A command; None if it has no length.

    Parameters
    ----------
    start, end : Point
        The ends.
    rx, ry : float
        Half axes. 0 makes a line; where they are too small to reach, both grow.
    turn : float
        Direction of the first axis, degrees.
    large, positive : bool
        The flags: more than half a turn; towards growing angles.

    References
    ----------
    W3C, Scalable Vector Graphics (SVG) 1.1, appendix F.6, in a form that works on
    the unit circle and so neither overflows nor loses small radii.
    """
    if start == end:
        return None
    rx, ry = abs(rx), abs(ry)
    if rx == 0.0 or ry == 0.0:
        return Line(start, end)
    cos, sin = cos_sin(turn % 360.0)
    hx, hy = (start[0] - end[0]) / 2.0, (start[1] - end[1]) / 2.0
    x, y = (cos * hx + sin * hy) / rx, (cos * hy - sin * hx) / ry
    reach = x * x + y * y
    if not 1e-24 < reach < math.inf:
        return Line(start, end)  # the radius is beyond measure against the chord
    if reach > 1.0:
        grow = math.sqrt(reach)
        rx, ry, x, y, reach = rx * grow, ry * grow, x / grow, y / grow, 1.0
    factor = math.sqrt(max(1.0 - reach, 0.0) / reach)
    if large == positive:
        factor = -factor
    cx, cy = factor * y, -factor * x
    first = math.degrees(math.atan2(y - cy, x - cx))
    last = math.degrees(math.atan2(-y - cy, -x - cx))
    sweep = (last - first) % 360.0
    if not positive:
        sweep -= 360.0
    u, v = (rx * cos, rx * sin), (-ry * sin, ry * cos)
    centre = (
        u[0] * cx + v[0] * cy + (start[0] + end[0]) / 2.0,
        u[1] * cx + v[1] * cy + (start[1] + end[1]) / 2.0,
    )
    return EllipticArc(centre, u, v, first, _whole_degrees(sweep), start, end)


def _whole_degrees(angle: float) -> float:
    """Return the angle without the rounding noise next to a whole degree."""
    near = round(angle)
    return float(near) if abs(angle - near) < 1e-11 else angle


def to_mm(segment: UserSegment, affine: Affine) -> list[Segment]:
    """Return a segment after the map to mm: lines, true arcs, cubics.

    An arc stays an arc where the map leaves it circular; another ellipse becomes
    cubics within the tolerance of `ellipse_segments`.
    """
    if isinstance(segment, Line):
        return [Line(affine.point(segment.start), affine.point(segment.end))]
    if isinstance(segment, Cubic):
        p0, p1, p2, p3 = map(
            affine.point, (segment.p0, segment.p1, segment.p2, segment.p3)
        )
        return [Cubic(p0, p1, p2, p3)]
    centre = affine.point(segment.centre)
    u, v = affine.vector(segment.u), affine.vector(segment.v)
    start, end = affine.point(segment.start), affine.point(segment.end)
    longer, shorter = stretches(u, v)
    if not math.isfinite(longer):
        return [Line(start, end)]  # refused for its numbers by the caller
    if longer - shorter <= max(_EXACT * longer, min(ROUND, 1e-3 * longer)):
        arc = _circular(segment, centre, u, v, start, end)
        if arc is not None:
            return [arc]
    pieces = ellipse_segments(centre, u, v, segment.start_angle, segment.sweep)
    return _with_ends(pieces, start, end)


def _circular(
    segment: EllipticArc, centre: Point, u: Point, v: Point, start: Point, end: Point
) -> Arc | None:
    """Return the circular arc between the mapped ends; None if it misses them."""
    mirrored = u[0] * v[1] - u[1] * v[0] < 0.0
    sweep = -segment.sweep if mirrored else segment.sweep
    longer, shorter = stretches(u, v)
    radius = longer if longer - shorter <= _EXACT * longer else (longer + shorter) / 2
    if radius > _LARGEST_RADIUS:
        return None
    if abs(sweep) == 360.0:
        first = math.degrees(math.atan2(u[1], u[0])) % 360.0
        return Arc(centre, radius, first, sweep)
    # The radius as stated where the ends allow it, else the one through the ends.
    for middle, r in ((centre, radius), _through(start, end, sweep, radius)):
        first = math.degrees(math.atan2(start[1] - middle[1], start[0] - middle[0]))
        arc = Arc(middle, r, _whole_degrees(first % 360.0), sweep)
        if math.dist(arc.start, start) <= _MEET and math.dist(arc.end, end) <= _MEET:
            return arc
    return None


def _through(
    start: Point, end: Point, sweep: float, radius: float
) -> tuple[Point, float]:
    """Return centre and radius of the arc between two points with a given sweep."""
    half = math.radians(sweep) / 2.0
    chord = math.dist(start, end)
    if abs(math.sin(half)) < 1e-6 or chord == 0.0:
        return start, radius
    offset = 1.0 / math.tan(half) / 2.0
    dx, dy = end[0] - start[0], end[1] - start[1]
    middle = (
        (start[0] + end[0]) / 2.0 - dy * offset,
        (start[1] + end[1]) / 2.0 + dx * offset,
    )
    return middle, chord / 2.0 / abs(math.sin(half))


def _with_ends(pieces: list[Segment], start: Point, end: Point) -> list[Segment]:
    """Return the pieces with the outermost ends set exactly."""
    if not pieces:
        return []
    first = pieces[0]
    if isinstance(first, Cubic):
        pieces[0] = Cubic(start, first.p1, first.p2, first.p3)
    elif isinstance(first, Line):
        pieces[0] = Line(start, first.end)
    last = pieces[-1]
    if isinstance(last, Cubic):
        pieces[-1] = Cubic(last.p0, last.p1, last.p2, end)
    elif isinstance(last, Line):
        pieces[-1] = Line(last.start, end)
    return pieces
