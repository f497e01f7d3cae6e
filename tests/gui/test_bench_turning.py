"""Turning on the bench: neighbours push parts aside or stop them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from drystone.app.bench import arrange
from drystone.app.bench.shapes import flat
from drystone.app.bench.turning import Turner, least_push
from drystone.app.bench.walls import walls_on
from drystone.nesting.model.job import Job
from drystone.nesting.model.placement import Layout, Placement

from .bench_jobs import GAP, planter_job
from .bench_person import CTRL, SHIFT, Person


def distance(job: Job, one: Placement, two: Placement) -> float:
    """Return the distance of two placed copies, mm."""
    shapes = [
        flat(job.part(p.part_id).outline).moved_polygon(p.motion) for p in (one, two)
    ]
    return float(shapely.distance(*shapes))


def turner(job: Job, key: tuple[str, int]) -> Turner:
    p = next(q for q in job.layout.placements if (q.part_id, q.copy) == key)
    walls = walls_on(job, p.blank, [key])
    return Turner(job, walls, [p], arrange.centre_of(job, p))


def test_a_neighbour_pushes_a_turned_part_aside_to_exactly_the_gap(
    person: Person,
) -> None:
    person.document.move_by([("side", 2)], -32, 30)  # 8 mm right of side 1
    person.document.move_by([("side", 1)], 0, 30)
    person.document.select([("side", 2)])
    before = person.where(("side", 2))
    person.turn_handle(37)
    assert person.where(("side", 2)) == before  # nothing is done before the release
    person.let_go()
    after = person.where(("side", 2))
    assert after.turn == pytest.approx(37, abs=2)
    assert person.document.conflicts() == {}
    job = person.document.job
    middle = arrange.centre_of(job, after)
    assert math.dist(middle, arrange.centre_of(job, before)) > 5
    near = min(
        distance(job, after, q)
        for q in job.layout.placements
        if q != after and not q.blank
    )
    assert near == pytest.approx(GAP, abs=0.01)
    assert person.document.undo.undoText() == "Turn Side 2"


def test_turned_back_it_lies_where_it_was_picked_up(person: Person) -> None:
    person.document.move_by([("side", 2)], -32, 0)
    person.document.select([("side", 2)])
    before = person.where(("side", 2))
    person.turn_handle(40)
    gesture = person.view.gesture
    assert gesture is not None
    handle = person.view.handle_at()
    assert handle is not None
    person.go(handle.toPoint())
    person.let_go()
    after = person.where(("side", 2))
    assert (after.x, after.y) == pytest.approx((before.x, before.y), abs=1e-6)


def wedged_job() -> Job:
    """A panel in a slot between two others, with room to turn a little only."""
    job = planter_job()
    placements = (
        Placement("side", 1, 0, 150, 20),
        Placement("side", 2, 0, 150, 95),  # 15 mm above
        Placement("side", 3, 0, 150, 170),
        Placement("rail", 1, 0, 130, 240),
        Placement("rail", 2, 0, 260, 20, 0.0),
    )
    walls = tuple(replace(p, locked=p.copy != 2) for p in placements[:4])
    return replace(job, layout=Layout(job.layout.blanks, walls))


def test_where_it_is_wedged_the_turn_stops_before_it(qtbot: QtBot) -> None:
    job = wedged_job()
    t = turner(job, ("side", 2))
    turned = t.turn(80)
    assert turned.held and 5 < turned.by < 80
    (p,) = t.placed()
    others = [q for q in job.layout.placements if q.part_id == "side" and q.copy != 2]
    distances = [distance(job, p, q) for q in others]
    assert min(distances) >= GAP - 1e-6
    assert max(distances) == pytest.approx(GAP, abs=0.05)  # wedged between the two
    again = t.turn(81)
    assert again.held and again.by == pytest.approx(turned.by, abs=0.2)
    back = t.turn(0)
    assert (back.by, back.x, back.y, back.held) == (0, 0, 0, False)


@settings(max_examples=25, deadline=None)
@given(
    wishes=st.lists(st.floats(-180, 180), min_size=1, max_size=5),
    key=st.sampled_from([("side", 2), ("ring", 1), ("disc", 1), ("side", 3)]),
    dx=st.floats(-28, 60),
    gap=st.sampled_from([0.0, GAP]),
)
def test_no_turn_leads_into_a_conflict(
    wishes: list[float], key: tuple[str, int], dx: float, gap: float
) -> None:
    job = planter_job()
    job = replace(job, cutting=replace(job.cutting, cutter=gap, allowance=0.0))
    moved = tuple(
        replace(p, x=p.x + dx) if (p.part_id, p.copy) == ("side", 2) else p
        for p in job.layout.placements
    )
    job = replace(job, layout=replace(job.layout, placements=moved))
    t = turner(job, key)
    if not t.clear():
        return
    for wish in wishes:
        turned = t.turn(wish)
        assert t.clear()
        (p,) = t.placed()
        others = [q for q in job.layout.placements if (q.part_id, q.copy) != key]
        for q in others:
            if q.blank == p.blank:
                assert distance(job, p, q) >= gap - 0.0045
        if not turned.held:
            assert turned.by == wish


def test_ctrl_turns_through_a_neighbour_and_flags_both(person: Person) -> None:
    person.document.move_by([("side", 2)], -32, 0)
    person.document.select([("side", 2)])
    person.turn_handle(50, CTRL)
    person.let_go(CTRL)
    assert set(person.document.conflicts()) >= {("side", 1), ("side", 2)}
    assert person.where(("side", 2)).turn == pytest.approx(50, abs=2)


def test_escape_leaves_a_turn_undone(person: Person) -> None:
    person.document.select([("side", 3)])
    job = person.document.job
    person.turn_handle(50)
    person.key(Qt.Key.Key_Escape)
    person.let_go()
    assert person.document.job is job


def test_it_snaps_along_the_edge_of_a_neighbour_and_says_whose(person: Person) -> None:
    person.document.move_by([("side", 2)], 0, 30)
    person.document.turn_to([("side", 2)], 52)
    person.document.move_by([("side", 3)], 0, 40)
    person.document.select([("side", 3)])
    person.turn_handle(53)
    assert "along an edge of Side 2" in person.view.figures
    assert person.view._hand.shown.guides
    person.let_go()
    assert person.where(("side", 3)).turn == pytest.approx(52, abs=1e-6)
    assert person.document.conflicts() == {}


def test_discs_have_no_edges_to_turn_along(person: Person) -> None:
    """The chords a circle is drawn with are no edges."""
    person.document.select([("disc", 1)])
    person.turn_handle(52)
    assert "along" not in person.view.figures
    person.let_go()


def test_shift_turns_in_round_steps(person: Person) -> None:
    person.document.move_by([("side", 3)], 100, 100)
    person.document.select([("side", 3)])
    person.turn_handle(49, SHIFT)
    person.let_go(SHIFT)
    assert person.where(("side", 3)).turn == 45


def test_a_listed_turn_makes_room_aside_or_says_there_is_none(person: Person) -> None:
    document = person.document
    rail = person.where(("rail", 1))
    document.replace_placements("Move", [replace(rail, x=380, y=350)])
    # A disc so near that the rail turned about cannot lie where it lay.
    document.select([("rail", 1)])
    person.turn_handle(170)
    person.let_go()
    assert person.where(("rail", 1)).turn == 180
    assert document.conflicts() == {}


def test_one_condition_asks_for_the_straight_way_out() -> None:
    push = least_push(np.array([[0.6, 0.8]]), np.array([2.0]))
    assert push is not None
    assert push == pytest.approx([1.2, 1.6])


def test_two_conditions_meet_where_their_edges_cross() -> None:
    push = least_push(np.array([[1.0, 0.0], [0.0, 1.0]]), np.array([2.0, 3.0]))
    assert push is not None
    assert push == pytest.approx([2, 3])


def test_opposite_conditions_cannot_be_met() -> None:
    assert least_push(np.array([[1.0, 0.0], [-1.0, 0.0]]), np.array([1.0, 1.0])) is None
    assert least_push(np.array([[1.0, 0.0]]), np.array([-1.0])) == pytest.approx([0, 0])


def test_turned_on_it_comes_back_as_near_as_it_can() -> None:
    """At 60° the panel is narrower than at 31°: it need not stay so far aside."""
    job = planter_job()
    moved = tuple(
        replace(p, x=p.x - 32) if (p.part_id, p.copy) == ("side", 2) else p
        for p in job.layout.placements
    )
    job = replace(job, layout=replace(job.layout, placements=moved))
    t = turner(job, ("side", 2))
    far = t.turn(31)
    assert far.x > 5 and not far.held
    near = t.turn(60)
    assert not near.held and 0.5 < near.x < 2.0
    (p,) = t.placed()
    one = next(q for q in moved if (q.part_id, q.copy) == ("side", 1))
    assert distance(job, p, one) == pytest.approx(GAP, abs=1e-3)


@pytest.mark.parametrize("gap", [0.0, 0.3, 8.0])
def test_neighbours_push_aside_at_any_gap(gap: float) -> None:
    """Side by side at just the gap, a panel turns up along its neighbour and back."""
    job = planter_job()
    cutting = replace(job.cutting, cutter=gap, allowance=0.0)
    placed = (
        Placement("side", 1, 0, 150, 150),
        Placement("side", 2, 0, 250 + gap, 150),
        Placement("rail", 1, 0, 30, 30),
    )
    job = replace(job, cutting=cutting, layout=Layout(job.layout.blanks, placed, ()))
    t = turner(job, ("side", 2))
    assert t.clear()
    for wish in (10.0, 35.0, 60.0, 90.0):
        turned = t.turn(wish)
        while turned.held and turned.by < wish - 0.5:
            before = turned.by
            turned = t.turn(wish)
            if turned.by <= before:
                break
        assert turned.by == pytest.approx(wish, abs=0.5), "it does not stop"
        (p,) = t.placed()
        away = distance(job, p, placed[0])
        assert away >= gap - 0.0045
        if wish < 90:
            assert away == pytest.approx(gap, abs=0.02), "snug"
    for wish in (60.0, 30.0, 0.0):
        t.turn(wish)
    (p,) = t.placed()
    assert p.turn == pytest.approx(0.0, abs=0.5)
    assert p.x == pytest.approx(250 + gap, abs=0.5)
