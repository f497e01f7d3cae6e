"""The window that the tests here look at."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings
from pytestqt.qtbot import QtBot

from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path) -> Iterator[MainWindow]:
    settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    window = MainWindow(Document(), settings, tmp_path / "recovery")
    qtbot.addWidget(window, before_close_func=lambda w: w.document.undo.setClean())
    window.show()
    qtbot.waitExposed(window)
    yield window
    window.shut_down()
