"""The engine seen from the window: what it keeps, how it ends, what is compared."""

from __future__ import annotations

import os
import signal
import time
from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from drystone.app.bench.copies import key_of
from drystone.app.window.document import Document
from drystone.app.window.engine_child import Request
from drystone.app.window.engine_process import Ended, Found
from drystone.app.window.hints import hinted
from drystone.app.window.main_window import MainWindow
from drystone.app.window.verdict_strip import VerdictStrip
from drystone.app.window.work_bar import LATE
from drystone.nesting.model.job import Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.placement import Blank, Layout, Placement, Reason
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.breakdown import needs_sawing

from .window_person import CTRL, LEFT, shelf_job

SHIFT = Qt.KeyboardModifier.ShiftModifier
ROW = tuple(Placement("panel", n + 1, 0, 20 + 210 * n, 20) for n in range(3))


def laid(*placements: Placement, blanks: int = 1) -> Layout:
    return Layout((Blank("board"),) * blanks, placements)


def rest(window: MainWindow, qtbot: QtBot) -> None:
    qtbot.waitUntil(lambda: not window.nesting.running, timeout=180_000)


def test_fill_leaves_what_lies_there(window: MainWindow, qtbot: QtBot) -> None:
    aside = replace(ROW[0], x=37.5, y=211.0)
    window.document.open(replace(shelf_job(), layout=laid(aside)))
    window.book.cutting.seconds.setValue(1)
    QTest.keyClick(window, Qt.Key.Key_Return, CTRL | SHIFT)
    assert window.nesting.running
    rest(window, qtbot)
    assert window.document.placement(key_of(aside)) == aside
    assert len(window.document.job.layout.placements) == 6, window.banner.text
    assert not any(p.locked for p in window.document.job.layout.placements)
    assert window.document.undo.undoText() == "Fill around what is there"
    assert window.document.undo.count() == 1


def test_nesting_never_makes_a_complete_layout_worse(
    window: MainWindow, qtbot: QtBot
) -> None:
    places = [
        Placement("panel", 3 * row + n + 1, 0, 20 + 210 * n, 20 + 110 * row)
        for row in range(2)
        for n in range(3)
    ]
    window.document.open(replace(shelf_job(), layout=laid(*places)))
    window.book.cutting.seconds.setValue(1)
    QTest.mouseClick(window.strip.nest, LEFT)
    rest(window, qtbot)
    layout = window.document.job.layout
    assert len(layout.placements) == 6 and len(layout.blanks) == 1


def test_an_engine_that_dies_is_told_and_its_best_can_be_kept(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.document.open(shelf_job())
    before = window.document.job
    window.start_nest()
    pid = window.nesting.engine.pid
    assert pid is not None
    best = Found(window.nesting.engine._count, laid(*ROW), 0.1, {"yield": 0.4})
    window.nesting.engine._best = best
    window.nesting.engine.found.emit(best)
    assert window.document.shown_layout is best.layout
    os.kill(pid, signal.SIGKILL)
    rest(window, qtbot)
    assert window.document.job is before  # nothing is lost, nothing is forced on
    assert "ended unexpectedly" in window.banner.text
    assert window.document.shown_layout is before.layout
    window.banner._buttons[0].click()
    assert len(window.document.job.layout.placements) == 3
    assert window.document.undo.count() == 1


def test_closing_the_window_kills_the_engine(window: MainWindow, qtbot: QtBot) -> None:
    window.document.open(shelf_job())
    window.start_nest()
    pid = window.nesting.engine.pid
    assert pid is not None
    os.kill(pid, 0)
    assert window.close()

    def gone() -> bool:
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            return True
        return False

    qtbot.waitUntil(gone, timeout=3000)


def test_a_late_answer_is_dropped(window: MainWindow) -> None:
    window.document.open(shelf_job())
    window.start_nest()
    window.nesting.discard()
    engine = window.nesting.engine
    assert not engine.running and engine.pid is None
    # Whatever was under way to the window finds nobody who asked for it.
    window.start_nest()
    assert engine._request == Request(
        2,
        window.document.job,
        seconds=window.nesting._limit,
        workers=engine._request.workers if engine._request else 0,
    )
    window.nesting.discard()


def test_the_strip_tells_of_a_long_search_only(
    window: MainWindow, qtbot: QtBot
) -> None:
    strip: VerdictStrip = window.strip
    strip.set_running(True)
    qtbot.wait(LATE // 3)
    late = not strip._hint.isActive()  # a busy machine may have slept that long
    assert strip.bar.isVisible() == strip.keep.isVisible() == late
    strip.set_running(False)
    qtbot.wait(LATE)
    assert not strip.bar.isVisible()
    strip.set_running(True)
    qtbot.waitUntil(strip.keep.isVisible, timeout=LATE + 2000)
    strip.show_time(12.0, 30.0)
    assert strip.bar.text() == "12 of 30 s" and strip.discard.isVisible()
    strip.set_running(False)


def test_the_plot_tells_yield_time_and_limit(window: MainWindow) -> None:
    window.document.open(shelf_job())
    plot = window.strip.plot
    plot.begin()
    plot.add(0.2, 0.31)
    plot.add(3.0, 0.4)
    window.strip.set_bound(1, "area")
    words = plot.accessibleDescription()
    assert "40.0 % after 3 s" in words
    # Six panels of 200 x 100 on one board of 700 x 400.
    assert "No layout can pass 42.9 %" in words


def test_an_empty_blank_is_used_first() -> None:
    small = Stock("small", "small", Outline(Loop.rectangle(450, 230)), count=3)
    job = shelf_job()
    job = replace(
        job,
        stock=(*job.stock, small),
        layout=Layout((Blank("board"), Blank("small"), Blank("small")), ROW),
    )
    asked = hinted(job)
    assert asked.any
    kinds = [(s.name, s.count, s.offcut) for s in asked.job.stock]
    assert kinds == [("board", None, False), ("small", 2, True), ("small", 1, False)]
    wished = asked.job.stock[1].id
    assert asked.back(Layout((Blank(wished),))).blanks == (Blank("small"),)
    full = replace(job, layout=laid(*ROW))
    assert hinted(full).job is full and not hinted(full).any


def test_a_wished_blank_is_filled(window: MainWindow, qtbot: QtBot) -> None:
    job = shelf_job()
    small = Stock("small", "small", Outline(Loop.rectangle(450, 350)), price=9.0)
    window.document.open(replace(job, stock=(*job.stock, small)))
    window.document.add_blank("small")
    window.book.cutting.seconds.setValue(1)
    QTest.mouseClick(window.strip.nest, LEFT)
    rest(window, qtbot)
    layout = window.document.job.layout
    assert len(layout.placements) == 6, window.banner.text
    assert "small" in {blank.stock_id for blank in layout.blanks}


def test_kept_layouts_are_compared_and_taken_as_one_step(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.document.open(replace(shelf_job(), layout=laid(*ROW)))
    window.keep_layout()
    assert "Kept" in window.banner.text
    window.keep_layout()
    assert len(window.kept.all) == 1  # the same one is not kept twice
    key = key_of(ROW[2])
    window.document.to_tray([key])
    mine = window.document.job
    window.compare()
    dialog = window.comparing
    assert dialog is not None
    left, right = dialog.left, dialog.right
    assert left.shown is not None and right.shown is not None
    assert left.shown.layout == laid(*ROW, blanks=1) or left.job.layout.placements
    cells = [cell.text() for _, cell in left._cells]
    assert cells[2] == "3  ✓ better" and right._cells[2][1].text() == "4"
    assert "better" in cells[3]  # the yield
    # Real events change nothing there.
    view = left.bench
    before = left.document.job
    QTest.mousePress(view.viewport(), LEFT, pos=view.viewport().rect().center())
    QTest.mouseRelease(view.viewport(), LEFT, pos=view.viewport().rect().center())
    QTest.keyClick(view, Qt.Key.Key_A, CTRL)
    QTest.keyClick(view, Qt.Key.Key_Delete)
    assert left.document.job is before and not left.document.selection
    steps = window.document.undo.count()
    QTest.mouseClick(left.take, LEFT)
    assert window.document.undo.count() == steps + 1
    assert window.document.job.layout.placements == ROW
    assert window.document.undo.undoText().startswith("Take")
    window.document.undo.undo()
    assert window.document.job == mine
    dialog.close()


def test_kept_layouts_follow_a_changed_order(window: MainWindow) -> None:
    window.document.open(replace(shelf_job(), layout=laid(*ROW)))
    window.keep_layout()
    (kept,) = window.kept.all
    part = replace(window.document.job.parts[0], quantity=2)
    window.document.act("Fewer", lambda job: replace(job, parts=(part,)))
    assert len(window.kept.job_with(kept).layout.placements) == 2
    window.document.open(shelf_job())
    assert window.kept.all == ()


def test_nothing_better_is_said(window: MainWindow) -> None:
    window.document.open(replace(shelf_job(), layout=laid(*ROW)))
    nesting = window.nesting
    nesting._text = "Nest"
    found = Found(1, window.document.job.layout, 1.0, {"yield": 0.2})
    nesting.engine._best = found
    nesting._ended(Ended(1, "done"))
    assert "No better layout" in window.banner.text
    assert window.document.undo.count() == 0


def test_stop_ends_a_search_that_has_hardly_begun(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.document.open(shelf_job())
    window.book.cutting.seconds.setValue(300)
    window.start_nest()
    QTest.keyClick(window, Qt.Key.Key_Period, CTRL)
    began = time.monotonic()
    rest(window, qtbot)
    took = time.monotonic() - began
    print(f"stopping took {took:.2f} s")
    assert took < 10.0  # of 300; how quick it is, the benchmark tells
    assert not window.document.job.layout.placements or window.document.undo.count()


def test_the_tray_tells_who_took_copies_off(qapp: object) -> None:
    job = replace(
        shelf_job(),
        layout=replace(
            laid(*ROW),
            unplaced=(
                *Document(replace(shelf_job(), layout=laid(*ROW))).job.layout.unplaced,
            ),
        ),
    )
    document = Document(job)
    assert [(u.count, u.reason) for u in document.job.layout.unplaced] == [
        (3, Reason.WAITING)
    ]
    document.to_tray([key_of(ROW[0])])
    assert [(u.count, u.reason) for u in document.job.layout.unplaced] == [
        (3, Reason.WAITING),
        (1, Reason.BY_HAND),
    ]
    document.clear_bench()
    assert [(u.count, u.reason) for u in document.job.layout.unplaced] == [
        (3, Reason.WAITING),
        (3, Reason.BY_HAND),
    ]
    document.undo.undo()
    document.undo.undo()
    assert document.job.layout.placements == ROW


def large_job(gap: float = 8.0) -> Job:
    """Return the shelves on sheets that are larger than the bed."""
    job = shelf_job()
    sheet = Stock(
        "sheet",
        "large sheet",
        Outline(Loop.rectangle(1600.0, 1600.0)),
        job.stock[0].material,
        job.stock[0].thickness,
        price=52.0,
    )
    parts = tuple(replace(part, quantity=40) for part in job.parts)
    cutting = replace(job.cutting, cutter=gap, allowance=0.0)
    return replace(
        job, parts=parts, stock=(sheet,), bed=(800.0, 800.0), cutting=cutting
    )


def test_nest_saws_sheets_that_are_larger_than_the_bed(
    window: MainWindow, qtbot: QtBot
) -> None:
    job = large_job()
    window.document.open(job)
    window.book.cutting.seconds.setValue(2)
    QTest.mouseClick(window.strip.nest, LEFT)
    rest(window, qtbot)
    done = window.document.job
    assert not window.document.tray() and not window.document.conflicts()
    assert all(not needs_sawing(stock, job.bed) for stock in done.stock)
    assert len(done.layout.blanks) > 1, "40 panels need more than one blank"
    assert window.document.undo.count() == 1
    assert "1 sheet (" in window.strip.headline.text(), window.strip.headline.text()
    assert "sawn from" in window.strip.headline.text()
    assert "52" in window.strip.detail.text(), "the sheet is paid whole"
    window.document.undo.undo()
    assert window.document.job.stock == job.stock
    assert not window.document.job.layout.blanks
    kept = window.kept.all[0]
    assert window.kept.take(kept), "what was found on blanks can be taken again"
    assert window.document.job.stock == done.stock
    assert window.document.job.layout == done.layout


def test_copies_that_stay_keep_their_sheet_whole(
    window: MainWindow, qtbot: QtBot
) -> None:
    locked = Placement("panel", 1, 0, 700.0, 900.0, locked=True)
    layout = Layout((Blank("sheet"),), (locked,))
    window.document.open(replace(large_job(), layout=layout))
    window.book.cutting.seconds.setValue(1)
    QTest.mouseClick(window.strip.nest, LEFT)
    rest(window, qtbot)
    assert window.document.placement(("panel", 1)) == locked
    assert {blank.stock_id for blank in window.document.job.layout.blanks} == {"sheet"}
    assert not window.document.tray()
