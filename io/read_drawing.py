"""Any drawing to parts: one road for every kind of file."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ..nesting.model.curve import Box
from ..nesting.model.errors import InputError
from ..nesting.model.motion import Point
from ..nesting.model.outline import bounds_of
from ..nesting.model.part import Part
from .chain import Chain, join_tolerance, largest_shape
from .classify import DRILL_UP_TO, classify
from .drawing import Drawing, UnitReading
from .findings import Finding, Severity
from .known_size import KnownSize, from_known_size, measured
from .limits import Budget, Limits
from .loops import find_chains
from .notes import Notes, in_order
from .operations import LayerUse, Told, Works
from .shape_findings import KINDS
from .sniff import sniff
from .units import plausible, told

Tell = Callable[[float, str], object]
"""Told how far reading is, 0 to 1, and what is going on."""

_MOST_COLOURS = 8
"""A drawing in more colours than this is a picture; its colours say nothing."""


@dataclass(frozen=True)
class ReadDrawing:
    """What a drawing holds.

    Parameters
    ----------
    file : str
        Its path.
    kind : str
        ``dxf`` or ``svg``.
    parts : tuple of Part
        Quantity 1, no material; ids are unique in the file. The least corner of
        each outline's bounding box is (0, 0).
    origins : tuple of Point
        Where in the drawing the (0, 0) of each part lay, mm.
    units : UnitReading
        How its numbers became mm.
    findings : tuple of Finding
        The gravest first; places are in the drawing's coordinates, mm.
    bounds : Box or None
        The box round everything read, mm; None if there is nothing.
    tolerance : float
        The widest gap that was closed, mm.
    uses : tuple of LayerUse
        Its layers and colours, and what each was taken to mean.
    """

    file: str
    kind: str
    parts: tuple[Part, ...]
    origins: tuple[Point, ...]
    units: UnitReading
    findings: tuple[Finding, ...]
    bounds: Box | None
    tolerance: float
    uses: tuple[LayerUse, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether there is a part in it."""
        return bool(self.parts)


def look_at(
    path: Path | str,
    units: str | None = None,
    *,
    known: KnownSize | None = None,
    layers: Told | None = None,
    drill_up_to: float = DRILL_UP_TO,
    join: float | None = None,
    limits: Limits | None = None,
    cancelled: Callable[[], bool] | None = None,
    tell: Tell | None = None,
) -> ReadDrawing:
    """Return what a drawing holds, also when there is no part in it.

    Parameters
    ----------
    path : Path or str
        A DXF or SVG file, whatever it is called.
    units : str, optional
        The user's word on the unit of its numbers, such as ``in``, or what one of
        them is, such as ``0.3 mm``; overrules the file.
    known : KnownSize, optional
        A size the user knows, from which the scale follows; instead of `units`.
    layers : mapping, optional
        The user's word on what layers or colours mean; see `Works`.
    drill_up_to : float
        Round holes up to this diameter become holes to drill, mm.
    join : float, optional
        The widest gap to close, mm; else 1/10,000 of the drawing's size, at least
        0.02 and at most 0.1.
    limits : Limits, optional
        What reading may cost.
    cancelled : callable, optional
        Asked now and then; True stops with `Cancelled`.
    tell : callable, optional
        Told at each step how far it is and what is going on.

    Raises
    ------
    InputError
        If it is no drawing, cannot be read, or goes beyond a limit.
    """
    path = Path(path)
    if known is not None and units:
        raise InputError(
            str(path), "both its unit and a size are told", "say one of them"
        )

    def look(units: str | None) -> ReadDrawing:
        return _look(
            path, units, layers, drill_up_to, join, limits, cancelled, tell or _silent
        )

    read = look(units)
    return read if known is None else _at_known_size(read, known, look)


def _look(
    path: Path,
    units: str | None,
    layers: Told | None,
    drill_up_to: float,
    join: float | None,
    limits: Limits | None,
    cancelled: Callable[[], bool] | None,
    tell: Tell,
) -> ReadDrawing:
    word = told(units) if units else None
    kind = sniff(path)
    budget = Budget(str(path), limits, cancelled)
    budget.bytes(path.stat().st_size)
    tell(0.0, "reading lines")
    drawing = _strokes(path, kind, word, units, budget, limits, cancelled)
    tell(0.6, "joining lines")
    strokes = drawing.strokes
    tolerance = join_tolerance(strokes) if join is None else join
    works = Works(layers)
    chains, notes = find_chains(strokes, tolerance, works, str(path), budget)
    tell(0.8, "telling parts from holes")
    parts, origins = classify(
        chains, str(path), notes, budget, works=works, drill_up_to=drill_up_to
    )
    uses = uses_of(chains, works)
    _tell_colours(uses, notes)
    bounds = bounds_of(s for st in strokes for s in st.segments) if strokes else None
    if not parts:
        code, why = _why_no_part(drawing, notes)
        notes.add(code, detail=why)
    _doubt_units(drawing, parts, notes)
    # That an SVG page is empty is said already, with the reason.
    found = [f for f in drawing.findings if f.code != "svg-empty"]
    if any(f.code == "svg-line-outline" for f in found):
        notes.forget("thin-part")  # the same shapes, and the same advice
    findings = in_order((*notes.findings(), *found))
    return ReadDrawing(
        str(path),
        kind,
        parts,
        origins,
        drawing.units,
        findings,
        bounds,
        tolerance,
        uses,
    )


def _silent(share: float, words: str) -> None:
    """Tell nobody."""


def _at_known_size(
    read: ReadDrawing, known: KnownSize, look: Callable[[str | None], ReadDrawing]
) -> ReadDrawing:
    """Return a drawing read anew at the scale that a known size leads to."""
    found = from_known_size(read, known)
    again = look(found.units)
    name, width, height = measured(again, known.part)
    # A page stretched one way only measures differently once it is read evenly.
    if abs(width - found.width) + abs(height - found.height) > 1e-3 * found.width:
        found = from_known_size(again, known)
        again = look(found.units)
        name, width, height = measured(again, known.part)
    notes = Notes(read.file, KINDS)
    detail = f"{name!r} is {size_text(width, height)}"
    if found.unit and found.off > 1e-6 * max(width, height):
        detail += (
            f"; one unit is {found.unit}, which fits to {found.off:.2g} mm, and "
            f"--units {found.exact.units!r} gives exactly the size you said"
        )
    notes.add("scale-known" if found.unit else "scale-odd", detail=detail)
    if found.skew > 0.002:
        notes.add("size-skewed", detail=f"{100.0 * found.skew:.2g} %")
    units = replace(again.units, basis="known size", others=read.units.others)
    findings = in_order((*notes.findings(), *again.findings))
    return replace(again, units=units, findings=findings)


def read_drawing(
    path: Path | str,
    units: str | None = None,
    *,
    known: KnownSize | None = None,
    layers: Told | None = None,
    drill_up_to: float = DRILL_UP_TO,
    join: float | None = None,
    limits: Limits | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> ReadDrawing:
    """Return the parts in a drawing; as `look_at`, but there must be one.

    Raises
    ------
    InputError
        As `look_at`, and if there is no closed outline.
    """
    read = look_at(
        path,
        units,
        known=known,
        layers=layers,
        drill_up_to=drill_up_to,
        join=join,
        limits=limits,
        cancelled=cancelled,
    )
    return with_parts(read)


def with_parts(read: ReadDrawing) -> ReadDrawing:
    """Return a drawing in which there is a part.

    Raises
    ------
    InputError
        If there is no closed outline, with the reason.
    """
    if not read.parts:
        worst = next((f for f in read.findings if f.code in NO_PART), None)
        words = worst.message if worst else "there is no closed outline to cut"
        what, _, cure = words.partition("; ")
        raise InputError(read.file, what, cure)
    return read


def _strokes(
    path: Path,
    kind: str,
    word: UnitReading | None,
    units: str | None,
    budget: Budget,
    limits: Limits | None,
    cancelled: Callable[[], bool] | None,
) -> Drawing:
    # Each reader is imported when it is needed: ezdxf alone costs 0.2 s.
    if kind == "dxf":
        from .read_dxf import read_dxf

        return read_dxf(path, budget, word)
    from .read_svg import read_svg

    return read_svg(path, units, limits, cancelled)


def uses_of(chains: Sequence[Chain], works: Works) -> tuple[LayerUse, ...]:
    """Return which layers and colours chains are drawn in, the commonest first."""
    counts = Counter((c.layer, c.colour, c.fill) for c in chains)
    out = []
    for (layer, colour, fill), count in counts.most_common():
        said = works.said(layer, colour, fill)
        out.append(LayerUse(layer, colour, fill, count, said.meaning, said.told))
    return tuple(out)


def _tell_colours(uses: Sequence[LayerUse], notes: Notes) -> None:
    """Say that a drawing uses several colours where nothing says what they mean."""
    colours: Counter[str] = Counter()
    for use in uses:
        if use.colour:
            colours[use.colour] += use.count
    known = any(use.meaning or use.told for use in uses)
    if known or not 2 <= len(colours) <= _MOST_COLOURS:
        return
    for colour, count in colours.most_common():
        notes.add("colours", detail=f"{colour}: {count}")


NO_PART = ("no-outline", "outlines-left-out", "nothing-drawn")
"""Findings of a drawing in which there is no part."""

_ONLY = (
    (("dxf-text", "svg-text"), "text"),
    (("dxf-bitmap", "svg-bitmap"), "a picture"),
    (("dxf-3d",), "solids without flat lines"),
    (("dxf-dimension",), "dimensions"),
)
_HIDDEN = (
    ("dxf-layer-off", "everything is on layers that are switched off"),
    ("svg-hidden", "everything in it is hidden"),
    ("svg-unpainted", "nothing in it is painted"),
    ("dxf-invisible", "everything in it is marked invisible"),
)


def _why_no_part(drawing: Drawing, notes: Notes) -> tuple[str, str]:
    """Return which finding says that there is no part, and the reason."""
    codes = {finding.code for finding in drawing.findings}
    if not drawing.strokes:
        for code, words in _HIDDEN:
            if code in codes:
                return "outlines-left-out", words
        only = [word for some, word in _ONLY if not codes.isdisjoint(some)]
        if not only:
            return "nothing-drawn", "nothing is drawn"
        return "nothing-drawn", f"there is only {' and '.join(only)}"
    if notes.count("self-crossing"):
        return "outlines-left-out", "the closed shapes cross themselves"
    if notes.count("gap-left"):
        return "no-outline", "lines nearly meet but leave gaps"
    if notes.count("not-cut"):
        words = "the layers or colours of all shapes are not to be cut"
        return "outlines-left-out", words
    if notes.count("no-area"):
        return "outlines-left-out", "the closed shapes enclose nothing"
    return "no-outline", "only open lines are drawn"


def _doubt_units(drawing: Drawing, parts: tuple[Part, ...], notes: Notes) -> None:
    reading = drawing.units
    if reading.sure or any(
        f.code == "svg-no-size" and f.severity is not Severity.INFO
        for f in drawing.findings
    ):
        return
    sizes = [part.outline.size for part in parts]
    if not sizes:
        longest = largest_shape(drawing.strokes)
        sizes = [(longest, longest)]
    width, height = max(sizes, key=max)
    taken, unit = size_text(width, height), _word(reading.unit)
    readings = [f"the largest part is {taken} if the unit is {unit}, as was taken"]
    for unit, factor in reading.others:
        ratio = factor / reading.factor
        if plausible(max(width, height) * ratio) or unit in ("mm", "in"):
            size = size_text(width * ratio, height * ratio)
            readings.append(f"{size} if it is {_word(unit)}")
    code = "units-unknown" if reading.basis == "guess" else "units-doubtful"
    notes.add(code, detail=", ".join(readings))


def _word(unit: str) -> str:
    """Return a unit so that it is not taken for another word."""
    return "inch" if unit == "in" else unit


def size_text(width: float, height: float) -> str:
    """Return a size as people read it, in mm."""

    def plain(value: float) -> str:
        digits = 1 if abs(value) >= 100.0 else 2
        return f"{value:.{digits}f}".rstrip("0").rstrip(".")

    return f"{plain(width)} x {plain(height)} mm"
