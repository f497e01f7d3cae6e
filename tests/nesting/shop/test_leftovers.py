"""Leftovers worth keeping."""

from __future__ import annotations

import pytest

from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock
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
    assert leftovers(job(550), 0) == ()
    assert len(leftovers(job(550), 0, keep_side=200)) == 1


def test_an_untouched_board_is_kept_whole() -> None:
    plain = Job("j", (), job(400).stock, layout=Layout((Blank("s"),)))
    (piece,) = leftovers(plain, 0)
    assert piece.area == pytest.approx(400_000)
