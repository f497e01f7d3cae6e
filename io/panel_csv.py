"""Plain rectangular panels from a table: CSV with a header line.

Columns: ``name, quantity, length, width`` and, where wanted, ``material,
thickness, turn, flip, priority``. Separated by commas, semicolons or tabs; with
the latter two, a comma may be the decimal sign.
"""

from __future__ import annotations

import csv
import difflib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..nesting.model.errors import InputError
from ..nesting.model.rules import TurnRule
from .files import read_text
from .names import clean_text
from .tables import Problems
from .units import parse_length

NEEDED = ("quantity", "length", "width")
OPTIONAL = ("name", "material", "thickness", "turn", "flip", "priority")
MAX_BYTES = 10_000_000
MAX_ROWS = 20_000


@dataclass(frozen=True, slots=True)
class Panel:
    """One row.

    Parameters
    ----------
    place : str
        File and line, for errors.
    name : str
        May be empty.
    quantity : int
        0 or more.
    length, width : float
        Along x and along y, mm.
    material : str or None
        None when the row does not say.
    thickness : float or None
        mm; None when the row does not say.
    turn : TurnRule
        Which turns it may take.
    flip : bool
        Whether it may lie face down.
    priority : int
        Higher is placed first.
    """

    place: str
    name: str
    quantity: int
    length: float
    width: float
    material: str | None
    thickness: float | None
    turn: TurnRule
    flip: bool
    priority: int


def read_panels(path: Path, units: str = "mm") -> tuple[Panel, ...]:
    """Return the rows of a table of panels.

    Parameters
    ----------
    path : Path
        The CSV file.
    units : str
        The unit of numbers that name none.

    Raises
    ------
    InputError
        With every mistake in the table, a line each.
    """
    problems = Problems()
    panels = _read_rows(path, units, problems)
    problems.raise_any()
    return tuple(panels)


def _read_rows(path: Path, units: str, problems: Problems) -> list[Panel]:
    lines = read_text(path, MAX_BYTES).splitlines(keepends=True)
    first = next((n for n, line in enumerate(lines) if line.strip()), None)
    if first is None:
        raise InputError(str(path), "is empty", f"begin it with {','.join(NEEDED)}")
    reader = csv.reader(lines[first:], delimiter=_delimiter(lines[first]), strict=True)
    panels: list[Panel] = []
    header: list[str] = []
    begins = first + 1
    try:
        for row in reader:
            place, begins = f"{path}:{begins}", first + reader.line_num + 1
            cells = [cell.strip() for cell in row]
            if not any(cells):
                continue
            if not header:
                header = _header(cells, place)
                continue
            if len(panels) >= MAX_ROWS:
                raise InputError(place, f"more than {MAX_ROWS:,} rows", "split it")
            panel = _panel(header, cells, place, units, problems)
            if panel is not None:
                panels.append(panel)
    except csv.Error as error:
        raise InputError(
            f"{path}:{first + reader.line_num}",
            f"cannot be read as CSV: {error}",
            "check the quotes in this line",
        ) from error
    return panels


def _delimiter(header: str) -> str:
    """Return what separates the cells of the header."""
    return max(",;\t", key=header.count)


def _header(cells: Sequence[str], place: str) -> list[str]:
    """Return the columns' names; every one known, none twice, all needed there."""
    known = (*NEEDED, *OPTIONAL)
    names = [cell.lower() for cell in cells]
    while names and not names[-1]:
        names.pop()
    for name in names:
        if name not in known:
            near = difflib.get_close_matches(name, known, n=1)
            guess = (
                f"did you mean {near[0]!r}?" if near else f"known: {', '.join(known)}"
            )
            raise InputError(place, f"unknown column {name!r}", guess)
        if names.count(name) > 1:
            raise InputError(place, f"column {name!r} is there twice", "keep one")
    missing = [name for name in NEEDED if name not in names]
    if missing:
        raise InputError(
            place,
            f"the first line lacks {' and '.join(missing)}",
            f"name the columns: {','.join(('name', *NEEDED))}",
        )
    return names


def _panel(
    header: Sequence[str],
    cells: Sequence[str],
    place: str,
    units: str,
    problems: Problems,
) -> Panel | None:
    """Return a row as a panel, or None after noting what is wrong with it."""
    if any(cells[len(header) :]):
        problems.add(
            place,
            f"{len(cells)} cells under {len(header)} columns",
            "put a text that holds the separator in quotes",
        )
        return None
    before = len(problems.errors)
    row = dict.fromkeys((*NEEDED, *OPTIONAL), "")
    row.update(zip(header, cells, strict=False))
    read = problems.attempt
    panel = Panel(
        place,
        row["name"],
        read(place, lambda: _whole("quantity", row["quantity"], least=0), 0),
        read(place, lambda: _length("length", row["length"], units), 0.0),
        read(place, lambda: _length("width", row["width"], units), 0.0),
        row["material"] or None,
        read(place, lambda: _length("thickness", row["thickness"], units), 0.0)
        if row["thickness"]
        else None,
        read(place, lambda: TurnRule.parse(row["turn"] or "any"), TurnRule()),
        read(place, lambda: _yes("flip", row["flip"] or "no"), False),
        read(place, lambda: _whole("priority", row["priority"] or "0"), 0),
    )
    return panel if len(problems.errors) == before else None


def _length(key: str, text: str, units: str) -> float:
    if not text:
        raise InputError("", f"{key} is missing", "give a length")
    value = parse_length(text, units)
    if not value > 0.0:
        raise InputError("", f"{key} is {text}", "give a length above 0")
    return value


def _whole(key: str, text: str, least: int | None = None) -> int:
    if re.fullmatch(r"[+-]?[0-9]{1,6}", text) and (least is None or int(text) >= least):
        return int(text)
    cure = "give a whole number" if least is None else f"give {least} or a whole number"
    raise InputError("", f"{key} is {clean_text(text) or 'missing'}", cure)


def _yes(key: str, text: str) -> bool:
    word = text.lower()
    if word in ("yes", "true", "1"):
        return True
    if word in ("no", "false", "0"):
        return False
    raise InputError("", f"{key} is {clean_text(text)!r}", "give yes or no")
