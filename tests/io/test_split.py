from __future__ import annotations

import math
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.io.split import nearest, piece, pieces
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment

CURVES: list[Segment] = [
    Line((1, 2), (31, 42)),
    Arc((5, 6), 20, 350, 100),
    Arc((5, 6), 20, 10, -200),
    Arc((0, 0), 3, 90, 360),
    Cubic((0, 0), (10, 40), (50, -20), (60, 10)),
]


@pytest.mark.parametrize("curve", CURVES)
def test_a_piece_runs_along_the_curve(curve: Segment) -> None:
    part = piece(curve, 0.2, 0.7)
    assert type(part) is type(curve)
    for k in (0.0, 0.3, 1.0):
        want = curve.point_at(0.2 + 0.5 * k)
        assert part.point_at(k) == pytest.approx(want, abs=1e-12)


@pytest.mark.parametrize("curve", CURVES)
def test_pieces_are_the_whole(curve: Segment) -> None:
    parts = pieces(curve, [0.7, 0.1, 0.1000001, 0.9999999, 0.0], 1e-3)
    assert len(parts) == 3
    assert sum(p.length() for p in parts) == pytest.approx(curve.length(), rel=1e-9)
    for before, after in pairwise(parts):
        assert math.dist(before.end, after.start) < 1e-12
    assert pieces(curve, [], 1e-3) == [curve]


@pytest.mark.parametrize("curve", CURVES)
@settings(max_examples=20, deadline=None)
@given(t=st.floats(0.0, 1.0))
def test_a_point_of_the_curve_is_found_again(curve: Segment, t: float) -> None:
    point = curve.point_at(t)
    found, away = nearest(curve, point)
    assert away < 1e-6
    assert curve.point_at(found) == pytest.approx(point, abs=1e-6)


def test_beyond_its_ends_the_nearer_end_counts() -> None:
    assert nearest(Line((0, 0), (10, 0)), (13, 4)) == (1.0, 5.0)
    assert nearest(Arc((0, 0), 10, 0, 90), (10, -1)) == pytest.approx((0.0, 1.0))
    assert nearest(Arc((0, 0), 10, 0, 90), (-1, 10)) == pytest.approx((1.0, 1.0))
    assert nearest(Arc((0, 0), 10, 0, 90), (0, 0)) == (0.0, 10.0)


def test_the_nearest_place_is_found_where_a_curve_comes_by_twice() -> None:
    random = Random(3)
    for _ in range(60):
        ends = [
            (random.uniform(-100, 100), random.uniform(-100, 100)) for _ in range(4)
        ]
        cubic = Cubic(*ends)
        for _ in range(40):
            t = random.random()
            assert nearest(cubic, cubic.point_at(t))[1] <= 1e-6
