"""Sheets indexed through a bed that is open at one end."""

from __future__ import annotations

import datetime
from dataclasses import replace
from itertools import pairwise

import pytest

from drystone.io.shop_notes import SheetCuts, ShopNotes
from drystone.io.shop_sheet import shop_sheets
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.job import Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.shop.breakdown import sawn_stock
from drystone.nesting.shop.indexing import (
    PINS,
    can_index,
    index_through,
)

PIN_EDGE, PIN_ROOM, _ = PINS


def sheet(length: float, width: float) -> Stock:
    return Stock("s", "sheet", Outline(Loop.rectangle(length, width)), price=60.0)


@pytest.mark.parametrize("length", [801, 839, 841, 1200, 1525, 2440, 3050])
def test_every_position_lies_on_the_bed(length: float) -> None:
    """Each position, with the holes drilled in it, is reached without moving."""
    bed = (800.0, 700.0)
    plan = index_through(sheet(length, 610), bed)
    pitch = bed[0] - 2.0 * PIN_EDGE
    assert plan.pieces[0].x == 0.0
    for k, piece in enumerate(plan.pieces):
        assert piece.x == pytest.approx(k * pitch)
        assert piece.x + piece.width <= min(k * pitch + bed[0], length) + 1e-9
    for a, b in pairwise(plan.pieces):
        assert b.x == pytest.approx(a.x + a.width)
    for x, _ in plan.holes:  # reached from the position before, not at its edge
        assert 0.0 < x - (x // pitch - 1.0) * pitch < bed[0]
    pins = {round(x % pitch, 6) for x, _ in plan.holes}
    assert pins <= {PIN_EDGE}  # each pair sits on the same pins after a push
    assert len(plan.holes) == 2 * (len(plan.pieces) - 1)
    assert plan.pieces[-1].x + plan.pieces[-1].width >= length - 2.0 * PIN_EDGE - 1e-9


def test_parts_keep_off_the_pins() -> None:
    """Every hole is the middle of a keep-out of the position that sits on it."""
    plan = index_through(sheet(2440, 610), (820, 700))
    middles = set()
    for piece in plan.pieces:
        assert [area.label for area in piece.keep_outs] == ["pin", "pin"]
        for area in piece.keep_outs:
            x0, y0, x1, y1 = area.loop.bounds
            assert x1 - x0 == pytest.approx(2.0 * PIN_ROOM)
            middles.add((round(piece.x + (x0 + x1) / 2, 6), round((y0 + y1) / 2, 6)))
    assert {(round(x, 6), round(y, 6)) for x, y in plan.holes} < middles
    assert len(middles) == 2 * len(plan.pieces)
    (first, last) = sawn_stock(sheet(2440, 610), plan, (820, 700)).blanks
    assert first.keep_outs == last.keep_outs == plan.pieces[0].keep_outs


def test_positions_keep_apart_where_margins_do_not() -> None:
    plan = index_through(sheet(2440, 610), (820, 700), apart=5.0)
    for a, b in pairwise(plan.pieces):
        assert b.x - a.x - a.width == pytest.approx(5.0)
    assert plan.kerf == 5.0


def test_keep_outs_of_the_sheet_go_with_their_position() -> None:
    knot = KeepOut(Loop.circle(1000.0, 300.0, 10.0), "knot")
    board = replace(sheet(2440, 610), keep_outs=(knot,))
    plan = index_through(board, (820, 700))
    labels = [[area.label for area in piece.keep_outs] for piece in plan.pieces]
    assert labels == [
        ["pin", "pin"],
        ["pin", "pin", "knot"],
        ["pin", "pin"],
        ["pin"] * 2,
    ]


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
