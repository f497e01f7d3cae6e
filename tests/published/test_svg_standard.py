"""Numbers that the SVG and CSS standards fix.

Sources: W3C, CSS Values and Units Module Level 3, section 6.2 (absolute lengths);
W3C, Scalable Vector Graphics (SVG) 1.1 (Second Edition), 7.6 (nested transforms),
7.8 (preserveAspectRatio), 8.3 (path data), appendix F.6 (elliptical arcs).
"""

from __future__ import annotations

import math

import pytest

from drystone.io.affine import Affine
from drystone.io.limits import Budget
from drystone.io.svg_curves import EllipticArc, arc_between, to_mm
from drystone.io.svg_length import length_px
from drystone.io.svg_path import parse_path
from drystone.io.svg_transform import parse_transform
from drystone.io.svg_viewport import fit
from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.motion import Point


@pytest.mark.parametrize(
    ("text", "px"),
    [
        ("1in", 96.0),
        ("2.54cm", 96.0),
        ("25.4mm", 96.0),
        ("101.6Q", 96.0),
        ("72pt", 96.0),
        ("6pc", 96.0),
        ("96px", 96.0),
        ("96", 96.0),
        ("50%", 192.0),
    ],
)
def test_css_absolute_lengths(text: str, px: float) -> None:
    assert length_px(text, 384.0) == pytest.approx(px, rel=1e-14)


def test_view_box_of_half_scale_is_centred() -> None:
    # width 100 mm, height 100 mm, viewBox 0 0 200 100: 0.5 mm per unit, 25 mm down.
    affine = fit((0.0, 0.0, 200.0, 100.0), 100.0, 100.0)
    assert affine == Affine(0.5, 0.0, 0.0, 0.5, 0.0, 25.0)


def test_the_nested_transform_of_the_standards_example() -> None:
    # SVG 1.1, 7.5: translate(50,90), rotate(-45), translate(130,160) multiply to
    # .707 -.707 .707 .707 255.03 111.21 (remembered; the standard's sine is rounded
    # to .707, which times 290 is 0.03 short).
    affine = (
        parse_transform("translate(50,90)")
        @ parse_transform("rotate(-45)")
        @ parse_transform("translate(130,160)")
    )
    printed = (0.707, -0.707, 0.707, 0.707, 255.03, 111.21)
    found = (affine.a, affine.b, affine.c, affine.d, affine.e, affine.f)
    assert found == pytest.approx(printed, abs=0.04)


@pytest.mark.parametrize(
    ("text", "point"),
    [
        ("translate(1 2) scale(3)", (4.0, 5.0)),  # the rightmost acts first
        ("scale(3) translate(1 2)", (6.0, 9.0)),
        ("rotate(90)", (-1.0, 1.0)),
        ("rotate(180 1 0)", (1.0, -1.0)),
        ("skewX(45)", (2.0, 1.0)),
        ("skewY(45)", (1.0, 2.0)),
        ("matrix(1 2 3 4 5 6)", (9.0, 12.0)),
    ],
)
def test_transform_functions_on_the_point_1_1(text: str, point: Point) -> None:
    assert parse_transform(text).point((1.0, 1.0)) == pytest.approx(point, abs=1e-12)


def f6(
    p0: Point, rx: float, ry: float, phi: float, fa: int, fs: int, p1: Point
) -> tuple[Point, float, float, float, float]:
    """Appendix F.6.5 and F.6.6 written out letter by letter."""
    c, s = math.cos(math.radians(phi)), math.sin(math.radians(phi))
    dx, dy = (p0[0] - p1[0]) / 2, (p0[1] - p1[1]) / 2
    x1, y1 = c * dx + s * dy, -s * dx + c * dy
    lam = x1**2 / rx**2 + y1**2 / ry**2
    if lam > 1:
        rx, ry = math.sqrt(lam) * rx, math.sqrt(lam) * ry
    top = rx**2 * ry**2 - rx**2 * y1**2 - ry**2 * x1**2
    factor = math.sqrt(max(top, 0) / (rx**2 * y1**2 + ry**2 * x1**2))
    factor = factor if fa != fs else -factor
    cx1, cy1 = factor * rx * y1 / ry, -factor * ry * x1 / rx
    cx = c * cx1 - s * cy1 + (p0[0] + p1[0]) / 2
    cy = s * cx1 + c * cy1 + (p0[1] + p1[1]) / 2

    def angle(ux: float, uy: float, vx: float, vy: float) -> float:
        return math.degrees(math.atan2(ux * vy - uy * vx, ux * vx + uy * vy))

    a, b = (x1 - cx1) / rx, (y1 - cy1) / ry
    theta = angle(1, 0, a, b)
    delta = angle(a, b, (-x1 - cx1) / rx, (-y1 - cy1) / ry)
    if fs and delta < 0:
        delta += 360
    if not fs and delta > 0:
        delta -= 360
    return (cx, cy), rx, ry, theta, delta


@pytest.mark.parametrize("flags", [(0, 0), (0, 1), (1, 0), (1, 1)])
@pytest.mark.parametrize(
    ("p0", "rx", "ry", "phi", "p1"),
    [
        ((0.0, 0.0), 25.0, 25.0, -30.0, (50.0, -25.0)),
        ((0.0, 0.0), 25.0, 100.0, -30.0, (50.0, -25.0)),
        ((125.0, 75.0), 100.0, 50.0, 0.0, (225.0, 125.0)),
        ((3.0, 4.0), 1.0, 2.0, 77.0, (-9.0, 5.0)),
    ],
)
def test_arcs_follow_appendix_f6(
    p0: Point, rx: float, ry: float, phi: float, p1: Point, flags: tuple[int, int]
) -> None:
    arc = arc_between(p0, rx, ry, phi, bool(flags[0]), bool(flags[1]), p1)
    centre, rx, ry, theta, delta = f6(p0, rx, ry, phi, *flags, p1)
    assert isinstance(arc, EllipticArc)
    # Where the radii just reach, the appendix's form loses half the digits under
    # its root; the reader's gives the chord's middle exactly.
    assert arc.centre == pytest.approx(centre, abs=1e-5)
    assert math.hypot(*arc.u) == pytest.approx(rx)
    assert math.hypot(*arc.v) == pytest.approx(ry)
    assert (arc.start_angle - theta) % 360 == pytest.approx(0, abs=1e-5) or (
        (arc.start_angle - theta) % 360 == pytest.approx(360, abs=1e-5)
    )
    assert arc.sweep == pytest.approx(delta, abs=1e-5)


def test_an_arc_with_a_radius_of_zero_is_a_line() -> None:
    # F.6.2
    line = arc_between((0.0, 0.0), 0.0, 5.0, 0.0, True, True, (3.0, 4.0))
    assert line == Line((0.0, 0.0), (3.0, 4.0))


def test_an_arc_between_equal_points_is_left_out() -> None:
    # F.6.2
    assert arc_between((1.0, 1.0), 5.0, 5.0, 0.0, True, True, (1.0, 1.0)) is None


def test_radii_that_are_too_small_grow_until_they_reach() -> None:
    # F.6.6: chord 10, radius 1: a half circle of radius 5.
    arc = arc_between((0.0, 0.0), 1.0, 1.0, 0.0, False, True, (10.0, 0.0))
    assert isinstance(arc, EllipticArc)
    (segment,) = to_mm(arc, Affine())
    assert isinstance(segment, Arc)
    assert segment.radius == pytest.approx(5.0, abs=1e-12)
    assert abs(segment.sweep) == 180.0


def segments(data: str) -> list[object]:
    paths, error = parse_path(data, Budget("case.svg"))
    assert error == ""
    return [segment for path in paths for segment in path.segments]


@pytest.mark.parametrize(
    ("short", "long"),
    [
        # SVG 1.1, 8.3.9: superfluous white space and separators may be left out.
        ("M 100 100 L 200 200", "M100 100L200 200"),
        ("M 100 200 L 200 100 L -100 -200", "M 100 200 L 200 100 -100 -200"),
        ("M0.6.5-3-2", "M 0.6 0.5 L -3 -2"),
        ("M0 0a1 1 0 01 2 3", "M 0 0 a 1 1 0 0 1 2 3"),
        ("M0 0a1 1 0 012 3", "M 0 0 a 1 1 0 0 1 2 3"),
        ("M0 0a1 1 0 1110 0", "M 0 0 a 1 1 0 1 1 10 0"),
        ("m1 1 2 2zm3 3l1 1", "M1 1L3 3L1 1M4 4L5 5"),
    ],
)
def test_two_ways_to_write_the_same_path(short: str, long: str) -> None:
    assert segments(short) == segments(long)


def test_a_quadratic_equals_the_cubic_it_becomes() -> None:
    # Degree elevation: c1 = p0 + 2/3 (q - p0), c2 = p2 + 2/3 (q - p2).
    (cubic,) = segments("M0 0Q3 6 9 0")
    assert isinstance(cubic, Cubic)
    for t in (0.0, 0.2, 0.5, 0.9, 1.0):
        s = 1 - t
        expected = (2 * s * t * 3 + t * t * 9, 2 * s * t * 6)
        assert cubic.point_at(t) == pytest.approx(expected, abs=1e-12)


def test_smooth_commands_mirror_the_last_control_point() -> None:
    assert segments("M0 0C1 2 3 4 5 5S8 8 9 9") == segments(
        "M0 0C1 2 3 4 5 5C7 6 8 8 9 9"
    )
    assert segments("M0 0Q1 2 4 4T9 9") == segments("M0 0Q1 2 4 4Q7 6 9 9")
    assert segments("M0 0L4 4S8 8 9 9") == segments("M0 0L4 4C4 4 8 8 9 9")
