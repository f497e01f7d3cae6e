"""How long the window ever keeps a person waiting: reading, opening, nesting, writing.

A heart beats in the window's event loop; the longest time between two beats is how long
the window did not answer. Prints figures and asserts no clock. Run it by itself::

    python -m pytest -sm benchmark tests/benchmarks/bench_waiting.py
"""

from __future__ import annotations

import math
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import ezdxf
import pytest
from PySide6.QtCore import QEvent, QObject, QSettings, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from drystone.app.book.importing import SAMPLE
from drystone.app.opening import open_job
from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow
from drystone.io.job_file import write_job
from drystone.nesting.model.job import Job
from drystone.nesting.model.part import Part

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.benchmarks.bench_window import large_job, wavy
else:  # beside this file; the tests are no package when they run
    from bench_window import large_job, wavy

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier

pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.qt_log_ignore("propagateSizeHints", "raise"),
]


class Heart(QTimer):
    """Beats every two milliseconds, where it can, and remembers the pauses.

    Attributes
    ----------
    pauses : list of tuple of float
        Time between two beats, and how much of it this thread itself computed: on a
        busy machine the rest is waiting for a processor.
    """

    def __init__(self) -> None:
        super().__init__()
        self.pauses: list[tuple[float, float]] = []
        self._last = self._now()
        self.setInterval(2)
        self.timeout.connect(self._beat)

    def begin(self) -> None:
        """Forget what was."""
        self.pauses = []
        self._last = self._now()
        self.start()

    def _now(self) -> tuple[float, float]:
        return time.perf_counter(), time.thread_time()

    def _beat(self) -> None:
        now = self._now()
        self.pauses.append((now[0] - self._last[0], now[1] - self._last[1]))
        self._last = now

    def told(self, what: str, seconds: float) -> None:
        """Print the longest pauses."""
        self.stop()
        self._beat()
        whole = max(pause for pause, _ in self.pauses)
        own = sorted((own for _, own in self.pauses), reverse=True)[:3]
        listed = ", ".join(f"{1e3 * pause:.0f}" for pause in own)
        ROWS.append(f"| {what} | {seconds:.2f} | {1e3 * whole:.0f} | {listed} |")


ROWS: list[str] = []
"""The table, filled by one test after another."""


@pytest.fixture(scope="module", autouse=True)
def table() -> Iterator[None]:
    """Print the table when all is done."""
    yield
    print("\n| what | seconds | longest pause, ms | own computing at most, ms |")
    print("|---|---|---|---|")
    print("\n".join(ROWS))


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path) -> Iterator[MainWindow]:
    settings = QSettings(str(tmp_path / "window.ini"), QSettings.Format.IniFormat)
    window = MainWindow(Document(), settings, tmp_path / "recovery")
    qtbot.addWidget(window, before_close_func=lambda w: w.document.undo.setClean())
    window.resize(1400, 900)
    window.show()
    qtbot.waitExposed(window)
    qtbot.wait(1000)  # what it does when it comes up is told by test_start
    yield window
    window.shut_down()


def watched(
    qtbot: QtBot, what: str, do: Callable[[], object], done: Callable[[], bool]
) -> None:
    """Do something and tell the pauses until it is done."""
    heart = Heart()
    heart.begin()
    began = time.perf_counter()
    do()
    qtbot.waitUntil(done, timeout=250_000)
    heart.told(what, time.perf_counter() - began)


def distinct_job() -> Job:
    """A thousand parts of 200 vertices, no two alike, on twenty blanks."""
    job = large_job()
    parts = tuple(Part(f"q{i}", f"Petal {i}", wavy(200, 60.0, i)) for i in range(1000))
    layout = job.layout
    placements = tuple(
        replace(p, part_id=f"q{n}", copy=1) for n, p in enumerate(layout.placements)
    )
    return replace(job, parts=parts, layout=replace(layout, placements=placements))


def large_drawing(path: Path) -> Path:
    """A DXF file of some 16 MB: a thousand shapes, half of them in loose lines."""
    drawing = ezdxf.new("R2010")  # type: ignore[attr-defined]
    drawing.header["$INSUNITS"] = 4
    space = drawing.modelspace()
    for i in range(1000):
        x, y = (i % 40) * 150.0, (i // 40) * 150.0
        turns = [k * math.tau / 150 for k in range(150)]
        points = [(x + 60 * math.cos(t), y + 60 * math.sin(t)) for t in turns]
        if i % 2:
            space.add_lwpolyline(points, close=True)
        else:
            for a, b in zip(points, points[1:] + points[:1], strict=True):
                space.add_line(a, b)
    drawing.saveas(path)
    return path


def test_reading(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    """A large drawing, and the sample order."""
    path = large_drawing(tmp_path / "large.dxf")
    watched(
        qtbot,
        f"reading {path.stat().st_size / 1e6:.0f} MB of DXF",
        lambda: window.open_files([path]),
        lambda: bool(window.document.job.parts) and not window.reader.busy,
    )
    window.document.undo.setClean()
    watched(
        qtbot,
        "reading the sample order",
        lambda: window.open_files([SAMPLE]),
        lambda: window.document.job.name.startswith("Bird"),
    )


@pytest.mark.parametrize("kinds", [40, 1000])
def test_opening_and_saving(
    window: MainWindow, qtbot: QtBot, tmp_path: Path, kinds: int
) -> None:
    """A job of a thousand parts: opened, changed, kept, saved."""
    path = tmp_path / "large.drystone"
    write_job(path, large_job() if kinds == 40 else distinct_job())
    document = window.document
    watched(
        qtbot,
        f"opening 1,000 copies of {kinds} parts",
        lambda: window.files.open(path),
        lambda: document.path == path,
    )
    began = time.perf_counter()
    watched(
        qtbot,
        "painting it, sharp pictures included",
        lambda: None,
        lambda: time.perf_counter() > began + 3.0,
    )
    watched(qtbot, "selecting all", document.select_all, lambda: True)
    document.select(())
    part = document.job.parts[0]
    more = replace(part, quantity=part.quantity + 1)
    document.act("more", lambda job: replace(job, parts=(more, *job.parts[1:])))
    watched(
        qtbot,
        "placing one where there is no room",
        lambda: window.place(part.id),
        lambda: True,
    )
    watched(
        qtbot,
        "nudging one",
        lambda: document.nudge([("p3", 1), ("q3", 1)], 1.0, 0.0),
        lambda: True,
    )
    watched(
        qtbot,
        "keeping the recovery copy",
        window.recovery.keep_soon,
        lambda: window.recovery._kept is document.job,
    )
    watched(
        qtbot,
        "saving",
        window.files.save,
        lambda: not document.modified,
    )


def test_nesting_and_handing_over(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    """The sample order: searched for 15 s, stopped, written."""
    window.document.open(open_job([SAMPLE]).job)
    window.book.cutting.seconds.setValue(60)
    heart = Heart()
    heart.begin()
    began = time.perf_counter()
    window.start_nest()
    qtbot.waitUntil(
        lambda: window.document.shown_layout is not window.document.job.layout,
        timeout=120_000,
    )
    first = time.perf_counter() - began
    qtbot.wait(10_000)
    words = f"searching (first layout after {first:.1f} s)"
    heart.told(words, time.perf_counter() - began)
    watched(qtbot, "stopping", window.nesting.keep, lambda: not window.nesting.running)
    watched(
        qtbot,
        "writing and checking the files",
        lambda: window.handing.write(str(tmp_path / "out"), False),
        lambda: not window.handing.running,
    )
    window.document.want_more(window.document.job.parts[0].id)
    window.start_nest()
    qtbot.waitUntil(lambda: window.nesting.running, timeout=1000)
    watched(
        qtbot,
        "discarding",
        window.nesting.discard,
        lambda: not window.nesting.running,
    )


def test_presses(window: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    """From a press to the frame that shows it, with a large job on the bench."""
    window.document.open(large_job())
    window.bench.fit_blank(3)
    qtbot.wait(1500)
    bench, viewport = window.bench, window.bench.viewport()
    frames: list[float] = []

    class Painted(QObject):
        def eventFilter(self, watched: QObject, event: QEvent) -> bool:
            if event.type() == QEvent.Type.Paint:
                frames.append(time.perf_counter())
            return False

    painted = Painted()
    viewport.installEventFilter(painted)
    p = next(p for p in window.document.job.layout.placements if p.blank == 3)
    at = bench.mapFromScene(*bench.plan.on_bench(3, (p.x, p.y)))
    presses: list[tuple[str, Callable[[], object]]] = [
        ("press on a part", lambda: QTest.mousePress(viewport, LEFT, NONE, at)),
        ("letting go", lambda: QTest.mouseRelease(viewport, LEFT, NONE, at)),
        ("arrow", lambda: QTest.keyClick(bench, Qt.Key.Key_Right)),
        ("R", lambda: QTest.keyClick(bench, Qt.Key.Key_R)),
        ("L", lambda: QTest.keyClick(bench, Qt.Key.Key_L)),
        ("full stop", lambda: QTest.keyClick(bench, Qt.Key.Key_Period)),
        ("undo", window.document.undo.undo),
        ("select all", window.document.select_all),
    ]
    for name, press in presses:
        took = []
        for _ in range(5):
            qtbot.wait(30)
            frames.clear()
            began = time.perf_counter()
            press()
            QApplication.processEvents()
            if frames:
                took.append(frames[0] - began)
        shown = ", ".join(f"{1e3 * seconds:.0f}" for seconds in took) or "no frame"
        ROWS.append(f"| frame after: {name} | | {shown} | |")


def test_start(qapp: QApplication) -> None:
    """The whole window without a job, from nothing; numba must not be loaded."""
    code = (
        "import sys, time; t = time.perf_counter(); c = time.process_time()\n"
        "from pathlib import Path\n"
        "from PySide6.QtCore import QSettings\n"
        "from PySide6.QtWidgets import QApplication\n"
        "app = QApplication([])\n"
        "from drystone.app.window.document import Document\n"
        "from drystone.app.window.main_window import MainWindow\n"
        "w = MainWindow(Document(), QSettings('x', 'y'), Path('nowhere'))\n"
        "w.show(); app.processEvents(); w.grab()\n"
        "s, p = time.perf_counter() - t, time.process_time() - c\n"
        "loaded = {'numba', 'scipy', 'ezdxf'} & set(sys.modules)\n"
        "print(f'window up: {s:.2f} s, {p:.2f} s of them computing; loaded {loaded}')\n"
        "w.shut_down()\n"
        "assert 'numba' not in sys.modules"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    print("\n" + done.stdout.strip())
