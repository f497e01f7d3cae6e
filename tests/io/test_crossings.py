"""Outlines drawn with lines that run past their corners."""

from __future__ import annotations

import math
import random
import tracemalloc
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from ezdxf import filemanagement

from drystone.io import crossings
from drystone.io.crossings import cut_at_crossings
from drystone.io.drawing import Stroke
from drystone.io.limits import Budget
from drystone.io.read_drawing import ReadDrawing, look_at
from drystone.io.split import nearest, piece
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment


def lines(*ends: tuple[float, float, float, float]) -> list[Stroke]:
    return [Stroke((Line((a, b), (c, d)),)) for a, b, c, d in ends]


def test_a_cross_is_cut_in_four() -> None:
    pieces, count = cut_at_crossings(lines((0, 5, 10, 5), (5, 0, 5, 10)), Budget("a"))
    assert count == 2
    assert {p.segments[0].length() for p in pieces} == {5.0}


def test_an_end_on_a_line_cuts_that_line_only() -> None:
    pieces, count = cut_at_crossings(lines((0, 0, 10, 0), (4, 0, 4, 8)), Budget("a"))
    assert count == 1
    assert sorted(p.segments[0].length() for p in pieces) == [4, 6, 8]


def test_parallel_lines_and_corners_are_left() -> None:
    drawn = lines((0, 0, 10, 0), (0, 1, 10, 1), (10, 0, 10, 9), (10, 0, 18, 0))
    assert cut_at_crossings(drawn, Budget("a"))[1] == 1  # (10, 1) on the upright


def test_an_outline_of_overshooting_lines_is_found(tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    for a, b in (
        ((-5, 0), (105, 0)),
        ((-5, 60), (105, 60)),
        ((0, -5), (0, 65)),
        ((100, -5), (100, 65)),
    ):
        msp.add_line(a, b)
    path = tmp_path / "a.dxf"
    doc.saveas(path)
    read = look_at(path)
    (part,) = read.parts
    assert part.area == pytest.approx(6000)
    codes = {f.code: f.count for f in read.findings}
    assert codes["lines-crossed"] == 8
    assert codes["stray-line"] == 4  # two ends that run past each corner


def test_lines_that_lie_on_each_other_are_cut_at_each_others_ends() -> None:
    drawn = lines((0, 0, 60, 0), (100, 0, 40, 0), (70, 0, 70, 30))
    pieces, count = cut_at_crossings(drawn, Budget("a"), overlaps=True)
    assert count == 2
    assert sorted(p.segments[0].length() for p in pieces) == [20, 20, 30, 40, 40]


def test_a_side_drawn_as_two_overlapping_lines(tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    for a, b in (
        ((0, 0), (60, 0)),
        ((100, 0), (40, 0)),
        ((100, 0), (100, 50)),
        ((100, 50), (0, 50)),
        ((0, 50), (0, 0)),
    ):
        msp.add_line(a, b)
    msp.add_circle((50, 25), 10)  # closed on its own
    path = tmp_path / "a.dxf"
    doc.saveas(path)
    read = look_at(path)
    (part,) = read.parts
    assert part.outline.outer.area == pytest.approx(5000)
    assert len(part.outline.holes) == 1
    assert "line-doubled" in {f.code for f in read.findings}


def test_without_two_lines_there_is_nothing_to_cut() -> None:
    for drawn in ([], [Stroke((Arc((0, 0), 5, 0, 90),))], lines((0, 0, 1, 0))):
        assert cut_at_crossings(drawn, Budget("a")) == (drawn, 0)


# --- curves ---


def strokes(*segments: Segment) -> list[Stroke]:
    return [Stroke((segment,)) for segment in segments]


def kinds(pieces: Sequence[Stroke]) -> list[type[Segment]]:
    return [type(p.segments[0]) for p in pieces]


def test_a_line_cuts_an_arc_into_arcs() -> None:
    # y = 8 crosses the circle of radius 10 at x = ±6.
    half = Arc((0, 0), 10, 0, 180)
    pieces, count = cut_at_crossings(
        strokes(half, Line((-20, 8), (20, 8))), Budget("a")
    )
    assert count == 4
    assert kinds(pieces) == [Arc, Arc, Arc, Line, Line, Line]
    arcs = [p.segments[0] for p in pieces[:3]]
    assert all(isinstance(a, Arc) and a.radius == 10 for a in arcs)
    assert arcs[0].end == pytest.approx((6, 8))
    assert arcs[1].end == pytest.approx((-6, 8))
    assert sum(a.length() for a in arcs) == pytest.approx(half.length())


def test_arcs_cut_each_other() -> None:
    # Circles of radius 5 about (0, 0) and (6, 0) cross at (3, ±4).
    pieces, count = cut_at_crossings(
        strokes(Arc((0, 0), 5, -90, 180), Arc((6, 0), 5, 90, 180)), Budget("a")
    )
    assert count == 4 and kinds(pieces) == [Arc] * 6
    ends = {tuple(round(v, 6) for v in p.segments[0].end) for p in pieces}
    assert {(3.0, 4.0), (3.0, -4.0)} <= ends


def test_a_line_that_touches_an_arc_cuts_it_there() -> None:
    pieces, count = cut_at_crossings(
        strokes(Arc((0, 0), 10, 0, 180), Line((-30, 10), (30, 10))), Budget("a")
    )
    assert count == 2
    assert pieces[0].segments[0].end == pytest.approx((0, 10), abs=1e-6)
    apart, none = cut_at_crossings(
        strokes(Arc((0, 0), 10, 0, 180), Line((-30, 10.01), (30, 10.01))), Budget("a")
    )
    assert none == 0 and len(apart) == 2


def test_a_cubic_is_cut_and_stays_one() -> None:
    cubic = Cubic((0, 0), (0, 40), (60, 40), (60, 0))  # top at y = 30, in the middle
    pieces, count = cut_at_crossings(
        strokes(cubic, Line((30, -5), (30, 50))), Budget("a")
    )
    assert count == 2 and kinds(pieces) == [Cubic, Cubic, Line, Line]
    assert pieces[0].segments[0].end == pytest.approx((30, 30), abs=1e-9)
    two, _ = cut_at_crossings(
        strokes(cubic, Cubic((0, 20), (20, 20), (40, 20), (60, 20))), Budget("a")
    )
    assert kinds(two) == [Cubic] * 6


def test_arcs_that_lie_on_each_other_are_read_once(tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    doc.modelspace().add_arc((0, 0), 40, 0, 200)
    doc.modelspace().add_arc((0, 0), 40, 170, 360)
    doc.saveas(tmp_path / "a.dxf")
    read = look_at(tmp_path / "a.dxf")
    (part,) = read.parts
    assert part.area == pytest.approx(math.pi * 1600)
    assert {type(s) for s in part.outline.outer.segments} == {Arc}
    assert {f.code: f.count for f in read.findings} == {"line-doubled": 1}


# --- outlines drawn carelessly ---


def drawn(path: Path, fill: Callable[[Any], None]) -> ReadDrawing:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    fill(doc.modelspace())
    doc.saveas(path)
    return look_at(path)


def count_of(read: ReadDrawing) -> dict[str, int]:
    return {f.code: f.count for f in read.findings}


def careless(msp: Any) -> None:
    """Draw 100 x 60 with lines that run past the corners by up to 0.9 mm."""
    for a, b in (
        ((-0.6, 0), (100.5, 0)),
        ((-0.4, 60), (100.7, 60)),
        ((0, -0.5), (0, 60.6)),
        ((100, -0.9), (100, 60.6)),
    ):
        msp.add_line(a, b)


def test_overshoots_are_trimmed_beside_good_shapes(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        careless(msp)
        msp.add_circle((50, 30), 10)
        msp.add_lwpolyline([(200, 0), (280, 0), (280, 50), (200, 50)], close=True)

    read = drawn(tmp_path / "a.dxf", fill)
    sizes = sorted((*p.outline.size, len(p.outline.holes)) for p in read.parts)
    assert sizes == [(80, 50, 0), (pytest.approx(100), pytest.approx(60), 1)]
    assert count_of(read) == {"lines-crossed": 8, "overshoot": 8}


def test_lines_of_dimensions_make_no_part(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        msp.add_lwpolyline([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
        for x in (0, 120):
            msp.add_line((x, 82), (x, 110))
        for y in (95, 108):
            msp.add_line((0, y), (120, y))

    read = drawn(tmp_path / "a.dxf", fill)
    (part,) = read.parts
    assert part.outline.size == (120, 80)
    assert count_of(read)["lines-enclose"] == 1
    assert count_of(read)["stray-line"] >= 4


def test_an_engraved_grid_is_no_hole(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        msp.add_lwpolyline([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
        for k in range(4):
            msp.add_line((20 + 20 * k, 10), (20 + 20 * k, 70))
            msp.add_line((10, 20 + 12 * k), (110, 20 + 12 * k))

    (part,) = drawn(tmp_path / "a.dxf", fill).parts
    assert len(part.marks) == 8 and not part.outline.holes


def test_a_stadium_whose_lines_and_arcs_run_on(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        msp.add_line((-20, 0), (120, 0))
        msp.add_line((-20, 40), (120, 40))
        msp.add_arc((0, 20), 20, 80, 280)
        msp.add_arc((100, 20), 20, -100, 100)

    (part,) = drawn(tmp_path / "a.dxf", fill).parts
    assert part.area == pytest.approx(100 * 40 + math.pi * 400, rel=1e-6)
    arcs = [s for s in part.outline.outer.segments if isinstance(s, Arc)]
    assert {a.radius for a in arcs} == {20}
    assert sum(abs(a.sweep) for a in arcs) == pytest.approx(360, abs=1e-3)


def test_a_lid_that_ends_a_hair_short(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        msp.add_line((0, 0), (100, 0))
        msp.add_line((0, 0), (0, 60))
        msp.add_line((100, 0), (100, 60))
        msp.add_line((0.01, 55), (99.99, 55))

    read = drawn(tmp_path / "a.dxf", fill)
    (part,) = read.parts
    assert part.outline.size == pytest.approx((100, 55))
    assert count_of(read)["gap-closed"] == 2
    assert count_of(read)["stray-line"] == 2  # the walls go on 5 mm: too far to trim


def test_crossing_shapes_are_told_with_the_place(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        msp.add_circle((0, 0), 25)
        msp.add_circle((30, 0), 25)

    read = drawn(tmp_path / "a.dxf", fill)
    (finding,) = [f for f in read.findings if f.code == "loops-cross"]
    assert finding.place is not None
    assert (finding.place[0], abs(finding.place[1])) == pytest.approx((15, 20), abs=0.1)


def test_cells_that_share_their_edges_make_one_outline(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        for i in range(6):
            for j in range(5):
                msp.add_line((20 * j, 20 * i), (20 * j + 20, 20 * i))
                msp.add_line((20 * i, 20 * j), (20 * i, 20 * j + 20))

    read = drawn(tmp_path / "a.dxf", fill)
    (part,) = read.parts
    assert part.outline.size == (100, 100) and not part.outline.holes
    assert count_of(read)["branch"] == 32


def test_a_window_on_a_spur_is_a_hole(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        corners = [(0, 0), (60, 0), (60, 40), (0, 40), (0, 0)]
        for a, b in pairwise(corners):
            msp.add_line(a, b)
        for a, b in pairwise([(0, 0), (20, 10), (40, 10), (40, 30), (20, 10)]):
            msp.add_line(a, b)

    (part,) = drawn(tmp_path / "a.dxf", fill).parts
    assert len(part.outline.holes) == 1 and len(part.marks) == 1


def test_a_tangle_of_very_many_lines_is_left_in_time(tmp_path: Path) -> None:
    rng = random.Random(1)
    tangle = [
        Line(
            (rng.uniform(0, 1000), rng.uniform(0, 1000)),
            (rng.uniform(0, 1000), rng.uniform(0, 1000)),
        )
        for _ in range(600)
    ]
    pieces, count = cut_at_crossings(strokes(*tangle), Budget("a"))
    assert count == 0 and len(pieces) == 600


def test_a_window_in_a_plate_whose_lines_run_on_is_a_hole(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        msp.add_lwpolyline([(-50, -50), (150, -50), (150, 110), (-50, 110)], close=True)
        careless(msp)

    read = drawn(tmp_path / "a.dxf", fill)
    (part,) = read.parts
    (hole,) = part.outline.holes
    assert hole.area == pytest.approx(6000) and not part.marks
    assert count_of(read) == {"lines-crossed": 8, "overshoot": 8}


def test_long_curves_are_crossed_in_little_memory() -> None:
    far = 20_000.0
    one = Cubic((0.0, 0.0), (3 * far, far), (-2 * far, far), (far, 0.0))
    two = Cubic((0.0, far / 3), (3 * far, -far), (-2 * far, far), (far, far / 2))
    tracemalloc.start()
    try:
        at = crossings._crossings(one, two)
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert len(at) == 4
    assert all(nearest(two, one.point_at(t))[1] <= 1e-6 and 0.0 <= t <= 1.0 for t in at)
    assert most < 20e6  # a matrix of all pairs of chords takes 50 MB at least


def test_lines_of_hardly_any_length_cross_nothing() -> None:
    tiny = Line((0.0, 0.0), (1e-200, 0.0)), Line((0.0, 0.0), (0.0, 1e-200))
    assert crossings._line_line(*tiny) == []
    pairs = crossings.near_pairs([np.array([s.start, s.end]) for s in tiny], 0.1)
    assert pairs is not None


def test_curves_that_run_along_each_other_are_not_crossed_all_along() -> None:
    whole = Cubic((0.0, 0.0), (100.0, 900.0), (900.0, -800.0), (1000.0, 100.0))
    assert len(crossings._crossings(whole, piece(whole, 0.2, 0.8))) < 64
