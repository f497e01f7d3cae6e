"""What people type into the job book, read; and what it shows, written."""

from __future__ import annotations

from ...io.units import format_length, parse_length
from ...nesting.model.errors import InputError
from ...nesting.model.job import Job

TIMES = "\N{MULTIPLICATION SIGN}"


def shown(mm: float, job: Job) -> str:
    """Return a length in the job's unit, without the unit where it is mm."""
    text = format_length(mm, job.units)
    return text.removesuffix(" mm").removesuffix(" in")


def shown_size(size: tuple[float, float], job: Job) -> str:
    """Return length by width in the job's unit."""
    return f"{shown(size[0], job)} {TIMES} {shown(size[1], job)}"


def length(text: str, job: Job, least: float = 0.0) -> float:
    """Return a length in mm; a number without a unit is in the job's.

    Raises
    ------
    InputError
        If it cannot be read or is below `least` (mm).
    """
    value = parse_length(text, job.units)
    if value < least:
        bound = format_length(least, job.units)
        raise InputError("", f"{text} is too little", f"give {bound} or more")
    return value


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
        return float(text.replace(",", ".") or "0")
    except ValueError:
        raise InputError(
            "", f"{text!r} is no price", "give one such as 48.50"
        ) from None
