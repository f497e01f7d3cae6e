from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest

from drystone.io.affine import Affine
from drystone.io.bezier import (
    TOLERANCE,
    bulge_segment,
    ellipse_segments,
    mapped,
    quadratic,
    spline_segments,
)
from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.motion import Points

CONTROLS = [(0.0, 0.0), (10.0, 30.0), (30.0, 30.0), (40.0, 0.0), (60.0, -10.0)]
HALF = math.sqrt(0.5)
NURBS_CIRCLE = (
    2,
    [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4],
    [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)],
    [1, HALF, 1, HALF, 1, HALF, 1, HALF, 1],
)


def de_boor(degree: int, knots: Sequence[float], controls: Points, t: float) -> Points:
    """Evaluate a B-spline by its definition, independent of blossoms."""

    def basis(i: int, p: int) -> float:
        if p == 0:
            return 1.0 if knots[i] <= t < knots[i + 1] else 0.0
        total = 0.0
        if knots[i + p] > knots[i]:
            total += (t - knots[i]) / (knots[i + p] - knots[i]) * basis(i, p - 1)
        if knots[i + p + 1] > knots[i + 1]:
            total += (
                (knots[i + p + 1] - t)
                / (knots[i + p + 1] - knots[i + 1])
                * basis(i + 1, p - 1)
            )
        return total

    w = np.array([basis(i, degree) for i in range(len(controls))])
    return w @ controls


@pytest.mark.parametrize(
    "knots",
    [
        [0, 0, 0, 0, 1.5, 4, 4, 4, 4],
        [0, 1, 2, 3, 4, 5, 6, 7, 8],
        [-1, -1, 0, 0.5, 1, 1.7, 2, 3, 3],
    ],
    ids=["clamped", "uniform", "uneven"],
)
def test_a_cubic_spline_is_exact(knots: list[float]) -> None:
    pieces = spline_segments(3, knots, CONTROLS)
    spans = [(knots[k], knots[k + 1]) for k in (3, 4) if knots[k + 1] > knots[k]]
    assert len(pieces) == len(spans)
    for piece, (low, high) in zip(pieces, spans, strict=True):
        assert isinstance(piece, Cubic)
        for s in (0.0, 0.3, 0.9):
            t = low + s * (high - low)
            want = de_boor(3, knots, np.array(CONTROLS), t)
            assert piece.point_at(s) == pytest.approx(tuple(want), abs=1e-12)


def test_degree_one_is_lines_and_degree_two_is_exact() -> None:
    lines = spline_segments(1, [0, 0, 1, 2, 2], CONTROLS[:3])
    assert lines == [Line(CONTROLS[0], CONTROLS[1]), Line(CONTROLS[1], CONTROLS[2])]
    (curve,) = spline_segments(2, [0, 0, 0, 1, 1, 1], CONTROLS[:3])
    assert curve.point_at(0.5) == pytest.approx((12.5, 22.5), abs=1e-12)


def test_a_nurbs_circle_is_a_circle() -> None:
    (circle,) = spline_segments(*NURBS_CIRCLE)
    assert isinstance(circle, Arc)
    assert circle.is_circle
    assert circle.sweep == 360.0
    assert circle.radius == pytest.approx(1.0, abs=1e-12)
    assert circle.centre == pytest.approx((0.0, 0.0), abs=1e-12)


def test_a_rational_curve_stays_within_tolerance() -> None:
    degree, knots, controls, _ = NURBS_CIRCLE
    weights = [1, 0.9, 1, 0.4, 1, 2.0, 1, HALF, 1]
    big = [(100.0 * x, 100.0 * y) for x, y in controls]
    pieces = spline_segments(degree, knots, big, weights)
    assert sum(isinstance(p, Arc) for p in pieces) == 1
    w = np.array(weights)[:, None]
    h = np.hstack([np.array(big) * w, w])
    flat = np.concatenate([p.flatten(1e-5) for p in pieces])
    for t in np.linspace(0.0, 3.999, 57):
        x, y, weight = de_boor(degree, knots, h, t)
        near = np.min(np.hypot(flat[:, 0] - x / weight, flat[:, 1] - y / weight))
        assert near < 0.2  # the flattened points are that far apart
    for before, after in itertools.pairwise(pieces):
        assert math.dist(before.end, after.start) < 1e-9


def test_degree_five_stays_within_tolerance() -> None:
    controls = np.array([*CONTROLS, (80.0, 0.0)])
    pieces = spline_segments(5, [0] * 6 + [1] * 6, [tuple(c) for c in controls])
    flat = np.concatenate([p.flatten(1e-6) for p in pieces])
    for t in np.linspace(0.0, 0.999, 23):
        x, y = de_boor(5, [0] * 6 + [1] * 6, controls, t)
        d = flat - (x, y)
        along = flat[1:] - flat[:-1]
        s = np.clip(
            -(d[:-1] * along).sum(1) / np.maximum((along**2).sum(1), 1e-30), 0, 1
        )
        near = np.hypot(*(d[:-1] + s[:, None] * along).T).min()
        assert near <= TOLERANCE


@pytest.mark.parametrize(
    ("degree", "knots", "weights"),
    [
        (3, [0, 0, 0, 0, 1, 1, 1, 1], ()),
        (3, [0, 0, 0, 0, 2, 1, 1, 1, 1], ()),
        (0, [0, 1, 2, 3, 4, 5], ()),
        (3, [0, 0, 0, 0, 1, 2, 2, 2, float("nan")], ()),
        (3, [0, 0, 0, 0, 1, 2, 2, 2, 2], (1, 1, 0, 1, 1)),
        (3, [0, 0, 0, 0, 1, 2, 2, 2, 2], (1, 1)),
    ],
)
def test_what_is_no_spline_is_refused(
    degree: int, knots: list[float], weights: tuple[float, ...]
) -> None:
    with pytest.raises(ValueError):
        spline_segments(degree, knots, CONTROLS, weights)


def test_all_knots_equal_gives_no_curve() -> None:
    assert spline_segments(3, [1.0] * 9, CONTROLS) == []


def test_a_circular_ellipse_is_an_arc() -> None:
    (arc,) = ellipse_segments((1, 2), (3, 0), (0, 3), 10, 80)
    assert isinstance(arc, Arc)
    assert (arc.radius, arc.start_angle, arc.sweep) == (3.0, 10.0, 80.0)


def test_a_mirrored_circle_runs_the_other_way() -> None:
    (arc,) = ellipse_segments((0, 0), (-3, 0), (0, 3), 0, 90)
    assert isinstance(arc, Arc)
    assert arc.start == pytest.approx((-3, 0))
    assert arc.end == pytest.approx((0, 3))
    assert arc.sweep == -90.0


@pytest.mark.parametrize("turn", [0.0, 33.0])
@pytest.mark.parametrize("major", [5.0, 500.0, 1e6])
def test_an_ellipse_stays_within_tolerance(major: float, turn: float) -> None:
    place = Affine.turn(turn)
    u, v = place.vector((major, 0.0)), place.vector((0.0, 0.6 * major))
    tolerance = max(TOLERANCE, 1e-9 * major)
    pieces = ellipse_segments((0, 0), u, v, 0, 360, tolerance)
    back = Affine.turn(-turn)
    for piece in pieces:
        for s in np.linspace(0, 1, 11):
            x, y = back.point(piece.point_at(s))
            # Radial deviation in the unit circle, times the longer half axis.
            assert abs(math.hypot(x, y / 0.6) - major) <= 1.05 * tolerance
    assert pieces[0].start == pieces[-1].end


def test_a_flat_ellipse_is_lines_and_a_point_is_nothing() -> None:
    pieces = ellipse_segments((0, 0), (5, 0), (0, 0), 0, 180)
    assert all(isinstance(piece, Line) for piece in pieces)
    assert pieces[0].start == (5, 0)
    assert pieces[-1].end == pytest.approx((-5, 0))
    assert ellipse_segments((0, 0), (0, 0), (0, 0), 0, 360) == []
    assert ellipse_segments((0, 0), (float("nan"), 0), (0, 1), 0, 360) == []


def test_quadratics_are_exact() -> None:
    curve = quadratic((0, 0), (10, 20), (30, 0))
    assert curve.point_at(0.25) == pytest.approx((6.875 - 0.0 - 1.25, 7.5))


def test_maps_keep_lines_and_cubics_and_true_arcs() -> None:
    spin = Affine.move(3, 4) @ Affine.turn(90) @ Affine.scale(2, 2)
    (line,) = mapped(Line((0, 0), (1, 0)), spin)
    assert line == Line((3, 4), (3, 6))
    (arc,) = mapped(Arc((1, 0), 2, 0, 90), spin)
    assert isinstance(arc, Arc)
    assert (arc.radius, arc.sweep, arc.start_angle) == (4, 90, 90)
    stretched = mapped(Arc((1, 0), 2, 0, 360), Affine.scale(2, 1))
    assert all(isinstance(piece, Cubic) for piece in stretched)


def test_bulges_of_no_length_and_no_bend() -> None:
    assert bulge_segment((1, 1), (1, 1), 1.0) is None
    assert bulge_segment((0, 0), (1, 1), 0.0) == Line((0, 0), (1, 1))


def test_how_many_pieces_it_comes_to_is_told_before_they_are_made() -> None:
    # Weights far apart make a curve that needs thousands of pieces for each span.
    wild = [(float(n % 89) * 1e5, float(n % 7) * 1e6) for n in range(100)]
    knots = [0.0] * 4 + [float(n) for n in range(1, 97)] + [97.0] * 4
    weights = [10.0 ** (n % 9 - 4) for n in range(100)]
    told: list[int] = []

    class Enough(Exception):
        pass

    def expect(count: int) -> None:
        told.append(count)
        if count > 5000:
            raise Enough

    with pytest.raises(Enough):
        spline_segments(3, knots, wild, weights, 1e-4, expect)
    assert told[0] == 97 and told[-1] < 3 * 5000
    assert told == sorted(told)


def test_a_span_of_a_high_degree_counts_for_what_it_costs() -> None:
    told: list[int] = []
    controls = [(float(n), float(n % 3)) for n in range(31)]
    knots = [0.0] * 31 + [1.0] * 31
    spline_segments(30, knots, controls, expect=told.append)
    assert told[0] == 100
    controls += [(31.0, 0.0), (32.0, 1.0), (33.0, 0.0)]
    with pytest.raises(ValueError, match="degree"):
        spline_segments(33, [0.0] * 34 + [1.0] * 34, controls)
