"""What a layout amounts to: a report for programs, a cut list for people."""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

from ..nesting.model.job import Job
from ..nesting.model.motion import Point
from ..nesting.model.part import Operation
from ..nesting.model.pin_holes import pin_holes
from ..nesting.model.stock import Stock
from .blank_drawing import datum_shift

REPORT_VERSION = 1
"""Goes up when a key changes its meaning or goes away."""


def build_report(
    job: Job,
    *,
    files: Sequence[str] = (),
    sections: Mapping[str, object] | None = None,
    screws: Sequence[Sequence[Point]] = (),
) -> dict[str, Any]:
    """Return the report of a job's layout, as plain JSON values with stable keys.

    Lengths are mm, areas mm², angles degrees counter-clockwise; positions count from
    each blank's datum.

    Parameters
    ----------
    job : Job
        The job with its layout.
    files : sequence of str
        Names of the files that belong to the report.
    sections : mapping, optional
        More top-level entries, such as the bound, the cost or the times.
    screws : sequence of sequences of Point
        For each blank its places for screws, in its own coordinates.
    """
    layout = job.layout
    placed = Counter(p.part_id for p in layout.placements)
    used = [job.stock_of(n) for n in range(len(layout.blanks))]
    part_area = sum(job.part(p.part_id).area for p in layout.placements)
    blank_area = sum(stock.area for stock in used)
    return {
        "report": "drystone layout",
        "version": REPORT_VERSION,
        "job": job.name,
        "units": "mm",
        "cutting": {
            "cutter": job.cutting.cutter,
            "allowance": job.cutting.allowance,
            "gap": job.cutting.gap,
            "margin": job.cutting.margin,
            "datum": job.cutting.datum.value,
            "datum_offset": list(job.cutting.offset),
            "use_holes": job.cutting.use_holes,
            "relief": job.relief.value,
            "keep_side": job.cutting.keep_side,
            "keep_square": job.cutting.keep_square,
            "keep_neck": job.cutting.keep_neck,
        },
        "holding": {
            "tabs": job.holding.tabs.value,
            "screws": job.holding.screws,
            "screw_distance": job.holding.screw_distance,
        },
        "totals": {
            "blanks": len(used),
            "copies_wanted": sum(part.quantity for part in job.parts),
            "copies_placed": len(layout.placements),
            "part_area": part_area,
            "blank_area": blank_area,
            "yield": part_area / blank_area if blank_area else 0.0,
            "stock_price": sum(stock.price for stock in used),
        },
        "stock_used": [
            {"stock": stock.id, "name": stock.name, "count": count}
            for stock in job.stock
            if (count := used.count(stock))
        ],
        "blanks": [
            _blank(job, n, stock, screws[n] if n < len(screws) else ())
            for n, stock in enumerate(used)
        ],
        "parts": [
            {
                "part": part.id,
                "name": part.name,
                "wanted": part.quantity,
                "placed": placed[part.id],
                "area": part.area,
                "material": part.material,
                "thickness": part.thickness,
                "relief": (job.relief if part.relief is None else part.relief).value,
                "tabs": sum(m.operation is Operation.TAB for m in part.marks),
            }
            for part in job.parts
        ],
        "unplaced": [
            {"part": u.part_id, "count": u.count, "reason": u.reason.value}
            for u in layout.unplaced
        ],
        "files": list(files),
        **(sections or {}),
    }


def _blank(
    job: Job, number: int, stock: Stock, screws: Sequence[Point]
) -> dict[str, Any]:
    shift = datum_shift(job, number)
    placements = job.layout.on(number)
    area = sum(job.part(p.part_id).area for p in placements)
    return {
        "blank": number + 1,
        "stock": stock.id,
        "name": stock.name,
        "material": stock.material,
        "thickness": stock.thickness,
        "size": list(stock.outline.size),
        "area": stock.area,
        "offcut": stock.offcut,
        "yield": area / stock.area,
        "screws": [list(shift.point(spot)) for spot in screws],
        "pin_holes": [
            list(shift.point(((x0 + x1) / 2.0, (y0 + y1) / 2.0)))
            for x0, y0, x1, y1 in (loop.bounds for loop in pin_holes(job, number))
        ],
        "placements": [
            {
                "part": p.part_id,
                "copy": p.copy,
                "x": shift.point((p.x, p.y))[0],
                "y": shift.point((p.x, p.y))[1],
                "turn": p.turn,
                "flipped": p.flipped,
                "locked": p.locked,
            }
            for p in placements
        ],
    }


def report_json(report: Mapping[str, Any]) -> bytes:
    """Return a report as the bytes of a JSON file."""
    text = json.dumps(report, indent=1, ensure_ascii=False, allow_nan=False)
    return (text + "\n").encode("utf-8", "replace")


CUT_LIST_COLUMNS = (
    "blank",
    "stock",
    "part",
    "name",
    "copies",
    "length_mm",
    "width_mm",
    "material",
    "thickness_mm",
    "turn_rule",
    "note",
)


def cut_list_csv(job: Job) -> bytes:
    """Return the cut list: for each blank, its parts and how many copies of each.

    Copies that found no room stand at the end, with the reason. The file begins
    with a byte order mark, without which spreadsheets misread letters.
    """
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(CUT_LIST_COLUMNS)
    layout = job.layout
    for blank in range(len(layout.blanks)):
        counts = Counter(p.part_id for p in layout.on(blank))
        for part in job.parts:
            if counts[part.id]:
                where = (str(blank + 1), job.stock_of(blank).name)
                writer.writerow(_row(job, where, part.id, counts[part.id], ""))
    for unplaced in layout.unplaced:
        note = f"not placed: {unplaced.reason.value}"
        writer.writerow(_row(job, ("", ""), unplaced.part_id, unplaced.count, note))
    return b"\xef\xbb\xbf" + stream.getvalue().encode("utf-8", "replace")


def _row(
    job: Job, where: tuple[str, str], part_id: str, count: int, note: str
) -> list[str]:
    part = job.part(part_id)
    length, width = part.outline.size
    cells = [
        *where,
        part.id,
        part.name,
        str(count),
        f"{length:.3f}",
        f"{width:.3f}",
        part.material,
        f"{part.thickness:g}",
        str(part.turn),
        note,
    ]
    return [plain_cell(cell) for cell in cells]


def plain_cell(text: str) -> str:
    """Return a cell that no spreadsheet takes for a formula.

    One that begins with ``= + - @``, also behind blanks, gets an apostrophe in front.
    """
    return f"'{text}" if text.lstrip()[:1] in tuple("=+-@") else text
