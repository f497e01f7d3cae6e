"""What the mouse does on the bench: press, move, let go, click."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import shapely
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QGuiApplication, QMouseEvent

from ...nesting.model.motion import Point
from .copies import Key
from .gestures import (
    CTRL,
    SHIFT,
    BandGesture,
    KeepOutGesture,
    MeasureGesture,
)
from .moving import MoveGesture
from .turn_gesture import TurnGesture
from .words import size_text, tr

if TYPE_CHECKING:
    from .view import BenchView

HANDLE = 12.0
"""Half the side of the area in which the turning handle takes a press, pixels."""


class Pointer:
    """Turns what the mouse does into selections and gestures.

    Parameters
    ----------
    view : BenchView
        The bench.
    """

    def __init__(self, view: BenchView) -> None:
        self._view = view
        self.armed: tuple[str, QPoint, Point, Any] | None = None
        self.place = QPoint()
        self.space = False
        self.chosen_keep_out: tuple[int, int] | None = None
        self._pan: QPoint | None = None
        self._pressed = QPoint()
        self._clicked_second = False

    def press(self, event: QMouseEvent) -> None:
        """Begin: select, or get ready to drag, turn, band, measure or pan."""
        place = event.position().toPoint()
        self.place = self._pressed = place
        middle = event.button() == Qt.MouseButton.MiddleButton
        if middle or (self.space and event.button() == Qt.MouseButton.LeftButton):
            self._pan = place
            self._view.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
            return
        if (
            event.button() == Qt.MouseButton.RightButton
            and self._view.gesture is not None
        ):
            self.cancel()
            return
        if event.button() != Qt.MouseButton.LeftButton:
            return
        if self._view.gesture is not None:
            self._clicked_second = isinstance(self._view.gesture, MeasureGesture)
            return
        at = self._view.camera.point(place)
        if self._view.tool == "measure":
            self.armed = ("measure", place, at, None)
            return
        blank = self._view.plan.blank_at(at)
        if self._view.tool in ("circle", "rectangle"):
            if blank is not None:
                self.armed = (self._view.tool, place, at, blank)
            return
        handle = self._view.handle_at()
        if handle is not None:
            off = QPointF(place) - handle
            if max(abs(off.x()), abs(off.y())) <= HANDLE:
                self.armed = ("turn", place, at, None)
                return
        key = self._view.copy_at(at)
        toggle = bool(event.modifiers() & CTRL)
        add = bool(event.modifiers() & SHIFT)
        if key is None:
            if blank is not None and self._arm_keep_out(place, at, blank):
                return
            self.choose_keep_out(None)
            self.armed = ("band", place, at, toggle or add)
            return
        self.choose_keep_out(None)
        selection = self._view.document.selection
        if key in selection:
            # A press on what is selected drags all of it; a click decides on release.
            how = "toggle" if toggle else "" if add else "only"
            self.armed = ("move", place, at, (how, key))
        else:
            new = selection | {key} if toggle or add else frozenset({key})
            self._view.document.select(new, key)
            self.armed = ("move", place, at, ("", key))

    def _arm_keep_out(self, place: QPoint, at: Point, blank: int) -> bool:
        stock = self._view.document.job.stock_of(blank)
        point = shapely.Point(self._view.plan.on_blank(blank, at))
        for i, keep_out in enumerate(stock.keep_outs):
            shape = shapely.Polygon(keep_out.loop.flatten(0.01))
            rim = 6.0 / self._view.scale_now()
            if shapely.distance(shape, point) > rim:
                continue
            on_rim = shapely.distance(shape.boundary, point) <= rim
            chosen = self.chosen_keep_out == (blank, i)
            self.choose_keep_out((blank, i))
            how = "size" if on_rim and chosen else "move"
            self.armed = ("keep-out", place, at, (blank, i, how))
            return True
        return False

    def choose_keep_out(self, chosen: tuple[int, int] | None) -> None:
        """Choose a keep-out by its blank and its place in the list, or none."""
        if chosen == self.chosen_keep_out:
            return
        self.chosen_keep_out = chosen
        for item in self._view.blank_items:
            here = chosen is not None and chosen[0] == item.index
            item.chosen_keep_out = chosen[1] if here and chosen else -1
            item.repaint_all()
        if chosen is not None:
            self._view.document.select(())

    def move(self, event: QMouseEvent) -> None:
        """Go on with what the press began, once the pointer has moved enough."""
        place = event.position().toPoint()
        if self._pan is not None:
            by = place - self._pan
            self._pan = place
            self._view.camera.scroll(-by.x(), -by.y())
            return
        at = self._view.camera.point(event.position())
        if self.armed is not None and self._view.gesture is None:
            moved = (place - self.armed[1]).manhattanLength()
            if moved >= QGuiApplication.styleHints().startDragDistance():
                self._begin()
        if self._view.gesture is not None:
            self.follow(place, event.modifiers())
        else:
            self.place = place
            key = self._view.copy_at(at) if self.armed is None else None
            self._hover(key)

    def _hover(self, key: Key | None) -> None:
        view = self._view
        if key is None:
            view.say("")
            return
        job = view.document.job
        size = size_text(*job.part(key[0]).outline.size, job.units)
        view.say(f"{view.document.name_of(key)} · {size}")

    def _begin(self) -> None:
        assert self.armed is not None
        kind, _, at, more = self.armed
        self.armed = None
        if kind == "move":
            parts = self._view.document.movable(self._view.document.selection)
            pressed = self._view.document.placement(more[1])
            if not parts or pressed is None or pressed.locked:
                if pressed is not None and pressed.locked:
                    self._view.document.movable([more[1]])
                self._view.viewport().setCursor(Qt.CursorShape.ForbiddenCursor)
                return
            self._view.gesture = MoveGesture(self._view, at, parts, pressed.blank)
            self._view.viewport().setCursor(Qt.CursorShape.SizeAllCursor)
        elif kind == "turn":
            self._view.gesture = TurnGesture(
                self._view, at, self._view.foreground.handle_placements()
            )
        elif kind == "band":
            self._view.gesture = BandGesture(self._view, at, more)
            self._view.viewport().setCursor(Qt.CursorShape.CrossCursor)
        elif kind == "measure":
            self._view.gesture = MeasureGesture(self._view, at)
        elif kind == "keep-out":
            self._view.gesture = KeepOutGesture(
                self._view, at, more[0], more[2], more[1]
            )
        else:
            self._view.gesture = KeepOutGesture(self._view, at, more, kind)
        self._view.overview.follow()

    def follow(self, place: QPoint, keys: Qt.KeyboardModifier) -> None:
        """Let the gesture follow the pointer, and show its figures."""
        if self._view.gesture is None:
            return
        old = self._view.foreground.figures_area()
        self.place = place
        self._view.figures = self._view.gesture.move(
            self._view.camera.point(place), keys
        )
        words = " · ".join(self._view.figures.split("\n"))
        words = f"{words}   {self._view.gesture.hint}".strip()
        if self._is_carried_out(place):
            words = tr("Let go over the tray: it goes there. Elsewhere: it goes back.")
        self._view.said.emit(words)
        self._view.viewport().update(old)
        self._view.viewport().update(self._view.foreground.figures_area())

    def _is_carried_out(self, place: QPoint) -> bool:
        """Return whether parts are being dragged out of the bench."""
        inside = self._view.viewport().rect().contains(place)
        return not inside and isinstance(self._view.gesture, MoveGesture)

    def release(self, event: QMouseEvent) -> None:
        """Do what the gesture shows, or what a click means."""
        if self._pan is not None:
            self._pan = None
            self._view.viewport().setCursor(
                Qt.CursorShape.OpenHandCursor
                if self.space
                else Qt.CursorShape.ArrowCursor
            )
            return
        if event.button() != Qt.MouseButton.LeftButton:
            return
        armed, self.armed = self.armed, None
        gesture = self._view.gesture
        if self._view.tool == "select":
            self._view.viewport().setCursor(Qt.CursorShape.ArrowCursor)
        if gesture is None:
            if armed is not None and armed[0] == "measure":
                # A click: the second one ends it.
                self.armed = armed
                self._begin()
            elif armed is not None:
                self._click(armed)
            return
        place = event.position().toPoint()
        if self._is_carried_out(place) and isinstance(gesture, MoveGesture):
            keys = gesture.keys
            self.cancel()
            self._view.dropped_outside.emit(keys, event.globalPosition().toPoint())
            return
        if isinstance(gesture, MeasureGesture) and not self._clicked_second:
            near = (place - self._pressed).manhattanLength()
            if near < QGuiApplication.styleHints().startDragDistance():
                return
        self._clicked_second = False
        gesture.finish()
        self._view.gesture = None
        self._view.figures = ""
        self._view.after_gesture()

    def _click(self, armed: tuple[str, QPoint, Point, Any]) -> None:
        kind, _, _, more = armed
        if kind == "band" and not more:
            self._view.document.select(())
        elif kind == "move" and more[0] == "only":
            self._view.document.select([more[1]])
        elif kind == "move" and more[0] == "toggle":
            self._view.document.select(self._view.document.selection - {more[1]})

    def double_click(self, event: QMouseEvent) -> None:
        """Ask for a hole to be filled, or select all copies of a part."""
        if event.button() != Qt.MouseButton.LeftButton:
            return
        at = self._view.camera.point(event.position())
        key = self._view.copy_at(at)
        if key is not None:
            self._view.document.select_part(key[0])
            return
        hole = self._view.hole_at(at)
        if hole is not None:
            self._view.fill_hole(*hole)

    def cancel(self) -> None:
        """Put everything back as it was before the gesture began."""
        gesture, self._view.gesture = self._view.gesture, None
        self.armed = None
        self._view.figures = ""
        if gesture is not None:
            gesture.cancel()
            self._view.after_gesture()
        self._view.viewport().setCursor(Qt.CursorShape.ArrowCursor)
