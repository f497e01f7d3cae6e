"""Quote, cut order and variants, worked out by other processes."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from drystone.app.book.book import JobBook
from drystone.app.book.order_section import steps_of
from drystone.app.commands.quote import customer_remarks, part_rows
from drystone.app.export_names import file_names
from drystone.app.quoting import quote_layout

from .book_person import (
    LEFT,
    document_of,
    shelf_on_offcut,
    show,
    type_in,
)

LONG = 120_000


def test_the_quote_of_a_layout_and_its_files(
    book: JobBook, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    document_of(book).open(shelf_on_offcut())
    page = book.hand_over
    show(book, page, page.quote_fold)
    quote = page.quote
    assert not quote.pdf.isEnabled()
    qtbot.waitUntil(lambda: quote.is_current, timeout=LONG)
    facts = dict(quote.told["facts"])
    assert "1 sheet, proven fewest" in facts["Sheets"]
    assert "80.0" not in facts["Yield"] and facts["Yield"].endswith(" %")
    assert "kg" in facts["Weight"] and "min" in facts["Machine runs"]
    assert "included above: board that ends as waste" in {
        label.text() for label in quote.findChildren(QLabel)
    }
    assert quote.pdf.isEnabled()
    # The customer's page is the one that the command line writes.
    given: list[tuple[object, ...]] = []

    def drawn(*facts: object, parts: object = ()) -> bytes:
        given.append((*facts, parts))
        return b"%PDF"

    monkeypatch.setattr("drystone.io.quote_sheet.quote_pdf", drawn)
    quote.save(tmp_path / "quote.csv")
    quote.save(tmp_path / "quote.pdf")
    qtbot.waitUntil((tmp_path / "quote.pdf").exists, timeout=20_000)
    qtbot.waitUntil((tmp_path / "quote.csv").exists, timeout=20_000)
    assert (tmp_path / "quote.pdf").read_bytes().startswith(b"%PDF")
    job = document_of(book).job
    same = quote_layout(job, book.shop.setup)
    wanted = [(p.name, str(p.quantity)) for p in job.parts]
    assert [(name, n) for name, _, _, n in part_rows(same)] == wanted
    (customer,) = given
    assert customer[4] == customer_remarks(same) and customer[6] == part_rows(same)
    with (tmp_path / "quote.csv").open(newline="") as stream:
        rows = list(csv.reader(stream))
    assert rows[0] == ["item", "quantity", "amount"]
    assert rows[1][:2] == ["quarter", "1 at 12.00"]
    document_of(book).want_more("panel")
    assert not quote.is_current and not quote.pdf.isEnabled()


def test_the_files_that_are_listed_are_those_of_the_export(book: JobBook) -> None:
    job = shelf_on_offcut()
    document_of(book).open(job)
    page = book.hand_over
    show(book, page)
    listed = [page.files.item(i).text() for i in range(page.files.count())]
    assert listed == file_names(job, ["shop-sheets.pdf"])
    assert "Shelf-blank-01.dxf" in listed


def test_the_cut_order_selects_what_it_names(book: JobBook, qtbot: QtBot) -> None:
    document_of(book).open(shelf_on_offcut())
    page = book.hand_over
    show(book, page, page.order_fold)
    order = page.order
    qtbot.waitUntil(lambda: order.list.count() == 4, timeout=10_000)
    assert all("cut free" in order.list.item(i).text() for i in range(4))
    order.list.setFocus()
    QTest.keyClick(order.list, Qt.Key.Key_Down)
    QTest.keyClick(order.list, Qt.Key.Key_Down)
    steps = steps_of(document_of(book).job, 0)
    assert document_of(book).selection == set(steps[order.list.currentRow()][2])


def test_variants_are_tried_and_one_is_taken(
    book: JobBook, qtbot: QtBot, tmp_path: Path
) -> None:
    document_of(book).open(shelf_on_offcut())
    first = document_of(book).job
    page = book.what_if
    show(book, page)
    assert not page.start.isEnabled()
    type_in(page.margin, "0; 1 in")
    type_in(page.cutter, "three")
    assert page.cutter.error.isVisible()
    type_in(page.cutter, "")
    assert "2 variants" in page.count.text()
    page.seconds.setValue(1)
    shares: list[float] = []
    page.engine.going.connect(lambda told: shares.append(told.share))
    QTest.mouseClick(page.start, LEFT)
    assert page.engine.running and page.stop.isVisible()
    qtbot.waitUntil(lambda: not page.engine.running, timeout=LONG)
    tried = [share for share in shares if share >= 0.0]
    assert tried == sorted(tried) and set(tried) >= {0.0, 1.0}, "how far it is"
    assert page.bar.value() == page.bar.maximum() == 1000
    assert page.remarks.said == (), page.remarks.said
    assert sorted(page.model.outcomes) == [0, 1, 2]
    assert page.plot.isVisible()
    assert document_of(book).job == first, "trying changes nothing"
    table = page.table
    place = table.visualRect(page.model.index(2, 0)).center()
    QTest.mouseClick(table.viewport(), LEFT, pos=place)
    QTest.mouseClick(page.take, LEFT)
    job = document_of(book).job
    assert job.cutting.margin == pytest.approx(25.4)
    assert len(job.layout.placements) == 4
    assert document_of(book).undo.count() == 1
    document_of(book).undo.undo()
    assert document_of(book).job == first
    QTest.mouseClick(page.copy, LEFT)
    lines = QGuiApplication.clipboard().text().splitlines()
    assert lines[0].split("\t")[:2] == ["Variant", "Sheets"] and len(lines) == 4
    page.save_plot(tmp_path / "plot.svg")
    qtbot.waitUntil((tmp_path / "plot.svg").exists, timeout=20_000)


def test_trying_stops_and_keeps_what_is_known(book: JobBook, qtbot: QtBot) -> None:
    page = book.what_if
    show(book, page)
    type_in(page.margin, "8; 9; 10; 11")
    page.seconds.setValue(60)
    QTest.mouseClick(page.start, LEFT)
    QTest.mouseClick(page.stop, LEFT)  # at once: a quick machine would be through
    qtbot.waitUntil(lambda: not page.engine.running, timeout=LONG)  # all: 300 s
    assert "of 5 were tried" in page.remarks.said[0][1]
    assert page.start.isVisible() and page.start.isEnabled()


def children_of(pid: int) -> set[int]:
    """The processes that one has started and that still run."""
    found = set()
    for tasks in Path(f"/proc/{pid}/task").glob("*/children"):
        found |= {int(word) for word in tasks.read_text().split()}
    return {child for child in found if b"spawn_main" in command_of(child)}


def command_of(pid: int) -> bytes:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b""


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="needs /proc")
def test_variants_are_tried_side_by_side_and_stopped_together(
    book: JobBook, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.cpu_count", lambda: 2)
    document_of(book).open(shelf_on_offcut())
    page = book.what_if
    show(book, page)
    type_in(page.margin, "8; 9; 10; 11")
    page.seconds.setValue(60)
    QTest.mouseClick(page.start, LEFT)
    pid = page.engine.pid
    assert pid is not None
    qtbot.waitUntil(lambda: len(children_of(pid)) == 2, timeout=LONG)
    workers = children_of(pid)
    QTest.mouseClick(page.stop, LEFT)
    qtbot.waitUntil(lambda: not page.engine.running, timeout=LONG)
    qtbot.waitUntil(lambda: not any(map(command_of, workers)), timeout=20_000)
    assert len(page.model.outcomes) < 5
