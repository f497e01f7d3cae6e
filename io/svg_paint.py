"""What a shape is painted with: whether it is seen, and in which colour."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import tinycss2.color4

from .svg_length import length_px
from .svg_style import Style

_SERVER = re.compile(r"""url\(\s*["']?([^"')]*)["']?\s*\)\s*(.*)""", re.DOTALL)
_CONTEXT = ("context-fill", "context-stroke")


@dataclass(frozen=True, slots=True)
class Paint:
    """A fill or a stroke.

    Parameters
    ----------
    seen : bool
        Whether it paints anything.
    colour : str
        ``#rrggbb``; empty when it is no plain colour.
    server : str
        What it refers to (``#id``): a gradient or pattern; may be empty.
    """

    seen: bool
    colour: str = ""
    server: str = ""


@lru_cache(maxsize=4096)
def parse_paint(text: str, current: str = "black") -> Paint:
    """Return what a ``fill`` or ``stroke`` value means.

    Parameters
    ----------
    text : str
        Such as ``none``, ``#f00``, ``url(#a) none``.
    current : str
        The value of ``color``.
    """
    text = text.strip()[:1000]
    if text.lower() == "none":
        return Paint(False)
    match = _SERVER.match(text)
    if match is not None:
        return Paint(True, "", match[1])
    if text.lower() in _CONTEXT:
        return Paint(True)
    if text.lower() == "currentcolor":
        text = current if current.lower() != "currentcolor" else "black"
    colour: Any
    try:
        colour = tinycss2.color4.parse_color(text)
    except (ValueError, RecursionError):
        colour = None
    if colour is None or isinstance(colour, str):
        return Paint(True)
    if colour.alpha == 0.0:
        return Paint(False)
    try:
        levels = [round(255 * v) for v in colour.to("srgb").coordinates]
    except (NotImplementedError, ValueError, TypeError, OverflowError):
        return Paint(True)
    red, green, blue = (min(max(level, 0), 255) for level in levels)
    return Paint(True, f"#{red:02x}{green:02x}{blue:02x}")


@lru_cache(maxsize=1024)
def parse_opacity(text: str) -> float:
    """Return an opacity from 0 to 1; 1 when the text is none."""
    try:
        value = length_px(text, 1.0)
    except ValueError:
        return 1.0
    return min(max(value, 0.0), 1.0) if math.isfinite(value) else 1.0


@dataclass(frozen=True, slots=True)
class Look:
    """How one shape is painted.

    Parameters
    ----------
    fill, stroke : Paint
        What its inside and its line are painted with.
    hairline : bool
        Whether its line has width 0, which is strictly invisible.
    """

    fill: Paint
    stroke: Paint
    hairline: bool

    @property
    def seen(self) -> bool:
        """Whether anything of the shape is painted."""
        return self.fill.seen or self.stroke.seen

    @property
    def colour(self) -> str:
        """The line's colour, or else the inside's."""
        if self.stroke.seen and self.stroke.colour:
            return self.stroke.colour
        return self.fill.colour if self.fill.seen else ""


def look(style: Style) -> Look:
    """Return how a shape of this style is painted."""
    current = style["color"]
    fill = parse_paint(style["fill"], current)
    stroke = parse_paint(style["stroke"], current)
    if parse_opacity(style["fill-opacity"]) == 0.0:
        fill = Paint(False)
    if parse_opacity(style["stroke-opacity"]) == 0.0:
        stroke = Paint(False)
    hairline = False
    if stroke.seen:
        try:
            hairline = length_px(style["stroke-width"], 1.0) == 0.0
        except ValueError:
            hairline = False
    return Look(fill, stroke, hairline)
