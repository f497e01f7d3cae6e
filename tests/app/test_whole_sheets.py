"""Blanks sawn from sheets: what is counted, paid and proven are the whole sheets."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from drystone.app.laying_out import LaidOut, _with_bound, lay_out, lay_out_on_bed
from drystone.app.quoting import make_quote, quote_layout, whole_sheets_bound
from drystone.app.window.engine_child import Request
from drystone.app.window.engine_work import nest
from drystone.app.window.figures import figures_of
from drystone.io.job_file import read_job, write_job
from drystone.nesting.bound import bound
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import ShopSetup
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement, Reason
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.breakdown import (
    candidates,
    sawn_stock,
    unsawn,
    whole_sheets,
)
from drystone.nesting.verify import verify

BED = (800.0, 800.0)
SETUP = ShopSetup()


def panels(size: float, quantity: int) -> Job:
    """Square panels on sheets that are larger than the bed."""
    part = Part("panel", "panel", Outline(Loop.rectangle(size, size)), (), quantity)
    sheet = Stock("sheet", "sheet", Outline(Loop.rectangle(1500, 1500)), price=52.0)
    return Job("Panels", (part,), (sheet,), Cutting(6.0, 1.5, 12.0), bed=BED)


def on_blanks(job: Job) -> Job:
    """The job as the window makes it: blanks in place of the sheet."""
    (sheet,) = job.stock
    sawn = sawn_stock(sheet, candidates(sheet, BED, SETUP.saw)[0], BED)
    assert sum(sawn.per_sheet) == 4
    return replace(job, stock=sawn.blanks)


class Silent:
    def update(self, share: float, words: str) -> None:
        """Show nothing."""


def test_five_blanks_are_two_sheets(tmp_path: Path) -> None:
    job = on_blanks(panels(670.0, 5))
    laid = lay_out(job, Silent(), seconds=5.0, passes=1)
    assert len(laid.job.layout.blanks) == 5
    figures = figures_of(laid.job)
    assert (figures.sheets, figures.sawn, figures.cost) == (2, 5, 104.0)
    verdict = laid.verdict
    assert (verdict.sheets, verdict.cost, verdict.bound) == (2, 104.0, 2)
    assert verdict.sheets_in_words() == "2 sheets (5 blanks sawn from them), " + (
        "proven fewest"
    )
    quote = quote_layout(laid.job, SETUP)
    assert (quote.sheets, quote.bound, quote.cost.sheets) == (2, 2, 104.0)
    # Sheets laid out from the beginning come to the same, and so does a saved job.
    whole = lay_out_on_bed(panels(670.0, 5), SETUP, Silent(), seconds=5.0, passes=1)
    assert (whole.verdict.sheets, whole.verdict.bound) == (2, 2)
    assert whole.verdict.cost == figures_of(whole.job).cost == 104.0
    assert make_quote(panels(670.0, 5), SETUP, passes=1).bound == 2
    write_job(tmp_path / "panels.drystone", laid.job)
    assert figures_of(read_job(tmp_path / "panels.drystone")) == figures


def test_blanks_of_several_kinds_come_from_the_same_sheet() -> None:
    sheet = Stock("s", "s", Outline(Loop.rectangle(1500, 1000)), price=10.0)
    kinds = (
        Stock("a", "a", Outline(Loop.rectangle(700, 700)), sheet=sheet, per_sheet=2),
        Stock("b", "b", Outline(Loop.rectangle(290, 290)), sheet=sheet, per_sheet=4),
    )
    plain = Stock("c", "c", Outline(Loop.rectangle(500, 500)), price=3.0)
    blanks = tuple(Blank(kind) for kind in "aaabbbbc")
    job = Job("j", (), (*kinds, plain), layout=Layout(blanks))
    assert whole_sheets(job) == ((sheet, 2),)
    figures = figures_of(job)
    assert (figures.sheets, figures.sawn, figures.cost) == (3, 7, 23.0)
    assert [stock.id for stock in unsawn(job).stock] == ["s", "c"]
    assert unsawn(replace(job, stock=(plain,), layout=Layout())).stock == (plain,)


def test_nothing_is_claimed_of_sheets_where_pieces_keep_too_little_apart() -> None:
    job = on_blanks(panels(670.0, 5))
    close = replace(job, cutting=replace(job.cutting, margin=1.0))
    found = whole_sheets_bound(job)
    assert found is not None and found.sheets == 2
    assert whole_sheets_bound(close) is None


def half_sheets() -> Job:
    """Panels of which no two share a sheet, which their area does not tell."""
    job = panels(900.0, 3)
    return replace(job, bed=None)


def test_a_search_that_ends_early_does_not_weaken_the_bound() -> None:
    job = half_sheets()
    areas = bound(job, pairs=False)
    assert (areas.sheets, bound(job).sheets, areas.thorough) == (2, 3, False)
    laid = lay_out(job, Silent(), seconds=5.0, passes=1)
    early = replace(laid.result, bound=areas)
    verdict = replace(laid.verdict, bound=2)
    again = _with_bound(LaidOut(laid.job, verdict, early))
    assert again.verdict.bound == 3 and "no two can share" in again.verdict.why_bound


def test_the_window_hears_of_no_lesser_bound() -> None:
    heard: list[dict[str, object]] = []

    class Show:
        def __call__(self, layout: Layout, seconds: float, figures: object) -> None:
            assert isinstance(figures, dict)
            heard.append(figures)

        def progress(self, share: float, words: str) -> None:
            pass

    # The search has no time at all, so that it looks at areas only.
    request = Request(1, half_sheets(), seconds=0.0)
    nest(request, Show(), lambda: False)
    assert {told.get("bound", 3) for told in heard} == {3}
    # With blanks, what is proven is proven of whole sheets.
    heard.clear()
    nest(Request(1, on_blanks(panels(670.0, 5))), Show(), lambda: False)
    assert {told.get("bound", 2) for told in heard} == {2}


def with_a_locked_copy(count: int | None = None) -> Job:
    """Panels of which one is locked on a sheet as it was bought, across its middle."""
    job = panels(670.0, 6)
    sheet = replace(job.stock[0], count=count)
    locked = Placement("panel", 3, 0, 400.0, 400.0, locked=True)
    layout = Layout((Blank("sheet"),), (locked,))
    return replace(job, stock=(sheet,), layout=layout)


def looked_at(job: Job) -> None:
    """Look at what is common to layouts of `with_a_locked_copy`."""
    assert not job.layout.unplaced and not verify(job).problems
    (held,) = [p for p in job.layout.placements if p.copy == 3]
    assert (held.x, held.y, held.locked) == (400.0, 400.0, True)
    assert job.stock_of(held.blank).id == "sheet" and job.layout.on(held.blank) == (
        held,
    )
    others = [b for k, b in enumerate(job.layout.blanks) if k != held.blank]
    sawn = [job.stock_by_id(blank.stock_id) for blank in others]
    assert len(sawn) == 5 and all(stock.sheet is not None for stock in sawn)
    # Five blanks come from two sheets; the one with the locked copy is a third.
    figures = figures_of(job)
    assert (figures.sheets, figures.sawn, figures.cost) == (3, 5, 156.0)


@pytest.mark.parametrize("count", [None, 3])
def test_only_the_sheet_under_a_locked_copy_stays_whole(count: int | None) -> None:
    job = with_a_locked_copy(count)
    laid = lay_out_on_bed(job, SETUP, Silent(), seconds=5.0, passes=1)
    looked_at(laid.job)
    assert (laid.verdict.sheets, laid.verdict.cost) == (3, 156.0)
    assert [stock.count for stock in laid.job.stock] == [count, count and 8]
    quote = make_quote(job, SETUP, passes=1)
    looked_at(quote.job)
    assert [(b.id, b.count) for b in quote.bought] == [("sheet", 3)]
    # Once more, with a copy locked on a blank too: it stays, and nothing is sawn twice.
    first = next(p for p in laid.job.layout.placements if p.copy == 1)
    again = with_lock(laid.job, 1)
    done = lay_out_on_bed(again, SETUP, Silent(), seconds=5.0, passes=1).job
    looked_at(done)
    kept = next(p for p in done.layout.placements if p.copy == 1)
    assert replace(kept, blank=first.blank, locked=False) == first
    assert done.stock == laid.job.stock
    # Nothing locked any more: all is sawn, and the sheet is no stock of its own.
    free = replace(done, layout=Layout())
    bare = lay_out_on_bed(free, SETUP, Silent(), seconds=5.0, passes=1).job
    assert [stock.sheet is not None for stock in bare.stock] == [True]
    assert figures_of(bare).sheets == 2


def with_lock(job: Job, copy: int) -> Job:
    """The job with one more copy locked."""
    placements = tuple(
        replace(p, locked=p.locked or p.copy == copy) for p in job.layout.placements
    )
    return replace(job, layout=replace(job.layout, placements=placements))


def test_no_sheet_is_sawn_where_all_there_are_carry_locked_copies() -> None:
    laid = lay_out_on_bed(
        with_a_locked_copy(1), SETUP, Silent(), seconds=5.0, passes=1
    ).job
    assert {blank.stock_id for blank in laid.layout.blanks} == {"sheet"}
    assert [(u.count, u.reason) for u in laid.layout.unplaced] == [
        (5, Reason.STOCK_USED_UP)
    ]


@pytest.mark.parametrize("keep", ["locked", "all"])
def test_the_window_leaves_only_that_sheet_whole(keep: str) -> None:
    heard: list[tuple[Layout, dict[str, object]]] = []
    said: list[str] = []

    class Show:
        def __call__(self, layout: Layout, seconds: float, figures: object) -> None:
            assert isinstance(figures, dict)
            heard.append((layout, figures))

        def progress(self, share: float, words: str) -> None:
            said.append(words)

    job = with_a_locked_copy()
    if keep == "all":  # what is filled around is not locked for that
        loose = replace(job.layout.placements[0], locked=False)
        job = replace(job, layout=replace(job.layout, placements=(loose,)))
    nest(Request(1, job, seconds=1.0, keep=keep), Show(), lambda: False)
    layout, told = heard[-1]
    stock = told["stock"]
    assert isinstance(stock, tuple)
    done = replace(job, layout=layout, stock=stock)
    assert [p.copy for p in layout.placements if p.locked] == [3] * (keep == "locked")
    looked_at(with_lock(done, 3))
    assert any("stays whole" in words for words in said)
    assert told["bound"] == 2 and told["sheets"] == 3
