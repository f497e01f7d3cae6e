"""Path times and lengths against worked numbers.

Trapezoids of speed and the corner rounded by an arc are elementary mechanics and
geometry, worked by hand; path lengths follow Steiner's formula for parallel curves
of convex sets (J. Steiner, 1840).
"""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.outline import Loop
from drystone.nesting.shop.path import moves_of, offset_moves, path_length
from drystone.nesting.shop.planner import corner_speed, path_time, trapezoid_time


def test_a_square_with_a_stop_at_each_corner() -> None:
    """100 mm square, 500 mm/s2, 50 mm/s: 8.40 s where length over speed says 8.00."""
    moves = moves_of(Loop.rectangle(100, 100).segments)
    assert path_time(moves, 50.0, 500.0, 0.0) == pytest.approx(8.40)
    assert path_time(moves, 50.0, 500.0, 0.02) < 8.40
    assert path_time(moves, 50.0, 500.0, 0.02) > 8.00


def test_a_short_move_never_reaches_its_speed() -> None:
    """2 mm from stop to stop: 2 sqrt(L / a) = 0.1265 s, not 0.04 s."""
    assert trapezoid_time(2.0, 0.0, 50.0, 0.0, 500.0) == pytest.approx(0.1265, abs=5e-5)
    assert trapezoid_time(2.0, 0.0, 50.0, 0.0, 500.0) == pytest.approx(
        2 * math.sqrt(2.0 / 500.0)
    )


@pytest.mark.parametrize(("inner", "speed"), [(90, 4.91), (135, 11.0), (170, 51.2)])
def test_corner_speeds(inner: float, speed: float) -> None:
    """500 mm/s2 and 0.02 mm; the angle is the one inside the corner."""
    turn = math.radians(180 - inner)
    assert corner_speed(turn, 500.0, 0.02) == pytest.approx(speed, abs=0.05)


def test_straight_on_needs_no_slowing() -> None:
    assert corner_speed(0.0, 500.0, 0.02) == math.inf
    whole = [*moves_of([Line((0, 0), (100, 0))])]
    halves = [*moves_of([Line((0, 0), (50, 0)), Line((50, 0), (100, 0))])]
    assert path_time(whole, 50, 500, 0.02) == pytest.approx(
        path_time(halves, 50, 500, 0.02)
    )


def test_an_arc_is_no_faster_than_its_sideways_acceleration_allows() -> None:
    """sqrt(a r): 500 mm/s2 round 2 mm is 31.6 mm/s."""
    circle = moves_of(Loop.circle(0, 0, 2.0).segments)
    fastest = math.sqrt(500 * 2.0)
    seconds = path_time(circle, 500.0, 500.0, 0.02)
    assert seconds > 2 * math.pi * 2.0 / fastest
    assert seconds == pytest.approx(
        trapezoid_time(4 * math.pi, 0.0, fastest, 0.0, 500.0)
    )


def test_finer_arcs_take_as_long_as_the_true_one() -> None:
    """Chords as close as the corner deviation slow a path no more than the arc."""
    true = moves_of([Arc((0, 0), 40.0, 0.0, 180.0)])
    flat = Arc((0, 0), 40.0, 0.0, 180.0).flatten(0.02)
    lines = [
        Line((float(a[0]), float(a[1])), (float(b[0]), float(b[1])))
        for a, b in pairwise(flat)
    ]
    assert path_time(moves_of(lines), 500, 500, 0.02) == pytest.approx(
        path_time(true, 500, 500, 0.02), rel=0.02
    )


@pytest.mark.parametrize(
    "loop",
    [
        Loop.rectangle(100, 60),
        Loop.polygon([(0, 0), (400, 0), (0, 300)]),
        Loop.circle(0, 0, 30),
        Loop(
            (
                Line((0, 0), (80, 0)),
                Arc((80, 20), 20, -90, 180),
                Line((80, 40), (0, 40)),
                Arc((0, 20), 20, 90, 180),
            )
        ),
        Loop(
            (
                Cubic((30, 0), (30, 40), (-30, 40), (-30, 0)),
                Line((-30, 0), (30, 0)),
            )
        ),
    ],
    ids=["rectangle", "triangle", "circle", "stadium", "bezier"],
)
def test_outside_paths_follow_steiner(loop: Loop) -> None:
    """Round a convex loop the path is its length plus 2 pi r."""
    r = 3.175
    outside = path_length(offset_moves(loop.oriented(True).segments, r))
    assert outside == pytest.approx(loop.length + 2 * math.pi * r, rel=1e-5)


def test_inside_paths() -> None:
    """Inside a circle 2 pi (R - r); inside a rectangle 8 r less than its length."""
    r = 3.175
    hole = Loop.circle(0, 0, 20).oriented(False)
    assert path_length(offset_moves(hole.segments, r)) == pytest.approx(
        2 * math.pi * (20 - r)
    )
    square = Loop.rectangle(100, 60).oriented(False)
    assert path_length(offset_moves(square.segments, r)) == pytest.approx(320 - 8 * r)
    tight = Loop.circle(0, 0, 3).oriented(False)
    assert path_length(offset_moves(tight.segments, r)) == 0.0


def test_round_an_inner_corner() -> None:
    """The L of sides 40 and 30, 10 wide: five arcs outside, one corner cut back."""
    points = [(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)]
    r = 3.175
    outside = path_length(offset_moves(Loop.polygon(points).segments, r))
    assert outside == pytest.approx(140 + 2.5 * math.pi * r - 2 * r)
