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
from drystone.nesting.shop.plan import advice_on, make_plan
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


MARKS = (
    Mark(Operation.DRILL, Loop.circle(10, 10, 3).segments),
    Mark(Operation.ENGRAVE, (Line((0, 0), (50, 0)),)),
    Mark(Operation.POCKET, Loop.rectangle(30, 30, 20, 20).segments),
)


@pytest.mark.parametrize(
    ("named", "a_blank", "two_blanks"),
    [
        ({}, 1, 1),
        # Pocket cutter, then profile: the second blank begins with the first again.
        ({"pocket_cutter": "1/8 in up-cut"}, 3, 5),
        ({"drill_cutter": "1/8 in up-cut"}, 2, 4),
        # Drilled and engraved with one cutter: it stays in between.
        ({"drill_cutter": "6 mm up-cut", "engrave_cutter": "6 mm up-cut"}, 2, 4),
        ({"pocket_cutter": "1/4 in up-cut"}, 1, 1),  # the job's own
        ({"pocket_cutter": "no such thing"}, 1, 1),
    ],
)
def test_cutter_changes_are_counted_by_the_work(
    named: dict[str, str], a_blank: int, two_blanks: int
) -> None:
    """Drilled, engraved, pockets, profiles: each change costs its minutes by hand."""
    setup = replace(SETUP, practice=replace(SETUP.practice, **named))  # type: ignore[arg-type]
    part = Part("a", "a", SQUARE, MARKS, 2, "plywood", 12.0)
    plain = replace(part, marks=())
    stock = Stock("s", "sheet", Outline(Loop.rectangle(600, 400)), "plywood", 12.0)
    one = Layout((Blank("s"),), (Placement("a", 1, 0, 20, 20),))
    two = Layout(
        (Blank("s"),) * 2, (Placement("a", 1, 0, 20, 20), Placement("a", 2, 1, 20, 20))
    )
    for layout, count in ((one, a_blank), (two, two_blanks)):
        job = Job("j", (part,), (stock,), layout=layout)
        time = job_time(job, setup)
        assert time.changes == count
        machine = setup.machine
        by_hand = len(layout.blanks) * machine.load_minutes
        by_hand += count * machine.change_minutes
        assert time.handling == pytest.approx(60.0 * by_hand)
        changer = replace(machine, tool_changer=True)
        fast = job_time(job, replace(setup, machines=(changer,)))
        assert fast.handling == pytest.approx(
            60.0 * machine.load_minutes * len(layout.blanks)
        )
        bare = job_time(replace(job, parts=(plain,)), setup)
        assert bare.changes == 1
    codes = {advice.code for advice in advice_on(job, setup)}
    assert ("cutter-changes" in codes) == (a_blank > 1)
    assert ("unknown-cutter" in codes) == ("no such thing" in named.values())


def test_a_pocket_is_timed_with_its_own_cutter() -> None:
    practice = replace(SETUP.practice, pocket_cutter="1/8 in up-cut")
    part = Part("a", "a", SQUARE, MARKS, 1, "plywood", 12.0)
    plain = part_time(part, make_plan(SETUP, 6.35, "plywood", 12.0))
    thin = make_plan(replace(SETUP, practice=practice), 6.35, "plywood", 12.0)
    assert part_time(part, thin).pocket > 1.5 * plain.pocket
    assert part_time(part, thin).profile == plain.profile


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
