"""Stopping an export: soon, with a word, and with nothing left behind."""

from __future__ import annotations

import os
import random
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from drystone.app.window.main_window import MainWindow
from drystone.nesting.model.job import Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.placement import Blank, Layout, Placement

from .window_person import LEFT, shelf_job


def long_job() -> Job:
    """A job whose files take some seconds: thirty boards full of discs."""
    job = shelf_job()
    disc = replace(
        job.parts[0],
        id="disc",
        name="Disc",
        outline=Outline(Loop.circle(0, 0, 16), (Loop.circle(0, 0, 6),)),
        quantity=30 * 120,
    )
    placed = tuple(
        Placement("disc", n + 1, n // 120, 40 + 41 * (n % 15), 40 + 41 * (n // 15 % 8))
        for n in range(disc.quantity)
    )
    layout = Layout((Blank("board"),) * 30, placed)
    return replace(job, parts=(disc,), layout=layout)


def contents(folder: Path) -> dict[str, bytes]:
    """Return everything below a folder, hidden things too."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else b""
        for path in sorted(folder.rglob("*"))
    }


def gone(pid: int) -> bool:
    """Return whether a process is there no more."""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    return False


@pytest.mark.parametrize("moment", ["shown", "at once", "some time"])
def test_stopping_an_export_leaves_nothing(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, moment: str
) -> None:
    window.document.open(long_job())
    assert window.document.conflicts() == {}
    window.book.setCurrentWidget(window.book.hand_over)
    page, work = window.book.hand_over, window.strip.work
    out = tmp_path / "place" / "out"
    out.mkdir(parents=True)
    (out / "Shelf-blank-01.dxf").write_text("an older one")
    before = contents(tmp_path / "place")
    window.handing.write(str(out), True)
    engine = window.handing.engine
    pid = engine.pid
    assert pid is not None
    if moment == "shown":
        qtbot.waitUntil(work.isVisible, timeout=10_000)
        QTest.mouseClick(work.stop, LEFT)
    else:
        qtbot.wait(0 if moment == "at once" else random.randrange(100, 3000))
        assert window.handing.running, "not over yet"
        work.stop.click()
    qtbot.waitUntil(lambda: not window.handing.running, timeout=5_000)
    assert "Stopped. Nothing was written" in page.result.text()
    assert not work.busy and not work.isVisible()
    qtbot.waitUntil(lambda: gone(pid), timeout=20_000)
    assert contents(tmp_path / "place") == before
    # It can be done again, and to the end.
    small = replace(shelf_job(), layout=Layout((Blank("board"),), (ONE,)))
    window.document.open(small)
    window.handing.write(str(tmp_path / "again"), False)
    qtbot.waitUntil(lambda: not window.handing.running, timeout=120_000)
    assert (tmp_path / "again").is_dir(), page.result.text()


ONE = Placement("panel", 1, 0, 20, 20)


def test_closing_the_window_leaves_nothing_half_written(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.document.open(long_job())
    out = tmp_path / "place" / "out"
    out.mkdir(parents=True)
    window.handing.write(str(out), False)
    pid = window.handing.engine.pid
    assert pid is not None
    qtbot.waitUntil(lambda: bool(list(out.iterdir())), timeout=60_000)
    assert window.close()
    assert gone(pid)
    assert contents(tmp_path / "place") == {"out": b""}
