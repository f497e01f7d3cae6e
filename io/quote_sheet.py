"""A quote as pages for the customer, and as rows for a spreadsheet."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from functools import partial

from .paper import SOFT, Column, Page, Paper, make_pdf, page_size, wrapped

Row = tuple[str, str, str]
"""What, how much of it, and the amount; any may be empty."""

PartRow = tuple[str, str, str, str]
"""A part's name, its size, its board and how many pieces."""

_PITCH = 6.0
"""Height of a row of the price, mm."""

_PART_PITCH = 5.2
"""Height of a row of the list of parts, mm."""

_AIR = 6.0
"""From the frame to what is written, mm."""


def quote_pdf(
    name: str,
    facts: Sequence[tuple[str, str]],
    rows: Sequence[Row],
    total: tuple[str, str],
    remarks: Sequence[str],
    units: str = "mm",
    date: datetime.date | None = None,
    *,
    parts: Sequence[PartRow] = (),
) -> bytes:
    """Return a quote as the bytes of a PDF.

    Parameters
    ----------
    name : str
        The job's name.
    facts : sequence of (str, str)
        What the order holds.
    rows : sequence of Row
        The price, line by line.
    total : (str, str)
        What the last line is called, and its amount.
    remarks : sequence of str
        Whole sentences below.
    units : str
        "mm" for A4 paper, "in" for letter.
    date : date, optional
        Today when left out.
    parts : sequence of PartRow
        The parts of the order; those that do not fit below the price stand on
        further pages.
    """
    day = date or datetime.date.today()
    _, height = page_size(units, upright=True)
    inner = page_size(units, upright=True)[0] - 30.0 - 2.0 * _AIR
    head = 20.0 + max(len(facts) * 4.5 + 8.0, len(rows) * _PITCH + 28.0)
    foot = sum(4.2 * len(wrapped(text, inner - 5.0, 7.5)) for text in remarks)
    foot += 8.0 if remarks else 0.0
    frame = height - 37.0 - 2.0 * _AIR
    fit = max(int((frame - head - foot - 14.0) // _PART_PITCH), 0)
    per_page = int((frame - 10.0) // _PART_PITCH)
    numbered = [(str(n), *part) for n, part in enumerate(parts, 1)]
    pages = [
        Page(
            "Quote",
            partial(_first, name, day, facts, rows, total, remarks, numbered[:fit]),
            upright=True,
        )
    ]
    pages += [
        Page(
            "Quote, parts", partial(_parts, numbered[at : at + per_page]), upright=True
        )
        for at in range(fit, len(numbered), per_page)
    ]
    return make_pdf(pages, name, units, day)


def _first(
    name: str,
    day: datetime.date,
    facts: Sequence[tuple[str, str]],
    rows: Sequence[Row],
    total: tuple[str, str],
    remarks: Sequence[str],
    parts: Sequence[Sequence[str]],
    paper: Paper,
) -> None:
    left, right = paper.left + _AIR, paper.right - _AIR
    wide = right - left
    paper.text(left, paper.top - 13.0, name, 15.0, bold=True, width=wide - 30.0)
    paper.text(right, paper.top - 13.0, day.isoformat(), 9.0, grey=SOFT, align="right")
    top = paper.top - 20.0
    half = wide * 0.38
    low = paper.heading(left, top, half - 6.0, "The order")
    low = paper.pairs(left, low, half - 6.0, facts, size=8.5, share=0.4)
    x, width = left + half, wide - half
    y = paper.heading(x, top, width, "Price")
    columns = (
        Column("", width * 0.5),
        Column("", width * 0.28),
        Column("Amount", width * 0.22, True),
    )
    y = paper.table(x, y + 1.0, columns, rows, size=8.5, pitch=_PITCH)
    paper.pen(0.5)
    paper.line(x, y - 1.0, x + width, y - 1.0)
    paper.text(x + 1.0, y - 7.5, total[0], 13.0, bold=True)
    paper.text(x + width - 1.0, y - 7.5, total[1], 13.0, bold=True, align="right")
    paper.text(x + 1.0, y - 13.0, "Times and weights are estimates.", 7.5, grey=SOFT)
    y = min(low, y - 16.0) - 4.0
    if remarks:
        y = paper.heading(left, y, wide, "Please note")
        for text in remarks:
            y = paper.pairs(left, y, wide, [("\u2022", text)], share=0.025)
        y -= 3.0
    if parts:
        y = paper.heading(left, y, wide, "Parts in this order")
        _table(parts, paper, left, y + 1.0, wide)


def _parts(parts: Sequence[Sequence[str]], paper: Paper) -> None:
    left, wide = paper.left + _AIR, paper.right - paper.left - 2.0 * _AIR
    y = paper.heading(left, paper.top - 4.0, wide, "Parts in this order, continued")
    _table(parts, paper, left, y + 1.0, wide)


def _table(
    parts: Sequence[Sequence[str]], paper: Paper, x: float, y: float, width: float
) -> None:
    shares = (0.06, 0.36, 0.22, 0.26, 0.10)
    names = ("No.", "Part", "Size", "Board", "Pieces")
    columns = [
        Column(name, width * share, name == "Pieces")
        for name, share in zip(names, shares, strict=True)
    ]
    paper.table(x, y, columns, parts, size=8.0, pitch=_PART_PITCH)


def quote_csv(rows: Sequence[Sequence[str]]) -> bytes:
    """Return rows as CSV; a cell that a spreadsheet would run is quoted."""
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer)
    for row in rows:
        writer.writerow([_harmless(cell) for cell in row])
    return buffer.getvalue().encode("utf-8")


def _harmless(cell: str) -> str:
    try:
        float(cell)
    except ValueError:
        return f"'{cell}" if cell[:1] in ("=", "+", "-", "@", "\t", "\r") else cell
    return cell
