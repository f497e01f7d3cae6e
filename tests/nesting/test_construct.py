"""Construction: deterministic, to any depth of holes, and easy to interrupt."""

from __future__ import annotations

import math

import pytest

from drystone.nesting.construct import Constructor, Interrupted, Plan
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Placement, Reason
from drystone.nesting.model.rules import TurnRule
from drystone.nesting.model.stock import Stock
from drystone.nesting.rooms import Arrangement, problems, to_layout
from drystone.nesting.verify import verify
from drystone.nesting.warmup import warm_up

CUT = Cutting(cutter=6.0, allowance=2.0, margin=10.0)


def never() -> bool:
    return False


def rectangle(name: str, w: float, h: float, quantity: int) -> Part:
    return Part(name, name, Outline(Loop.rectangle(w, h)), quantity=quantity)


def job_of(*parts: Part, side: float = 600.0) -> Job:
    stock = Stock("s", "s", Outline(Loop.rectangle(side, side)))
    return Job("t", parts, (stock,), CUT)


def places(job: Job, state: Arrangement) -> tuple[Placement, ...]:
    (problem,) = problems(job)
    layout = to_layout([(problem, state)])
    assert verify(job, layout).ok
    return layout.placements


@pytest.mark.parametrize("direction", ["right", "top", "corner", "slant"])
@pytest.mark.parametrize("order", ["area", "side", "width", "perimeter", "box"])
def test_every_plan_gives_a_valid_layout_every_time(order: str, direction: str) -> None:
    job = job_of(rectangle("a", 170, 90, 12), rectangle("b", 75, 75, 12))
    plan = Plan(order, direction)
    first = Constructor(problems(job)[0]).build(plan, never)
    again = Constructor(problems(job)[0]).build(plan, never)
    assert not first.left
    assert places(job, first) == places(job, again)


def test_jitter_tries_other_orders_and_is_repeatable() -> None:
    job = job_of(*(rectangle(f"p{k}", 100 + 7 * k, 60 + 5 * k, 2) for k in range(6)))
    builder = Constructor(problems(job)[0])
    plain = places(job, builder.build(Plan(), never))
    one = places(job, builder.build(Plan(jitter=0.3, seed=1), never))
    two = places(job, builder.build(Plan(jitter=0.3, seed=1), never))
    assert one == two
    assert one != plain


def test_parts_lie_in_holes_of_parts_in_holes_of_parts() -> None:
    def ring(k: int) -> Part:
        half = 280.0 - 45.0 * k
        hole = Loop.circle(0, 0, half - 25.0)
        return Part(f"r{k}", f"r{k}", Outline(Loop.circle(0, 0, half), (hole,)))

    job = job_of(*(ring(k) for k in range(5)))
    state = Constructor(problems(job)[0]).build(Plan(), never)
    assert len(state.boards) == 1
    laid = places(job, state)
    assert len(laid) == 5
    centres = [(p.x, p.y) for p in laid]
    assert all(math.dist(centres[0], c) < 280.0 for c in centres)


def test_parts_fit_exactly_where_there_is_just_room() -> None:
    cutting = Cutting(cutter=10.0, allowance=0.0, margin=5.0)
    stock = Stock("s", "s", Outline(Loop.rectangle(320, 320)))
    part = Part(
        "a",
        "a",
        Outline(Loop.rectangle(96, 96)),
        quantity=9,
        turn=TurnRule.parse("fixed"),
    )
    job = Job("t", (part,), (stock,), cutting)
    state = Constructor(problems(job)[0]).build(Plan(), never)
    assert [len(board.kind) for board in state.boards] == [9]
    assert len(places(job, state)) == 9


def test_a_stop_is_heard_between_copies() -> None:
    job = job_of(*(rectangle(f"p{k}", 100 + k, 60 + k, 3) for k in range(6)))
    builder = Constructor(problems(job)[0])
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return asked > 20

    with pytest.raises(Interrupted):
        builder.build(Plan(), stop)
    asked = 0
    state = builder.build(Plan(), stop, keep_partial=True)
    laid = sum(len(board.kind) for board in state.boards)
    assert 0 < laid < 18
    assert laid + sum(count for count, _ in state.left.values()) == 18
    assert {reason for _, reason in state.left.values()} == {Reason.STOPPED}
    assert len(places(job, state)) == laid


def test_the_last_sheet_is_laid_anew_by_another_plan() -> None:
    job = job_of(rectangle("a", 250, 120, 14))
    builder = Constructor(problems(job)[0])
    state = builder.build(Plan(), never)
    anew = builder.repacked(state, Plan("area", "top"), never)
    assert anew is not None
    assert anew.boards[0] is state.boards[0]
    assert len(anew.boards[-1].kind) == len(state.boards[-1].kind)
    assert len(places(job, anew)) == 14


def test_a_second_warm_up_compiles_nothing() -> None:
    warm_up()
    assert not warm_up()
