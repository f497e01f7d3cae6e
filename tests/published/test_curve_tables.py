"""Bulges and ellipses against figures computed outside the program.

Bulge: the published DXF reference defines it as the tangent of a quarter of the
arc's angle, negative clockwise, 1 for a half circle; the figures follow by
elementary geometry for a chord of 10. Ellipse: half axes 5 and 3, area 15 pi; the
perimeter 25.526998863 is 20 E(e) with the complete elliptic integral. Cubic circle:
the largest radial error of the usual four cubics is 0.02725 %, known from the
literature on Bézier circles.
"""

from __future__ import annotations

import math

import pytest

from drystone.io.bezier import bulge_segment, ellipse_segments
from drystone.nesting.model.curve import Arc


@pytest.mark.parametrize(
    ("bulge", "angle", "radius", "sagitta", "length", "area"),
    [
        (1.0, 180.0, 5.0, 5.0, 15.707963, 39.269908),
        (math.sqrt(2.0) - 1.0, 90.0, 7.071068, 2.071068, 11.107207, 14.269908),
        (0.5, 106.2602, 6.25, 2.5, 11.591190, 17.472469),
        (2.0, 253.7398, 6.25, 10.0, 27.678718, 105.245994),
    ],
)
@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_bulge_table(
    bulge: float,
    angle: float,
    radius: float,
    sagitta: float,
    length: float,
    area: float,
    sign: float,
) -> None:
    arc = bulge_segment((0.0, 0.0), (10.0, 0.0), sign * bulge)
    assert isinstance(arc, Arc)
    assert arc.sweep == pytest.approx(sign * angle, abs=5e-5)
    assert arc.radius == pytest.approx(radius, abs=5e-7)
    assert arc.length() == pytest.approx(length, abs=5e-7)
    assert arc.start == pytest.approx((0.0, 0.0), abs=1e-12)
    assert arc.end == pytest.approx((10.0, 0.0), abs=1e-12)
    # A positive bulge bends to the right of the chord, and the swept area about
    # the chord is that of the segment.
    assert arc.point_at(0.5) == pytest.approx((5.0, -sign * sagitta), abs=5e-7)
    assert arc.swept_area() == pytest.approx(sign * area, abs=5e-7)


def test_two_bulges_of_one_make_a_circle() -> None:
    there = bulge_segment((0.0, 0.0), (10.0, 0.0), 1.0)
    back = bulge_segment((10.0, 0.0), (0.0, 0.0), 1.0)
    assert there is not None and back is not None
    area = there.swept_area() + back.swept_area()
    assert area == pytest.approx(25.0 * math.pi, rel=1e-12)


def test_ellipse_area_and_perimeter() -> None:
    pieces = ellipse_segments((7.0, -3.0), (5.0, 0.0), (0.0, 3.0), 0.0, 360.0, 1e-7)
    area = sum(piece.swept_area() for piece in pieces)
    assert area == pytest.approx(47.123890, abs=1e-5)
    assert sum(p.length() for p in pieces) == pytest.approx(25.526998863, abs=1e-6)


def test_four_cubics_miss_the_circle_by_a_known_amount() -> None:
    # A loose tolerance leaves one cubic to a quarter; an ellipse is used because
    # a true circle would stay an arc.
    pieces = ellipse_segments((0.0, 0.0), (1.0, 0.0), (0.0, 0.5), 0.0, 360.0, 1.0)
    assert len(pieces) == 4
    radii = [
        math.hypot(x, 2.0 * y)
        for piece in pieces
        for x, y in (piece.point_at(k / 1000.0) for k in range(1001))
    ]
    assert max(radii) - 1.0 == pytest.approx(0.0002725, abs=1e-7)
    assert min(radii) == pytest.approx(1.0, abs=1e-12)
