"""Very many different parts in the window: only what is looked at is made."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QContextMenuEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu
from pytestqt.qtbot import QtBot

from drystone.app.book.book import JobBook
from drystone.app.book.table import Index
from drystone.app.window.document import Document
from drystone.app.window.tray import BATCH, Tray
from drystone.nesting.model.job import Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part

from .book_person import document_of

MANY = 5 * BATCH


def test_the_tray_lists_more_as_one_goes_on(qtbot: QtBot) -> None:
    outline = Outline(Loop.rectangle(90, 60))
    parts = tuple(Part(f"p{n}", f"part {n}", outline) for n in range(MANY))
    tray = Tray(Document())
    qtbot.addWidget(tray)
    tray.document.open(Job("Many", parts))
    tray.resize(800, 140)
    tray.show()
    qtbot.waitExposed(tray)
    assert tray.title.text().endswith(str(MANY))  # all are counted
    assert tray.copies.count() == BATCH
    bar = tray.copies.horizontalScrollBar()
    qtbot.waitUntil(lambda: bar.maximum() > 0, timeout=60_000)
    tray.copies.setFocus()
    counts = [BATCH]

    def at_the_end() -> bool:
        QTest.keyClick(tray.copies, Qt.Key.Key_End)
        counts.append(tray.copies.count())
        return tray.copies.currentRow() == MANY - 1

    qtbot.waitUntil(at_the_end, timeout=120_000)
    assert len(set(counts)) > 2  # more than once, and each time some more
    chosen = tray.copies.currentItem()
    assert chosen.text() == f"1 × part {MANY - 1}"
    with qtbot.waitSignal(tray.place_wanted) as placed:
        QTest.keyClick(tray.copies, Qt.Key.Key_Return)
    assert placed.args == [f"p{MANY - 1}"]


def test_choosing_all_asks_for_no_single_row(qtbot: QtBot, book: JobBook) -> None:
    """Asking a selection for its rows asks the model about each of their cells."""
    outline = Outline(Loop.rectangle(90, 60))
    parts = tuple(Part(f"p{n}", f"part {n}", outline) for n in range(MANY))
    page = book.parts
    document_of(book).open(Job("Many", parts))
    qtbot.waitUntil(page.table.isVisible, timeout=60_000)
    asked: list[int] = []
    flags = page.model.flags

    def counted(index: Index) -> Qt.ItemFlag:
        asked.append(index.row())
        return flags(index)

    page.model.flags = counted  # type: ignore[method-assign]
    page.table.selectAll()
    assert page.table.chosen_rows() == list(range(MANY))
    page.table.grab()
    assert len(asked) < MANY


def test_hidden_columns_are_reached_by_the_menu_key(
    qtbot: QtBot, book: JobBook
) -> None:
    table = book.parts.table
    book.resize(470, 700)
    book.show()
    qtbot.waitUntil(table.more.isVisible)
    table.setFocus()
    event = QContextMenuEvent(
        QContextMenuEvent.Reason.Keyboard,
        QPoint(9, 9),
        table.mapToGlobal(QPoint(9, 9)),
        Qt.KeyboardModifier.NoModifier,
    )
    QApplication.sendEvent(table.viewport(), event)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    assert [a for a in menu.actions() if not a.isChecked()]
    menu.close()
