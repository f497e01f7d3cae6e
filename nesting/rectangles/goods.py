"""Rectangles and kinds of bin as the arrays that the search works on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..kernels_rectangles import (
    TURNED,
    UPRIGHT,
    Bins,
    Goods,
    LongArray,
    State,
    carve,
)

FREE_KEPT = 192
"""Free rectangles remembered on a bin."""

Box = tuple[int, int, int, int]


@dataclass(frozen=True)
class Item:
    """A kind of copies.

    Attributes
    ----------
    width, height : int
        As drawn, grown by the gap, in steps of the grid.
    copies : int
        How many are wanted.
    may : tuple of int
        For each kind of bin the bits `UPRIGHT` and `TURNED`.
    """

    width: int
    height: int
    copies: int
    may: tuple[int, ...]


@dataclass(frozen=True)
class BinKind:
    """A kind of bin.

    Attributes
    ----------
    width, height : int
        In steps of the grid.
    cost : float
        Of one.
    supply : int or None
        How many there are; None for as many as needed.
    walls : tuple of (x0, y0, x1, y1)
        Where nothing may lie.
    """

    width: int
    height: int
    cost: float = 1.0
    supply: int | None = None
    walls: tuple[Box, ...] = ()


def free_rectangles(kind: BinKind, least: tuple[int, int] = (1, 1)) -> LongArray:
    """Return the maximal free rectangles of an empty bin, shape (m, 4)."""
    room = 64 + 16 * len(kind.walls) ** 2
    free = np.zeros((room, 4), dtype=np.int64)
    free[0] = (0, 0, kind.width, kind.height)
    scratch = np.zeros((4 * room, 4), dtype=np.int64)
    count = 1
    for x0, y0, x1, y1 in kind.walls:
        count = carve(free, count, scratch, x0, y0, x1, y1, least[0], least[1])
    found = free[:count]
    return found[np.lexsort((found[:, 2], found[:, 0], found[:, 1]))].copy()


def free_area(free: LongArray) -> int:
    """Return the area that rectangles, which may overlap, cover together."""
    if not len(free):
        return 0
    xs = np.unique(free[:, [0, 2]])
    ys = np.unique(free[:, [1, 3]])
    covered = np.zeros((len(xs) - 1, len(ys) - 1), dtype=np.bool_)
    for x0, y0, x1, y1 in free.tolist():
        i0, i1 = np.searchsorted(xs, [x0, x1])
        j0, j1 = np.searchsorted(ys, [y0, y1])
        covered[i0:i1, j0:j1] = True
    return int(np.diff(xs) @ covered.astype(np.int64) @ np.diff(ys))


def make_goods(items: Sequence[Item], kinds: Sequence[BinKind]) -> Goods:
    """Describe copies and bins for the kernels; a copy is one row."""
    at = [k for k, item in enumerate(items) for _ in range(item.copies)]
    width = np.array([items[k].width for k in at], dtype=np.int64)
    height = np.array([items[k].height for k in at], dtype=np.int64)
    may = np.array([items[k].may for k in at], dtype=np.uint8).reshape(-1, len(kinds))
    sides: list[list[int]] = [[], []]
    for item in items:
        for bits in item.may:
            for bit, sizes in (
                (UPRIGHT, (item.width, item.height)),
                (TURNED, (item.height, item.width)),
            ):
                if bits & bit:
                    sides[0].append(sizes[0])
                    sides[1].append(sizes[1])
    least = (min(sides[0], default=1), min(sides[1], default=1))
    free = [free_rectangles(kind, least) for kind in kinds]
    # A copy that fits in no free rectangle of an empty bin may not lie there at all.
    for column, rows in enumerate(free):
        spans = rows[:, 2:] - rows[:, :2]
        for bit, w, h in ((UPRIGHT, width, height), (TURNED, height, width)):
            fits = np.zeros(len(at), dtype=np.bool_)
            for a, b in spans.tolist():
                fits |= (w <= a) & (h <= b)
            may[~fits, column] &= np.uint8(255 - bit)
    return Goods(
        width,
        height,
        width * height,
        np.array(at, dtype=np.int32),
        may,
        np.array([kind.cost for kind in kinds], dtype=np.float64),
        np.array(
            [len(at) if kind.supply is None else kind.supply for kind in kinds],
            dtype=np.int64,
        ),
        np.array([free_area(rows) for rows in free], dtype=np.int64),
        np.cumsum([0, *(len(rows) for rows in free)]).astype(np.int32),
        np.concatenate(free) if free else np.zeros((0, 4), dtype=np.int64),
        np.array(least, dtype=np.int64),
    )


def make_bins(goods: Goods, count: int) -> Bins:
    """Return that many bins, none of them open."""
    n = len(goods.width)
    # No bin takes more copies than its area holds of the smallest.
    most = 1
    if n and len(goods.room):
        most = min(n, int(goods.room.max() // max(int(goods.area.min()), 1)) + 1)
    kept = max(FREE_KEPT, int(np.diff(goods.start).max(initial=0)))
    return Bins(
        np.full(count, -1, dtype=np.int32),
        np.zeros(count, dtype=np.int32),
        np.zeros(count, dtype=np.int32),
        np.zeros(count, dtype=np.int64),
        np.zeros((count, most), dtype=np.int32),
        np.zeros((count, most), dtype=np.int64),
        np.zeros((count, most), dtype=np.int64),
        np.zeros((count, most), dtype=np.uint8),
        np.zeros((count, kept, 4), dtype=np.int64),
    )


def first_random(seed: int) -> NDArray[np.uint64]:
    """Return what `draw` begins from: well mixed, and never 0."""
    words = np.random.SeedSequence(seed).generate_state(1, np.uint64)
    return (words | np.uint64(1)).astype(np.uint64)


def make_state(goods: Goods, bins: Bins, seed: int) -> State:
    """Return the state of a search in which every copy is loose."""
    n = len(goods.width)
    loose = np.arange(n + 1, dtype=np.int32)
    loose[n] = n
    number = first_random(seed)
    return State(
        loose,
        goods.area.astype(np.float64),
        number,
        np.zeros(len(bins.kind) + 1, dtype=np.int32),
        np.zeros((4 * bins.free.shape[1], 4), dtype=np.int64),
        np.zeros(n),
    )
