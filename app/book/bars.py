"""Bars of what variants come to: one group for each thing that is measured."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from ..bench.colours import Theme
from ..bench.sound import sound


@dataclass(frozen=True)
class Group:
    """Bars of one thing that is measured.

    Parameters
    ----------
    title : str
        What is measured.
    values : tuple of float
        One for each variant; not a number where there is none.
    labels : tuple of str
        What is written beside each bar.
    """

    title: str
    values: tuple[float, ...]
    labels: tuple[str, ...]


class BarsPlot(QWidget):
    """Groups of bars under each other; the first bar of a group is the order as it is.

    The table beside it holds the same numbers, for those who do not see it.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._names: tuple[str, ...] = ()
        self._groups: tuple[Group, ...] = ()
        self._best: tuple[int | None, ...] = ()
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(self.tr("Plot of the variants"))

    def show_bars(self, names: Sequence[str], groups: Sequence[Group]) -> None:
        """Show bars: a name for each variant, groups of a value for each."""
        self._names, self._groups = tuple(names), tuple(groups)
        self._best = tuple(_least(group.values) for group in self._groups)
        self.updateGeometry()
        self.update()

    def _row(self) -> int:
        return self.fontMetrics().height() + 7

    def sizeHint(self) -> QSize:
        """Return the size that shows every bar."""
        rows = len(self._groups) * (len(self._names) + 2)
        return QSize(300, rows * self._row())

    def minimumSizeHint(self) -> QSize:
        """Return the least size."""
        return QSize(200, self.sizeHint().height())

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the bars."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        theme = Theme.of(self.palette())
        ink = self.palette().windowText().color()
        metrics, row = self.fontMetrics(), self._row()
        # A pixel more: widths are rounded, and what is a little wider would be cut.
        names = max(
            (metrics.horizontalAdvance(name) + 1 for name in self._names), default=0
        )
        left = min(names, self.width() * 4 // 10) + 8
        room = max(
            (metrics.horizontalAdvance(t) for g in self._groups for t in g.labels),
            default=0,
        )
        across = max(self.width() - left - room - 14, 20)
        plain = QColor(theme.channel)
        base = QColor("#56B4E9") if theme.dark else QColor("#0072B2")
        middle = int(Qt.AlignmentFlag.AlignVCenter)
        y = 0.0
        for group, best in zip(self._groups, self._best, strict=True):
            bold = painter.font()
            bold.setBold(True)
            painter.save()
            painter.setFont(bold)
            painter.setPen(ink)
            painter.drawText(QRectF(0, y, self.width(), row), middle, group.title)
            painter.restore()
            y += row
            known = [value for value in group.values if math.isfinite(value)]
            most = max(known, default=0.0) or 1.0
            for i, name in enumerate(self._names):
                value, label = group.values[i], group.labels[i]
                elided = metrics.elidedText(
                    name, Qt.TextElideMode.ElideRight, round(left - 8)
                )
                painter.setPen(ink)
                painter.drawText(QRectF(0, y, left - 8, row), middle, elided)
                long = across * value / most if math.isfinite(value) else 0.0
                if long > 0.0:
                    box = QRectF(left, y + 4, long, row - 8)
                    painter.fillRect(box, base if i == 0 else plain)
                    painter.setPen(QPen(theme.board_edge, 1.0))
                    painter.drawRect(box)
                painter.setPen(ink)
                text = f"{label} ◂" if i == best and len(known) > 1 else label
                painter.drawText(
                    QRectF(left + long + 6, y, self.width() - left - long, row),
                    middle,
                    text,
                )
                y += row
            y += row
        painter.end()


def _least(values: Sequence[float]) -> int | None:
    known = [(v, i) for i, v in enumerate(values) if math.isfinite(v)]
    return min(known)[1] if known else None
