"""Make the papers of the sample order and paint them as pictures, to be looked at.

Run it by itself: ``python tests/gui/paper_tour.py DIR``. It needs pdftoppm, of the
Poppler tools, which turns a PDF's pages into pictures.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from PIL import Image

from drystone.app.book.importing import SAMPLE
from drystone.app.commands.quote import (
    amount,
    customer_remarks,
    facts_of,
    part_rows,
    price_rows,
)
from drystone.app.commands.whatif import panels
from drystone.app.kernel_cache import set_up
from drystone.app.opening import open_job
from drystone.app.quoting import Quote, make_quote
from drystone.app.shop_paper import bench_notes
from drystone.app.trying import Change, try_all, variants
from drystone.io.quote_sheet import quote_pdf
from drystone.io.shop_sheet import shop_sheets
from drystone.io.whatif_plot import plot_pdf
from drystone.nesting.model.curve import Arc, Line
from drystone.nesting.model.holding import Holding, ReliefKind, TabRule
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import ShopSetup
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.rules import Grain
from drystone.nesting.model.stock import KeepOut, Stock, rounded_rectangle
from drystone.nesting.shop.holddown import held
from drystone.nesting.shop.relief import job_as_cut

PASSES = 6
DOTS = 75
"""Dots an inch: small enough for a page that is read on a screen."""

SETUP = ShopSetup()


def sample() -> Job:
    """Return the sample order with tabs on small parts and four screws a blank."""
    job = open_job([SAMPLE]).job
    return replace(job, holding=Holding(TabRule.SMALL, 4, drop_outs=True))


def crate(relief: ReliefKind) -> Job:
    """Return a planter crate that is drawn with square corners, clamped on a board.

    Slots and notches as wide as the board, a handle to be cut out, and a drip tray
    with a round hole: all that relief and tabs are for.
    """
    thick = 12.2
    handle = Loop(
        (
            Line((120.0, 150.0), (180.0, 150.0)),
            Arc((180.0, 135.0), 15.0, 90.0, -180.0),
            Line((180.0, 120.0), (120.0, 120.0)),
            Arc((120.0, 135.0), 15.0, 270.0, -180.0),
        )
    )
    slots = [
        Loop.rectangle(thick, 70.0, x, 20.0).oriented(False) for x in (20, 144, 268)
    ]
    side = Outline(Loop.rectangle(300.0, 180.0), (*slots, handle.oriented(False)))
    notch = [(0, 0), (220, 0), (220, 120), (116, 120), (116, 60), (104, 60)]
    divider = Outline(Loop.polygon([*notch, (104, 120), (0, 120)]))
    tray = Outline(
        Loop.rectangle(220.0, 150.0), (Loop.circle(110, 75, 45).oriented(False),)
    )
    board = ("birch plywood", 12.0)
    parts = (
        Part("side", "crate side", side, (), 2, *board),
        Part("divider", "crate divider", divider, (), 3, *board),
        Part("tray", "drip tray", tray, (), 2, *board),
    )
    clamps = tuple(
        KeepOut(rounded_rectangle(30, 60, x, 300, 18), "clamp", 18.0)
        for x in (-12.0, 743.0)
    )
    sheet = Stock(
        "sheet",
        "birch 12 mm, quarter sheet",
        Outline(Loop.rectangle(761, 761)),
        *board,
        Grain.LENGTH,
        13.0,
        keep_outs=clamps,
    )
    return Job(
        "Planter crate for the school garden",
        parts,
        (sheet,),
        Cutting(6.35, 1.5, 15.0),
        (800.0, 800.0),
        relief=relief,
        holding=Holding(TabRule.ALL, 4, drop_outs=True),
    )


def whole_sheets(job: Job) -> Job:
    """Return the order to be cut from whole sheets, larger than the bed."""
    stock = tuple(
        replace(
            kind,
            name=kind.name.replace("quarter", "whole"),
            outline=Outline(Loop.rectangle(1525.0, 1525.0)),
            price=4.0 * kind.price,
            keep_outs=(),
        )
        for kind in job.stock
        if not kind.offcut
    )
    return replace(job, stock=stock)


def paint(pdf: bytes, name: str, folder: Path, page: int = 1) -> None:
    """Write one page of a PDF as a picture of few colours."""
    raw = folder / f"{name}-raw"
    raw.with_suffix(".pdf").write_bytes(pdf)
    command = ["pdftoppm", "-r", str(DOTS), "-png", "-singlefile"]
    command += ["-f", str(page), "-l", str(page)]
    subprocess.run([*command, str(raw.with_suffix(".pdf")), str(raw)], check=True)
    with Image.open(raw.with_suffix(".png")) as picture:
        few = picture.convert("RGB").quantize(64)
        few.save(folder / f"{name}.png", optimize=True)
    for ending in (".pdf", ".png"):
        raw.with_suffix(ending).unlink()


def quote_page(quote: Quote) -> bytes:
    """Return the quote as the customer gets it."""
    return quote_pdf(
        quote.job.name,
        facts_of(quote),
        price_rows(quote, ""),
        ("Price", amount(quote.cost.price, "")),
        customer_remarks(quote),
        parts=part_rows(quote),
    )


def shop_pages(quote: Quote) -> bytes:
    """Return the shop sheets of a quote's layout."""
    job = held(quote.job, SETUP.practice)
    return shop_sheets(job_as_cut(job), bench_notes(job, SETUP))


def fullest(job: Job) -> int:
    """Return the blank with most parts on it, from 0."""
    return max(range(len(job.layout.blanks)), key=lambda n: len(job.layout.on(n)))


def plot(job: Job) -> bytes:
    """Return the plot of the order with other cutters, margins and turns."""
    options = [
        [Change("cutter", width, f"cutter {width:g}") for width in (3.175, 6.0)],
        [Change("margin", margin, f"margin {margin:g}") for margin in (6.0, 20.0)],
        [Change("turn", "fixed", "turn fixed")],
        [Change("times", 2.0, "2 times")],
    ]
    found = try_all(
        job, SETUP, variants(options, False), seconds=1.0, passes=2, workers=2
    )
    names = [outcome.variant.name for outcome in found]
    return plot_pdf(job.name, names, panels(found))


def main(folder: Path) -> None:
    """Paint every page of the tour."""
    folder.mkdir(parents=True, exist_ok=True)
    set_up()
    job = sample()
    quote = make_quote(job, SETUP, passes=PASSES)
    paint(quote_page(quote), "quote", folder)
    paint(shop_pages(quote), "sample-overview", folder, 1)
    paint(shop_pages(quote), "sample-blank", folder, 2 + fullest(quote.job))
    sawn = make_quote(whole_sheets(job), SETUP, passes=PASSES)
    paint(shop_pages(sawn), "break-down", folder, 2)
    crates = make_quote(crate(ReliefKind.DOG_BONE), SETUP, passes=PASSES)
    paint(shop_pages(crates), "holding", folder, 2)
    bare = replace(crates, job=replace(crates.job, relief=ReliefKind.NONE))
    blanks = len(bare.job.layout.blanks)
    paint(shop_pages(bare), "standing", folder, 2 + blanks)
    paint(plot(job), "what-if", folder)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
