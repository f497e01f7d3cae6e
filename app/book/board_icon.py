"""Small pictures of boards."""

from __future__ import annotations

from PySide6.QtGui import QIcon, QPalette

from ...nesting.model.outline import Outline
from ..bench.colours import Theme
from ..window.look import outline_icon


def board_icon(outline: Outline, palette: QPalette, size: int = 24) -> QIcon:
    """Return a small picture of a board."""
    theme = Theme.of(palette)
    return outline_icon(outline, theme.channel, theme.board_edge, 1.2, size)


class BoardIcons:
    """Pictures of boards, each painted once for a palette."""

    def __init__(self) -> None:
        self._kept: dict[int, tuple[Outline, QIcon]] = {}
        self._dark: bool | None = None

    def of(self, outline: Outline, palette: QPalette) -> QIcon:
        """Return the picture of a board."""
        dark = Theme.of(palette).dark
        if dark is not self._dark:
            self._kept.clear()
            self._dark = dark
        found = self._kept.get(id(outline))
        if found is None or found[0] is not outline:
            found = (outline, board_icon(outline, palette))
            self._kept[id(outline)] = found
        return found[1]
