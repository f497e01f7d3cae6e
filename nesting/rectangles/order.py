"""An order of rectangles as the rectangle method sees it, and its layouts back again.

A problem is taken on if every part is a rectangle, without a hole that another part
could use, at every turn that is of interest. Rectangles grow by half the gap on each
side; the usable part of a blank is its bounding box less walls, which are boxes too:
what is round or aslant is covered by boxes, so that some room may be lost there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
import shapely.affinity

from ..kernels_rectangles import TURNED, UPRIGHT, Goods
from ..model.job import Job, Objective
from ..model.motion import Motion
from ..model.placement import Placement, Reason
from ..rooms import Arrangement, Board, Problem, usable_area
from .goods import BinKind, Item, make_goods
from .search import Packing

GRID = 1e-4
"""Lengths are whole numbers of this, mm; far below what the check tolerates."""

STEP_SHARE = 0.04
"""Walls that are no boxes are covered by slabs this high, relative to the blank."""

MOST_SLABS = 10
"""Slabs of one wall."""

MOST_WALLS = 60
"""Boxes on one blank; with more the method is not used."""

SQUARE = 1e-9
"""Relative area by which a rectangle may fall short of its box."""

Pair = tuple[float, float]
Ways = tuple[int | None, int | None]


@dataclass(frozen=True, eq=False)
class Order:
    """A problem in the rectangle method's terms.

    Attributes
    ----------
    problem : Problem
    items : tuple of Item
        One for each kind with copies to lay.
    kind_of : tuple of int
        The problem's kind of each item.
    bins : tuple of BinKind
        One for each room, then one for each held board.
    corner : tuple of (float, float)
        Of each kind of bin: where its lower left corner is on the blank, mm.
    fixed : tuple of int
        The held boards among the kinds of bin.
    exact : bool
        Whether walls are boxes and the search's turns quarter turns, so that nothing is
        given away but the turns between them, where parts may turn freely.
    goods : Goods
    ways : tuple of tuple of (int or None, int or None)
        By item and room: the variants in which it lies upright and turned.
    """

    problem: Problem
    items: tuple[Item, ...]
    kind_of: tuple[int, ...]
    bins: tuple[BinKind, ...]
    corner: tuple[Pair, ...]
    fixed: tuple[int, ...]
    exact: bool
    goods: Goods
    ways: tuple[tuple[Ways, ...], ...]

    def arrangement(
        self, packing: Packing, left: dict[int, tuple[int, Reason]]
    ) -> Arrangement:
        """Return the problem's arrangement for a packing.

        Parameters
        ----------
        left : dict
            By kind of the problem: copies that were never looked at, and why.
        """
        rooms = len(self.problem.rooms)
        boards = [Board(held.room, k) for k, held in enumerate(self.problem.held)]
        at = []
        for kind in packing.kinds:
            if kind >= rooms:
                at.append(kind - rooms)
            else:
                at.append(len(boards))
                boards.append(Board(kind))
        left = dict(left)
        boxes = self.problem.store.regions.box
        for i, b in enumerate(packing.bin.tolist()):
            item = int(self.goods.same[i])
            kind = self.kind_of[item]
            if b < 0:
                count, _ = left.get(kind, (0, Reason.STOCK_USED_UP))
                left[kind] = (count + 1, Reason.STOCK_USED_UP)
                continue
            bin_kind = packing.kinds[b]
            board = boards[at[b]]
            turned = bool(packing.turned[i])
            variant = self.ways[item][board.room][turned]
            assert variant is not None, "the search keeps to what is allowed"
            w, h = self.items[item].width, self.items[item].height
            if turned:
                w, h = h, w
            x0, y0 = self.corner[bin_kind]
            box = boxes[variant]
            x = x0 + (int(packing.x[i]) + 0.5 * w) * GRID - 0.5 * (box[0] + box[2])
            y = y0 + (int(packing.y[i]) + 0.5 * h) * GRID - 0.5 * (box[1] + box[3])
            board.add(kind, variant, float(x), float(y))
        return Arrangement(boards, left)

    def packing(self, state: Arrangement) -> Packing:
        """Return the packing of an arrangement; what lies aslant has no place."""
        n = len(self.goods.width)
        bin_of = np.full(n, -1, dtype=np.int32)
        x, y = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64)
        turned = np.zeros(n, dtype=np.uint8)
        copies: dict[int, list[int]] = {}
        for i in range(n - 1, -1, -1):
            copies.setdefault(self.kind_of[int(self.goods.same[i])], []).append(i)
        kinds: list[int] = []
        boxes = self.problem.store.regions.box
        rooms = len(self.problem.rooms)
        for board in state.boards:
            if not board.kind:
                continue
            kind = board.room if board.held < 0 else rooms + board.held
            x0, y0 = self.corner[kind]
            rows = zip(board.kind, board.variant, board.x, board.y, strict=True)
            for k, (part, variant, px, py) in enumerate(rows):
                i = copies[part].pop()
                if k in board.turned:
                    continue
                item = self.items[int(self.goods.same[i])]
                box = boxes[variant]
                wide, high = box[2] - box[0], box[3] - box[1]
                w, h = item.width, item.height
                upright = abs(wide - w * GRID) + abs(high - h * GRID)
                flat = abs(wide - h * GRID) + abs(high - w * GRID)
                turned[i] = upright > flat
                if turned[i]:
                    w, h = h, w
                bin_of[i] = len(kinds)
                x[i] = round((px + 0.5 * (box[0] + box[2]) - x0) / GRID - 0.5 * w)
                y[i] = round((py + 0.5 * (box[1] + box[3]) - y0) / GRID - 0.5 * h)
            kinds.append(kind)
        return Packing(tuple(kinds), bin_of, x, y, turned)


def recognised(problem: Problem, left: dict[int, tuple[int, Reason]]) -> Order | None:
    """Return the order if the rectangle method can take the problem on, else None.

    Parameters
    ----------
    left : dict
        By kind: copies that fit nowhere at all, and why; these are not looked at.
    """
    if not problem.rooms:
        return None
    job = problem.job
    exact = True
    items, kind_of, ways = [], [], []
    for k, kind in enumerate(problem.kinds):
        copies = len(kind.copies)
        if k in left and left[k][1] is not Reason.STOCK_USED_UP:
            copies -= left[k][0]
        if copies <= 0:
            continue
        sizes = {v: _size_at(problem, k, v) for row in kind.variants for v in row}
        known = [size for size in sizes.values() if size is not None]
        if not known:
            return None
        exact = exact and len(known) == len(sizes)
        rows = [_ways(row, sizes, known[0]) for row in kind.variants]
        may = [
            (UPRIGHT if upright is not None else 0)
            | (TURNED if turned is not None else 0)
            for upright, turned in rows
        ]
        may += [may[held.room] for held in problem.held]
        w, h = (round((side + job.cutting.gap) / GRID) for side in known[0])
        items.append(Item(w, h, copies, tuple(may)))
        kind_of.append(k)
        ways.append(tuple(rows))
    if not items:
        return None
    walls = _all_walls(problem)  # last, since locked copies make it long
    if walls is None:
        return None
    bins, corner, boxes = walls
    exact = exact and boxes
    goods = make_goods(items, bins)
    if (goods.may == 0).all(axis=1).any():
        return None  # something fits only in a way this method does not know
    fixed = tuple(len(problem.rooms) + k for k in range(len(problem.held)))
    return Order(
        problem,
        tuple(items),
        tuple(kind_of),
        tuple(bins),
        tuple(corner),
        fixed,
        exact,
        goods,
        tuple(ways),
    )


# ------------------------------------------------------------------- parts


def _size_at(problem: Problem, kind: int, variant: int) -> Pair | None:
    """Size of a part in a variant, mm, if it is an upright rectangle there."""
    face = problem.faces[variant]
    if face is None or len(problem.store.shapes[face.shape].rings) > 1:
        return None
    outer = problem.kinds[kind].part.outline.outer
    if not outer.is_straight:
        return None
    turn = problem.store.angles[variant] + face.ahead
    ring = Motion(0.0, 0.0, turn, face.flipped).points(outer.flatten(0.01))
    width, height = np.ptp(ring, axis=0).tolist()
    full = width * height
    # A corner cut off by a hair would not show in the area of a large part.
    loss = full - outer.area
    if loss > SQUARE * full or not math.isfinite(full):
        return None
    return float(width), float(height)


def _ways(
    variants: tuple[int, ...], sizes: dict[int, Pair | None], first: Pair
) -> Ways:
    """Return the variants of a room that lie like the first size, and across."""
    upright = turned = None
    for variant in variants:
        size = sizes[variant]
        if size is None:
            continue
        if math.dist(size, first) <= math.dist(size, first[::-1]):
            upright = variant if upright is None else upright
        elif turned is None:
            turned = variant
    return upright, turned


# ------------------------------------------------------------------- blanks


def _all_walls(problem: Problem) -> tuple[list[BinKind], list[Pair], bool] | None:
    """Return the kinds of bin, their corners, and whether all walls are boxes."""
    job = problem.job
    bins: list[BinKind] = []
    corner: list[Pair] = []
    exact = True
    costs = bin_costs(job, problem)
    usable = [usable_area(room.stock, job.cutting) for room in problem.rooms]
    plans: list[tuple[int, list[shapely.Polygon], float, int | None]] = [
        (k, [], costs[k], room.left) for k, room in enumerate(problem.rooms)
    ]
    grown: dict[tuple[str, float, bool], shapely.Polygon] = {}
    plans += [
        (held.room, [_grown(job, p, grown) for p in held.placements], 0.0, 1)
        for held in problem.held
    ]
    for room, locked, cost, supply in plans:
        area = usable[room]
        x0, y0, x1, y1 = area.bounds
        forbidden = shapely.box(x0, y0, x1, y1).difference(area)
        step = STEP_SHARE * min(x1 - x0, y1 - y0)
        walls, upright = _boxes([forbidden, *locked], step, job.cutting.gap / 2.0)
        exact = exact and upright
        if len(walls) > MOST_WALLS:
            return None
        width, height = round((x1 - x0) / GRID), round((y1 - y0) / GRID)
        boxes = []
        for a0, b0, a1, b1 in walls:
            boxes.append(
                (
                    round((a0 - x0) / GRID),
                    round((b0 - y0) / GRID),
                    round((a1 - x0) / GRID),
                    round((b1 - y0) / GRID),
                )
            )
        bins.append(BinKind(width, height, cost, supply, tuple(boxes)))
        corner.append((float(x0), float(y0)))
    return bins, corner, exact


def _grown(
    job: Job,
    placement: Placement,
    known: dict[tuple[str, float, bool], shapely.Polygon],
) -> shapely.Polygon:
    """Return a locked copy grown by half the gap, a little too large."""
    key = (placement.part_id, placement.turn, placement.flipped)
    if key not in known:
        flat = job.part(placement.part_id).outline.flatten(0.02)
        motion = Motion(0.0, 0.0, placement.turn, placement.flipped)
        reach = job.cutting.gap / 2.0 + flat.error
        known[key] = shapely.Polygon(motion.points(flat.outer)).buffer(
            reach, join_style="mitre", mitre_limit=2.0
        )
    return shapely.affinity.translate(known[key], placement.x, placement.y)


def _boxes(
    areas: list[shapely.Geometry], step: float, grown: float
) -> tuple[list[tuple[float, float, float, float]], bool]:
    """Cover areas with boxes; also return whether they cover nothing else.

    Corners that were cut off when walls were grown do not count.
    """
    corners = 1e-6 + 0.8 * grown * grown
    found: list[tuple[float, float, float, float]] = []
    exact = True
    for area in areas:
        for piece in shapely.get_parts(area):
            if piece.area <= 1e-6:
                continue
            x0, y0, x1, y1 = piece.bounds
            if piece.area >= (x1 - x0) * (y1 - y0) - corners:
                found.append((x0, y0, x1, y1))
                continue
            slabs, lost = _slabs(piece, step)
            exact = exact and lost <= corners
            found += slabs
    return found, exact


def _slabs(
    piece: shapely.Polygon, step: float
) -> tuple[list[tuple[float, float, float, float]], float]:
    """Cover one polygon with boxes, slab by slab; also return what is lost, mm²."""
    x0, y0, x1, y1 = piece.bounds
    levels = sorted(set(np.round(shapely.get_coordinates(piece)[:, 1], 6).tolist()))
    if len(levels) > MOST_SLABS:
        count = min(max(math.ceil((y1 - y0) / step), 1), MOST_SLABS)
        levels = np.linspace(y0, y1, count + 1).tolist()
    levels[0], levels[-1] = y0, y1
    found = []
    lost = 0.0
    cuts: list[float] = []
    for low, high in pairwise(levels):
        slab = piece.intersection(shapely.box(x0, low, x1, high))
        full = sum(
            (b[2] - b[0]) * (b[3] - b[1])
            for b in (p.bounds for p in shapely.get_parts(slab) if p.area > 0.0)
        )
        finer = 1
        if full - slab.area > 1e-3 * full and high - low > step:
            finer = min(math.ceil((high - low) / step), MOST_SLABS)
        cuts += np.linspace(low, high, finer + 1)[:-1].tolist()
    cuts.append(y1)
    for low, high in pairwise(cuts):
        slab = piece.intersection(shapely.box(x0, low, x1, high))
        for part in shapely.get_parts(slab):
            if part.area <= 1e-9:
                continue
            a0, _, a1, _ = part.bounds
            found.append((a0, low, a1, high))
            lost += (a1 - a0) * (high - low) - part.area
    return found, lost


def bin_costs(job: Job, problem: Problem) -> list[float]:
    """Return what each room costs, so that sums order as the objective does.

    For the fewest sheets: a sheet more than any saving in price, then the price, then
    offcuts; for the least cost: the price, then sheets, then offcuts.
    """
    copies = sum(len(kind.copies) for kind in problem.kinds)
    stock = [room.stock for room in problem.rooms]
    dearest = max((entry.price for entry in stock), default=0.0)
    sheet = (copies + 1) * (dearest + 0.01) + 1.0
    out = []
    for entry in stock:
        if job.objective is Objective.LEAST_COST:
            out.append(entry.price + (1e-4 if entry.offcut else 1e-3))
        else:
            out.append(entry.price + (1e-4 if entry.offcut else sheet))
    return out
