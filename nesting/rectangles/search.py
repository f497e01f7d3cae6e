"""The search for few or cheap bins: a budget is set, then lowered below what was found.

Setting a goal and taking out and laying anew until it is met follows, in the large,
Wei, Oon, Zhu & Lim (EJOR 224, 2013, doi:10.1016/j.ejor.2012.08.005) and Gardeyn &
Wauters (EJOR 301, 2022, doi:10.1016/j.ejor.2021.11.031); free room as maximal
rectangles and rules of fit Parreño, Alvarez-Valdés, Oliveira & Tamarit (Annals of OR
179, 2010, doi:10.1007/s10479-008-0449-4).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, replace

import numpy as np

from .. import kernels_rectangles as kernel
from ..kernels_rectangles import Bins, ByteArray, Goods, IntArray, LongArray, State
from .goods import make_bins, make_state
from .stacking import Rectangle, stacked

Stop = Callable[[], bool]

CHUNK = 100_000
"""Steps between two questions whether to stop: about 10 ms."""

ORDERS = 12
"""Orders and rules of fit tried for the first packing."""

SPARE_BINS = 4


@dataclass(frozen=True, eq=False)
class Packing:
    """What lies where; one entry per copy.

    Attributes
    ----------
    kinds : tuple of int
        Kind of each bin.
    bin : int32 (n,)
        -1 for a copy that is not laid.
    x, y : int64 (n,)
    turned : uint8 (n,)
    """

    kinds: tuple[int, ...]
    bin: IntArray
    x: LongArray
    y: LongArray
    turned: ByteArray

    @property
    def complete(self) -> bool:
        """Whether every copy is laid."""
        return bool((self.bin >= 0).all())

    def cost(self, goods: Goods) -> float:
        """Return what the bins cost."""
        return math.fsum(float(goods.cost[kind]) for kind in self.kinds)

    def with_kind(self, old: int, new: int) -> Packing:
        """Return the packing with one kind of bin taken for another."""
        return replace(self, kinds=tuple(new if k == old else k for k in self.kinds))


class BinSearch:
    """The search for a packing that costs less and less.

    Parameters
    ----------
    goods : Goods
    seed : int
    fixed : tuple of int
        Kinds of the bins that are open from the start and stay so, each once.

    Attributes
    ----------
    best : Packing or None
        The best packing so far: of all copies if there is one, and then the cheapest.
    cost : float
        What it costs; infinite while it is not complete.
    left : float
        Weight of the copies it leaves out.
    """

    def __init__(self, goods: Goods, seed: int, fixed: tuple[int, ...] = ()) -> None:
        self.goods = goods
        self.fixed = fixed
        self.best: Packing | None = None
        self.cost = math.inf
        self.left = math.inf
        self._seed = seed
        self._bins = make_bins(goods, 0)
        self._spare = self._bins
        self._state = make_state(goods, self._bins, seed)
        self._spare_loose = self._state.loose.copy()

    def stack(self, stop: Stop) -> bool:
        """Fill bins to the last bit, where that can be, by blocks that share a side.

        Nothing is better than such a packing; it takes some tenths of a second at most.
        """
        full = self._stacked(stop)
        if full is not None:
            self.load(full)
        return full is not None

    def construct(self, stop: Stop, orders: int = ORDERS) -> None:
        """Lay all copies without a budget, in a few orders; keep the best."""
        goods = self.goods
        n = len(goods.width)
        fullest = max(int(goods.room.max(initial=1)), 1)
        count = len(self.fixed) + 8 + 2 * int(goods.area.sum() // fullest + 1)
        tries = 0
        while tries < orders and not stop():
            bins = make_bins(goods, min(count, n + len(self.fixed)))
            state = make_state(goods, bins, self._seed * 1009 + tries)
            for b, kind in enumerate(self.fixed):
                kernel.empty_bin(goods, bins, b, kind)
            if tries:
                kernel.sort_loose(goods, state, 0.0)
            else:
                order = np.argsort(-goods.area, kind="stable").astype(np.int32)
                state.loose[:n] = order
            if not self._fill(bins, state, tries % kernel.RULES, stop):
                return
            if state.loose[n] and len(bins.kind) < n and (bins.kind >= 0).all():
                count *= 2  # there were not enough of them
                continue
            tries += 1
            if self._note(bins, state):
                self._take(bins, state)

    def _stacked(self, stop: Stop) -> Packing | None:
        """Fill bins of the only kind there is; None if that leaves room or fails."""
        goods = self.goods
        if self.fixed or len(goods.cost) != 1 or len(goods.free) != 1:
            return None
        x0, y0, x1, y1 = goods.free[0].tolist()
        rooms, rest = divmod(int(goods.area.sum()), max(int(goods.room[0]), 1))
        if rest or not 0 < rooms <= goods.supply[0]:
            return None
        kinds, first, which = np.unique(
            goods.same, return_index=True, return_inverse=True
        )
        ways = [
            (Rectangle(kind, *(sides[::-1] if turned else sides)), turned)
            for kind, copy in enumerate(first.tolist())
            for sides in [(int(goods.width[copy]), int(goods.height[copy]))]
            for turned, bit in ((False, kernel.UPRIGHT), (True, kernel.TURNED))
            if goods.may[copy, 0] & bit
        ]
        count = np.bincount(which, minlength=len(kinds)).tolist()
        found = stacked([way for way, _ in ways], count, x1 - x0, y1 - y0, rooms, stop)
        if found is None:
            return None
        n = len(goods.width)
        bin_of, turned = np.zeros(n, dtype=np.int32), np.zeros(n, dtype=np.uint8)
        x, y = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64)
        copies = [np.flatnonzero(which == kind).tolist() for kind in range(len(kinds))]
        for one in found:
            way, lies_turned = ways[one.rectangle]
            copy = copies[way.kind].pop()
            bin_of[copy], turned[copy] = one.room, lies_turned
            x[copy], y[copy] = x0 + one.x, y0 + one.y
        return Packing((0,) * rooms, bin_of, x, y, turned)

    def _fill(self, bins: Bins, state: State, rule: int, stop: Stop) -> bool:
        """Lay what is loose, a few copies at a time; return False if stopped."""
        goods, n = self.goods, len(self.goods.width)
        order = state.loose[:n].copy()
        used = np.zeros(len(goods.cost), dtype=np.int64)
        kernel.spent(goods, bins, used)
        left: list[int] = []
        for start in range(0, n, 16):
            if stop():
                return False
            part = order[start : start + 16]
            state.loose[: len(part)] = part
            state.loose[n] = len(part)
            kernel.fill(goods, bins, state, used, math.inf, rule, 0.0, True, 2**62)
            state.touched[-1] = 0
            left += state.loose[: state.loose[n]].tolist()
        state.loose[: len(left)] = left
        state.loose[n] = len(left)
        return True

    def load(self, packing: Packing, loose: Collection[int] = ()) -> None:
        """Go on from a packing, with the copies of some of its bins taken out."""
        goods, n = self.goods, len(self.goods.width)
        count = len(packing.kinds) + len(self.fixed) + SPARE_BINS
        bins = make_bins(goods, count)
        state = make_state(goods, bins, self._seed)
        state.loose[n] = 0
        for b, kind in enumerate(self.fixed):
            kernel.empty_bin(goods, bins, b, kind)
        free = len(self.fixed)
        places = np.full(len(packing.kinds) + 1, -1, dtype=np.int64)
        for b, kind in enumerate(packing.kinds):
            if b in loose:
                continue
            places[b] = self.fixed.index(kind) if kind in self.fixed else free
            if places[b] == free:
                kernel.empty_bin(goods, bins, free, kind)
                free += 1
        at = places[packing.bin]  # the last place is for what is in no bin
        kernel.lay_all(goods, bins, state, at, packing.x, packing.y, packing.turned)
        out = np.flatnonzero(at < 0)
        state.loose[: len(out)] = out
        state.loose[n] = len(out)
        self._take(bins, state)
        self._note(bins, state)

    def _note(self, bins: Bins, state: State) -> bool:
        """Keep a packing if it is the best so far; return whether it is."""
        left = float(kernel.left_out(state))
        found = packing(self.goods, bins)
        cost = found.cost(self.goods)
        if self.best is not None:
            if left > self.left + 1e-9:
                return False
            if left > self.left - 1e-9 and cost >= self.best.cost(self.goods):
                return False
        self.best, self.left = found, left
        self.cost = cost if found.complete else math.inf
        return True

    def _take(self, bins: Bins, state: State) -> None:
        """Go on from these bins, with some to spare."""
        order = np.flatnonzero(bins.kind >= 0)
        own = make_bins(self.goods, len(order) + SPARE_BINS)
        for k, b in enumerate(order.tolist()):
            kernel.copy_bin(bins, b, own, k)
        self._bins = own
        self._spare = make_bins(self.goods, len(own.kind))
        for b in range(len(own.kind)):
            kernel.keep(own, self._spare, b)
        self._state = state._replace(
            touched=np.zeros(len(own.kind) + 1, dtype=np.int32)
        )
        self._spare_loose = state.loose.copy()

    def run(self, budget: float, stop: Stop, work: int, heat: float) -> bool:
        """Search within a budget; return whether all copies were laid.

        Parameters
        ----------
        budget : float
            What the bins may cost.
        stop : callable
            Asked every few milliseconds.
        work : int
            Steps at most, some ten million a second.
        heat : float
            Share of the mean weight of a copy that a step may lose on the average.
        """
        goods, state = self.goods, self._state
        kernel.close_some(goods, self._bins, state, budget)
        for b in range(len(self._bins.kind)):
            kernel.keep(self._bins, self._spare, b)
        self._spare_loose[:] = state.loose
        mean = float(state.weight.mean()) if len(state.weight) else 0.0
        while work > 0 and not stop():
            step = min(work, CHUNK)
            status, left = kernel.search(
                goods,
                self._bins,
                self._spare,
                state,
                self._spare_loose,
                len(self.fixed),
                budget,
                heat * mean,
                step,
            )
            work -= step
            if left < self.left - 1e-9 or status == kernel.DONE:
                self._note(self._bins, state)
            if status == kernel.DONE:
                return True
        return False


def packing(goods: Goods, bins: Bins) -> Packing:
    """Return what lies on bins, those without a copy left out."""
    n = len(goods.width)
    kinds: list[int] = []
    bin_of = np.full(n, -1, dtype=np.int32)
    x, y = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64)
    turned = np.zeros(n, dtype=np.uint8)
    for b in range(len(bins.kind)):
        many = int(bins.laid[b])
        if bins.kind[b] < 0 or not many:
            continue
        mine = bins.item[b, :many]
        bin_of[mine] = len(kinds)
        x[mine] = bins.x[b, :many]
        y[mine] = bins.y[b, :many]
        turned[mine] = bins.turned[b, :many]
        kinds.append(int(bins.kind[b]))
    return Packing(tuple(kinds), bin_of, x, y, turned)
