"""Solving: complete, checked, repeatable, quick to stop, honest about what is left."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from drystone.nesting import construct
from drystone.nesting import solve as solving
from drystone.nesting.improve import improve
from drystone.nesting.kernels_place import touching_places
from drystone.nesting.model.errors import InputError
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
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.recheck import recheck_all
from drystone.nesting.rectangles import order
from drystone.nesting.rectangles.board import first_arrangement
from drystone.nesting.result import PASS_COLUMNS, Record, Result
from drystone.nesting.rooms import (
    Arrangement,
    Problem,
    arrangement_of,
    problems,
    to_layout,
)
from drystone.nesting.solve import PLANS, Params, Search, solve
from drystone.nesting.stop import (
    AnyOf,
    BoundMet,
    Cancelled,
    MaxPasses,
    MaxTime,
    Progress,
    StopReason,
)
from drystone.nesting.verify import blank_key, verify
from drystone.nesting.warmup import is_warm, warm_up

USED_UP = Reason.STOCK_USED_UP
CUT = Cutting(cutter=6.0, allowance=2.0, margin=10.0)


@pytest.fixture(scope="module", autouse=True)
def warm() -> None:
    """Compile first, so that clocks measure the search."""
    warm_up()
    assert is_warm()


def rectangle(name: str, w: float, h: float, quantity: int = 1, **more: object) -> Part:
    outline = Outline(Loop.rectangle(w, h))
    return Part(name, name, outline, quantity=quantity, **more)  # type: ignore[arg-type]


def sheet(w: float = 1000, h: float = 600, name: str = "s", **more: object) -> Stock:
    outline = Outline(Loop.rectangle(w, h))
    return Stock(name, name, outline, **more)  # type: ignore[arg-type]


def job_of(parts: Sequence[Part], *stock: Stock, **more: object) -> Job:
    cutting = more.pop("cutting", CUT)
    return Job("t", tuple(parts), stock or (sheet(),), cutting, **more)  # type: ignore[arg-type]


def run(job: Job, passes: int = 2, **more: object) -> Result:
    result = solve(job, MaxPasses(passes), **more)  # type: ignore[arg-type]
    assert result.refused == 0
    assert result.report.ok
    assert verify(job, result.layout).ok
    return result


def test_everything_is_placed_and_checked() -> None:
    result = run(job_of([rectangle("a", 200, 100, 12), rectangle("b", 90, 70, 20)]))
    assert result.complete
    assert result.measures.sheets == 1
    assert result.proven


def test_the_same_passes_give_the_same_layout() -> None:
    job = job_of([rectangle("a", 230, 110, 15), rectangle("b", 95, 70, 30)])
    one, two = run(job, 12, seed=7), run(job, 12, seed=7)
    assert one.layout == two.layout
    assert one.passes == two.passes == 12


def test_more_passes_are_never_worse() -> None:
    job = job_of([rectangle("a", 230, 110, 15), rectangle("b", 95, 70, 30)])
    ranks = [run(job, n).measures.rank(job.objective) for n in (1, 3, 20)]
    assert ranks == sorted(ranks, reverse=True)


def test_better_layouts_are_handed_over_in_order() -> None:
    job = job_of([rectangle("a", 230, 110, 15), rectangle("b", 95, 70, 30)])
    seen: list[tuple[Layout, Record]] = []
    result = run(
        job, 20, on_better=lambda layout, record: seen.append((layout, record))
    )
    ranks = [record.measures.rank(job.objective) for _, record in seen]
    assert ranks == sorted(set(ranks), reverse=True)
    assert seen[-1][0] is result.layout
    assert result.history == tuple(record for _, record in seen)
    assert all(verify(job, layout).ok for layout, _ in seen)


def test_statistics_are_kept_when_asked_for() -> None:
    job = job_of([rectangle("a", 230, 110, 15), rectangle("b", 95, 70, 30)])
    result = run(job, 6, collect_stats=True)
    assert [record.passes for record in result.statistics] == [1, 2, 3, 4, 5, 6]
    ranks = [record.measures.rank(job.objective) for record in result.statistics]
    assert ranks == sorted(ranks, reverse=True)
    assert all(record.offered >= record.better for record in result.statistics)
    assert all(record.phase == "construct" for record in result.statistics)
    assert list(result.statistics[0].as_row()) == list(PASS_COLUMNS)
    params = Params(plans=PLANS[:1], shaken=0, improve=lambda search: search.tick())
    improved = run(job, 6, collect_stats=True, params=params)
    assert improved.statistics[-1].phase == "improve"
    assert run(job, 6).statistics == ()


def test_cancelling_is_heard_within_fifty_milliseconds() -> None:
    job = job_of([rectangle(f"p{k}", 60 + k, 40 + k, 6) for k in range(25)])
    event = threading.Event()
    asked: list[float] = []

    def cancel() -> None:
        asked.append(time.monotonic())
        event.set()

    timer = threading.Timer(0.4, cancel)
    timer.start()
    result = solve(job, Cancelled(event.is_set))
    late = time.monotonic() - asked[0]
    timer.join()
    assert result.reason is StopReason.CANCELLED
    assert result.report.ok
    # The check of the last layout and a slow machine are allowed for, a pass is not.
    assert late < 0.5, late


@pytest.mark.parametrize("after", [0.05, 0.4, 1.2])
def test_a_large_order_is_cancelled_without_much_work(after: float) -> None:
    """Measured as work done after the word, since the machine may be busy."""
    job = large_order()
    event = threading.Event()
    asked: list[float] = []

    def cancel() -> None:
        asked.append(time.process_time())
        event.set()

    def stop(progress: Progress) -> bool:
        # The word comes at the same point of the work on any machine.
        if not asked and time.process_time() - start > after:
            cancel()
        return event.is_set()

    start = time.process_time()
    result = solve(job, Cancelled(lambda: stop(Progress())))
    late = time.process_time() - asked[0]
    assert result.reason is StopReason.CANCELLED
    assert result.report.ok
    assert verify(job, result.layout).ok
    assert late < 0.12, late


@pytest.mark.parametrize("given", [False, True])
@pytest.mark.parametrize("locked", [False, True])
def test_cancelled_at_any_question_there_is_an_answer(
    given: bool, locked: bool
) -> None:
    """With locked copies, and a layout to begin from, which is not lost either."""
    job = kites()
    good = run(job, 2).layout
    if locked:
        held = [replace(p, locked=k % 3 == 0) for k, p in enumerate(good.placements)]
        job = replace(job, layout=replace(good, placements=tuple(held)))
    for after in [*range(12), 20, 40, 80]:
        questions = iter(range(1000))

        def told(questions: Iterator[int] = questions, after: int = after) -> bool:
            return next(questions) >= after

        result = solve(job, Cancelled(told), initial=good if given else None)
        assert result.reason is StopReason.CANCELLED
        assert verify(job, result.layout).ok
        if given:
            assert len(result.layout.placements) == len(good.placements)


def test_work_beside_locked_copies_comes_in_pieces(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Counted, not timed: each piece of work is a few milliseconds long."""
    job = kites()
    good = run(job, 2).layout
    half = [replace(p, locked=k % 2 == 0) for k, p in enumerate(good.placements)]
    held = replace(job, layout=replace(good, placements=tuple(half)))
    at_once: list[int] = []
    questions = 0

    def touching(*args: Any) -> Any:
        at_once.append(len(args[2]) - args[5])
        return touching_places(*args)

    def asked() -> None:
        nonlocal questions
        questions += 1

    def walls(problem: Problem) -> None:
        raise AssertionError("kites are no rectangles: nothing else matters")

    problems(held, poll=asked)
    assert questions >= sum(p.locked for p in half)
    monkeypatch.setattr(construct, "touching_places", touching)
    monkeypatch.setattr(construct, "AT_ONCE", 3)
    monkeypatch.setattr(order, "_all_walls", walls)
    assert run(held, 1).complete
    assert max(at_once) == 3


def test_another_method_is_tried_where_the_check_refuses_the_first_layout(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    job = job_of([rectangle("a", 230, 110, 9)])

    def wrong(problem: Problem, seed: int, stop: object) -> Arrangement | None:
        found = first_arrangement(problem, seed, lambda: False)
        assert found is not None
        found.boards[0].x[0] += 5000.0
        return found

    monkeypatch.setattr(solving, "first_arrangement", wrong)
    result = solve(job, MaxPasses(2))
    assert result.complete
    assert result.report.ok
    assert result.refused == 1


def test_what_was_not_checked_is_left_out_with_one_look_at_each_blank(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    job = job_of([rectangle("a", 50, 40, 60)])
    placements = tuple(
        Placement("a", k + 1, k // 10, 60.0 * (k % 10), k, 0.0, False, k == 35)
        for k in range(60)
    )
    layout = Layout((Blank("s"),) * 6, placements)
    sound = {blank_key(layout, b, layout.on(b)) for b in (1, 4)}
    looked: list[int] = []

    def counted(layout: Layout, blank: int, placed: Sequence[Placement]) -> object:
        looked.append(blank)
        return blank_key(layout, blank, placed)

    monkeypatch.setattr(solving, "blank_key", counted)
    left = solving._only_sound(job, layout, sound)
    assert looked == [0, 1, 2, 3, 4, 5]
    assert [(p.copy, p.blank) for p in left.placements] == [
        *((copy, 0) for copy in range(11, 21)),
        (36, 1),  # locked, on a blank that was not looked at
        *((copy, 2) for copy in range(41, 51)),
    ]
    assert left.blanks == (Blank("s"),) * 3
    assert left.unplaced == (Unplaced("a", 39, Reason.STOPPED),)


def large_order() -> Job:
    """Return a thousand copies of ten shapes."""
    parts = []
    for k in range(10):
        a, b = 40.0 + 7 * k, 30.0 + 5 * k
        ell = [(0, 0), (a, 0), (a, b / 3), (a / 3, b / 3), (a / 3, b), (0, b)]
        parts.append(Part(f"l{k}", f"l{k}", Outline(Loop.polygon(ell)), quantity=100))
    return job_of(parts, sheet(1525, 1525))


def test_no_time_at_all_gives_an_honest_layout() -> None:
    job = job_of([rectangle("a", 200, 100, 3)])
    result = solve(job, MaxTime(0.0))
    assert result.report.ok
    assert [u.reason for u in result.layout.unplaced] == [Reason.STOPPED]
    assert result.layout.unplaced[0].count == 3
    assert result.reason is StopReason.TIME
    assert not result.proven


def test_a_met_bound_ends_the_search() -> None:
    job = job_of([rectangle("a", 400, 300, 3)])
    result = solve(job, AnyOf(BoundMet(), MaxPasses(500)))
    assert result.reason is StopReason.BOUND
    assert result.proven


def test_an_empty_order() -> None:
    result = run(job_of([]))
    assert result.layout == Layout()
    assert result.measures.sheets == 0


def test_rings_with_parts_inside_are_proven_fewest() -> None:
    """Twelve rings that lie alone on a sheet, and sixty parts that fit inside them."""
    ring = Outline(Loop.circle(240, 240, 238), (Loop.circle(240, 240, 190),))
    parts = [
        Part("ring", "ring", ring, quantity=12),
        rectangle("small", 80, 80, 60),
    ]
    job = job_of(parts, sheet(500, 500))
    result = solve(
        job, AnyOf(BoundMet(), MaxPasses(200)), params=Params(improve=improve)
    )
    assert result.complete
    assert result.reason is StopReason.BOUND
    assert result.proven
    assert (result.measures.sheets, result.bound.sheets) == (12, 12)
    assert recheck_all(result.bound, job)
    # Beside a ring there is no room for them: all sixty lie inside.
    rings = {p.blank: p for p in result.layout.placements if p.part_id == "ring"}
    for placement in result.layout.placements:
        if placement.part_id == "small":
            host = rings[placement.blank].motion.point((240.0, 240.0))
            corners = placement.motion.points(parts[1].outline.flatten(1.0).outer)
            assert np.hypot(*(corners - host).T).max() <= 190.0


# ------------------------------------------------------------------- reasons


@pytest.mark.parametrize(
    ("part", "stock", "reason", "count"),
    [
        (rectangle("a", 1200, 50, 2), sheet(), Reason.TOO_LARGE, 2),
        (
            rectangle("a", 800, 50, 2, turn=TurnRule.parse("fixed")),
            sheet(600, 1000),
            Reason.TURN_RULE,
            2,
        ),
        (
            rectangle("a", 580, 380, 3),
            sheet(600, 400, count=1),
            Reason.STOCK_USED_UP,
            2,
        ),
        (rectangle("a", 50, 50, 2, material="MDF"), sheet(), Reason.NO_BOARD, 2),
        (rectangle("a", 50, 50, 2), sheet(count=0), USED_UP, 2),
        (rectangle("a", 50, 50, 1), sheet(15, 15), Reason.TOO_LARGE, 1),
    ],
)
def test_what_is_not_placed_is_counted_with_the_reason(
    part: Part, stock: Stock, reason: Reason, count: int
) -> None:
    result = run(job_of([part], stock))
    (left,) = result.layout.unplaced
    assert (left.part_id, left.count, left.reason) == ("a", count, reason)


def test_a_part_that_fits_only_aslant_is_turned_aslant() -> None:
    job = job_of([rectangle("a", 1150, 30)], sheet(1000, 1000))
    result = run(job)
    assert result.complete
    assert result.layout.placements[0].turn % 90.0 != 0.0


# ------------------------------------------------------------------- rules


def test_material_and_thickness_are_matched() -> None:
    parts = [
        rectangle("a", 100, 100, 2, material="Birch", thickness=12.0),
        rectangle("b", 100, 100, 2, material="MDF", thickness=6.0),
        rectangle("c", 100, 100, 2, material="birch", thickness=6.0),
    ]
    stock = [
        sheet(name="s1", material="birch", thickness=12.0),
        sheet(name="s2", material="mdf", thickness=6.0),
        sheet(name="s3", material="birch", thickness=6.0),
    ]
    result = run(job_of(parts, *stock))
    assert result.complete
    assert result.measures.sheets == 3


def test_the_grain_is_followed_per_stock() -> None:
    part = rectangle("a", 300, 100, 8, turn=TurnRule.parse("grain"))
    stock = (
        sheet(650, 250, "long", grain=Grain.LENGTH, count=1),
        sheet(250, 650, "wide", grain=Grain.WIDTH, count=1),
    )
    result = run(job_of([part], *stock))
    assert result.complete
    assert result.measures.sheets == 2
    for placement in result.layout.placements:
        stock_id = result.layout.blanks[placement.blank].stock_id
        turned = placement.turn % 180.0
        assert turned == (0.0 if stock_id == "long" else 90.0)


@pytest.mark.parametrize("leave", [False, True])
def test_flips_only_with_leave(leave: bool) -> None:
    ell = Outline(
        Loop.polygon([(0, 0), (90, 0), (90, 20), (20, 20), (20, 180), (0, 180)])
    )
    part = Part("a", "a", ell, quantity=10, turn=TurnRule.parse("180"), flip=leave)
    result = run(job_of([part]))
    assert result.complete
    assert leave or not any(p.flipped for p in result.layout.placements)


def test_keep_outs_margins_and_holes_of_the_blank() -> None:
    outline = Outline(
        Loop.polygon([(0, 0), (900, 0), (900, 300), (400, 300), (400, 700), (0, 700)]),
        (Loop.circle(600, 150, 60),),
    )
    stock = Stock(
        "ell",
        "ell",
        outline,
        keep_outs=(
            KeepOut(Loop.circle(200, 200, 5)),
            KeepOut(Loop.circle(200, 600, 5)),
        ),
    )
    result = run(job_of([rectangle("a", 120, 80, 40)], stock))
    assert result.complete
    assert result.measures.sheets >= 2


def test_a_margin_smaller_than_half_the_gap() -> None:
    cutting = Cutting(cutter=20.0, allowance=0.0, margin=0.0)
    job = job_of([rectangle("a", 490, 290, 4)], sheet(1000, 600), cutting=cutting)
    result = run(job, 4)
    assert result.measures.sheets == 1


def test_small_parts_go_into_the_holes_of_large_ones() -> None:
    ring = Outline(Loop.rectangle(560, 560), (Loop.rectangle(460, 460, 50, 50),))
    parts = [
        Part("ring", "ring", ring, quantity=2),
        Part(
            "mid",
            "mid",
            Outline(Loop.rectangle(400, 400), (Loop.circle(200, 200, 150),)),
            quantity=2,
        ),
        rectangle("small", 60, 60, 8),
    ]
    job = job_of(parts, sheet(600, 600))
    result = run(job)
    assert result.complete
    assert result.measures.sheets == 2
    assert result.proven
    without = replace(job, cutting=replace(CUT, use_holes=False))
    assert run(without).measures.sheets > 2


def test_offcuts_come_first_and_stock_kinds_serve_the_objective() -> None:
    parts = [rectangle("a", 180, 80, 2)]
    rack = sheet(220, 220, "rack", offcut=True, count=1)
    big = sheet(2000, 1000, "big", price=90.0)
    small = sheet(500, 500, "small", price=10.0)
    result = run(job_of(parts, big, small, rack))
    assert [b.stock_id for b in result.layout.blanks] == ["rack"]
    more = [rectangle("a", 450, 450, 6)]
    fewest = run(job_of(more, big, small, objective=Objective.FEWEST_SHEETS))
    assert [b.stock_id for b in fewest.layout.blanks] == ["big"]
    cheapest = run(job_of(more, big, small, objective=Objective.LEAST_COST))
    assert {b.stock_id for b in cheapest.layout.blanks} == {"small"}
    assert cheapest.measures.cost == 60.0


def test_the_last_sheet_is_no_larger_than_it_must_be() -> None:
    parts = [rectangle("a", 450, 450, 9)]
    big = sheet(2000, 1000, "big", price=90.0)
    small = sheet(500, 500, "small", price=30.0)
    result = run(job_of(parts, big, small, objective=Objective.LEAST_COST), 3)
    assert sorted(b.stock_id for b in result.layout.blanks) == ["big", "small"]
    assert result.measures.cost == 120.0
    few = run(job_of(parts, big, replace(small, count=0)), 3)
    assert [b.stock_id for b in few.layout.blanks] == ["big", "big"]


def test_priority_decides_who_gets_the_last_board() -> None:
    parts = [rectangle("big", 560, 360), rectangle("first", 300, 300, priority=1)]
    result = run(job_of(parts, sheet(600, 400, count=1)), 1)
    assert [p.part_id for p in result.layout.placements] == ["first"]


# ------------------------------------------------------------------- locked copies


def test_locked_copies_stay_and_the_rest_goes_round_them() -> None:
    locked = (
        Placement("a", 2, 0, 333.25, 210.5, 30.0, locked=True),
        Placement("a", 3, 1, 50.0, 50.0, locked=True),
    )
    job = job_of(
        [rectangle("a", 150, 90, 14)],
        layout=Layout((Blank("s"), Blank("s")), locked),
    )
    result = run(job, 4)
    assert result.complete
    assert set(locked) <= set(result.layout.placements)
    assert sorted(p.copy for p in result.layout.placements) == list(range(1, 15))


def test_locked_copies_count_against_limited_stock() -> None:
    locked = (Placement("a", 1, 0, 10, 10, locked=True),)
    job = job_of(
        [rectangle("a", 580, 380, 2)],
        sheet(600, 400, count=1),
        layout=Layout((Blank("s"),), locked),
    )
    result = run(job)
    assert result.layout.unplaced[0].reason is Reason.STOCK_USED_UP


def test_locked_copies_in_each_others_way_are_refused() -> None:
    locked = (
        Placement("a", 1, 0, 50, 50, locked=True),
        Placement("a", 2, 0, 55, 50, locked=True),
    )
    job = job_of([rectangle("a", 150, 90, 2)], layout=Layout((Blank("s"),), locked))
    with pytest.raises(InputError, match="overlap"):
        solve(job, MaxPasses(1))


def test_an_outline_that_crosses_itself_is_named() -> None:
    bow = Outline(Loop.polygon([(0, 0), (100, 100), (100, 0), (0, 130)]))
    with pytest.raises(InputError, match="bow"):
        solve(job_of([Part("b", "bow", bow)]), MaxPasses(1))


# ------------------------------------------------------------------- seams


def kites() -> Job:
    kite = Outline(Loop.polygon([(0, 0), (90, 40), (180, 0), (95, 150)]))
    part = Part("kite", "kite", kite, quantity=18, turn=TurnRule.parse("180"))
    return job_of([part, rectangle("bar", 230, 40, 9)], sheet(600, 500))


def test_a_layout_given_to_begin_with_is_never_made_worse() -> None:
    job = kites()
    good = run(job, 20)
    again = run(job, 0, initial=good.layout)
    assert again.measures.rank(job.objective) <= good.measures.rank(job.objective)
    assert again.history[0].measures == good.measures  # it is handed out first


def test_a_given_layout_is_what_the_improver_begins_from() -> None:
    job = kites()
    good = run(job, 20).layout
    moved = replace(good, placements=good.placements[::-1])
    seen: list[Layout] = []

    def look(search: Search) -> None:
        assert search.layout is not None
        seen.append(search.layout)
        (state,) = search.best
        again = to_layout([(search.problems[0], state)])
        places = {(p.part_id, round(p.x, 6), round(p.y, 6)) for p in good.placements}
        assert {
            (p.part_id, round(p.x, 6), round(p.y, 6)) for p in again.placements
        } == places

    params = Params(plans=PLANS[:1], shaken=0, improve=look)
    run(job, 9, initial=moved, params=params)
    assert len(seen) == 1


def test_a_layout_laid_by_hand_at_odd_turns_is_taken_over() -> None:
    job = job_of([rectangle("a", 200, 90, 3, turn=TurnRule())])
    hand = Layout(
        (Blank("s"),),
        (
            Placement("a", 1, 0, 60.0, 20.0, 17.5),
            Placement("a", 2, 0, 700.0, 500.0, 197.5),
            Placement("a", 3, 0, 200.0, 300.0, 45.0),
        ),
    )
    assert verify(job, hand).ok
    (problem,) = problems(job)
    state = arrangement_of(problem, hand)
    assert state is not None
    back = to_layout([(problem, state)])
    assert verify(job, back).ok
    for one, two in zip(hand.placements, back.placements, strict=True):
        # What looks the same turned by a half may come back so.
        corners = [(0.0, 0.0), (200.0, 0.0), (200.0, 90.0), (0.0, 90.0)]
        left = sorted(np.round([one.motion.point(c) for c in corners], 6).tolist())
        right = sorted(np.round([two.motion.point(c) for c in corners], 6).tolist())
        assert left == right
    result = run(job, 3, initial=hand)
    first = result.history[0].measures
    assert result.measures.rank(job.objective) <= first.rank(job.objective)


def test_any_number_of_copies_may_lie_at_turns_of_their_own(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    job = job_of([rectangle("a", 60, 30, 40, turn=TurnRule())])
    spots = [(100.0 * (k % 8) + 90, 95.0 * (k // 8) + 90) for k in range(40)]
    hand = Layout(
        (Blank("s"),),
        tuple(
            Placement("a", k + 1, 0, x, y, 3.7 * k + 0.3)
            for k, (x, y) in enumerate(spots)
        ),
    )
    assert verify(job, hand).ok
    (problem,) = problems(job)
    state = arrangement_of(problem, hand)
    assert state is not None
    assert len(state.boards[0].turned) == 40
    assert state.boards[0].copied() == state.boards[0]
    back = to_layout([(problem, state)])
    for one, two in zip(hand.placements, back.placements, strict=True):
        assert (two.x, two.y) == pytest.approx((one.x, one.y))
        assert two.turn == pytest.approx(one.turn)
    monkeypatch.setattr("drystone.nesting.improve.MOST_TURNED", 10)
    quick = Params(plans=PLANS[:1], shaken=0, improve=improve)
    assert run(job, 6, initial=hand, params=quick).complete
    kept = replace(job.parts[0], turn=TurnRule.listed((0.0, 90.0)))
    (strict,) = problems(replace(job, parts=(kept,)))
    assert arrangement_of(strict, hand) is None


def test_copies_turn_freely_where_that_presses_them_shorter() -> None:
    rng = np.random.default_rng(1)
    parts = []
    for k in range(3):
        around = np.arange(8) * np.pi / 4
        radius = (70.0 + 30.0 * k) * rng.uniform(0.6, 1.0, 8)
        ring = np.stack([radius * np.cos(around), radius * np.sin(around)], axis=1)
        outline = Outline(Loop.polygon([(float(x), float(y)) for x, y in ring]))
        parts.append(Part(f"o{k}", f"o{k}", outline, quantity=4, turn=TurnRule()))
    job = job_of(parts, sheet(2000, 430), objective=Objective.SHORTEST_LENGTH)
    quick = Params(plans=PLANS[:1], shaken=0, improve=improve)
    result = run(job, 9, params=quick)
    (problem,) = problems(job)
    state = arrangement_of(problem, result.layout)
    assert state is not None
    assert state.boards[0].turned
    # The next search begins from there, and finds it no worse.
    again = run(job, 4, initial=result.layout, params=quick)
    assert again.measures.length <= result.measures.length


def test_what_is_left_is_pressed_though_no_sheet_can_be_saved() -> None:
    ring = [(0, 0), (280, 0), (310, 80), (110, 130), (70, 320), (-20, 300)]
    part = Part("a", "a", Outline(Loop.polygon(ring)), quantity=8)
    job = job_of([part], sheet(2000, 1000))
    quick = Params(plans=PLANS[:1], shaken=0, improve=improve)
    stop = AnyOf(BoundMet(), MaxPasses(20))
    hasty = solve(job, stop, params=replace(quick, leftover=False))
    stop = AnyOf(BoundMet(), MaxPasses(20))
    patient = solve(job, stop, params=quick)
    assert hasty.proven and patient.proven
    assert hasty.passes < patient.passes
    goal = job.objective
    assert patient.measures.rank(goal) < hasty.measures.rank(goal)


def test_a_given_layout_out_of_order_is_passed_over() -> None:
    job = job_of([rectangle("a", 200, 100, 2)])
    clash = Layout(
        (Blank("s"),),
        (Placement("a", 1, 0, 50, 50), Placement("a", 2, 0, 60, 50)),
    )
    unknown = Layout((Blank("s"),), (Placement("b", 1, 0, 50, 50),))
    for bad in (clash, unknown):
        result = run(job, 2, initial=bad)
        assert result.complete


def test_the_improver_is_called_and_a_bad_offer_is_not_handed_out() -> None:
    job = job_of([rectangle("a", 230, 110, 9)])
    called = []

    def improve(search: Search) -> None:
        called.append(search.passes)
        worse = search.best[0].boards[0].copied()
        worse.x = [x + 5000.0 for x in worse.x]
        state = replace(search.best[0], boards=[worse])
        assert not search.offer(0, replace(state, left={}))

    result = solve(job, MaxPasses(50), params=Params(shaken=1, improve=improve))
    assert called
    assert result.reason is StopReason.DONE
    assert result.report.ok


def test_stopped_at_once_the_partial_layout_comes_back_checked() -> None:
    box = Outline(Loop.rectangle(50, 30))
    sheet = Stock("s", "s", Outline(Loop.rectangle(300, 300)))
    job = job_of([Part("a", "a", box, quantity=5)], sheet)
    for stop in (MaxPasses(0), Cancelled(lambda: True)):
        result = solve(job, stop, params=Params(shaken=0), initial=job.layout)
        assert result.report.ok
        assert result.passes == 0
