"""The yield of each better layout over time, with the limit no layout can pass."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QLocale, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPalette, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from ..bench.sound import sound
from .look import ink


class YieldPlot(QWidget):
    """A line of steps; the dashed line above it is the limit, where one is proven."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._points: list[tuple[float, float]] = []
        self._now = 0.0
        self._limit: float | None = None
        self._fix_size()
        self.setAccessibleName(self.tr("Yield over time"))

    def _fix_size(self) -> None:
        line = self.fontMetrics().height()
        self.setFixedSize(QSize(120 + 5 * line, max(44, 2 * line + 8)))

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the font."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self._fix_size()

    def begin(self) -> None:
        """Forget the last run."""
        self._points = []
        self._now = 0.0
        self._limit = None
        self._fix_size()
        self._tell()

    def add(self, seconds: float, yield_: float) -> None:
        """Add a better layout."""
        self._points.append((seconds, yield_))
        self.pass_time(seconds)
        self._tell()

    def set_limit(self, yield_: float) -> None:
        """Say which yield no layout can pass, 0 to 1."""
        self._limit = min(yield_, 1.0)
        self._tell()

    def pass_time(self, seconds: float) -> None:
        """Let the line grow to the right."""
        self._now = max(self._now, seconds)
        self.update()

    def _percent(self, share: float) -> str:
        number = QLocale().toString(100.0 * share, "f", 1)
        return self.tr("{n} %").format(n=number)

    def _tell(self) -> None:
        words = self.tr("Yield of the best layout so far, over time.")
        if self._points:
            seconds, best = self._points[-1]
            words += " " + self.tr("{share} after {n} s.").format(
                share=self._percent(best), n=round(seconds)
            )
        if self._limit is not None:
            words += " " + self.tr("No layout can pass {share}.").format(
                share=self._percent(self._limit)
            )
        self.setToolTip(words)
        self.setAccessibleDescription(words)
        self.update()

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the axes, the limit and the line, with their numbers beside."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        text = self.palette().color(QPalette.ColorRole.WindowText)
        metrics = self.fontMetrics()
        room = metrics.horizontalAdvance("100.0 %") + 6
        area = QRectF(self.rect()).adjusted(2, 6, -room, -5)
        faint = QColor(text)
        faint.setAlphaF(0.35)
        painter.setPen(QPen(faint, 1.0))
        if self._points:
            painter.drawLine(area.bottomLeft(), area.bottomRight())
            painter.drawLine(area.bottomLeft(), area.topLeft())
            values = [y for _, y in self._points]
            top = max([*values, self._limit or 0.0])
            low = min(values)
            low = max(low - 0.4 * max(top - low, 0.02), 0.0)
            high = top + 0.05 * (top - low)
            span = max(self._now, 1e-3)

            def place(t: float, y: float) -> QPointF:
                return QPointF(
                    area.left() + area.width() * min(t / span, 1.0),
                    area.bottom() - area.height() * (y - low) / (high - low),
                )

            line: list[QPointF] = []
            last: float | None = None
            for t, y in self._points:
                if last is not None:
                    line.append(place(t, last))
                line.append(place(t, y))
                last = y
            assert last is not None
            end = place(span, last)
            line.append(end)
            accent = QColor(ink("info", self.palette()))
            half = metrics.height() / 2.0
            beside = end.y()
            if self._limit is not None and self._limit > last + 1e-4:
                pen = QPen(text, 1.2, Qt.PenStyle.DashLine)
                painter.setPen(pen)
                left, right = place(0.0, self._limit), place(span, self._limit)
                painter.drawLine(left, right)
                y = max(right.y(), half)
                painter.drawText(
                    QPointF(area.right() + 5, y + metrics.ascent() - half),
                    "\N{LESS-THAN OR EQUAL TO}" + self._percent(self._limit)[:-2],
                )
                beside = max(beside, y + 2.0 * half)
            painter.setPen(QPen(accent, 2.0))
            painter.drawPolyline(QPolygonF(line))
            beside = min(max(beside, half), self.height() - half)
            painter.drawText(
                QPointF(area.right() + 5, beside + metrics.ascent() - half),
                self._percent(last),
            )
        painter.end()
