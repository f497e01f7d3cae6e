"""Times of parts, blanks and jobs."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from drystone.nesting.model.curve import Line
from drystone.nesting.model.job import Job
from drystone.nesting.model.machine import Cutter, Machine, ShopSetup
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.passes import stepover
from drystone.nesting.shop.plan import make_plan
from drystone.nesting.shop.pockets import Pocket
from drystone.nesting.shop.time import (
    as_range,
    job_time,
    part_time,
    pocket_time,
    spoken,
    travel_between,
)

SETUP = ShopSetup()
PLAN = make_plan(SETUP, 6.35, "birch plywood", 12.0)
SQUARE = Outline(Loop.rectangle(100, 100))


def test_a_part_takes_its_passes_and_its_plunges() -> None:
    part = Part("a", "square", SQUARE, thickness=12.0)
    time = part_time(part, PLAN)
    assert PLAN.passes == 4  # 12.3 mm in steps of 3.175
    around = 400 + 2 * math.pi * 3.175
    assert time.length == pytest.approx(4 * around)
    naive = 4 * around / PLAN.feeds.feed * 60 + 12.3 / PLAN.feeds.plunge * 60
    assert naive < time.profile < 1.4 * naive
    assert time.entries == 1
    assert part_time(part, PLAN, tabs=4).profile > time.profile


def test_a_hole_too_small_for_the_cutter_takes_no_time() -> None:
    small = Part("a", "a", Outline(SQUARE.outer, (Loop.circle(50, 50, 3),)))
    wide = Part("a", "a", Outline(SQUARE.outer, (Loop.circle(50, 50, 10),)))
    plain = part_time(Part("a", "a", SQUARE), PLAN).profile
    assert part_time(small, PLAN).profile == plain
    assert part_time(wide, PLAN).profile > plain


def test_pockets_take_time_in_inverse_proportion_to_the_cutter() -> None:
    """Half the diameter, twice the path; edges make it a little less than that."""
    mark = Mark(Operation.POCKET, Loop.rectangle(200, 200).segments)
    wide = replace(PLAN, cutter=Cutter("w", diameter=6.35))
    thin = replace(PLAN, cutter=Cutter("t", diameter=3.175))
    pocket = Pocket(mark)
    ratio = pocket_time(pocket, thin)[1] / pocket_time(pocket, wide)[1]
    assert 1.9 < ratio < 2.1
    tiny = Mark(Operation.POCKET, Loop.circle(0, 0, 3).segments)
    seconds, length = pocket_time(Pocket(tiny), PLAN)
    assert seconds > 0.0
    assert length == 0.0


def test_an_island_is_gone_round_and_not_cleared() -> None:
    """200 mm square with a 100 mm one inside: 3/4 of the area, 3/2 of the edges."""
    outer = Mark(Operation.POCKET, Loop.rectangle(200, 200).segments)
    island = Mark(Operation.POCKET, Loop.rectangle(100, 100, 50, 50).segments)
    passes = PLAN.passes_to(PLAN.practice.pocket_depth * PLAN.thickness)
    step = stepover(PLAN.cutter.diameter, PLAN.practice.stepover)
    d = PLAN.cutter.diameter
    swept = (200 - d) ** 2 - ((100 + d) ** 2 - (4 - math.pi) * d * d / 4)
    edges = 4 * (200 - d) + 400 + math.pi * d
    _, length = pocket_time(Pocket(outer, (island,)), PLAN)
    assert length == pytest.approx(passes * (swept / step + edges), rel=1e-4)
    part = Part("a", "a", Outline(Loop.rectangle(300, 300)), (outer, island))
    assert part_time(part, PLAN).pocket == pytest.approx(
        pocket_time(Pocket(outer, (island,)), PLAN)[0]
    )
    assert part_time(part, PLAN).pocket < pocket_time(Pocket(outer), PLAN)[0]


def test_marks_are_counted_by_kind() -> None:
    marks = (
        Mark(Operation.DRILL, Loop.circle(10, 10, 3).segments),
        Mark(Operation.ENGRAVE, (Line((0, 0), (50, 0)),)),
        Mark(Operation.POCKET, Loop.rectangle(30, 30, 20, 20).segments),
        Mark(Operation.TAB, (Line((0, 0), (8, 0)),)),
    )
    time = part_time(Part("a", "a", SQUARE, marks), PLAN)
    assert min(time.drill, time.engrave, time.pocket) > 0.0
    assert time.entries == 4
    assert time.cutting == pytest.approx(
        time.profile + time.drill + time.engrave + time.pocket
    )


def job_of(*placements: Placement, blanks: int = 1) -> Job:
    stock = Stock("s", "sheet", Outline(Loop.rectangle(600, 400)), "plywood", 12.0)
    part = Part("a", "a", SQUARE, (), 9, "plywood", 12.0)
    layout = Layout((Blank("s"),) * blanks, placements)
    return Job("job", (part,), (stock,), layout=layout)


def test_a_job_adds_up_its_blanks() -> None:
    one = job_time(job_of(Placement("a", 1, 0, 20, 20)), SETUP)
    two = job_time(
        job_of(Placement("a", 1, 0, 20, 20), Placement("a", 2, 1, 20, 20), blanks=2),
        SETUP,
    )
    assert two.running.likely == pytest.approx(2 * one.running.likely)
    assert len(two.blanks) == 2
    assert two.handling - one.handling == pytest.approx(360.0)
    assert one.total.low < one.total.likely < one.total.high


def test_an_empty_job_takes_no_time() -> None:
    time = job_time(job_of(blanks=0), SETUP)
    assert (time.running.likely, time.handling, time.length) == (0.0, 0.0, 0.0)


def test_recorded_times_correct_and_narrow_the_range() -> None:
    wide = as_range(100.0, Machine())
    assert (wide.low, wide.likely, wide.high) == (85.0, 100.0, 125.0)
    known = as_range(100.0, Machine(actual_over_estimated=(1.2, 1.3, 1.25)))
    assert known.likely == pytest.approx(125.0)
    assert known.low == pytest.approx(118.75)
    assert known.high == pytest.approx(131.25)
    single = as_range(100.0, Machine(actual_over_estimated=(2.0,)))
    assert single.low < single.likely == 200.0 < single.high


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (0, "0 min"),
        (20, "1 min"),
        (600, "10 min"),
        (7_700, "2 h 10"),
        (3_590, "60 min"),
    ],
)
def test_times_are_spoken(seconds: float, text: str) -> None:
    assert spoken(seconds) == text


def test_the_walk_goes_to_the_nearest_place() -> None:
    assert travel_between([(0, 0), (30, 0), (10, 0)]) == 30.0
    assert travel_between([]) == 0.0
