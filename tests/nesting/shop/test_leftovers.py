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
