"""What the keyboard does on the bench.

While the bench has the focus: arrows nudge (Shift ten steps, Ctrl a tenth; both push up
to a neighbour), R and Shift+R turn, F flips, L locks, S settles what lies wrongly
where there is room, Return takes numbers, Del puts in the tray, comma and full stop go
from part to part, K from keep-out to keep-out, PgUp and PgDn from blank to blank (Shift
takes what is selected along), M measures, G lines edges up or not, the menu key and
Shift+F10 open the menu at the part, Esc cancels or clears.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from ...nesting.model.motion import Motion
from ...nesting.model.placement import Placement
from . import arrange
from .camera import ZOOM_STEP
from .copies import key_of
from .gestures import CTRL, SHIFT, MeasureGesture
from .hover import about
from .numbers_plate import open_plate
from .settling import pushed, settled_near
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
        elif key == Qt.Key.Key_Menu or (key == Qt.Key.Key_F10 and mods & SHIFT):
            self._view.open_menu()  # not every desktop turns these into a menu event
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
        if int(key) in arrows and self._view.pointer.chosen_keep_out is not None:
            dx, dy = arrows[int(key)]
            step = self._view.nudge_step * (10 if mods & SHIFT else 1)
            self._nudge_keep_out(dx * step, dy * step)
        elif int(key) in arrows and mods & CTRL and mods & SHIFT:
            self._push(arrows[int(key)])
        elif int(key) in arrows and chosen:
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
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown) and mods & SHIFT:
            self._carry_over(1 if key == Qt.Key.Key_PageDown else -1)
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            self._walk_blanks(1 if key == Qt.Key.Key_PageDown else -1)
        elif key == Qt.Key.Key_M:
            self._measure()
        elif key == Qt.Key.Key_S:
            self.settle()
        elif key == Qt.Key.Key_G:
            self._view.set_lines_up(not self._view.lines_up)
        elif key == Qt.Key.Key_K:
            self._walk_keep_outs()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            open_plate(self._view)
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
        self._view.say(" · ".join(about(self._view, key)))

    def _walk_keep_outs(self) -> None:
        """Choose the next keep-out of the blank in view, none after the last."""
        if not self._view.plan.boxes:
            return
        blank = self._view.camera.blank_in_view()
        keep_outs = self._view.document.job.stock_of(blank).keep_outs
        chosen = self._view.pointer.chosen_keep_out
        at = chosen[1] + 1 if chosen is not None and chosen[0] == blank else 0
        if at >= len(keep_outs):
            self._view.pointer.choose_keep_out(None)
            return
        self._view.pointer.choose_keep_out((blank, at))
        self._view.say(
            tr("{name}: arrows move it, Return takes numbers, Del removes it").format(
                name=keep_outs[at].label or tr("Keep-out")
            )
        )

    def _nudge_keep_out(self, dx: float, dy: float) -> None:
        chosen = self._view.pointer.chosen_keep_out
        assert chosen is not None
        stock = self._view.document.job.stock_of(chosen[0])
        keep_outs = list(stock.keep_outs)
        one = keep_outs[chosen[1]]
        keep_outs[chosen[1]] = replace(one, loop=one.loop.moved(Motion(dx, dy)))
        self._view.document.set_keep_outs(stock.id, keep_outs, tr("Change a keep-out"))

    def _push(self, way: tuple[int, int]) -> None:
        """Push what is selected up to a neighbour."""
        document = self._view.document
        parts = document.movable(document.selection)
        if not parts:
            return
        if len({p.blank for p in parts}) > 1:
            document.say("info", tr("Select parts of one blank to push them."))
            return
        moved = pushed(document.job, parts, way)
        if moved is None:
            document.say(
                "info", tr("What lies wrongly cannot be pushed; S settles it first.")
            )
            return
        text = document.gesture_text(
            tr("Push {name}"), tr("Push {count} parts"), [key_of(p) for p in parts]
        )
        document.replace_placements(text, moved)

    def settle(self) -> None:
        """Bring what is selected to the nearest places where it lies well."""
        parts = self._view.document.movable(self._view.document.selection)
        self._settle_at(parts, tr("Settle {name}"), tr("Settle {count} parts"))

    def to_blank(self, blank: int) -> None:
        """Move what is selected to another blank, to where there is room on it."""
        document = self._view.document
        if not 0 <= blank < len(document.job.layout.blanks):
            return
        parts = document.movable(document.selection)
        wished = [replace(p, blank=blank) for p in parts if p.blank != blank]
        self._settle_at(
            wished,
            tr("Move {name} to another blank"),
            tr("Move {count} parts to another blank"),
        )

    def _settle_at(self, wished: list[Placement], one: str, many: str) -> None:
        document = self._view.document
        laid, left = settled_near(document.job, wished)
        if laid:
            text = document.gesture_text(one, many, [key_of(p) for p in laid])
            document.replace_placements(text, laid)
        if left:
            name = document.name_of(key_of(left[0]))
            document.say(
                "warn", tr("There is no room for {name} there.").format(name=name)
            )

    def _carry_over(self, way: int) -> None:
        """Move what is selected to the next or the previous blank."""
        blanks = {
            p.blank
            for p in self._view.document.placements(self._view.document.selection)
        }
        if blanks:
            self.to_blank((max(blanks) if way > 0 else min(blanks)) + way)

    def _measure(self) -> None:
        """Measure between two selected parts at once, or begin to measure by edges."""
        view = self._view
        if view.tool == "measure":
            view.set_tool("select")
            return
        view.set_tool("measure")
        chosen = sorted(view.document.selection)
        if len(chosen) == 2:
            one, two = (view.finder.polygon(key) for key in chosen)
            gesture = MeasureGesture(view, (0.0, 0.0))
            view.say(gesture.between(one, two))

    def _walk_blanks(self, way: int) -> None:
        if not self._view.plan.boxes:
            return
        near = self._view.camera.blank_in_view()
        self._view.fit_blank(min(max(near + way, 0), len(self._view.plan.boxes) - 1))
