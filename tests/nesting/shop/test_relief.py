"""Relief as a choice of the job and of parts, and its independent check."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
import shapely

from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.holding import ReliefKind
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.shop.reach import standing
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


def two_holes(web: float, rim: float = 10.0) -> Part:
    """Return a part with two upright holes, so far apart and from its ends, mm."""
    holes = (Loop.rectangle(20, 60, 10, rim), Loop.rectangle(20, 60, 30 + web, rim))
    return Part("t", "t", Outline(Loop.rectangle(60 + web, 60 + 2 * rim), holes))


def test_a_relief_that_would_break_through_is_left_out() -> None:
    """T-bones cut 3 mm into a web or rim, dog-bones 0.9: a web of 1 mm takes one."""
    assert len(relieve(two_holes(7.0), CUTTER, ReliefKind.T_BONE).done) == 8
    thin = two_holes(1.0, 2.0)
    result = relieve(thin, CUTTER, ReliefKind.T_BONE)
    assert (len(result.done), len(result.left)) == (6, 2)
    assert relief_fault(thin.outline, result.part.outline, CUTTER) == ""
    said = advice_on_relief(job_of(thin, relief=ReliefKind.T_BONE))
    assert "2 inside corners could not be relieved" in said[-1].message
    assert advice_on_relief(job_of(thin)) == []


def test_where_one_kind_has_no_room_the_other_is_taken_and_told() -> None:
    """Across a web of 4 mm two T-bones of 3 mm would meet, a dog-bone takes 0.9."""
    web = two_holes(4.0, 2.0)
    result = relieve(web, CUTTER, ReliefKind.T_BONE)
    assert (len(result.done), len(result.other), result.left) == (8, 2, ())
    (said,) = advice_on_relief(job_of(web, relief=ReliefKind.T_BONE))
    assert "2 inside corners have no room for a T-bone and got a dog-bone" in (
        said.message
    )
    # A step of 3 mm has no room for the chord of a dog-bone, 4.24 mm; its long wall
    # has room for a T-bone.
    edge = [(0, 0), (60, 0), (60, 30), (30, 30), (30, 27), (0, 27)]
    step = Part("s", "s", Outline(Loop.polygon(edge)))
    result = relieve(step, CUTTER)
    assert (result.done, result.other) == (((30.0, 27.0),), ((30.0, 27.0),))
    (arc,) = arcs(result.part)
    assert arc.centre == pytest.approx((27.0, 27.0)), "on the long wall"
    assert relief_fault(step.outline, result.part.outline, CUTTER) == ""


def half_disc_hole() -> Part:
    """Return a part with a half disc cut out: two right angles, one wall a curve."""
    hole = Loop((Line((20.0, 20.0), (80.0, 20.0)), Arc((50.0, 20.0), 30.0, 0.0, 180.0)))
    return Part("h", "h", Outline(Loop.rectangle(100, 80), (hole.oriented(False),)))


@pytest.mark.parametrize("kind", [ReliefKind.DOG_BONE, ReliefKind.T_BONE])
def test_corners_between_a_line_and_a_curve_are_relieved(kind: ReliefKind) -> None:
    part = half_disc_hole()
    result = relieve(part, CUTTER, kind)
    assert (len(result.done), result.left) == (2, ())
    bones = [arc for arc in arcs(result.part) if arc.radius == CUTTER / 2.0]
    assert len(bones) == 2
    for arc, corner in zip(bones, result.done, strict=True):
        assert math.dist(arc.centre, corner) == pytest.approx(CUTTER / 2.0)
    (wall,) = [arc for arc in arcs(result.part) if arc.radius == 30.0]
    assert wall.centre == (50.0, 20.0), "it stays the arc it is"
    assert relief_fault(part.outline, result.part.outline, CUTTER) == ""
    assert len(cuttable(result.part)) == len(cuttable(part)) == 1
    assert standing(as_cut(job_of(part, relief=kind), part).part, CUTTER) == []


def test_a_corner_between_beziers_is_relieved() -> None:
    leaf = Loop(
        (
            Cubic((10.0, 40.0), (20.0, 5.0), (80.0, 5.0), (90.0, 40.0)),
            Cubic((90.0, 40.0), (80.0, 75.0), (20.0, 75.0), (10.0, 40.0)),
        )
    )
    part = Part("l", "l", Outline(Loop.rectangle(100, 80), (leaf.oriented(False),)))
    result = relieve(part, CUTTER)
    assert (len(result.done), result.left) == (2, ())
    kinds = [type(s).__name__ for s in result.part.outline.holes[0].segments]
    assert kinds.count("Cubic") == 2 and kinds.count("Arc") == 2
    assert relief_fault(part.outline, result.part.outline, CUTTER) == ""
    assert len(cuttable(result.part)) == 1


def cuttable(part: Part) -> list[Any]:
    """Return the regions of its one hole that a cutter's centre may take.

    A hair is left out, so that a circle as wide as the cutter is a region too.
    """
    hole = shapely.Polygon(part.outline.holes[0].flatten(0.001))
    return list(shapely.get_parts(hole.buffer(0.02 - CUTTER / 2.0, quad_segs=32)))


@pytest.mark.parametrize("angle", [35.0, 45.0, 60.0, 89.0, 90.0, 130.0])
def test_a_cutter_gets_to_each_relief_without_touching_anything(angle: float) -> None:
    """Below 90 degrees a mere circle would be an island no cutter can come to."""
    reach = 120.0 * math.tan(math.radians(angle) / 2.0)
    kite = Loop.polygon([(20, 100), (140, 100 - reach), (200, 100), (140, 100 + reach)])
    outer = Loop.rectangle(400, 800, -20, -300)
    part = Part("k", "k", Outline(outer, (kite.oriented(False),)))
    result = relieve(part, CUTTER)
    assert (20.0, 100.0) in result.done
    assert len(cuttable(result.part)) == 1
    assert relief_fault(part.outline, result.part.outline, CUTTER) == ""


def test_a_corner_between_curves_is_left_and_told() -> None:
    """The lobes of a heart touch: there is no opening for a cutter to come by."""
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
