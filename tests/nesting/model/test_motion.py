"""Rigid motions: flip first, then turn, then move."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from drystone.nesting.model.motion import Motion, cos_sin

coordinate = st.floats(-5000, 5000)
motions = st.builds(Motion, coordinate, coordinate, st.floats(-720, 720), st.booleans())


def test_quarter_turns_are_exact() -> None:
    assert [cos_sin(90 * k) for k in range(-1, 5)] == [
        (0, -1),
        (1, 0),
        (0, 1),
        (-1, 0),
        (0, -1),
        (1, 0),
    ]


def test_flip_comes_before_turn_and_turn_before_move() -> None:
    motion = Motion(10, 20, 90, flipped=True)
    # (2, 1) flipped is (-2, 1), turned a quarter (-1, -2), moved (9, 18).
    assert motion.point((2, 1)) == (9, 18)


def test_points_and_point_agree() -> None:
    motion = Motion(3, -4, 33, flipped=True)
    p = np.array([[1.0, 2.0], [-7.5, 0.25]])
    assert motion.points(p) == pytest.approx(
        np.array([motion.point((x, y)) for x, y in p])
    )


@given(motions, motions, st.tuples(coordinate, coordinate))
def test_after_does_both(first: Motion, second: Motion, p: tuple[float, float]) -> None:
    both = second.after(first)
    assert both.point(p) == pytest.approx(second.point(first.point(p)), abs=1e-6)


@given(motions, st.tuples(coordinate, coordinate))
def test_inverse_takes_back(motion: Motion, p: tuple[float, float]) -> None:
    assert motion.inverse().point(motion.point(p)) == pytest.approx(p, abs=1e-6)


@given(motions, st.floats(-360, 360))
def test_angle_is_the_direction_of_a_moved_step(motion: Motion, angle: float) -> None:
    cos, sin = cos_sin(angle)
    x0, y0 = motion.point((0, 0))
    x1, y1 = motion.point((cos, sin))
    assert cos_sin(motion.angle(angle)) == pytest.approx((x1 - x0, y1 - y0), abs=1e-6)
