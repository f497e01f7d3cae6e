"""Small pictures of boards."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QSize, Qt
from PySide6.QtGui import QIcon, QPainter, QPalette, QPen, QPixmap

from ...nesting.model.outline import Outline
from ..bench.colours import Theme
from ..bench.paths import outline_path


def board_icon(outline: Outline, palette: QPalette, size: int = 24) -> QIcon:
    """Return a small picture of a board."""
    theme = Theme.of(palette)
    picture = QPixmap(QSize(size, size) * 2)
    picture.setDevicePixelRatio(2.0)
    picture.fill(Qt.GlobalColor.transparent)
    x0, y0, x1, y1 = outline.bounds
    scale = (size - 4) / max(x1 - x0, y1 - y0, 1e-9)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.translate(QPointF(size / 2, size / 2))
    painter.scale(scale, -scale)
    painter.translate(QPointF(-(x0 + x1) / 2, -(y0 + y1) / 2))
    pen = QPen(theme.board_edge, 1.2)
    pen.setCosmetic(True)
    painter.setPen(pen)
    painter.setBrush(theme.channel)
    painter.drawPath(outline_path(outline))
    painter.end()
    return QIcon(picture)


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
