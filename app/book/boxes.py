"""Edges of fields and tick boxes that can be seen on a light and on a dark ground.

The style draws an edge in a darker shade of the window's colour, which vanishes on a
dark ground and is faint on a light one. It is given another such colour here, for the
edge alone.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject
from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QLabel, QWidget

from ..bench.sound import sound
from ..window.look import ink, is_dark


def edge_palette(palette: QPalette) -> QPalette:
    """Return a palette with which edges have a contrast of 3 and more."""
    own = QPalette(palette)
    own.setColor(
        QPalette.ColorRole.Window, QColor("#C8C4BA" if is_dark(palette) else "#A0A0A0")
    )
    return own


class _Follower(QObject):
    """Gives a widget its own palette again when that of its surroundings changes."""

    @sound
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the parent's palette."""
        if event.type() == QEvent.Type.PaletteChange and isinstance(watched, QWidget):
            self.follow(watched)
        return False

    def follow(self, parent: QWidget) -> None:
        widget = self.parent()
        if isinstance(widget, QWidget):
            widget.setPalette(edge_palette(parent.palette()))


def visible_edge(widget: QWidget) -> None:
    """Let the edge of a tick box, a line or a list to choose from be seen."""
    follower = _Follower(widget)
    parent = widget.parentWidget()
    assert parent is not None
    parent.installEventFilter(follower)
    follower.follow(parent)


LEVEL = "level"
"""Under this name a label remembers the level its words have."""


def tint(label: QLabel, level: str) -> None:
    """Give words the colour of a level; the plain one without a level.

    A style sheet would do it too, but keeps a text's size when the user's changes. The
    colour follows the palette round the label.
    """
    if label.property(LEVEL) is None:
        label.installEventFilter(_Tinted(label))
    label.setProperty(LEVEL, level)
    palette = QPalette()
    if level:
        parent = label.parentWidget()
        around = parent.palette() if parent is not None else label.palette()
        palette.setColor(QPalette.ColorRole.WindowText, QColor(ink(level, around)))
    # Setting what is set already would tell the label of a change, without end.
    if palette.resolveMask() != label.palette().resolveMask() or (
        level and palette.windowText() != label.palette().windowText()
    ):
        label.setPalette(palette)


class _Tinted(QObject):
    """Tints a label anew when the palette round it has changed."""

    @sound
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Look at what the palette is now."""
        if event.type() == QEvent.Type.PaletteChange and isinstance(watched, QLabel):
            tint(watched, str(watched.property(LEVEL)))
        return False
