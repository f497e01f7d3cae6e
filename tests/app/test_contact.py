"""Snug moves: exact distances, corners, holes, and no way into a conflict."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import pytest
import shapely
import shapely.affinity
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.app.bench.contact import SKIN, Group, Hand
from drystone.app.bench.walls import Walls
from drystone.nesting.model.curve import Arc, Line
from drystone.nesting.model.job import Cutting
from drystone.nesting.model.motion import Motion
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.placement import Placement
from drystone.nesting.model.stock import KeepOut, Stock

CUTTING = Cutting(6.0, 2.0, 10.0)
GAP = 8.0


def square(side: float) -> Outline:
    return Outline(Loop.rectangle(side, side))


def disc(radius: float, hole: float = 0.0) -> Outline:
    return Outline(
        Loop.circle(0, 0, radius), (Loop.circle(0, 0, hole),) if hole else ()
    )


def hand(
    outline: Outline,
    at: tuple[float, float],
    others: Sequence[tuple[Outline, float, float, float]] = (),
    keep_outs: tuple[KeepOut, ...] = (),
    cutting: Cutting = CUTTING,
    turn: float = 0.0,
) -> Hand:
    stock = Stock("s", "S", Outline(Loop.rectangle(600, 400)), keep_outs=keep_outs)
    placed = [
        (Placement("o", i + 1, 0, x, y, turn), outline)
        for i, (outline, x, y, turn) in enumerate(others)
    ]
    walls = Walls(stock, cutting, placed)
    return Hand([Group(walls, [(outline, Motion(at[0], at[1], turn))])])


def test_it_stops_a_gap_before_a_neighbour() -> None:
    h = hand(square(50), (20, 100), [(square(60), 300, 95, 0)])
    step = h.move(250, 0)  # wishes to overlap the neighbour
    assert step.held
    assert 20 + step.x + 50 == pytest.approx(300 - GAP, abs=1e-4)
    assert step.y == pytest.approx(0, abs=1e-6)
    assert 300 - (20 + step.x + 50) >= GAP


def test_it_slides_along_what_is_in_the_way() -> None:
    h = hand(square(50), (20, 100), [(square(200), 300, 50, 0)])
    h.move(250, 0)
    step = h.move(250, 60)
    assert 20 + step.x + 50 == pytest.approx(292, abs=1e-4)
    assert step.y == pytest.approx(60, abs=1e-3)


def test_it_rounds_a_corner_at_the_gap() -> None:
    """Pulled round a corner, the distance to it stays the gap all the way."""
    h = hand(square(20), (100, 100), [(square(100), 200, 100, 0)])
    h.move(80, 80)
    seen = []
    for k in range(60):
        step = h.move(60 + 2.0 * k, 88)
        mine = shapely.box(100 + step.x, 100 + step.y, 120 + step.x, 120 + step.y)
        distance = shapely.distance(mine, shapely.box(200, 100, 300, 200))
        assert distance >= GAP - 1e-9
        if step.held:
            seen.append(distance)
            assert distance == pytest.approx(GAP, abs=1e-3)
    assert len(seen) > 20


def test_round_edges_keep_the_true_gap() -> None:
    """Two discs: the distance of their true circles, not of the polygons."""
    h = hand(disc(40), (100, 200), [(disc(70), 320, 190, 0)])
    for dy in (-60, -20, 0, 13, 40):
        step = h.move(200, dy)
        assert step.held
        true = math.dist((100 + step.x, 200 + step.y), (320, 190)) - 110
        assert GAP - 1e-6 <= true <= GAP + 0.01


def test_the_margin_holds_at_the_edge() -> None:
    h = hand(square(50), (100, 100))
    step = h.move(-500, -500)
    assert (100 + step.x, 100 + step.y) == pytest.approx((10, 10), abs=1e-4)
    assert 100 + step.x >= 10 and 100 + step.y >= 10


def test_keep_outs_are_neighbours() -> None:
    h = hand(square(50), (20, 100), keep_outs=(KeepOut(Loop.circle(300, 125, 30)),))
    step = h.move(250, 0)
    assert 20 + step.x + 50 == pytest.approx(300 - 30 - GAP, abs=0.01)


def test_it_drops_into_a_hole_and_stays_a_gap_away() -> None:
    h = hand(disc(40), (80, 80), [(disc(110, 60), 350, 200, 0)])
    # The pointer is 10 mm off the middle of the hole: there is room for 12.
    step = h.move(280, 120, drop=4)
    assert not step.held
    step = h.move(300, 120, drop=4)  # 30 mm off: pressed against the hole's edge
    away = math.dist((80 + step.x, 80 + step.y), (350, 200))
    assert step.held and away == pytest.approx(60 - 40 - GAP, abs=0.01)


def test_it_drops_into_a_tight_hole_by_its_middle() -> None:
    h = hand(disc(40), (80, 80), [(disc(110, 48.02), 350, 200, 0)])
    step = h.move(275, 125, drop=1, starts=[(270, 120)])
    away = math.dist((80 + step.x, 80 + step.y), (350, 200))
    assert away < 0.03


def test_a_neighbour_held_in_a_hole_is_no_way_out() -> None:
    h = hand(disc(40), (350, 200), [(disc(110, 60), 350, 200, 0)])
    step = h.move(70, 0, drop=2)
    assert step.x == pytest.approx(12, abs=0.01)


def test_no_gap_at_all_still_works() -> None:
    none = Cutting(0.0, 0.0, 0.0)
    h = hand(square(50), (20, 100), [(square(60), 300, 95, 0)], cutting=none)
    step = h.move(250, 0)
    assert 20 + step.x + 50 == pytest.approx(300, abs=1e-3)
    assert 20 + step.x + 50 <= 300


def test_a_notch_is_entered() -> None:
    """A part goes into the hollow of another, where its convex hull would not."""
    u = Outline(
        Loop.polygon(
            [
                (0, 0),
                (160, 0),
                (160, 120),
                (110, 120),
                (110, 40),
                (50, 40),
                (50, 120),
                (0, 120),
            ]
        )
    )
    h = hand(square(40), (260, 300), [(u, 200, 100, 0)])
    step = h.move(0, -200)
    assert step.x == pytest.approx(0, abs=0.5)
    assert 300 + step.y == pytest.approx(140 + GAP, abs=1e-3)


def stadium(length: float, radius: float) -> Outline:
    return Outline(
        Loop(
            (
                Line((0, -radius), (length, -radius)),
                Arc((length, 0), radius, -90, 180),
                Line((length, radius), (0, radius)),
                Arc((0, 0), radius, 90, 180),
            )
        )
    )


wishes = st.lists(
    st.tuples(st.floats(-700, 700), st.floats(-500, 500)), min_size=1, max_size=12
)


@settings(max_examples=40, deadline=None)
@given(wishes=wishes, turn=st.floats(0, 360), drop=st.sampled_from([0.0, 3.0, 12.0]))
def test_no_wish_leads_into_a_conflict(
    wishes: list[tuple[float, float]], turn: float, drop: float
) -> None:
    """Wherever the hand is pulled, the true distances hold: checked with shapely."""
    others = [
        (disc(70, 45), 300, 180, 0.0),
        (stadium(120, 15), 60, 40, 25.0),
        (square(80), 440, 60, 30.0),
        (square(80), 440, 250, 0.0),
        (stadium(90, 20), 80, 330, 0.0),
    ]
    outline = stadium(40, 12)
    h = hand(outline, (180, 280), others, turn=turn)
    if not h.clear(np.zeros(2)):
        return
    solids = [
        shapely.Polygon(
            (m := Motion(x, y, t)).points(o.flatten(0.0005).outer),
            [m.points(hole) for hole in o.flatten(0.0005).holes],
        )
        for o, x, y, t in others
    ]
    room = shapely.box(10, 10, 590, 390)
    mine = shapely.Polygon(Motion(180, 280, turn).points(outline.flatten(0.0005).outer))
    for x, y in wishes:
        step = h.move(x, y, drop=drop)
        moved = shapely.affinity.translate(mine, step.x, step.y)
        assert room.buffer(1e-3).contains(moved)
        for solid in solids:
            assert shapely.distance(moved, solid) >= GAP - 0.0045
        if not step.held:
            assert (step.x, step.y) == (x, y)


def test_a_part_picked_up_in_a_conflict_gets_out_of_it() -> None:
    h = hand(square(50), (300, 110), [(square(80), 290, 95, 0)])
    assert not h.clear(np.zeros(2))
    step = h.move(20, 0)  # still deep in the neighbour
    assert step.held
    assert h.clear(np.array((step.x, step.y)))
    mine = shapely.box(300 + step.x, 110 + step.y, 350 + step.x, 160 + step.y)
    distance = shapely.distance(mine, shapely.box(290, 95, 370, 175))
    assert GAP - 1e-6 <= distance <= GAP + 1e-3


def test_where_there_is_no_room_at_all_it_stays() -> None:
    h = hand(square(300), (20, 20), [(square(300), 200, 50, 0)])
    step = h.move(30, 10)
    assert step.held and (step.x, step.y) == (0, 0)


def test_many_edges_among_few_walls_find_the_same_capsules() -> None:
    """Boxes are made of the fewer edges; which ones must not matter."""
    flower = Outline(
        Loop.polygon(
            [
                (
                    (60 + 8 * math.sin(7 * a)) * math.cos(a),
                    (60 + 8 * math.sin(7 * a)) * math.sin(a),
                )
                for a in np.linspace(0, 2 * math.pi, 90, endpoint=False)
            ]
        )
    )
    h = hand(flower, (90, 200), [(square(60), 300, 170, 0)])
    (group,) = h.groups
    assert len(group.walls.edges) < len(group.edges)
    t = np.array((135.0, 3.0))
    few = group.capsules(t, 5.0)
    grow = group.walls.greatest_reach + group.error + SKIN + 5.0
    low, high = group.low + (t - grow), group.high + (t + grow)
    boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
    mine, theirs = group.walls.tree.query(boxes)
    assert {*zip(*group._pairs(t, grow), strict=True)} == {
        *zip(mine, theirs, strict=True)
    }
    assert len(few)


def test_a_push_goes_straight_until_something_is_touched() -> None:
    h = hand(square(50), (20, 100), [(square(60), 300, 140, 0)])
    x, y = h.push((1.0, 0.0))
    assert y == 0
    assert 20 + x + 50 == pytest.approx(300 - GAP, abs=1e-4)
    assert h.push((1.0, 0.0)) == (x, y)  # touched: no further, and not aside
    x, y = h.push((0.0, -1.0))
    assert 100 + y == pytest.approx(10, abs=1e-4)


def test_a_push_grazing_a_corner_stops_or_passes_as_the_gap_says() -> None:
    """Above the neighbour by the gap it passes; a hair lower it does not."""
    above = hand(square(50), (20, 208.001), [(square(60), 300, 140, 0)])
    x, _ = above.push((1.0, 0.0))
    assert 20 + x + 50 == pytest.approx(590, abs=1e-3)
    below = hand(square(50), (20, 207.0), [(square(60), 300, 140, 0)])
    x, _ = below.push((1.0, 0.0))
    assert x < 240
