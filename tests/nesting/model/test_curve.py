"""Curves: exact measures, exact motions, honest flattening."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString
from shapely.geometry import Point as ShapelyPoint

from drystone.nesting.model.curve import Arc, Cubic, Line, Segment
from drystone.nesting.model.motion import Motion

coordinate = st.floats(-500, 500).map(lambda value: round(value, 6))
point = st.tuples(coordinate, coordinate)
lines = st.builds(Line, point, point)
arcs = st.builds(
    Arc,
    point,
    st.floats(0.5, 400),
    st.floats(-720, 720),
    st.floats(-360, 360).filter(lambda sweep: abs(sweep) > 0.01),
)
cubics = st.builds(Cubic, point, point, point, point)
segments = st.one_of(lines, arcs, cubics)
motions = st.builds(Motion, coordinate, coordinate, st.floats(-720, 720), st.booleans())


def sampled_area(segment: Segment, n: int = 4000) -> float:
    x, y = np.array([segment.point_at(t) for t in np.linspace(0, 1, n)]).T
    return float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) / 2)


@given(segments)
def test_ends_are_the_points_at_0_and_1(segment: Segment) -> None:
    assert segment.point_at(0) == pytest.approx(segment.start, abs=1e-9)
    assert segment.point_at(1) == pytest.approx(segment.end, abs=1e-9)


@given(segments)
def test_reversing_swaps_ends_and_the_sign_of_the_area(segment: Segment) -> None:
    back = segment.reversed()
    assert back.start == pytest.approx(segment.end, abs=1e-9)
    assert back.end == pytest.approx(segment.start, abs=1e-9)
    assert back.swept_area() == pytest.approx(-segment.swept_area(), abs=1e-6)
    assert back.length() == pytest.approx(segment.length(), rel=1e-9)


@given(segments)
def test_bounds_hold_every_point_and_are_tight(segment: Segment) -> None:
    x0, y0, x1, y1 = segment.bounds()
    p = np.array([segment.point_at(t) for t in np.linspace(0, 1, 500)])
    assert (p >= np.array([x0, y0]) - 1e-9).all()
    assert (p <= np.array([x1, y1]) + 1e-9).all()
    # 500 samples come within this of each extreme of a curve this size.
    assert np.abs(p.min(axis=0) - [x0, y0]).max() < 0.1
    assert np.abs(p.max(axis=0) - [x1, y1]).max() < 0.1


@given(arcs | cubics)
def test_area_agrees_with_sampling(segment: Segment) -> None:
    assert segment.swept_area() == pytest.approx(sampled_area(segment), abs=5.0)


@given(segments, motions)
def test_moving_keeps_length_and_follows_each_point(
    segment: Segment, motion: Motion
) -> None:
    moved = segment.moved(motion)
    assert moved.length() == pytest.approx(segment.length(), rel=1e-8, abs=1e-9)
    for t in (0.0, 0.3, 1.0):
        assert moved.point_at(t) == pytest.approx(
            motion.point(segment.point_at(t)), abs=1e-7
        )


@given(arcs, motions)
def test_moving_an_arc_keeps_its_radius_to_the_last_bit(
    arc: Arc, motion: Motion
) -> None:
    moved = arc.moved(motion)
    assert moved.radius == arc.radius
    assert abs(moved.sweep) == abs(arc.sweep)


@given(segments, st.sampled_from([1.0, 0.1, 0.01]))
def test_flattening_stays_within_the_chord_error(
    segment: Segment, chord_error: float
) -> None:
    flat = segment.flatten(chord_error)
    assert flat[0] == pytest.approx(segment.start)
    assert flat[-1] == pytest.approx(segment.end)
    chain = LineString(flat)
    for t in np.linspace(0, 1, 101):
        distance = chain.distance(ShapelyPoint(segment.point_at(t)))
        assert distance <= chord_error * (1 + 1e-9) + 1e-9


def test_a_cubic_on_a_straight_line_has_the_lines_area() -> None:
    straight = Cubic((1, 2), (2, 4), (3, 6), (4, 8))
    assert straight.swept_area() == pytest.approx(Line((1, 2), (4, 8)).swept_area())
    assert straight.length() == pytest.approx(math.hypot(3, 6), rel=1e-12)


def test_a_circle_closes_to_the_last_bit() -> None:
    circle = Arc((0.1, 0.2), 12.7, 33.3, 360.0)
    assert circle.start == circle.end
    assert circle.reversed().start == circle.start
    assert circle.bounds() == pytest.approx((-12.6, -12.5, 12.8, 12.9))
