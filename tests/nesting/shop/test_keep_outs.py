"""Keep-outs of a sheet on the blanks it is sawn into."""

from __future__ import annotations

import pytest

from drystone.nesting.model.job import Job
from drystone.nesting.model.machine import Saw
from drystone.nesting.model.motion import Motion
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.placement import Blank, Layout
from drystone.nesting.model.rules import Grain
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.shop.breakdown import candidates, of_sheets, sawn_stock

KNOT = KeepOut(Loop.circle(900.0, 100.0, 30.0), "knot")
"""On the second quarter of 1525 by 1525, 136 mm from its left side."""

SEAM = KeepOut(Loop.rectangle(40.0, 20.0, 740.0, 1000.0), "split")
"""Across the saw cut between the two upper quarters."""


def sheet(*keep_outs: KeepOut) -> Stock:
    return Stock(
        "s",
        "sheet",
        Outline(Loop.rectangle(1525, 1525)),
        "ply",
        12.0,
        Grain.LENGTH,
        48.0,
        None,
        keep_outs,
    )


def test_a_keep_out_goes_with_its_blank_in_its_coordinates() -> None:
    plan = candidates(sheet(KNOT), (800, 800), Saw(3.0))[0]
    carried = [piece.keep_outs for piece in plan.pieces]
    assert [len(found) for found in carried] == [0, 1, 0, 0]
    (knot,) = carried[1]
    assert knot.label == "knot"
    assert knot.loop.bounds == pytest.approx((106, 70, 166, 130))  # 900 - 764 = 136


def test_one_across_a_saw_cut_goes_with_both_blanks() -> None:
    plan = candidates(sheet(SEAM), (800, 800), Saw(3.0))[0]
    left, right = (p for p in plan.pieces if p.keep_outs)
    assert left.keep_outs[0].loop.bounds == pytest.approx((740, 236, 780, 256))
    assert right.keep_outs[0].loop.bounds == pytest.approx((-24, 236, 16, 256))


def test_one_in_the_kerf_is_gone() -> None:
    nail = KeepOut(Loop.circle(762.5, 300.0, 1.0), "nail")  # kerf from 761 to 764
    plan = candidates(sheet(nail), (800, 800), Saw(3.0))[0]
    assert all(not piece.keep_outs for piece in plan.pieces)


def test_blanks_alike_but_for_a_keep_out_are_two_kinds() -> None:
    plan = candidates(sheet(KNOT), (800, 800), Saw(3.0))[0]
    sawn = sawn_stock(sheet(KNOT), plan, (800, 800))
    assert sawn.per_sheet == (3, 1)
    clean, marked = sawn.blanks
    assert clean.keep_outs == ()
    assert len(marked.keep_outs) == 1
    assert clean.id != marked.id
    assert clean.price == pytest.approx(12.0)
    few = of_sheets(sawn, 2)
    assert [kind.count for kind in few.blanks] == [6, 2]
    job = Job("j", (), few.blanks, layout=Layout((Blank(clean.id),) * 4))
    assert sawn.sheets(job) == 2


def test_a_keep_out_turns_with_a_blank_laid_the_other_way_round() -> None:
    """Half of 1000 by 1600 fits an 820 by 1010 bed only when it is turned."""
    spot = KeepOut(Loop.circle(100.0, 200.0, 10.0), "spot")
    board = Stock(
        "s", "s", Outline(Loop.rectangle(1000, 1600)), "ply", 12.0, keep_outs=(spot,)
    )
    plan = next(
        p for p in candidates(board, (820, 1010), Saw(3.0)) if len(p.pieces) == 2
    )
    sawn = sawn_stock(board, plan, (820, 1010))
    turned = next(kind for kind in sawn.blanks if kind.keep_outs)
    assert turned.outline.size == pytest.approx((798.5, 1000))
    x0, y0, x1, y1 = turned.keep_outs[0].loop.bounds
    # A quarter turn counter-clockwise: x becomes y, y counts from the other side.
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((798.5 - 200, 100))
    back = turned.keep_outs[0].loop.moved(Motion(798.5, 0.0, 90.0).inverse())
    assert back.bounds == pytest.approx((90, 190, 110, 210))
