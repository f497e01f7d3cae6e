"""Pressing copies together by linear programs, on layouts with a known end."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from drystone.nesting.compact import Bodies, Poses, Press
from drystone.nesting.convex import convex_pieces
from drystone.nesting.prepare import turned

BOX = np.array([[-3.0, -1.0], [3.0, -1.0], [3.0, 1.0], [-3.0, 1.0]])
WALL = np.array([[-1.0, -5.0], [1.0, -5.0], [1.0, 5.0], [-1.0, 5.0]])
ELL = np.array([[0, 0], [6, 0], [6, 2], [2, 2], [2, 6], [0, 6]]) - 2.0
TOLERANCE = 1e-7


def never() -> bool:
    return False


def poses(*rows: tuple[float, float, float]) -> Poses:
    x, y, turn = np.array(rows).T
    return Poses(x.copy(), y.copy(), np.radians(turn))


def bodies_of(
    shapes: list[list[np.ndarray]],
    copies: list[int],
    turnable: list[bool],
    movable: list[bool] | None = None,
) -> Bodies:
    pieces = [convex_pieces(rings) for rings in shapes]
    return Bodies(pieces, copies, turnable, movable)


def polygons(rings: list[np.ndarray], at: Poses) -> list[shapely.Polygon]:
    return [
        shapely.Polygon(turned([ring], math.degrees(t))[0] + (x, y))
        for ring, x, y, t in zip(rings, at.x, at.y, at.turn, strict=True)
    ]


def shared(laid: list[shapely.Polygon]) -> float:
    return math.fsum(
        a.intersection(b).area for k, a in enumerate(laid) for b in laid[k + 1 :]
    )


def test_a_slanting_box_is_turned_upright_against_the_end() -> None:
    press = Press(bodies_of([[BOX]], [0], [True]), (0, 0, np.inf, 10), 0, TOLERANCE)
    found = press.run(poses((9.0, 5.0, 70.0)), never, 0.5)
    assert found is not None
    assert found[0] == pytest.approx(2.0, abs=1e-6)
    assert math.degrees(float(found[1].turn[0])) == pytest.approx(90.0, abs=1e-3)


def test_what_may_not_turn_keeps_its_turn() -> None:
    press = Press(bodies_of([[BOX]], [0], [False]), (0, 0, np.inf, 10), 0, TOLERANCE)
    found = press.run(poses((9.0, 5.0, 70.0)), never, 0.5)
    assert found is not None
    width = np.ptp(turned([BOX], 70.0)[0][:, 0])
    assert found[0] == pytest.approx(width, abs=1e-6)
    assert found[1].turn[0] == math.radians(70.0)


def test_copies_come_to_lie_edge_to_edge_at_a_slant() -> None:
    # Two halves of a square cut along a slant, one of them turned a little off it.
    one = np.array([[0.0, 0.0], [6.0, 0.0], [4.0, 10.0], [0.0, 10.0]])
    two = np.array([[6.0, 0.0], [10.0, 0.0], [10.0, 10.0], [4.0, 10.0]])
    rings = [ring - ring.mean(axis=0) for ring in (one, two)]
    press = Press(
        bodies_of([[r] for r in rings], [0, 1], [True, True]),
        (0, 0, np.inf, 10.0 + 1e-6),
        0,
        TOLERANCE,
    )
    start = poses((3.0, 5.2, 0.0), (9.5, 5.2, 2.0))
    found = press.run(start, never, 0.2)
    assert found is not None
    assert found[0] == pytest.approx(10.0, abs=1e-4)
    assert shared(polygons(rings, found[1])) <= 1e-5


def test_overlapping_copies_are_parted_and_none_leaves_the_rectangle() -> None:
    rings = [ELL, ELL, BOX]
    bodies = bodies_of([[ELL], [BOX]], [0, 0, 1], [True] * 3)
    press = Press(bodies, (0, 0, 40, 9), 0, TOLERANCE)
    start = poses((2.0, 2.2, 5.0), (5.0, 4.0, 176.0), (9.0, 7.7, 3.0))
    assert shared(polygons(rings, start)) > 0.1
    found = press.run(start, never, 0.3)
    assert found is not None
    laid = polygons(rings, found[1])
    assert shared(laid) <= 1e-5
    low_x, low_y, high_x, high_y = shapely.unary_union(laid).bounds
    assert min(low_x, low_y) >= -1e-6
    assert high_y <= 9.0 + 1e-6
    assert high_x == pytest.approx(found[0], abs=1e-6)


def test_what_is_fixed_stays_and_is_not_run_over() -> None:
    bodies = bodies_of([[BOX], [WALL]], [0, 1], [True, True], [True, False])
    press = Press(bodies, (0, 0, 30, 10), 0, TOLERANCE)
    start = poses((20.0, 5.0, 80.0), (8.0, 5.0, 0.0))
    found = press.run(start, never, 1.0)
    assert found is not None
    assert (found[1].x[1], found[1].y[1], found[1].turn[1]) == (8.0, 5.0, 0.0)
    assert found[0] == pytest.approx(9.0 + 2.0, abs=1e-5)


def test_the_other_axis_is_pressed_as_well() -> None:
    press = Press(bodies_of([[BOX]], [0], [True]), (1, 2, 20, 30), 1, TOLERANCE)
    found = press.run(poses((9.0, 15.0, 12.0)), never, 0.5)
    assert found is not None
    assert found[0] == pytest.approx(4.0, abs=1e-6)


def test_copies_on_top_of_each_other_in_too_small_a_room_are_no_layout() -> None:
    bodies = bodies_of([[BOX]], [0, 0], [True, True])
    press = Press(bodies, (0, 0, 6.1, 2.1), 0, TOLERANCE)
    assert press.run(poses((3.0, 1.0, 0.0), (3.2, 1.05, 0.0)), never, 0.5) is None


def test_a_press_ends_when_told_and_gives_the_same_twice() -> None:
    bodies = bodies_of([[ELL]], [0, 0], [True, True])
    press = Press(bodies, (0, 0, np.inf, 9), 0, TOLERANCE)
    start = poses((2.0, 2.2, 0.0), (11.0, 4.0, 100.0))
    asked = 0

    def third() -> bool:
        nonlocal asked
        asked += 1
        return asked >= 3

    assert press.run(start, third, 0.3) is not None
    assert asked == 3
    one, two = (press.run(start, never, 0.3) for _ in range(2))
    assert one is not None and two is not None
    assert one[0] == two[0]
    assert (one[1].turn == two[1].turn).all()
