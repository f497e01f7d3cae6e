"""Whatever the job, the layout is valid and nothing is lost."""

from __future__ import annotations

import math
import os
from collections import Counter
from dataclasses import replace
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drystone.nesting.improve import improve
from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.job import Cutting, Job, Objective
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Layout
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.recheck import recheck_all
from drystone.nesting.solve import PLANS, Params, Search, solve
from drystone.nesting.stop import MaxPasses
from drystone.nesting.verify import verify

COUNT = int(os.environ.get("DRYSTONE_RANDOM_JOBS", "40"))
"""Jobs tried; set the variable to try more."""

sizes = st.floats(15.0, 260.0).map(lambda v: round(v, 3))
tiny = st.floats(2.0, 8.0).map(lambda v: round(v, 3))
huge = st.floats(240.0, 520.0).map(lambda v: round(v, 3))
SLOW = settings(
    max_examples=COUNT,
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


def egg(a: float, b: float) -> Loop:
    """Return two cubics that make a shape with no straight and no arc."""
    return Loop(
        (
            Cubic((0.0, 0.0), (a, -b / 3), (a, b), (a / 4, b)),
            Cubic((a / 4, b), (-a / 3, b), (-a / 3, b / 5), (0.0, 0.0)),
        )
    )


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    kind = draw(st.integers(0, 9))
    size = draw(st.sampled_from([sizes, sizes, sizes, tiny, huge]))
    a, b = draw(size), draw(size)
    if kind == 7:
        return Outline(egg(a, b))
    if kind == 8:  # nearly equal ones
        return Outline(Loop.rectangle(120.0 + draw(st.integers(-3, 3)) * 1e-3, 80.0))
    if kind == 9:  # a frame that may hold others, with a hole of its own in a corner
        t = 0.15 * min(a, b)
        holes = [Loop.rectangle(a - 2 * t, b - 2 * t, t, t)]
        holes.append(Loop.circle(t / 2, t / 2, t / 4))
        return Outline(Loop.rectangle(a, b), tuple(holes))
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
        cutter=draw(st.sampled_from([0.0, 3.175, 6.0, 25.0, 60.0])),
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


def brief(search: Search) -> None:
    """Improve in attempts short enough for a test."""
    improve(search, first=40_000, press=40_000)


PARAMS = Params(plans=PLANS[:3], shaken=0, improve=brief)


def some_locked(job: Job, layout: Layout, random: Random) -> Job:
    """Return the job with a third of a layout's copies locked where they are."""
    count = len(layout.placements)
    chosen = set(random.sample(range(count), count // 3))
    kept = tuple(
        replace(p, locked=k in chosen) for k, p in enumerate(layout.placements)
    )
    return replace(job, layout=replace(layout, placements=kept))


def locked_are_kept(job: Job, layout: Layout) -> None:
    found = {(p.part_id, p.copy): p for p in layout.placements}
    for p in job.layout.placements:
        if p.locked:
            there = found[p.part_id, p.copy]
            blanks = job.layout.blanks[p.blank], layout.blanks[there.blank]
            assert blanks[0] == blanks[1]
            assert replace(there, blank=p.blank) == p


@pytest.mark.timeout(0 if COUNT > 40 else 280)
@SLOW
@given(
    jobs(),
    st.integers(0, 3),
    st.sampled_from(["bare", "bare", "locked", "given"]),
    st.sampled_from([1, 1, 1, 2]),
    st.randoms(use_true_random=False),
)
def test_a_random_job_is_laid_out_honestly(
    job: Job, seed: int, begin: str, workers: int, random: Random
) -> None:
    """Valid, complete or with reasons, never worse than its start, the same again."""
    initial: Layout | None = None
    floor: tuple[float, ...] | None = None
    if begin != "bare":
        first = solve(job, MaxPasses(1), seed, params=Params(shaken=0))
        held_to_account(job, first.layout)
        if begin == "locked":
            job = some_locked(job, first.layout, random)
        else:
            initial = first.layout
            floor = first.measures.rank(job.objective)
    handed: list[Layout] = []
    stop = MaxPasses(6)
    result = solve(
        job,
        stop,
        seed,
        on_better=lambda layout, _: handed.append(layout),
        workers=workers,
        params=PARAMS,
        initial=initial,
    )
    assert result.refused == 0
    assert handed[-1] == result.layout
    for layout in handed:
        held_to_account(job, layout)
        locked_are_kept(job, layout)
    # The first that is handed out is the constructive start, or what was given.
    ranks = [record.measures.rank(job.objective) for record in result.history]
    assert ranks == sorted(set(ranks), reverse=True)
    if floor is not None:
        assert ranks[-1] <= floor
    again = solve(job, stop, seed, workers=workers, params=PARAMS, initial=initial)
    assert again.layout == result.layout
    if result.complete:
        assert result.measures.sheets >= result.bound.sheets
        assert result.measures.cost >= result.bound.cost - 1e-6
    assert recheck_all(result.bound, job)
