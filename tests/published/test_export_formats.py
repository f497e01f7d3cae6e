"""Exported numbers against tables and formulas from outside the project."""

from __future__ import annotations

import io
import math
import xml.etree.ElementTree as ElementTree
from typing import Any

import pytest
import svgelements
from ezdxf.filemanagement import read

from drystone.io.write_dxf import blank_dxf, polyline_vertices
from drystone.io.write_svg import blank_svg
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment
from drystone.nesting.model.job import Cutting, Datum, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock


def job_of(
    *loops: Loop, placement: Placement, datum: Datum = Datum.LOWER_LEFT, marks: Any = ()
) -> Job:
    part = Part("p", "p & <q>", Outline(loops[0], tuple(loops[1:])), tuple(marks))
    stock = (Stock("s", "sheet", Outline(Loop.rectangle(600, 400))),)
    return Job("j", (part,), stock, Cutting(datum=datum),
               layout=Layout((Blank("s"),), (placement,)))  # fmt: skip


def entities(job: Job, layer: str) -> list[Any]:
    document = read(io.StringIO(blank_dxf(job, 0).decode()))
    return [e for e in document.modelspace() if e.dxf.layer == layer]


AT = Placement("p", 1, 0, 100.0, 50.0)


@pytest.mark.parametrize(
    ("sweep", "bulge"),
    # The published DXF reference: the tangent of a quarter of the included angle,
    # negative for clockwise, 1 for a semicircle.
    [
        (180.0, 1.0),
        (90.0, math.sqrt(2) - 1),
        (-180.0, -1.0),
        (4 * math.degrees(math.atan(0.5)), 0.5),
    ],
)
def test_bulges_follow_the_dxf_reference(sweep: float, bulge: float) -> None:
    arc = Arc((0.0, 0.0), 5.0, 0.0, sweep)
    vertices = polyline_vertices((arc, Line(arc.end, arc.start)), True)
    assert vertices is not None
    assert vertices[0][2] == pytest.approx(bulge, abs=1e-15)


def test_the_header_says_mm_metric_and_2010() -> None:
    """$INSUNITS 4 is mm, $MEASUREMENT 1 metric, AC1024 is 2010: the DXF reference."""
    text = blank_dxf(job_of(Loop.circle(0, 0, 5), placement=AT), 0).decode()
    document = read(io.StringIO(text))
    assert document.header["$INSUNITS"] == 4
    assert document.header["$MEASUREMENT"] == 1
    assert document.dxfversion == "AC1024"
    assert not document.audit().has_issues


def test_a_circle_stays_a_circle_to_the_last_bit() -> None:
    (circle,) = entities(
        job_of(Loop.circle(1 / 3, 2 / 3, 17.3), placement=AT), "OUTSIDE"
    )
    assert circle.dxftype() == "CIRCLE"
    assert circle.dxf.radius == 17.3
    assert tuple(circle.dxf.center) == (100.0 + 1 / 3, 50.0 + 2 / 3, 0.0)


@pytest.mark.parametrize(
    ("datum", "origin"),
    [
        (Datum.LOWER_LEFT, (0.0, 0.0)),
        (Datum.LOWER_RIGHT, (600.0, 0.0)),
        (Datum.UPPER_LEFT, (0.0, 400.0)),
        (Datum.UPPER_RIGHT, (600.0, 400.0)),
        (Datum.CENTRE, (300.0, 200.0)),
    ],
)
def test_coordinates_count_from_the_datum(
    datum: Datum, origin: tuple[float, float]
) -> None:
    (circle,) = entities(
        job_of(Loop.circle(0, 0, 5), placement=AT, datum=datum), "OUTSIDE"
    )
    assert circle.dxf.center[0] == 100.0 - origin[0]
    assert circle.dxf.center[1] == 50.0 - origin[1]


def test_a_spline_keeps_its_control_points_and_is_the_bezier() -> None:
    """A Bézier is a B-spline with full knots at its ends (de Boor, 1978)."""
    curves: tuple[Segment, ...] = (
        Cubic((0.0, 0.0), (10.0, -20.0), (30.0, -20.0), (40.0, 0.0)),
        Cubic((40.0, 0.0), (50.0, 20.0), (-10.0, 20.0), (0.0, 0.0)),
    )
    turned = Placement("p", 1, 0, 100.0, 50.0, 30.0)
    (spline,) = entities(job_of(Loop(curves), placement=turned), "OUTSIDE")
    assert spline.dxftype() == "SPLINE"
    assert list(spline.knots) == [0.0] * 4 + [1.0] * 3 + [2.0] * 4
    moved = Loop(curves).moved(turned.motion).segments
    wanted = [moved[0].start] + [
        point for c in moved if isinstance(c, Cubic) for point in (c.p1, c.p2, c.p3)
    ]
    for point, (x, y) in zip(spline.control_points, wanted, strict=True):
        assert math.dist(list(point)[:2], (x, y)) <= 1e-9
    curve = spline.construction_tool()
    for t in (0.0, 0.3, 0.77, 1.0, 1.5, 1.999):
        piece = moved[min(int(t), 1)]
        assert math.dist(list(curve.point(t))[:2], piece.point_at(t - int(t))) < 1e-9


def test_an_arc_that_a_bulge_would_blur_is_an_arc() -> None:
    """Half a micrometre off between two segments: the arc's own numbers are kept."""
    arc = Arc((0.0, 0.0), 50.0, 0.0, 10.0)
    x, y = arc.end
    loop = Loop((arc, Line((x + 5e-7, y), (0.0, 0.0)), Line((0.0, 0.0), arc.start)))
    kinds = {e.dxftype(): e for e in entities(job_of(loop, placement=AT), "OUTSIDE")}
    assert kinds.keys() == {"ARC", "LINE"}
    assert kinds["ARC"].dxf.radius == 50.0


def test_every_layer_is_there_and_colours_differ() -> None:
    document = read(
        io.StringIO(blank_dxf(job_of(Loop.circle(0, 0, 5), placement=AT), 0).decode())
    )
    names = {"OUTSIDE", "INSIDE", "POCKET", "ENGRAVE", "DRILL", "TAB", "BLANK_EDGE",
             "KEEP_OUT", "TEXT"}  # fmt: skip
    layers = {layer.dxf.name: layer for layer in document.layers}
    assert names <= layers.keys()
    assert len({layers[name].dxf.color for name in names}) == len(names)
    assert len({layers[name].rgb for name in names}) == len(names)


def test_a_second_svg_reader_sees_the_same_curves_in_mm() -> None:
    """svgelements, which shares no code with us, measures areas and places."""
    arcs: tuple[Segment, ...] = (
        Line((0.0, 0.0), (80.0, 0.0)),
        Arc((80.0, 20.0), 20.0, -90.0, 180.0),
        Line((80.0, 40.0), (0.0, 40.0)),
        Arc((0.0, 20.0), 20.0, 90.0, 180.0),
    )
    mark = Mark(Operation.DRILL, Loop.circle(40, 20, 2.5).segments)
    data = blank_svg(job_of(Loop(arcs), placement=AT, marks=(mark,)), 0)
    # At 25.4 px per inch one unit is one mm, but for the reader's 0.0393701 in per mm.
    page = svgelements.SVG.parse(io.BytesIO(data), ppi=25.4)
    (stadium,) = [e for e in page.elements() if e.values.get("data-part") == "p"
                  and isinstance(e, svgelements.Path)]  # fmt: skip
    x0, y0, x1, y1 = stadium.bbox()
    assert (x0, x1) == pytest.approx((80.0, 200.0), rel=1e-6)
    # y runs down from the top of a blank of 400 mm.
    assert (400.0 - y1, 400.0 - y0) == pytest.approx((50.0, 90.0), abs=1e-3)
    points = [stadium.point(n / 4000) for n in range(4000)]
    area = abs(
        sum(
            a.x * b.y - b.x * a.y
            for a, b in zip(points, points[1:] + points[:1], strict=True)
        )
        / 2.0
    )
    # A stadium with straight sides of 80 and radius 20: pi r² + 2 r L.
    assert area == pytest.approx(4456.637061, rel=1e-5)
    (drill,) = [e for e in page.elements() if isinstance(e, svgelements.Circle)]
    assert (drill.cx, drill.cy, drill.rx) == pytest.approx((140.0, 330.0, 2.5))


def test_the_svg_page_is_in_mm_and_names_are_escaped() -> None:
    root = ElementTree.fromstring(
        blank_svg(job_of(Loop.circle(0, 0, 5), placement=AT), 0)
    )
    assert (root.get("width"), root.get("height")) == ("600mm", "400mm")
    assert root.get("viewBox") == "0 0 600 400"
    titles = [e.text for e in root.iter("{http://www.w3.org/2000/svg}title")]
    assert "p & <q> 1" in titles
