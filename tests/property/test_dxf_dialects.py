"""The same 30 parts written in many dialects of DXF are read as the same parts."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import shapely
from ezdxf import filemanagement
from ezdxf.math import Vec3, arc_angle_span_deg

from drystone.io.bezier import bulge_segment
from drystone.io.read_drawing import look_at
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment
from drystone.nesting.model.motion import Motion
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


def document(version: str = "R2010", units: int | None = 4) -> Any:
    doc = filemanagement.new(version)
    doc.header["$INSUNITS"] = units if units is not None else 0
    return doc


def scaled(segment: Segment, k: float) -> Segment:
    if isinstance(segment, Line):
        a, b = segment.start, segment.end
        return Line((a[0] * k, a[1] * k), (b[0] * k, b[1] * k))
    assert isinstance(segment, Arc)
    cx, cy = segment.centre
    return Arc((cx * k, cy * k), segment.radius * k, segment.start_angle, segment.sweep)


def bulge(segment: Segment) -> float:
    if isinstance(segment, Arc):
        return math.tan(math.radians(segment.sweep) / 4.0)
    return 0.0


def vertices(loop: Loop) -> list[tuple[float, float, float]]:
    if loop.is_circle:
        (circle,) = loop.segments
        assert isinstance(circle, Arc)
        (x, y), r = circle.centre, circle.radius
        return [(x - r, y, 1.0), (x + r, y, 1.0)]
    return [(*s.start, bulge(s)) for s in loop.segments]


def put(space: Any, segment: Segment, **attribs: Any) -> None:
    if isinstance(segment, Line):
        space.add_line(segment.start, segment.end, dxfattribs=attribs)
        return
    assert isinstance(segment, Arc)
    if segment.is_circle:
        space.add_circle(segment.centre, segment.radius, dxfattribs=attribs)
        return
    a, b = segment.start_angle, segment.end_angle
    if segment.sweep < 0:
        a, b = b, a
    space.add_arc(segment.centre, segment.radius, a, b, dxfattribs=attribs)
    assert arc_angle_span_deg(a, b) == pytest.approx(abs(segment.sweep), abs=1e-6)


def loops() -> Iterator[Loop]:
    for part in PARTS:
        yield from part


def polylines(k: float = 1.0, units: int | None = 4) -> Any:
    doc = document(units=units)
    for loop in loops():
        points = [(x * k, y * k, b) for x, y, b in vertices(loop)]
        doc.modelspace().add_lwpolyline(points, format="xyb", close=True)
    return doc


def old_polylines() -> Any:
    doc = document("R12", None)
    doc.header["$INSUNITS"] = 4
    for loop in loops():
        points = [(x, y, b) for x, y, b in vertices(loop)]
        doc.modelspace().add_polyline2d(points, format="xyb", close=True)
    return doc


def closed_by_coordinates() -> Any:
    doc = document()
    for loop in loops():
        points = vertices(loop)
        doc.modelspace().add_lwpolyline([*points, points[0]], format="xyb")
    return doc


def loose(
    k: float = 1.0, units: int | None = 4, shrink: float = 0.0, twice: bool = False
) -> Any:
    doc = document(units=units)
    rng = random.Random(5)
    pieces = [s for loop in loops() for s in loop.segments]
    if twice:
        pieces += rng.sample(pieces, len(pieces) // 2)
    rng.shuffle(pieces)
    for s in pieces:
        piece = s.reversed() if rng.random() < 0.5 else s
        if isinstance(piece, Line) and shrink:
            length = piece.length()
            t = shrink / length
            piece = Line(piece.point_at(t), piece.point_at(1.0 - t))
        put(doc.modelspace(), scaled(piece, k))
    return doc


def mirrored() -> Any:
    """All drawn on the underside: x runs backwards in the entity's own system."""
    doc = document()
    for loop in loops():
        points = [(-x, y, -b) for x, y, b in vertices(loop)]
        doc.modelspace().add_lwpolyline(
            points, format="xyb", close=True, dxfattribs={"extrusion": (0, 0, -1)}
        )
    return doc


def high() -> Any:
    doc = document()
    for i, loop in enumerate(loops()):
        for s in loop.segments:
            if isinstance(s, Line):
                doc.modelspace().add_line((*s.start, 3.0 + i), (*s.end, 3.0 + i))
            elif isinstance(s, Arc):
                moved = Arc((*s.centre, 3.0 + i), s.radius, s.start_angle, s.sweep)  # type: ignore[arg-type]
                put_high(doc.modelspace(), moved)
    return doc


def put_high(space: Any, arc: Arc) -> None:
    if arc.is_circle:
        space.add_circle(arc.centre, arc.radius)
    else:
        space.add_arc(arc.centre, arc.radius, arc.start_angle, arc.end_angle)


def in_blocks() -> Any:
    """Each part in a block, half as large, mirrored and turned, in another block."""
    doc = document()
    for n, part in enumerate(PARTS):
        inner = doc.blocks.new(f"PART{n}", base_point=(3, 4))
        # The insert mirrors x, doubles and turns by 90; drawn here is the inverse.
        for loop in part:
            undo = loop.moved(Motion(turn=-90)).moved(Motion(flipped=True))
            for s in undo.segments:
                half = scaled(s, 0.5)
                put(inner, half)
        outer = doc.blocks.new(f"HOLDER{n}")
        outer.add_blockref(
            f"PART{n}",
            Vec3(-6, 8).rotate_deg(90),
            dxfattribs={"xscale": -2, "yscale": 2, "zscale": 0, "rotation": 90},
        )
        doc.modelspace().add_blockref(f"HOLDER{n}", (0, 0))
    return doc


def stretched() -> Any:
    """Circles drawn as ellipses in a block that is stretched back."""
    doc = document()
    block = doc.blocks.new("ALL")
    for loop in loops():
        for s in loop.segments:
            if isinstance(s, Line):
                a, b = s.start, s.end
                block.add_line((a[0] * 2, a[1]), (b[0] * 2, b[1]))
            elif isinstance(s, Arc):
                start = math.radians(s.start_angle)
                sweep = math.radians(s.sweep)
                assert sweep > 0
                block.add_ellipse(
                    (s.centre[0] * 2, s.centre[1]),
                    (2 * s.radius, 0),
                    0.5,
                    start,
                    start + sweep if abs(s.sweep) < 360 else start + math.tau,
                )
    doc.modelspace().add_blockref("ALL", (0, 0), dxfattribs={"xscale": 0.5})
    return doc


def splines() -> Any:
    """Arcs as rational splines, lines as splines of degree 1."""
    from ezdxf.math import BSpline, rational_bspline_from_arc

    doc = document()
    for loop in loops():
        for s in loop.segments:
            if isinstance(s, Line):
                curve = BSpline([s.start, s.end], order=2)
            else:
                assert isinstance(s, Arc) and s.sweep > 0
                a, b = s.start_angle, s.start_angle + s.sweep
                curve = rational_bspline_from_arc(s.centre, s.radius, a, b)
            spline = doc.modelspace().add_spline()
            spline.apply_construction_tool(curve)
    return doc


def grid() -> Any:
    """One part drawn once and repeated is another test; here a plain insert grid."""
    doc = document()
    block = doc.blocks.new("ALL")
    for loop in loops():
        for s in loop.segments:
            put(block, s, layer="0")
    doc.modelspace().add_blockref(
        "ALL", (0, 0), dxfattribs={"column_count": 1, "row_count": 1}
    )
    return doc


DIALECTS: dict[str, Callable[[], Any]] = {
    "polylines": polylines,
    "inches": lambda: polylines(1 / 25.4, 1),
    "centimetres": lambda: polylines(0.1, 5),
    "metres": lambda: polylines(0.001, 6),
    "mils": lambda: polylines(1 / 0.0254, 9),
    "no unit": lambda: polylines(1.0, None),
    "old polylines": old_polylines,
    "closed by coordinates": closed_by_coordinates,
    "loose": loose,
    "loose inches": lambda: loose(1 / 25.4, 1),
    "gaps": lambda: loose(shrink=0.008),
    "doubled": lambda: loose(twice=True),
    "mirrored": mirrored,
    "high": high,
    "blocks": in_blocks,
    "stretched": stretched,
    "splines": splines,
    "grid": grid,
}


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


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_gives_the_same_parts(dialect: str, tmp_path: Path) -> None:
    path = tmp_path / "parts.dxf"
    doc = DIALECTS[dialect]()
    doc.saveas(path, fmt="bin" if dialect == "grid" else "asc")
    read = look_at(path)
    assert len(read.parts) == len(PARTS)
    by_place = sorted(
        zip(read.origins, read.parts, strict=True),
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
    curves = {
        type(s) for p in read.parts for loop in p.outline.loops for s in loop.segments
    }
    if dialect != "stretched":
        assert Cubic not in curves
