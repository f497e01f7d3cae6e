"""What a command line says about drawings: unit, a known size, layers and colours."""

from __future__ import annotations

import argparse
import contextlib
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from ..nesting.model.errors import InputError

if TYPE_CHECKING:
    from ..io.known_size import KnownSize
    from ..io.limits import Limits
    from ..io.operations import Meaning


def add_limits_argument(group: argparse._ActionsContainer) -> None:
    """Declare ``--limits``."""
    group.add_argument(
        "--limits",
        type=int,
        default=1,
        metavar="TIMES",
        help="allow drawings so many times larger than usual, 1 to 10 (usual: 105,000 "
        "entities, 200,000 vertices, 100 MB, 900 MiB of memory)",
    )


def limits_said(args: argparse.Namespace) -> Limits:
    """Return the limits that ``--limits`` comes to.

    Raises
    ------
    InputError
        If it is out of its range.
    """
    from ..io.limits import Limits

    try:
        return Limits().raised(args.limits)
    except InputError as error:
        raise InputError("--limits", error.what, error.cure) from None


@contextlib.contextmanager
def naming_limits() -> Iterator[None]:
    """Let errors about drawings that are too large name ``--limits``.

    Raises
    ------
    InputError
        Instead of `TooLarge`.
    """
    from ..io.limits import TooLarge

    try:
        yield
    except TooLarge as error:
        if error.times is None:
            raise
        cure = f"{error.cure}, or allow larger ones with --limits {error.times}"
        raise InputError(error.where, error.what, cure) from None


def add_reading_arguments(group: argparse._ActionsContainer) -> None:
    """Declare ``--units``, ``--known-width``, ``--layer`` and their kin."""
    add_limits_argument(group)
    group.add_argument(
        "--units",
        metavar="UNIT",
        help="what one unit of the drawing is: mm, in, cm … or a length such as 0.3mm",
    )
    for side in ("width", "height"):
        group.add_argument(
            f"--known-{side}",
            metavar="[PART=]LENGTH",
            help=f"the true {side} of a part (default the largest; 'drawing' for all "
            "that is drawn), from which the scale follows",
        )
    group.add_argument(
        "--layer",
        action="append",
        default=[],
        metavar="NAME=WORK",
        help="what a layer or a colour (red, '#ff0000', 'colour 1') means: outside, "
        "inside, pocket, engrave, drill, tab, 'not cut' or nothing",
    )


def length_said(option: str, text: str) -> float:
    """Return a length given with an option, mm.

    Raises
    ------
    InputError
        If it cannot be read, with the option.
    """
    from ..io.units import parse_length

    try:
        return parse_length(text)
    except InputError as error:
        raise InputError(option, error.what, error.cure) from None


def units_said(args: argparse.Namespace) -> str | None:
    """Return what ``--units`` says.

    Raises
    ------
    InputError
        If it is no unit.
    """
    from ..io.units import told

    if not args.units:
        return None
    try:
        told(args.units)
    except InputError as error:
        raise InputError("--units", error.what, error.cure) from None
    return str(args.units)


def known_size(args: argparse.Namespace) -> KnownSize | None:
    """Return the size given with ``--known-width`` and ``--known-height``.

    Raises
    ------
    InputError
        If it cannot be read, or speaks of two parts.
    """
    from ..io.known_size import KnownSize

    sizes: dict[str, float] = {}
    parts: set[str] = set()
    for side in ("width", "height"):
        said = getattr(args, f"known_{side}")
        if said is None:
            continue
        name, _, length = said.rpartition("=")
        sizes[side] = length_said(f"--known-{side}", length)
        parts.add(name.strip())
    if not sizes:
        return None
    if len(parts) > 1:
        raise InputError(
            "--known-height", "it speaks of another part than --known-width", "name one"
        )
    return KnownSize(sizes.get("width"), sizes.get("height"), parts.pop())


def layers_told(pairs: Sequence[str]) -> dict[str, Meaning | None]:
    """Return what ``--layer NAME=WORK`` says, by layer or colour.

    Raises
    ------
    InputError
        If one cannot be read.
    """
    from ..io.operations import meaning_from

    told: dict[str, Meaning | None] = {}
    for pair in pairs:
        name, equals, work = pair.rpartition("=")
        if not equals or not name:
            raise InputError("--layer", f"cannot read {pair!r}", "write NAME=WORK")
        try:
            told[name] = meaning_from(work)
        except InputError as error:
            raise InputError("--layer", error.what, error.cure) from None
    return told
