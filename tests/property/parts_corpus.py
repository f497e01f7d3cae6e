"""Thirty parts on a grid, and how near parts that were read are to them."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator

import pytest
import shapely

from drystone.io.bezier import bulge_segment
from drystone.io.read_drawing import ReadDrawing
from drystone.nesting.model.curve import Arc, Line, Segment
from drystone.nesting.model.motion import Motion, Point
from drystone.nesting.model.outline import Loop, Outline

NEAR = 0.001
"""mm; dialects must agree to this."""

Shapes = list[list[Loop]]
"""For each part its outer loop and its holes, in drawing coordinates."""


def rounded(x: float, y: float, w: float, h: float, r: float) -> Loop:
    """Return a rectangle with round corners; a stadium when r is half its height."""
    corners = [
        ((x + r, y), (x + w - r, y), (x + w, y + r)),
        ((x + w, y + r), (x + w, y + h - r), (x + w - r, y + h)),
        ((x + w - r, y + h), (x + r, y + h), (x, y + h - r)),
        ((x, y + h - r), (x, y + r), (x + r, y)),
    ]
    segments: list[Segment] = []
    for start, end, after in corners:
        if math.dist(start, end) > 1e-9:
            segments.append(Line(start, end))
        bend = bulge_segment(end, after, math.sqrt(2.0) - 1.0)
        assert bend is not None
        segments.append(bend)
    return Loop(tuple(segments))


def thirty() -> Shapes:
    """Return 30 parts on a grid, with lines, arcs, circles, holes and notches."""
    rng = random.Random(20)
    parts: Shapes = []
    for n in range(30):
        x, y = (n % 6) * 260.0 + 7.0, (n // 6) * 220.0 - 31.0
        w, h = rng.uniform(60, 220), rng.uniform(50, 180)
        kind = n % 5
        if kind == 0:
            outer = Loop.rectangle(w, h, x, y)
        elif kind == 1:
            outer = rounded(x, y, w, h, rng.uniform(3, 20))
        elif kind == 2:
            outer = Loop.circle(x + h / 2, y + h / 2, h / 2)
        elif kind == 3:
            outer = Loop.polygon(
                [(x, y), (x + w, y), (x + w, y + h / 2), (x + w / 2, y + h / 2),
                 (x + w / 2, y + h), (x, y + h)]
            )  # fmt: skip
        else:
            outer = rounded(x, y, w, h, min(w, h) / 2.0)
        x0, y0, x1, y1 = outer.bounds
        holes = [Loop.circle(x0 + (x1 - x0) / 4, y0 + (y1 - y0) / 4, 5.0)]
        if n % 2:
            mx, my = x0 + (x1 - x0) * 0.3, y0 + (y1 - y0) * 0.4
            holes.append(rounded(mx, my, 18.0, 8.0, 4.0))
        parts.append([outer, *holes])
    return parts


PARTS = thirty()


def scaled(segment: Segment, k: float) -> Segment:
    if isinstance(segment, Line):
        a, b = segment.start, segment.end
        return Line((a[0] * k, a[1] * k), (b[0] * k, b[1] * k))
    assert isinstance(segment, Arc)
    cx, cy = segment.centre
    return Arc((cx * k, cy * k), segment.radius * k, segment.start_angle, segment.sweep)


def loops() -> Iterator[Loop]:
    for part in PARTS:
        yield from part


def expected() -> list[Outline]:
    out = []
    for outer, *holes in PARTS:
        x, y = outer.bounds[:2]
        back = Motion(-x, -y)
        out.append(Outline(outer, tuple(holes)).moved(back))
    return out


def distance(a: Outline, b: Outline) -> float:
    """Return how far points of one outline are from the other, both ways."""

    def edges(o: Outline) -> shapely.Geometry:
        rings = [shapely.LinearRing(loop.flatten(1e-4)) for loop in o.loops]
        return shapely.MultiLineString(rings)

    def samples(o: Outline) -> shapely.Geometry:
        points = [
            s.point_at(t)
            for loop in o.loops
            for s in loop.segments
            for t in (0, 0.1, 0.25, 0.5, 0.75, 0.9, 1)
        ]
        return shapely.points(points)

    return max(
        float(shapely.distance(samples(a), edges(b)).max()),
        float(shapely.distance(samples(b), edges(a)).max()),
    )


def check(read: ReadDrawing, origins: tuple[Point, ...] | None = None) -> None:
    """Assert that a drawing holds the thirty parts, each where it lies.

    Where the drawing is shifted, `origins` are those it would have unshifted.
    """
    assert len(read.parts) == len(PARTS)
    by_place = sorted(
        zip(origins or read.origins, read.parts, strict=True),
        key=lambda item: (round(item[0][1] / 50), item[0][0]),
    )
    want = sorted(
        zip([p[0].bounds[:2] for p in PARTS], expected(), strict=True),
        key=lambda item: (round(item[0][1] / 50), item[0][0]),
    )
    for (origin, part), (corner, outline) in zip(by_place, want, strict=True):
        assert origin == pytest.approx(corner, abs=NEAR)
        assert len(part.outline.holes) == len(outline.holes)
        assert not part.marks
        assert part.outline.size == pytest.approx(outline.size, abs=NEAR)
        assert part.area == pytest.approx(outline.area, abs=NEAR * outline.length)
        assert distance(part.outline, outline) <= NEAR
