"""The numbers of a layout, and the leftovers worth keeping."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from drystone.nesting.model.job import Cutting, Job, Objective
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import (
    Blank,
    Layout,
    Placement,
    Reason,
    Unplaced,
)
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.objective import Measures, leftovers, measure

CUT = Cutting(cutter=6.0, allowance=2.0, margin=10.0)


def job_of(placements: list[Placement], stock: Stock | None = None) -> Job:
    stock = stock or Stock("s", "s", Outline(Loop.rectangle(1000, 600)), price=20.0)
    ring = Outline(Loop.rectangle(300, 400), (Loop.circle(150, 200, 100),))
    part = Part("a", "a", ring, quantity=max(len(placements), 1))
    blanks = (Blank("s"),) * (1 + max((p.blank for p in placements), default=0))
    layout = Layout(blanks, tuple(placements))
    return Job("t", (part,), (stock,), CUT, layout=layout)


def test_what_is_left_beside_a_part_is_a_gap_away_from_it() -> None:
    (left,) = leftovers(job_of([Placement("a", 1, 0, 10, 10)]))
    assert left.width == pytest.approx(1000 - 10 - 300 - 8, abs=4.0)
    assert left.height == 600
    assert left.x >= 318
    assert left.x + left.width == 1000


def test_a_leftover_never_reaches_what_lies_there() -> None:
    screw = KeepOut(Loop.circle(800, 300, 5))
    outline = Outline(Loop.rectangle(1000, 600))
    stock = Stock("s", "s", outline, keep_outs=(screw,))
    (left,) = leftovers(job_of([Placement("a", 1, 0, 10, 10)], stock))
    x1, y1 = left.x + left.width, left.y + left.height
    assert left.x >= 318 and 0 <= left.y and x1 <= 1000 and y1 <= 600
    assert not (left.x < 805 and x1 > 795 and left.y < 305 and y1 > 295)


def test_a_leftover_lies_inside_an_outline_that_is_no_rectangle() -> None:
    corners = [(0, 0), (1000, 0), (1000, 250), (400, 250), (400, 600), (0, 600)]
    stock = Stock("s", "s", Outline(Loop.polygon(corners)))
    (left,) = leftovers(job_of([Placement("a", 1, 0, 10, 10)], stock))
    assert left.y + left.height <= 250
    assert left.area == pytest.approx((1000 - 318) * 250, rel=0.03)


@pytest.mark.parametrize(
    ("w", "h", "kept"),
    [
        (600.0, 150.0, True),
        (2000.0, 140.0, False),
        (310.0, 310.0, True),
        (290.0, 300.0, False),
    ],
)
def test_only_what_is_large_enough_is_kept(w: float, h: float, kept: bool) -> None:
    empty = job_of([], Stock("s", "s", Outline(Loop.rectangle(w, h))))
    assert bool(leftovers(empty)) is kept


def test_yield_cost_and_counts() -> None:
    job = job_of([Placement("a", 1, 0, 10, 10), Placement("a", 2, 1, 10, 10)])
    tray = replace(job.layout, unplaced=(Unplaced("a", 3, Reason.STOCK_USED_UP),))
    found = measure(job, tray)
    area = 300 * 400 - math.pi * 100**2
    assert (found.sheets, found.offcuts, found.cost) == (2, 0, 40.0)
    assert found.yield_ == pytest.approx(2 * area / 1_200_000)
    assert found.unplaced == 3
    assert found.missing_area == pytest.approx(3 * area)
    kept = found.kept_area
    assert found.yield_with_kept == pytest.approx(2 * area / (1_200_000 - kept))
    assert measure(Job("empty")).yield_ == 0.0


def test_ranks() -> None:
    base = Measures(2, 0, 40.0, 1.0, 2.0, 0, 0.0, ())
    worse = replace(base, missing_area=1.0, unplaced=1, sheets=1)
    dearer = replace(base, sheets=1, cost=90.0)
    few, cheap = Objective.FEWEST_SHEETS, Objective.LEAST_COST
    assert base.rank(few) < worse.rank(few)
    assert dearer.rank(few) < base.rank(few)
    assert base.rank(cheap) < dearer.rank(cheap)
    (left,) = leftovers(job_of([Placement("a", 1, 0, 10, 10)]))
    assert replace(base, leftovers=(left,)).rank(few) < base.rank(few)


def test_the_shortest_length_counts_after_the_sheets() -> None:
    part = Part("a", "a", Outline(Loop.rectangle(100, 50, 10, 0)), quantity=2)
    stock = Stock("s", "s", Outline(Loop.rectangle(1000, 500)))
    job = Job("j", (part,), (stock,), objective=Objective.SHORTEST_LENGTH)

    def numbers(*places: tuple[float, float]) -> Measures:
        placements = tuple(
            Placement("a", k + 1, 0, x, 100.0, turn)
            for k, (x, turn) in enumerate(places)
        )
        return measure(job, Layout((Blank("s"),), placements))

    short, long = numbers((20, 0), (200, 90)), numbers((20, 0), (150, 0))
    assert short.length == pytest.approx(200.0)  # turned, it lies left of its origin
    assert long.length == pytest.approx(260.0)
    goal = Objective.SHORTEST_LENGTH
    assert short.rank(goal) < long.rank(goal)
    assert numbers((20, 0), (200, 90)).rank(Objective.LEAST_COST)[1] == 0.0
