"""The regions of the window, one after another by key."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QWidget


@dataclass(frozen=True)
class Region:
    """A part of the window.

    Attributes
    ----------
    whole : QWidget
        The region.
    stop : callable
        Returns the widget in it that takes the focus.
    """

    whole: QWidget
    stop: Callable[[], QWidget]


def hop(regions: Sequence[Region], way: int) -> None:
    """Go to the next region, or with -1 to the one before; hidden ones are skipped."""
    focus = QApplication.focusWidget()
    at = -1 if way > 0 else 0
    for number, region in enumerate(regions):
        if focus is not None and (
            region.whole is focus or region.whole.isAncestorOf(focus)
        ):
            at = number
    count = len(regions)
    for step in range(1, count + 1):
        stop = regions[(at + way * step) % count].stop()
        if stop.isVisible() and stop.isEnabled():
            # As Tab does: without it, buttons do not show that they have the focus.
            window = stop.window()
            window.setAttribute(Qt.WidgetAttribute.WA_KeyboardFocusChange, True)
            stop.setFocus(Qt.FocusReason.ShortcutFocusReason)
            return
