"""Whatever the job, the layout is valid and nothing is lost."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from random import Random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drystone.nesting.improve import improve
from drystone.nesting.model.curve import Arc, Line
from drystone.nesting.model.job import Cutting, Job, Objective
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Layout
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.solve import Params, Search, solve
from drystone.nesting.stop import MaxPasses
from drystone.nesting.verify import verify

sizes = st.floats(15.0, 260.0).map(lambda v: round(v, 3))
SLOW = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


def stadium(length: float, radius: float) -> Loop:
    return Loop(
        (
            Line((0.0, -radius), (length, -radius)),
            Arc((length, 0.0), radius, -90.0, 180.0),
            Line((length, radius), (0.0, radius)),
            Arc((0.0, 0.0), radius, 90.0, 180.0),
        )
    )


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    kind = draw(st.integers(0, 6))
    a, b = draw(sizes), draw(sizes)
    if kind == 0:
        return Outline(Loop.rectangle(a, b))
    if kind == 1:
        return Outline(Loop.circle(a, b, a / 2))
    if kind == 2:  # a ring that may hold others
        return Outline(Loop.circle(0, 0, a), (Loop.circle(0, 0, a * 0.85),))
    if kind == 3:
        return Outline(stadium(a, b / 4))
    if kind == 4:  # an L
        t = 0.2 * min(a, b)
        corners = [(0, 0), (a, 0), (a, t), (t, t), (t, b), (0, b)]
        return Outline(Loop.polygon(corners))
    if kind == 5:  # thin
        return Outline(Loop.rectangle(a, 1.5))
    count = draw(st.integers(3, 14))
    turns = [2 * math.pi * k / count for k in range(count)]
    reach = [draw(st.floats(0.35, 1.0)) * a for _ in turns]
    pairs = zip(turns, reach, strict=True)
    return Outline(Loop.polygon([(r * math.cos(t), r * math.sin(t)) for t, r in pairs]))


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    rules = ["any", "90", "180", "grain", "grain y", "fixed", "0, 37"]
    parts = tuple(
        Part(
            f"p{k}",
            f"part {k}",
            draw(outlines()),
            quantity=draw(st.integers(0, 5)),
            material=draw(st.sampled_from(["birch", "birch", "birch", "mdf"])),
            turn=TurnRule.parse(draw(st.sampled_from(rules))),
            flip=draw(st.booleans()),
            priority=draw(st.integers(0, 1)),
        )
        for k in range(draw(st.integers(1, 5)))
    )
    w, h = draw(st.integers(250, 900)), draw(st.integers(250, 900))
    ell = [(0, 0), (w, 0), (w, h / 3), (w / 3, h / 3), (w / 3, h), (0, h)]
    screws = tuple(
        KeepOut(Loop.circle(draw(st.floats(0, w)), draw(st.floats(0, h)), 4.0))
        for _ in range(draw(st.integers(0, 3)))
    )
    stock = (
        Stock(
            "sheet",
            "sheet",
            Outline(Loop.rectangle(w, h)),
            "birch",
            grain=draw(st.sampled_from(list(Grain))),
            price=20.0,
            count=draw(st.sampled_from([None, 1, 3])),
            keep_outs=screws,
        ),
        Stock(
            "rack", "rack", Outline(Loop.polygon(ell)), "birch", count=1, offcut=True
        ),
        Stock("round", "round", Outline(Loop.circle(h, h, h)), "mdf"),
        Stock("half", "half", Outline(Loop.rectangle(w / 2, h)), "birch", price=12.0),
    )
    cutting = Cutting(
        cutter=draw(st.sampled_from([0.0, 3.175, 6.0, 25.0])),
        allowance=draw(st.sampled_from([0.0, 1.5])),
        margin=draw(st.sampled_from([0.0, 2.0, 12.0])),
        use_holes=draw(st.booleans()),
    )
    objective = draw(st.sampled_from(list(Objective)))
    return Job("random", parts, stock, cutting, objective=objective)


def held_to_account(job: Job, layout: Layout) -> None:
    report = verify(job, layout)
    assert report.ok, report.problems
    placed = Counter(p.part_id for p in layout.placements)
    left = Counter[str]()
    for entry in layout.unplaced:
        assert entry.count > 0
        left[entry.part_id] += entry.count
    for part in job.parts:
        assert placed[part.id] + left[part.id] == part.quantity


@SLOW
@given(jobs(), st.integers(0, 3))
def test_every_layout_is_valid_and_every_copy_accounted_for(
    job: Job, seed: int
) -> None:
    handed: list[Layout] = []
    result = solve(
        job, MaxPasses(3), seed, on_better=lambda layout, _: handed.append(layout)
    )
    assert result.refused == 0
    for layout in handed:
        held_to_account(job, layout)
    ranks = [record.measures.rank(job.objective) for record in result.history]
    assert ranks == sorted(set(ranks), reverse=True)
    again = solve(job, MaxPasses(3), seed)
    assert again.layout == result.layout


@SLOW
@given(jobs(), st.randoms(use_true_random=False))
def test_locked_copies_are_kept_whatever_else_is_wanted(
    job: Job, random: Random
) -> None:
    first = solve(job, MaxPasses(1)).layout
    count = len(first.placements)
    chosen = set(random.sample(range(count), count // 3))

    kept = tuple(replace(p, locked=k in chosen) for k, p in enumerate(first.placements))
    locked = replace(job, layout=replace(first, placements=kept))
    result = solve(locked, MaxPasses(1), params=Params())
    assert result.refused == 0
    held_to_account(locked, result.layout)
    names = [blank.stock_id for blank in first.blanks]
    found = {(p.part_id, p.copy): p for p in result.layout.placements}
    for p in kept:
        if p.locked:
            there = found[p.part_id, p.copy]
            assert there.locked
            assert (there.x, there.y, there.turn, there.flipped) == (
                p.x,
                p.y,
                p.turn,
                p.flipped,
            )
            assert result.layout.blanks[there.blank].stock_id == names[p.blank]


def brief(search: Search) -> None:
    """Improve in attempts short enough for a test."""
    improve(search, first=60_000, press=60_000)


@SLOW
@given(jobs(), st.integers(0, 3))
def test_improving_never_breaks_a_layout_nor_makes_it_worse(
    job: Job, seed: int
) -> None:
    constructed = solve(job, MaxPasses(9), seed, params=Params(shaken=0))
    params = Params(shaken=0, improve=brief)
    result = solve(job, MaxPasses(13), seed, params=params)
    held_to_account(job, result.layout)
    assert result.refused == 0
    assert solve(job, MaxPasses(13), seed, params=params).layout == result.layout
    rank = result.measures.rank(job.objective)
    assert rank <= constructed.measures.rank(job.objective)
