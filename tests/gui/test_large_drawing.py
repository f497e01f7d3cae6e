"""A drawing larger than usual: asked about, read when allowed, else left out."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtTest import QTest
from PySide6.QtWidgets import QMessageBox, QPushButton
from pytestqt.qtbot import QtBot

from drystone.app.window.main_window import MainWindow

from .window_person import LEFT, drop

TEXT = (
    "0 SECTION 2 HEADER 9 $INSUNITS 70 4 0 ENDSEC "
    "0 SECTION 2 BLOCKS 0 BLOCK 8 0 2 NIL 70 0 10 0 20 0 0 ENDBLK 8 0 0 ENDSEC "
    "0 SECTION 2 ENTITIES "
    "0 INSERT 8 0 2 NIL 10 0 20 0 70 330 71 330 44 1 45 1 "
    "0 CIRCLE 8 0 10 50 20 50 40 40 0 ENDSEC 0 EOF"
)
"""A disc, and a block of nothing that is repeated 108,900 times."""


def question_about(window: MainWindow, qtbot: QtBot, path: Path) -> QMessageBox:
    path.write_text("\n".join(TEXT.split()) + "\n")
    drop(window, [path])
    qtbot.waitUntil(lambda: window.findChild(QMessageBox) is not None, timeout=60_000)
    box = window.findChild(QMessageBox)
    assert isinstance(box, QMessageBox)
    return box


def button(box: QMessageBox, words: str) -> QPushButton:
    for each in box.buttons():
        if each.text().replace("&", "") == words:
            assert isinstance(each, QPushButton)
            return each
    raise AssertionError(words)


def test_a_large_drawing_is_read_when_it_is_allowed(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    box = question_about(window, qtbot, tmp_path / "large.dxf")
    assert box.text() == "large.dxf is larger than usual."
    words = box.informativeText()
    assert words.startswith("It holds more than 105,000 entities")
    assert "2 times the time and memory" in words and "1.8 GiB" in words
    assert "--limits" not in words
    QTest.mouseClick(button(box, "Read it"), LEFT)
    qtbot.waitUntil(lambda: len(window.document.job.parts) == 1, timeout=60_000)
    assert not window.book.parts.found._found


def test_a_large_drawing_is_left_out_with_the_reason(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    box = question_about(window, qtbot, tmp_path / "large.dxf")
    QTest.mouseClick(button(box, "Leave it out"), LEFT)
    found = window.book.parts.found
    qtbot.waitUntil(lambda: bool(found._found), timeout=30_000)
    (finding,) = found._found
    assert finding.code == "unreadable"
    assert finding.message.endswith("included; split or simplify the drawing")
    assert not window.document.job.parts
