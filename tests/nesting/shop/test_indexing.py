"""Sheets indexed through a bed that is open at one end."""

from __future__ import annotations

import datetime
from itertools import pairwise

import pytest

from drystone.io.shop_notes import SheetCuts, ShopNotes
from drystone.io.shop_sheet import shop_sheets
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.job import Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.breakdown import sawn_stock
from drystone.nesting.shop.indexing import PIN_EDGE, can_index, index_through


def sheet(length: float, width: float) -> Stock:
    return Stock("s", "sheet", Outline(Loop.rectangle(length, width)), price=60.0)


@pytest.mark.parametrize("length", [801, 839, 841, 1200, 1525, 2440, 3050])
def test_every_position_lies_on_the_bed(length: float) -> None:
    """Each position, with the holes drilled in it, is reached without moving."""
    bed = (800.0, 700.0)
    plan = index_through(sheet(length, 610), bed)
    pitch = bed[0] - 2.0 * PIN_EDGE
    assert plan.pieces[0].x == 0.0
    for piece in plan.pieces:
        begin = next(k for k in range(9) if piece.x < (k + 1) * pitch) * pitch
        assert begin <= piece.x
        assert piece.x + piece.width <= min(begin + bed[0], length) + 1e-9
    for a, b in pairwise(plan.pieces):
        assert b.x - a.x - a.width == pytest.approx(2.0 * PIN_EDGE)
    for x, _ in plan.holes:
        assert not any(p.x < x < p.x + p.width for p in plan.pieces)
    pins = {round(x % pitch, 6) for x, _ in plan.holes}
    assert pins <= {PIN_EDGE}  # each pair sits on the same pins after a push
    assert len(plan.holes) == 2 * (len(plan.pieces) - 1)
    assert plan.pieces[-1].x + plan.pieces[-1].width >= length - 2.0 * PIN_EDGE - 1e-9


def test_one_sheet_is_paid_once() -> None:
    board = sheet(2440, 610)
    sawn = sawn_stock(board, index_through(board, (820, 700)), (820, 700))
    assert sum(sawn.per_sheet) == len(sawn.breakdown.pieces)
    assert sum(
        kind.price * n for kind, n in zip(sawn.blanks, sawn.per_sheet, strict=True)
    ) == pytest.approx(60.0)


def test_what_cannot_be_indexed() -> None:
    assert not can_index(sheet(790, 610), (800, 700))
    assert not can_index(sheet(2440, 1220), (800, 700))
    with pytest.raises(InputError, match="cannot be indexed"):
        index_through(sheet(2440, 1220), (800, 700))


def test_the_positions_are_put_on_paper() -> None:
    plan = index_through(sheet(2440, 610), (820, 700))
    notes = ShopNotes(sawing=(SheetCuts("long sheet", 1, plan),))
    pdf = shop_sheets(Job("j"), notes, date=datetime.date(2026, 5, 4))
    assert b"Index positions: long sheet" in pdf
