"""The strip where blanks are sawn from sheets: it counts what is bought."""

from __future__ import annotations

from dataclasses import replace

from pytestqt.qtbot import QtBot

from drystone.app.window.main_window import MainWindow
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import Saw
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.breakdown import candidates, sawn_stock, unsawn


def five_panels() -> Job:
    """Five panels, each on a blank; a sheet gives four."""
    part = Part("panel", "panel", Outline(Loop.rectangle(670, 670)), (), 5)
    sheet = Stock("sheet", "sheet", Outline(Loop.rectangle(1500, 1500)), price=52.0)
    bed = (800.0, 800.0)
    (blank,) = sawn_stock(sheet, candidates(sheet, bed, Saw())[0], bed).blanks
    places = tuple(Placement("panel", n + 1, n, 15.0, 15.0) for n in range(5))
    layout = Layout((Blank(blank.id),) * 5, places)
    return Job("Panels", (part,), (blank,), Cutting(6, 1.5, 12), bed, layout=layout)


def test_whole_sheets_are_counted_priced_and_proven(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.document.open(five_panels())
    strip = window.strip
    assert "2 sheets (5 blanks sawn from them)" in strip.headline.text()
    assert "104" in strip.detail.text()
    # As after a search that had no time to look at all that proves something.
    window.nesting.proving.begin()
    qtbot.waitUntil(lambda: strip.bound == 2, timeout=60_000)
    assert strip.headline.text().endswith("sawn from them), proven fewest")
    assert "more room" in strip.detail.toolTip()


def test_what_is_found_out_too_late_is_not_told(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.document.open(five_panels())
    proving = window.nesting.proving
    proving.begin()
    window.document.change("", replace(window.document.job, name="Other"))
    assert proving.engine.running
    window.document.want_more("panel")
    assert not proving.engine.running and window.strip.bound is None


def test_a_blank_of_another_size_is_a_board_of_its_own(window: MainWindow) -> None:
    window.document.open(five_panels())
    model = window.book.stock.model
    assert model.setData(model.index(0, 0), "quarter")
    assert [stock.id for stock in unsawn(window.document.job).stock] == ["sheet"]
    titles = [column.title for column in model.columns]
    assert model.setData(model.index(0, titles.index("Material")), "birch")
    assert [stock.material for stock in unsawn(window.document.job).stock] == ["birch"]
    assert model.setData(model.index(0, titles.index("Price")), "20")
    assert unsawn(window.document.job) is window.document.job
    assert window.strip.headline.text().find("5 sheets") > 0
