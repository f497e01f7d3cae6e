"""What a screen reader finds on the bench: one list item for each placed copy.

Qt has no accessible objects for what lies in a graphics view, so they are made here:
`BenchAccessible` stands for the bench and hands out one `CopyAccessible` for each copy.
The table of placed copies says the same and can be edited; this is the quicker way to
hear what lies where. (PySide6's stubs do not know that an interface may be missing,
hence the ignored overrides.)
"""

from __future__ import annotations

import ctypes
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, TypeVar

from PySide6.QtCore import QObject, QPoint, QRect, QRectF
from PySide6.QtGui import (
    QAccessible,
    QAccessibleAnnouncementEvent,
    QAccessibleEvent,
    QAccessibleInterface,
    QWindow,
)
from PySide6.QtWidgets import QAccessibleWidget

from ...nesting.model.placement import Layout
from . import arrange
from .copies import Key, key_of
from .hover import about
from .words import angle_text, length_text, reason_text, tr

if TYPE_CHECKING:
    from .view import BenchView


_Made = TypeVar("_Made", bound=QAccessibleInterface)


class CopyAccessible(QAccessibleInterface):
    """One placed copy as a list item.

    Parameters
    ----------
    bench : BenchAccessible
        What it lies on.
    key : tuple of str and int
        Which copy.
    """

    def __init__(self, bench: BenchAccessible, key: Key) -> None:
        super().__init__()
        self._bench = bench
        self.key = key

    def isValid(self) -> bool:
        """Return whether the copy still lies on the bench."""
        view = self._bench.view()
        return view is not None and view.document.placement(self.key) is not None

    def object(self) -> QObject | None:  # type: ignore[override]
        """Return nothing: there is no object for one copy."""
        return None

    def window(self) -> QWindow | None:  # type: ignore[override]
        """Return the bench's window."""
        return self._bench.window()

    def parent(self) -> QAccessibleInterface:
        """Return the bench."""
        return self._bench

    def child(self, index: int) -> QAccessibleInterface | None:  # type: ignore[override]
        """Return nothing: a copy has no children."""
        return None

    def childAt(self, x: int, y: int) -> QAccessibleInterface | None:  # type: ignore[override]
        """Return nothing: a copy has no children."""
        return None

    def childCount(self) -> int:
        """Return 0."""
        return 0

    def indexOfChild(self, child: QAccessibleInterface) -> int:
        """Return -1: a copy has no children."""
        return -1

    def text(self, kind: QAccessible.Text) -> str:
        """Return the copy's name and where it lies, or all there is to tell."""
        view = self._bench.view()
        placement = None if view is None else view.document.placement(self.key)
        if view is None or placement is None:
            return ""
        if kind == QAccessible.Text.Name:
            return copy_words(view, self.key)
        if kind == QAccessible.Text.Description:
            return ", ".join(about(view, self.key)[1:])
        return ""

    def setText(self, kind: QAccessible.Text, text: str) -> None:
        """Do nothing: names are changed in Parts."""

    def rect(self) -> QRect:
        """Return what the copy covers on the screen."""
        view = self._bench.view()
        placement = None if view is None else view.document.placement(self.key)
        if view is None or placement is None:
            return QRect()
        x0, y0, x1, y1 = arrange.box_of(view.document.job, placement)
        ox, oy = view.plan.origins[placement.blank]
        box = view.viewportTransform().mapRect(
            QRectF(x0 + ox, y0 + oy, x1 - x0, y1 - y0)
        )
        corner = view.viewport().mapToGlobal(QPoint(0, 0))
        return box.toAlignedRect().translated(corner)

    def role(self) -> QAccessible.Role:
        """Return that of a list item."""
        return QAccessible.Role.ListItem

    def state(self) -> QAccessible.State:
        """Return whether it is selected, where the keys are, and whether it is seen."""
        state = QAccessible.State()
        view = self._bench.view()
        if view is None:
            return state
        state.selectable = True
        state.focusable = True
        selected = self.key in view.document.selection
        state.selected = selected
        focused = view.hasFocus() and view.document.current == self.key
        state.focused = focused
        screen = QRect(
            view.viewport().mapToGlobal(QPoint(0, 0)), view.viewport().size()
        )
        state.offscreen = not screen.intersects(self.rect())
        return state


class BenchAccessible(QAccessibleWidget):
    """The bench as a list of the copies that lie on it.

    Parameters
    ----------
    view : BenchView
        The bench.
    """

    def __init__(self, view: BenchView) -> None:
        super().__init__(view, QAccessible.Role.List, view.accessibleName())
        self._view: BenchView | None = view
        self._children: dict[Key, CopyAccessible] = {}
        self._layout: Layout | None = None
        self._keys: list[Key] = []

    def view(self) -> BenchView | None:
        """Return the bench, or None when it is gone."""
        return self._view

    def forget(self) -> None:
        """Let the bench go."""
        self._view = None
        self._children.clear()

    def keys(self) -> list[Key]:
        """Return the placed copies, in the layout's order."""
        if self._view is None:
            return []
        layout = self._view.document.job.layout
        if layout is not self._layout:
            self._layout = layout
            self._keys = [key_of(p) for p in layout.placements]
        return self._keys

    def childCount(self) -> int:
        """Return how many copies lie on the bench."""
        return len(self.keys())

    def child(self, index: int) -> QAccessibleInterface | None:  # type: ignore[override]
        """Return one copy; the same object each time it is asked for."""
        keys = self.keys()
        if not 0 <= index < len(keys):
            return None
        key = keys[index]
        if key not in self._children:
            self._children[key] = _given_away(CopyAccessible(self, key))
        return self._children[key]

    def childAt(self, x: int, y: int) -> QAccessibleInterface | None:  # type: ignore[override]
        """Return the copy at a place of the screen."""
        if self._view is None:
            return None
        place = self._view.viewport().mapFromGlobal(QPoint(x, y))
        key = self._view.copy_at(self._view.camera.point(place))
        return None if key is None else self.child(self.keys().index(key))

    def indexOfChild(self, child: QAccessibleInterface) -> int:
        """Return which copy a child is, -1 if none."""
        keys = self.keys()
        if isinstance(child, CopyAccessible) and child.key in keys:
            return keys.index(child.key)
        return -1

    def focusChild(self) -> QAccessibleInterface | None:  # type: ignore[override]
        """Return the copy that the keys are at."""
        if self._view is None or not self._view.hasFocus():
            return None
        current, keys = self._view.document.current, self.keys()
        return None if current not in keys else self.child(keys.index(current))


def copy_words(view: BenchView, key: Key) -> str:
    """Return a copy's name, blank, place, turn and state in one line."""
    document = view.document
    placement = document.placement(key)
    assert placement is not None
    job = document.job
    x, y, _, _ = arrange.box_of(job, placement)
    words = [
        document.name_of(key),
        tr("blank {n}").format(n=placement.blank + 1),
        f"x {length_text(x, job.units)}",
        f"y {length_text(y, job.units)}",
        tr("turned {angle}").format(angle=angle_text(placement.turn)),
    ]
    if placement.locked:
        words.append(tr("locked"))
    conflict = document.conflicts().get(key)
    if conflict is not None:
        told = {
            reason_text(reason, document.name_of, job.units)
            for reason in conflict.reasons
        }
        words += sorted(told)
    return ", ".join(words)


_installed = False


def _given_away(made: _Made) -> _Made:
    """Let Qt have the only say over when an interface is deleted.

    Once a screen reader has seen an interface Qt's cache owns it and deletes it at the
    end. Python would delete it as well, and the program would crash when it is closed;
    a reference that is never given back keeps Python from it.
    """
    ctypes.pythonapi.Py_IncRef(ctypes.py_object(made))
    return made


def _factory(kind: str, thing: QObject | None) -> Any:
    from .view import BenchView

    if not isinstance(thing, BenchView):
        return None
    made = _given_away(BenchAccessible(thing))
    thing.destroyed.connect(made.forget)
    return made


def install() -> None:
    """Let screen readers look onto benches; once for the whole program."""
    global _installed
    if not _installed:
        _installed = True
        QAccessible.installFactory(_factory)


def tell_focus(view: BenchView) -> None:
    """Tell a screen reader, if one listens, which copy the keys are at."""
    key = view.document.current
    if not QAccessible.isActive() or key is None or not view.hasFocus():
        return
    for index, p in enumerate(view.document.job.layout.placements):
        if key_of(p) == key:
            event = QAccessibleEvent(view, QAccessible.Event.Focus)
            event.setChild(index)
            QAccessible.updateAccessibility(event)


def announce(view: BenchView, moved: Collection[Key]) -> None:
    """Tell a screen reader, if one listens, where a copy lies after an edit."""
    key = view.document.current
    if not QAccessible.isActive() or not view.hasFocus() or not moved:
        return
    if key is None or key not in moved:
        words = tr("{n} parts changed").format(n=len(moved))
    elif view.document.placement(key) is not None:
        words = copy_words(view, key)
    else:
        words = tr("{name} is in the tray now").format(name=view.document.name_of(key))
    QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(view, words))
