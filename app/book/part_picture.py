"""What pictures of one part share: its size on the widget, and its shape."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from ...nesting.model.part import Part
from ..bench.colours import Theme
from ..bench.paths import outline_path
from ..bench.sound import sound


class PartPicture(QWidget):
    """One part as large as the widget allows; those who inherit draw on it.

    Parameters
    ----------
    edge : int
        Room left free at each side, pixels.
    """

    def __init__(self, edge: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._part: Part | None = None
        self._index = 0
        self._edge = edge
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        """Return the size it likes."""
        return QSize(320, 200)

    def minimumSizeHint(self) -> QSize:
        """Return the least size."""
        return QSize(160, 140)

    def _view(self) -> tuple[float, float, float]:
        """Return the scale, pixels a mm, and where the part's (0, 0) lies, pixels."""
        assert self._part is not None
        x0, y0, x1, y1 = self._part.outline.bounds
        scale = min(
            (self.width() - 2 * self._edge) / max(x1 - x0, 1e-9),
            (self.height() - 2 * self._edge) / max(y1 - y0, 1e-9),
        )
        return (
            scale,
            self.width() / 2 - scale * (x0 + x1) / 2,
            self.height() / 2 + scale * (y0 + y1) / 2,
        )

    def at(self, x: float, y: float) -> QPointF:
        """Return where a point of the part, mm, lies on the widget."""
        scale, left, foot = self._view()
        return QPointF(left + scale * x, foot - scale * y)

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the part in the colour of its place in the order, and what is on it."""
        if self._part is None:
            return
        theme = Theme.of(self.palette())
        scale, left, foot = self._view()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.save()
        painter.translate(left, foot)
        painter.scale(scale, -scale)
        fill, _, _ = theme.part_fill(self._index)
        pen = QPen(theme.outline if not theme.dark else theme.ink, 1.2)
        pen.setCosmetic(True)
        painter.setPen(pen)
        painter.setBrush(fill)
        painter.drawPath(outline_path(self._part.outline))
        painter.restore()
        self.draw_on(painter, theme)
        painter.end()

    def draw_on(self, painter: QPainter, theme: Theme) -> None:
        """Draw on the part; in pixels of the widget, see `at`."""
