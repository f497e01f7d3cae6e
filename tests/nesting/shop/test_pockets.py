"""Pockets with islands: what is cleared, reached and relieved."""

from __future__ import annotations

import math

import pytest

from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.shop.pockets import is_island, pockets_of
from drystone.nesting.shop.reach import standing
from drystone.nesting.shop.relief import relieve

R = 3.0


def pocket(loop: Loop) -> Mark:
    return Mark(Operation.POCKET, loop.segments)


def part_with(*marks: Mark) -> Part:
    return Part("p", "p", Outline(Loop.rectangle(300, 300)), marks)


def test_islands_are_told_by_what_lies_in_what() -> None:
    """A pocket in an island is a pocket again; the order of drawing says nothing."""
    inner = pocket(Loop.circle(100, 100, 10))
    outer = pocket(Loop.rectangle(200, 200, 10, 10))
    island = pocket(Loop.rectangle(60, 60, 70, 70).reversed())
    beside = pocket(Loop.rectangle(40, 40, 230, 230))
    drill = Mark(Operation.DRILL, Loop.circle(20, 20, 3).segments)
    part = part_with(inner, drill, outer, island, beside)
    assert [is_island(part, i) for i in range(5)] == [False, False, False, True, False]
    found = pockets_of(part)
    assert [(p.mark, p.islands) for p in found] == [
        (inner, ()),
        (outer, (island,)),
        (beside, ()),
    ]
    assert found[1].region().area == pytest.approx(40_000 - 3_600)


def test_pockets_that_overlap_are_two_pockets() -> None:
    a, b = pocket(Loop.rectangle(50, 50)), pocket(Loop.rectangle(40, 40, 30, 10))
    assert [p.islands for p in pockets_of(part_with(a, b))] == [(), ()]


def test_a_cutter_too_wide_to_pass_an_island_is_told() -> None:
    """Five mm between island and wall on one side: 4.9 goes round, 6 does not."""
    outer = pocket(Loop.rectangle(100, 100, 10, 10))
    island = pocket(Loop.rectangle(50, 50, 15, 35))
    part = part_with(outer, island)
    narrow = [s for s in standing(part, 4.9) if s.area > 50.0]
    blocked = [s for s in standing(part, 6.0) if s.area > 50.0]
    assert narrow == []
    assert len(blocked) == 1
    assert 10 <= blocked[0].place[0] <= 15
    assert 35 <= blocked[0].place[1] <= 85


def test_an_island_is_relieved_on_its_own_inside_corners() -> None:
    """A square island has none; an L has one. The pocket round it has four."""
    outer = pocket(Loop.rectangle(200, 200, 10, 10))
    square = pocket(Loop.rectangle(50, 50, 60, 60))
    result = relieve(part_with(outer, square), 2 * R)
    assert len(result.done) == 4
    assert result.part.marks[1] is square
    points = [(60, 60), (120, 60), (120, 80), (80, 80), (80, 120), (60, 120)]
    ell = pocket(Loop.polygon(points))
    result = relieve(part_with(outer, ell), 2 * R)
    assert len(result.done) == 5
    assert (80.0, 80.0) in result.done
    # The circle is cut into the island: it gets smaller, as the pocket gets larger.
    taken = Loop(ell.segments).area - Loop(result.part.marks[1].segments).area
    assert taken == pytest.approx((math.pi / 2 - 1) * R * R, rel=1e-6)
