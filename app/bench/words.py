"""Lengths and sizes as the bench says them, in the job's units."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication, QLocale

from ...nesting.verify import Kind
from .copies import Key

if TYPE_CHECKING:
    from .conflicts import Reason

TIMES = "\N{MULTIPLICATION SIGN}"
"""Stands between the two lengths of a size."""

LONGEST = 40
"""Names with more letters than this are shortened where there is little room."""


def tr(text: str) -> str:
    """Translate words of the bench."""
    return QCoreApplication.translate("Bench", text)


def shortened(name: str, most: int = LONGEST) -> str:
    """Return a name with its middle left out if it is long: both ends tell it apart."""
    if len(name) <= most:
        return name
    tail = most // 2
    head = most - tail - 1
    return f"{name[:head].rstrip()}\N{HORIZONTAL ELLIPSIS}{name[-tail:].lstrip()}"


def length_text(mm: float, units: str, digits: int = 2) -> str:
    """Return a length with its unit.

    Parameters
    ----------
    mm : float
        The length, mm.
    units : str
        "mm" or "in".
    digits : int
        Decimals for millimetres; inches get one more.
    """
    value, decimals = (mm / 25.4, digits + 1) if units == "in" else (mm, digits)
    text = QLocale().toString(value + 0.0, "f", decimals)
    return f"{text} {units}"


def size_text(width: float, height: float, units: str) -> str:
    """Return a size, width by height, with its unit once."""
    factor, decimals = (1.0 / 25.4, 3) if units == "in" else (1.0, 1)
    locale = QLocale()

    def plain(value: float) -> str:
        text = locale.toString(value * factor, "f", decimals)
        point = locale.decimalPoint()
        return text.rstrip("0").rstrip(point) if point in text else text

    return f"{plain(width)} {TIMES} {plain(height)} {units}"


def angle_text(degrees: float) -> str:
    """Return an angle with its sign for degrees."""
    text = QLocale().toString(float(degrees), "f", 2)
    point = QLocale().decimalPoint()
    return (text.rstrip("0").rstrip(point) if point in text else text) + "°"


def reason_text(reason: Reason, name_of: Callable[[Key], str], units: str) -> str:
    """Return what is wrong with where a copy lies, as one says it of the copy.

    Parameters
    ----------
    reason : Reason
        What is wrong.
    name_of : callable
        Gives the name of another copy.
    units : str
        "mm" or "in".
    """
    there = reason.label
    if reason.other is not None:
        there = name_of(reason.other)
    if reason.kind is Kind.OVERLAP and there:
        return tr("overlaps {name}").format(name=there)
    known = math.isfinite(reason.measured) and math.isfinite(reason.wanted)
    if reason.kind is Kind.GAP and there and known:
        return tr("{distance} from {name}, but the gap is {wanted}").format(
            distance=length_text(reason.measured, units),
            name=there,
            wanted=length_text(reason.wanted, units),
        )
    if reason.kind is Kind.MARGIN and known:
        return tr("{distance} from the edge, but the margin is {wanted}").format(
            distance=length_text(reason.measured, units),
            wanted=length_text(reason.wanted, units),
        )
    words = QCoreApplication.translate("Reason", reason.kind.value)
    return f"{words} ({there})" if there else words
