"""What takes long: a large change is painted after a breath, times one by one."""

from __future__ import annotations

import threading
from dataclasses import replace

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QObject
from pytestqt.qtbot import QtBot

from drystone.app.window import breath, cut_time
from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow
from drystone.nesting.model.job import Job
from drystone.nesting.model.placement import Blank, Layout, Placement

from .window_person import shelf_job


def laid_out(x: float = 30.0) -> Job:
    """The shelf with one panel on a board."""
    layout = Layout((Blank("board"),), (Placement("panel", 1, 0, x, 30),))
    return replace(shelf_job(), layout=layout)


@pytest.mark.parametrize("long", [False, True])
def test_a_large_change_is_painted_after_a_breath(
    window: MainWindow, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, long: bool
) -> None:
    window.document.open(laid_out())
    qtbot.wait(300)
    painted: list[bool] = []

    class Painted(QObject):
        def eventFilter(self, watched: QObject, event: QEvent) -> bool:
            if event.type() == QEvent.Type.Paint:
                painted.append(True)
            return False

    looks = Painted()
    window.bench.viewport().installEventFilter(looks)
    monkeypatch.setattr(breath, "LONG", -1.0 if long else 60.0)
    window.document.move_by([("panel", 1)], 20, 0)
    QCoreApplication.sendPostedEvents()  # what Qt does before it hears anybody
    assert bool(painted) != long
    qtbot.waitUntil(lambda: bool(painted), timeout=2000)
    assert window.updatesEnabled()


def test_times_are_worked_out_one_at_a_time(
    qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two threads would hold the window up twice; the last job is what counts."""
    go, running = threading.Event(), []
    at_once: list[int] = []

    def words(job: Job) -> str:
        running.append(job)
        at_once.append(len(running))
        go.wait(10)
        running.remove(job)
        return f"{job.layout.placements[0].x:g}"

    monkeypatch.setattr(cut_time, "cut_time_words", words)
    monkeypatch.setattr(cut_time, "REST", 1)
    document = Document(laid_out())
    told: list[str] = []
    times = cut_time.CutTime(document)
    times.told.connect(told.append)
    qtbot.waitUntil(lambda: len(at_once) == 1)
    for x in (20.0, 30.0):
        document.move_by([("panel", 1)], x, 0)
        qtbot.wait(30)
    go.set()
    qtbot.waitUntil(lambda: "80" in told, timeout=5000)
    assert at_once == [1, 1] and "50" not in told
    times.close()
