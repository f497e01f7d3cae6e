"""Reading DXF entity by entity, and the traps a file may hold."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ezdxf import filemanagement

from drystone.io.drawing import Drawing
from drystone.io.limits import Budget, Limits
from drystone.io.read_dxf import read_dxf
from drystone.io.units import told
from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.errors import InputError


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Drawing]:
    def reader(
        fill: Callable[[Any, Any], object], version: str = "R2010", **limits: Any
    ) -> Drawing:
        doc = filemanagement.new(version)
        doc.header["$INSUNITS"] = 4
        fill(doc, doc.modelspace())
        path = tmp_path / "a.dxf"
        doc.saveas(path)
        return read_dxf(path, Budget(str(path), Limits(**limits)))

    return reader


def codes(drawing: Drawing) -> dict[str, int]:
    return {f.code: f.count for f in drawing.findings}


@pytest.mark.parametrize(
    "version", ["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"]
)
@pytest.mark.parametrize("form", ["asc", "bin"])
def test_every_version_ascii_and_binary(
    version: str, form: str, tmp_path: Path
) -> None:
    doc = filemanagement.new(version)
    doc.header["$INSUNITS"] = 1
    doc.modelspace().add_circle((1, 2), 3)
    path = tmp_path / "a.dxf"
    doc.saveas(path, fmt=form)
    drawing = read_dxf(path, Budget("a"))
    (circle,) = drawing.strokes[0].segments
    assert isinstance(circle, Arc) and circle.is_circle
    assert circle.radius == pytest.approx(76.2, abs=1e-9)
    # The oldest version has no place for the unit; 6 units are guessed to be inches.
    assert (drawing.units.unit, drawing.units.sure) == ("in", version != "R12")
    assert not drawing.findings


def test_lines_arcs_and_who_they_are(read: Callable[..., Drawing]) -> None:
    def fill(doc: Any, msp: Any) -> None:
        doc.layers.add("CUT", color=1)
        msp.add_line((0, 0), (10, 0), dxfattribs={"layer": "CUT"})
        msp.add_arc((0, 0), 5, 350, 10)

    line, arc = read(fill).strokes
    assert line.segments == (Line((0, 0), (10, 0)),)
    assert (line.layer, line.colour) == ("CUT", "#ff0000")
    assert line.entity.startswith("LINE ") and line.entity.endswith("on layer CUT")
    assert arc.segments == (Arc((0, 0), 5, 350, 20),)


def test_the_underside_mirrors_what_is_drawn_in_its_own_system(
    read: Callable[..., Drawing],
) -> None:
    # Worked by hand: with extrusion (0, 0, -1), x runs backwards.
    under = {"extrusion": (0, 0, -1)}

    def fill(_: Any, msp: Any) -> None:
        msp.add_circle((10, 5), 1, dxfattribs=under)
        msp.add_arc((0, 0), 2, 0, 90, dxfattribs=under)
        msp.add_lwpolyline([(0, 0, 1), (10, 0, 0)], format="xyb", dxfattribs=under)
        msp.add_line((1, 2), (3, 4), dxfattribs=under)

    circle, arc, bend, line = (s.segments[0] for s in read(fill).strokes)
    assert isinstance(circle, Arc) and circle.centre == pytest.approx((-10, 5))
    assert isinstance(arc, Arc)
    assert arc.start == pytest.approx((-2, 0), abs=1e-12)
    assert arc.end == pytest.approx((0, 2), abs=1e-12)
    assert isinstance(bend, Arc)
    assert bend.start == pytest.approx((0, 0), abs=1e-12)
    assert bend.end == pytest.approx((-10, 0), abs=1e-12)
    assert bend.point_at(0.5) == pytest.approx((-5, -5), abs=1e-12)
    assert line == Line((1, 2), (3, 4))  # lines are drawn in the world's system


def test_insert_by_hand(read: Callable[..., Drawing]) -> None:
    # Base (1, 0), point (2, 0), x scale 2, turned by 90, at (10, 10): (10, 12).
    def fill(doc: Any, msp: Any) -> None:
        block = doc.blocks.new("B", base_point=(1, 0))
        block.add_line((1, 0), (2, 0))
        msp.add_blockref(
            "B", (10, 10), dxfattribs={"xscale": 2, "rotation": 90, "layer": "L"}
        )

    (stroke,) = read(fill).strokes
    assert stroke.segments[0].start == pytest.approx((10, 10))
    assert stroke.segments[0].end == pytest.approx((10, 12))
    assert (stroke.layer, stroke.name) == ("L", "B")


def test_rows_and_columns(read: Callable[..., Drawing]) -> None:
    def fill(doc: Any, msp: Any) -> None:
        doc.blocks.new("B").add_circle((0, 0), 1)
        msp.add_blockref(
            "B",
            (5, 5),
            dxfattribs={
                "column_count": 3,
                "row_count": 2,
                "column_spacing": 10,
                "row_spacing": 20,
                "rotation": 90,
            },
        )

    centres = {
        (round(s.segments[0].centre[0], 6), round(s.segments[0].centre[1], 6))
        for s in read(fill).strokes
        if isinstance(s.segments[0], Arc)
    }
    assert centres == {(5 - 20 * r, 5 + 10 * c) for c in range(3) for r in range(2)}


def test_stretched_arcs_become_cubics_of_the_ellipse(
    read: Callable[..., Drawing],
) -> None:
    def fill(doc: Any, msp: Any) -> None:
        doc.blocks.new("B").add_circle((0, 0), 10)
        msp.add_blockref("B", (0, 0), dxfattribs={"xscale": 2})
        msp.add_ellipse((0, 0), (0, 20), 0.5)

    strokes = read(fill).strokes
    for stroke in strokes:
        assert all(isinstance(s, Cubic) for s in stroke.segments)
        area = sum(s.swept_area() for s in stroke.segments)
        assert area == pytest.approx(200 * math.pi, rel=1e-5)
        assert stroke.closed


def test_an_elliptic_arc_uses_parameters_not_angles(
    read: Callable[..., Drawing],
) -> None:
    def fill(_: Any, msp: Any) -> None:
        msp.add_ellipse((0, 0), (10, 0), 0.5, math.pi / 4, math.pi / 2)

    (stroke,) = read(fill).strokes
    half = math.sqrt(0.5)
    assert stroke.segments[0].start == pytest.approx((10 * half, 5 * half))
    assert stroke.segments[-1].end == pytest.approx((0, 5), abs=1e-9)


def test_splines_by_control_and_by_fit_points(read: Callable[..., Drawing]) -> None:
    def fill(_: Any, msp: Any) -> None:
        msp.add_open_spline([(0, 0), (10, 20), (20, -20), (30, 0)], degree=3)
        msp.add_spline([(0, 0), (10, 10), (20, 0), (30, 10)])
        msp.add_rational_spline([(0, 0), (10, 0), (10, 10)], [1, 0.5**0.5, 1], degree=2)

    exact, fitted, arc = read(fill).strokes
    assert exact.segments == (Cubic((0, 0), (10, 20), (20, -20), (30, 0)),)
    ends = [s.start for s in fitted.segments] + [fitted.segments[-1].end]
    for point in [(0, 0), (10, 10), (20, 0), (30, 10)]:
        assert min(math.dist(point, e) for e in ends) < 1e-9
    (bend,) = arc.segments
    assert isinstance(bend, Arc)
    assert bend.radius == pytest.approx(10.0, abs=1e-9)
    assert bend.centre == pytest.approx((0, 10), abs=1e-9)


def test_what_is_not_read_is_counted(read: Callable[..., Drawing]) -> None:
    def fill(doc: Any, msp: Any) -> None:
        msp.add_text("hello")
        msp.add_mtext("hello")
        msp.add_point((0, 0))
        msp.add_3dface([(0, 0), (1, 0), (1, 1), (0, 1)])
        msp.add_hatch().paths.add_polyline_path([(0, 0), (5, 0), (5, 5)])
        msp.add_xline((0, 0), (1, 0))
        msp.add_linear_dim(base=(0, 2), p1=(0, 0), p2=(3, 0)).render()
        msp.add_circle((0, 0), 5)
        doc.layers.add("OFF").off()
        doc.layers.add("COLD").freeze()
        msp.add_circle((0, 0), 5, dxfattribs={"layer": "OFF"})
        msp.add_circle((0, 0), 5, dxfattribs={"layer": "COLD"})
        msp.add_circle((0, 0), 5, dxfattribs={"invisible": 1})
        doc.layout("Layout1").add_line((0, 0), (1, 1))
        msp.add_line((3, 3), (3, 3))

    drawing = read(fill)
    assert len(drawing.strokes) == 1
    assert codes(drawing) == {
        "dxf-text": 2,
        "dxf-point": 1,
        "dxf-3d": 1,
        "dxf-fill": 1,
        "dxf-endless": 1,
        "dxf-dimension": 1,
        "dxf-layer-off": 2,
        "dxf-invisible": 1,
        "dxf-paper-space": 1,
        "dxf-no-length": 1,
    }


def test_paper_space_and_fills_are_read_when_there_is_nothing_else(
    read: Callable[..., Drawing],
) -> None:
    paper = read(lambda doc, _: doc.layout("Layout1").add_circle((0, 0), 50))
    assert codes(paper) == {"dxf-paper-space-read": 1}
    assert len(paper.strokes) == 1

    def fill(_: Any, msp: Any) -> None:
        hatch = msp.add_hatch()
        hatch.paths.add_polyline_path([(0, 0), (50, 0, 1), (50, 50), (0, 50)])
        edges = hatch.paths.add_edge_path()
        edges.add_arc((20, 20), 5, 0, 360)
        edges.add_line((1, 1), (2, 2))
        msp.add_solid([(100, 0), (150, 0), (100, 50), (150, 50)])

    filled = read(fill)
    assert codes(filled) == {"dxf-fill-read": 3}
    assert len(filled.strokes) == 4
    # A filled face lists its corners crosswise; its edge does not cross itself.
    corners = [s.start for s in filled.strokes[-1].segments]
    assert corners == [(100, 0), (150, 0), (150, 50), (100, 50)]


@pytest.mark.parametrize(
    "fill",
    [
        lambda _, msp: msp.add_circle((math.nan, 0), 5),
        lambda _, msp: msp.add_circle((0, 0), math.nan),
        lambda _, msp: msp.add_circle((0, 0), 1e308),
        lambda _, msp: msp.add_circle((0, 0), math.inf),
        lambda _, msp: msp.add_arc((0, 0), 1e308, 0, 90),
        lambda _, msp: msp.add_line((1e300, 0), (0, 0)),
        lambda _, msp: msp.add_line((math.nan, 0), (0, 0)),
        lambda _, msp: msp.add_ellipse((0, 0), (1e300, 0), 0.5),
        lambda _, msp: msp.add_lwpolyline([(0, 0), (1e300, 0), (5, 5)]),
        lambda _, msp: msp.add_lwpolyline([(0, 0, math.nan), (1, 0, 0)], format="xyb"),
        lambda _, msp: msp.add_lwpolyline([(0, 0, 1e300), (1, 0, 0)], format="xyb"),
        lambda _, msp: msp.add_open_spline([(0, 0), (1, math.nan), (2, 0), (3, 0)]),
        lambda _, msp: msp.add_spline([(0, 0), (math.inf, 0), (2, 0)]),
    ],
)
def test_numbers_that_are_none_or_too_large_are_left_out(
    read: Callable[..., Drawing], fill: Callable[[Any, Any], object]
) -> None:
    drawing = read(fill)
    assert drawing.strokes == ()
    assert codes(drawing) == {"dxf-out-of-range": 1}


@pytest.mark.parametrize("scale", ["xscale", "yscale"])
def test_zero_scale_is_taken_as_one(read: Callable[..., Drawing], scale: str) -> None:
    def fill(doc: Any, msp: Any) -> None:
        doc.blocks.new("B").add_circle((0, 0), 5)
        msp.add_blockref("B", (0, 0)).dxf.set(scale, 0.0)

    # ezdxf 1.4 mends a scale of 0 to 1 while it loads; nothing collapses.
    (stroke,) = read(fill).strokes
    assert stroke.segments == (Arc((0, 0), 5, 0, 360),)


def test_z_scale_zero_is_no_harm(read: Callable[..., Drawing]) -> None:
    def fill(doc: Any, msp: Any) -> None:
        doc.blocks.new("B").add_circle((0, 0, 7), 5)
        msp.add_blockref("B", (0, 0), dxfattribs={"zscale": 0.0})

    drawing = read(fill)
    assert len(drawing.strokes) == 1
    assert set(codes(drawing)) <= {"dxf-elevation"}


def test_a_block_that_contains_itself(read: Callable[..., Drawing]) -> None:
    def fill(doc: Any, msp: Any) -> None:
        a, b = doc.blocks.new("A"), doc.blocks.new("B")
        a.add_blockref("B", (1, 0))
        b.add_blockref("A", (1, 0))
        b.add_circle((0, 0), 5)
        msp.add_blockref("A", (0, 0))

    drawing = read(fill)
    assert len(drawing.strokes) == 1
    assert codes(drawing) == {"dxf-block-cycle": 1}


def test_a_block_bomb_is_stopped(read: Callable[..., Drawing]) -> None:
    def fill(doc: Any, msp: Any) -> None:
        doc.blocks.new("B0").add_circle((0, 0), 5)
        for n in range(1, 30):
            block = doc.blocks.new(f"B{n}")
            for x in range(10):
                block.add_blockref(f"B{n - 1}", (x, 0))
        msp.add_blockref("B29", (0, 0))

    with pytest.raises(InputError, match=r"more than 20,000 entities"):
        read(fill, entities=20_000)


def test_a_grid_bomb_is_stopped(read: Callable[..., Drawing]) -> None:
    def fill(doc: Any, msp: Any) -> None:
        doc.blocks.new("B")
        insert = msp.add_blockref("B", (0, 0))
        insert.grid(size=(30_000, 30_000), spacing=(1, 1))

    with pytest.raises(InputError, match="entities"):
        read(fill, entities=20_000)


def test_blocks_nested_too_deep(read: Callable[..., Drawing]) -> None:
    def fill(doc: Any, msp: Any) -> None:
        doc.blocks.new("B0").add_circle((0, 0), 5)
        for n in range(1, 100):
            doc.blocks.new(f"B{n}").add_blockref(f"B{n - 1}", (0, 0))
        msp.add_blockref("B99", (0, 0))

    with pytest.raises(InputError, match="nested more than"):
        read(fill)


def test_heights_slants_and_tilts(read: Callable[..., Drawing]) -> None:
    def fill(_: Any, msp: Any) -> None:
        msp.add_line((0, 0, 5), (10, 0, 5))
        msp.add_line((0, 0, 0), (10, 0, 5))
        msp.add_circle((0, 0), 5, dxfattribs={"extrusion": (1, 0, 0)})
        msp.add_polyline3d([(0, 0, 1), (10, 0, 1), (10, 10, 1)], close=True)

    drawing = read(fill)
    assert codes(drawing) == {"dxf-elevation": 2, "dxf-slanted": 1, "dxf-tilted": 1}
    assert [len(s.segments) for s in drawing.strokes] == [1, 1, 3]


def test_a_spline_fitted_polyline_leaves_its_frame_out(
    read: Callable[..., Drawing],
) -> None:
    def fill(_: Any, msp: Any) -> None:
        line = msp.add_polyline2d([(0, 0), (5, 50), (10, 0), (20, 0)])
        line.dxf.flags = line.dxf.flags | 4
        line.vertices[1].dxf.flags = 16

    (stroke,) = read(fill).strokes
    assert [s.end for s in stroke.segments] == [(10, 0), (20, 0)]


def test_meshes_are_no_outlines(read: Callable[..., Drawing]) -> None:
    assert codes(read(lambda _, msp: msp.add_polymesh((3, 3)))) == {"dxf-3d": 1}


def test_a_missing_and_an_external_block(read: Callable[..., Drawing]) -> None:
    def fill(doc: Any, msp: Any) -> None:
        msp.add_blockref("NOWHERE", (0, 0))
        doc.add_xref_def(filename="other.dxf", name="OTHER")
        msp.add_blockref("OTHER", (0, 0))

    assert codes(read(fill)) == {"dxf-block-missing": 1, "dxf-external": 1}


def test_the_users_unit_overrules_the_header(tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    doc.modelspace().add_line((0, 0), (10, 0))
    path = tmp_path / "a.dxf"
    doc.saveas(path)
    drawing = read_dxf(path, Budget("a"), told("in"))
    assert drawing.strokes[0].segments == (Line((0, 0), (254, 0)),)
    assert drawing.units.basis == "told"


MINIMAL = "0\nSECTION\n2\nENTITIES\n{}0\nENDSEC\n0\nEOF\n"
CIRCLE = "0\nCIRCLE\n8\n0\n10\n1.0\n20\n2.0\n40\n30.0\n"


@pytest.mark.parametrize(
    ("text", "finding"),
    [
        (MINIMAL.format(CIRCLE), None),
        (MINIMAL.format(CIRCLE).replace("\n", "\r\n"), None),
        ("999\nmade by hand\n" + MINIMAL.format(CIRCLE), None),
        (MINIMAL.format("999\nnote\n" + CIRCLE), None),
        (MINIMAL.format(CIRCLE).replace("30.0", "3.0E+1"), None),
        (MINIMAL.format(CIRCLE + CIRCLE)[:-30], "dxf-cut-short"),
    ],
    ids=["minimal", "crlf", "comment", "comment inside", "exponent", "cut short"],
)
def test_files_written_by_hand(text: str, finding: str | None, tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    path.write_bytes(text.encode())
    drawing = read_dxf(path, Budget("a"))
    assert len(drawing.strokes) == 1
    found = [f.code for f in drawing.findings]
    assert (finding in found) if finding else not found
    assert not drawing.units.sure


@pytest.mark.parametrize(
    "text",
    [
        "0\nSECTION\n2\nENTITIES\n0\nLINE\n<<<<<<< ours\n10\n0\n=======\n>>>>>>> x\n",
        "0\nSECTION\n2\nEN",
        "0\nSECTION\nhello\nworld\nthis\nis\nno\ndxf\n",
        MINIMAL.format("0\nCIRCLE\n8\n0\n10\nabc\n20\n1\n40\n5\n"),
    ],
    ids=["merge marks", "stump", "prose", "letters for numbers"],
)
def test_broken_files_end_in_one_sentence_or_a_finding(
    text: str, tmp_path: Path
) -> None:
    path = tmp_path / "a.dxf"
    path.write_text(text)
    try:
        drawing = read_dxf(path, Budget("a"))
    except InputError as error:
        assert "\n" not in str(error)
        if "<<<<" in text:
            assert "unfinished merge" in str(error)
    else:
        assert drawing.findings


def test_what_does_not_belong_among_entities_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    path.write_text(MINIMAL.format("0\n=1+1\n" + CIRCLE))
    drawing = read_dxf(path, Budget("a"))
    assert len(drawing.strokes) == 1
    assert {f.code for f in drawing.findings} <= {"dxf-bad-entity", "dxf-other"}


@pytest.mark.parametrize("bulge", [1e-9, 1e-7, 1e-6, 1e-5, 2e-5])
def test_edges_that_are_nearly_straight_are_kept(
    bulge: float, read: Callable[..., Drawing]
) -> None:
    # Rounding leaves such bulges on straight edges; the arc's middle is far away.
    points = [(0, 0, bulge), (3000, 0, 0), (3000, 900, -bulge), (0, 900, 0)]
    drawing = read(lambda _, msp: msp.add_lwpolyline(points, format="xyb", close=True))
    (stroke,) = drawing.strokes
    assert stroke.closed and len(stroke.segments) == 4
    for segment, (x, y, _) in zip(stroke.segments, points, strict=True):
        assert segment.start == pytest.approx((x, y), abs=1e-6)
    middle = stroke.segments[0].point_at(0.5)
    assert middle == pytest.approx((1500, -1500 * bulge), abs=1e-6)


def test_a_flat_arc_is_kept_though_its_middle_is_far_out(
    read: Callable[..., Drawing],
) -> None:
    radius = 5e8
    drawing = read(lambda _, msp: msp.add_arc((0, radius), radius, 269.9999, 270.0001))
    (segment,) = drawing.strokes[0].segments
    assert isinstance(segment, Arc)
    reach = radius * math.radians(1e-4)
    assert segment.start == pytest.approx(
        (-reach, reach * reach / radius / 2), abs=1e-4
    )


def test_a_filled_area_apart_from_all_lines_is_read(tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    msp.add_lwpolyline([(0, 0), (100, 0), (100, 50), (0, 50)], close=True)
    for x in (10, 200):  # one shades a part of the plate, one is drawn in no other way
        hatch = msp.add_hatch()
        hatch.paths.add_polyline_path([(x, 0), (x + 80, 0), (x + 80, 60), (x, 60)])
    msp.add_solid([(400, 0), (404, 1), (404, -1)])  # the head of an arrow
    doc.saveas(tmp_path / "a.dxf")
    drawing = read_dxf(tmp_path / "a.dxf", Budget("a"))
    assert len(drawing.strokes) == 2
    assert {f.code: f.count for f in drawing.findings} == {
        "dxf-fill": 2,
        "dxf-fill-read": 1,
    }
