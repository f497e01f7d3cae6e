"""What is advised is said in the unit of the job."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from drystone.nesting.model.errors import InputError
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.lengths import load_text, share_text
from drystone.nesting.model.machine import (
    Board,
    Cutter,
    CutterKind,
    Machine,
    Practice,
    Saw,
    ShopSetup,
)
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.shop.advice import Advice
from drystone.nesting.shop.breakdown import candidates
from drystone.nesting.shop.clamps import advice_on_clamps
from drystone.nesting.shop.cutters import suits
from drystone.nesting.shop.feeds import judge
from drystone.nesting.shop.plan import advice_on
from drystone.nesting.shop.reach import advice_on_reach
from drystone.nesting.shop.travel import advice_on_travel

INCH = 25.4
BOARD = Outline(Loop.rectangle(24 * INCH, 24 * INCH))
HOLED = Outline(
    Loop.rectangle(6 * INCH, 6 * INCH), (Loop.circle(3 * INCH, 3 * INCH, INCH / 16),)
)
CLAMP = KeepOut(Loop.rectangle(10.0, 10.0), "clamp", INCH / 8)
STOCK = Stock("s", "birch", BOARD, "birch plywood", INCH / 2, keep_outs=(CLAMP,))
JOB = Job(
    "inches",
    (Part("a", "plate", HOLED, (), 1, "birch plywood", INCH / 2),),
    (STOCK,),
    Cutting(INCH / 4, 1.5, 12.0),
    layout=Layout((Blank("s"),), (Placement("a", 1, 0, 17 * INCH, 17 * INCH),)),
    units="in",
)
MACHINE = Machine(bed=(20 * INCH, 20 * INCH), collets=(INCH / 8, 6.0), feed_max=1524.0)
SHORT = Cutter(
    "short",
    CutterKind.COMPRESSION,
    INCH / 4,
    cutting_length=INCH / 4,
    shank=INCH / 4,
    up_cut_length=3 * INCH / 16,
)


def said(units: str) -> list[Advice]:
    job, board = replace(JOB, units=units), Board("birch plywood")
    setup = ShopSetup(machines=(MACHINE,), cutters=(SHORT,))
    found = advice_on(job, setup)
    thin = INCH / 8
    found += suits(SHORT, MACHINE, board, thin, Practice(), units=units)
    for speed in (100.0, 450.0, 1000.0, 9000.0):
        found += judge(12_000.0, speed, SHORT, MACHINE, board, units)
    found += advice_on_reach(job, (INCH / 16, INCH / 4))
    found += advice_on_clamps(job, MACHINE)
    return found + advice_on_travel(job, MACHINE)


def test_advice_has_the_lengths_of_the_job() -> None:
    """Every sentence with a length in mm has it in inches in a job in inches."""
    metric, inches = said("mm"), said("in")
    assert [a.code for a in metric] == [a.code for a in inches]
    with_lengths = {a.code for a in metric if re.search(r"\d mm\b", a.message)}
    assert with_lengths >= {
        "no-collet",
        "edge-too-short",
        "compression-first-pass",
        "compression-too-thin",
        "chip-load-rubbing",
        "chip-load-high",
        "feed-above-machine",
        "cutter-too-wide",
        "widest-cutter",
        "clamp-too-near",
        "beyond-travel",
    }
    for advice in inches:
        assert not re.search(r"\bmm\b", advice.message), advice.message
        if advice.code in with_lengths:
            assert re.search(r"\d in\b", advice.message), advice.message
    text = "\n".join(advice.message for advice in inches)
    assert "shank is 1/4 in and the collets hold 1/8, 0.236 in" in text
    assert "a slot of 1/4 in does not fit into 1 hole" in text
    assert "paths go 3 1/8 in beyond the machine's travel of 20 by 20 in" in text
    assert "feed 354 in/min is more than the machine's 60 in/min" in text


def test_a_sheet_that_cannot_be_sawn_says_how_wide_in_the_job_s_unit() -> None:
    saw = Saw(least_side=4 * INCH)
    with pytest.raises(InputError, match="needs 4 in at least"):
        candidates(STOCK, (INCH, INCH), saw, "in")


def test_chip_loads_and_shares() -> None:
    """A thousandth of an inch is too coarse for chip loads of a few thousandths."""
    assert load_text(0.1, "in") == "0.0039 in"
    assert load_text(0.1) == "0.100 mm"
    assert share_text(0.49777) == "49.8 %"
