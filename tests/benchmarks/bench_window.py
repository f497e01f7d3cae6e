"""How quick the bench is: 1,000 parts of 200 vertices on 20 blanks.

Prints figures and asserts no clock. Run it by itself::

    python -m pytest -sm benchmark tests/benchmarks/bench_window.py

`DRYSTONE_GESTURE_EXAMPLES=60 python -m pytest tests/gui/test_bench_gestures.py` is the
long run of random gestures.
"""

from __future__ import annotations

import math
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PySide6.QtCore import QPointF
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from drystone.app.bench.copies import key_of
from drystone.app.bench.view import BenchView
from drystone.app.window.document import Document
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock

sys.path.insert(0, str(Path(__file__).parents[1] / "gui"))

if TYPE_CHECKING:
    from tests.gui.bench_person import NONE, Person
else:  # beside this file; the tests are no package when they run
    from bench_person import NONE, Person

pytestmark = pytest.mark.benchmark


def wavy(vertices: int, radius: float, seed: int) -> Outline:
    """A flower of straight edges: hollows and bumps all round."""
    rng = np.random.default_rng(seed)
    angle = np.arange(vertices) * 2.0 * math.pi / vertices
    petals = 3 + seed % 5
    size = radius * (0.86 + 0.12 * np.sin(petals * angle) + 0.01 * rng.random(vertices))
    points = np.c_[size * np.cos(angle), size * np.sin(angle)]
    return Outline(Loop.polygon(points.tolist()))


def large_job() -> Job:
    """Twenty boards with fifty parts each, close together."""
    parts = tuple(
        Part(f"p{i}", f"Petal {i}", wavy(200, 60.0, i), quantity=25) for i in range(40)
    )
    stock = Stock("board", "Board", Outline(Loop.rectangle(1380, 720)))
    placements = []
    for n in range(1000):
        blank, k = divmod(n, 50)
        placements.append(
            Placement(
                f"p{n % 40}",
                n // 40 + 1,
                blank,
                78 + (k % 10) * 136,
                80 + (k // 10) * 140,
                (n * 37) % 360,
            )
        )
    return Job(
        "Large",
        parts,
        (stock,),
        Cutting(6, 2, 10),
        layout=Layout((Blank("board"),) * 20, tuple(placements)),
    )


def told(what: str, seconds: list[float]) -> None:
    """Print median, 99th percentile and greatest, in milliseconds."""
    ms = np.array(seconds) * 1e3
    print(
        f"{what}: median {np.median(ms):.1f} ms, "
        f"99 % {np.percentile(ms, 99):.1f} ms, greatest {ms.max():.1f} ms"
    )


@pytest.fixture
def view(qtbot: QtBot) -> Iterator[BenchView]:
    began = time.perf_counter()
    view = BenchView(Document(large_job()))
    qtbot.addWidget(view)
    view.resize(1600, 950)
    view.show()
    qtbot.waitExposed(view)
    view.grab()
    print(f"\nbench up with 1,000 parts: {time.perf_counter() - began:.2f} s")
    yield view
    view.cancel()


def test_drag(view: BenchView, qapp: QApplication) -> None:
    """One drag step: contact solving, figures, and what has to be repainted."""
    person = Person(view)
    view.fit_blank(3)
    qapp.processEvents()
    rng = np.random.default_rng(0)
    solve: list[float] = []
    whole: list[float] = []
    held = 0
    placement = next(p for p in view.document.job.layout.placements if p.blank == 3)
    person.press(placement.x, placement.y, 3)
    began = time.perf_counter()
    person.go(person.at + (person.pixel(90, 90, 3) - person.pixel(60, 60, 3)))
    print(f"first steps, looking round included: {time.perf_counter() - began:.3f} s")
    x, y = placement.x, placement.y
    gesture = view.gesture
    assert gesture is not None
    for k in range(500):
        if k % 25 == 0:
            goal = rng.uniform(40, 1340), rng.uniform(40, 680)
        x += (goal[0] - x) * 0.12
        y += (goal[1] - y) * 0.12
        at = view.plan.on_bench(3, (x, y))
        began = time.perf_counter()
        gesture.move(at, NONE)
        solve.append(time.perf_counter() - began)
        began = time.perf_counter()
        view.follow(view.mapFromScene(QPointF(*at)), NONE)
        qapp.processEvents()
        whole.append(time.perf_counter() - began)
        held += view._hand.shown.wish is not None
    told("drag step, solving and figures", solve)
    told("drag step with repaint", whole)
    print(f"held back by neighbours in {held} of 500 steps")
    view.cancel()


def test_turn(view: BenchView, qapp: QApplication) -> None:
    """One step of turning by the handle, neighbours pushing back included."""
    person = Person(view)
    view.fit_blank(3)
    view.camera.sharpen_all()
    qapp.processEvents()
    placement = next(p for p in view.document.job.layout.placements if p.blank == 3)
    view.document.select([key_of(placement)])
    person.take_handle()
    handle = view.handle_at()
    assert handle is not None
    middle = view.mapFromScene(*view.plan.on_bench(3, (placement.x, placement.y)))
    arm = handle.y() - middle.y()
    whole: list[float] = []
    for k in range(240):
        angle = math.radians(1.5 * k)
        place = QPointF(
            middle.x() - arm * math.sin(angle), middle.y() + arm * math.cos(angle)
        )
        if k == 0:
            person.go(place.toPoint())
            person.go(place.toPoint() + QPointF(20, 20).toPoint())
        began = time.perf_counter()
        view.follow(place.toPoint(), NONE)
        qapp.processEvents()
        whole.append(time.perf_counter() - began)
    told("turn step with repaint", whole)
    view.cancel()


def test_first_sharp_picture(view: BenchView, qapp: QApplication) -> None:
    """The longest time that the window is kept waiting by a first sharp picture."""
    for name, zoom in (("one blank", 1.0), ("large", 4.0)):
        view.fit_blank(5)
        view.zoom_by(zoom)
        for item in view.blank_items:
            item.repaint_all()
        longest, bits = 0.0, 0
        began = time.perf_counter()
        view.viewport().repaint()
        longest = time.perf_counter() - began
        while True:
            began = time.perf_counter()
            more = view.camera._sharpen()
            longest = max(longest, time.perf_counter() - began)
            bits += 1
            if not more:
                break
        print(
            f"first sharp picture, {name}: {bits} bits, longest {longest * 1e3:.1f} ms"
        )


def test_pan_and_zoom(view: BenchView, qapp: QApplication) -> None:
    """Repainting after a pan and after a zoom, at Fit and at one blank."""
    for name, fit in (
        ("all 20 blanks", view.fit),
        ("one blank", lambda: view.fit_blank(7)),
    ):
        fit()
        qapp.processEvents()
        pan: list[float] = []
        zoom: list[float] = []
        view.zoom_by(1.2)
        qapp.processEvents()
        for k in range(40):
            began = time.perf_counter()
            view.camera.scroll(9 if k % 20 < 10 else -9, 5 if k % 20 < 10 else -5)
            qapp.processEvents()
            pan.append(time.perf_counter() - began)
        for k in range(24):
            began = time.perf_counter()
            view.zoom_by(1.2 if k % 8 < 4 else 1 / 1.2, QPointF(500, 400))
            qapp.processEvents()
            zoom.append(time.perf_counter() - began)
        told(f"pan, {name}", pan)
        told(f"zoom, {name}", zoom)


def test_select_all(view: BenchView, qapp: QApplication) -> None:
    """Selecting every part, until it is seen."""
    taken = []
    for _ in range(5):
        view.document.select(())
        qapp.processEvents()
        began = time.perf_counter()
        view.document.select_all()
        qapp.processEvents()
        taken.append(time.perf_counter() - began)
    told("select all 1,000", taken)


def test_nudge(view: BenchView, qapp: QApplication) -> None:
    """A nudge, until it is seen: the check of its blank included."""
    key = key_of(view.document.job.layout.placements[123])
    view.document.conflicts()
    taken = []
    for k in range(20):
        began = time.perf_counter()
        view.document.nudge([key], 0.1 if k % 2 else -0.1, 0)
        qapp.processEvents()
        taken.append(time.perf_counter() - began)
    told("nudge", taken)


def test_start() -> None:
    """A bench without a job, from nothing; numba must not be loaded."""
    code = (
        "import sys, time; t = time.perf_counter()\n"
        "from PySide6.QtWidgets import QApplication\n"
        "from drystone.app.bench.view import BenchView\n"
        "from drystone.app.window.document import Document\n"
        "from drystone.app.window.engine_process import EngineProcess\n"
        "app = QApplication([]); v = BenchView(Document()); v.show()\n"
        "app.processEvents()\n"
        "assert 'numba' not in sys.modules\n"
        "print(f'bench up without a job: {time.perf_counter() - t:.2f} s')"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    print("\n" + done.stdout.strip())
