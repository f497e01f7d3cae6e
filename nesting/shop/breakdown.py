"""Break-downs: ripping a sheet that is larger than the bed into blanks that fit it.

Cuts are straight and run full length: rips across the whole sheet first, then cross
cuts across each strip, as they are made on a table or track saw.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import shapely

from ..model.breakdown import Breakdown, Piece, SawCut, SawStage
from ..model.errors import InputError
from ..model.job import Job
from ..model.lengths import with_unit
from ..model.machine import Saw
from ..model.motion import Motion, Point
from ..model.outline import Loop, Outline
from ..model.placement import Layout
from ..model.rules import Grain
from ..model.stock import KeepOut, Stock
from .passes import SLACK

_MOST = 12
_CHORD = 0.05

Bed = tuple[float, float]


def fits_bed(width: float, height: float, bed: Bed) -> bool:
    """Return whether a blank fits the bed one way or the other, all mm."""
    low, high = sorted((width, height))
    bed_low, bed_high = sorted(bed)
    return low <= bed_low + SLACK and high <= bed_high + SLACK


def equal_split(length: float, count: int, kerf: float) -> float:
    """Return the size of each of `count` equal pieces, a kerf between them, mm."""
    return (length - (count - 1) * kerf) / count


def candidates(sheet: Stock, bed: Bed, saw: Saw, units: str = "mm") -> list[Breakdown]:
    """Return ways to saw a sheet into blanks that fit the bed.

    Strips and pieces are either all equal, or as large as the bed with what is
    left over as one smaller piece. A sheet that fits the bed is left whole. Fewest
    pieces come first, then the most area. Keep-outs of the sheet go with the pieces
    they touch.

    Parameters
    ----------
    sheet : Stock
        An upright rectangle.
    bed : tuple of float
        Size of the bed, mm; blanks may lie on it either way round.
    saw : Saw
        Kerf and trim.
    units : str
        "mm" or "in", for the words of an error.

    Raises
    ------
    InputError
        If the sheet is no rectangle, or nothing can be sawn from it.
    """
    if not sheet.is_rectangle:
        raise InputError(sheet.name, "is not a rectangle", "saw only whole sheets")
    if not min(bed) > 0.0:
        raise InputError("bed", f"its size is {bed}", "give two lengths above 0")
    size = sheet.outline.size
    inner = (size[0] - 2.0 * saw.trim, size[1] - 2.0 * saw.trim)
    if min(inner) <= 0.0:
        raise InputError(sheet.name, "nothing is left after trimming", "trim less")
    found: dict[tuple[object, ...], Breakdown] = {}
    for along_x in (True, False):
        across, along = (inner[1], inner[0]) if along_x else inner
        for side in sorted(set(bed), reverse=True):
            other = bed[1] if side == bed[0] else bed[0]
            for strips in _splits(across, side, saw):
                for pieces in _splits(along, other, saw):
                    plan = with_keep_outs(
                        _sawn(size, saw, along_x, strips, pieces), sheet.keep_outs
                    )
                    if all(fits_bed(p.width, p.height, bed) for p in plan.pieces):
                        found.setdefault((plan.sizes,), plan)
    ordered = sorted(
        found.values(), key=lambda plan: (len(plan.pieces), len(plan.cuts), -plan.area)
    )
    if not ordered:
        raise InputError(
            sheet.name,
            "cannot be sawn into blanks for this bed",
            f"the bed needs {with_unit(saw.least_side, units)} at least",
        )
    return ordered[:_MOST]


def with_keep_outs(plan: Breakdown, keep_outs: Sequence[KeepOut]) -> Breakdown:
    """Return a break-down whose pieces carry the keep-outs of the sheet.

    Each goes with every piece it touches, whole, in the piece's own coordinates;
    what the saw takes away with its kerf is gone.
    """
    if not keep_outs:
        return plan
    areas = [shapely.Polygon(area.loop.flatten(_CHORD)) for area in keep_outs]
    pieces = []
    for piece in plan.pieces:
        board = shapely.box(
            piece.x, piece.y, piece.x + piece.width, piece.y + piece.height
        )
        carried = tuple(
            replace(area, loop=area.loop.moved(Motion(-piece.x, -piece.y)))
            for area, shape in zip(keep_outs, areas, strict=True)
            if shape.intersects(board)
        )
        pieces.append(replace(piece, keep_outs=(*piece.keep_outs, *carried)))
    return replace(plan, pieces=tuple(pieces))


def _splits(length: float, most: float, saw: Saw) -> Iterator[tuple[float, ...]]:
    """Yield ways to split a length into pieces of at most `most`, mm."""
    kerf, narrow = saw.kerf, saw.least_side
    least = max(math.ceil((length + kerf) / (most + kerf) - SLACK), 1)
    for count in (least, least + 1):
        each = equal_split(length, count, kerf)
        if each >= narrow or count == 1:
            yield (each,) * count
    whole = math.floor((length + kerf) / (most + kerf) + SLACK)
    if whole and most >= narrow:
        rest = length - whole * (most + kerf)
        yield (most,) * whole + ((rest,) if rest >= max(narrow, SLACK) else ())


def _sawn(
    size: tuple[float, float],
    saw: Saw,
    along_x: bool,
    strips: Sequence[float],
    pieces: Sequence[float],
) -> Breakdown:
    """Return the cuts and pieces of strips that are all cross cut alike.

    Worked out with the rips along the first axis; the axes are swapped at the end.
    """
    long, wide = size if along_x else (size[1], size[0])
    kerf, trim = saw.kerf, saw.trim
    cuts: list[tuple[SawStage, Point, Point, float]] = []
    if trim:
        for y in (trim - kerf / 2.0, wide - trim + kerf / 2.0):
            setting = trim - kerf if y < wide / 2.0 else wide - 2.0 * trim
            cuts.append((SawStage.TRIM, (0.0, y), (long, y), max(setting, 0.0)))
        for x in (trim - kerf / 2.0, long - trim + kerf / 2.0):
            setting = trim - kerf if x < long / 2.0 else long - 2.0 * trim
            cuts.append((SawStage.TRIM, (x, trim), (x, wide - trim), max(setting, 0.0)))
    right, top = long - trim, wide - trim
    found: list[tuple[float, float, float, float]] = []
    rips: list[tuple[SawStage, Point, Point, float]] = []
    crosses: list[tuple[SawStage, Point, Point, float]] = []
    y = trim
    for strip in strips:
        if y + strip < top - SLACK:
            middle = y + strip + kerf / 2.0
            rips.append((SawStage.RIP, (trim, middle), (right, middle), strip))
        x = trim
        for piece in pieces:
            found.append((x, y, piece, strip))
            if x + piece < right - SLACK:
                middle = x + piece + kerf / 2.0
                end = (middle, y + strip)
                crosses.append((SawStage.CROSS, (middle, y), end, piece))
            x += piece + kerf
        y += strip + kerf

    def turned(p: Point) -> Point:
        return p if along_x else (p[1], p[0])

    return Breakdown(
        size,
        kerf,
        tuple(
            SawCut(stage, turned(start), turned(end), setting)
            for stage, start, end, setting in (*cuts, *rips, *crosses)
        ),
        tuple(
            Piece(x, y, w, h) if along_x else Piece(y, x, h, w) for x, y, w, h in found
        ),
    )


@dataclass(frozen=True)
class SawnStock:
    """A sheet as blanks: what the engine lays parts on, and what it costs.

    Parameters
    ----------
    sheet : Stock
        The sheet as bought.
    breakdown : Breakdown
        How it is sawn.
    blanks : tuple of Stock
        One kind for each size of blank and what it carries of keep-outs; a blank
        that fits the bed only the other way round is turned, its grain and its
        keep-outs with it.
    per_sheet : tuple of int
        How many of each kind one sheet gives.
    """

    sheet: Stock
    breakdown: Breakdown
    blanks: tuple[Stock, ...]
    per_sheet: tuple[int, ...]

    def sheets(self, job: Job) -> int:
        """Return the whole sheets a layout's blanks of these kinds come from."""
        used = [blank.stock_id for blank in job.layout.blanks]
        return max(
            math.ceil(used.count(kind.id) / count)
            for kind, count in zip(self.blanks, self.per_sheet, strict=True)
        )

    def cost(self, job: Job) -> float:
        """Return what those sheets cost, each counted whole."""
        return self.sheets(job) * self.sheet.price


def sawn_stock(sheet: Stock, breakdown: Breakdown, bed: Bed) -> SawnStock:
    """Return a sheet as blank-sized stock for the engine.

    A blank is priced by its share of the blanks' area, so that choices between
    stocks stay fair while parts are laid out; `SawnStock.cost` counts whole sheets.
    """
    groups: dict[tuple[float, float, tuple[KeepOut, ...]], int] = {}
    for piece in breakdown.pieces:
        key = (round(piece.width, 6), round(piece.height, 6), piece.keep_outs)
        groups[key] = groups.get(key, 0) + 1
    ordered = sorted(groups, key=lambda k: (-k[0] * k[1], len(k[2])))
    kinds: list[Stock] = []
    for width, height, keep_outs in ordered:
        grain = sheet.grain
        letter = f" {'ABCDEFGH'[len(kinds) % 8]}" if len(ordered) > 1 else ""
        w, h = width, height
        if not (w <= bed[0] + SLACK and h <= bed[1] + SLACK):
            w, h = height, width
            swap = {Grain.LENGTH: Grain.WIDTH, Grain.WIDTH: Grain.LENGTH}
            grain = swap.get(grain, grain)
            quarter = Motion(height, 0.0, 90.0)
            keep_outs = tuple(
                replace(area, loop=area.loop.moved(quarter)) for area in keep_outs
            )
        kind = f"{sheet.id}/{width:.6g}x{height:.6g}"
        alike = sum(made.id.partition("#")[0] == kind for made in kinds)
        count = groups[ordered[len(kinds)]]
        kinds.append(
            Stock(
                f"{kind}#{alike + 1}" if alike else kind,
                f"{sheet.name}, {'position' if breakdown.holes else 'ripped'}{letter}",
                Outline(Loop.rectangle(w, h)),
                sheet.material,
                sheet.thickness,
                grain,
                sheet.price * width * height / breakdown.area,
                None if sheet.count is None else sheet.count * count,
                keep_outs,
                sheet=sheet,
                per_sheet=count,
                kerf=breakdown.kerf,
                breakdown=breakdown,
            )
        )
    numbers = tuple(groups[key] for key in ordered)
    return SawnStock(sheet, breakdown, tuple(kinds), numbers)


def whole_sheets(job: Job) -> tuple[tuple[Stock, int], ...]:
    """Return the sheets that a layout's blanks are sawn from, and how many of each.

    What is bought or kept as it lies on the bed is not among them.
    """
    used = Counter(blank.stock_id for blank in job.layout.blanks)
    found: dict[str, tuple[Stock, int]] = {}
    for kind in job.stock:
        if kind.sheet is not None and used[kind.id]:
            needed = math.ceil(used[kind.id] / kind.per_sheet)
            _, known = found.get(kind.sheet.id, (kind.sheet, 0))
            found[kind.sheet.id] = (kind.sheet, max(known, needed))
    return tuple(found.values())


def unsawn(job: Job) -> Job:
    """Return the order with whole sheets in place of the blanks sawn from them."""
    if all(kind.sheet is None for kind in job.stock):
        return job
    kinds: dict[str, Stock] = {}
    for kind in job.stock:
        if kind.sheet is None:
            kinds[kind.id] = kind
        else:  # which may be there as well, where a locked copy keeps one whole
            kinds.setdefault(kind.sheet.id, kind.sheet)
    return replace(job, stock=tuple(kinds.values()), layout=Layout())


def of_sheets(sawn: SawnStock, sheets: int) -> SawnStock:
    """Return the same blanks, but no more of them than so many sheets give."""
    blanks = tuple(
        replace(kind, count=sheets * count)
        for kind, count in zip(sawn.blanks, sawn.per_sheet, strict=True)
    )
    return replace(sawn, blanks=blanks)


def needs_sawing(stock: Stock, bed: Bed | None) -> bool:
    """Return whether a stock is larger than the bed either way round."""
    return bed is not None and not fits_bed(*stock.outline.size, bed)
