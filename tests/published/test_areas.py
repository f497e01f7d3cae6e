"""Areas and lengths of plain figures, from closed formulas.

Source: elementary geometry; the numbers were worked out by hand from the formula
that stands beside each.
"""

from __future__ import annotations

import math

import pytest

from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.outline import Loop


def test_an_l_shape_by_the_shoelace_formula() -> None:
    loop = Loop.polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)])
    assert loop.area == 600
    assert loop.length == 140


def test_a_triangle_3_4_5() -> None:
    loop = Loop.polygon([(0, 0), (300, 0), (0, 400)])
    assert loop.area == 60_000
    assert loop.length == 1200


def test_a_rounded_rectangle() -> None:
    # A = ab - (4 - pi) r², P = 2 (a + b) - (8 - 2 pi) r; a 100, b 60, r 10.
    loop = Loop(
        (
            Line((10, 0), (90, 0)),
            Arc((90, 10), 10, -90, 90),
            Line((100, 10), (100, 50)),
            Arc((90, 50), 10, 0, 90),
            Line((90, 60), (10, 60)),
            Arc((10, 50), 10, 90, 90),
            Line((0, 50), (0, 10)),
            Arc((10, 10), 10, 180, 90),
        )
    )
    assert loop.area == pytest.approx(5914.159265, abs=1e-6)
    assert loop.length == pytest.approx(302.831853, abs=1e-6)
    assert loop.bounds == pytest.approx((0, 0, 100, 60))


def test_a_stadium() -> None:
    # A = pi r² + 2 r L, P = 2 pi r + 2 L; straight L 80, r 20.
    loop = Loop(
        (
            Line((0, 0), (80, 0)),
            Arc((80, 20), 20, -90, 180),
            Line((80, 40), (0, 40)),
            Arc((0, 20), 20, 90, 180),
        )
    )
    assert loop.area == pytest.approx(4456.637061, abs=1e-6)
    assert loop.length == pytest.approx(285.663706, abs=1e-6)


def test_flattening_a_circle_takes_the_least_points() -> None:
    # n = ceil(theta / (2 acos(1 - e/r))), r 50: e 0.1 -> 50, 0.01 -> 158, 0.001 -> 497;
    # the inscribed 158-gon has area 7851.911732.
    circle = Loop.circle(0, 0, 50)
    assert [len(circle.flatten(e)) for e in (0.1, 0.01, 0.001)] == [50, 158, 497]
    inscribed = Loop.polygon((x, y) for x, y in circle.flatten(0.01))
    assert inscribed.area == pytest.approx(7851.911732, abs=1e-6)


def test_four_cubics_for_a_circle_are_too_large_by_280_parts_in_a_million() -> None:
    # k = 4 (sqrt(2) - 1) / 3: greatest radius +0.02725 %, area +0.02800 %.
    k = 4 * (math.sqrt(2) - 1) / 3
    quarter = Cubic((1, 0), (1, k), (k, 1), (0, 1))
    assert 4 * quarter.swept_area() / math.pi == pytest.approx(1.00028, abs=5e-6)
    greatest = max(math.hypot(*quarter.point_at(t / 1000)) for t in range(1001))
    assert greatest == pytest.approx(1.0002725, abs=1e-6)
