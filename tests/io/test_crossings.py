"""Outlines drawn with lines that run past their corners."""

from __future__ import annotations

from pathlib import Path

import pytest
from ezdxf import filemanagement

from drystone.io.crossings import cut_at_crossings
from drystone.io.drawing import Stroke
from drystone.io.limits import Budget
from drystone.io.read_drawing import look_at
from drystone.nesting.model.curve import Arc, Line


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
