"""Someone in front of the bench: real mouse and key events."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from drystone.app.bench.view import BenchView
from drystone.app.window.edits import Key
from drystone.nesting.model.placement import Placement

LEFT = Qt.MouseButton.LeftButton
NONE = Qt.KeyboardModifier.NoModifier
CTRL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier


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

    def where(self, key: Key) -> Placement:
        found = self.document.placement(key)
        assert found is not None
        return found
