"""Someone in front of the bench: real mouse and key events."""

from __future__ import annotations

import math
from collections.abc import Iterator

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from drystone.app.bench import arrange
from drystone.app.bench.copies import Key
from drystone.app.bench.view import BenchView
from drystone.app.window.document import Document
from drystone.nesting.model.job import Job
from drystone.nesting.model.placement import Placement

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


def at_the_bench(qtbot: QtBot, job: Job) -> Iterator[Person]:
    """Yield someone in front of a bench that shows the job's first blank."""
    view = BenchView(Document(job))
    qtbot.addWidget(view)
    view.resize(1000, 700)
    view.show()
    qtbot.waitExposed(view)
    view.fit_blank(0)
    view.setFocus()
    yield Person(view)
    view.cancel()


class Person:
    """Someone with a mouse and a keyboard in front of the bench."""

    def __init__(self, view: BenchView) -> None:
        self.view = view
        self.document = view.document

    def pixel(self, x: float, y: float, blank: int = 0) -> QPoint:
        at = self.view.plan.on_bench(blank, (x, y))
        return self.view.mapFromScene(QPointF(*at))

    def press(
        self, x: float, y: float, blank: int = 0, keys: Qt.KeyboardModifier = NONE
    ) -> None:
        place = self.pixel(x, y, blank)
        self.at = place
        QTest.mousePress(self.view.viewport(), LEFT, keys, place)

    def go(self, place: QPoint, keys: Qt.KeyboardModifier = NONE) -> None:
        viewport = self.view.viewport()
        start = self.at
        for k in range(1, 9):
            here = start + (place - start) * (k / 8.0)
            event = QMouseEvent(
                QEvent.Type.MouseMove,
                QPointF(here),
                QPointF(viewport.mapToGlobal(here)),
                Qt.MouseButton.NoButton,
                LEFT,
                keys,
            )
            QApplication.sendEvent(viewport, event)
        self.at = place

    def let_go(self, keys: Qt.KeyboardModifier = NONE) -> None:
        QTest.mouseRelease(self.view.viewport(), LEFT, keys, self.at)

    def drag(
        self,
        start: tuple[float, float],
        end: tuple[float, float],
        keys: Qt.KeyboardModifier = NONE,
        blanks: tuple[int, int] = (0, 0),
    ) -> None:
        self.press(*start, blanks[0])
        self.go(self.pixel(*end, blanks[1]), keys)
        self.let_go(keys)

    def click(self, x: float, y: float, keys: Qt.KeyboardModifier = NONE) -> None:
        QTest.mouseClick(self.view.viewport(), LEFT, keys, self.pixel(x, y))

    def key(self, key: Qt.Key, keys: Qt.KeyboardModifier = NONE) -> None:
        QTest.keyClick(self.view, key, keys)

    def take_handle(self) -> QPointF:
        """Press on the turning handle; return where it stood."""
        handle = self.view.handle_at()
        assert handle is not None
        self.at = handle.toPoint()
        QTest.mousePress(self.view.viewport(), LEFT, NONE, self.at)
        return handle

    def turn_handle(self, degrees: float, keys: Qt.KeyboardModifier = NONE) -> None:
        """Take the handle round the middle of the only selected part."""
        (p,) = self.document.placements(self.document.selection)
        cx, cy = arrange.centre_of(self.document.job, p)
        handle = self.take_handle()
        middle = QPointF(self.pixel(cx, cy, p.blank))
        arm = handle - middle
        a = math.radians(-degrees)  # y runs down on the screen
        there = QPointF(
            arm.x() * math.cos(a) - arm.y() * math.sin(a),
            arm.x() * math.sin(a) + arm.y() * math.cos(a),
        )
        self.go((middle + there).toPoint(), keys)

    def where(self, key: Key) -> Placement:
        found = self.document.placement(key)
        assert found is not None
        return found
