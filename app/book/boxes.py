"""Tick boxes whose edge can be seen on a light and on a dark ground.

The style draws a box's edge in a darker shade of the window's colour, which vanishes
on a dark ground. It is given another such colour here, for the edge alone.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject
from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QCheckBox, QWidget

from ..window.look import is_dark


def edge_palette(palette: QPalette) -> QPalette:
    """Return a palette with which the edge of a box has a contrast of 3 and more."""
    own = QPalette(palette)
    own.setColor(
        QPalette.ColorRole.Window, QColor("#F0EDE4" if is_dark(palette) else "#A0A0A0")
    )
    return own


class _Follower(QObject):
    """Gives a box its own palette again when that of its surroundings changes."""

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the parent's palette."""
        if event.type() == QEvent.Type.PaletteChange and isinstance(watched, QWidget):
            self.follow(watched)
        return False

    def follow(self, parent: QWidget) -> None:
        box = self.parent()
        if isinstance(box, QCheckBox):
            box.setPalette(edge_palette(parent.palette()))


def visible_box(box: QCheckBox) -> None:
    """Let the edge of a tick box be seen."""
    follower = _Follower(box)
    parent = box.parentWidget()
    assert parent is not None
    parent.installEventFilter(follower)
    follower.follow(parent)
