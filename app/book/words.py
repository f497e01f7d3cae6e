"""What people type into the job book, read; and what it shows, written."""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterable

from ...io.units import format_length, parse_length
from ...nesting.model import lengths as lengths_text
from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.rules import Grain

TIMES = "\N{MULTIPLICATION SIGN}"


def shown(mm: float, job: Job) -> str:
    """Return a length in the job's unit, without the unit."""
    text = format_length(mm, job.units)
    return text.removesuffix(" mm").removesuffix(" in").removesuffix('"')


def with_unit(mm: float, job: Job) -> str:
    """Return a length in the job's unit, with the unit, to be read and not edited."""
    return lengths_text.with_unit(mm, job.units, 3)


def shown_size(size: tuple[float, float], job: Job) -> str:
    """Return length by width in the job's unit."""
    return f"{shown(size[0], job)} {TIMES} {shown(size[1], job)}"


def said_size(size: tuple[float, float], job: Job) -> str:
    """Return length by width in the job's unit, to be read and not edited."""
    return lengths_text.size_text(*size, job.units, 3)


def length(text: str, job: Job, least: float = 0.0, most: float = math.inf) -> float:
    """Return a length in mm; a number without a unit is in the job's.

    Raises
    ------
    InputError
        If it cannot be read, or is below `least` or above `most` (mm).
    """
    try:
        value = parse_length(text, job.units)
    except InputError as error:
        allowed = _range(least, most, job).removeprefix("give ")
        cure = error.cure if math.isinf(most) else f"{error.cure}, from {allowed}"
        raise InputError("", error.what, cure) from None
    if not least <= value <= most:
        what = "too little" if value < least else "too much"
        raise InputError("", f"{text} is {what}", _range(least, most, job))
    return value


def _range(least: float, most: float, job: Job) -> str:
    if math.isinf(most):
        return f"give {shown(least, job)} {job.units} or more"
    return f"give {shown(least, job)} to {shown(most, job)} {job.units}"


def lengths(text: str, job: Job, zero: bool = False) -> tuple[float, ...]:
    """Return lengths in mm, above 0 or also 0; they are parted by semicolons.

    A comma and a space part them too, where no decimal comma can be meant.

    Raises
    ------
    InputError
        If one cannot be read.
    """
    pieces = text.replace(", ", ";").split(";")
    found = tuple(length(piece, job) for piece in pieces if piece.strip())
    if not (zero or all(value > 0.0 for value in found)):
        raise InputError("", "a length is 0", "give lengths above 0")
    return found


def shown_lengths(values: Iterable[float], job: Job) -> str:
    """Return lengths in the job's unit, parted by semicolons."""
    return "; ".join(shown(value, job) for value in values)


def sizes(text: str, job: Job) -> tuple[tuple[float, float], ...]:
    """Return sizes, length by width in mm, parted by semicolons.

    Raises
    ------
    InputError
        If one cannot be read.
    """
    return tuple(size(piece, job) for piece in text.split(";") if piece.strip())


def numbers(text: str, least: float, most: float) -> tuple[float, ...]:
    """Return numbers, parted by semicolons.

    Raises
    ------
    InputError
        If one cannot be read or is out of range.
    """
    pieces = (piece for piece in text.split(";") if piece.strip())
    return tuple(number(piece, least, most) for piece in pieces)


def number(
    text: str, least: float = 0.0, most: float = math.inf, unit: str = ""
) -> float:
    """Return a number; ``12,5`` is understood.

    Raises
    ------
    InputError
        If it is none, or out of range.
    """
    bare = text.strip().removesuffix(unit).strip() if unit else text.strip()
    allowed = f"{least:g} to {most:g}" if math.isfinite(most) else f"{least:g} or more"
    cure = f"give {allowed} {unit}".strip()
    try:
        value = float(bare.replace(" ", "").replace(",", "."))
    except ValueError:
        value = math.nan
    if math.isnan(value):
        raise InputError("", f"{text!r} is no number", cure)
    if not least <= value <= most:
        raise InputError(
            "", f"{text} is out of range", f"give {allowed} {unit}".strip()
        )
    return value


def shown_number(value: float, digits: int = 3) -> str:
    """Return a number without zeros at its end."""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def size(text: str, job: Job) -> tuple[float, float]:
    """Return length and width in mm of a size such as ``300 x 180``.

    Raises
    ------
    InputError
        If it is not two lengths above 0.
    """
    pieces = text.lower().replace(TIMES, "x").split("x")
    if len(pieces) != 2:
        raise InputError(
            "", f"{text!r} is no size", "write length x width, such as 300 x 180"
        )
    along, across = (length(piece, job) for piece in pieces)
    if along <= 0.0 or across <= 0.0:
        raise InputError("", f"{text!r} has no area", "give two lengths above 0")
    return along, across


def grain(text: str) -> Grain:
    """Return a grain direction.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return Grain(text.casefold())
    except ValueError:
        raise InputError(
            "", f"{text!r} is no grain direction", "use length, width or none"
        ) from None


def date(text: str) -> str:
    """Return a date as year-month-day.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return datetime.date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise InputError(
            "", f"{text!r} is no date", "write it like 2026-05-04"
        ) from None


def whole(text: str, least: int = 0, most: int = 100_000) -> int:
    """Return a whole number.

    Raises
    ------
    InputError
        If it is none, or out of range.
    """
    try:
        value = int(text)
    except ValueError:
        raise InputError(
            "", f"{text!r} is no whole number", f"give one from {least}"
        ) from None
    if not least <= value <= most:
        raise InputError("", f"{value} is out of range", f"give {least} to {most}")
    return value


def amount(text: str) -> float:
    """Return an amount of money; ``12,50`` is understood.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        value = float(text.replace(",", ".") or "0")
    except ValueError:
        value = math.nan
    if not 0.0 <= value < 1e12:
        raise InputError("", f"{text!r} is no price", "give one such as 48.50")
    return value


def speed(text: str, job: Job, least: float = 0.0, most: float = math.inf) -> float:
    """Return a speed in mm/min; a number is in the job's unit per minute.

    Raises
    ------
    InputError
        If it cannot be read or is out of range (mm/min).
    """
    bare = text.strip().removesuffix("/min").strip()
    try:
        return length(bare, job, least, most)
    except InputError as error:
        raise InputError("", error.what, f"{error.cure}/min") from None


def shown_speed(value: float, job: Job) -> str:
    """Return a speed in the job's unit per minute, without the unit."""
    return shown_number(value / (25.4 if job.units == "in" else 1.0), 2)


def speed_unit(job: Job) -> str:
    """Return the unit of speeds."""
    return f"{job.units}/min"
