"""A page that is filled only when somebody looks at it."""

from __future__ import annotations

from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QWidget

from ..bench.sound import sound


class LatePage(QWidget):
    """A page of the job book; those who inherit say in `fill` what it shows."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._stale = False

    def refresh(self) -> None:
        """Show what there is now, or when the page is looked at."""
        self._stale = not self.isVisible()
        if not self._stale:
            self.fill()

    def fill(self) -> None:
        """Show what there is now."""
        raise NotImplementedError

    @sound
    def showEvent(self, event: QShowEvent) -> None:
        """Show what has changed meanwhile."""
        super().showEvent(event)
        if self._stale:
            self.refresh()
