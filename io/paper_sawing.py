"""The break-down page: how a sheet is sawn into blanks, in sawing order."""

from __future__ import annotations

from functools import partial

from ..nesting.model.breakdown import Piece, SawStage
from ..nesting.model.lengths import length_text, share_text, size_text, with_unit
from ..nesting.model.outline import Outline
from .paper import SOFT, Column, Page, Paper, page_size
from .paper_blank import dimension, fitting_scale, hatched
from .paper_curves import View
from .shop_notes import SheetCuts

_PANEL = 86.0
_ROOM = 16.0


def sawing_page(cuts: SheetCuts, units: str) -> Page:
    """Return the page of one break-down."""
    width, height = page_size(units)
    room = (width - 30.0 - _PANEL - _ROOM - 8.0, height - 37.0 - _ROOM - 10.0)
    scale = fitting_scale(cuts.breakdown.sheet, room)
    return Page(
        f"{_name(cuts)}: {cuts.name}",
        partial(_draw, cuts, units, scale),
        f"1 : {scale:g}",
    )


def _name(cuts: SheetCuts) -> str:
    return "Index positions" if cuts.breakdown.holes else "Break-down"


def _draw(cuts: SheetCuts, units: str, scale: float, paper: Paper) -> None:
    plan = cuts.breakdown
    w, h = plan.sheet[0] / scale, plan.sheet[1] / scale
    wide = paper.right - _PANEL - paper.left
    high = paper.top - paper.bottom
    x = paper.left + _ROOM + (wide - _ROOM - 8.0 - w) / 2.0
    y = paper.bottom + 6.0 + (high - _ROOM - 10.0 - h) / 2.0
    paper.pen(0.5)
    paper.canvas.setFillGray(0.93)
    paper.box(x, y, w, h, fill=True)
    paper.box(x, y, w, h)
    for number, piece in enumerate(plan.pieces, 1):
        px, py = x + piece.x / scale, y + piece.y / scale
        pw, ph = piece.width / scale, piece.height / scale
        paper.canvas.setFillColorRGB(0.965, 0.93, 0.86)
        paper.box(px, py, pw, ph, fill=True)
        _keep_outs(paper, piece, (px, py), scale)
        paper.pen(0.2)
        paper.box(px, py, pw, ph)
        upright = pw < 24.0 <= ph
        turn = 90.0 if upright else 0.0
        cx, cy = px + pw / 2.0, py + ph / 2.0
        text = size_text(piece.width, piece.height, units)
        size = 8.0 if max(pw, ph) > 24.0 else 6.0
        paper.text(
            cx - (1.0 if upright else 0.0),
            cy + (0.0 if upright else 1.0),
            str(number),
            size + 2.0,
            bold=True,
            align="centre",
            turn=turn,
        )
        paper.text(
            cx + (3.2 if upright else 0.0),
            cy - (0.0 if upright else 3.2),
            text,
            size,
            align="centre",
            turn=turn,
        )
    for hole in plan.holes:
        _hole(paper, x + hole[0] / scale, y + hole[1] / scale)
    for number, cut in enumerate(plan.cuts, 1):
        _cut(paper, (x, y), scale, number, cut.start, cut.end, cut.stage)
    dimension(
        paper, (x, y + h), (x + w, y + h), length_text(plan.sheet[0], units), 11.0
    )
    dimension(paper, (x, y), (x, y + h), length_text(plan.sheet[1], units), 11.0)
    _list(cuts, units, paper)


def _keep_outs(
    paper: Paper, piece: Piece, at: tuple[float, float], scale: float
) -> None:
    """Hatch the areas of a piece that no cut may touch, clipped by its edge."""
    if not piece.keep_outs:
        return
    unit = 72.0 / 25.4
    canvas = paper.canvas
    canvas.saveState()
    edge = canvas.beginPath()
    edge.rect(
        at[0] * unit,
        at[1] * unit,
        piece.width / scale * unit,
        piece.height / scale * unit,
    )
    canvas.clipPath(edge, stroke=0, fill=0)
    for area in piece.keep_outs:
        hatched(paper, Outline(area.loop), View(*at, 1.0 / scale))
    canvas.restoreState()


def _hole(paper: Paper, x: float, y: float) -> None:
    """Draw a hole for a pin."""
    unit = 72.0 / 25.4
    paper.pen(0.3)
    paper.canvas.setFillGray(1.0)
    paper.canvas.circle(x * unit, y * unit, 1.2 * unit, stroke=1, fill=1)
    paper.line(x - 2.0, y, x + 2.0, y)
    paper.line(x, y - 2.0, x, y + 2.0)


def _cut(
    paper: Paper,
    origin: tuple[float, float],
    scale: float,
    number: int,
    start: tuple[float, float],
    end: tuple[float, float],
    stage: SawStage,
) -> None:
    """Draw a cut with its number in a disc at its beginning."""
    x0, y0 = origin[0] + start[0] / scale, origin[1] + start[1] / scale
    x1, y1 = origin[0] + end[0] / scale, origin[1] + end[1] / scale
    paper.pen(0.6 if stage is SawStage.RIP else 0.35)
    if stage is SawStage.TRIM:
        paper.canvas.setDash(3.0, 2.0)
    paper.line(x0, y0, x1, y1)
    paper.canvas.setDash()
    along = abs(x1 - x0) >= abs(y1 - y0)
    # Through cuts are numbered outside the sheet, later ones on their strip.
    if stage is SawStage.CROSS:
        cx, cy = (x0 + x1) / 2.0, (y0 + y1) / 2.0
    else:
        cx, cy = (x0 - 3.4, y0) if along else (x0, y0 + 3.4)
        if not along:
            cy = max(y0, y1) + 3.4
    paper.pen(0.25)
    paper.canvas.setFillGray(1.0)
    unit = 72.0 / 25.4
    paper.canvas.circle(cx * unit, cy * unit, 2.3 * unit, stroke=1, fill=1)
    paper.text(cx, cy - 0.95, str(number), 7.5, bold=True, align="centre")


def _list(cuts: SheetCuts, units: str, paper: Paper) -> None:
    plan = cuts.breakdown
    x = paper.right - _PANEL
    paper.pen(0.25)
    paper.line(x, paper.bottom, x, paper.top)
    x, width = x + 3.0, _PANEL - 6.0
    y = paper.heading(x, paper.top - 2.5, width, "Sheet")
    pieces = ", ".join(
        f"{count} of {size_text(w, h, units)}" for w, h, count in plan.sizes
    )
    share = plan.area / (plan.sheet[0] * plan.sheet[1])
    y = paper.pairs(
        x,
        y,
        width,
        [
            ("Sheets", f"{cuts.sheets}, all like this"),
            ("Size", f"{size_text(*plan.sheet, units)} {units}"),
            *([] if plan.holes else [("Saw kerf", with_unit(plan.kerf, units))]),
            ("Blanks", f"{pieces} {units}"),
            ("In blanks", f"{share_text(share)} of the sheet"),
        ],
    )
    if plan.holes:
        _holes(plan.holes, units, paper, x, y - 2.0, width)
        return
    y = paper.heading(x, y - 2.0, width, "Cuts in sawing order")
    rows = [
        (str(i), cut.stage.value, length_text(cut.setting, units))
        for i, cut in enumerate(plan.cuts, 1)
    ]
    room = int((y - paper.bottom - 22.0) // 4.6)
    columns = (
        Column("Cut", 12.0),
        Column("", width - 42.0),
        Column(f"Set to, {units}", 30.0, True),
    )
    y = paper.table(x, y, columns, rows[:room])
    if len(rows) > room:
        paper.text(x + 1.0, y - 3.3, f"and {len(rows) - room} more", 7.0, grey=SOFT)
        y -= 4.6
    paper.pairs(
        x,
        y - 2.0,
        width,
        [
            (
                "",
                "Each setting is from the edge cut last to the near side of the "
                "kerf. Check the first blank before sawing the rest.",
            )
        ],
        share=0.01,
    )


def _holes(
    holes: tuple[tuple[float, float], ...],
    units: str,
    paper: Paper,
    x: float,
    y: float,
    width: float,
) -> None:
    """List the pin holes, and how the sheet is pushed on."""
    y = paper.heading(x, y, width, "Holes for pins, from the lower left corner")
    columns = (
        Column("Drilled in", width - 50.0),
        Column(f"X, {units}", 25.0, True),
        Column(f"Y, {units}", 25.0, True),
    )
    rows = [
        (f"position {i // 2 + 1}", length_text(hx, units), length_text(hy, units))
        for i, (hx, hy) in enumerate(holes)
    ]
    y = paper.table(x, y, columns, rows[: int((y - paper.bottom - 26.0) // 4.6)])
    paper.pairs(
        x,
        y - 2.0,
        width,
        [
            (
                "",
                "Cut a position and drill its holes, then push the sheet on until "
                "the holes sit on the pins at the beginning of the bed.",
            )
        ],
        share=0.01,
    )
