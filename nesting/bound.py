"""The number of sheets below which no layout can exist, with its proof.

Two proofs. By **area**: copies grown by half the gap do not overlap, and they lie in
the blank without its margin, grown by half the gap; so their areas add up. By
**pairs**: copies no two of which can share a blank need a blank each. Neither depends
on how the engine works, and each holds under every turn rule. The bounds for rectangles
that may not be turned (Martello & Vigo 1998, doi:10.1287/mnsc.44.3.388) are false where
parts may turn, and are not used.

A proof is plain numbers; `recheck` goes through them again on its own, with shapely in
place of the closed formulas.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely

from .model.job import Cutting, Job
from .model.outline import Outline
from .model.part import Part
from .model.rules import same_board
from .model.stock import Stock

ROUNDING = 1e-9
"""Relative; a sum this little above a whole number of sheets is that number."""

FINE = 0.005
"""Chord error where a curve has to be flattened, mm."""

SEGMENTS = 64
"""Chords per quarter circle where a corner is rounded."""


@dataclass(frozen=True)
class AreaProof:
    """Sheets of one board that the copies fill by area alone.

    Attributes
    ----------
    parts : tuple of (str, int, float)
        Part, copies, and an area that one grown copy covers at least, mm².
    offcuts : tuple of (str, int, float)
        Offcuts, how many there are, and an area that one offers at most, mm².
    sheets : tuple of (str, int or None, float)
        The same for kinds of sheets, the largest first.
    count : int
        Sheets needed at least.
    """

    parts: tuple[tuple[str, int, float], ...]
    offcuts: tuple[tuple[str, int | None, float], ...]
    sheets: tuple[tuple[str, int | None, float], ...]
    count: int


@dataclass(frozen=True)
class PairProof:
    """Copies no two of which can share a blank.

    Attributes
    ----------
    parts : tuple of (str, int, float)
        Part, copies, and the radius of a disc that one grown copy holds, mm.
    diagonal : tuple of (str, float, float)
        Of each kind of stock: width and height that grown copies can lie in, mm.
    spare : int
        Offcuts that could take one copy each.
    count : int
        Sheets needed at least.
    """

    parts: tuple[tuple[str, int, float], ...]
    diagonal: tuple[tuple[str, float, float], ...]
    spare: int
    count: int


Proof = AreaProof | PairProof


@dataclass(frozen=True)
class Bound:
    """What no layout of all copies can beat.

    Attributes
    ----------
    sheets : int
        Sheets needed at least, offcuts not counted.
    proofs : tuple of Proof
        One for each board; their counts add up to `sheets`.
    cost : float
        Cost at least.
    """

    sheets: int
    proofs: tuple[Proof, ...] = field(default=())
    cost: float = 0.0


def bound(job: Job) -> Bound:
    """Return the best bound for a job and its proofs."""
    proofs: list[Proof] = []
    cost = 0.0
    for parts in _boards(job):
        stock = _stock_for(job, parts[0])
        if not stock:
            continue
        area = _area_proof(parts, stock, job.cutting)
        pairs = _pair_proof(parts, stock, job.cutting)
        cost += _least_cost(area, stock)
        proofs.append(pairs if pairs.count > area.count else area)
    return Bound(sum(proof.count for proof in proofs), tuple(proofs), cost)


def recheck(proof: Proof, job: Job) -> bool:
    """Return whether a proof holds, worked out again from the job.

    Areas are measured on flattened, buffered polygons rather than by formula; sizes are
    compared with what the proof claims, and its count is derived from its numbers.
    """
    if isinstance(proof, AreaProof):
        return _recheck_area(proof, job)
    return _recheck_pairs(proof, job)


# ------------------------------------------------------------------- boards


def _boards(job: Job) -> list[list[Part]]:
    groups: list[list[Part]] = []
    for part in job.parts:
        for group in groups:
            first = group[0]
            if part.thickness == first.thickness and same_board(
                part.material, 0.0, first.material, 0.0
            ):
                group.append(part)
                break
        else:
            groups.append([part])
    return groups


def _stock_for(job: Job, part: Part) -> list[Stock]:
    return [
        entry
        for entry in job.stock
        if same_board(part.material, part.thickness, entry.material, entry.thickness)
        and entry.count != 0
    ]


# ------------------------------------------------------------------- areas


def grown_area(outline: Outline, distance: float, use_holes: bool = True) -> float:
    """Return an area that an outline grown by a distance covers at least, mm².

    Exact for convex outlines without holes (Steiner's formula, area + perimeter times
    distance + pi times distance squared) and where nothing is grown; elsewhere a
    little less.
    """
    if not use_holes:
        outline = Outline(outline.outer)
    if distance <= 0.0:
        return outline.area
    if not outline.holes and is_convex(outline):
        return outline.area + outline.length * distance + math.pi * distance**2
    flat = outline.flatten(FINE)
    polygon = shapely.Polygon(flat.outer, flat.holes)
    # The polygon may stray out of the outline by the chord error, and so may the
    # polygon grown; the rounded corners are inscribed.
    reach = max(distance - flat.error, 0.0)
    return float(polygon.buffer(reach, quad_segs=SEGMENTS).area)


def is_convex(outline: Outline) -> bool:
    """Return whether an outline without holes is surely convex."""
    if outline.holes:
        return False
    ring = outline.outer.flatten(FINE)
    edges = np.roll(ring, -1, axis=0) - ring
    after = np.roll(edges, -1, axis=0)
    cross = edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0]
    return bool((cross >= -1e-9 * np.abs(edges).max() ** 2).all())


def room_area(stock: Stock, cutting: Cutting) -> float:
    """Return an area that grown copies on one blank cover at most, mm²."""
    half = cutting.gap / 2.0
    if stock.is_rectangle and not stock.keep_outs:
        width, height = stock.outline.size
        width -= 2.0 * cutting.margin
        height -= 2.0 * cutting.margin
        if width <= 0.0 or height <= 0.0:
            return 0.0
        return width * height + 2.0 * (width + height) * half + math.pi * half**2
    flat = stock.outline.flatten(FINE)
    area = shapely.Polygon(flat.outer, flat.holes)
    inset = cutting.margin - flat.error  # the polygon may lie inside the true edge
    area = (
        area.buffer(-inset, quad_segs=SEGMENTS) if inset > 0.0 else area.buffer(-inset)
    )
    for keep_out in stock.keep_outs:
        loop = keep_out.loop
        error = 0.0 if loop.is_straight else FINE
        grow = cutting.gap - error
        wall = shapely.Polygon(loop.flatten(FINE))
        wall = wall.buffer(grow, quad_segs=SEGMENTS) if grow else wall
        area = area.difference(wall)
    reach = half / math.cos(math.pi / (4.0 * SEGMENTS))
    return float(area.buffer(reach, quad_segs=SEGMENTS).area if reach else area.area)


def _area_proof(
    parts: Sequence[Part], stock: Sequence[Stock], cutting: Cutting
) -> AreaProof:
    half = cutting.gap / 2.0
    rows = tuple(
        (part.id, part.quantity, grown_area(part.outline, half, cutting.use_holes))
        for part in parts
        if part.quantity
    )
    offcuts = tuple(
        (entry.id, entry.count, room_area(entry, cutting))
        for entry in stock
        if entry.offcut
    )
    sheets = tuple(
        sorted(
            (
                (entry.id, entry.count, room_area(entry, cutting))
                for entry in stock
                if not entry.offcut
            ),
            key=lambda row: (-row[2], row[0]),
        )
    )
    return AreaProof(rows, offcuts, sheets, _count_by_area(rows, offcuts, sheets))


def _count_by_area(
    parts: Sequence[tuple[str, int, float]],
    offcuts: Sequence[tuple[str, int | None, float]],
    sheets: Sequence[tuple[str, int | None, float]],
) -> int:
    wanted = math.fsum(count * area for _, count, area in parts)
    wanted *= 1.0 - ROUNDING
    for _, there, area in offcuts:
        if there is None:
            return 0  # offcuts without end hold everything
        wanted -= there * area
    count = 0
    for _, there, area in sorted(sheets, key=lambda row: -row[2]):
        if wanted <= 0.0 or area <= 0.0:
            break
        need = math.ceil(wanted / area)
        take = need if there is None else min(need, there)
        count += take
        wanted -= take * area
    return count


def _least_cost(proof: AreaProof, stock: Sequence[Stock]) -> float:
    """Cost below which the area cannot be bought: the fractional knapsack."""
    wanted = math.fsum(count * area for _, count, area in proof.parts)
    price = {entry.id: entry.price for entry in stock}
    rows = [*proof.offcuts, *proof.sheets]
    rows.sort(key=lambda row: (price[row[0]] / row[2] if row[2] else math.inf, row[0]))
    cost = 0.0
    for name, there, area in rows:
        if wanted <= 0.0 or area <= 0.0:
            break
        take = wanted / area if there is None else min(wanted / area, there)
        cost += take * price[name]
        wanted -= take * area
    return cost * (1.0 - ROUNDING)


def _recheck_area(proof: AreaProof, job: Job) -> bool:
    half = job.cutting.gap / 2.0
    listed = {name: (count, area) for name, count, area in proof.parts}
    rooms = {name: area for name, _, area in (*proof.offcuts, *proof.sheets)}
    if not listed:
        return proof.count == 0
    for name, (count, area) in listed.items():
        part = job.part(name)
        if count > part.quantity:
            return False
        outline = part.outline if job.cutting.use_holes else Outline(part.outline.outer)
        flat = outline.flatten(0.002)
        polygon = shapely.Polygon(flat.outer, flat.holes)
        measured = polygon.buffer(half + 0.002, quad_segs=180).area
        if area > measured * (1.0 + 1e-7) + 1e-6:
            return False
    first = job.part(next(iter(listed)))
    for entry in _stock_for(job, first):
        if entry.id not in rooms:
            return False  # some stock was left out of the count
        flat = entry.outline.flatten(0.002)
        polygon = shapely.Polygon(flat.outer, flat.holes)
        inner = polygon.buffer(-job.cutting.margin, quad_segs=180)
        for keep_out in entry.keep_outs:
            wall = shapely.Polygon(keep_out.loop.flatten(0.002))
            inner = inner.difference(wall.buffer(job.cutting.gap, quad_segs=180))
        measured = inner.buffer(half, quad_segs=180).area
        if rooms[entry.id] < measured * (1.0 - 1e-7) - 1e-6:
            return False
    counts = {entry.id: entry.count for entry in job.stock}
    if any(counts[name] != there for name, there, _ in (*proof.offcuts, *proof.sheets)):
        return False
    return proof.count <= _count_by_area(proof.parts, proof.offcuts, proof.sheets)


# ------------------------------------------------------------------- pairs


def _disc(outline: Outline, use_holes: bool) -> float:
    """Return the radius of a disc that surely lies in an outline, mm."""
    if not use_holes:
        outline = Outline(outline.outer)
    flat = outline.flatten(FINE)
    polygon = shapely.Polygon(flat.outer, flat.holes)
    line = shapely.maximum_inscribed_circle(polygon, tolerance=0.01)
    centre = shapely.get_point(line, 0)
    radius = float(shapely.distance(polygon.boundary, centre))
    return max(radius - flat.error, 0.0)


def _box_room(stock: Stock, cutting: Cutting) -> tuple[float, float]:
    width, height = stock.outline.size
    extra = cutting.gap - 2.0 * cutting.margin
    return width + extra, height + extra


def _share(one: float, two: float, room: tuple[float, float]) -> bool:
    """Whether two discs may lie apart in a rectangle."""
    width, height = (side - one - two for side in room)
    if width < 0.0 or height < 0.0:
        # Not even side by side along that axis; only the other one is left.
        width, height = max(width, 0.0), max(height, 0.0)
    return math.hypot(width, height) >= (one + two) * (1.0 - ROUNDING)


def _pair_proof(
    parts: Sequence[Part], stock: Sequence[Stock], cutting: Cutting
) -> PairProof:
    half = cutting.gap / 2.0
    rows = [
        (part.id, part.quantity, _disc(part.outline, cutting.use_holes) + half)
        for part in parts
        if part.quantity
    ]
    rooms = tuple((entry.id, *_box_room(entry, cutting)) for entry in stock)
    rows.sort(key=lambda row: (-row[2], row[0]))
    # The larger the discs the less they share, so the clique is a run of the largest:
    # all copies of parts whose smallest two still cannot share.
    clique: list[tuple[str, int, float]] = []
    for name, count, radius in rows:
        alone = all(not _share(radius, radius, room[1:]) for room in rooms)
        if alone:
            clique.append((name, count, radius))
            continue
        least = clique[-1][2] if clique else None
        if least is not None and all(
            not _share(radius, least, room[1:]) for room in rooms
        ):
            clique.append((name, 1, radius))
        break
    return PairProof(tuple(clique), rooms, *_count_by_pairs(clique, stock))


def _count_by_pairs(
    clique: Sequence[tuple[str, int, float]], stock: Sequence[Stock]
) -> tuple[int, int]:
    need = sum(count for _, count, _ in clique)
    offcuts = [entry for entry in stock if entry.offcut]
    if any(entry.count is None for entry in offcuts):
        return need, 0
    spare = sum(entry.count or 0 for entry in offcuts)
    there = [entry.count for entry in stock if not entry.offcut]
    count = max(need - spare, 0)
    if all(number is not None for number in there):
        count = min(count, sum(number or 0 for number in there))
    return spare, count


def _recheck_pairs(proof: PairProof, job: Job) -> bool:
    if not proof.parts:
        return proof.count == 0
    half = job.cutting.gap / 2.0
    for name, count, radius in proof.parts:
        part = job.part(name)
        if count > part.quantity:
            return False
        outline = part.outline if job.cutting.use_holes else Outline(part.outline.outer)
        flat = outline.flatten(0.002)
        polygon = shapely.Polygon(flat.outer, flat.holes)
        # A disc fits in an outline exactly if something is left when it is shrunk.
        if polygon.buffer(-(radius - half) + 0.02, quad_segs=64).is_empty:
            return False
    first = job.part(proof.parts[0][0])
    stock = _stock_for(job, first)
    rooms = {name: (width, height) for name, width, height in proof.diagonal}
    for entry in stock:
        x0, y0, x1, y1 = entry.outline.bounds
        grow = job.cutting.gap - 2.0 * job.cutting.margin
        width, height = rooms.get(entry.id, (0.0, 0.0))
        if width < x1 - x0 + grow - 1e-9 or height < y1 - y0 + grow - 1e-9:
            return False
        discs = [r for _, count, r in proof.parts for _ in range(min(count, 2))]
        for i, one in enumerate(discs):
            for two in discs[:i]:
                w, h = max(width - one - two, 0.0), max(height - one - two, 0.0)
                if w * w + h * h >= (one + two) ** 2 * (1.0 - 1e-9):
                    return False
    return proof.count <= _count_by_pairs(proof.parts, stock)[1]
