"""Many rooms of any outline, with walls and locked copies, as one mechanism."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from drystone.nesting import kernels_separate as kernel
from drystone.nesting.nofit import RegionStore
from drystone.nesting.overlap import Places, Task
from drystone.nesting.prepare import prepare_room, prepare_shape
from drystone.nesting.separate import Settings
from drystone.nesting.sheets import SheetSearch, scattered, shelved


def ell(size: float, gap: float) -> np.ndarray:
    return size * np.array([[0.0, 0], [3, 0], [3, 1], [1, 1], [1, 2], [0, 2]])


def job(count: int, angles: list[float], gap: float, rooms: int) -> SheetSearch:
    """L-shaped parts in round rooms with a keep-out in the middle."""
    usable = shapely.Point(100, 100).buffer(100, quad_segs=6)
    usable = usable.difference(shapely.box(90, 90, 110, 110))
    room = prepare_room(usable)
    part = prepare_shape([ell(20.0, gap)], grow=0.5 * gap)
    store = RegionStore([part, *room.walls], [angles] + [[0.0]] * len(room.walls))
    walls = list(range(1, 1 + len(room.walls))) * rooms
    task = Task.of(store, [0] * count + walls, [True] * count + [False] * len(walls))
    rectangles = np.array([room.rectangle] * rooms)
    places = scattered(task, rectangles, np.full(rooms, usable.area), seed=1)
    per_room = len(room.walls)
    for k in range(len(walls)):
        i = count + k
        places.room[i] = k // per_room
        places.x[i], places.y[i] = room.walls[k % per_room].origin
    return SheetSearch(task, rectangles, places, Settings(tolerance=1e-6), seed=2)


def assert_valid(search: SheetSearch, gap: float) -> None:
    usable = shapely.Point(100, 100).buffer(100, quad_segs=6)
    usable = usable.difference(shapely.box(90, 90, 110, 110)).buffer(1e-5)
    places = search.incumbent
    assert places is not None
    store = search.task.store
    for room in search.used:
        laid = []
        for i in np.flatnonzero(search.task.movable & (places.room == room)):
            ring = store.turned_shapes[places.at[i]][0]
            laid.append(shapely.Polygon(ring + np.array([places.x[i], places.y[i]])))
        for k, one in enumerate(laid):
            assert usable.contains(one)
            for two in laid[:k]:
                inner = one.buffer(-0.5 * gap, join_style="mitre")
                other = two.buffer(-0.5 * gap, join_style="mitre")
                assert inner.distance(other) >= gap - 0.3
                assert one.intersection(two).area < 1e-3


@pytest.mark.parametrize(
    ("angles", "gap"),
    [([0.0, 180.0], 4.0), ([15.0 * k for k in range(24)], 0.0)],
)
def test_rooms_of_any_outline(angles: list[float], gap: float) -> None:
    search = job(10, angles, gap, rooms=3)

    def stop() -> bool:
        return bool(search.separation.counters[kernel.EVALUATIONS] > 400_000)

    search.least = 1
    search.run(stop)
    assert_valid(search, gap)
    assert len(search.used) == 1


def test_same_seed_and_budget_give_the_same_layout() -> None:
    found: list[Places] = []
    for _ in range(2):
        search = job(20, [0.0, 90.0], 2.0, rooms=3)
        counters = search.separation.counters
        search.run(lambda c=counters: bool(c[kernel.EVALUATIONS] > 300_000))  # type: ignore[misc]
        assert search.incumbent is not None
        assert_valid(search, 2.0)
        found.append(search.incumbent)
    assert np.array_equal(found[0].x, found[1].x)
    assert np.array_equal(found[0].room, found[1].room)


def test_a_met_bound_ends_the_search() -> None:
    search = job(4, [0.0], 0.0, rooms=2)
    assert search.run(lambda: False)
    assert len(search.used) == 1


def test_a_copy_that_fits_nowhere_is_refused() -> None:
    part = prepare_shape([ell(20.0, 0.0)])
    store = RegionStore([part], [[0.0]])
    task = Task.of(store, [0], [True])
    with pytest.raises(ValueError, match="fits on none"):
        scattered(task, np.array([[0.0, 0.0, 50.0, 50.0]]), np.array([2500.0]), 0)


@pytest.mark.parametrize("axis", [0, 1])
def test_pressing_frees_one_end_of_the_room(axis: int) -> None:
    search = job(6, [0.0, 90.0], 2.0, rooms=1)
    limit = 500_000
    counters = search.separation.counters
    assert search.run(lambda: bool(counters[kernel.EVALUATIONS] > limit))
    before = search.incumbent
    assert before is not None
    end = search.press(lambda: bool(counters[kernel.EVALUATIONS] > 2 * limit), 0, axis)
    assert_valid(search, 2.0)
    assert end < 140.0
    assert search.separation.rooms[0].tolist() == pytest.approx([0, 0, 200, 200])


def test_nothing_can_be_pressed_before_a_layout_is_found() -> None:
    with pytest.raises(ValueError, match="no layout to press"):
        job(2, [0.0], 0.0, rooms=1).press(lambda: False, 0)


def test_shelves_never_overlap() -> None:
    part = prepare_shape([ell(20.0, 0.0)])
    small = prepare_shape([ell(9.0, 0.0)])
    store = RegionStore([part, small], [[0.0, 90.0]] * 2)
    task = Task.of(store, [0] * 9 + [1] * 9, [True] * 18)
    places, rooms = shelved(task, (0.0, 0.0, 130.0, 100.0))
    assert 2 <= rooms <= 4
    rectangles = np.array([[0.0, 0.0, 130.0, 100.0]] * rooms)
    search = SheetSearch(task, rectangles, places, Settings(tolerance=1e-9), 0, rooms)
    assert search.run(lambda: False)
    assert search.separation.counters[kernel.MOVES] == 0
    box = store.regions.box[places.at]
    assert (places.x + box[:, 0] >= -1e-9).all()
    assert (places.x + box[:, 2] <= 130 + 1e-9).all()
    assert (places.y + box[:, 3] <= 100 + 1e-9).all()
    with pytest.raises(ValueError, match="fits on none"):
        shelved(task, (0.0, 0.0, 30.0, 30.0))


def bars(count: int) -> SheetSearch:
    """Bars 10 wide and 95 high, upright in a room 100 high."""
    ring = np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 95.0], [0.0, 95.0]])
    store = RegionStore([prepare_shape([ring], slack=1e-9)], [[0.0]])
    task = Task.of(store, [0] * count, [True] * count)
    box = store.regions.box[0]
    places = Places(
        np.zeros(count, dtype=np.int32),
        np.zeros(count, dtype=np.int32),
        np.linspace(0.0, 300.0, count) - box[0],
        np.full(count, 1.0) - box[1],
    )
    room = np.array([[0.0, 0.0, 400.0, 100.0]])
    return SheetSearch(task, room, places, Settings(), seed=3)


def test_pressing_ends_at_contact() -> None:
    search = bars(7)
    search.incumbent = search.separation.places.copy()
    # The coarsest step alone: what it leaves open, tightening closes.
    end = search.press(lambda: False, 0, least=0.05)
    assert end == pytest.approx(70.0, abs=1e-4)


def test_what_overlaps_a_little_is_parted_by_moving_all() -> None:
    search = bars(7)
    s = search.separation
    box = search.task.store.regions.box[0]
    s.rooms[0, 2] = 70.0 + 1e-4
    s.places.x[:] = 9.5 * np.arange(7) - box[0]
    s.restart()
    s.run(lambda: False, 1)
    assert s.least > 0.0
    s.best.assign(s.places)
    assert search._parted(lambda: False)
    assert np.sort(s.places.x + box[0]) == pytest.approx(10.0 * np.arange(7), abs=2e-4)


def test_what_is_asked_about_is_not_moved() -> None:
    search = bars(7)
    s = search.separation
    apart, over = s.places.copy(), s.places.copy()
    over.x[3] = over.x[2] + 4.0
    assert s.accepts(apart)
    assert not s.accepts(over)
    assert np.array_equal(s.places.x, over.x)
    assert np.array_equal(s.places.y, over.y)


def test_pressing_turns_what_is_longer_than_what_is_left() -> None:
    plate = prepare_shape([np.array([[0.0, 0.0], [90, 0.0], [90, 20.0], [0.0, 20.0]])])
    task = Task.of(RegionStore([plate], [[0.0, 90.0]]), [0, 0], [True, True])
    places = Places(
        np.zeros(2, dtype=np.int32),
        np.zeros(2, dtype=np.int32),
        np.array([50.0, 50.0]),
        np.array([50.0, 80.0]),
    )
    room = np.array([[0.0, 0.0, 100.0, 100.0]])
    search = SheetSearch(task, room, places, Settings(tolerance=1e-6), seed=1)
    counters = search.separation.counters
    assert search.run(lambda: bool(counters[kernel.EVALUATIONS] > 100_000))
    end = search.press(lambda: bool(counters[kernel.EVALUATIONS] > 400_000), 0, 0)
    assert end == pytest.approx(40.0, abs=0.3)  # both upright, side by side
