"""Board weights and densities against worked numbers.

Sheet sizes and densities are common practice (49 x 97 in fibreboard, 48 x 96 in
plywood, 1525 mm birch); each expected weight was worked by hand as area x
thickness x density. Specific gravities: Wood Handbook, FPL-GTR-282 (2021), chapter
5, as remembered.
"""

from __future__ import annotations

import pytest

from drystone.nesting.shop.weight import (
    ONE_PERSON,
    PAIR_SHARE,
    POUND,
    board_weight,
    lift_note,
    wood_density,
)

INCH = 25.4


@pytest.mark.parametrize(
    ("size", "thickness", "density", "kg", "pounds"),
    [
        ((49 * INCH, 97 * INCH), 0.75 * INCH, 750, 43.8, 96.6),
        ((48 * INCH, 96 * INCH), 0.5 * INCH, 750, 28.3, 62.4),
        ((48 * INCH, 96 * INCH), 0.703 * INCH, 550, 29.2, 64.4),
        ((60.04 * INCH, 60.04 * INCH), 18.0, 680, 28.5, 62.8),
        ((60.04 * INCH, 60.04 * INCH), 12.0, 680, 19.0, 41.8),
        ((48 * INCH, 96 * INCH), 0.236 * INCH, 1190, 21.2, 46.8),
    ],
)
def test_sheets_weigh_what_was_worked_out(
    size: tuple[float, float],
    thickness: float,
    density: float,
    kg: float,
    pounds: float,
) -> None:
    weight = board_weight(size[0] * size[1], thickness, density)
    assert weight == pytest.approx(kg, abs=0.051)
    assert weight / POUND == pytest.approx(pounds, abs=0.11)


def test_lifting_limits_follow_from_their_sources() -> None:
    """51 lb is NIOSH's 23 kg; the HSE's two thirds make about 31 kg or 68 lb a pair."""
    assert pytest.approx(51 * POUND, abs=0.2) == ONE_PERSON
    pair = 2.0 * ONE_PERSON * PAIR_SHARE
    assert pair == pytest.approx(31, abs=0.5)
    assert pair / POUND == pytest.approx(68, abs=0.5)
    assert lift_note(20.0, 15.0) == lift_note(28.5), "a shop may set less"
    assert "cart" in lift_note(20.1, 15.0) and not lift_note(14.0, 15.0)
    assert lift_note(19.0) == ""
    assert "two people" in lift_note(28.5)
    assert "cart" in lift_note(43.8)  # a full 3/4 in fibreboard sheet
    for weight in (28.5, 43.8):
        assert "safe" not in lift_note(weight)


def test_wood_at_twelve_per_cent() -> None:
    """Yellow birch, specific gravity 0.62, weighs 694 kg/m3 at 12 % moisture."""
    assert wood_density(0.62) == pytest.approx(694.4)
