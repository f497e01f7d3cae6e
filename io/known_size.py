"""The scale of a drawing from one size that a person knows, such as a part's width.

A dialog does it in three steps: `sized_readings` lists how the drawing may be read,
with the sizes that follow; `from_known_size` turns a typed width or height into a
scale; its ``units``, given to `look_at`, has the drawing read at that scale.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..nesting.model.errors import InputError
from .units import CANDIDATES, MM_PER, PIXELS, plausible

if TYPE_CHECKING:
    from .read_drawing import ReadDrawing

WHOLE = "drawing"
"""Stands for everything drawn where the name of a part is asked for."""

TAPE = 0.5
"""A size read off a tape is right to about this much, mm."""

TAPE_SHARE = 0.002
"""Or to this much of a large size, by ratio."""


@dataclass(frozen=True, slots=True)
class KnownSize:
    """A size that a person knows.

    Parameters
    ----------
    width, height : float or None
        Along x and along y, mm; at least one of them.
    part : str or int
        Whose size it is: a part's name or its number from 1; empty is the largest
        part, ``drawing`` everything drawn.
    """

    width: float | None = None
    height: float | None = None
    part: str | int = ""


@dataclass(frozen=True, slots=True)
class SizedReading:
    """One way to read a drawing's numbers, and the size that follows.

    Parameters
    ----------
    units : str
        What to give to `look_at` as ``units`` to read the drawing so.
    factor : float
        mm per drawing unit.
    width, height : float
        Size of the measured part, mm.
    """

    units: str
    factor: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class KnownReading(SizedReading):
    """The reading that a known size leads to.

    Parameters
    ----------
    unit : str
        The unit that the size speaks for; empty where it fits none, so that the
        drawing is scaled.
    exact : SizedReading
        The reading that gives the known size to the last digit; differs from this
        one where the size was near to a plain unit, as a tape would measure it.
    off : float
        How far the known size is from this reading's, mm.
    skew : float
        By what ratio width and height disagree where both are known, else 0.
    """

    unit: str
    exact: SizedReading
    off: float
    skew: float = 0.0


def measured(read: ReadDrawing, part: str | int = "") -> tuple[str, float, float]:
    """Return the name, width and height (mm, as read) of what a size refers to.

    Parameters
    ----------
    read : ReadDrawing
        A drawing as it was read.
    part : str or int
        As in `KnownSize`.

    Raises
    ------
    InputError
        If there is no such part, or nothing is drawn.
    """
    named = {part_.name.casefold(): part_ for part_ in reversed(read.parts)}
    wanted = str(part).strip().casefold()
    found = None
    if wanted in named and not isinstance(part, int):
        found = named[wanted]
    elif wanted.isdigit() and 1 <= int(wanted) <= len(read.parts):
        found = read.parts[int(wanted) - 1]
    elif not wanted and read.parts:
        found = max(read.parts, key=lambda part_: max(part_.outline.size))
    if found is not None:
        return found.name, *found.outline.size
    if wanted not in ("", WHOLE):
        names = ", ".join(repr(part_.name) for part_ in read.parts[:8])
        raise InputError(
            read.file,
            f"there is no part {part!r} in it",
            f"name {names} or {WHOLE!r}" if names else f"name {WHOLE!r}",
        )
    if read.bounds is None:
        raise InputError(read.file, "nothing is drawn, so no size can be known")
    x0, y0, x1, y1 = read.bounds
    return WHOLE, x1 - x0, y1 - y0


def sized_readings(read: ReadDrawing, part: str | int = "") -> tuple[SizedReading, ...]:
    """Return the ways to read a drawing with the sizes that follow.

    The one that was taken comes first; others follow, best first, where they give a
    size that makes sense.

    Parameters
    ----------
    read : ReadDrawing
        A drawing as it was read.
    part : str or int
        Whose size to show, as in `KnownSize`.
    """
    _, width, height = measured(read, part)
    taken = read.units
    units = taken.unit if taken.unit in MM_PER else scale_text(taken.factor)
    out = [SizedReading(units, taken.factor, width, height)]
    for name, factor in taken.others:
        ratio = factor / taken.factor
        if plausible(max(width, height) * ratio) or name in ("mm", "in"):
            out.append(SizedReading(name, factor, width * ratio, height * ratio))
    return tuple(out)


def from_known_size(read: ReadDrawing, known: KnownSize) -> KnownReading:
    """Return how a drawing must be read for a part to have a known size.

    Where a plain unit (mm, inch, …) gives the size as nearly as a tape measures,
    that unit is taken; otherwise the drawing is scaled to give exactly that size.
    Nothing is read anew: give the result's ``units`` to `look_at` for that.

    Parameters
    ----------
    read : ReadDrawing
        The drawing as it was read, in whatever unit.
    known : KnownSize
        What is known.

    Returns
    -------
    KnownReading
        The scale, the unit, and the exact reading beside it.

    Raises
    ------
    InputError
        If the part is not there, has no extent that way, or the size is not above 0.
    """
    name, width, height = measured(read, known.part)
    ratios = []
    for word, want, got in (
        ("width", known.width, width),
        ("height", known.height, height),
    ):
        if want is None:
            continue
        if not 1e-3 <= want <= 1e7:
            raise InputError(
                read.file, f"its known {word} is {want:g} mm", "give a length above 0"
            )
        if not got > 0.0:
            raise InputError(read.file, f"{name!r} has no {word}", "give a size it has")
        ratios.append(want / got)
    if not ratios:
        raise InputError(read.file, "no size of it is known", "give width or height")
    ratio = sum(ratios) / len(ratios)
    skew = abs(ratios[0] / ratios[-1] - 1.0)
    factor = read.units.factor * ratio
    exact = SizedReading(scale_text(factor), factor, width * ratio, height * ratio)
    size = exact.width if known.width is not None else exact.height
    units = (*CANDIDATES, *PIXELS)
    unit = min(units, key=lambda u: abs(MM_PER[u] - factor))
    off = abs(MM_PER[unit] / factor - 1.0) * size
    if off > max(TAPE, TAPE_SHARE * size) or off > 0.02 * size:
        return KnownReading(
            exact.units, factor, exact.width, exact.height, "", exact, 0.0, skew
        )
    ratio = MM_PER[unit] / read.units.factor
    return KnownReading(
        unit, MM_PER[unit], width * ratio, height * ratio, unit, exact, off, skew
    )


def scale_text(factor: float) -> str:
    """Return a scale as `look_at` understands it, such as ``0.3 mm`` per unit."""
    return f"{factor!r} mm"
