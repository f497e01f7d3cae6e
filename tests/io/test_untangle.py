"""Loops that meet themselves; areas worked out by hand."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from ezdxf import filemanagement

from drystone.io import untangle as untangling
from drystone.io.limits import Budget
from drystone.io.read_drawing import ReadDrawing, look_at
from drystone.io.untangle import Untangled, untangle
from drystone.nesting.model.curve import Arc, Line, Segment

Points = Sequence[tuple[float, float]]


def closed(*points: tuple[float, float]) -> list[Segment]:
    return [Line(a, b) for a, b in zip(points, [*points[1:], points[0]], strict=True)]


def apart(segments: Sequence[Segment]) -> Untangled:
    found = untangle(segments, Budget("a"))
    assert found is not None
    return found


def areas(found: Untangled) -> list[float]:
    return [abs(math.fsum(s.swept_area() for s in ring)) for ring in found.rings]


def look(path: Path, points: Points, bulges: Sequence[float] = ()) -> ReadDrawing:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    rows: list[Any] = [
        (x, y, bulges[i] if bulges else 0.0) for i, (x, y) in enumerate(points)
    ]
    doc.modelspace().add_lwpolyline(rows, format="xyb", close=True)
    doc.saveas(path)
    return look_at(path)


def found_in(read: ReadDrawing) -> dict[str, int]:
    return {f.code: f.count for f in read.findings}


def test_a_simple_loop_stays() -> None:
    found = apart(closed((0, 0), (10, 0), (10, 10), (0, 10)))
    assert areas(found) == [100.0]
    assert found.clear and not (found.tails or found.spurs or found.meets)


def test_a_bow_tie_is_two_triangles() -> None:
    found = apart(closed((0, 0), (100, 100), (100, 0), (0, 100)))
    assert areas(found) == pytest.approx([2500.0, 2500.0])
    assert found.clear
    (meet,) = found.meets
    assert meet == pytest.approx((50.0, 50.0))


def test_a_slip_at_a_join_is_taken_out() -> None:
    # The last edge crosses the first one 0.5 mm from the corner and comes back.
    found = apart(closed((0, 0), (60, 0), (60, 40), (0.5, 40), (0.5, -0.5), (0, -0.5)))
    assert len(found.rings) == 1
    assert areas(found) == pytest.approx([59.5 * 40])
    (tail,) = found.tails
    assert tail == pytest.approx((0.5, 0.0))


def test_a_way_out_and_back_is_taken_out() -> None:
    found = apart(closed((0, 0), (60, 0), (90, 0), (60, 0), (60, 40), (0, 40)))
    assert areas(found) == [2400.0]
    assert len(found.spurs) == 1
    assert sum(s.length() for s in found.rings[0]) == 200.0


def test_a_bridge_to_a_hole_becomes_a_hole() -> None:
    outer = [(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0), (0.0, 0.0)]
    inner = [(20.0, 10.0), (20.0, 30.0), (40.0, 30.0), (40.0, 10.0), (20.0, 10.0)]
    found = apart(closed(*outer, *inner))
    assert areas(found) == [2400.0, 400.0]
    assert found.clear


def test_twice_round_is_once() -> None:
    square = [(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)]
    found = apart(closed(*square, *square))
    assert areas(found) == [2400.0]
    assert len(found.doubles) == 1


def test_a_five_pointed_star_encloses_nothing_certain() -> None:
    tips = [
        (math.cos(math.radians(a)) * 50, math.sin(math.radians(a)) * 50)
        for a in (90, 234, 18, 162, 306)
    ]
    assert not apart(closed(*tips)).clear


def test_arcs_are_cut_and_stay_arcs() -> None:
    # Two half circles that overrun and cross: a figure of eight of arcs.
    loop: list[Segment] = [
        Line((0, 0), (100, 0)),
        Arc((100, 20), 20, 270, 180),
        Line((100, 40), (50, -0.5)),
        Line((50, -0.5), (0, 0)),
    ]
    found = apart(loop)
    assert found.clear and len(found.rings) == 2
    arcs = [s for ring in found.rings for s in ring if isinstance(s, Arc)]
    assert [(a.radius, a.sweep) for a in arcs] == [(20, 180)]


def test_an_arc_crossed_by_a_line_is_cut_where_it_is_crossed() -> None:
    # The line at y = 8 enters the half circle twice (3-4-5 triangle: x = ±6).
    loop: list[Segment] = [
        Arc((0, 0), 10, 0, 180),
        Line((-10, 0), (-10, 8)),
        Line((-10, 8), (20, 8)),
        Line((20, 8), (20, 0)),
        Line((20, 0), (10, 0)),
    ]
    found = apart(loop)
    ends = {
        (round(s.start[0], 9), round(s.start[1], 9)) for r in found.rings for s in r
    }
    assert {(6.0, 8.0), (-6.0, 8.0)} <= ends
    sweeps = sum(s.sweep for r in found.rings for s in r if isinstance(s, Arc))
    assert sweeps == pytest.approx(180.0)


def test_what_is_too_long_is_left() -> None:
    points = [(i * 0.1, math.sin(i / 50.0)) for i in range(5100)]
    assert untangle(closed(*points), Budget("a")) is None


# --- through the whole reader ---


def test_a_bow_tie_is_split_and_reported(tmp_path: Path) -> None:
    read = look(tmp_path / "a.dxf", [(0, 0), (100, 100), (100, 0), (0, 100)])
    assert [p.area for p in read.parts] == pytest.approx([2500.0, 2500.0])
    (finding,) = [f for f in read.findings if f.code == "loop-split"]
    assert finding.place == pytest.approx((50.0, 50.0))
    assert not finding.fixed


def test_a_slip_at_a_join_is_mended_and_reported(tmp_path: Path) -> None:
    points = [(0, 0), (60, 0), (60, 40), (0.5, 40), (0.5, -0.5), (0, -0.5)]
    read = look(tmp_path / "a.dxf", points)
    (part,) = read.parts
    assert part.outline.size == pytest.approx((59.5, 40.0))
    assert found_in(read) == {"tail-loop": 1}
    assert read.findings[0].fixed


def test_a_whisker_is_no_slot(tmp_path: Path) -> None:
    points = [(0, 0), (60, 0), (90, 0), (60, 0), (60, 40), (0, 40)]
    read = look(tmp_path / "a.dxf", points)
    (part,) = read.parts
    assert part.outline.size == (60.0, 40.0)
    assert part.outline.length == pytest.approx(200.0)
    assert found_in(read) == {"spur": 1}


def test_a_hole_on_a_bridge_is_a_hole(tmp_path: Path) -> None:
    outer = [(0, 0), (60, 0), (60, 40), (0, 40), (0, 0)]
    inner = [(20, 10), (20, 30), (40, 30), (40, 10), (20, 10)]
    read = look(tmp_path / "a.dxf", [*outer, *inner])
    (part,) = read.parts
    assert len(part.outline.holes) == 1
    assert part.area == pytest.approx(2000.0)


def test_a_star_is_refused_with_the_place(tmp_path: Path) -> None:
    tips = [
        (math.cos(math.radians(a)) * 50, math.sin(math.radians(a)) * 50)
        for a in (90, 234, 18, 162, 306)
    ]
    read = look(tmp_path / "a.dxf", tips)
    assert not read.parts
    (finding,) = [f for f in read.findings if f.code == "self-crossing"]
    assert finding.place is not None
    # one of the five crossings, all on a circle about the middle
    inner = 50 * math.cos(math.radians(72)) / math.cos(math.radians(36))
    assert math.hypot(*finding.place) == pytest.approx(inner, rel=1e-3)


def test_a_loop_that_only_runs_to_and_fro_encloses_nothing() -> None:
    found = apart(closed((0, 0), (90, 0), (40, 0), (60, 0)))
    assert not found.rings
    assert found.spurs


def test_a_ring_too_small_for_corners_is_clear_of_others() -> None:
    speck = (Line((5.0, 5.0), (5.0 + 1e-9, 5.0)), Line((5.0 + 1e-9, 5.0), (5.0, 5.0)))
    box = tuple(closed((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0)))
    assert untangling._clear([(81.0, box), (0.0, speck)])
    assert not untangling._same(box, speck)
