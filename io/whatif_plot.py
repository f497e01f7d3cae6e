"""The plot of a what-if: bars of sheets, cost and time, as SVG and as PDF."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from xml.sax.saxutils import escape

from .paper import INK, SOFT, Page, Paper, clean, make_pdf, shortened

_WIDTH, _NAME, _PANEL, _GAP = 257.0, 52.0, 62.0, 7.0
"""mm: the plot, the names, one panel, between panels."""

_ROOM, _LEAST, _MOST = 140.0, 8.0, 15.0
"""mm: height for all rows, and what one row takes at least and at most."""

_BAR = 0.55
"""Height of a bar, as a share of its row."""


@dataclass(frozen=True)
class Bars:
    """One panel of bars.

    Parameters
    ----------
    title : str
        What is measured, with its unit.
    values : tuple of float
        One for each variant; not a number where there is none.
    labels : tuple of str
        What is written beside each bar.
    """

    title: str
    values: tuple[float, ...]
    labels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Rect:
    x: float
    y: float
    width: float
    height: float
    strong: bool


@dataclass(frozen=True, slots=True)
class _Text:
    x: float
    y: float
    text: str
    size: float
    bold: bool
    soft: bool


@dataclass(frozen=True, slots=True)
class _Rule:
    x0: float
    y0: float
    x1: float
    y1: float
    soft: bool = False


def _shapes(
    names: Sequence[str], panels: Sequence[Bars], first_is_base: bool
) -> tuple[list[_Rect | _Text | _Rule], float]:
    """Return what is drawn, y down from the top left, mm, and the height."""
    found: list[_Rect | _Text | _Rule] = []
    top = 8.0
    row = min(max(_ROOM / max(len(names), 1), _LEAST), _MOST)
    bar = _BAR * row
    for i, name in enumerate(names):
        y = top + (i + 0.5) * row + 1.0
        base = first_is_base and i == 0
        found.append(_Text(0.0, y, shortened(name, _NAME - 3.0, 8.0), 8.0, base, False))
    for k, panel in enumerate(panels):
        x = _NAME + k * (_PANEL + _GAP)
        found.append(_Text(x, 4.5, panel.title, 8.0, True, False))
        known = [value for value in panel.values if math.isfinite(value)]
        most = max(known, default=0.0)
        room = _PANEL - 20.0
        for i, (value, label) in enumerate(
            zip(panel.values, panel.labels, strict=True)
        ):
            y = top + i * row
            long = 0.0
            if math.isfinite(value) and most > 0.0:
                long = room * value / most
                strong = first_is_base and i == 0
                found.append(_Rect(x, y + (row - bar) / 2.0, long, bar, strong))
            found.append(
                _Text(x + long + 1.2, y + row / 2 + 1.0, label, 7.0, False, True)
            )
        end = top + len(names) * row + 1.0
        found.append(_Rule(x, top - 1.0, x, end))
        ordered = panel.values[0] if first_is_base and panel.values else math.nan
        if math.isfinite(ordered) and most > 0.0 and len(names) > 1:
            # The order as it is, to compare the others with.
            level = x + room * ordered / most
            found.append(_Rule(level, top + row, level, end, soft=True))
    return found, top + len(names) * row + 4.0


def plot_svg(
    title: str, names: Sequence[str], panels: Sequence[Bars], first_is_base: bool = True
) -> bytes:
    """Return the plot as SVG; one user unit is one mm."""
    shapes, height = _shapes(names, panels, first_is_base)
    width = _WIDTH + 10.0
    height += 16.0
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" '
        f'height="{height:g}mm" viewBox="0 0 {width:g} {height:g}" '
        'font-family="Helvetica, Arial, sans-serif">',
        f"<title>{escape(clean(title))}</title>",
        f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>',
        f'<text x="5" y="9" font-size="4.6" font-weight="bold" fill="#1a1a1a">'
        f"{escape(clean(title))}</text>",
        '<g transform="translate(5 14)">',
    ]
    for s in shapes:
        if isinstance(s, _Rect):
            fill = "#8a6f45" if s.strong else "#d9c39c"
            lines.append(
                f'<rect x="{s.x:.2f}" y="{s.y:.2f}" width="{s.width:.2f}" '
                f'height="{s.height:.2f}" fill="{fill}" stroke="#1a1a1a" '
                'stroke-width="0.15"/>'
            )
        elif isinstance(s, _Rule):
            lines.append(
                f'<line x1="{s.x0:.2f}" y1="{s.y0:.2f}" x2="{s.x1:.2f}" '
                f'y2="{s.y1:.2f}" stroke="#1a1a1a" '
                + (
                    'stroke-width="0.2" stroke-dasharray="1.5 1.5"/>'
                    if s.soft
                    else 'stroke-width="0.25"/>'
                )
            )
        else:
            weight = ' font-weight="bold"' if s.bold else ""
            fill = "#555" if s.soft else "#1a1a1a"
            lines.append(
                f'<text x="{s.x:.2f}" y="{s.y:.2f}" font-size="{s.size * 0.3528:.2f}"'
                f'{weight} fill="{fill}">{escape(clean(s.text))}</text>'
            )
    return "\n".join([*lines, "</g>", "</svg>", ""]).encode()


def plot_pdf(
    title: str,
    names: Sequence[str],
    panels: Sequence[Bars],
    first_is_base: bool = True,
    date: datetime.date | None = None,
    units: str = "mm",
) -> bytes:
    """Return the plot as a PDF, further pages when there are many variants."""
    per_page = 17
    pages = []
    for start in range(0, max(len(names), 1), per_page):
        some = slice(start, start + per_page)
        cut = [Bars(p.title, p.values[some], p.labels[some]) for p in panels]
        shapes, _ = _shapes(names[some], cut, first_is_base and not start)
        pages.append(Page("What if", partial(_draw, shapes)))
    return make_pdf(pages, title, units, date or datetime.date.today())


def _draw(shapes: Sequence[_Rect | _Text | _Rule], paper: Paper) -> None:
    left, top = paper.left + 5.0, paper.top - 6.0
    for s in shapes:
        if isinstance(s, _Rect):
            if s.strong:
                paper.canvas.setFillColorRGB(0.54, 0.435, 0.27)
            else:
                paper.canvas.setFillColorRGB(0.85, 0.765, 0.61)
            y = top - s.y - s.height
            paper.box(left + s.x, y, s.width, s.height, fill=True)
            paper.pen(0.15)
            paper.box(left + s.x, y, s.width, s.height)
        elif isinstance(s, _Rule):
            paper.pen(0.2 if s.soft else 0.25)
            if s.soft:
                paper.canvas.setDash(3.0, 3.0)
            paper.line(left + s.x0, top - s.y0, left + s.x1, top - s.y1)
            paper.canvas.setDash()
        else:
            grey = SOFT if s.soft else INK
            paper.text(left + s.x, top - s.y, s.text, s.size, bold=s.bold, grey=grey)
