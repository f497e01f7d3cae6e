"""Which orders the rectangle method takes on, and that its layouts are true ones."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drystone.nesting.improve import improve
from drystone.nesting.model.job import Cutting, Job, Objective
from drystone.nesting.model.motion import Motion
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.rectangles.board import board_of, first_arrangement
from drystone.nesting.rectangles.order import Order, recognised
from drystone.nesting.rooms import problems, to_layout
from drystone.nesting.solve import Params, Search, solve
from drystone.nesting.stop import MaxPasses
from drystone.nesting.verify import verify


def plate(name: str, w: float, h: float, quantity: int = 1, turn: str = "90") -> Part:
    rule = TurnRule.parse(turn)
    return Part(name, name, Outline(Loop.rectangle(w, h)), quantity=quantity, turn=rule)


def board(
    name: str = "s", w: float = 1000.0, h: float = 600.0, **more: object
) -> Stock:
    stock = Stock(name, name, Outline(Loop.rectangle(w, h)))
    return replace(stock, **more)  # type: ignore[arg-type]


def seen(job: Job) -> Order | None:
    return recognised(problems(job)[0], {})


def test_plain_plates_are_taken_on() -> None:
    order = seen(Job("j", (plate("a", 300, 200, 3),), (board(),)))
    assert order is not None
    assert order.exact
    gap = Cutting().gap
    assert order.items[0].width == round((300 + gap) * 1e4)
    assert order.bins[0].width == round((1000 - 24 + gap) * 1e4)


@pytest.mark.parametrize(
    "outline",
    [
        Outline(Loop.circle(0, 0, 50)),
        Outline(Loop.polygon([(0, 0), (90, 0), (60, 60), (0, 60)])),
        Outline(Loop.rectangle(300, 200), (Loop.rectangle(200, 100, 50, 50),)),
        Outline(Loop.polygon([(0, 0), (90, 0), (90, 59.9), (89.9, 60), (0, 60)])),
    ],
)
def test_other_parts_are_not(outline: Outline) -> None:
    parts = (plate("a", 30, 20), Part("b", "b", outline, turn=TurnRule.parse("90")))
    assert seen(Job("j", parts, (board(),))) is None


def test_a_plate_with_a_hole_that_holds_nothing_is_a_plate() -> None:
    holed = Outline(Loop.rectangle(300, 200), (Loop.circle(150, 100, 8),))
    part = Part("a", "a", holed, turn=TurnRule.parse("90"))
    assert seen(Job("j", (part,), (board(),))) is not None


def test_turns_follow_the_grain_of_each_board() -> None:
    """Along the grain on the one, across the other, and either way on the third."""
    stock = (
        board("x", grain=Grain.LENGTH),
        board("y", grain=Grain.WIDTH),
        board("z", grain=Grain.NONE),
    )
    order = seen(Job("j", (plate("a", 300, 200, 1, "grain"),), stock))
    assert order is not None
    assert order.items[0].may == (1, 2, 3)


def test_a_plate_drawn_aslant_is_laid_upright() -> None:
    slanted = plate("a", 300, 200, 6, "any").outline.moved(Motion(0, 0, 17.0))
    part = Part("a", "a", slanted, quantity=6)
    job = Job("j", (part,), (board(),))
    order = seen(job)
    assert order is not None
    assert order.items[0].width == pytest.approx((300 + job.cutting.gap) * 1e4, abs=2)


def test_round_keep_outs_are_covered_and_said_to_be_inexact() -> None:
    clamp = KeepOut(Loop.rectangle(60, 40, 0, 0))
    screw = KeepOut(Loop.circle(30, 30, 4))
    for keep_out, exact in ((clamp, True), (screw, False)):
        job = Job("j", (plate("a", 300, 200, 3),), (board(keep_outs=(keep_out,)),))
        order = seen(job)
        assert order is not None
        assert order.exact is exact
        assert len(order.bins[0].walls) == 1


def never() -> bool:
    return False


def test_an_order_of_plates_begins_with_their_own_method() -> None:
    plates = tuple(
        plate(f"p{k}", 60.0 + 37 * (k * k % 12), 40.0 + 23 * (k * 7 % 11), 5)
        for k in range(20)
    )
    job = Job("j", plates, (board(w=2440, h=1220),))
    (problem,) = problems(job)
    state = first_arrangement(problem, 3, never)
    assert state is not None
    layout = to_layout([(problem, state)])
    assert verify(job, layout).ok
    firsts: list[Layout] = []
    solve(job, MaxPasses(1), 3, lambda better, record: firsts.append(better))
    assert firsts[0] == layout


def test_where_plates_find_no_place_the_general_method_says_why() -> None:
    job = Job("j", (plate("a", 300, 200), plate("b", 3000, 200)), (board(),))
    (problem,) = problems(job)
    assert first_arrangement(problem, 0, never) is None
    layout = solve(job, MaxPasses(1)).layout
    assert [(u.part_id, u.count) for u in layout.unplaced] == [("b", 1)]
    plain = Job("j", (plate("a", 300, 200),), (board(),))
    (problem,) = problems(plain)
    assert first_arrangement(problem, 0, lambda: True) is None


def test_an_arrangement_survives_both_ways() -> None:
    parts = (plate("a", 300, 200, 4), plate("b", 150, 90, 7))
    job = Job("j", parts, (board(),))
    found: list[Search] = []
    solve(job, MaxPasses(3), params=Params(improve=found.append))
    search = found[0]
    order = recognised(search.problems[0], {})
    assert order is not None
    state = search.best[0]
    packing = order.packing(state)
    assert packing.complete
    again = order.arrangement(packing, {})
    assert [b.room for b in again.boards] == [b.room for b in state.boards]
    for one, two in zip(again.boards, state.boards, strict=True):
        mine = sorted(zip(one.kind, one.x, one.y, strict=True))
        others = sorted(zip(two.kind, two.x, two.y, strict=True))
        for (k1, x1, y1), (k2, x2, y2) in zip(mine, others, strict=True):
            assert k1 == k2
            assert math.hypot(x1 - x2, y1 - y2) < 1e-3


lengths = st.floats(20.0, 420.0).map(lambda v: round(v, 2))


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    rules = ["any", "90", "180", "grain", "grain y", "fixed", "0, 90"]
    parts = tuple(
        plate(
            f"p{k}",
            draw(lengths),
            draw(lengths),
            draw(st.integers(1, 4)),
            draw(st.sampled_from(rules)),
        )
        for k in range(draw(st.integers(1, 6)))
    )
    notched = Outline(
        Loop.polygon([(0, 0), (800, 0), (800, 300), (420, 300), (420, 500), (0, 500)])
    )
    stock = [board("s0", 900.0, 500.0, price=20.0, grain=Grain.LENGTH)]
    if draw(st.booleans()):
        keep = draw(
            st.sampled_from([Loop.rectangle(80, 30, 0, 0), Loop.circle(40, 450, 6)])
        )
        stock.append(board("s1", 610.0, 480.0, price=12.0, keep_outs=(KeepOut(keep),)))
    if draw(st.booleans()):
        offcut = Stock("off", "off", notched, price=2.0, count=1, offcut=True)
        stock.append(offcut)
    layout = Layout()
    if draw(st.booleans()):
        locked = Placement(parts[0].id, 1, 0, 30.0, 40.0, 0.0, locked=True)
        if parts[0].turn.allows(0.0, Grain.LENGTH):
            layout = Layout((Blank("s0"),), (locked,))
    return Job(
        "j",
        parts,
        tuple(stock),
        Cutting(
            draw(st.sampled_from([0.0, 6.35])), 0.0, draw(st.sampled_from([0.0, 9.0]))
        ),
        objective=draw(st.sampled_from(list(Objective)[:2])),
        layout=layout,
    )


@given(jobs(), st.integers(0, 2))
@settings(
    max_examples=12,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
def test_layouts_are_valid_and_never_worse(job: Job, seed: int) -> None:
    starts = []

    def look(search: Search) -> None:
        assert search.measures is not None
        starts.append(search.measures.rank(job.objective))
        board_of(search, 0)
        improve(search)

    result = solve(job, MaxPasses(6), seed, params=Params(improve=look))
    assert verify(job, result.layout).ok
    assert result.refused == 0
    assert all(result.measures.rank(job.objective) <= start for start in starts)


def test_a_strip_grows_shorter() -> None:
    """A roll that is longer than needed; cut from a rectangle of 1200 by 600."""
    sides = [(700, 350), (500, 350), (400, 250), (800, 250)]
    parts = tuple(plate(f"p{k}", w, h) for k, (w, h) in enumerate(sides))
    roll = board("roll", 3000.0, 600.0)
    bare = Cutting(0.0, 0.0, 0.0)
    goal = Objective.SHORTEST_LENGTH
    job = Job("j", parts, (roll,), bare, objective=goal)
    result = solve(job, MaxPasses(25), 1, params=Params(improve=improve))
    assert verify(job, result.layout).ok
    assert result.measures.length == pytest.approx(1200.0, abs=0.1)
