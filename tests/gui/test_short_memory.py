"""A drawing that needs too much memory is blamed alone."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtTest import QTest
from PySide6.QtWidgets import QMessageBox, QPushButton
from pytestqt.qtbot import QtBot

from drystone.app.window.main_window import MainWindow

from .short_memory import WORK
from .window_person import LEFT, drop

PLATE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" '
    'viewBox="0 0 90 60"><rect x="5" y="5" width="80" height="50"/></svg>'
)


def test_the_next_drawing_is_read_by_another_process(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    names = ["a.svg", "huge.svg", "b.svg", "huger.svg", "c.svg"]
    for name in names:
        (tmp_path / name).write_text(PLATE)
    window.reader._process._work = WORK
    drop(window, [tmp_path / name for name in names])
    qtbot.waitUntil(lambda: window.findChild(QMessageBox) is not None, timeout=180_000)
    box = window.findChild(QMessageBox)
    assert isinstance(box, QMessageBox)
    assert box.text() == "2 drawings are larger than usual, such as huge.svg."
    leave = next(b for b in box.buttons() if "Leave" in b.text())
    assert isinstance(leave, QPushButton)
    QTest.mouseClick(leave, LEFT)
    qtbot.waitUntil(lambda: len(window.document.job.parts) == 3, timeout=60_000)
    bad = [Path(f.file).name for f in window.book.parts.found._found]
    assert bad == ["huge.svg", "huger.svg"]
    told = (tmp_path / "processes.txt").read_text().split()
    assert told[1::2] == names  # in this order, and each once
    processes = told[::2]
    assert processes[0] == processes[1] != processes[2] == processes[3] != processes[4]
