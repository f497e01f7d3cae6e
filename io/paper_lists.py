"""Pages that are lists: the overview, the cut list, the part labels."""

from __future__ import annotations

import math
from functools import partial

from reportlab.lib.units import mm

from ..nesting.model.job import Job
from ..nesting.model.lengths import length_text, size_text, with_unit
from ..nesting.model.outline import Outline
from ..nesting.model.part import Part
from .cautions import cautions
from .paper import FAINT, SOFT, Column, Page, Paper, page_size, wrapped
from .paper_blank import draw_blank
from .paper_curves import View, add_loops
from .shop_notes import ShopNotes

_ROW = 9.0
"""Height of a row of the cut list, mm: room for a small outline."""


def overview_page(job: Job, notes: ShopNotes) -> Page:
    """Return the first page: what the job is, all blanks small, cautions."""
    return Page("Overview", partial(_overview, job, notes))


def _overview(job: Job, notes: ShopNotes, paper: Paper) -> None:
    gap = 4.0
    x, top = paper.left + gap, paper.top - 2.5
    width = (paper.right - paper.left - 4 * gap) / 3.0
    y = paper.heading(x, top, width, "Job")
    y = paper.pairs(x, y, width, _job_facts(job, notes)) - 2.0
    if notes.cutting and y > paper.bottom + 16.0:
        y = paper.heading(x, y, width, "Cutting")
        y = paper.pairs(x, y, width, notes.cutting) - 2.0
    x += width + gap
    y = paper.heading(x, top, width, "Blanks in cutting order")
    _thumbnails(job, paper, x, y - 1.0, width, y - 1.0 - paper.bottom - 3.0)
    x += width + gap
    y = paper.heading(x, top, width, "Before you cut")
    materials = sorted({part.material for part in job.parts if part.quantity})
    for text in cautions(materials):
        y = paper.pairs(x, y, width, [("\u2022", text)], share=0.045)
    if notes.remarks and y > paper.bottom + 16.0:
        y = paper.heading(x, y - 2.0, width, "What the figures say")
        for text in notes.remarks:
            if y < paper.bottom + 6.0:
                break
            y = paper.pairs(x, y, width, [("\u2022", text)], share=0.045)


def _job_facts(job: Job, notes: ShopNotes) -> list[tuple[str, str]]:
    wanted = sum(part.quantity for part in job.parts)
    placed = len(job.layout.placements)
    cutting, units = job.cutting, job.units
    facts = [("Pieces", f"{placed} of {wanted} placed")]
    left = sum(entry.count for entry in job.layout.unplaced)
    if left:
        facts.append(("Not placed", f"{left}: see the cut list"))
    facts.append(("Blanks", str(len(job.layout.blanks))))
    facts += list(notes.facts)
    facts += [
        ("Cut width", with_unit(cutting.cutter, units, 3)),
        ("Gap", with_unit(cutting.gap, units, 3)),
        ("Margin", with_unit(cutting.margin, units)),
        ("Datum", cutting.datum.value),
    ]
    if notes.z_zero:
        facts.append(("Z zero", notes.z_zero))
    if job.bed:
        facts.append(("Bed", f"{size_text(*job.bed, units)} {units}"))
    return facts


def _thumbnails(
    job: Job, paper: Paper, x: float, y: float, width: float, height: float
) -> None:
    """Draw every blank small, in a grid that fills the room."""
    count = len(job.layout.blanks)
    if not count:
        paper.text(x, y - 4.0, "No blank is used.", 8.0, grey=SOFT)
        return
    sizes = [job.stock_of(i).outline.size for i in range(count)]
    wide, high = max(w for w, _ in sizes), max(h for _, h in sizes)
    caption, gap = 4.0, 3.0
    best = (0.0, 1)
    for columns in range(1, count + 1):
        lines = math.ceil(count / columns)
        scale = min(
            ((width + gap) / columns - gap) / wide,
            (height / lines - caption - gap) / high,
        )
        best = max(best, (scale, columns))
    scale, columns = best
    if scale * max(wide, high) < 6.0:  # too many to be of use
        paper.text(x, y - 4.0, f"{count} blanks: see their pages.", 8.0, grey=SOFT)
        return
    scale = min(scale, 60.0 / max(wide, high))
    cell_w, cell_h = wide * scale + gap, high * scale + caption + gap
    for i, (_, h) in enumerate(sizes):
        left = x + (i % columns) * cell_w
        top = y - (i // columns) * cell_h
        view = View(left, top - caption - h * scale, scale)
        name = f"{i + 1}  {job.stock_of(i).name}"
        paper.text(left, top - 2.8, name, 6.0, grey=SOFT, width=cell_w - gap)
        draw_blank(paper, job, i, view, None)


def _numbers(found: list[int]) -> str:
    """Return numbers as people list them: 1, 2, 5-8."""
    runs: list[list[int]] = []
    for number in found:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(
        str(a) if a == b else f"{a}, {b}" if b == a + 1 else f"{a}\N{EN DASH}{b}"
        for a, b in runs
    )


def cut_list_pages(job: Job) -> list[Page]:
    """Return the cut list: every part of the order, and where its copies lie."""
    _, height = page_size(job.units)
    per_page = int((height - 37.0 - 12.0) // _ROW)
    parts = list(enumerate(job.parts, 1))
    chunks = [parts[i : i + per_page] for i in range(0, max(len(parts), 1), per_page)]
    pages = []
    for i, chunk in enumerate(chunks, 1):
        title = "Cut list" if len(chunks) == 1 else f"Cut list {i} of {len(chunks)}"
        pages.append(Page(title, partial(_cut_list, job, chunk)))
    return pages


def _cut_list(job: Job, parts: list[tuple[int, Part]], paper: Paper) -> None:
    width = paper.right - paper.left - 6.0
    shares = (0.04, 0.08, 0.22, 0.11, 0.16, 0.06, 0.06, 0.27)
    names = ("No.", "", "Part", "Size", "Board", "Wanted", "Placed", "On blanks")
    columns = [
        Column(name, width * share, name in ("Wanted", "Placed"))
        for name, share in zip(names, shares, strict=True)
    ]
    reasons: dict[str, list[str]] = {}
    for entry in job.layout.unplaced:
        text = f"{entry.count} not placed: {entry.reason.value}"
        reasons.setdefault(entry.part_id, []).append(text)
    rows = []
    for number, part in parts:
        on = [p.blank + 1 for p in job.layout.placements if p.part_id == part.id]
        board = part.material
        if part.thickness:
            board += f" {with_unit(part.thickness, job.units)}"
        where = _numbers(sorted(set(on)))
        why = "; ".join(reasons.get(part.id, []))
        rows.append(
            (
                str(number),
                "",
                part.name,
                size_text(*part.outline.size, job.units),
                board.strip(),
                str(part.quantity),
                str(len(on)),
                "; ".join(text for text in (where, why) if text),
            )
        )
    x, y = paper.left + 3.0, paper.top - 2.0
    if not rows:
        paper.text(x, y - 6.0, "The order is empty.", 9.0, grey=SOFT)
        return
    paper.table(x, y, columns, rows, pitch=_ROW)
    at = x + columns[0].width
    for i, (_, part) in enumerate(parts):
        middle = y - _ROW * (i + 1.5)
        _small_outline(
            paper, part.outline, at, middle, columns[1].width - 3.0, _ROW - 1.6
        )


def _small_outline(
    paper: Paper, outline: Outline, x: float, middle: float, width: float, height: float
) -> None:
    """Draw an outline as large as it fits, its middle on a line."""
    w, h = outline.size
    scale = min(width / w, height / h)
    x0, y0, _, _ = outline.bounds
    left = x + (width - w * scale) / 2.0 - x0 * scale
    view = View(left, middle - h * scale / 2.0 - y0 * scale, scale)
    path = paper.canvas.beginPath()
    add_loops(path, outline.loops, view)
    paper.pen(0.15)
    paper.canvas.setFillColorRGB(0.965, 0.93, 0.86)
    paper.canvas.drawPath(path, stroke=1, fill=1, fillMode=0)


def label_pages(job: Job) -> list[Page]:
    """Return pages of part labels to cut out and stick on, one for each copy.

    A4 holds 3 by 8 of 70 by 37 mm, letter 3 by 10 of 2 5/8 by 1 in.
    """
    placed = sorted(job.layout.placements, key=lambda p: (p.blank, p.part_id, p.copy))
    numbers = {part.id: i for i, part in enumerate(job.parts, 1)}
    placed.sort(key=lambda p: (p.blank, numbers[p.part_id], p.copy))
    columns, lines = (3, 10) if job.units == "in" else (3, 8)
    per_page = columns * lines
    chunks = [placed[i : i + per_page] for i in range(0, len(placed), per_page)]
    pages = []
    for i, chunk in enumerate(chunks, 1):
        title = "Labels" if len(chunks) == 1 else f"Labels {i} of {len(chunks)}"
        labels = [
            (
                f"{numbers[p.part_id]}-{p.copy}",
                job.part(p.part_id),
                f"{p.copy} of {job.part(p.part_id).quantity}",
                p.blank + 1,
            )
            for p in chunk
        ]
        draw = partial(_labels, job, labels, columns, lines)
        pages.append(Page(title, draw, framed=False, upright=True))
    return pages


def _labels(
    job: Job,
    labels: list[tuple[str, Part, str, int]],
    columns: int,
    lines: int,
    paper: Paper,
) -> None:
    inch = job.units == "in"
    wide, high = (66.675, 25.4) if inch else (70.0, 37.0)
    pitch = 69.85 if inch else 70.0
    left = (paper.width - pitch * (columns - 1) - wide) / 2.0
    top = paper.height - (paper.height - high * lines) / 2.0
    for i, (number, part, copy, blank) in enumerate(labels):
        x = left + (i % columns) * pitch
        y = top - (i // columns + 1) * high
        paper.pen(0.1, FAINT)
        paper.canvas.setDash(1.0, 2.0)
        paper.box(x, y, wide, high)
        paper.canvas.setDash()
        inner = wide - 30.0
        tall = y + high
        paper.text(x + 4.0, tall - 8.5, number, 15.0, bold=True, width=inner)
        names = wrapped(part.name, inner, 8.0)[: 2 if inch else 3]
        at = tall - 12.6
        for name in names:
            paper.text(x + 4.0, at, name, 8.0)
            at -= 3.3
        board = part.material
        if part.thickness:
            board += f" {length_text(part.thickness, job.units)} {job.units}"
        facts = (
            f"{size_text(*part.outline.size, job.units)} {job.units}",
            board.strip(),
            f"{copy}, blank {blank}, {job.name}",
        )
        for j, text in enumerate(reversed(facts[1:] if inch else facts)):
            paper.text(
                x + 4.0, y + 2.6 + 2.8 * j, text, 6.0, grey=SOFT, width=wide - 8.0
            )
        _small_outline(
            paper,
            part.outline,
            x + wide - 25.0,
            y + high / 2.0 + 2.0,
            21.0,
            high - 14.0,
        )
    paper.canvas.setDash()
    paper.canvas.setLineWidth(0.25 * mm)
