"""Pages of paper: frame, title block, text that fits, tables."""

from __future__ import annotations

import datetime
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from reportlab.lib.pagesizes import A4, landscape, letter
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont
from reportlab.pdfgen.canvas import Canvas

INK = 0.1
SOFT = 0.45
FAINT = 0.75

_LEFT, _EDGE, BLOCK = 20.0, 10.0, 17.0
"""Frame of a drawing sheet as in ISO 5457: 20 mm to bind, 10 mm elsewhere; below
it a title block, mm."""

_WIDE_FONTS = (
    "DejaVuSans.ttf",
    "NotoSans-Regular.ttf",
    "LiberationSans-Regular.ttf",
    "arialuni.ttf",
    "arial.ttf",
    "Arial Unicode.ttf",
)
_FONT_PLACES = (
    "/usr/share/fonts",
    "/usr/local/share/fonts",
    "/Library/Fonts",
    "/System/Library/Fonts/Supplemental",
    "C:/Windows/Fonts",
)


@cache
def _wide_font() -> str:
    """Return a font for names beyond western European letters.

    A common one of the system; else the one that comes with the PDF library, which
    draws a box for a letter it does not have.
    """
    for place in _FONT_PLACES:
        folder = Path(place)
        if not folder.is_dir():
            continue
        for name in _WIDE_FONTS:
            for path in sorted(folder.rglob(name)):
                try:
                    pdfmetrics.registerFont(TTFont("Wide", str(path)))
                except (TTFError, OSError):
                    continue
                return "Wide"
    pdfmetrics.registerFont(TTFont("Wide", "Vera.ttf"))
    return "Wide"


def face(text: str, bold: bool = False) -> str:
    """Return the name of a font that has the letters of `text`."""
    try:
        text.encode("cp1252")
    except UnicodeEncodeError:
        return _wide_font()
    return "Helvetica-Bold" if bold else "Helvetica"


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return the width of a line of text, mm; `size` in points."""
    return float(pdfmetrics.stringWidth(text, face(text, bold), size) / mm)


def clean(text: str) -> str:
    """Return text on one line without letters that print nothing."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def shortened(text: str, width: float, size: float, bold: bool = False) -> str:
    """Return as much of a text as fits in `width` (mm), an ellipsis for the rest."""
    text = clean(text)
    if text_width(text, size, bold) <= width:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width(text[:middle].rstrip() + "\u2026", size, bold) <= width:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + "\u2026" if low else ""


def wrapped(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Return a text as lines no wider than `width` (mm)."""
    lines: list[str] = []
    line = ""
    for word in clean(text).split(" "):
        longer = f"{line} {word}".strip()
        if text_width(longer, size, bold) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while text_width(line, size, bold) > width and len(line) > 1:
            head = shortened(line, width, size, bold).rstrip("\u2026") or line[0]
            lines.append(head)
            line = line[len(head) :]
    return [*lines, line] if line else lines


@dataclass(frozen=True)
class Column:
    """One column of a table: heading, width in mm, and whether it is set right."""

    heading: str
    width: float
    right: bool = False


class Paper:
    """A page being drawn; all lengths are mm from the lower left corner.

    Parameters
    ----------
    canvas : Canvas
        What the page is drawn on.
    width, height : float
        Size of the page, mm.
    """

    def __init__(self, canvas: Canvas, width: float, height: float) -> None:
        self.canvas = canvas
        self.width = width
        self.height = height

    @property
    def left(self) -> float:
        """Left side of the frame."""
        return _LEFT

    @property
    def right(self) -> float:
        """Right side of the frame."""
        return self.width - _EDGE

    @property
    def bottom(self) -> float:
        """Top of the title block."""
        return _EDGE + BLOCK

    @property
    def top(self) -> float:
        """Top of the frame."""
        return self.height - _EDGE

    def pen(self, width: float = 0.25, grey: float = INK) -> None:
        """Choose a pen: width in mm, 0 black to 1 white."""
        self.canvas.setLineWidth(width * mm)
        self.canvas.setStrokeGray(grey)
        self.canvas.setDash()

    def line(self, x0: float, y0: float, x1: float, y1: float) -> None:
        """Draw a straight line."""
        self.canvas.line(x0 * mm, y0 * mm, x1 * mm, y1 * mm)

    def box(
        self, x: float, y: float, width: float, height: float, fill: bool = False
    ) -> None:
        """Draw a rectangle."""
        stroke, fill_it = (0, 1) if fill else (1, 0)
        self.canvas.rect(
            x * mm, y * mm, width * mm, height * mm, stroke=stroke, fill=fill_it
        )

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = 8.0,
        *,
        bold: bool = False,
        grey: float = INK,
        align: str = "left",
        width: float | None = None,
        turn: float = 0.0,
    ) -> None:
        """Write one line; `width` (mm) shortens it, `turn` is in degrees."""
        text = clean(text) if width is None else shortened(text, width, size, bold)
        canvas = self.canvas
        canvas.saveState()
        canvas.setFillGray(grey)
        canvas.setFont(face(text, bold), size)
        canvas.translate(x * mm, y * mm)
        if turn:
            canvas.rotate(turn)
        draw = {
            "left": canvas.drawString,
            "right": canvas.drawRightString,
            "centre": canvas.drawCentredString,
        }[align]
        draw(0, 0, text)
        canvas.restoreState()

    def table(
        self,
        x: float,
        y: float,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        size: float = 7.5,
        pitch: float = 4.6,
    ) -> float:
        """Draw a table downwards from `y`; return where it ends."""
        total = sum(column.width for column in columns)
        at = x
        for column in columns:
            self._cell(at, y - 3.2, column, column.heading, size - 1.0, SOFT)
            at += column.width
        self.pen(0.25)
        self.line(x, y - pitch, x + total, y - pitch)
        y -= pitch
        self.pen(0.1, FAINT)
        for row in rows:
            at = x
            for column, value in zip(columns, row, strict=True):
                self._cell(at, y - pitch / 2.0 - 1.0, column, value, size, INK)
                at += column.width
            y -= pitch
            self.line(x, y, x + total, y)
        return y

    def _cell(
        self, x: float, y: float, column: Column, text: str, size: float, grey: float
    ) -> None:
        room = column.width - 2.0
        if column.right:
            self.text(
                x + column.width - 1.0,
                y,
                text,
                size,
                grey=grey,
                align="right",
                width=room,
            )
        else:
            self.text(x + 1.0, y, text, size, grey=grey, width=room)

    def pairs(
        self,
        x: float,
        y: float,
        width: float,
        pairs: Sequence[tuple[str, str]],
        size: float = 7.5,
        share: float = 0.36,
    ) -> float:
        """Write labels and their values, values wrapped; return where it ends.

        Nothing is written below the frame: an ellipsis says that more was to come.
        """
        at = width * share
        for label, value in pairs:
            high = 3.7 * max(len(wrapped(value, width - at, size)), 1)
            if y - high < self.bottom + 4.0:
                if y > self.bottom + 1.0:
                    self.text(x, max(y - 3.2, self.bottom + 1.0), "\u2026", size)
                return self.bottom + 1.0
            self.text(x, y - 3.2, label, size, grey=SOFT, width=at - 1.5)
            for line in wrapped(value, width - at, size) or [""]:
                self.text(x + at, y - 3.2, line, size)
                y -= 3.7
            y -= 0.5
        return y

    def heading(self, x: float, y: float, width: float, text: str) -> float:
        """Write a small heading over a rule; return where to go on."""
        self.text(x, y - 3.2, text.upper(), 6.5, bold=True, width=width)
        self.pen(0.25)
        self.line(x, y - 4.4, x + width, y - 4.4)
        return y - 5.6


@dataclass(frozen=True)
class Page:
    """One page to be drawn.

    Parameters
    ----------
    title : str
        What it shows.
    draw : callable
        Draws on the paper it is given.
    scale : str
        The scale, where the page has one.
    framed : bool
        Whether it has a frame and a title block.
    upright : bool
        Whether the page stands upright.
    """

    title: str
    draw: Callable[[Paper], None]
    scale: str = ""
    framed: bool = True
    upright: bool = False


def page_size(units: str, upright: bool = False) -> tuple[float, float]:
    """Return the size of the paper, mm: A4, or letter where lengths are inches."""
    size = letter if units == "in" else A4
    width, height = size if upright else landscape(size)
    return float(width) / mm, float(height) / mm


def make_pdf(
    pages: Sequence[Page], title: str, units: str, date: datetime.date
) -> bytes:
    """Return the pages as a PDF; the same pages give the same bytes."""
    buffer = io.BytesIO()
    canvas = Canvas(buffer, invariant=True)
    canvas.setTitle(clean(title))
    canvas.setAuthor("")
    canvas.setCreator("Drystone")
    for number, page in enumerate(pages, 1):
        width, height = page_size(units, page.upright)
        canvas.setPageSize((width * mm, height * mm))
        canvas.bookmarkPage(f"page {number}")
        canvas.addOutlineEntry(clean(page.title), f"page {number}")
        paper = Paper(canvas, width, height)
        if page.framed:
            _title_block(paper, page, title, units, date, f"{number} / {len(pages)}")
        page.draw(paper)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _title_block(
    paper: Paper, page: Page, title: str, units: str, date: datetime.date, number: str
) -> None:
    """Draw the frame and the block of cells below it."""
    left, bottom = paper.left, _EDGE
    width = paper.right - left
    paper.pen(0.5)
    paper.box(left, bottom, width, paper.top - bottom)
    paper.line(left, paper.bottom, paper.right, paper.bottom)
    cells = [
        ("Job", title, 0.34),
        ("Sheet", page.title, 0.30),
        ("Scale", page.scale or "\N{EN DASH}", 0.09),
        ("Lengths in", units, 0.08),
        ("Date", date.isoformat(), 0.11),
        ("Page", number, 0.08),
    ]
    x = left
    for label, value, share in cells:
        cell = width * share
        if x > left:
            paper.pen(0.25)
            paper.line(x, bottom, x, paper.bottom)
        paper.text(x + 1.8, paper.bottom - 4.2, label, 5.5, grey=SOFT)
        big = label in ("Job", "Sheet")
        size = 10.0 if big else 9.0
        lines = wrapped(value, cell - 3.6, size, big)
        if len(lines) > 1:
            size = 8.0
            lines = wrapped(value, cell - 3.6, size, big)
        if len(lines) > 2:
            rest = " ".join(lines[1:])
            lines = [lines[0], shortened(rest, cell - 3.6, size, big)]
        y = bottom + (4.8 if len(lines) == 1 else 6.8)
        for text in lines:
            paper.text(x + 1.8, y, text, size, bold=big)
            y -= 3.6
        x += cell
