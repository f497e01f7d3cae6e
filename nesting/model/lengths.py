"""Lengths, weights and amounts as people read them, on paper and on the screen."""

from __future__ import annotations

from fractions import Fraction

_INCH = 25.4
_FINEST = 64
_POUND = 0.45359237


def length_text(value: float, units: str = "mm", digits: int = 1) -> str:
    """Return a length without its unit.

    Parameters
    ----------
    value : float
        mm.
    units : str
        "mm" or "in". Inches are a fraction where the length is one, to 1/64, and
        three decimals elsewhere.
    digits : int
        Decimals of millimetres; zeros at the end are left off.
    """
    if units == "in":
        inches = value / _INCH
        nearest = Fraction(round(inches * _FINEST), _FINEST)
        if abs(float(nearest) - inches) < 1e-6:
            return _mixed(nearest)
        return f"{inches:.3f}"
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _mixed(value: Fraction) -> str:
    sign, value = ("-" if value < 0 else ""), abs(value)
    whole, rest = divmod(value, 1)
    if not rest:
        return f"{sign}{whole}"
    fraction = f"{rest.numerator}/{rest.denominator}"
    return f"{sign}{whole} {fraction}" if whole else f"{sign}{fraction}"


def with_unit(value: float, units: str = "mm", digits: int = 1) -> str:
    """Return a length (mm) with its unit: ``12 mm``, ``1 1/2 in``."""
    return f"{length_text(value, units, digits)} {units}"


def size_text(width: float, height: float, units: str = "mm", digits: int = 1) -> str:
    """Return two lengths (mm) as ``300 x 180``, with a multiplication sign."""
    cross = "\N{MULTIPLICATION SIGN}"
    wide, high = (length_text(side, units, digits) for side in (width, height))
    return f"{wide} {cross} {high}"


def load_text(value: float, units: str = "mm") -> str:
    """Return a chip load (mm) with its unit; in inches it needs a fourth decimal."""
    if units == "in":
        return f"{value / _INCH:.4f} in"
    return f"{value:.3f} mm"


def share_text(share: float, digits: int = 1) -> str:
    """Return a share of 1 in per cent: ``49.8 %``."""
    return f"{100.0 * share:.{digits}f} %"


def weight_text(kilograms: float, units: str = "mm") -> str:
    """Return a weight in kg, or in lb where lengths are in inches."""
    if units == "in":
        return f"{kilograms / _POUND:.1f} lb"
    return f"{kilograms:.1f} kg"


def feed_text(feed: float, units: str = "mm") -> str:
    """Return a feed (mm/min) per minute in the user's unit."""
    if units == "in":
        return f"{feed / _INCH:.0f} in/min"
    return f"{feed:.0f} mm/min"
