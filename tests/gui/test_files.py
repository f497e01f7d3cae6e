"""Jobs and files: nothing is lost, whatever ends the program or changes the file."""

from __future__ import annotations

import hashlib
import os
import random
import signal
import subprocess
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtWidgets import QMessageBox
from pytestqt.qtbot import QtBot

from drystone.app.window import watch
from drystone.app.window.main_window import MainWindow
from drystone.io.job_file import read_job, write_job

from .window_person import another_window, keep_as_if_killed, open_shelf, shelf_job

CHILD = """
import sys
from pathlib import Path
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication
from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow
app = QApplication([])
ini = QSettings(sys.argv[2] + '.ini', QSettings.Format.IniFormat)
w = MainWindow(Document(), ini, Path(sys.argv[2]))
w.files.open(Path(sys.argv[1]))
while not w.document.job.parts:
    app.processEvents()
w.document.want_more('panel', 1)
assert w.recovery.keep()
print('begun', flush=True)
while True:  # a person who never rests, and a copy written at every turn
    w.document.want_more('panel', 1)
    w.recovery.keep_soon()
    app.processEvents()
"""


def wait_for_parts(qtbot: QtBot, window: MainWindow) -> None:
    qtbot.waitUntil(lambda: bool(window.document.job.parts), timeout=20_000)


def test_work_survives_a_kill_during_autosave(qtbot: QtBot, tmp_path: Path) -> None:
    saved = tmp_path / "shelf.drystone"
    write_job(saved, shelf_job())
    before = saved.read_bytes()
    for number in range(3):
        folder = tmp_path / f"killed-{number}"
        words = [sys.executable, "-c", CHILD, str(saved), str(folder)]
        with subprocess.Popen(words, stdout=subprocess.PIPE) as child:
            assert child.stdout is not None
            assert child.stdout.readline() == b"begun\n"
            time.sleep(random.uniform(0.0, 0.2))
            os.kill(child.pid, signal.SIGKILL)
        assert saved.read_bytes() == before
        other = another_window(qtbot, tmp_path, folder)
        (lost,) = other.recovery.lost()
        assert lost.name == "Shelf" and lost.path == saved
        assert lost.copy.parent == saved.parent  # beside the job
        assert "Shelf" in other.banner.text
        other.banner._buttons[0].click()
        wait_for_parts(qtbot, other)
        assert other.document.job.parts[0].quantity > 6
        assert other.document.path == saved and other.document.modified
        assert other.files.save()
        assert not other.recovery.lost()
        saved.write_bytes(before)
        other.shut_down()
        leftover = [p.name for p in tmp_path.iterdir() if p.name.endswith(".part")]
        assert leftover == []


def test_discarded_work_is_offered_no_more(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.document.open(shelf_job())
    window.document.want_more("panel")
    keep_as_if_killed(window)
    other = another_window(qtbot, tmp_path, tmp_path / "recovery")
    other.banner._buttons[1].click()
    assert not other.recovery.lost() and not other.banner.text
    other.shut_down()


def test_a_copy_is_written_while_the_window_works(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.document.open(shelf_job())
    window.document.want_more("panel")
    window.recovery.keep_soon()
    qtbot.waitUntil(
        lambda: window.recovery._kept is window.document.job, timeout=20_000
    )
    (copy,) = window.recovery._copies
    assert read_job(copy) == window.document.job
    window.document.undo.undo()
    qtbot.waitUntil(lambda: not copy.exists(), timeout=20_000)


def test_two_outside_changes_are_both_noticed(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    path = open_shelf(window, qtbot, tmp_path)
    assert not window.banner.text
    for name in ("Shelf, longer", "Shelf, longest"):
        window.banner.hide()
        write_job(path, replace(shelf_job(), name=name))
        qtbot.waitUntil(lambda: path.name in window.banner.text, timeout=20_000)
    window.banner._buttons[0].click()
    qtbot.waitUntil(
        lambda: window.document.job.name == "Shelf, longest", timeout=20_000
    )
    window.document.want_more("panel")
    window.files.save()
    qtbot.wait(500)
    assert "Another program" not in window.banner.text


def test_saving_over_a_foreign_change_is_asked_again(
    window: MainWindow,
    qtbot: QtBot,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = open_shelf(window, qtbot, tmp_path)
    window.document.want_more("panel")
    theirs = replace(shelf_job(), name="Shelf, theirs")
    write_job(path, theirs)
    qtbot.waitUntil(lambda: path.name in window.banner.text, timeout=20_000)
    window.banner._buttons[1].click()  # keep mine
    box = window.files.foreign_question(path)
    texts = {b.text() for b in box.buttons()}
    assert texts == {"Save a copy…", "Replace it", "Cancel"}
    box.deleteLater()
    asked: list[Path] = []

    def answer(what: str) -> None:
        def ask(path: Path) -> str:
            asked.append(path)
            return what

        monkeypatch.setattr(window.files, "ask_foreign", ask)

    answer("stay")
    assert not window.files.save()
    assert read_job(path) == theirs and window.document.modified
    answer("replace")
    assert window.files.save()
    assert asked == [path, path]
    assert read_job(path) == window.document.job
    window.document.want_more("panel")
    assert window.files.save()  # nobody else has touched it since: no question
    assert len(asked) == 2


def test_a_file_that_cannot_be_read_leaves_the_job(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.document.open(shelf_job())
    bad = tmp_path / "bad.drystone"
    bad.write_text("not a job")
    window.open_files([bad])
    qtbot.waitUntil(lambda: "bad.drystone" in window.banner.text, timeout=20_000)
    assert window.document.job.name == "Shelf"
    assert not window.reader.busy and not window.strip.work.isVisible()


def test_a_job_cannot_be_saved_where_nobody_may_write(
    window: MainWindow, tmp_path: Path
) -> None:
    window.document.open(shelf_job(), tmp_path / "gone" / "shelf.drystone")
    window.document.want_more("panel")
    assert not window.files.save()
    assert window.document.modified and "cannot be written" in window.banner.text


def test_the_question_tells_how_much_is_lost(
    window: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    window.document.open(shelf_job())
    now = time.time()
    monkeypatch.setattr("drystone.app.window.files.time.time", lambda: now + 12 * 60)
    box = window.files.question()
    assert "12 minutes" in box.informativeText()
    assert box.icon() == QMessageBox.Icon.Question
    box.deleteLater()


def test_a_large_file_is_not_read_again_while_the_window_waits(
    window: MainWindow,
    qtbot: QtBot,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What the file holds is worked out beside the window, and only when it must be."""
    path = tmp_path / "shelf.drystone"
    write_job(path, shelf_job())
    here: list[bool] = []

    def digest(path: Path) -> bytes:
        here.append(threading.current_thread() is threading.main_thread())
        return hashlib.sha256(path.read_bytes()).digest()

    monkeypatch.setattr(watch, "_digest", digest)
    window.files.open(path)
    qtbot.waitUntil(lambda: bool(window.files.watch._ours.digest), timeout=20_000)
    assert here and not any(here)
    assert not window.files.watch.foreign()
    path.write_bytes(path.read_bytes())  # touched, but the same
    assert not window.files.watch.foreign()
    path.write_bytes(b"something else")
    assert window.files.watch.foreign()
