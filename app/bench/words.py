"""Lengths and sizes as the bench says them, in the job's units."""

from __future__ import annotations

from PySide6.QtCore import QCoreApplication, QLocale

TIMES = "\N{MULTIPLICATION SIGN}"
"""Stands between the two lengths of a size."""


def tr(text: str) -> str:
    """Translate words of the bench."""
    return QCoreApplication.translate("Bench", text)


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
    text = QLocale().toString(degrees, "f", 2)
    point = QLocale().decimalPoint()
    return (text.rstrip("0").rstrip(point) if point in text else text) + "°"
