"""A quote as a page for the customer, and as rows for a spreadsheet."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Sequence
from functools import partial

from .paper import SOFT, Column, Page, Paper, make_pdf

Row = tuple[str, str, str]
"""What, how much of it, and the amount; any may be empty."""


def quote_pdf(
    name: str,
    facts: Sequence[tuple[str, str]],
    rows: Sequence[Row],
    total: tuple[str, str],
    remarks: Sequence[str],
    units: str = "mm",
    date: datetime.date | None = None,
) -> bytes:
    """Return a quote as the bytes of a PDF of one page.

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
    """
    day = date or datetime.date.today()
    draw = partial(_draw, facts, rows, total, remarks)
    return make_pdf([Page("Quote", draw)], name, units, day)


def _draw(
    facts: Sequence[tuple[str, str]],
    rows: Sequence[Row],
    total: tuple[str, str],
    remarks: Sequence[str],
    paper: Paper,
) -> None:
    x, top = paper.left + 5.0, paper.top - 4.0
    half = (paper.right - paper.left) * 0.4
    y = paper.heading(x, top, half - 10.0, "The order")
    y = paper.pairs(x, y, half - 10.0, facts, size=9.0)
    if remarks:
        y = paper.heading(x, y - 4.0, half - 10.0, "Please note")
        for text in remarks:
            y = paper.pairs(x, y, half - 10.0, [("\u2022", text)], share=0.04)
    x += half
    width = paper.right - x - 5.0
    y = paper.heading(x, top, width, "Price")
    columns = (
        Column("", width * 0.46),
        Column("", width * 0.32),
        Column("Amount", width * 0.22, True),
    )
    y = paper.table(x, y + 1.0, columns, rows, size=9.0, pitch=6.0)
    paper.pen(0.5)
    paper.line(x, y - 1.0, x + width, y - 1.0)
    paper.text(x + 1.0, y - 8.0, total[0], 13.0, bold=True)
    paper.text(x + width - 1.0, y - 8.0, total[1], 13.0, bold=True, align="right")
    paper.text(x + 1.0, y - 14.0, "Times and weights are estimates.", 7.5, grey=SOFT)


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
