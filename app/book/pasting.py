"""Rows of a spreadsheet to panels, and parts to rows: text with tabs."""

from __future__ import annotations

from collections.abc import Sequence

from ...io.findings import Finding, Severity
from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.outline import Loop, Outline
from ...nesting.model.part import Part
from ...nesting.model.rules import TurnRule
from . import words
from .importing import free_id

FIELDS = ("name", "quantity", "length", "width", "material", "thickness", "turn")
"""Columns in the order they are taken in when no header row names them."""


def panels_of(
    text: str, job: Job, taken: set[str]
) -> tuple[tuple[Part, ...], tuple[Finding, ...]]:
    """Return the panels that rows stand for, and what is wrong with other rows.

    Parameters
    ----------
    text : str
        Rows by line, cells by tab (or by semicolon where there is no tab). A first
        row of field names is optional.
    job : Job
        Gives the unit of bare numbers, and the board where a row names none.
    taken : set of str
        Ids in use; it is added to.
    """
    separator = "\t" if "\t" in text else ";"
    rows = [
        [cell.strip().strip('"') for cell in line.split(separator)]
        for line in text.splitlines()
        if line.strip()
    ]
    fields: Sequence[str] = FIELDS
    start = 0
    if rows:
        heads = [cell.casefold() for cell in rows[0]]
        if "length" in heads and "width" in heads:
            fields, start = heads, 1
    parts: list[Part] = []
    troubles: list[Finding] = []
    for number, row in enumerate(rows[start:], start + 1):
        cells = dict(zip(fields, row, strict=False))
        try:
            part = _panel(cells, job, free_id("part", taken), number)
        except InputError as error:
            what = f"{error.what}; {error.cure}" if error.cure else error.what
            troubles.append(
                Finding(
                    "pasted-row",
                    Severity.ERROR,
                    f"Row {number} ({'; '.join(row)[:60]}) was left out: {what}.",
                )
            )
        else:
            taken.add(part.id)
            parts.append(part)
    return tuple(parts), tuple(troubles)


def _panel(cells: dict[str, str], job: Job, part_id: str, number: int) -> Part:
    board = job.stock[0] if job.stock else None
    sides = []
    for key in ("length", "width"):
        if not cells.get(key):
            raise InputError(
                "", f"it has no {key}", "give name, quantity, length, width"
            )
        side = words.length(cells[key], job)
        if side <= 0.0:
            raise InputError("", f"its {key} is {cells[key]}", "give one above 0")
        sides.append(side)
    thickness = cells.get("thickness")
    return Part(
        part_id,
        cells.get("name") or f"panel {number}",
        Outline(Loop.rectangle(*sides)),
        quantity=words.whole(cells.get("quantity") or "1"),
        material=cells.get("material") or (board.material if board else ""),
        thickness=words.length(thickness, job)
        if thickness
        else (board.thickness if board else 0.0),
        turn=TurnRule.parse(cells.get("turn") or "90"),
    )


def rows_of(parts: Sequence[Part], job: Job) -> str:
    """Return parts as rows for a spreadsheet, with a header row."""
    lines = ["\t".join(FIELDS)]
    for part in parts:
        width, height = part.outline.size
        cells = [
            part.name,
            str(part.quantity),
            words.shown(width, job),
            words.shown(height, job),
            part.material,
            words.shown(part.thickness, job),
            str(part.turn),
        ]
        # What begins like a formula is quoted, so that no spreadsheet runs it.
        lines.append("\t".join(f"'{c}" if c[:1] in "=+-@" and c else c for c in cells))
    return "\n".join(lines) + "\n"
