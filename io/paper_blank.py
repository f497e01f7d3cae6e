"""The page of one blank: a drawing to scale, and what the bench needs beside it."""

from __future__ import annotations

import math
from collections import Counter
from functools import partial

from reportlab.lib.units import mm

from ..nesting.model.job import Datum, Job
from ..nesting.model.lengths import length_text, share_text, size_text, with_unit
from ..nesting.model.motion import Point
from ..nesting.model.outline import Outline
from ..nesting.model.part import Mark, Operation, Part
from ..nesting.model.placement import Placement
from ..nesting.model.rules import Grain
from ..nesting.model.stock import Stock
from .paper import INK, SOFT, Column, Page, Paper, page_size
from .paper_corners import fill_standing
from .paper_curves import View, add_chain, add_loops
from .paper_labels import Label, LabelMaker
from .shop_notes import BlankNotes, ShopNotes

_PANEL = 76.0
_ROOM = 11.0
"""Space for dimensions left of and above the drawing, mm."""

_AIR = 5.0
_LEAST = 16.0
"""Room for a heading with something under it, mm."""

_SCALES = (1, 2, 2.5, 3, 4, 5, 6, 7.5, 8, 10, 12, 15, 20, 25, 30, 40, 50, 75, 100)


def part_number(job: Job, part_id: str) -> int:
    """Return a part's number in the order, from 1."""
    return next(i for i, part in enumerate(job.parts, 1) if part.id == part_id)


def datum_point(datum: Datum, stock: Stock) -> Point:
    """Return where the datum lies in the blank's coordinates, mm."""
    x0, y0, x1, y1 = stock.outline.bounds
    if datum is Datum.CENTRE:
        return (x0 + x1) / 2.0, (y0 + y1) / 2.0
    x = x0 if "left" in datum.value else x1
    return x, y0 if "lower" in datum.value else y1


def fitting_scale(size: tuple[float, float], room: tuple[float, float]) -> float:
    """Return n of the largest scale 1 : n at which a size fits a room, both mm."""
    need = max(size[0] / room[0], size[1] / room[1])
    for n in _SCALES:
        if n >= need:
            return n
    return math.ceil(need / 100.0) * 100.0


def blank_page(
    job: Job, index: int, notes: ShopNotes, labels: LabelMaker
) -> list[Page]:
    """Return the page of one blank (from 0), and more when its list is long."""
    stock = job.stock_of(index)
    width, height = page_size(job.units)
    room = (
        width - 30.0 - _PANEL - _ROOM - _AIR,
        height - 37.0 - _ROOM - _AIR,
    )
    scale = fitting_scale(stock.outline.size, room)
    title = f"Blank {index + 1} of {len(job.layout.blanks)}: {stock.name}"
    counts = Counter(p.part_id for p in job.layout.on(index))
    rows = [
        (str(number), part.name, str(counts[part.id]))
        for number, part in enumerate(job.parts, 1)
        if counts[part.id]
    ]
    rest: list[tuple[str, str, str]] = []
    pages = [
        Page(
            title,
            partial(_draw, job, index, notes, labels, scale, rows, rest),
            f"1 : {scale:g}",
        )
    ]
    fit = _rows_that_fit(job, index, notes, height)
    if len(rows) > fit:
        rest.extend(rows[max(fit - 1, 0) :])
        columns = max(int((width - 30.0) // 84.0), 1)
        per_page = columns * int((height - 45.0) // 4.6)
        pages += [
            Page(f"{title}, parts", partial(_more_rows, rest[i : i + per_page]))
            for i in range(0, len(rest), per_page)
        ]
    return pages


def _more_rows(rows: list[tuple[str, str, str]], paper: Paper) -> None:
    per_column = int((paper.height - 45.0) // 4.6)
    columns = (Column("No.", 10), Column("Part", 58), Column("Pieces", 12, True))
    x = paper.left + 3.0
    for i in range(0, len(rows), per_column):
        paper.table(x, paper.top - 2.0, columns, rows[i : i + per_column])
        x += 84.0


def _draw(
    job: Job,
    index: int,
    notes: ShopNotes,
    labels: LabelMaker,
    scale: float,
    rows: list[tuple[str, str, str]],
    rest: list[tuple[str, str, str]],
    paper: Paper,
) -> None:
    stock = job.stock_of(index)
    said = notes.blank(index)
    wide = paper.right - _PANEL - paper.left
    high = paper.top - paper.bottom
    w, h = (side / scale for side in stock.outline.size)
    x = paper.left + _ROOM + (wide - _ROOM - _AIR - w) / 2.0
    y = paper.bottom + _AIR + (high - _ROOM - _AIR - h) / 2.0
    view = View(x, y, 1.0 / scale)
    draw_blank(paper, job, index, view, labels, said)
    _dimensions(paper, stock, view, job.units)
    _panel(paper, job, index, notes, rows, rest)


def draw_blank(
    paper: Paper,
    job: Job,
    index: int,
    view: View,
    labels: LabelMaker | None,
    said: BlankNotes | None = None,
) -> None:
    """Draw a blank with all that lies on it; without `labels` only the outlines."""
    stock = job.stock_of(index)
    placed = job.layout.on(index)
    _board(paper, stock, view, job.cutting.margin if labels else 0.0)
    for placement in placed:
        part = job.part(placement.part_id)
        _part(paper, part, placement, view, full=labels is not None)
    if labels is None:
        return
    said = said or BlankNotes()
    _keep_outs(paper, stock, view)
    fill_standing(said.standing, paper, view)
    for spot in said.loose:
        _loose(paper, view.point(spot))
    for spot in said.screws:
        _screw(paper, view.point(spot))
    for placement in placed:
        part = job.part(placement.part_id)
        name = f"{part_number(job, part.id)}-{placement.copy}"
        label = labels.label(part, placement, name, part.name, view.scale)
        _write_label(paper, placement, label, view)
    _datum(paper, view.point(datum_point(job.cutting.datum, stock)), job.cutting.datum)


def _keep_outs(paper: Paper, stock: Stock, view: View) -> None:
    """Draw the areas no cut may touch, as far as they lie on the board."""
    canvas = paper.canvas
    left, low, right, _ = stock.outline.bounds
    for keep_out in stock.keep_outs:
        canvas.saveState()
        board = _path(paper, stock.outline, view)
        canvas.clipPath(board, stroke=0, fill=0, fillMode=0)
        hatched(paper, Outline(keep_out.loop), view)
        canvas.restoreState()
        x0, y0, x1, _ = keep_out.loop.bounds
        middle = (max(x0, left) + min(x1, right)) / 2.0
        px, py = view.point((middle, max(y0, low)))
        paper.text(px, py - 2.4, keep_out.label, 5.0, grey=SOFT, align="centre")


def _path(paper: Paper, outline: Outline, view: View) -> object:
    path = paper.canvas.beginPath()
    add_loops(path, outline.loops, view)
    return path


def _board(paper: Paper, stock: Stock, view: View, margin: float) -> None:
    canvas = paper.canvas
    canvas.saveState()
    canvas.setFillGray(1.0)
    paper.pen(0.5)
    canvas.drawPath(_path(paper, stock.outline, view), stroke=1, fill=1, fillMode=0)
    canvas.clipPath(_path(paper, stock.outline, view), stroke=0, fill=0, fillMode=0)
    _grain(paper, stock, view)
    if margin and stock.is_rectangle:
        w, h = stock.outline.size
        if min(w, h) > 2.0 * margin:
            x, y = view.point((margin, margin))
            paper.pen(0.13, 0.55)
            canvas.setDash(2.0, 2.0)
            paper.box(
                x, y, (w - 2 * margin) * view.scale, (h - 2 * margin) * view.scale
            )
    canvas.restoreState()


def _grain(paper: Paper, stock: Stock, view: View) -> None:
    """Draw faint lines along the face grain, clipped by the board."""
    if stock.grain is Grain.NONE:
        return
    x0, y0, x1, y1 = stock.outline.bounds
    (left, low), (right, high) = view.point((x0, y0)), view.point((x1, y1))
    paper.pen(0.1, 0.88)
    along = stock.grain is Grain.LENGTH
    at, end = (low, high) if along else (left, right)
    step = 0
    while (at := at + (2.6, 3.4, 1.9, 4.1)[step % 4]) < end:
        step += 1
        if along:
            paper.line(left, at, right, at)
        else:
            paper.line(at, low, at, high)


def _part(
    paper: Paper, part: Part, placement: Placement, view: View, *, full: bool
) -> None:
    canvas = paper.canvas
    outline = part.outline.moved(placement.motion)
    canvas.saveState()
    canvas.setFillColorRGB(0.965, 0.93, 0.86)
    paper.pen(0.3 if full else 0.15)
    canvas.setLineJoin(1)
    canvas.drawPath(_path(paper, outline, view), stroke=1, fill=1, fillMode=0)
    if full:
        for mark in part.marks:
            _mark(paper, mark.moved(placement.motion), view)
    canvas.restoreState()


def _mark(paper: Paper, mark: Mark, view: View) -> None:
    canvas = paper.canvas
    path = canvas.beginPath()
    add_chain(path, mark.segments, view)
    if mark.operation is Operation.POCKET and mark.closed:
        path.close()
        canvas.setFillGray(0.8)
        paper.pen(0.15)
        canvas.drawPath(path, stroke=1, fill=1)
    elif mark.operation is Operation.DRILL:
        x0, y0, x1, y1 = mark.bounds
        x, y = view.point(((x0 + x1) / 2.0, (y0 + y1) / 2.0))
        paper.pen(0.2)
        canvas.drawPath(path, stroke=1, fill=0)
        paper.line(x - 1.0, y, x + 1.0, y)
        paper.line(x, y - 1.0, x, y + 1.0)
    else:
        tab = mark.operation is Operation.TAB
        paper.pen(0.9 if tab else 0.15, INK if tab else 0.3)
        canvas.drawPath(path, stroke=1, fill=0)


def hatched(paper: Paper, outline: Outline, view: View) -> None:
    """Draw an area that no cut may touch."""
    canvas = paper.canvas
    x0, y0, x1, y1 = outline.bounds
    (left, low), (right, high) = view.point((x0, y0)), view.point((x1, y1))
    canvas.saveState()
    canvas.setFillGray(1.0)
    canvas.drawPath(_path(paper, outline, view), stroke=0, fill=1)
    canvas.clipPath(_path(paper, outline, view), stroke=0, fill=0)
    paper.pen(0.15, 0.3)
    at = left - (high - low)
    while at < right:
        paper.line(at, low, at + high - low, high)
        at += 1.1
    canvas.restoreState()
    paper.pen(0.35, 0.2)
    canvas.drawPath(_path(paper, outline, view), stroke=1, fill=0)


def _screw(paper: Paper, at: Point) -> None:
    """Draw a screw head: a circle with a cross, black on white."""
    x, y = at
    canvas = paper.canvas
    canvas.setFillGray(1.0)
    paper.pen(0.35)
    canvas.circle(x * mm, y * mm, 1.5 * mm, stroke=1, fill=1)
    paper.line(x - 0.9, y - 0.9, x + 0.9, y + 0.9)
    paper.line(x - 0.9, y + 0.9, x + 0.9, y - 0.9)


def _loose(paper: Paper, at: Point) -> None:
    """Draw an open triangle: this piece comes loose."""
    x, y = at
    canvas = paper.canvas
    path = canvas.beginPath()
    for i, (dx, dy) in enumerate(((-1.4, -1.0), (1.4, -1.0), (0.0, 1.5))):
        (path.lineTo if i else path.moveTo)((x + dx) * mm, (y + dy) * mm)
    path.close()
    canvas.setFillGray(1.0)
    paper.pen(0.25)
    canvas.drawPath(path, stroke=1, fill=1)


def _datum(paper: Paper, at: Point, datum: Datum) -> None:
    """Draw the datum: a quartered disc and the two axes."""
    x, y = at
    canvas = paper.canvas
    radius = 2.2
    paper.pen(0.4)
    canvas.setFillGray(1.0)
    canvas.circle(x * mm, y * mm, radius * mm, stroke=1, fill=1)
    canvas.setFillGray(0.0)
    for start in (0, 180):
        canvas.wedge(
            (x - radius) * mm,
            (y - radius) * mm,
            (x + radius) * mm,
            (y + radius) * mm,
            start,
            90,
            stroke=0,
            fill=1,
        )
    left, up = 1.0, 1.0
    if "right" in datum.value:
        left = -1.0
    if "upper" in datum.value:
        up = -1.0
    # Axes always point along +x and +y; from a right or upper corner they lead
    # off the board, so they are drawn outside it.
    shift_y = -4.0 * up if datum is not Datum.CENTRE else 0.0
    shift_x = -4.0 * left if datum is not Datum.CENTRE else 0.0
    _arrow(paper, (x, y + shift_y), (x + 9.0, y + shift_y), "X")
    _arrow(paper, (x + shift_x, y), (x + shift_x, y + 9.0), "Y")


def _arrow(paper: Paper, start: Point, end: Point, name: str) -> None:
    paper.pen(0.35)
    paper.line(*start, *end)
    _head(paper, start, end)
    along = (end[0] - start[0], end[1] - start[1])
    length = math.hypot(*along)
    x = end[0] + along[0] / length * 1.6
    y = end[1] + along[1] / length * 1.6
    paper.text(x, y - 1.0, name, 6.5, bold=True, align="centre")


def _head(paper: Paper, start: Point, end: Point, size: float = 1.8) -> None:
    """Draw a filled arrow head at `end`."""
    angle = math.atan2(end[1] - start[1], end[0] - start[0])
    path = paper.canvas.beginPath()
    path.moveTo(end[0] * mm, end[1] * mm)
    for side in (-1.0, 1.0):
        a = angle + math.pi + side * math.radians(12.0)
        path.lineTo(
            (end[0] + size * math.cos(a)) * mm, (end[1] + size * math.sin(a)) * mm
        )
    path.close()
    paper.canvas.setFillGray(INK)
    paper.canvas.drawPath(path, stroke=0, fill=1)


def dimension(paper: Paper, start: Point, end: Point, text: str, offset: float) -> None:
    """Draw a dimension beside a horizontal or vertical edge, mm of paper.

    Parameters
    ----------
    start, end : Point
        Ends of the edge; left to right, or low to high.
    offset : float
        How far from the edge the line lies, to the left of start to end.
    """
    length = math.dist(start, end)
    if length == 0.0:
        return
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    nx, ny = -uy, ux
    a = (start[0] + nx * offset, start[1] + ny * offset)
    b = (end[0] + nx * offset, end[1] + ny * offset)
    paper.pen(0.13)
    gap = math.copysign(1.0, offset)
    for edge, foot in ((start, a), (end, b)):
        paper.line(
            edge[0] + nx * gap,
            edge[1] + ny * gap,
            foot[0] + nx * gap,
            foot[1] + ny * gap,
        )
    paper.line(*a, *b)
    middle = ((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0)
    if length > 5.0:
        _head(paper, middle, a)
        _head(paper, middle, b)
    turn = math.degrees(math.atan2(uy, ux))
    paper.text(
        middle[0] + nx * 0.9, middle[1] + ny * 0.9, text, 7.0, align="centre", turn=turn
    )


def _dimensions(paper: Paper, stock: Stock, view: View, units: str) -> None:
    x0, y0, x1, y1 = stock.outline.bounds
    low_left, high_right = view.point((x0, y0)), view.point((x1, y1))
    high_left = (low_left[0], high_right[1])
    dimension(paper, high_left, high_right, length_text(x1 - x0, units), _ROOM - 5.0)
    dimension(paper, low_left, high_left, length_text(y1 - y0, units), _ROOM - 5.0)


def _write_label(paper: Paper, placement: Placement, label: Label, view: View) -> None:
    x, y = view.point((label.x + placement.x, label.y + placement.y))
    pitch = label.size * 0.3528 * 1.15
    radians = math.radians(label.turn)
    count = len(label.lines)
    for i, text in enumerate(label.lines):
        up = pitch * ((count - 1) / 2.0 - i) - label.size * 0.3528 * 0.36
        paper.text(
            x - up * math.sin(radians),
            y + up * math.cos(radians),
            text,
            label.size,
            bold=i == 0,
            align="centre",
            turn=label.turn,
        )


def _panel_facts(job: Job, index: int, notes: ShopNotes) -> list[tuple[str, str]]:
    stock = job.stock_of(index)
    units = job.units
    placed = job.layout.on(index)
    used = math.fsum(job.part(p.part_id).area for p in placed)
    facts = [("Board", stock.material or "not said")]
    if stock.thickness:
        facts.append(("Thickness", with_unit(stock.thickness, units)))
    facts.append(("Size", f"{size_text(*stock.outline.size, units)} {units}"))
    if stock.grain is not Grain.NONE:
        side = "length" if stock.grain is Grain.LENGTH else "width"
        axis = "X" if stock.grain is Grain.LENGTH else "Y"
        facts.append(("Face grain", f"along the {side} ({axis})"))
    facts += [
        ("Pieces", str(len(placed))),
        ("Yield", share_text(used / stock.area, 0)),
        ("Datum", _datum_words(job)),
    ]
    if notes.z_zero:
        facts.append(("Z zero", notes.z_zero))
    return facts + list(notes.blank(index).facts)


def _datum_words(job: Job) -> str:
    """Return where the datum is and what its coordinates are."""
    x, y = (length_text(value, job.units) for value in job.cutting.offset)
    words = f"{job.cutting.datum.value}: X{x} Y{y}"
    return words + (" from the stops" if any(job.cutting.offset) else "")


def _screw_rows(job: Job, index: int, said: BlankNotes) -> list[tuple[str, str]]:
    stock = job.stock_of(index)
    x0, y0 = datum_point(job.cutting.datum, stock)
    x0, y0 = x0 - job.cutting.offset[0], y0 - job.cutting.offset[1]
    rows = []
    for i, (x, y) in enumerate(said.screws[:8], 1):
        place = (
            f"X {length_text(x - x0, job.units)}   Y {length_text(y - y0, job.units)}"
        )
        rows.append((f"Screw {i}", place))
    return rows


def _rows_that_fit(job: Job, index: int, notes: ShopNotes, height: float) -> int:
    """Return how many parts the panel's list has room for."""
    said = notes.blank(index)
    lines = len(_panel_facts(job, index, notes)) + 2
    lines += len(_screw_rows(job, index, said))
    lines += sum(len(text) // 48 + 1 for text in said.remarks)
    room = height - 37.0 - 30.0 - lines * 4.4
    return max(int(room // 4.6), 0)


def _panel(
    paper: Paper,
    job: Job,
    index: int,
    notes: ShopNotes,
    rows: list[tuple[str, str, str]],
    rest: list[tuple[str, str, str]],
) -> None:
    said = notes.blank(index)
    x = paper.right - _PANEL
    paper.pen(0.25)
    paper.line(x, paper.bottom, x, paper.top)
    x, width = x + 3.0, _PANEL - 6.0
    y = paper.heading(x, paper.top - 2.5, width, "This blank")
    y = paper.pairs(x, y, width, _panel_facts(job, index, notes)) - 1.5
    screws = _screw_rows(job, index, said)
    if screws and y > paper.bottom + _LEAST:
        asked = job.holding.screws
        what = "Screws" if asked else "Suggested screws"
        start = "the stops" if any(job.cutting.offset) else "the datum"
        y = paper.heading(x, y, width, f"{what}, from {start}")
        y = paper.pairs(x, y, width, screws) - 1.5
    if said.remarks and y > paper.bottom + _LEAST:
        y = paper.heading(x, y, width, "Mind")
        for remark in said.remarks:
            y = paper.pairs(x, y, width, [("\u2022", remark)], share=0.05)
        y -= 1.0
    if y < paper.bottom + _LEAST:  # the parts then stand on the next page
        return
    y = paper.heading(x, y, width, "Parts on this blank")
    if not rows:
        paper.text(x, y - 3.2, "nothing lies on it", 7.5, grey=SOFT)
        return
    shown = rows[: len(rows) - len(rest)] if rest else rows
    columns = (
        Column("No.", 9.0),
        Column("Part", width - 23.0),
        Column("Pieces", 14.0, True),
    )
    y = paper.table(x, y, columns, shown)
    if rest:
        paper.text(
            x + 1.0, y - 3.3, f"and {len(rest)} more on the next page", 7.0, grey=SOFT
        )
