"""Quotes: whole sheets, bound, cost, and what the command prints and writes."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from drystone.app.book.sawing_picture import cuts_in_words
from drystone.app.book.words import with_unit
from drystone.app.cli import run
from drystone.app.commands.quote import board_lines, facts_of, lines_of
from drystone.app.quoting import make_quote, on_fewest_sheets, quote_layout
from drystone.app.shop_paper import bench_notes
from drystone.io.job_file import write_job
from drystone.io.quote_sheet import quote_csv, quote_pdf
from drystone.io.shop_sheet import shop_sheets
from drystone.nesting.model.holding import Holding, TabRule
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import Saw, ShopSetup
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import (
    Blank,
    Layout,
    Placement,
    Reason,
    Unplaced,
)
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.shop.breakdown import SawnStock, candidates, sawn_stock
from drystone.nesting.shop.holddown import held
from drystone.nesting.shop.tabs import tabs_of
from drystone.nesting.verify import verify

SHEET = Stock(
    "s",
    "birch 12 mm",
    Outline(Loop.rectangle(1525, 1525)),
    "birch plywood",
    12.0,
    Grain.LENGTH,
    48.0,
)
PART = Part(
    "a",
    "panel",
    Outline(Loop.rectangle(600, 350)),
    (),
    4,
    "birch plywood",
    12.0,
    TurnRule.parse("grain"),
)
ORDER = Job("boxes", (PART,), (SHEET,), Cutting(), (800, 800))
SETUP = ShopSetup()


def test_sheets_larger_than_the_bed_are_bought_whole() -> None:
    """Two panels to a quarter, so two quarters: one sheet, paid whole."""
    quote = make_quote(ORDER, SETUP, passes=1)
    assert quote.missing == 0
    assert quote.sheets == 1
    assert quote.cost.sheets == pytest.approx(48.0)
    assert (quote.bound, quote.proven) == (1, True)
    (sawing,) = quote.sawing
    assert sawing.sheets == 1
    assert all(size[0] <= 800 for size in sawing.breakdown.sizes)
    assert quote.weight == pytest.approx(1.525**2 * 12 * 0.68, rel=1e-6)
    assert quote.cost.price >= quote.cost.cost > 0


def test_a_quote_in_inches_has_fractions_and_plain_words() -> None:
    """800 mm are 31.496 in; half a yard-square sheet is 18 in."""
    bed = (18.0 * 25.4, 36.0 * 25.4)
    board = replace(SHEET, outline=Outline(Loop.rectangle(36 * 25.4, 36 * 25.4)))
    part = replace(PART, outline=Outline(Loop.rectangle(300, 180)), quantity=4)
    job = replace(ORDER, parts=(part,), stock=(board,), bed=bed, units="in")
    quote = make_quote(job, replace(SETUP, saw=Saw(kerf=0.0)), passes=1)
    text = "\n".join(lines_of(quote, ""))
    assert f"{quote.share * 100:.1f} %" in dict(facts_of(quote))["Yield"]
    assert "birch plywood 0.472 in: 1 sheet, yield" in text
    assert re.search(r"\d%", text) is None and " mm" not in text.replace(board.name, "")
    assert "sawn into 2 of 18 \N{MULTIPLICATION SIGN} 36 in by 1 cut\n" in text
    assert "included above: board that ends as waste" in text
    (sawing,) = quote.sawing
    assert cuts_in_words(sawing.breakdown, job) == "2 × 18 × 36 in"
    assert with_unit(800.0, job) == "31.496 in"
    assert with_unit(38.1, job) == "1 1/2 in"


def test_a_part_that_fits_no_blank_is_missing() -> None:
    large = Part(
        "a", "large", Outline(Loop.rectangle(1400, 900)), (), 1, "birch plywood", 12.0
    )
    job = Job("boxes", (large,), (SHEET,), Cutting(), (800, 800))
    quote = make_quote(job, SETUP, passes=1)
    assert quote.missing == 1
    assert not quote.proven


def test_the_cheapest_mix_is_bought_and_proven_board_by_board() -> None:
    """Three panels, of which a sheet takes two and half a sheet one.

    Fewest would be two sheets, 36.00; three halves cost 30.00; one of each 28.00, and
    no mix that takes three panels is cheaper.
    """

    def stock(key: str, length: float, price: float, material: str = "mdf") -> Stock:
        board = Outline(Loop.rectangle(length, 600))
        return Stock(key, key, board, material, 12.0, price=price)

    panel = Part("a", "panel", Outline(Loop.rectangle(560, 560)), (), 3, "mdf", 12.0)
    other = replace(panel, id="b", name="lid", quantity=2, material="birch")
    offcut = replace(stock("left", 600, 1.0, "birch"), offcut=True, count=1)
    boards = (stock("whole", 1200, 18.0), stock("half", 600, 10.0))
    birch = stock("birch", 600, 15.0, "birch")
    job = Job("mix", (panel, other), (*boards, birch, offcut), Cutting(6.0, 1.5, 12.0))
    quote = make_quote(job, SETUP, passes=3)
    mdf, lids = quote.materials
    assert (mdf.material, mdf.sheets, mdf.cost) == ("mdf", 2, 28.0)
    assert mdf.cheapest and mdf.least_cost == pytest.approx(28.0)
    assert (lids.sheets, lids.offcuts, lids.cost) == (1, 1, 16.0)
    assert lids.fewest and lids.cheapest
    assert sum(board.cost for board in quote.materials) == quote.cost.sheets == 44.0
    rows = json.loads(json.dumps(quote.as_dict()))["materials"]
    assert [row["proven_cheapest"] for row in rows] == [True, True]
    text = "\n".join(lines_of(quote, "EUR"))
    assert "mdf 12 mm: 2 sheets, yield" in text
    assert "proven fewest, proven cheapest" in text
    assert "1 sheet and 1 offcut" in text
    # A dearer layout of the same order is told how far it is from the cheapest.
    halves = replace(job, stock=(boards[1], birch, offcut))
    dear = make_quote(halves, SETUP, passes=1)
    worse = quote_layout(replace(dear.job, stock=job.stock), SETUP).materials[0]
    assert (worse.cost, worse.cheapest) == (30.0, False)
    said = " ".join(board_lines(worse, "mm", ""))
    assert "no mix can cost less than 28.00" in said


def test_a_quote_waits_until_every_copy_was_tried() -> None:
    """No time at all still gives a whole layout."""
    assert make_quote(ORDER, SETUP, seconds=0.0).missing == 0


def laid() -> Job:
    layout = Layout(
        (Blank("s"),),
        tuple(Placement("a", i + 1, 0, 20, 20 + 360 * i) for i in range(4)),
    )
    return Job("boxes", (PART,), (SHEET,), Cutting(), layout=layout)


def test_a_layout_is_quoted_as_it_stands() -> None:
    quote = quote_layout(laid(), SETUP)
    assert quote.sheets == 1
    assert quote.share == pytest.approx(4 * 600 * 350 / 1525**2)
    assert quote.sawing == ()
    codes = {advice.code for advice in quote.advice}
    assert "chip-load-high" not in codes
    data = quote.as_dict()
    json.dumps(data)
    assert {"sheets", "bound", "time", "cost", "weight"} <= set(data)


def test_a_blank_with_a_keep_out_is_used_before_another_sheet() -> None:
    """Three large parts on the clean quarters, a small one beside the knot.

    The clean quarter is the better blank for each part by itself; four of them
    would come from two sheets.
    """
    knot = KeepOut(Loop.circle(1100.0, 400.0, 40.0), "knot")
    board = replace(SHEET, keep_outs=(knot,))
    large = replace(PART, outline=Outline(Loop.rectangle(700, 700)), quantity=3)
    small = replace(PART, id="b", outline=Outline(Loop.rectangle(300, 280)), quantity=1)
    job = replace(ORDER, parts=(large, small), stock=(board,))
    quote = make_quote(job, SETUP, passes=1)
    assert (quote.sheets, quote.missing) == (1, 0)
    assert quote.proven
    assert all(kind.count is None for kind in quote.job.stock)
    assert verify(quote.job).problems == ()


def test_notes_for_the_bench_are_complete() -> None:
    notes = bench_notes(laid(), SETUP)
    assert len(notes.blanks) == 1
    blank = notes.blanks[0]
    assert len(blank.screws) == 4
    tabbed = held(replace(laid(), holding=Holding(TabRule.ALL)), SETUP.practice)
    assert len(tabs_of(tabbed.parts[0])) == 10  # 1900 mm of edge, one for each 200
    labels = [label for label, _ in bench_notes(tabbed, SETUP).cutting]
    assert "Tabs" in labels
    assert "Tabs" not in [label for label, _ in notes.cutting]
    assert any("heavy: plan" in text.casefold() for text in blank.remarks) is False
    assert any(label == "Weight" for label, _ in blank.facts)
    assert shop_sheets(laid(), notes).startswith(b"%PDF")


def test_the_command_prints_and_writes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    path = tmp_path / "boxes.drystone"
    write_job(path, laid())
    pdf, table = tmp_path / "q.pdf", tmp_path / "q.csv"
    words = ["quote", str(path), "--as-laid", "--pdf", str(pdf), "--csv", str(table)]
    assert run([*words, "--save-setup", "--setup", str(tmp_path / "s.toml")]) == 0
    out = capsys.readouterr().out
    assert "1 sheet, proven fewest" in out
    assert "\x1b" not in out
    assert pdf.read_bytes().startswith(b"%PDF")
    assert table.read_text().startswith("item,quantity,amount\n") or "item" in (
        table.read_text()
    )
    assert "[[machines]]" in (tmp_path / "s.toml").read_text()
    assert run(["quote", str(path), "--as-laid", "--json"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["sheets"] == 1
    assert document["cost"]["sheets"] == 48.0


def test_an_unreadable_setup_is_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bad = tmp_path / "shop.toml"
    bad.write_text("[saw]\nkerv = 3\n")
    job = tmp_path / "boxes.drystone"
    write_job(job, laid())
    assert run(["quote", str(job), "--setup", str(bad)]) == 2
    assert "did you mean 'kerf'" in capsys.readouterr().err


def test_no_spreadsheet_runs_a_cell() -> None:
    text = quote_csv([("=1+1", "@x", "-3.50"), ("+a", "plain", "")]).decode()
    assert text.splitlines() == ["'=1+1,'@x,-3.50", "'+a,plain,"]


def test_a_quote_is_one_page() -> None:
    pdf = quote_pdf(
        "boxes", [("Sheets", "1")], [("a", "b", "c")], ("Price", "9"), ["x"]
    )
    assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") == 1


@pytest.mark.parametrize("needed", [1, 6, 7])
def test_few_sheets_are_found_without_trying_every_number(needed: int) -> None:
    """A stand-in for the engine: seven sheets when free, `needed` are enough."""
    knot = KeepOut(Loop.circle(1100.0, 400.0, 40.0), "knot")
    board = replace(SHEET, keep_outs=(knot,))
    plan = candidates(board, (800, 800), SETUP.saw)[0]
    sawn = (sawn_stock(board, plan, (800, 800)),)
    clean, marked = sawn[0].blanks
    asked: list[int | None] = []

    def lay(blanks: tuple[SawnStock, ...]) -> Job:
        most = blanks[0].blanks[0].count
        asked.append(most)
        if most is None:  # all on clean quarters, the best ones
            used: tuple[Blank, ...] = (Blank(clean.id),) * 21
        else:
            used = (Blank(clean.id),) * most + (Blank(marked.id),) * (most // 3)
        short = most is not None and most < 3 * needed
        unplaced = (Unplaced("a", 1, Reason.STOCK_USED_UP),) if short else ()
        return Job("j", (), sawn[0].blanks, layout=Layout(used, (), unplaced))

    found = on_fewest_sheets(sawn, lay, lambda job: job)
    assert found.layout.unplaced == ()
    least = 6  # 21 quarters of clean area are 5.25 sheets
    assert sawn[0].sheets(found) == max(needed, least)
    assert len(asked) <= 3
