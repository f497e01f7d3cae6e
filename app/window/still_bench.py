"""A bench to look at only: it zooms and pans, and nothing on it can be changed."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import (
    QContextMenuEvent,
    QDragEnterEvent,
    QKeyEvent,
    QMouseEvent,
)

from ..bench.sound import sound
from ..bench.view import BenchView
from .document import Document

LOOKING = frozenset(
    (
        Qt.Key.Key_Plus,
        Qt.Key.Key_Equal,
        Qt.Key.Key_Minus,
        Qt.Key.Key_0,
        Qt.Key.Key_PageUp,
        Qt.Key.Key_PageDown,
    )
)
"""Keys that change only what is seen."""


class StillBench(BenchView):
    """Shows a document's layout; dragging pans.

    Parameters
    ----------
    document : Document
        What it shows.
    shape : float
        Width to height that the rows of blanks aim at.
    """

    scrolls = False

    def __init__(self, document: Document, shape: float) -> None:
        super().__init__(document)
        self.shape = shape
        self.edges = (30, 30)

    @sound
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Begin to pan, with either button."""
        self.pointer.space = True
        super().mousePressEvent(event)
        self.pointer.space = False

    @sound
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Do nothing."""
        event.ignore()

    @sound
    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Open no menu: there is nothing to do here."""
        event.accept()

    @sound
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Zoom, and go from blank to blank."""
        if event.key() in LOOKING:
            super().keyPressEvent(event)
        else:
            event.ignore()

    @sound
    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take nothing."""
        event.ignore()
