"""What the keyboard does on the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from ...nesting.model.placement import Placement
from ..window.edits import key_of
from . import arrange
from .camera import ZOOM_STEP
from .gestures import CTRL, SHIFT
from .words import tr

if TYPE_CHECKING:
    from .view import BenchView


class Keys:
    """Turns key presses into edits, and walks from part to part.

    Parameters
    ----------
    view : BenchView
        The bench.
    """

    def __init__(self, view: BenchView) -> None:
        self._view = view

    def press(self, event: QKeyEvent) -> None:
        """Nudge, turn, lock, walk from part to part, zoom."""
        key, mods = event.key(), event.modifiers()
        if key == Qt.Key.Key_Escape:
            self._escape()
        elif self._view.gesture is not None:
            if key in (Qt.Key.Key_Control, Qt.Key.Key_Shift):
                self._view.follow(self._view.pointer.place, mods)
        elif key == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._view.pointer.space = True
            self._view.viewport().setCursor(Qt.CursorShape.OpenHandCursor)
        elif not (self._zoom_key(key, mods) or self._part_key(key, mods)):
            event.ignore()

    def release(self, event: QKeyEvent) -> None:
        """End panning; let a gesture notice that Ctrl or Shift was let go."""
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._view.pointer.space = False
            self._view.viewport().setCursor(Qt.CursorShape.ArrowCursor)
        elif self._view.gesture is not None:
            self._view.follow(self._view.pointer.place, event.modifiers())
        else:
            event.ignore()

    def _escape(self) -> None:
        if self._view.gesture is not None or self._view.pointer.armed is not None:
            self._view.cancel()
        elif self._view.tool != "select":
            self._view.set_tool("select")
        elif self._view.pointer.chosen_keep_out is not None:
            self._view.pointer.choose_keep_out(None)
        else:
            self._view.document.select(())

    def _zoom_key(self, key: int, mods: Qt.KeyboardModifier) -> bool:
        if not mods & CTRL:
            return False
        if key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self._view.zoom_by(ZOOM_STEP)
        elif key == Qt.Key.Key_Minus:
            self._view.zoom_by(1.0 / ZOOM_STEP)
        elif key == Qt.Key.Key_0:
            self._view.fit()
        else:
            return False
        return True

    def _part_key(self, key: int, mods: Qt.KeyboardModifier) -> bool:
        document = self._view.document
        chosen = document.selection
        arrows = {
            int(Qt.Key.Key_Left): (-1, 0),
            int(Qt.Key.Key_Right): (1, 0),
            int(Qt.Key.Key_Up): (0, 1),
            int(Qt.Key.Key_Down): (0, -1),
        }
        if int(key) in arrows and chosen:
            dx, dy = arrows[int(key)]
            step = self._view.nudge_step * (
                10 if mods & SHIFT else 0.1 if mods & CTRL else 1
            )
            document.nudge(chosen, dx * step, dy * step)
        elif key == Qt.Key.Key_A and mods & CTRL:
            self._select_all()
        elif key == Qt.Key.Key_D and mods & CTRL:
            self._view.duplicate()
        elif mods & CTRL:
            return False
        elif key == Qt.Key.Key_R:
            document.turn_by(
                chosen, -self._view.turn_step if mods & SHIFT else self._view.turn_step
            )
        elif key == Qt.Key.Key_F:
            document.flip(chosen)
        elif key == Qt.Key.Key_L:
            locked = all(p.locked for p in document.placements(chosen))
            document.set_locked(chosen, not locked)
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._delete()
        elif key in (Qt.Key.Key_Period, Qt.Key.Key_Comma):
            self._walk(1 if key == Qt.Key.Key_Period else -1)
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            self._walk_blanks(1 if key == Qt.Key.Key_PageDown else -1)
        elif key == Qt.Key.Key_M:
            self._view.set_tool("select" if self._view.tool == "measure" else "measure")
        else:
            return False
        return True

    def _select_all(self) -> None:
        """All on the blank being worked on; a second time, all there are."""
        document = self._view.document
        current = document.current
        here = None if current is None else document.placement(current)
        keys = frozenset(
            key_of(p)
            for p in document.job.layout.placements
            if here is not None and p.blank == here.blank
        )
        if here is None or keys <= document.selection:
            document.select_all()
        else:
            document.select(keys)

    def _delete(self) -> None:
        if self._view.pointer.chosen_keep_out is None:
            self._view.document.to_tray(self._view.document.selection)
            return
        blank, index = self._view.pointer.chosen_keep_out
        stock = self._view.document.job.stock_of(blank)
        left = [k for i, k in enumerate(stock.keep_outs) if i != index]
        self._view.pointer.choose_keep_out(None)
        self._view.document.set_keep_outs(stock.id, left, tr("Remove a keep-out"))

    def _walk(self, way: int) -> None:
        """Go to the next copy in reading order: blank by blank, top to bottom."""
        job = self._view.document.job

        def place(p: Placement) -> tuple[int, int, float]:
            x, y = arrange.centre_of(job, p)
            return p.blank, -round(y / 20.0), x

        order = [key_of(p) for p in sorted(job.layout.placements, key=place)]
        if not order:
            return
        current = self._view.document.current
        at = order.index(current) + way if current in order else 0 if way > 0 else -1
        key = order[at % len(order)]
        self._view.document.select([key], key)
        self._view.bring_into_view(frozenset({key}))

    def _walk_blanks(self, way: int) -> None:
        if not self._view.plan.boxes:
            return
        near = self._view.camera.blank_in_view()
        self._view.fit_blank(min(max(near + way, 0), len(self._view.plan.boxes) - 1))
