"""Orders that are jigsaws: recognised, put together exactly, and let be otherwise."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drystone.nesting.improve import improve
from drystone.nesting.jigsaw import jigsaws, solution
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.rules import TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.rooms import problems
from drystone.nesting.solve import PLANS, Params, solve
from drystone.nesting.stop import AnyOf, BoundMet, MaxPasses, StopReason
from drystone.nesting.verify import verify

# A square of 120 cut into four by slants that no two parts share.
CUTS = (
    [(0, 0), (70, 0), (50, 55), (0, 40)],
    [(70, 0), (120, 0), (120, 65), (50, 55)],
    [(120, 65), (120, 120), (40, 120), (50, 55)],
    [(40, 120), (0, 120), (0, 40), (50, 55)],
)
BARE = Cutting(0.0, 0.0, 0.0)


def part(k: int, quantity: int = 1, turn: str = "90") -> Part:
    outline = Outline(Loop.polygon(CUTS[k]))
    rule = TurnRule.parse(turn)
    return Part(f"p{k}", f"p{k}", outline, quantity=quantity, turn=rule)


def order(sets: int = 2, w: float = 120.0, h: float = 120.0) -> Job:
    parts = tuple(part(k, sets) for k in range(4))
    stock = Stock("s", "s", Outline(Loop.rectangle(w, h)))
    return Job("j", parts, (stock,), BARE)


def never() -> bool:
    return False


def test_a_jigsaw_is_put_together_within_a_search() -> None:
    params = Params(plans=PLANS[:1], shaken=0, improve=improve)
    stop = AnyOf(BoundMet(), MaxPasses(12))
    result = solve(order(3), stop, 1, params=params)
    assert verify(order(3), result.layout).ok
    assert result.measures.sheets == 3
    assert result.reason is StopReason.BOUND
    assert result.refused == 0


def test_what_is_over_is_left_in_one_piece() -> None:
    job = order(2, w=300.0)
    (problem,) = problems(job)
    forms = jigsaws(problem)
    assert [(f.rooms, len(f.tiles)) for f in forms] == [(1, 5), (1, 5)]
    layout = next(
        found
        for seed in range(5)
        for form in forms
        if (found := solution(problem, form, seed, 4_000, never)) is not None
    )
    assert verify(job, layout).ok
    assert len(layout.blanks) == 1


@pytest.mark.parametrize(
    "change",
    [
        {"cutting": Cutting(3.0, 0.0, 0.0)},
        {"stock": (Stock("s", "s", Outline(Loop.circle(60, 60, 60))),)},
        {"parts": (part(0), part(1, turn="30"))},
        {"parts": (Part("r", "r", Outline(Loop.circle(9, 9, 9))),)},
        {
            "stock": (
                Stock(
                    "s",
                    "s",
                    Outline(Loop.rectangle(120, 120)),
                    keep_outs=(KeepOut(Loop.rectangle(9, 9)),),
                ),
            )
        },
    ],
)
def test_other_orders_are_none(change: dict[str, object]) -> None:
    assert jigsaws(problems(order())[0])
    job = replace(order(), **change)  # type: ignore[arg-type]
    assert jigsaws(problems(job)[0]) == []


def test_a_part_that_may_not_turn_keeps_to_that() -> None:
    job = replace(order(), parts=tuple(part(k, turn="0") for k in range(4)))
    (problem,) = problems(job)
    (form,) = jigsaws(problem)
    assert {one.quarters for one in form.tiles} == {(0,)}
    layout = solution(problem, form, 1, 4_000, never)
    assert layout is not None
    assert {p.turn for p in layout.placements} == {0.0}
    assert verify(job, layout).ok
