"""What no layout can beat: sheets and cost, with proofs.

Three reasons, and what they come to together. By **area**: copies grown by half the gap
do not overlap, and they lie in the blank without its margin, grown by half the gap; so
their areas add up. By **shape**: other measures add up as well (see `feasible`). By
**pairs**: copies no two of which can share a blank (see `sharing`) need a blank each,
and what others need beyond the room beside those is added. Where there are several
kinds of stock, the fewest or the cheapest blanks that meet all these needs are found
(see `cover`).

All of it holds under the turn rules of the parts. The closed bounds for rectangles that
may not be turned (Martello & Vigo 1998, doi:10.1287/mnsc.44.3.388) are false where
parts may turn, and are not used. The check lets clearances be short by a little; what
it tolerates is taken off the copies and added to the blanks, so that no layout it
accepts beats a bound.

A proof is plain numbers; `recheck.recheck` goes through them again on its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

from .clique import heaviest_clique
from .cover import ROUNDING, Want, least_cover
from .feasible import Function, Ways, best_pairs
from .kernels import FloatArray
from .model.job import Cutting, Job
from .model.outline import Outline
from .model.part import Part
from .model.rules import same_board
from .model.stock import Stock
from .sharing import FINE, BlankBox, Guest, Poll, Sharing, is_box, largest

SEGMENTS = 64
"""Chords per quarter circle where a corner is rounded."""

SLACK = 0.004
"""What the check tolerates, mm: half of it off every copy, all of it at an edge."""

MOST_PARTS = 120
"""Only the largest parts are looked at in pairs."""

MEASURES = 3
"""Measures beside the area that are tried together with pairs."""


@dataclass(frozen=True)
class StockRow:
    """One kind of stock as a proof sees it.

    Attributes
    ----------
    id : str
    there : int or None
        How many there are.
    area : float
        What grown copies on one blank cover at most, mm².
    price : float
    offcut : bool
    """

    id: str
    there: int | None
    area: float
    price: float
    offcut: bool


@dataclass(frozen=True)
class Crowd:
    """Blanks that copies need because they cannot share, or measure too much.

    Attributes
    ----------
    alone : tuple of (str, int)
        Copies no two of which can share a blank: one blank each.
    rest : tuple of (str, int)
        Other copies.
    beside : tuple of str
        The parts in `alone` next to which some of the rest may find room.
    measure : tuple of Function or None
        What adds up on a blank, across and along; None for the area.
    full : float
        What one blank holds of it at most: 1, or mm².
    size : tuple of (str, float)
        What each part measures at least.
    box : tuple of float
        Sides of the rectangle that sizes are relative to, mm.
    count : int
        Blanks needed at least, of whatever kind.
    """

    alone: tuple[tuple[str, int], ...]
    rest: tuple[tuple[str, int], ...]
    beside: tuple[str, ...]
    measure: tuple[Function, Function] | None
    full: float
    size: tuple[tuple[str, float], ...]
    box: tuple[float, float]
    count: int


@dataclass(frozen=True)
class Need:
    """What the copies of some parts need of the stock they can lie on.

    Attributes
    ----------
    stock : tuple of str
        The kinds of stock; on no other can any of the parts lie.
    parts : tuple of str
    area : float
        What grown copies cover at least, mm².
    crowd : Crowd
        Why they need that many blanks.
    """

    stock: tuple[str, ...]
    parts: tuple[str, ...]
    area: float
    crowd: Crowd


@dataclass(frozen=True)
class Proof:
    """Why the copies of one board need so many sheets, and cost so much.

    Attributes
    ----------
    parts : tuple of (str, int, float)
        Part, copies, and an area that one grown copy covers at least, mm².
    stock : tuple of StockRow
        All stock of the board.
    needs : tuple of Need
        What must be met.
    count : int
        Sheets needed at least, offcuts not counted.
    cost : float
        Price at least.
    slack : float
        Tolerance that was allowed for, mm.
    """

    parts: tuple[tuple[str, int, float], ...]
    stock: tuple[StockRow, ...]
    needs: tuple[Need, ...]
    count: int
    cost: float
    slack: float = SLACK

    @property
    def by_area(self) -> bool:
        """Whether the area alone proves the count."""
        bare = tuple(
            replace(need, crowd=replace(need.crowd, count=0)) for need in self.needs
        )
        return fewest(self.stock, bare)[0] >= self.count

    @property
    def decisive(self) -> Crowd:
        """The crowd that needs most blanks."""
        return max((need.crowd for need in self.needs), key=lambda crowd: crowd.count)


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
    thorough : bool
        Whether all was looked at, more than areas; then nothing better is known.
    """

    sheets: int
    proofs: tuple[Proof, ...] = field(default=())
    cost: float = 0.0
    thorough: bool = False


def _go_on() -> None:
    """Do nothing between two steps."""


def bound(
    job: Job, poll: Poll = _go_on, *, pairs: bool = True, slack: float = SLACK
) -> Bound:
    """Return the best bound for a job and its proofs.

    Parameters
    ----------
    job : Job
    poll : callable
        Called every few milliseconds; what it raises ends the work.
    pairs : bool
        Whether to look for more than the area gives, which takes longer.
    slack : float, mm
        What a clearance may be short by, half for each of two copies.
    """
    proofs: list[Proof] = []
    for parts in _boards(job):
        stock = _stock_for(job, parts[0])
        wanted = [part for part in parts if part.quantity]
        if stock and wanted:
            proofs.append(_prove(wanted, stock, job.cutting, slack, pairs, poll))
    return Bound(
        sum(proof.count for proof in proofs),
        tuple(proofs),
        math.fsum(proof.cost for proof in proofs),
        pairs,
    )


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


def _prove(
    parts: Sequence[Part],
    stock: Sequence[Stock],
    cutting: Cutting,
    slack: float,
    pairs: bool,
    poll: Poll,
) -> Proof:
    half = cutting.gap / 2.0 - slack
    rows = []
    for part in parts:
        poll()
        area = grown_area(part.outline, half, cutting.use_holes)
        rows.append((part.id, part.quantity, area))
    kinds = tuple(
        StockRow(
            entry.id,
            entry.count,
            room_area(entry, cutting, slack),
            entry.price,
            entry.offcut,
        )
        for entry in stock
    )
    boxes = [
        BlankBox(entry, *box_room(entry, cutting, slack), row.area)
        for entry, row in zip(stock, kinds, strict=True)
    ]
    needs = _needs(parts, boxes, rows, cutting, slack, pairs, poll)
    return Proof(tuple(rows), kinds, needs, *fewest(kinds, needs), slack)


def _needs(
    parts: Sequence[Part],
    boxes: Sequence[BlankBox],
    rows: Sequence[tuple[str, int, float]],
    cutting: Cutting,
    slack: float,
    pairs: bool,
    poll: Poll,
) -> tuple[Need, ...]:
    every = frozenset(range(len(boxes)))
    where = [every] * len(parts)
    guests: list[Guest] = []
    if pairs:
        for part in parts:
            poll()
            guests.append(Guest(part, cutting, slack))
        where = [
            frozenset(k for k in every if not never_fits(guest, boxes[k]))
            for guest in guests
        ]
    needs = []
    for kinds in sorted({*where, every}, key=lambda s: (len(s), sorted(s))):
        # A part that fits nowhere has no place in any layout and needs nothing.
        mine = [i for i, fit in enumerate(where) if fit and fit <= kinds]
        open_boxes = [boxes[k] for k in sorted(kinds)]
        if not mine or not open_boxes:
            continue
        taken = [rows[i] for i in mine]
        if pairs:
            crowd = _crowd([guests[i] for i in mine], open_boxes, taken, poll)
        else:
            crowd = _by_area(taken, open_boxes)
        needs.append(
            Need(
                tuple(box.stock.id for box in open_boxes),
                tuple(name for name, _, _ in taken),
                math.fsum(count * area for _, count, area in taken),
                crowd,
            )
        )
    return tuple(needs)


def never_fits(guest: Guest, box: BlankBox) -> bool:
    """Whether a part surely lies within a blank at no turn that is allowed there."""
    if min(box.width, box.height) <= 2.0 * guest.disc:
        return True
    poses = guest.poses(box.stock)
    if any(pose.half for pose in poses):
        return bool(guest.polygon.convex_hull.area > box.width * box.height)
    for pose in poses:
        found = guest.box(pose)
        assert found is not None, "nothing was taken off"
        if found[2] - found[0] <= box.width and found[3] - found[1] <= box.height:
            return False
    return True


def fewest(stock: Sequence[StockRow], needs: Sequence[Need]) -> tuple[int, float]:
    """Return sheets and price below which no choice of stock meets the needs."""
    place = {row.id: k for k, row in enumerate(stock)}
    rooms = [k for k, row in enumerate(stock) if row.area > 0.0]
    number = {k: n for n, k in enumerate(rooms)}
    wants = [
        Want(
            frozenset(
                number[place[name]] for name in need.stock if place[name] in number
            ),
            need.area,
            need.crowd.count,
        )
        for need in needs
    ]
    area = [stock[k].area for k in rooms]
    there = [stock[k].there for k in rooms]
    sheet = [0.0 if stock[k].offcut else 1.0 for k in rooms]
    sheets = least_cover(area, there, sheet, wants)
    price = [stock[k].price for k in rooms]
    cost = least_cover(area, there, price, wants)
    if math.isinf(sheets):  # not everything can be placed: all there is will be used
        limited = [n or 0 for n, cost in zip(there, sheet, strict=True) if cost]
        return sum(limited), 0.0
    return math.ceil(sheets - 1e-6), cost


# ------------------------------------------------------------------- areas


def grown_area(outline: Outline, distance: float, use_holes: bool = True) -> float:
    """Return an area that an outline grown by a distance covers at least, mm².

    Exact for convex outlines without holes (Steiner's formula, area + perimeter times
    distance + pi times distance squared) and where nothing is grown; elsewhere a
    little less. A distance below 0 shrinks.
    """
    if not use_holes:
        outline = Outline(outline.outer)
    if distance == 0.0:
        return outline.area
    if distance > 0.0 and not outline.holes and is_convex(outline):
        return outline.area + outline.length * distance + math.pi * distance**2
    # The polygon may stray out of the outline by the chord error, and so may the
    # polygon grown; the rounded corners are inscribed.
    fine = min(FINE, max(abs(distance), 1e-3))
    flat = outline.flatten(fine)
    polygon = shapely.Polygon(flat.outer, flat.holes)
    if distance < 0.0:
        return float(polygon.buffer(distance - flat.error, join_style="mitre").area)
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


def box_room(stock: Stock, cutting: Cutting, slack: float) -> tuple[float, float]:
    """Return the sides of a rectangle that grown copies lie in, mm; 0 if none."""
    width, height = stock.outline.size
    extra = cutting.gap - 2.0 * cutting.margin + 2.0 * slack
    return max(width + extra, 0.0), max(height + extra, 0.0)


def room_area(stock: Stock, cutting: Cutting, slack: float = 0.0) -> float:
    """Return an area that grown copies on one blank cover at most, mm²."""
    half = cutting.gap / 2.0
    margin = cutting.margin - slack
    if stock.is_rectangle and not stock.keep_outs:
        width, height = stock.outline.size
        width -= 2.0 * margin
        height -= 2.0 * margin
        if width <= 0.0 or height <= 0.0:
            return 0.0
        return width * height + 2.0 * (width + height) * half + math.pi * half**2
    flat = stock.outline.flatten(FINE)
    area = shapely.Polygon(flat.outer, flat.holes)
    inset = margin - flat.error  # the polygon may lie inside the true edge
    area = (
        area.buffer(-inset, quad_segs=SEGMENTS)
        if inset > 0.0
        else area.buffer(-inset, join_style="mitre")
    )
    for keep_out in stock.keep_outs:
        loop = keep_out.loop
        error = 0.0 if loop.is_straight else FINE
        grow = cutting.gap - error - slack
        wall = shapely.Polygon(loop.flatten(FINE))
        wall = wall.buffer(grow, quad_segs=SEGMENTS) if grow else wall
        area = area.difference(wall)
    reach = half / math.cos(math.pi / (4.0 * SEGMENTS))
    return float(area.buffer(reach, quad_segs=SEGMENTS).area if reach else area.area)


# ------------------------------------------------------------------- crowds


def _by_area(
    rows: Sequence[tuple[str, int, float]], boxes: Sequence[BlankBox]
) -> Crowd:
    full = max(box.area for box in boxes)
    return Crowd(
        (),
        tuple((name, count) for name, count, _ in rows),
        (),
        None,
        full,
        tuple((name, area) for name, _, area in rows),
        (max(box.width for box in boxes), max(box.height for box in boxes)),
        0,
    )


def crowd_count(crowd: Crowd) -> int:
    """Return the blanks that the numbers of a crowd come to."""
    size = dict(crowd.size)
    alone = sum(count for _, count in crowd.alone)
    need = math.fsum(count * size[name] for name, count in crowd.rest)
    room = math.fsum(
        count * max(crowd.full - size[name], 0.0)
        for name, count in crowd.alone
        if name in crowd.beside
    )
    if crowd.full <= 0.0:
        return alone
    more = (need - room) / crowd.full
    return alone + max(math.ceil(more * (1.0 - ROUNDING) - ROUNDING), 0)


def _crowd(
    guests: Sequence[Guest],
    boxes: Sequence[BlankBox],
    rows: Sequence[tuple[str, int, float]],
    poll: Poll,
) -> Crowd:
    """Return the strongest crowd found among the copies of some parts."""
    names = [name for name, _, _ in rows]
    counts = [count for _, count, _ in rows]
    conflict = _conflicts(guests, boxes, counts, poll)
    weight = [float(c if i in conflict[i] else 1) for i, c in enumerate(counts)]
    adjacent = [frozenset(other - {i}) for i, other in enumerate(conflict)]
    clique = heaviest_clique(weight, adjacent) if any(conflict) else []
    if len(clique) == 1 and clique[0] not in conflict[clique[0]]:
        clique = []  # one copy alone says nothing
    alone = {i: int(weight[i]) for i in clique}
    base = _by_area(rows, boxes)
    sizes: list[tuple[tuple[Function, Function] | None, float, list[float]]] = [
        (None, base.full, [area for _, _, area in rows])
    ]
    if min(base.box) > 0.0:
        ways = []
        for guest in guests:
            poll()
            ways.append(_ways(guest, boxes, base.box))
        for across, along in best_pairs(ways, counts, MEASURES, poll):
            sizes.append(
                ((across, along), 1.0, [w.weight(across, along) for w in ways])
            )
    best = base
    order = sorted(range(len(rows)), key=lambda i: (-rows[i][2], names[i]))
    for with_alone in ((), tuple(clique)) if clique else ((),):
        for measure, full, size in sizes:
            poll()
            rest: list[tuple[int, int]] = []
            beside: set[int] = set()
            for i in [None, *order]:  # first none of the rest, then more and more
                if i is not None:
                    left = counts[i] - (alone[i] if i in with_alone else 0)
                    if left == 0:
                        continue
                    rest.append((i, left))
                    beside |= {c for c in with_alone if c not in conflict[i]}
                crowd = Crowd(
                    tuple((names[c], alone[c]) for c in with_alone),
                    tuple((names[i], left) for i, left in rest),
                    tuple(names[c] for c in sorted(beside)),
                    measure,
                    full,
                    tuple(zip(names, size, strict=True)),
                    base.box,
                    0,
                )
                count = crowd_count(crowd)
                if count > best.count:
                    best = replace(crowd, count=count)
    return best


def _conflicts(
    guests: Sequence[Guest],
    boxes: Sequence[BlankBox],
    counts: Sequence[int],
    poll: Poll,
) -> list[set[int]]:
    """By part: the parts, perhaps itself, that can share no blank with it."""
    sharing = Sharing(guests, boxes, poll)
    found: list[set[int]] = [set() for _ in guests]
    order = sorted(range(len(guests)), key=lambda i: (-guests[i].area, i))
    order = [i for i in order[:MOST_PARTS] if sharing.fits(i)]
    for k, i in enumerate(order):
        for j in order[: k + 1]:
            if i == j and counts[i] < 2:
                continue
            if not sharing.can_share(min(i, j), max(i, j)):
                found[i].add(j)
                found[j].add(i)
    return found


# ------------------------------------------------------------------- rectangles


def _ways(
    guest: Guest,
    boxes: Sequence[BlankBox],
    sides: tuple[float, float],
) -> Ways:
    """Return rectangles inside a part for each way it may lie on any of the blanks."""
    square = guest.disc * math.sqrt(2.0)
    always = [(square, square)]
    always += [
        (2.0 * guest.disc * math.cos(a), 2.0 * guest.disc * math.sin(a))
        for a in (math.pi / 8.0, 3.0 * math.pi / 8.0)
    ]
    turns: set[float] = set()
    free = False
    for box in boxes:
        for pose in guest.poses(box.stock):
            free |= pose.half > 0.0
            turns.add(pose.turn % 180.0)
    inside = inner_rectangles(guest)
    ways = []
    for turn in sorted(turns):
        choices = [*always]
        if not free and turn == 0.0:
            choices += inside
        elif not free and turn == 90.0:
            choices += [(height, width) for width, height in inside]
        ways.append(choices)
    most = max(len(choices) for choices in ways)
    table: FloatArray = np.array(
        [choices + [choices[0]] * (most - len(choices)) for choices in ways]
    )
    return Ways(np.minimum(table / np.array(sides), 1.0))


def inner_rectangles(guest: Guest) -> list[tuple[float, float]]:
    """Return sides of upright rectangles inside a grown part as drawn; may be none."""
    outline = guest.part.outline
    if outline.holes and guest.polygon.interiors:
        return []
    if not Stock("", "", Outline(outline.outer)).is_rectangle:
        return []
    x0, y0, x1, y1 = guest.polygon.bounds
    polygon = largest(guest.polygon)
    width, height = outline.size
    grown = min((x1 - x0 - width) / 2.0, (y1 - y0 - height) / 2.0)
    if grown <= 0.0:
        return [(x1 - x0, y1 - y0)] if is_box(polygon) else []
    # Corners are round: a rectangle whose corners lie on the arcs, or the whole width.
    found = []
    for angle in np.linspace(0.0, math.pi / 2.0, 5).tolist():
        dx, dy = grown * math.cos(angle), grown * math.sin(angle)
        found.append((width + 1.998 * dx, height + 1.998 * dy))
    return [sides for sides in found if polygon.covers(_centred(polygon, *sides))]


def _centred(polygon: shapely.Polygon, width: float, height: float) -> shapely.Polygon:
    x0, y0, x1, y1 = polygon.bounds
    cx, cy = (x0 + x1) / 2.0, (y0 + y1) / 2.0
    dx, dy = width / 2.0, height / 2.0
    return shapely.box(cx - dx, cy - dy, cx + dx, cy + dy)
