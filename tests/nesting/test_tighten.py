"""Tightening a room by linear programs, on layouts with a known end."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
import shapely.affinity

from drystone.nesting.kernels import FloatArray
from drystone.nesting.nofit import RegionStore
from drystone.nesting.overlap import Places, Task
from drystone.nesting.prepare import prepare_shape
from drystone.nesting.tighten import MOST_COPIES, Tightener

TOLERANCE = 1e-6
ROOM = np.array([0.0, 0.0, 40.0, 10.0])
ELL = np.array([[0, 0], [6, 0], [6, 2], [2, 2], [2, 6], [0, 6]], dtype=np.float64)


def box(w: float, h: float) -> FloatArray:
    return np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])


def task_of(rings: list[FloatArray], fixed: int = 0) -> Task:
    """Make a task of one copy each at 0 and 180 degrees; the last `fixed` stay put."""
    shapes = [prepare_shape([ring], slack=1e-9) for ring in rings]
    store = RegionStore(shapes, [[0.0, 180.0]] * len(shapes))
    n = len(shapes)
    return Task.of(store, range(n), [k < n - fixed for k in range(n)])


def places(task: Task, *corners: tuple[float, float]) -> Places:
    """Lay each copy as drawn, the lower left of its box at the corner."""
    at = np.array([int(task.variants(k)[0]) for k in range(len(task))], dtype=np.int32)
    low = task.store.regions.box[at, :2]
    xy = np.array(corners, dtype=np.float64) - low
    n = len(task)
    return Places(at, np.zeros(n, dtype=np.int32), xy[:, 0].copy(), xy[:, 1].copy())


def polygons(task: Task, laid: Places) -> list[shapely.Polygon]:
    turned = task.store.turned_shapes
    return [
        shapely.affinity.translate(shapely.Polygon(turned[v][0]), x, y)
        for v, x, y in zip(laid.at.tolist(), laid.x, laid.y, strict=True)
    ]


def deepest(task: Task, laid: Places) -> float:
    """Area shared by any two copies at most, mm²."""
    pairs = itertools.combinations(polygons(task, laid), 2)
    return max(float(a.intersection(b).area) for a, b in pairs)


def test_boxes_in_a_row_are_pressed_to_the_end() -> None:
    task = task_of([box(3, 9), box(4, 9), box(5, 9)])
    laid = places(task, (1.0, 0.5), (4.5, 0.2), (9.0, 0.9))
    found = Tightener(task, TOLERANCE).run(laid, ROOM)
    assert found is not None
    assert found[0] == pytest.approx(12.0, abs=1e-5)
    assert deepest(task, found[1]) < 1e-4


def test_overlaps_are_parted_and_the_given_layout_is_left_alone() -> None:
    task = task_of([box(3, 9), box(4, 9), box(5, 9)])
    laid = places(task, (0.0, 0.5), (2.8, 0.2), (6.5, 0.9))
    before = laid.copy()
    assert deepest(task, laid) > 1.0
    found = Tightener(task, TOLERANCE).run(laid, ROOM)
    assert found is not None
    assert found[0] == pytest.approx(12.0, abs=1e-5)
    assert deepest(task, found[1]) < 1e-4
    assert np.array_equal(laid.x, before.x)


def test_copies_slide_into_a_notch() -> None:
    # The region of the two is not convex: one half-plane would keep the box outside.
    task = task_of([ELL, box(4, 4)])
    laid = places(task, (0.0, 0.0), (2.4, 2.3))
    found = Tightener(task, TOLERANCE).run(laid, ROOM)
    assert found is not None
    assert found[0] == pytest.approx(6.0, abs=1e-5)
    assert deepest(task, found[1]) < 1e-4


def test_what_is_fixed_stays_and_is_kept_clear_of() -> None:
    task = task_of([box(4, 9), box(5, 9)], fixed=1)
    laid = places(task, (7.7, 0.5), (3.0, 0.5))
    found = Tightener(task, TOLERANCE).run(laid, ROOM)
    assert found is not None
    assert found[0] == pytest.approx(12.0, abs=1e-5)
    assert found[1].x[1] == laid.x[1]


def test_without_an_axis_copies_are_parted_within_the_room() -> None:
    task = task_of([box(4, 9), box(5, 9)])
    laid = places(task, (0.0, 0.5), (3.9, 0.5))
    room = np.array([0.0, 0.0, 9.0 + 1e-5, 10.0])
    found = Tightener(task, TOLERANCE).run(laid, room, axis=None)
    assert found is not None
    assert deepest(task, found[1]) < 1e-4
    ends = [polygon.bounds for polygon in polygons(task, found[1])]
    assert min(e[0] for e in ends) >= -1e-9
    assert max(e[2] for e in ends) <= room[2] + 1e-9


def test_what_cannot_be_parted_is_none() -> None:
    task = task_of([box(4, 9), box(5, 9)])
    laid = places(task, (0.0, 0.5), (3.5, 0.5))
    room = np.array([0.0, 0.0, 8.6, 10.0])
    assert Tightener(task, TOLERANCE).run(laid, room, axis=None) is None


def test_other_rooms_and_crowds_are_left_alone() -> None:
    task = task_of([box(4, 9), box(5, 9)])
    laid = places(task, (3.0, 0.5), (9.0, 0.5))
    laid.room[1] = 1
    found = Tightener(task, TOLERANCE).run(laid, ROOM)
    assert found is not None
    assert found[0] == pytest.approx(4.0, abs=1e-5)
    assert found[1].x[1] == laid.x[1]
    crowd = task_of([box(1, 1)] * (MOST_COPIES + 1))
    many = places(crowd, *((float(k), 0.0) for k in range(MOST_COPIES + 1)))
    assert Tightener(crowd, TOLERANCE).run(many, ROOM) is None


def test_a_stop_is_heard_between_programs() -> None:
    task = task_of([box(3, 9), box(4, 9), box(5, 9)])
    laid = places(task, (1.0, 0.5), (14.5, 0.2), (29.0, 0.9))
    tightener = Tightener(task, TOLERANCE)
    found = tightener.run(laid, ROOM, stop=lambda: tightener.programs >= 2)
    assert tightener.programs == 2
    assert found is not None
    assert 12.0 < found[0] < 34.0
    assert deepest(task, found[1]) < 1e-4
    assert tightener.run(laid, ROOM, stop=lambda: True) is None
