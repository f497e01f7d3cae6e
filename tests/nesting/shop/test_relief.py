"""Relief as a choice of the job and of parts, and its independent check."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drystone.nesting.model.curve import Arc, Line
from drystone.nesting.model.holding import ReliefKind
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.shop.relief import (
    ROOM,
    advice_on_relief,
    as_cut,
    job_as_cut,
    relieve,
)
from drystone.nesting.shop.relief_check import inside_corners_of, relief_fault

CUTTER = 6.0
PLATE = Part(
    "plate",
    "plate",
    Outline(Loop.rectangle(100, 80), (Loop.rectangle(40, 30, 20, 20),)),
)
PLAIN = Part("plain", "plain", Outline(Loop.rectangle(50, 50)))


def job_of(*parts: Part, relief: ReliefKind = ReliefKind.NONE) -> Job:
    return Job("j", parts, cutting=Cutting(cutter=CUTTER), relief=relief)


def arcs(part: Part) -> list[Arc]:
    return [
        s for loop in part.outline.loops for s in loop.segments if isinstance(s, Arc)
    ]


def test_the_job_says_and_a_part_may_say_otherwise() -> None:
    job = job_of(PLATE, PLAIN)
    assert job_as_cut(job) is job
    every = replace(job, relief=ReliefKind.DOG_BONE)
    cut = job_as_cut(every)
    assert len(arcs(cut.parts[0])) == 4
    assert cut.parts[1] is PLAIN  # it has no inside corner
    kept = replace(every, parts=(replace(PLATE, relief=ReliefKind.NONE),))
    assert job_as_cut(kept) is kept
    alone = replace(job, parts=(replace(PLATE, relief=ReliefKind.T_BONE), PLAIN))
    assert len(arcs(job_as_cut(alone).parts[0])) == 4


def test_a_toolpath_has_a_path_to_run_in_it() -> None:
    """The radius is a hair above the cutter's: exactly as wide leaves a mere point."""
    cut = as_cut(job_of(PLATE, relief=ReliefKind.DOG_BONE), PLATE)
    assert {arc.radius for arc in arcs(cut.part)} == {CUTTER / 2 + ROOM}


def test_a_short_wall_sends_the_t_bone_to_the_other_one() -> None:
    """A slot 8 mm wide and 20 deep: its floor has room for one of two, the walls for
    both; a floor of 40 would take both."""
    edge = [(0, 0), (60, 0), (60, 40), (34, 40), (34, 20), (26, 20), (26, 40), (0, 40)]
    part = Part("s", "s", Outline(Loop.polygon(edge)))
    result = relieve(part, CUTTER, ReliefKind.T_BONE)
    assert len(result.done) == 2
    x = [arc.centre[0] for arc in arcs(result.part)]
    assert sorted(x) == [26, 34]  # on the walls


def two_holes(web: float) -> Part:
    """Return a part with two upright holes, so far apart, mm."""
    holes = (Loop.rectangle(20, 60, 10, 10), Loop.rectangle(20, 60, 30 + web, 10))
    return Part("t", "t", Outline(Loop.rectangle(60 + web, 80), holes))


def test_a_relief_that_would_break_through_is_left_out() -> None:
    """T-bones of 3 mm cut 3 mm into each side of the web between two holes."""
    assert len(relieve(two_holes(7.0), CUTTER, ReliefKind.T_BONE).done) == 8
    thin = two_holes(4.0)
    result = relieve(thin, CUTTER, ReliefKind.T_BONE)
    assert (len(result.done), len(result.left)) == (6, 2)
    assert relief_fault(thin.outline, result.part.outline, CUTTER) == ""
    (said,) = advice_on_relief(job_of(thin, relief=ReliefKind.T_BONE))
    assert "2 inside corners could not be relieved" in said.message
    assert advice_on_relief(job_of(thin)) == []


def test_a_corner_between_curves_is_left_and_told() -> None:
    heart = Loop(
        (
            Arc((-10.0, 0.0), 10.0, 0.0, 180.0),
            Line((-20.0, 0.0), (0.0, -40.0)),
            Line((0.0, -40.0), (20.0, 0.0)),
            Arc((10.0, 0.0), 10.0, 0.0, 180.0),
        )
    )
    part = Part("h", "heart", Outline(heart))
    result = relieve(part, CUTTER)
    assert (result.done, len(result.left)) == ((), 1)
    assert len(inside_corners_of(part.outline)) == 1


@pytest.mark.parametrize("kind", [ReliefKind.DOG_BONE, ReliefKind.T_BONE])
def test_the_check_finds_what_relief_must_not_do(kind: ReliefKind) -> None:
    drawn = PLATE.outline
    assert len(inside_corners_of(drawn)) == 4
    good = relieve(PLATE, CUTTER, kind, room=ROOM).part.outline
    assert relief_fault(drawn, good, CUTTER) == ""
    assert relief_fault(drawn, drawn, CUTTER) == ""
    larger = relieve(PLATE, 3 * CUTTER, kind).part.outline
    assert "are missing" in relief_fault(drawn, larger, CUTTER)
    notch = Loop.polygon(
        [(0, 0), (50, 0), (50, 1), (51, 1), (51, 0), (100, 0), (100, 80), (0, 80)]
    )
    assert "away from any" in relief_fault(drawn, Outline(notch, drawn.holes), CUTTER)
    wider = Outline(Loop.rectangle(100.1, 80), drawn.holes)
    assert "more than its drawing" in relief_fault(drawn, wider, CUTTER)
    crossed = Loop.polygon([(0, 0), (100, 0), (0, 80), (100, 80)])
    assert "crosses" in relief_fault(drawn, Outline(crossed), CUTTER)
