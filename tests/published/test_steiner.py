"""Areas of grown outlines by Steiner's formula.

J. Steiner, Über parallele Flächen, 1840: a convex outline of area A and perimeter P
grown by r has the area A + P r + pi r^2. The L's figure follows by adding a quarter
disc for each of its five convex corners and taking away the square that the growth
counts twice in its reflex corner. The numbers were computed by hand from the formulas.
"""

from __future__ import annotations

import pytest

from drystone.nesting.bound import grown_area
from drystone.nesting.model.outline import Loop, Outline

RADIUS = 3.175


@pytest.mark.parametrize(
    ("corners", "area"),
    [
        ([(0, 0), (100, 0), (100, 60), (0, 60)], 7047.669217),
        ([(0, 0), (300, 0), (0, 400)], 63841.669217),
    ],
)
def test_convex_outlines(corners: list[tuple[float, float]], area: float) -> None:
    outline = Outline(Loop.polygon(corners))
    assert grown_area(outline, RADIUS) == pytest.approx(area, abs=1e-6)


def test_the_ell_is_never_overrated() -> None:
    corners = [(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)]
    found = grown_area(Outline(Loop.polygon(corners)), RADIUS)
    assert 1074.005897 - 0.02 < found <= 1074.005897
