"""CSS lengths: text to user units (px), absolute units as CSS fixes them."""

from __future__ import annotations

import math
import re

PX_PER_INCH = 96.0
"""CSS Values and Units, absolute lengths: 1 in = 96 px."""

PX_PER_UNIT = {
    "px": 1.0,
    "in": PX_PER_INCH,
    "cm": PX_PER_INCH / 2.54,
    "mm": PX_PER_INCH / 25.4,
    "q": PX_PER_INCH / 101.6,
    "pt": PX_PER_INCH / 72.0,
    "pc": PX_PER_INCH / 6.0,
}
PHYSICAL = frozenset({"in", "cm", "mm", "q", "pt", "pc"})
"""Units that say a true size; a px in a drawing says none."""

_LENGTH = re.compile(
    r"\s*+([+-]?(?:\d++\.?\d*+|\.\d++)(?:[eE][+-]?\d++)?)\s*+([A-Za-z]*+|%)\s*+",
    re.ASCII,
)


def split_length(text: str) -> tuple[float, str]:
    """Return the number and the unit (lower case; may be empty or ``%``).

    Raises
    ------
    ValueError
        If the text is no length or its number is not finite.
    """
    match = _LENGTH.fullmatch(text)
    if match is None:
        raise ValueError(f"{text[:40]!r} is no length")
    value = float(match[1])
    if not math.isfinite(value):
        raise ValueError(f"{text[:40]!r} is too large a number")
    return value, match[2].lower()


def length_px(text: str, whole: float, font_size: float = 16.0) -> float:
    """Return a length in user units.

    Parameters
    ----------
    text : str
        Such as ``12``, ``12mm``, ``50%``.
    whole : float
        What 100 % is, user units.
    font_size : float
        What 1 em is, user units.

    Raises
    ------
    ValueError
        If the text is no length, or its unit is unknown.
    """
    value, unit = split_length(text)
    if unit == "":
        return value
    if unit == "%":
        return value * whole / 100.0
    if unit in PX_PER_UNIT:
        return value * PX_PER_UNIT[unit]
    if unit in ("em", "rem"):
        return value * font_size
    if unit in ("ex", "ch"):
        return value * font_size / 2.0
    raise ValueError(f"{text[:40]!r} has an unknown unit")
