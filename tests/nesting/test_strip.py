"""The search for a short strip, on small jobs with a known end."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from drystone.nesting import kernels_separate as kernel
from drystone.nesting.nofit import RegionStore
from drystone.nesting.overlap import Places, Task
from drystone.nesting.prepare import prepare_shape
from drystone.nesting.separate import Separation, Settings
from drystone.nesting.strip import StripSearch


def passes(search: Callable[[], Separation], limit: int) -> Callable[[], bool]:
    return lambda: bool(search().counters[kernel.EVALUATIONS] >= limit)


def boxes(*sizes: tuple[float, float]) -> Task:
    shapes = [
        prepare_shape([np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])], slack=1e-6)
        for w, h in sizes
    ]
    store = RegionStore(shapes, [[0.0, 90.0]] * len(shapes))
    return Task.of(store, range(len(shapes)), [True] * len(shapes))


def run(seed: int, limit: int = 600_000) -> StripSearch:
    task = boxes((6, 4), (6, 4), (4, 4), (4, 8), (2, 8), (3, 2), (5, 2))
    settings = Settings(tolerance=1e-6)
    search = StripSearch(task, 10.0 + 1e-6, seed, settings)
    stop = passes(lambda: search.separation, limit)
    assert search.begin(stop)
    search.explore(passes(lambda: search.separation, limit * 3 // 4))
    search.compress(stop)
    return search


def test_rectangles_come_close_to_their_area() -> None:
    search = run(1)
    assert search.incumbent is not None
    assert search.bound == pytest.approx(12.8, abs=1e-3)
    assert search.bound <= search.incumbent.length <= 15.0


def test_same_seed_and_budget_give_the_same_layout() -> None:
    one, two, other = run(3, 200_000), run(3, 200_000), run(4, 200_000)
    assert one.incumbent is not None
    assert two.incumbent is not None
    assert other.incumbent is not None
    assert one.incumbent.length == two.incumbent.length
    assert np.array_equal(one.incumbent.places.x, two.incumbent.places.x)
    assert np.array_equal(one.incumbent.places.y, two.incumbent.places.y)
    assert not np.array_equal(one.incumbent.places.x, other.incumbent.places.x)


def test_regions_built_beforehand_change_nothing() -> None:
    lengths = []
    for early in (False, True):
        task = boxes((6, 4), (5, 3), (4, 4), (7, 2))
        if early:
            task.store.ensure_all(range(4), range(4))
        search = StripSearch(task, 8.0, 5, Settings(tolerance=1e-6))
        stop = passes(lambda s=search: s.separation, 600_000)  # type: ignore[misc]
        search.begin(stop)
        search.explore(stop)
        assert search.incumbent is not None
        lengths.append(search.incumbent.length)
    assert lengths[0] == lengths[1]


def test_too_wide_a_part_is_refused() -> None:
    with pytest.raises(ValueError, match="wider than the strip"):
        StripSearch(boxes((6, 5)), 4.0, 0, Settings())


def test_a_stop_that_has_fired_leaves_all_as_it_was() -> None:
    task = boxes((6, 4), (5, 3))
    places = Places(
        task.menus[task.menu[:, 0, 0]],
        np.zeros(2, dtype=np.int32),
        np.ones(2),
        np.ones(2),
    )
    room = np.array([[0.0, 0.0, 20.0, 20.0]])
    separation = Separation(task, places, room, Settings(), 0)
    assert separation.run(lambda: True) == kernel.RUNNING
    assert places.x.tolist() == [1.0, 1.0]
    assert separation.run(lambda: False) == kernel.SEPARATED
    assert separation.least == 0.0


def test_locked_copies_stay_and_are_kept_clear_of() -> None:
    task = boxes((6, 6), (5, 3), (5, 3))
    task.movable[0] = False
    places = Places(
        task.menus[task.menu[:, 0, 0]],
        np.zeros(3, dtype=np.int32),
        np.full(3, 5.0),
        np.full(3, 5.0),
    )
    separation = Separation(
        task, places, np.array([[0.0, 0.0, 14.0, 10.0]]), Settings(tolerance=1e-6), 1
    )
    assert separation.run(lambda: False) == kernel.SEPARATED
    assert (places.x[0], places.y[0]) == (5.0, 5.0)
    assert separation.counters[kernel.MOVES] > 0


@pytest.mark.parametrize(("count", "most"), [(1, 7.78), (2, 9.2)])
def test_what_grew_too_long_for_the_strip_is_turned(count: int, most: float) -> None:
    """A bar longer than the strip is wide, along it or aslant; none may stick out."""
    bar = prepare_shape([np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 1.0], [0.0, 1.0]])])
    store = RegionStore([bar], [[0.0, 45.0]])
    task = Task.of(store, [0] * count, [True] * count)
    for seed in range(4):
        search = StripSearch(task, 8.0, seed, Settings(tolerance=1e-6))
        stop = passes(lambda s=search: s.separation, 600_000)  # type: ignore[misc]
        assert search.begin(stop)
        search.explore(stop)
        assert search.incumbent is not None
        assert search.incumbent.length <= most
        for layout in search.history:
            places = layout.places
            ends = places.x + store.regions.box[places.at, 2]
            assert ends.max() <= layout.length + 1e-9
