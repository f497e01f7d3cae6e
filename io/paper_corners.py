"""Pages of what the cutter leaves standing: parts, and their worst corner enlarged."""

from __future__ import annotations

from functools import partial
from typing import Any

from reportlab.lib.units import mm

from ..nesting.model.lengths import length_text, with_unit
from ..nesting.model.motion import Point, Points
from .paper import SOFT, Page, Paper
from .paper_curves import View, add_loops
from .shop_notes import CornerNote, Left

_ACROSS, _DOWN = 3, 2
_GAP = 6.0
_CAPTION = 16.0
_INSET = 26.0
"""Side of the enlarged corner, mm of paper."""

_SHOWN = 1.7
"""So many cut widths of the part are seen in it."""


def corner_pages(corners: tuple[CornerNote, ...], units: str) -> list[Page]:
    """Return pages with the parts in which something stays standing; or none."""
    per_page = _ACROSS * _DOWN
    return [
        Page(
            "What the cutter leaves standing",
            partial(_draw, corners[i : i + per_page], units),
        )
        for i in range(0, len(corners), per_page)
    ]


def _draw(corners: tuple[CornerNote, ...], units: str, paper: Paper) -> None:
    wide = (paper.right - paper.left - (_ACROSS + 1) * _GAP) / _ACROSS
    high = (paper.top - paper.bottom - (_DOWN + 1) * _GAP) / _DOWN
    for i, corner in enumerate(corners):
        x = paper.left + _GAP + (i % _ACROSS) * (wide + _GAP)
        y = paper.top - _GAP - (i // _ACROSS) * (high + _GAP)
        _cell(corner, units, paper, x, y, wide, high)


def _cell(
    corner: CornerNote,
    units: str,
    paper: Paper,
    x: float,
    top: float,
    wide: float,
    high: float,
) -> None:
    y = paper.heading(x, top, wide, f"{corner.number}  {corner.part.name}")
    y = paper.pairs(x, y, wide, [("", text) for text in _words(corner, units)], 7, 0.0)
    room = y - 2.0 - (top - high)
    x0, y0, x1, y1 = corner.part.outline.bounds
    worst = max(corner.left, key=lambda left: (left.depth, left.area))
    inset = worst.entered
    space = wide - (_INSET + 4.0 if inset else 0.0)
    scale = min(space / (x1 - x0), room / (y1 - y0))
    view = View(x - x0 * scale, y - 2.0 - y1 * scale, scale)
    _outline(corner, paper, view)
    for left in corner.left:
        _fill(left.polygon, paper, view)
        px, py = view.point(left.place)
        paper.pen(0.3)
        paper.canvas.circle(px * mm, py * mm, 1.8 * mm, stroke=1, fill=0)
    if inset:
        _enlarge(corner, worst, units, paper, x + wide - _INSET, y - 2.0 - _INSET)


def _words(corner: CornerNote, units: str) -> list[str]:
    """Return what is said of a part, as sentences."""
    said = []
    corners = [left for left in corner.left if left.entered]
    shut = {(left.what, left.index) for left in corner.left if not left.entered}
    if corners:
        deep = with_unit(max(left.depth for left in corners), units, 2)
        count = len(corners)
        said.append(
            f"{count} inside corner{'s stay' if count > 1 else ' stays'} round, up to "
            f"{deep} short of the drawn corner."
        )
    if shut:
        kinds = " and ".join(sorted({what for what, _ in shut}))
        said.append(
            f"The cutter does not get into {len(shut)} {kinds}"
            f"{'s' if len(shut) > 1 else ''}: another cutter, or leave it."
        )
    if corner.largest:
        widest = with_unit(corner.largest, units, 2)
        said.append(f"The widest that gets in everywhere: {widest}.")
    return said


def _outline(corner: CornerNote, paper: Paper, view: View) -> None:
    canvas = paper.canvas
    path: Any = canvas.beginPath()
    add_loops(path, corner.part.outline.loops, view)
    canvas.setFillColorRGB(0.965, 0.93, 0.86)
    paper.pen(0.3)
    canvas.drawPath(path, stroke=1, fill=1, fillMode=0)


def _fill(polygon: Points, paper: Paper, view: View) -> None:
    path: Any = paper.canvas.beginPath()
    for i, point in enumerate(polygon):
        x, y = view.point((float(point[0]), float(point[1])))
        (path.lineTo if i else path.moveTo)(x * mm, y * mm)
    path.close()
    paper.canvas.setFillGray(0.0)
    paper.pen(0.15)
    paper.canvas.drawPath(path, stroke=1, fill=1)


def fill_standing(places: tuple[Points, ...], paper: Paper, view: View) -> None:
    """Draw what stays standing on a blank, black."""
    for polygon in places:
        _fill(polygon, paper, view)


def _enlarge(
    corner: CornerNote, left: Left, units: str, paper: Paper, x: float, y: float
) -> None:
    """Draw one corner enlarged, with how far the cutter stays off."""
    canvas = paper.canvas
    shown = _SHOWN * corner.cutter
    scale = _INSET / shown
    middle: Point = left.place
    half = _INSET / 2.0
    view = View(x + half - middle[0] * scale, y + half - middle[1] * scale, scale)
    canvas.saveState()
    clip = canvas.beginPath()
    clip.rect(x * mm, y * mm, _INSET * mm, _INSET * mm)
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.setFillGray(1.0)
    paper.box(x, y, _INSET, _INSET, fill=True)
    _outline(corner, paper, view)
    _fill(left.polygon, paper, view)
    canvas.restoreState()
    paper.pen(0.25)
    paper.box(x, y, _INSET, _INSET)
    text = f"{scale:.1f} : 1, {length_text(left.depth, units, 2)} short"
    paper.text(x + _INSET / 2.0, y - 3.2, text, 6.0, grey=SOFT, align="centre")
