"""The same 30 parts written in many dialects of DXF are read as the same parts."""

from __future__ import annotations

import math
import random
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from ezdxf import filemanagement
from ezdxf.math import Vec3, arc_angle_span_deg

from drystone.io.read_drawing import look_at
from drystone.io.split import piece
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment
from drystone.nesting.model.motion import Motion
from drystone.nesting.model.outline import Loop

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.property.parts_corpus import PARTS, check, loops, scaled
else:  # beside this file; the tests are no package when they run
    from parts_corpus import PARTS, check, loops, scaled


def document(version: str = "R2010", units: int | None = 4) -> Any:
    doc = filemanagement.new(version)
    doc.header["$INSUNITS"] = units if units is not None else 0
    return doc


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
        drawn = s.reversed() if rng.random() < 0.5 else s
        if isinstance(drawn, Line) and shrink:
            length = drawn.length()
            t = shrink / length
            drawn = Line(drawn.point_at(t), drawn.point_at(1.0 - t))
        put(doc.modelspace(), scaled(drawn, k))
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


def turned_round() -> Any:
    """Every loop runs clockwise, begins elsewhere and repeats its first vertex."""
    doc = document()
    for n, loop in enumerate(loops()):
        back = loop.reversed()
        k = n % len(back.segments)
        points = vertices(Loop((*back.segments[k:], *back.segments[:k])))
        if back.is_circle:
            points = [(x, y, -b) for x, y, b in points]
        doc.modelspace().add_lwpolyline([*points, points[0]], format="xyb", close=True)
    return doc


def hatched() -> Any:
    """Beside each outline a hatch with the same edges, text and dimensions."""
    doc = polylines()
    msp = doc.modelspace()
    for part in PARTS:
        hatch = msp.add_hatch()
        for loop in part:
            hatch.paths.add_polyline_path(vertices(loop), is_closed=True)
        msp.add_text("side", height=5).set_placement(part[0].bounds[:2])
    msp.add_linear_dim(base=(0, -60), p1=(0, 0), p2=(100, 0)).render()
    return doc


def hatches_only() -> Any:
    doc = document()
    for loop in loops():
        hatch = doc.modelspace().add_hatch()
        hatch.paths.add_polyline_path(vertices(loop), is_closed=True)
    return doc


def layered() -> Any:
    """Outer loops and holes on layers of their own, and construction lines."""
    doc = document()
    msp = doc.modelspace()
    for outer, *holes in PARTS:
        for loop, layer in ((outer, "OutsideCut"), *((h, "INSIDE") for h in holes)):
            for s in loop.segments:
                put(msp, s, layer=layer)
        x0, y0, x1, y1 = outer.bounds
        msp.add_line((x0, y0), (x1, y1), dxfattribs={"layer": "CONSTRUCTION"})
        msp.add_line((x0, y0), (x1, y0), dxfattribs={"layer": "Guides"})
    return doc


def overlapping() -> Any:
    """Lines and arcs drawn in two pieces that overlap by a fifth."""
    doc = document()
    for loop in loops():
        for s in loop.segments:
            if isinstance(s, Arc) and s.is_circle:
                put(doc.modelspace(), s)
            else:
                put(doc.modelspace(), piece(s, 0.0, 0.6))
                put(doc.modelspace(), piece(s, 0.4, 1.0).reversed())
    return doc


def overshooting() -> Any:
    """Straight edges run past their ends by 0.3 mm where another edge is straight."""
    doc = document()
    for loop in loops():
        ring = list(loop.segments)
        straight = all(isinstance(s, Line) for s in ring)
        for s in ring:
            if straight and isinstance(s, Line):
                past = 0.3 / s.length()
                s = Line(s.point_at(-past), s.point_at(1.0 + past))
            put(doc.modelspace(), s)
    return doc


def on_paper() -> Any:
    doc = document()
    paper = doc.paperspace()
    for loop in loops():
        points = [(x, y, b) for x, y, b in vertices(loop)]
        paper.add_lwpolyline(points, format="xyb", close=True)
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
    "turned round": turned_round,
    "hatched": hatched,
    "hatches only": hatches_only,
    "layers": layered,
    "overlapping": overlapping,
    "overshooting": overshooting,
    "on paper": on_paper,
    "feet": lambda: polylines(1 / 304.8, 2),
}


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_gives_the_same_parts(dialect: str, tmp_path: Path) -> None:
    path = tmp_path / "parts.dxf"
    doc = DIALECTS[dialect]()
    doc.saveas(path, fmt="bin" if dialect == "grid" else "asc")
    read = look_at(path)
    check(read)
    curves = {
        type(s) for p in read.parts for loop in p.outline.loops for s in loop.segments
    }
    if dialect != "stretched":
        assert Cubic not in curves
