"""Benchmark instances whose pieces are all rectangles: recognised and solved.

Lengths are counted in steps of a grid: of 1 where all are whole numbers, else fine
enough for the benchmark's check.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from ..kernels_rectangles import TURNED, UPRIGHT, Goods
from .bounds import least_bins, least_cost
from .goods import BinKind, Item, make_goods
from .search import BinSearch
from .strip import StripSearch

Instance = dict[str, Any]
Solution = dict[str, Any]
Stop = Callable[[], bool]

FINE = 1e-7
"""The grid where lengths are not whole, relative to the sheet."""

HEATS = (0.05, 0.02, 0.2)
"""Heats of the search, by turns."""

FIRST_WORK = 2_000_000
MOST_WORK = 60_000_000


@dataclass(frozen=True)
class Piece:
    """A rectangular piece: its box as drawn and the angle for each way to lie.

    `free` tells that it may lie at other angles too, which this method never tries.
    """

    id: Any
    box: tuple[float, float, float, float]
    copies: int
    upright: float | None
    turned: float | None
    free: bool = False

    @property
    def may(self) -> int:
        """Bits of the ways it may lie."""
        bits = UPRIGHT if self.upright is not None else 0
        return bits | (TURNED if self.turned is not None else 0)

    def placed(self, x: float, y: float, turned: bool) -> tuple[float, float, float]:
        """Return x, y and angle that bring the lower left corner to a place."""
        angle = self.turned if turned else self.upright
        assert angle is not None, "the search keeps to what is allowed"
        c, s = ((1, 0), (0, 1), (-1, 0), (0, -1))[round(angle / 90.0) % 4]
        x0, y0, x1, y1 = self.box
        xs = [c * px - s * py for px in (x0, x1) for py in (y0, y1)]
        ys = [s * px + c * py for px in (x0, x1) for py in (y0, y1)]
        return x - min(xs), y - min(ys), angle


def pieces_of(instance: Instance) -> list[Piece] | None:
    """Return the pieces if all are rectangles and may lie along the axes, or None."""
    found = []
    if instance.get("obstacles"):
        return None
    for piece in instance["pieces"]:
        box = _box(piece)
        turns = piece.get("rotations_deg", instance.get("rotations_deg"))
        if box is None:
            return None
        angles = [0.0, 90.0]
        if isinstance(turns, list):
            angles = [float(a) % 360.0 for a in turns]
        quarters = [a for a in angles if a % 90.0 == 0.0]
        if not quarters:
            return None
        found.append(
            Piece(
                piece["id"],
                box,
                int(piece.get("demand", 1)),
                next((a for a in quarters if a % 180.0 == 0.0), None),
                next((a for a in quarters if a % 180.0 == 90.0), None),
                not isinstance(turns, list) or quarters != angles,
            )
        )
    return found


def _box(piece: dict[str, Any]) -> tuple[float, float, float, float] | None:
    if "outer" not in piece:
        return 0.0, 0.0, float(piece["w"]), float(piece["h"])
    if piece.get("holes"):
        return None
    ring = np.array(piece["outer"], dtype=np.float64)
    x0, y0 = ring.min(axis=0).tolist()
    x1, y1 = ring.max(axis=0).tolist()
    ahead = np.roll(ring, -1, axis=0)
    area = abs(float((ring[:, 0] * ahead[:, 1] - ring[:, 1] * ahead[:, 0]).sum())) / 2
    full = (x1 - x0) * (y1 - y0)
    return (x0, y0, x1, y1) if area >= full * (1.0 - 1e-12) else None


def solve_rectangles(
    instance: Instance,
    pieces: list[Piece],
    seconds: float,
    seed: int,
    clock: Callable[[], float] = time.perf_counter,
) -> Solution:
    """Solve an instance of rectangles; see `benchmark.run_instance`.

    The solution also holds ``bound``, what no layout can beat, and ``proven``, whether
    it is met; with costs, ``cost``. Where pieces may lie aslant too the bound is the
    area's, for those of sides hold for quarter turns only.

    Parameters
    ----------
    clock : callable
        What the time is measured with; ``time.process_time`` where others share the
        machine.

    Raises
    ------
    ValueError
        If a piece fits nowhere.
    """
    _compile()
    start = clock()

    def stop() -> bool:
        return clock() - start >= seconds

    method = _strip if instance["kind"] == "strip" else _bins
    solution = method(instance, pieces, stop, seed)
    return {**solution, "seconds": clock() - start}


@cache
def _compile() -> None:
    """Compile or load the kernels, once per process, before any clock runs."""
    strip = StripSearch([(3, 3)], [3], [UPRIGHT], 5, 0)  # not proven at once
    strip.run(lambda: False, attempts=1)
    search = BinSearch(make_goods([Item(3, 2, 5, (UPRIGHT,))], [BinKind(4, 4)]), 0)
    search.construct(lambda: False, 2)
    search.run(search.cost - 1.0, lambda: False, 1000, 0.1)


def _grid(instance: Instance, pieces: list[Piece], sides: list[float]) -> float:
    lengths = [*sides]
    for piece in pieces:
        x0, y0, x1, y1 = piece.box
        lengths += [x1 - x0, y1 - y0]
    whole = all(v == round(v) for v in lengths) and max(lengths) < 1e8
    return 1.0 if whole else FINE * max(sides)


def _size(piece: Piece, grid: float) -> tuple[int, int]:
    x0, y0, x1, y1 = piece.box
    return round((x1 - x0) / grid), round((y1 - y0) / grid)


def _strip(instance: Instance, pieces: list[Piece], stop: Stop, seed: int) -> Solution:
    width = float(instance["width"])
    grid = _grid(instance, pieces, [width])
    search = StripSearch(
        [_size(piece, grid) for piece in pieces],
        [piece.copies for piece in pieces],
        [piece.may for piece in pieces],
        round(width / grid),
        seed,
    )
    search.run(stop)
    rows = []
    length = 0.0
    area = 0.0
    for q in search.best:
        piece = pieces[q.type]
        x, y, angle = piece.placed(q.x * grid, q.y * grid, q.turned)
        x0, y0, x1, y1 = piece.box
        long = y1 - y0 if q.turned else x1 - x0
        length = max(length, q.x * grid + long)
        area += (x1 - x0) * (y1 - y0)
        rows.append(_row(piece, 0, x, y, angle))
    free = any(piece.free for piece in pieces)
    least = area / width if free else search.least * grid
    return {
        "length": length,
        "placements": rows,
        "density": area / (width * length),
        "bound": least,
        "proven": length <= least * (1.0 + 1e-9) if free else search.proven,
    }


def _row(piece: Piece, b: int, x: float, y: float, angle: float) -> dict[str, Any]:
    return {
        "piece": piece.id,
        "bin": b,
        "x": x,
        "y": y,
        "rotation_deg": angle,
        "mirrored": False,
    }


def _bins(instance: Instance, pieces: list[Piece], stop: Stop, seed: int) -> Solution:
    sheets = [instance["sheet"]] if "sheet" in instance else instance["sheets"]
    sides = [float(v) for s in sheets for v in (s["w"], s["h"])]
    grid = _grid(instance, pieces, sides)
    kinds = [
        BinKind(
            round(float(s["w"]) / grid),
            round(float(s["h"]) / grid),
            float(s.get("cost", 1.0)),
            s.get("available"),
        )
        for s in sheets
    ]
    items = [
        Item(*_size(piece, grid), piece.copies, (piece.may,) * len(kinds))
        for piece in pieces
    ]
    goods = make_goods(items, kinds)
    if (goods.may == 0).all(axis=1).any():
        raise ValueError("a piece fits on no sheet")
    least = _least(goods, kinds, any(piece.free for piece in pieces))
    search = BinSearch(goods, seed)
    if not search.stack(stop):
        search.construct(lambda: False, 1)  # one layout there must be
        search.construct(stop)
    whole = all(kind.cost == round(kind.cost) for kind in kinds)
    step = 0.5 if whole else 1e-7 * min(kind.cost for kind in kinds)
    work, tries = FIRST_WORK, 0
    while search.cost > least + 1e-6 and not stop():
        heat = HEATS[tries % len(HEATS)]  # an infinite cost: stock is short so far
        if not search.run(search.cost - step, stop, work, heat):
            tries += 1
            work = min(2 * work, MOST_WORK)
    best = search.best
    if best is None or not best.complete:
        raise RuntimeError("no layout of all pieces on the sheets was found in time")
    rows = []
    for i, b in enumerate(best.bin.tolist()):
        piece = pieces[int(goods.same[i])]
        place = piece.placed(
            float(best.x[i] * grid), float(best.y[i] * grid), bool(best.turned[i])
        )
        rows.append(_row(piece, b, *place))
    area = math.fsum(float(sheets[k]["w"]) * float(sheets[k]["h"]) for k in best.kinds)
    solution: Solution = {
        "bins": len(best.kinds),
        "bin_sheets": list(best.kinds),
        "placements": rows,
        "density": float(goods.area.sum()) * grid * grid / area,
        "bound": least,
        "proven": search.cost <= least + 1e-6,
    }
    if any("cost" in sheet for sheet in sheets):
        solution["cost"] = search.cost
    return solution


def _least(goods: Goods, kinds: list[BinKind], free: bool) -> float:
    """Return what no packing can beat, in cost; if `free`, at any angles."""
    if free:
        area = float(goods.area.sum())
        if len(kinds) == 1:
            sheet = kinds[0].width * kinds[0].height
            return kinds[0].cost * math.ceil(area / sheet - 1e-6)
        rate = min(kind.cost / (kind.width * kind.height) for kind in kinds)
        return area * rate * (1.0 - 1e-6)
    sizes = np.column_stack([goods.width, goods.height])
    if len(kinds) == 1:
        kind = kinds[0]
        may = goods.may[:, 0].astype(np.int64)
        return kind.cost * least_bins(sizes, may, kind.width, kind.height).count
    rows = [(kind.width, kind.height, kind.cost, kind.supply) for kind in kinds]
    found = least_cost(sizes, goods.may, rows)
    if all(kind.cost == round(kind.cost) for kind in kinds):
        return float(math.ceil(found - 1e-6))
    return found * (1.0 - 1e-9)
