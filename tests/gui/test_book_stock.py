"""The Stock page: sheets, offcuts, the rack, and what is left."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QListWidget
from pytestqt.qtbot import QtBot

from drystone.app.book.book import JobBook
from drystone.app.window.document import Document
from drystone.io.rack import Rack, RackBoard, rack_path
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.placement import Blank

from .book_person import (
    LEFT,
    document_of,
    shelf_on_offcut,
    show,
    type_in,
)
from .window_person import type_into

SAMPLES = Path(__file__).parents[2] / "sample_parts"


def look(book: JobBook, qtbot: QtBot) -> None:
    """Look at the Stock page until it knows the rack."""
    show(book, book.stock, *book.stock.folds)
    qtbot.waitUntil(lambda: not book.rack.busy and book.rack.looked, timeout=120_000)


def _filled(box: QListWidget) -> bool:
    return box.count() > 0


def click_row(book: JobBook, row: int) -> None:
    table = book.stock.rack.table
    place = table.visualRect(table.model().index(row, 2)).center()
    QTest.mouseClick(table.viewport(), LEFT, pos=place)


def test_a_board_is_put_on_the_rack_and_taken_onto_the_job(
    book: JobBook, qtbot: QtBot
) -> None:
    look(book, qtbot)
    first = document_of(book).job
    section = book.stock.rack
    type_in(section.size_field, "24 in x 300")
    type_in(section.place, "wall, left")
    type_in(section.value_field, "3,50")
    QTest.mouseClick(section.add, LEFT)
    qtbot.waitUntil(lambda: len(book.rack.boards) == 1, timeout=120_000)
    board = book.rack.boards[0]
    assert board.outline.size == pytest.approx((609.6, 300.0))
    assert (board.place, board.value) == ("wall, left", 3.5)
    assert board.material == "birch plywood" and board.thickness == 12.0
    assert not section.take.isEnabled()
    click_row(book, 0)
    QTest.mouseClick(section.take, LEFT)
    stock = document_of(book).job.stock[-1]
    assert stock.offcut and stock.count == 1 and stock.price == 3.5
    QTest.mouseClick(section.take, LEFT)
    assert len(document_of(book).job.stock) == 2, "only once"
    document_of(book).undo.undo()
    assert document_of(book).job == first


def test_looking_makes_no_rack(book: JobBook, qtbot: QtBot) -> None:
    look(book, qtbot)
    assert book.rack.boards == () and not rack_path().exists()


def test_the_rack_is_edited_in_place(book: JobBook, qtbot: QtBot) -> None:
    with Rack() as rack:
        rack.add(RackBoard(Outline(Loop.rectangle(500, 300)), "mdf", 9.0))
    look(book, qtbot)
    table = book.stock.rack.table
    for column, text in ((3, "under the bench"), (4, "2,25"), (5, "2026-05-04")):
        type_into(table, 0, column, text)
        qtbot.waitUntil(lambda: not book.rack.busy, timeout=120_000)
    said: list[str] = []
    document_of(book).said.connect(lambda notice: said.append(notice.text))
    type_into(table, 0, 5, "yesterday")
    assert said and "2026-05-04" in said[0]
    with Rack() as rack:
        (board,) = rack.boards()
    assert (board.place, board.value, board.date) == (
        "under the bench",
        2.25,
        "2026-05-04",
    )
    assert document_of(book).undo.count() == 0, "the rack is no part of the job"


def test_an_outline_comes_from_a_drawing(book: JobBook, qtbot: QtBot) -> None:
    look(book, qtbot)
    section = book.stock.rack
    section.read_outline(SAMPLES / "offcut_6mm.svg")
    qtbot.waitUntil(lambda: bool(section.drawn.text()), timeout=120_000)
    QTest.mouseClick(section.add, LEFT)
    qtbot.waitUntil(lambda: len(book.rack.boards) == 1, timeout=120_000)
    outline = book.rack.boards[0].outline
    width, height = outline.size
    assert outline.area < 0.99 * width * height, "its corner is bitten off"
    book.stock.add_drawing(SAMPLES / "offcut_6mm.svg")
    qtbot.waitUntil(lambda: len(document_of(book).job.stock) == 2, timeout=120_000)
    added = document_of(book).job.stock[-1]
    assert added.offcut and added.outline == outline


def test_a_job_is_booked_out_and_taken_back(book: JobBook, qtbot: QtBot) -> None:
    document_of(book).open(shelf_on_offcut())
    look(book, qtbot)
    section = book.stock.leftovers
    qtbot.waitUntil(lambda: section.list.count() > 0, timeout=180_000)
    assert section.book.isVisible()
    QTest.mouseClick(section.book, LEFT)
    qtbot.waitUntil(lambda: section.booking() is not None, timeout=120_000)
    assert len(book.rack.boards) == 1
    kept = book.rack.boards[0]
    assert "Shelf" in kept.name and 0.0 < kept.value < 12.0
    assert not section.book.isVisible(), "once only"
    section.again.setChecked(True)
    assert section.book.isVisible(), "unless it was cut once more"
    section.again.setChecked(False)
    job = document_of(book).job
    document_of(book).open(replace(job, name="Called otherwise"))
    assert section.booking() is not None, "the same job under another name"
    assert not section.book.isVisible()
    QTest.mouseClick(section.back, LEFT)
    qtbot.waitUntil(lambda: section.booking() is None, timeout=120_000)
    assert not len(book.rack.boards)
    assert section.book.isVisible()


def test_only_ticked_leftovers_are_kept(book: JobBook, qtbot: QtBot) -> None:
    document_of(book).open(shelf_on_offcut())
    look(book, qtbot)
    section = book.stock.leftovers
    qtbot.waitUntil(lambda: section.list.count() > 0, timeout=180_000)
    section.list.setFocus()
    section.list.setCurrentRow(0)
    QTest.keyClick(section.list, Qt.Key.Key_Space)
    assert section.ticked() == []
    QTest.mouseClick(section.book, LEFT)
    qtbot.waitUntil(lambda: section.booking() is not None, timeout=120_000)
    assert book.rack.boards == ()


def test_two_windows_never_spend_one_board_twice(book: JobBook, qtbot: QtBot) -> None:
    with Rack() as rack:
        rack.add(RackBoard(Outline(Loop.rectangle(760, 760)), "birch plywood", 12.0))
    other = JobBook(Document(shelf_on_offcut()))
    qtbot.addWidget(other)
    other.resize(500, 900)
    other.show()
    for name, one in (("Shelf", book), ("Rack", other)):
        job = shelf_on_offcut()
        document_of(one).open(job)
        look(one, qtbot)
        click_row(one, 0)
        QTest.mouseClick(one.stock.rack.take, LEFT)
        document = document_of(one)
        # Lay the parts on the rack's board instead of the sheet.
        one.stock.leftovers.list.clear()
        taken = document.job.stock[-1].id
        layout = replace(job.layout, blanks=(Blank(taken),))
        document.change("Lay out", replace(document.job, name=name, layout=layout))
        leftovers = one.stock.leftovers.list
        qtbot.waitUntil(partial(_filled, leftovers), timeout=120_000)
    QApplication.processEvents()
    QTest.mouseClick(book.stock.leftovers.book, LEFT)
    qtbot.waitUntil(lambda: not book.rack.busy, timeout=120_000)
    QTest.mouseClick(other.stock.leftovers.book, LEFT)
    qtbot.waitUntil(lambda: not other.rack.busy, timeout=120_000)
    said = other.stock.leftovers.remarks.said
    assert said[0][0] == "error" and "rack any more" in said[0][1]
    assert len([j for j in other.rack.jobs if not j.undone]) == 1
    assert any("no more" in text for _, text in other.stock.remarks.said)
    other.shut_down()


def test_sheets_have_price_weight_and_lift_notes(book: JobBook) -> None:
    show(book, book.stock)
    table, model = book.stock.table, book.stock.model
    titles = [model.headerData(n, Qt.Orientation.Horizontal) for n in range(9)]
    weight = titles.index("Weight")
    # 1525 x 1525 x 12 mm at 680 kg/m3 is 18.98 kg.
    assert model.index(0, weight).data() == "19.0 kg"
    type_into(table, 0, titles.index("Price"), "48,50")
    assert document_of(book).job.stock[0].price == 48.5
    type_into(table, 0, titles.index("Size mm"), "2440 x 1220")
    type_into(table, 0, titles.index("Thickness mm"), "18")
    assert any("two people" in text for _, text in book.stock.remarks.said)
    assert any("No stock is birch plywood 12" in t for _, t in book.stock.remarks.said)


def test_esc_leaves_a_cell_as_it_was(book: JobBook) -> None:
    show(book, book.stock)
    table = book.stock.table
    table.setCurrentIndex(table.model().index(0, 0))
    table.setFocus()
    QTest.keyClick(table, Qt.Key.Key_F2)
    editor = QApplication.focusWidget()
    assert editor is not None and editor is not table
    QTest.keyClicks(editor, "something else")
    QTest.keyClick(editor, Qt.Key.Key_Escape)
    QApplication.processEvents()
    assert document_of(book).job.stock[0].name == "birch sheet"
    assert document_of(book).undo.count() == 0


def test_the_wheel_changes_nothing_it_passes_over(book: JobBook) -> None:
    show(book, book.cutting)
    box = book.cutting.datum.box
    book.tabBar().setFocus()
    event = QWheelEvent(
        QPointF(5, 5),
        QPointF(box.mapToGlobal(QPoint(5, 5))),
        QPoint(),
        QPoint(0, -120),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    before = document_of(book).job
    QApplication.sendEvent(box, event)
    assert document_of(book).job == before


def drawn_board(book: JobBook, qtbot: QtBot) -> RackBoard:
    """Put what is drawn on the rack; return it."""
    QTest.mouseClick(book.stock.rack.add, LEFT)
    qtbot.waitUntil(lambda: len(book.rack.boards) == 1, timeout=120_000)
    return book.rack.boards[0]


def test_an_offcut_is_drawn_by_pointer(book: JobBook, qtbot: QtBot) -> None:
    """An L, corner by corner; a corner is dragged, another typed."""
    look(book, qtbot)
    section = book.stock.rack
    QTest.mouseClick(section.draw, LEFT)
    canvas = section.canvas.canvas
    qtbot.waitUntil(lambda: canvas.height() > 150, timeout=120_000)
    corners = [(100, 50), (700, 50), (700, 250), (400, 250), (400, 550), (100, 550)]
    for corner in corners:
        QTest.mouseClick(canvas, LEFT, pos=canvas.at(corner).toPoint())
    assert canvas.corners == corners, "on the grid of 5 mm, whatever a pixel is"
    assert section.drawn.text() == "✓ drawn, 600 × 500"
    # Dragging the inner corner.
    start, end = canvas.at((400, 250)).toPoint(), canvas.at((450, 300)).toPoint()
    QTest.mousePress(canvas, LEFT, pos=start)
    for share in (0.3, 0.7, 1.0):
        QTest.mouseMove(canvas, start + (end - start) * share)
    QTest.mouseRelease(canvas, LEFT, pos=end)
    assert canvas.corners[3] == (450, 300)
    # As a number, off the grid; what cannot be a length is told and not taken.

    def type_corner(row: int, column: int, text: str) -> None:
        item = section.canvas.table.item(row, column)
        assert item is not None
        item.setText(text)

    type_corner(3, 0, "402.5 mm")
    type_corner(3, 1, "2 cm or so")
    assert canvas.corners[3] == (402.5, 300)
    assert section.canvas.remarks.said[0][0] == "error"
    type_corner(3, 1, "251")
    board = drawn_board(book, qtbot)
    # The L of 600 x 200 and 300 x 300, its inner corner 2.5 and 1 mm further in.
    assert board.outline.outer.area == pytest.approx(210_000 + 375 + 150)
    assert board.outline.size == (600, 500)
    assert board.outline.bounds[:2] == (0, 0)
    assert not canvas.isVisible() and canvas.corners == []


def test_an_offcut_is_drawn_by_keys_alone(book: JobBook, qtbot: QtBot) -> None:
    look(book, qtbot)
    section = book.stock.rack
    section.draw.setFocus()
    QTest.keyClick(section.draw, Qt.Key.Key_Space)
    canvas = section.canvas.canvas
    qtbot.waitUntil(lambda: canvas.height() > 150, timeout=120_000)
    assert canvas.hasFocus()
    shift = Qt.KeyboardModifier.ShiftModifier

    def go(key: Qt.Key, times: int) -> None:
        for _ in range(times):
            QTest.keyClick(canvas, key, shift)
        QTest.keyClick(canvas, Qt.Key.Key_Space)

    go(Qt.Key.Key_Right, 0)
    go(Qt.Key.Key_Right, 6)
    go(Qt.Key.Key_Up, 4)
    assert canvas.corners == [(0, 0), (300, 0), (300, 200)]
    assert "3 corners; cross at 300, 200 mm" in canvas.accessibleDescription()
    # Take hold of the last one, move it, let it go; one too many is taken away.
    QTest.keyClick(canvas, Qt.Key.Key_Space)
    go(Qt.Key.Key_Up, 1)
    assert canvas.corners[2] == (300, 250)
    go(Qt.Key.Key_Left, 1)
    QTest.keyClick(canvas, Qt.Key.Key_Delete)
    assert len(canvas.corners) == 3
    assert drawn_board(book, qtbot).outline.area == pytest.approx(300 * 250 / 2)


def test_a_rectangle_is_one_drag_and_what_crosses_is_told(
    book: JobBook, qtbot: QtBot
) -> None:
    look(book, qtbot)
    section = book.stock.rack
    QTest.mouseClick(section.draw, LEFT)
    drawing = section.canvas
    canvas = drawing.canvas
    qtbot.waitUntil(lambda: canvas.height() > 150, timeout=120_000)
    start, end = canvas.at((50, 300)).toPoint(), canvas.at((650, 0)).toPoint()
    QTest.mousePress(canvas, LEFT, pos=start)
    for share in (0.4, 1.0):
        QTest.mouseMove(canvas, start + (end - start) * share)
    QTest.mouseRelease(canvas, LEFT, pos=end)
    assert drawing.outline() == Outline(Loop.rectangle(600, 300))
    # A click on an edge puts a corner into it.
    QTest.mouseClick(canvas, LEFT, pos=canvas.at((300, 0)).toPoint())
    assert canvas.corners[1] == (300, 0) and len(canvas.corners) == 5
    drawing.table.setCurrentCell(1, 0)
    QTest.mouseClick(drawing.remove, LEFT)
    assert len(canvas.corners) == 4
    QTest.mouseClick(drawing.add, LEFT)
    assert len(canvas.corners) == 5
    drawing.show_corners([(0, 0), (100, 0), (0, 100), (100, 100)])
    assert drawing.outline() is None
    assert [*drawing.remarks.said] == [("warn", "Its edge crosses itself.")]
    assert section.drawn.text() == ""
    # Not put on the rack as a rectangle of the form's size instead.
    section.add_board()
    assert section.remarks.said[0][0] == "error" and not section.rack.boards
    assert drawing.isVisible() and len(drawing.corners) == 4
    QTest.mouseClick(drawing.clear, LEFT)
    assert drawing.corners == [] and not drawing.remarks.said
