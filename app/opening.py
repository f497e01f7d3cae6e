"""From what is named on the command line to a job: an order, a job file or drawings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ..io.findings import Finding
from ..io.units import parse_length
from ..nesting.model.errors import InputError
from ..nesting.model.job import Cutting, Job
from ..nesting.model.outline import Loop, Outline
from ..nesting.model.part import Part
from ..nesting.model.rules import TurnRule
from ..nesting.model.stock import Stock
from .progress import progress
from .reading_watch import watched
from .usual_cutting import usual_cutting

if TYPE_CHECKING:
    from ..io.known_size import KnownSize
    from ..io.limits import Limits
    from ..io.operations import Told
    from ..io.read_drawing import ReadDrawing


@dataclass(frozen=True)
class Wishes:
    """What the command line says besides the files; None where it says nothing.

    Parameters
    ----------
    sheet : str or None
        ``LENGTHxWIDTH`` of the sheets that drawings are laid on.
    cutter, allowance, margin : str or None
        Lengths as people write them.
    quantity : int or None
        Copies of each part, for drawings.
    turn : str or None
        The turn rule, for drawings.
    units : str or None
        The unit of drawings that do not say theirs.
    known : KnownSize or None
        A size of the drawings' largest parts, instead of the unit.
    layers : mapping or None
        What layers and colours of drawings mean.
    limits : Limits or None
        What reading a drawing may cost.
    """

    sheet: str | None = None
    cutter: str | None = None
    allowance: str | None = None
    margin: str | None = None
    quantity: int | None = None
    turn: str | None = None
    units: str | None = None
    known: KnownSize | None = None
    layers: Told | None = None
    limits: Limits | None = None


@dataclass(frozen=True)
class Opened:
    """A job, and what was found in the files it came from."""

    job: Job
    findings: tuple[Finding, ...] = field(default=())


def open_job(
    paths: Sequence[Path],
    wishes: Wishes | None = None,
    quiet: bool = True,
    usual: Cutting | None = None,
) -> Opened:
    """Return the job that some files stand for.

    Parameters
    ----------
    paths : sequence of Path
        One order (``.toml``), one job (``.drystone``), or any number of drawings.
    wishes : Wishes, optional
        What else was said.
    quiet : bool
        Whether to show no bar while drawings are read.
    usual : Cutting, optional
        What counts where neither the order nor the command line says otherwise; by
        default that of the set-up in use.

    Raises
    ------
    InputError
        If the files cannot be used together or one of them cannot be read.
    """
    wishes = wishes or Wishes()
    usual = usual or usual_cutting()
    kinds = {path.suffix.lower() for path in paths}
    whole = kinds & {".toml", ".drystone"}
    if whole and len(paths) > 1:
        raise InputError(
            str(paths[1]),
            "an order or a job stands alone",
            "name one order, one job, or drawings only",
        )
    # Drawings come from anywhere, so they are read in a process that can be ended.
    if not whole:
        from ..io.read_guarded import GuardedReader

        with GuardedReader(wishes.limits) as reader, progress(quiet) as bar:
            return _from_drawings(paths, wishes, watched(reader.look_at, bar), usual)
    for word, value in (
        ("--sheet", wishes.sheet),
        ("--quantity", wishes.quantity),
        ("--known-width or --known-height", wishes.known),
        ("--layer", wishes.layers or None),
    ):
        if value is not None:
            raise InputError(
                str(paths[0]), f"{word} is for drawings", "change it in the order"
            )
    if whole == {".toml"}:
        from ..io.order_file import read_order
        from ..io.read_guarded import GuardedReader

        with GuardedReader(wishes.limits) as reader, progress(quiet) as bar:
            order = read_order(paths[0], watched(reader.look_at, bar), usual)
        opened = Opened(order.job, tuple(order.findings))
    else:
        from ..io.job_file import read_job

        opened = Opened(read_job(paths[0]))
    job = opened.job
    return replace(opened, job=replace(job, cutting=_cutting(job.cutting, wishes)))


def _cutting(cutting: Cutting, wishes: Wishes) -> Cutting:
    """Return the cutting set-up with what the command line says put in."""

    def length(name: str, said: str | None, default: float) -> float:
        if said is None:
            return default
        try:
            return parse_length(said)
        except InputError as error:
            raise InputError(f"--{name}", error.what, error.cure) from None

    return replace(
        cutting,
        cutter=length("cutter", wishes.cutter, cutting.cutter),
        allowance=length("allowance", wishes.allowance, cutting.allowance),
        margin=length("margin", wishes.margin, cutting.margin),
    )


def sheet_size(text: str, where: str = "--sheet") -> tuple[float, float]:
    """Return length and width (mm) of a sheet such as ``2440x1220``.

    Raises
    ------
    InputError
        If it is not two lengths above 0.
    """
    pieces = text.lower().replace("×", "x").split("x")
    try:
        length, width = (parse_length(piece) for piece in pieces)
    except ValueError:
        length = width = 0.0
    if not (length > 0.0 and width > 0.0):
        raise InputError(
            where,
            f"{text!r} is no size of a board",
            "write length and width, such as 2440x1220 or 96in x 48in",
        )
    return length, width


def _from_drawings(
    paths: Sequence[Path],
    wishes: Wishes,
    look_at: Callable[..., ReadDrawing],
    usual: Cutting,
) -> Opened:
    from ..io.read_drawing import with_parts

    if wishes.sheet is None:
        raise InputError(
            str(paths[0]),
            "drawings alone do not say what they are cut from",
            "add --sheet LENGTHxWIDTH, such as --sheet 2440x1220",
        )
    length, width = sheet_size(wishes.sheet)
    quantity = 1 if wishes.quantity is None else wishes.quantity
    if quantity < 1:
        raise InputError("--quantity", f"{quantity} copies", "give 1 or more")
    try:
        turn = TurnRule.parse(wishes.turn or "any")
    except InputError as error:
        raise InputError("--turn", error.what, error.cure) from None
    parts: list[Part] = []
    findings: list[Finding] = []
    for path in paths:
        read = with_parts(
            look_at(path, wishes.units, known=wishes.known, layers=wishes.layers)
        )
        findings += read.findings
        for part in read.parts:
            part_id = f"part-{len(parts) + 1}"
            parts.append(
                replace(part, id=part_id, quantity=quantity, turn=turn, material="")
            )
    sheet = Stock(
        "sheet", f"sheet {length:g} x {width:g}", Outline(Loop.rectangle(length, width))
    )
    name = paths[0].stem if len(paths) == 1 else f"{paths[0].stem} and others"
    job = Job(
        name,
        tuple(parts),
        (sheet,),
        _cutting(usual, wishes),
        layers=tuple(
            (key, meaning.value if meaning else "nothing")
            for key, meaning in (wishes.layers or {}).items()
        ),
    )
    return Opened(job, tuple(findings))
