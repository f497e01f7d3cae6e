"""Units: one table, how people write lengths, and how a file's numbers are read."""

from __future__ import annotations

import math
import re
from fractions import Fraction

from ..nesting.model.errors import InputError
from .drawing import UnitReading

MM_PER: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "dm": 100.0,
    "m": 1000.0,
    "dam": 1e4,
    "hm": 1e5,
    "km": 1e6,
    "Gm": 1e12,
    "µm": 1e-3,
    "nm": 1e-6,
    "Å": 1e-7,
    "in": 25.4,
    "ft": 304.8,
    "yd": 914.4,
    "mile": 1609344.0,
    "mil": 0.0254,
    "µin": 2.54e-5,
    "US survey in": 1e5 / 3937.0,
    "US survey ft": 1.2e6 / 3937.0,
    "US survey yd": 3.6e6 / 3937.0,
    "US survey mile": 6.336e9 / 3937.0,
    "AU": 1.495978707e14,
    "ly": 9.4607304725808e18,
    "parsec": 3.0856775814913673e19,
    "px": 25.4 / 96.0,
    "px90": 25.4 / 90.0,
    "px72": 25.4 / 72.0,
    "pt": 25.4 / 72.0,
    "pica": 25.4 / 6.0,
    "Q": 0.25,
}
"""mm per unit. ``px`` is the CSS pixel, 1/96 in; ``px90`` and ``px72`` are the
pixels of older drawing programs."""

INSUNITS: dict[int, str] = {
    1: "in",
    2: "ft",
    3: "mile",
    4: "mm",
    5: "cm",
    6: "m",
    7: "km",
    8: "µin",
    9: "mil",
    10: "yd",
    11: "Å",
    12: "nm",
    13: "µm",
    14: "dm",
    15: "dam",
    16: "hm",
    17: "Gm",
    18: "AU",
    19: "ly",
    20: "parsec",
    21: "US survey ft",
    22: "US survey in",
    23: "US survey yd",
    24: "US survey mile",
}
"""What the DXF header variable ``$INSUNITS`` means; 0 is unitless. From the
published DXF reference."""

_WORDS: dict[str, str] = {
    **{name.lower(): name for name in MM_PER},
    **dict.fromkeys(("millimetre", "millimeter", "mms"), "mm"),
    **dict.fromkeys(("centimetre", "centimeter"), "cm"),
    **dict.fromkeys(("decimetre", "decimeter"), "dm"),
    **dict.fromkeys(("metre", "meter"), "m"),
    **dict.fromkeys(("kilometre", "kilometer"), "km"),
    **dict.fromkeys(("micron", "micrometre", "micrometer", "um", "μm"), "µm"),
    **dict.fromkeys(("inch", '"', "''", "ins"), "in"),
    **dict.fromkeys(("foot", "feet", "'"), "ft"),
    **dict.fromkeys(("yard",), "yd"),
    **dict.fromkeys(("thou", "thousandth"), "mil"),
    **dict.fromkeys(("microinch", "uin"), "µin"),
    **dict.fromkeys(("pixel",), "px"),
    **dict.fromkeys(("point",), "pt"),
    **dict.fromkeys(("pc",), "pica"),
}

_MARKS = str.maketrans(
    {
        "\u2033": '"',  # double prime
        "\u201c": '"',
        "\u201d": '"',
        "\u2032": "'",  # prime
        "\u2018": "'",
        "\u2019": "'",
        "\u2212": "-",  # minus sign
        "\u2013": "-",  # en dash
        "\u2044": "/",  # fraction slash
        "\u00a0": " ",
        "\u2009": " ",
        "\u202f": " ",
        "\u00bd": " 1/2",
        "\u00bc": " 1/4",
        "\u00be": " 3/4",
        "\u215b": " 1/8",
        "\u215c": " 3/8",
        "\u215d": " 5/8",
        "\u215e": " 7/8",
    }
)

_DECIMAL = r"(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_NUMBER = re.compile(
    rf"(?:(?P<whole>\d+)(?:\s+|\s*-\s*))?(?P<top>\d+)\s*/\s*(?P<bottom>\d+)|"
    rf"(?P<decimal>{_DECIMAL})"
)
_WORD = r"[^\d\s.,/+-]+"
_QUANTITY = re.compile(
    rf"(?P<number>{_NUMBER.pattern})\s*(?P<unit>{_WORD}(?:\s+{_WORD})*)?"
)


def unit_name(text: str) -> str:
    """Return the name in `MM_PER` of a unit as people write it.

    Parameters
    ----------
    text : str
        A symbol or a word, singular or plural: ``mm``, ``inches``, ``"``.

    Raises
    ------
    InputError
        If no unit is called that.
    """
    word = " ".join(str(text).translate(_MARKS).split())
    if word in MM_PER:
        return word
    lower = word.lower().rstrip(".")
    for form in (lower, lower.removesuffix("s"), lower.removesuffix("es")):
        if form in _WORDS:
            return _WORDS[form]
    raise InputError(
        "", f"unknown unit {text!r}", "use mm, cm, m, in, ft, mil or px, for example"
    )


def parse_length(text: str, default_unit: str = "mm") -> float:
    """Return a length that a person wrote, in mm.

    Understood are ``12``, ``12mm``, ``12,5``, ``1/2``, ``1 1/2"``, ``1-1/2 in``,
    ``0.5in``, ``2' 3"``, ``2 ft 3-1/2 in``, with a minus in front if need be.

    Parameters
    ----------
    text : str
        What was written.
    default_unit : str
        The unit of a number that has none.

    Raises
    ------
    InputError
        If it cannot be read, or could be read two ways (``1,200``).
    """
    raw = str(text)
    if len(raw) > 60:
        raise _unreadable(raw[:40] + "…")
    rest = raw.translate(_MARKS).strip()
    sign = 1.0
    if rest[:1] in ("-", "+"):
        sign = -1.0 if rest[0] == "-" else 1.0
        rest = rest[1:].lstrip()
    pieces: list[tuple[Fraction, str]] = []
    while rest:
        found = _QUANTITY.match(rest)
        if found is None or len(pieces) == 2:
            raise _unreadable(raw)
        unit = (found["unit"] or "").strip()
        pieces.append((_number(found, raw), unit))
        rest = rest[found.end() :].lstrip()
        if rest.startswith("-") and unit_is(unit, "ft"):
            rest = rest[1:].lstrip()  # 2'-3"
    if not pieces:
        raise _unreadable(raw)
    if len(pieces) == 2:
        (feet, first), (_, second) = pieces
        if not (unit_is(first, "ft") and unit_is(second or "in", "in")):
            raise _unreadable(raw)
        pieces = [(feet, first), (pieces[1][0], second or "in")]
    exact = sum(value * _mm_per(unit or default_unit) for value, unit in pieces)
    try:
        total = float(exact)
    except OverflowError:
        total = math.inf
    if not math.isfinite(total):
        raise InputError("", f"{raw!r} is not a usable length", "give a smaller number")
    return sign * total


def _mm_per(unit: str) -> Fraction:
    """Return mm per unit without rounding, so that 1-1/2 in is 38.1 mm exactly."""
    return Fraction(repr(MM_PER[unit_name(unit)]))


def unit_is(text: str, name: str) -> bool:
    """Return whether `text` is a way to write the unit `name`."""
    try:
        return unit_name(text) == name
    except InputError:
        return False


def _unreadable(raw: str) -> InputError:
    return InputError(
        "",
        f"cannot read {raw!r} as a length",
        'write it like 12, 12 mm, 0.5 in or 1-1/2"',
    )


def _number(found: re.Match[str], raw: str) -> Fraction:
    if found["decimal"] is None:
        bottom = int(found["bottom"])
        if bottom == 0 or (found["whole"] and int(found["top"]) >= bottom):
            raise _unreadable(raw)
        return int(found["whole"] or 0) + Fraction(int(found["top"]), bottom)
    decimal = found["decimal"]
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", decimal):
        whole, part = decimal.split(",")
        raise InputError(
            "",
            f"{raw!r} can be read two ways",
            f"write {whole}{part} or {whole}.{part}",
        )
    mantissa, _, exponent = decimal.lower().partition("e")
    if len(mantissa) > 40 or abs(int(exponent or 0)) > 300:
        raise InputError("", f"{raw!r} is not a usable length", "give a nearer number")
    return Fraction(decimal.replace(",", ".").replace(".e", "e").rstrip("."))


def format_length(mm: float, unit: str = "mm") -> str:
    """Return a length as people write it; `parse_length` reads it back.

    Parameters
    ----------
    mm : float
        The length.
    unit : str
        ``mm``, ``in`` or another name in `MM_PER`. Inches are a fraction where
        they are an exact multiple of 1/64, otherwise decimals.
    """
    name = unit_name(unit)
    value = mm / MM_PER[name]
    if name == "in":
        sixty_fourths = value * 64.0
        nearest = round(sixty_fourths)
        if abs(sixty_fourths - nearest) <= 1e-6 and abs(nearest) < 64_000_000:
            return _inches(nearest)
        return f"{_plain(value, 4)} in"
    return f"{_plain(value, 3 if MM_PER[name] <= 1.0 else 6)} {name}"


def _plain(value: float, digits: int) -> str:
    text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _inches(sixty_fourths: int) -> str:
    sign = "-" if sixty_fourths < 0 else ""
    whole, rest = divmod(abs(sixty_fourths), 64)
    if rest == 0:
        return f'{sign}{whole}"'
    fraction = Fraction(rest, 64)
    return f'{sign}{f"{whole}-" if whole else ""}{fraction}"'


def told(unit: str) -> UnitReading:
    """Return the reading that a user's word stands for.

    Parameters
    ----------
    unit : str
        A unit such as ``in``, or what one unit of the drawing is, such as ``0.3 mm``.

    Raises
    ------
    InputError
        If it is neither.
    """
    if not unit.translate(_MARKS).strip()[:1].isdigit():
        name = unit_name(unit)
        return UnitReading(name, MM_PER[name], "told", True)
    factor = parse_length(unit)
    if not 1e-9 <= factor <= 1e9:
        raise InputError(
            "", f"one drawing unit cannot be {unit!r}", "give a length above 0"
        )
    for name in (*CANDIDATES, *PIXELS):
        if math.isclose(MM_PER[name], factor, rel_tol=1e-12):
            return UnitReading(name, MM_PER[name], "told", True)
    return UnitReading(SCALED, factor, "told", True)


LEAST_PLAUSIBLE = 15.0
"""A drawing whose largest shape is shorter than this is doubted, mm."""

GREATEST_PLAUSIBLE = 3100.0
"""So is one with a shape longer than the longest common sheet, 3050 mm."""

TYPICAL = 250.0
"""A typical part's longer side, mm. Between two possible readings, the one that
comes nearer to it (by ratio) is guessed first; the user is asked all the same."""

CANDIDATES = ("mm", "in", "cm", "m", "ft", "mil")
"""Units that drawings are drawn in."""

PIXELS = ("px", "px90", "px72")
"""Units of programs that draw for the screen or for print."""

SCALED = "drawing unit"
"""What a unit is called that is none of the usual ones."""


def plausible(mm: float) -> bool:
    """Return whether the longest side of a drawing's largest shape makes sense."""
    return LEAST_PLAUSIBLE <= mm <= GREATEST_PLAUSIBLE


def other_readings(unit: str, longest: float) -> tuple[tuple[str, float], ...]:
    """Return the other units worth showing, best first.

    Parameters
    ----------
    unit : str
        The unit taken.
    longest : float
        The longer side of the largest shape, in drawing units.
    """
    first = {"mm": "in", "in": "mm"}.get(unit, "mm")
    rest = [name for name in CANDIDATES if name not in (unit, first)]
    fit = [name for name in rest if plausible(longest * MM_PER[name])]
    return tuple((name, MM_PER[name]) for name in (first, *fit))


def header_reading(
    insunits: int | None, longest: float, metric: bool | None = None
) -> UnitReading:
    """Return how the numbers of a DXF file are to be read.

    Parameters
    ----------
    insunits : int or None
        ``$INSUNITS``; None when the file has none.
    longest : float
        The longer side of the largest shape, in drawing units.
    metric : bool or None
        What ``$MEASUREMENT`` hints at: True for metric. It only weighs in when
        the file names no unit.
    """
    name = INSUNITS.get(insunits or 0)
    if name is not None:
        others = other_readings(name, longest)
        doubted = not plausible(longest * MM_PER[name]) and any(
            plausible(longest * factor) for _, factor in others
        )
        return UnitReading(name, MM_PER[name], "header", not doubted, others)
    name = guess_unit(longest, metric)
    return UnitReading(
        name, MM_PER[name], "guess", False, other_readings(name, longest)
    )


def guess_unit(longest: float, metric: bool | None = None) -> str:
    """Return the likeliest unit of a drawing that names none.

    mm and inch come first; other units only where neither gives a plausible size.

    Parameters
    ----------
    longest : float
        The longer side of the largest shape, in drawing units.
    metric : bool or None
        Whether something else in the file speaks for metric.
    """
    if not (longest > 0.0 and math.isfinite(longest)):
        return "mm"
    fit = [name for name in CANDIDATES if plausible(longest * MM_PER[name])]
    if "mm" in fit and metric:
        return "mm"
    near = [name for name in ("mm", "in") if name in fit] or fit or ["mm", "in"]
    return min(near, key=lambda name: abs(math.log(longest * MM_PER[name] / TYPICAL)))
