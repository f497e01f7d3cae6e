"""The window that the tests here look at."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings
from pytestqt.qtbot import QtBot

from drystone.app.book.book import JobBook
from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow

from .bench_jobs import planter_job
from .bench_person import Person, at_the_bench
from .book_person import bird_job


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path) -> Iterator[MainWindow]:
    settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    window = MainWindow(Document(), settings, tmp_path / "recovery")
    qtbot.addWidget(window, before_close_func=lambda w: w.document.undo.setClean())
    window.show()
    qtbot.waitExposed(window)
    yield window
    window.shut_down()


@pytest.fixture
def person(qtbot: QtBot) -> Iterator[Person]:
    """Return someone at a bench by itself, with two boards on it."""
    yield from at_the_bench(qtbot, planter_job())


@pytest.fixture
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep the set-ups and racks of tests away from the user's."""
    for name in ("XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.setenv(name, str(tmp_path / name.lower()))


@pytest.fixture
def book(qtbot: QtBot, own_folders: None) -> Iterator[JobBook]:
    """Return the job book with twelve parts on sheets larger than the bed."""
    book = JobBook(Document(bird_job()))
    qtbot.addWidget(book)
    book.resize(500, 900)
    book.show()
    qtbot.waitExposed(book)
    yield book
    book.parts.found.close_down()
    book.shut_down()
