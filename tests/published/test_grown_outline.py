"""Outlines grown by a distance, against Steiner's formula.

Source: J. Steiner, Ueber parallele Flaechen, 1840: a convex figure of area A and
perimeter P grown by r covers A + P r + pi r². With sharp corners, the sum of
r² cot(alpha/2) over the corner angles takes the place of pi r². The L-shape has five
convex and one reflex right angle: A + P r + 5 pi r² / 4 - r². Worked by hand.
"""

from __future__ import annotations

import numpy as np
import pytest

from drystone.nesting.bound import grown_area
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.prepare import prepare_shape

R = 3.175
RECTANGLE = [(0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0)]
TRIANGLE = [(0.0, 0.0), (300.0, 0.0), (0.0, 400.0)]
L_SHAPE = [(0.0, 0.0), (40.0, 0.0), (40.0, 10.0), (10.0, 10.0), (10.0, 30.0), (0, 30)]


@pytest.mark.parametrize(
    ("points", "area"), [(RECTANGLE, 7047.669217), (TRIANGLE, 63841.669217)]
)
def test_the_bound_counts_a_grown_convex_outline_exactly(
    points: list[tuple[float, float]], area: float
) -> None:
    outline = Outline(Loop.polygon(points))
    assert grown_area(outline, R) == pytest.approx(area, abs=1e-6)


def test_the_bound_never_counts_too_much_for_a_notched_outline() -> None:
    area = grown_area(Outline(Loop.polygon(L_SHAPE)), R)
    assert 1074.005897 * (1 - 1e-4) <= area <= 1074.005897 + 1e-6


@pytest.mark.parametrize(
    ("points", "rounded", "sharp"),
    [
        (RECTANGLE, 7047.669217, 7056.3225),
        (TRIANGLE, 63841.669217, 63870.48375),
    ],
)
def test_the_engines_shape_contains_the_grown_outline(
    points: list[tuple[float, float]], rounded: float, sharp: float
) -> None:
    shape = prepare_shape([np.array(points)], grow=R, tolerance=1e-3)
    assert rounded <= shape.polygon.area <= sharp + 1e-6
