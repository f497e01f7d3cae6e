"""Parting and pressing copies that may turn freely, on layouts with a known end."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from drystone.nesting.nofit import RegionStore
from drystone.nesting.overlap import Places, Task
from drystone.nesting.prepare import prepare_shape, turned
from drystone.nesting.separate import Settings
from drystone.nesting.sheets import SheetSearch
from drystone.nesting.turner import MOST_COPIES, Turned, Turner

TOLERANCE = 1e-6


def never() -> bool:
    return False


def bar_task(length: float, count: int) -> Task:
    """Bars 10 wide at one of three angles, and a post that cannot move."""
    bar = prepare_shape([np.array([[0, 0], [length, 0], [length, 10], [0, 10.0]])])
    post = prepare_shape([np.array([[0, 0], [20, 0], [20, 20], [0, 20.0]])])
    store = RegionStore([bar, post], [[0.0, 90.0, 20.0], [0.0]])
    return Task.of(store, [0] * count + [1], [True] * count + [False])


def turner_of(task: Task, *turnable: bool) -> Turner:
    rows = np.array([[may] for may in turnable])
    return Turner(task, rows, np.zeros(1, dtype=np.int32), TOLERANCE)


def places_of(*rows: tuple[int, float, float]) -> Places:
    at, x, y = np.array(rows).T
    return Places(
        at.astype(np.int32), np.zeros(len(rows), dtype=np.int32), x.copy(), y.copy()
    )


def laid(task: Task, found: Turned) -> list[shapely.Polygon]:
    out = []
    places = found.places
    for i, v in enumerate(places.at.tolist()):
        angle = found.angle.get(i, task.store.angles[v])
        ring = turned(task.store.shapes[task.store.shape_of(v)].rings, angle)[0]
        out.append(shapely.Polygon(ring + np.array([places.x[i], places.y[i]])))
    return out


def test_a_bar_too_long_for_the_room_is_turned_into_its_diagonal() -> None:
    task = bar_task(110.0, 1)
    turner = turner_of(task, True, False)
    rooms = np.array([[0.0, 0.0, 100.0, 80.0]])
    start = places_of((2, 50.0, 40.0), (3, 10.0, 70.0))
    found = turner.part(start, rooms, [0], never)
    assert found is not None
    bar, post = laid(task, found)
    assert shapely.box(*rooms[0]).buffer(1e-5).contains(bar)
    assert bar.intersection(post).area < 1e-3
    assert post.bounds == pytest.approx((0, 60, 20, 80), abs=1e-3)
    assert 0 in found.angle and 1 not in found.angle
    assert start.x[0] == 50.0  # left as it was
    # One that may not turn has no place there.
    assert turner_of(task, False, False).part(start, rooms, [0], never) is None


def test_pressing_lays_bars_upright_where_that_is_shorter() -> None:
    task = bar_task(60.0, 2)
    turner = turner_of(task, True, True, False)
    rectangle = np.array([0.0, 0.0, 300.0, 60.5])
    start = places_of((1, 60.0, 30.2), (1, 140.0, 30.2), (3, 10.0, 200.0))
    found = turner.press(start, rectangle, 0, 0, never)
    assert found is not None
    end, there = found
    assert end == pytest.approx(20.0, abs=1e-2)
    one, two, _ = laid(task, there)
    assert one.intersection(two).area < 1e-3
    assert max(one.bounds[2], two.bounds[2]) == pytest.approx(end, abs=1e-6)


def test_rooms_with_very_many_copies_are_left_alone() -> None:
    task = bar_task(60.0, MOST_COPIES)
    turner = turner_of(task, *[True] * (MOST_COPIES + 1))
    rows = [(0, 100.0 * k, 50.0) for k in range(MOST_COPIES + 1)]
    rectangle = np.array([0.0, 0.0, 1e6, 100.0])
    assert turner.press(places_of(*rows), rectangle, 0, 0, never) is None


def test_a_search_hands_over_to_the_turner_what_turning_makes_shorter() -> None:
    task = bar_task(110.0, 1)
    start = places_of((2, 60.0, 40.0), (3, 10.0, 70.0))
    room = np.array([[0.0, 0.0, 125.0, 80.0]])
    ends = {}
    for turns in (False, True):
        search = SheetSearch(task, room, start, Settings(), seed=1)
        search.incumbent = start.copy()
        if turns:
            search.turner = turner_of(task, True, False)
        ends[turns] = search.press(never, 0)
        assert (search.turned is not None) == turns
    # At 20 degrees it cannot get shorter; in the diagonal of the room, past the post,
    # it can.
    angle = math.radians(20.0)
    assert ends[False] == pytest.approx(
        110.0 * math.cos(angle) + 10.0 * math.sin(angle), abs=1e-2
    )
    assert ends[True] < ends[False] - 5.0
    assert search.turned is not None
    bar, post = laid(task, search.turned)
    assert bar.bounds[2] == pytest.approx(ends[True], abs=1e-6)
    assert bar.intersection(post).area < 1e-3
    assert bar.bounds[3] <= 80.0 + 1e-6 and bar.bounds[1] >= -1e-6
