"""The shop's own data checks itself."""

from __future__ import annotations

import pytest

from drystone.nesting.model.errors import InputError
from drystone.nesting.model.machine import (
    Board,
    Cutter,
    Machine,
    Practice,
    ShopSetup,
)


@pytest.mark.parametrize(
    ("make", "what"),
    [
        (lambda: Cutter("c", diameter=-1.0), "diameter is -1"),
        (lambda: Cutter("c", flutes=0), "flutes is 0"),
        (lambda: Machine(feed_max=float("nan")), "feed max is nan"),
        (lambda: Machine(rpm_min=9000, rpm_max=8000), "rpm min 9000 is above"),
        (lambda: Machine(bed=(0.0, 800.0)), "bed has"),
        (lambda: Machine(actual_over_estimated=(0.0,)), "actual over estimated"),
        (lambda: Board("b", density=0.0), "density is 0"),
        (lambda: Practice(stepover=0.0), "stepover is 0"),
        (lambda: ShopSetup(machines=()), "no machine"),
        (lambda: ShopSetup(cutters=(Cutter("a"), Cutter("A"))), "two cutters"),
    ],
)
def test_unusable_numbers_are_refused(make: object, what: str) -> None:
    with pytest.raises(InputError, match=what):
        make()  # type: ignore[operator]


@pytest.mark.parametrize(
    ("material", "board"),
    [
        ("Birch  Plywood", "birch plywood"),
        ("baltic birch", "birch plywood"),
        ("marine ply", "plywood"),
        ("MDF", "mdf"),
        ("cast acrylic", "acrylic"),
        ("unheard of", "unheard of"),
    ],
)
def test_a_material_finds_its_board(material: str, board: str) -> None:
    assert ShopSetup().board(material).name == board


def test_the_nearest_cutter_is_taken_or_made_up() -> None:
    setup = ShopSetup()
    assert setup.cutter(6.35).name == "1/4 in up-cut"
    assert setup.cutter(6.0).name == "6 mm up-cut"
    made = setup.cutter(4.0)
    assert made.width == 4.0
    measured = ShopSetup(cutters=(Cutter("m", diameter=6.0, cut_width=6.2),))
    assert measured.cutter(6.2).name == "m"


def test_depth_counts_overcut_or_skin_never_both() -> None:
    assert Practice(overcut=0.3).depth(12.0) == pytest.approx(12.3)
    assert Practice(overcut=0.3, onion_skin=0.5).depth(12.0) == pytest.approx(11.5)
