"""How many fit: traps of counting in a grid, and the pinwheel, by the whole engine.

The grid counts are worked by hand: along a side of W with margin m and gap g lie
floor((W - 2 m + g) / (w + g)) parts of w. The pinwheel is a case worked by hand for
the lower bounds of Martello and Vigo (Management Science 44(3), 1998,
doi:10.1287/mnsc.44.3.388), which hold for parts that keep their direction: four of
7 x 3 then need two sheets of 10 x 10. Turned, they lie in one round a 4 x 4 hole.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from drystone.nesting.bound import bound
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Layout
from drystone.nesting.model.rules import TurnRule
from drystone.nesting.model.stock import Stock
from drystone.nesting.solve import solve
from drystone.nesting.stop import MaxPasses
from drystone.nesting.verify import verify

INCH = 25.4


def job_of(
    board: tuple[float, float],
    part: tuple[float, float],
    quantity: int,
    turn: str,
    cutting: Cutting,
) -> Job:
    return Job(
        "trap",
        (
            Part(
                "p",
                "p",
                Outline(Loop.rectangle(*part)),
                (),
                quantity,
                turn=TurnRule.parse(turn),
            ),
        ),
        (Stock("s", "s", Outline(Loop.rectangle(*board))),),
        cutting,
    )


def laid_out(job: Job) -> Layout:
    layout = solve(job, MaxPasses(6), 0).layout
    assert layout.unplaced == ()
    assert verify(replace(job, layout=layout)).problems == ()
    return layout


@pytest.mark.parametrize(
    ("side", "across", "up"), [(23.5, 3, 1), (23.25, 4, 2), (23.0, 4, 2)]
)
def test_why_not_eight(side: float, across: int, up: int) -> None:
    """96 x 48 in, margin 1/2, gap 3/8: squares of 23.5 in look like 4 by 2.

    In fact 95.375 / 23.875 is 3.995 and 47.375 / 23.875 is 1.984: three by one.
    """
    for length, count in ((96.0, across), (48.0, up)):
        assert math.floor((length - 1.0 + 0.375) / (side + 0.375)) == count
    cutting = Cutting(0.375 * INCH, 0.0, 0.5 * INCH)
    board = (96 * INCH, 48 * INCH)
    job = job_of(board, (side * INCH, side * INCH), 8, "fixed", cutting)
    layout = laid_out(job)
    most = max(len(layout.on(i)) for i in range(len(layout.blanks)))
    assert most == across * up
    assert len(layout.blanks) == math.ceil(8 / (across * up))
    assert bound(job).sheets <= len(layout.blanks)


@pytest.mark.parametrize(
    ("turn", "sheets", "proven"), [("fixed", 2, 2), ("90", 1, 1), ("any", 1, 1)]
)
def test_the_pinwheel(turn: str, sheets: int, proven: int) -> None:
    """A bound for parts that keep their direction must not be used for these."""
    cutting = Cutting(0.0, 0.0, 0.0)
    job = job_of((100, 100), (70, 30), 4, turn, cutting)
    assert bound(job).sheets <= proven
    if turn != "fixed":
        assert bound(job).sheets == 1
    assert len(laid_out(job).blanks) == sheets


def test_the_pinwheel_with_a_gap() -> None:
    """With gap 5 and margin 10 the sheet must be 125: 10 + 30 + 5 + 70 + 10."""
    cutting = Cutting(4.0, 1.0, 10.0)
    fits = job_of((125, 125), (70, 30), 4, "90", cutting)
    assert len(laid_out(fits).blanks) == 1
    tight = job_of((124.9, 124.9), (70, 30), 4, "90", cutting)
    assert len(laid_out(tight).blanks) == 2
    assert bound(tight).sheets <= 2
