"""What stands round a blank at a screen size: number and name, rulers, datum."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QFont, QFontMetricsF, QPainter
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from ...nesting.model.job import Datum, Job
from ...nesting.model.stock import Stock
from .colours import Theme
from .painting import (
    APART,
    Ruler,
    paint_datum,
    paint_ruler,
    pixels,
    ruler_of,
    text_on_screen,
)
from .sound import sound

RULERS = 120.0
"""Narrower blanks have no rulers, pixels."""

LONGEST = 4000.0
"""Of rulers longer than this, in pixels, only what is seen is made."""


class FrameItem(QGraphicsItem):
    """The frame of one blank, above it so that no part hides a number.

    Parameters
    ----------
    index : int
        The blank's place in the layout.
    """

    def __init__(self, index: int, theme: Theme, font: QFont) -> None:
        super().__init__()
        self.index = index
        self.theme = theme
        self.font = font
        self._job: Job | None = None
        self._titles: tuple[str, ...] = ("",)
        self._free = 0.0
        self._left = 0.0
        self._below = 0.0
        self._scale = 1.0
        self._sizes = (("", ""), (0.0, 0.0, 0.0))
        self._kept: tuple[tuple[Stock, float, str], Ruler] | None = None
        self.setZValue(5)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemUsesExtendedStyleOption)

    def show_job(
        self,
        job: Job,
        titles: tuple[str, ...],
        free: float,
        left: float,
        below: float,
    ) -> None:
        """Take over the blank's title.

        Parameters
        ----------
        titles : tuple of str
            The longest first; the first one that there is room for is shown.
        free : float
            How far right of the blank's left edge the title may reach, mm.
        left : float
            Room left of the blank for the numbers of its ruler, mm.
        below : float
            Room below it for numbers and the titles of the blanks there, mm.
        """
        new = job.stock_of(self.index)
        old = self._job
        if old is None or self.index >= len(old.layout.blanks):
            self.prepareGeometryChange()
        elif old.stock_of(self.index) is not new or free != self._free:
            self.prepareGeometryChange()
        elif (titles, left, below) == (self._titles, self._left, self._below) and (
            old.cutting,
            old.units,
        ) == (job.cutting, job.units):
            self._job = job
            return
        self._job, self._titles = job, titles
        self._free, self._left, self._below = free, left, below
        self.update()

    def set_scale(self, scale: float) -> None:
        """Say how many pixels a millimetre takes."""
        if scale != self._scale:
            self.prepareGeometryChange()
            self._scale = scale

    @sound
    def boundingRect(self) -> QRectF:
        """Return what it covers, mm: some pixels round the blank."""
        if self._job is None:
            return QRectF()
        x0, y0, x1, y1 = self._job.stock_of(self.index).outline.bounds
        line, wide, title = self._text_sizes()
        px = 1.0 / self._scale
        right = max(x1, x0 + min(self._free, title * px)) + 10 * px
        return QRectF(
            x0 - wide * px,
            y0 - (line + 16.0) * px,
            right - x0 + wide * px,
            y1 - y0 + (2 * line + 28.0) * px,
        )

    @sound
    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Paint rulers if there is room, the number always, the name if it fits."""
        job = self._job
        if job is None or self.index >= len(job.layout.blanks):
            return
        stock = job.stock_of(self.index)
        x0, y0, x1, y1 = stock.outline.bounds
        scale = pixels(painter)
        inside = QRectF(x0, y0, x1 - x0, y1 - y0)
        rim = 9.0 / scale  # as far in as the datum reaches
        inside.adjust(rim, rim, -rim, -rim)
        if inside.contains(option.exposedRect) and job.cutting.datum != Datum.CENTRE:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        if (x1 - x0) * scale > RULERS:
            ruler = self._ruler(job, scale, option)
            paint_ruler(painter, self._with_room(ruler, scale), self.theme, self.font)
        if max(x1 - x0, y1 - y0) * scale > 24.0:
            paint_datum(painter, stock, job.cutting.datum, self.theme)
        text_on_screen(
            painter,
            (x0, y1),
            self.title_at(scale),
            self._bold(),
            self.theme.ink,
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignBottom,
            plate=self.theme.bench,  # the bed's edge may run here
            offset=(-3, -4),
        )

    def _text_sizes(self) -> tuple[float, float, float]:
        """Return a line's height, a ruler number's and the title's width, pixels."""
        key = (self._titles[0], self.font.key())
        if self._sizes[0] != key:
            metrics = QFontMetricsF(self.font)
            title = (
                QFontMetricsF(self._bold()).horizontalAdvance(self._titles[0]) + 20.0
            )
            number = metrics.horizontalAdvance("00000") + 16.0
            self._sizes = (key, (metrics.height(), number, title))
        return self._sizes[1]

    def _ruler(self, job: Job, scale: float, option: QStyleOptionGraphicsItem) -> Ruler:
        """Return the ruler, from memory where all of it fits on a screen or two."""
        stock = job.stock_of(self.index)
        apart = max(APART, QFontMetricsF(self.font).horizontalAdvance("0000") + 14.0)
        if max(stock.outline.size) * scale > LONGEST:
            return ruler_of(stock, scale, job.units, option.exposedRect, apart)
        key = (stock, scale, job.units)
        if self._kept is None or not _same(self._kept[0], key):
            self._kept = (key, ruler_of(stock, scale, job.units, None, apart))
        return self._kept[1]

    def _with_room(self, ruler: Ruler, scale: float) -> Ruler:
        """Leave out numbers that would run into the blank on the left, or below."""
        metrics, room = QFontMetricsF(self.font), self._left * scale
        lines = metrics.height() + QFontMetricsF(self._bold()).height() + 18.0
        low = self._below * scale >= lines
        fit = [
            (place, text, below)
            for place, text, below in ruler.numbers
            if (low if below else metrics.horizontalAdvance(text) + 14.0 <= room)
        ]
        return ruler if len(fit) == len(ruler.numbers) else Ruler(ruler.ticks, fit)

    def _bold(self) -> QFont:
        font = QFont(self.font)
        font.setBold(True)
        return font

    def title_at(self, scale: float) -> str:
        """Return as much of the title as there is room for, at least the number."""
        metrics, room = QFontMetricsF(self._bold()), self._free * scale - 16.0
        fit = (t for t in self._titles if metrics.horizontalAdvance(t) <= room)
        return next(fit, self._titles[-1])


def _same(one: tuple[Stock, float, str], two: tuple[Stock, float, str]) -> bool:
    """Compare what a ruler was made for; stock by identity, which is quick."""
    return one[0] is two[0] and one[1:] == two[1:]
