"""Someone in front of the whole window: real mouse, key and drop events."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QMimeData, QPoint, QPointF, QSettings, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QTableView
from pytestqt.qtbot import QtBot

from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow
from drystone.io.job_file import write_job
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.stock import Stock

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


def shelf_job() -> Job:
    """Six panels that fit on one of the boards."""
    panel = Part("panel", "panel", Outline(Loop.rectangle(200, 100)), quantity=6)
    board = Stock("board", "board", Outline(Loop.rectangle(700, 400)), price=10.0)
    return Job("Shelf", (panel,), (board,), Cutting(6, 2, 10))


def open_shelf(window: MainWindow, qtbot: QtBot, folder: Path) -> Path:
    """Save the job of `shelf_job` in a folder and open it; return its path."""
    path = folder / "shelf.drystone"
    write_job(path, shelf_job())
    assert window.files.open(path)
    qtbot.waitUntil(lambda: window.document.path == path, timeout=20_000)
    return path


def keep_as_if_killed(window: MainWindow) -> None:
    """Keep the work as it is now, as a program does that is killed afterwards."""
    assert window.recovery.keep()
    lock = window.recovery._lock
    assert lock is not None
    lock.unlock()


def another_window(qtbot: QtBot, rest: Path, recovery: Path) -> MainWindow:
    """Return a second window; the test shuts it down."""
    settings = QSettings(str(rest / "other.ini"), QSettings.Format.IniFormat)
    other = MainWindow(Document(), settings, recovery)

    def before_close(window: MainWindow) -> None:
        window.document.undo.setClean()
        window.shut_down()

    qtbot.addWidget(other, before_close_func=before_close)
    return other


def drop(window: MainWindow, paths: list[Path]) -> None:
    """Let go of files over the window."""
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    place = QPoint(300, 300)
    action = Qt.DropAction.CopyAction
    enter = QDragEnterEvent(place, action, data, LEFT, NONE)
    QApplication.sendEvent(window, enter)
    assert enter.isAccepted()
    event = QDropEvent(QPointF(place), action, data, LEFT, NONE)
    QApplication.sendEvent(window, event)


def type_into(table: QTableView, row: int, column: int, text: str) -> None:
    """Type into a cell as a person would: click, F2, keys, Return."""
    table.setCurrentIndex(table.model().index(row, column))
    table.setFocus()
    QTest.keyClick(table, Qt.Key.Key_F2)
    editor = QApplication.focusWidget()
    assert editor is not None and editor is not table
    QTest.keyClicks(editor, text)
    QTest.keyClick(editor, Qt.Key.Key_Return)
    QApplication.processEvents()  # the editor commits once the key is through
