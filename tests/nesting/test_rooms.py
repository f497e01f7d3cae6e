"""A job as the engine sees it: grown shapes, allowed turns, usable rooms."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.rooms import (
    Arrangement,
    Board,
    Problem,
    problems,
    to_layout,
    usable_area,
)
from drystone.nesting.verify import polygon_of

CUT = Cutting(cutter=6.0, allowance=2.0, margin=10.0)
ELL = [(0.0, 0.0), (90.0, 0.0), (90.0, 20.0), (20.0, 20.0), (20.0, 180.0), (0.0, 180.0)]


def sheet(**more: object) -> Stock:
    outline = Outline(Loop.rectangle(1000, 600))
    return Stock("s", "s", outline, **more)  # type: ignore[arg-type]


def one_problem(part: Part, *stock: Stock, cutting: Cutting = CUT) -> Problem:
    (problem,) = problems(Job("t", (part,), stock or (sheet(),), cutting))
    return problem


@pytest.mark.parametrize("flipped", [False, True])
@pytest.mark.parametrize(
    "outline",
    [
        Outline(Loop.polygon(ELL)),
        Outline(Loop.circle(30, 40, 55), (Loop.circle(30, 40, 48),)),
        Outline(Loop.polygon([(0, 0), (300, 120), (290, 145), (-10, 25)])),
    ],
)
def test_a_shape_at_a_place_contains_the_grown_part_there(
    outline: Outline, flipped: bool
) -> None:
    """Whatever the variant, free of overlap must mean a gap apart."""
    part = Part("a", "a", outline, flip=flipped)
    problem = one_problem(part)
    store = problem.store
    for v in problem.kinds[0].variants[0]:
        placement = problem.placement(0, 1, 0, v, 321.0, 234.5)
        rings = [ring + np.array([321.0, 234.5]) for ring in store.turned_shapes[v]]
        shape = shapely.Polygon(rings[0], rings[1:])
        true = polygon_of(outline, placement.motion).buffer(CUT.gap / 2, quad_segs=32)
        assert true.difference(shape.buffer(3e-4)).area < 1e-6
        # The ring's hole is filled: nothing in the order is small enough for it.
        assert shape.area < shapely.Polygon(true.exterior).area * 1.05


def test_turns_follow_the_rule_and_the_grain_of_each_stock() -> None:
    part = Part("a", "a", Outline(Loop.polygon(ELL)), turn=TurnRule.parse("grain"))
    long = Stock("l", "l", Outline(Loop.rectangle(500, 500)), grain=Grain.LENGTH)
    wide = Stock("w", "w", Outline(Loop.rectangle(500, 500)), grain=Grain.WIDTH)
    problem = one_problem(part, long, wide)
    turns = [
        sorted(problem.placement(0, 1, 0, v, 0, 0).turn for v in row)
        for row in problem.kinds[0].variants
    ]
    assert turns == [[0.0, 180.0], [90.0, 270.0]]


def test_turns_that_look_the_same_are_tried_once() -> None:
    def count(outline: Outline, **more: object) -> int:
        part = Part("a", "a", outline, **more)  # type: ignore[arg-type]
        return len(one_problem(part).kinds[0].variants[0])

    assert count(Outline(Loop.circle(0, 0, 50))) == 1
    assert count(Outline(Loop.rectangle(50, 50))) == 1
    assert count(Outline(Loop.rectangle(50, 80))) == 2
    assert count(Outline(Loop.rectangle(50, 80)), flip=True) == 2
    assert count(Outline(Loop.polygon(ELL)), flip=True) == 8


def test_holes_too_small_for_any_part_are_filled() -> None:
    plate = Outline(
        Loop.rectangle(300, 300), (Loop.circle(50, 50, 4), Loop.circle(150, 150, 90))
    )
    parts = (
        Part("plate", "plate", plate),
        Part("b", "b", Outline(Loop.rectangle(60, 60))),
    )
    (problem,) = problems(Job("t", parts, (sheet(),), CUT))
    assert len(problem.store.shapes[0].rings) == 2
    closed = Cutting(cutter=6.0, allowance=2.0, margin=10.0, use_holes=False)
    (problem,) = problems(Job("t", parts, (sheet(),), closed))
    assert len(problem.store.shapes[0].rings) == 1


def test_the_usable_area_is_inset_by_the_margin_less_half_the_gap() -> None:
    assert usable_area(sheet(), CUT).bounds == (6.0, 6.0, 994.0, 594.0)
    narrow = Cutting(cutter=20.0, allowance=0.0, margin=4.0)
    assert usable_area(sheet(), narrow).bounds == (-6.0, -6.0, 1006.0, 606.0)


def test_the_usable_area_is_never_too_large() -> None:
    ell = Outline(
        Loop.polygon([(0, 0), (900, 0), (900, 300), (400, 300), (400, 700), (0, 700)]),
        (Loop.circle(200, 200, 40),),
    )
    screw = KeepOut(Loop.circle(600, 150, 5))
    stock = Stock("s", "s", ell, keep_outs=(screw,))
    for margin in (2.0, 10.0):
        cutting = Cutting(cutter=6.0, allowance=2.0, margin=margin)
        usable = usable_area(stock, cutting)
        inner = usable.buffer(-cutting.gap / 2, quad_segs=64)
        blank = polygon_of(ell)
        assert inner.difference(blank.buffer(-margin + 1e-3, quad_segs=64)).area < 1e-3
        wall = polygon_of(Outline(screw.loop)).buffer(cutting.gap - 1e-3, quad_segs=64)
        assert inner.intersection(wall).area < 1e-3


def test_boards_with_locked_copies_keep_their_place_in_the_layout() -> None:
    outline = Outline(Loop.rectangle(100, 100))
    locked = (Placement("a", 3, 1, 50.0, 50.0, locked=True),)
    layout = Layout((Blank("s"), Blank("s")), locked)
    part = Part("a", "a", outline, quantity=3)
    job = Job("t", (part,), (sheet(),), CUT, layout=layout)
    (problem,) = problems(job)
    assert problem.kinds[0].copies == (1, 2)
    v = problem.kinds[0].variants[0][0]
    other = Board(0)
    other.add(0, v, 300.0, 300.0)
    boards = [Board(0, held=0), other]
    made = to_layout([(problem, Arrangement(boards))])
    assert locked[0] in made.placements
    assert [p.blank for p in made.placements if not p.locked] == [0]
    alone = to_layout([(problem, Arrangement(boards[:1]))])
    assert [p.blank for p in alone.placements] == [0]
