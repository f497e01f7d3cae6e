"""Leftovers worth keeping."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
import shapely

from drystone.nesting import objective
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.shop.leftovers import leftovers


def job(width: float) -> Job:
    board = Stock("s", "b", Outline(Loop.rectangle(800, 500)))
    part = Part("p", "p", Outline(Loop.rectangle(width, 500)))
    layout = Layout((Blank("s"),), (Placement("p", 1, 0, 0, 0),))
    return Job("j", (part,), (board,), Cutting(cutter=6.0), layout=layout)


def test_the_slot_is_left_off() -> None:
    (piece,) = leftovers(job(400), 0)
    assert piece.size == pytest.approx((394, 500), abs=0.2)


def test_narrow_leftovers_are_waste() -> None:
    """A piece worth keeping is 150 mm wide at least and as large as 300 by 300."""
    assert leftovers(job(650), 0) == ()  # 144 by 500
    (piece,) = leftovers(job(600), 0)  # 194 by 500
    assert piece.size == pytest.approx((194, 500), abs=0.2)


def test_the_job_says_what_is_worth_keeping() -> None:
    """144 by 500 is kept where 140 counts; 194 by 500 is not where 320 by 320 does."""

    def kept(width: float, **values: float) -> list[tuple[float, float]]:
        asked = job(width)
        cutting: Cutting = replace(asked.cutting, **values)  # type: ignore[arg-type]
        asked = replace(asked, cutting=cutting)
        counted = objective.leftovers(asked)
        pieces = leftovers(asked, 0)
        assert len(counted) == len(pieces), "the search and the rack agree"
        return [piece.size for piece in pieces]

    assert kept(650) == []
    assert kept(650, keep_side=120.0, keep_square=250.0) == [
        pytest.approx((144, 500), abs=0.2)
    ]
    assert len(kept(600)) == 1 and kept(600, keep_square=320.0) == []
    # A neck may not take away what is wide enough to be kept.
    assert len(kept(600, keep_neck=1000.0)) == 1
    assert len(kept(700, keep_side=0.0, keep_square=0.0)) == 1


def test_necks_are_waste() -> None:
    """Beside a part 400 wide and 440 high a strip of 54 mm stays above it."""
    low = replace(job(400), parts=(Part("p", "p", Outline(Loop.rectangle(400, 440))),))
    (piece,) = leftovers(low, 0)
    assert piece.size == pytest.approx((394, 500), abs=0.2)
    wide = replace(low, cutting=replace(low.cutting, keep_neck=40.0))
    (piece,) = leftovers(wide, 0)
    assert piece.size == pytest.approx((800, 500), abs=0.2)


def test_both_sides_of_a_part_in_the_middle_are_kept() -> None:
    middle = job(200)
    placed = (Placement("p", 1, 0, 300, 0),)
    pieces = leftovers(
        replace(middle, layout=replace(middle.layout, placements=placed)), 0
    )
    assert [piece.size[0] for piece in pieces] == pytest.approx([294, 294], abs=0.2)


def test_a_keep_out_is_no_leftover() -> None:
    plain = job(400)
    marked = replace(
        plain.stock[0], keep_outs=(KeepOut(Loop.rectangle(394, 150, 406, 350)),)
    )
    (piece,) = leftovers(replace(plain, stock=(marked,)), 0)
    assert piece.size == pytest.approx((394, 350), abs=0.2)


@pytest.mark.parametrize("seed", range(20))
def test_what_the_search_counts_is_what_the_rack_gets(seed: int) -> None:
    """Every rectangle the verdict speaks of lies in a piece that is kept, and a blank
    whose pieces are all waste has none."""
    rng = random.Random(seed)
    board = Stock("s", "b", Outline(Loop.rectangle(900, 700)))
    parts = tuple(
        Part(
            f"p{i}",
            "p",
            Outline(Loop.rectangle(rng.uniform(80, 500), rng.uniform(80, 400))),
        )
        for i in range(rng.randrange(1, 5))
    )
    placed = tuple(
        Placement(part.id, 1, 0, rng.uniform(0, 400), rng.uniform(0, 300))
        for part in parts
    )
    layout = Layout((Blank("s"),), placed)
    made = Job("j", parts, (board,), Cutting(cutter=6.0, allowance=0.0), layout=layout)
    counted = objective.leftovers(made)
    kept = leftovers(made, 0)
    for found in counted:
        box = shapely.box(
            found.x, found.y, found.x + found.width, found.y + found.height
        )
        assert any(
            shapely.Polygon(
                piece.outer.flatten(0.1), [h.flatten(0.1) for h in piece.holes]
            )
            .buffer(0.3)
            .contains(box)
            for piece in kept
        )
    if not counted:  # within the cells that the search looks at
        assert all(piece.area < 1.2 * 300 * 300 for piece in kept)


def test_an_untouched_board_is_kept_whole() -> None:
    plain = Job("j", (), job(400).stock, layout=Layout((Blank("s"),)))
    (piece,) = leftovers(plain, 0)
    assert piece.area == pytest.approx(400_000)
