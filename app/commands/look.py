"""``drystone look``: what drawings really hold."""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from ...nesting.model.errors import DrystoneError
from ...nesting.model.part import Operation, Part
from ..progress import progress
from ..reading_words import (
    add_reading_arguments,
    known_size,
    layers_told,
    length_said,
    limits_said,
    units_said,
)

if TYPE_CHECKING:
    from ...io.findings import Finding
    from ...io.operations import Told
    from ...io.read_drawing import ReadDrawing

SUMMARY = "tell what drawings really hold: sizes, parts, holes, units, flaws"
EXAMPLES = """\
  drystone look side.dxf
  drystone look *.dxf *.svg --json
  drystone look old.dxf --units in
  drystone look scan.svg --known-width 120mm
  drystone look sheet.dxf --known-height door=1980mm
  drystone look plate.dxf --drill-up-to 8mm --layer VENT=inside --layer red=engrave"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("files", nargs="+", metavar="FILE", help="DXF or SVG drawing")
    parser.add_argument(
        "--drill-up-to",
        metavar="LENGTH",
        help='round holes up to this diameter are drilled (default 1/4" or 6.35 mm)',
    )
    parser.add_argument(
        "--join",
        metavar="LENGTH",
        help="close gaps up to this width (default: by the drawing's size)",
    )
    add_reading_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Look at every file; return 1 if one holds no part, 2 if one cannot be read."""
    from ...io.read_guarded import GuardedReader
    from ..reading_watch import watched

    told = layers_told(args.layer)
    options: dict[str, Any] = {"layers": told, "known": known_size(args)}
    for name in ("drill_up_to", "join"):
        said = getattr(args, name)
        if said:
            options[name] = length_said(f"--{name.replace('_', '-')}", said)

    # The bar is gone before anything is printed: each drawing has its own.
    def look_at(file: str, units: str | None) -> ReadDrawing:
        with progress(args.quiet) as bar:
            return watched(reader.look_at, bar)(file, units, **options)

    with GuardedReader(limits_said(args)) as reader:
        return _look(args, told, look_at)


def _look(
    args: argparse.Namespace, told: Told, look_at: Callable[..., ReadDrawing]
) -> int:
    status = 0
    unused = set(told)
    listed: list[dict[str, Any]] = []
    for number, file in enumerate(args.files):
        try:
            read = look_at(file, units_said(args))
        except DrystoneError as error:
            if len(args.files) == 1:
                raise
            print(f"drystone look: {error}", file=sys.stderr)
            listed.append({"file": file, "error": str(error)})
            status = 2
            continue
        unused -= {key for key in told if any(use.has(key) for use in read.uses)}
        if not read.parts:
            status = max(status, 1)
        if args.json:
            listed.append(as_dict(read))
        else:
            if number:
                print()
            print("\n".join(note(read, args.quiet)))
    for key in sorted(unused):
        print(f"drystone look: --layer {key}: nothing drawn has it", file=sys.stderr)
        status = max(status, 1)
    if args.json:
        print(json.dumps({"drawings": listed}, indent=2, ensure_ascii=False))
    return status


# --- for people ---


def note(read: ReadDrawing, quiet: bool = False) -> list[str]:
    """Return the lines of a note about one drawing."""
    lines = [read.file, f"  Units: {_units(read)}"]
    if read.bounds is not None and len(read.parts) != 1:
        x0, y0, x1, y1 = read.bounds
        size = _size(x1 - x0, y1 - y0, read.units.unit)
        lines.append(f"  Drawn within {size}: {_count(len(read.parts), 'part')}.")
    lines += [f"  {_part(part, read.units.unit)}" for part in read.parts]
    if quiet:
        return lines
    lines += _layers(read)
    groups: dict[str, list[str]] = {}
    for finding in read.findings:
        if finding.code == "layer-meaning":  # the line on layers says it
            continue
        groups.setdefault(_group(finding), []).append(_sentence(finding))
    for name in ("Not usable", "Look at", "Left out", "Mended", "Guessed", "Note"):
        for text in groups.get(name, ()):
            says_so = name == "Left out"  # the sentence holds these words itself
            lines.append(
                f"  {text[:1].upper()}{text[1:]}" if says_so else f"  {name}: {text}"
            )
    if any(f.code in ("gap-closed", "gap-left") for f in read.findings):
        width = f"{read.tolerance:.3f}".rstrip("0").rstrip(".")
        lines.append(
            f"  Note: gaps up to {width} mm are closed here; --join closes wider ones."
        )
    if not groups and read.parts:
        lines.append("  Clean: nothing mended, nothing left out.")
    return lines


def _units(read: ReadDrawing) -> str:
    from ...io.units import SCALED

    reading = read.units
    guess = "guessed from the sizes"
    if read.kind == "svg":
        guess = "assumed, as the page states no true size"
    words = {
        "header": "the file says so",
        "page size": "by the size of its page",
        "told": "as you said",
        "known size": "by the size you gave",
        "guess": guess,
    }.get(reading.basis, reading.basis)
    sure = "" if reading.sure else "; please check"
    if reading.unit == SCALED:
        unit = f"1 drawing unit = {reading.factor:.6g} mm"
    else:
        factor = "" if reading.unit == "mm" else f" (1 = {reading.factor:.6g} mm)"
        unit = f"{reading.unit}{factor}"
    return f"{unit}, {words}{sure}."


def _size(width: float, height: float, unit: str = "mm") -> str:
    from ...io.read_drawing import size_text
    from ...io.units import format_length

    text = size_text(width, height)
    if unit in ("in", "ft"):
        inches = (format_length(v, "in").removesuffix(" in") for v in (width, height))
        text += f" ({' x '.join(inches)} in)".replace('"', "")
    return text


def _part(part: Part, unit: str) -> str:
    from ...io.read_drawing import size_text

    pieces = [_size(*part.outline.size, unit)]
    rounds: Counter[str] = Counter()
    for hole in part.outline.holes:
        x0, y0, x1, y1 = hole.bounds
        size = size_text(x1 - x0, y1 - y0)
        if hole.is_circle:
            size = f"{size.split(' x ')[0]} mm round"
        rounds[size] += 1
    if len(rounds) == 1:
        ((size, n),) = rounds.items()
        each = " each" if n > 1 else ""
        pieces.append(f"{_count(n, 'hole')} ({size}{each})")
    elif rounds:
        shown = ", ".join(f"{n} of {size}" for size, n in rounds.most_common(4))
        more = ", …" if len(rounds) > 4 else ""
        pieces.append(f"{_count(sum(rounds.values()), 'hole')} ({shown}{more})")
    marks = Counter(mark.operation for mark in part.marks)
    for operation, singular in (
        (Operation.DRILL, "hole to drill"),
        (Operation.POCKET, "pocket"),
        (Operation.ENGRAVE, "engraved line"),
        (Operation.TAB, "tab"),
    ):
        if marks[operation]:
            pieces.append(_count(marks[operation], singular))
    return f"Part {part.name!r}: {', '.join(pieces)}."


def _layers(read: ReadDrawing) -> Iterable[str]:
    """Return a line on layers and colours, where one of them says what is done."""
    from ...io.notes import tame

    if not any(use.meaning or use.told for use in read.uses):
        return
    layers: dict[str, int] = {}
    for use in read.uses:
        name = tame(use.layer) or "no layer"
        if len({u.meaning for u in read.uses if u.layer == use.layer}) > 1:
            name += f" in {use.colour or use.fill or 'no colour'}"
        if use.meaning:
            name += f" ({use.meaning})"
        layers[name] = layers.get(name, 0) + use.count
    shown = [f"{_count(n, 'shape')} on {name}" for name, n in layers.items()]
    more = ", …" if len(shown) > 8 else ""
    yield f"  Layers: {', '.join(shown[:8])}{more}."


def _count(n: int, singular: str) -> str:
    if singular == "hole to drill":
        return f"{n} hole{'' if n == 1 else 's'} to drill"
    return f"{n} {singular}{'' if n == 1 else 's'}" if n else f"no {singular}"


def _group(finding: Finding) -> str:
    if finding.severity.value == "error":
        return "Not usable"
    if "left out" in finding.message and not finding.fixed:
        return "Left out"
    if finding.fixed:
        return "Mended"
    if finding.code.endswith("-guessed"):
        return "Guessed"
    return "Look at" if finding.severity.value == "warning" else "Note"


def _sentence(finding: Finding) -> str:
    text = finding.message
    if finding.place is not None:
        x, y = finding.place
        first = "first " if finding.count > 1 else ""
        # + 0.0 turns a rounded -0.0 into 0.0
        text += f" [{first}at {round(x, 1) + 0.0:.1f}, {round(y, 1) + 0.0:.1f}]"
    return text + "."


# --- for programs ---


def as_dict(read: ReadDrawing) -> dict[str, Any]:
    """Return a drawing with stable keys, lengths in mm."""
    units = read.units
    sizes = [part.outline.size for part in read.parts]
    largest = max(sizes, key=max) if sizes else ()
    return {
        "file": read.file,
        "kind": read.kind,
        "units": {
            "unit": units.unit,
            "mm_per_unit": units.factor,
            "basis": units.basis,
            "sure": units.sure,
            "others": [
                {
                    "unit": unit,
                    "mm_per_unit": factor,
                    "largest": [side * factor / units.factor for side in largest],
                }
                for unit, factor in units.others
            ],
        },
        "bounds": list(read.bounds) if read.bounds else None,
        "join_tolerance": read.tolerance,
        "parts": [
            _part_dict(part, origin)
            for part, origin in zip(read.parts, read.origins, strict=True)
        ],
        "layers": [
            {
                "layer": use.layer,
                "colour": use.colour,
                "fill": use.fill,
                "count": use.count,
                "work": use.meaning.value if use.meaning else None,
                "told": use.told,
            }
            for use in read.uses
        ],
        "findings": [finding.as_dict() for finding in read.findings],
    }


def _part_dict(part: Part, origin: tuple[float, float]) -> dict[str, Any]:
    return {
        "id": part.id,
        "name": part.name,
        "size": list(part.outline.size),
        "area": part.outline.area,
        "cut_length": part.outline.length,
        "origin": list(origin),
        "holes": [
            {"bounds": list(hole.bounds), "area": hole.area, "circle": hole.is_circle}
            for hole in part.outline.holes
        ],
        "marks": [
            {
                "operation": mark.operation.value,
                "name": mark.name,
                "closed": mark.closed,
                "bounds": list(mark.bounds),
            }
            for mark in part.marks
        ],
    }
