"""Edges of buttons and fields that can be seen, all over a window."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QLineEdit, QPushButton, QToolButton, QWidget

from ..bench.sound import sound
from ..book.boxes import edge_palette
from .highlight import make_highlight_readable

KINDS = (QPushButton, QLineEdit, QToolButton)


class Edges(QObject):
    """Gives what is pressed or typed into edges of a contrast of 3 and more.

    What has such an edge already, because its part of the window sees to it, keeps it.

    Parameters
    ----------
    window : QWidget
        Below it everything is looked at, now and when its palette changes.
    """

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self.draw()
        window.installEventFilter(self)

    def draw(self) -> None:
        """Give every button and field its edge, and what is chosen its ground."""
        make_highlight_readable()
        palette = edge_palette(self._window.palette())
        for kind in KINDS:
            for widget in self._window.findChildren(kind):
                if type(widget) is kind:
                    widget.setPalette(palette)

    @sound
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the palette."""
        if event.type() == QEvent.Type.PaletteChange and watched is self._window:
            self.draw()
        return False
