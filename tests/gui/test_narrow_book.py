"""A narrow job book: its tables need no scrolling sideways, and say what they hide."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu
from pytestqt.qtbot import QtBot

from drystone.app.book.importing import SAMPLE
from drystone.app.book.table import BookTable
from drystone.app.window.main_window import MainWindow
from drystone.io.order_file import read_order


def narrow(window: MainWindow, qtbot: QtBot, page: str, book: int = 470) -> BookTable:
    """Open the sample order in a book of a width; return the table of a page."""
    window.resize(1000, 700)
    window.document.open(read_order(SAMPLE).job)
    shown = getattr(window.book, page)
    window.book.setCurrentWidget(shown)
    window.across.setSizes([book, 1000 - book, 0])
    table = shown.table
    # Columns are fitted once the bench was painted.
    qtbot.waitUntil(lambda: table.more.isVisible() == (book < 700), timeout=60_000)
    assert window.book.width() == book
    assert isinstance(table, BookTable)
    return table


def no_bar(table: BookTable, qtbot: QtBot) -> None:
    bar = table.horizontalScrollBar()
    qtbot.waitUntil(lambda: not bar.isVisible(), timeout=20_000)


def hidden(table: BookTable) -> list[str]:
    model = table.model()
    head, across = Qt.ItemDataRole.DisplayRole, Qt.Orientation.Horizontal
    return [
        str(model.headerData(n, across, head)).split()[0]
        for n in range(model.columnCount())
        if table.isColumnHidden(n)
    ]


@pytest.mark.parametrize("page", ["parts", "stock"])
def test_no_scrolling_sideways(window: MainWindow, qtbot: QtBot, page: str) -> None:
    table = narrow(window, qtbot, page)
    no_bar(table, qtbot)
    assert "Thickness" in hidden(table) and "Size" not in hidden(table)
    assert "Thickness" in table.more.toolTip()
    name = table.columnViewportPosition(0), table.columnWidth(0)
    assert name[0] == 0 and name[1] > 110
    end = max(
        table.columnViewportPosition(n) + table.columnWidth(n)
        for n in range(table.model().columnCount())
    )
    assert end <= table.more.x()  # nothing stands below the button
    # Names that are cut off in the middle are told whole.
    assert table.textElideMode() == Qt.TextElideMode.ElideMiddle
    first = table.model().index(0, 0)
    assert first.data(Qt.ItemDataRole.ToolTipRole) == first.data()


@pytest.mark.parametrize("page", ["parts", "stock"])
def test_large_words_need_no_scrolling(
    window: MainWindow, qtbot: QtBot, page: str
) -> None:
    table = narrow(window, qtbot, page)
    plain = QApplication.font()
    large = QApplication.font()
    large.setPointSizeF(1.5 * plain.pointSizeF())
    try:
        QApplication.setFont(large)
        qtbot.wait(20)
        assert table.fontMetrics().height() > 20
        no_bar(table, qtbot)
    finally:
        QApplication.setFont(plain)


def test_a_wide_book_shows_every_column(window: MainWindow, qtbot: QtBot) -> None:
    table = narrow(window, qtbot, "parts")
    window.resize(1600, 700)
    window.across.setSizes([760, 840, 0])
    qtbot.waitUntil(table.more.isHidden, timeout=20_000)
    assert hidden(table) == []
    no_bar(table, qtbot)


def test_a_hidden_column_can_be_had(window: MainWindow, qtbot: QtBot) -> None:
    table = narrow(window, qtbot, "stock")
    QTest.mouseClick(table.more, Qt.MouseButton.LeftButton)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    ticked = {action.text(): action for action in menu.actions()}
    assert not ticked["Material"].isChecked() and ticked["Offcut"].isChecked()
    ticked["Offcut"].trigger()
    ticked["Material"].trigger()
    menu.close()
    assert "Material" not in hidden(table) and "Offcut" in hidden(table)
    no_bar(table, qtbot)


def test_widths_set_by_hand_stay(window: MainWindow, qtbot: QtBot) -> None:
    table = narrow(window, qtbot, "parts", 620)
    table.horizontalHeader().resizeSection(0, 200)
    window.across.setSizes([560, 440, 0])
    qtbot.wait(20)
    assert table.columnWidth(0) == 200


def test_a_long_name_does_not_push_others_out(window: MainWindow, qtbot: QtBot) -> None:
    job = read_order(SAMPLE).job
    part = replace(job.parts[0], name="the front of the box with the round hole, oak")
    table = narrow(window, qtbot, "parts")
    window.document.open(replace(job, parts=(part, *job.parts[1:])))
    qtbot.wait(60)
    no_bar(table, qtbot)
