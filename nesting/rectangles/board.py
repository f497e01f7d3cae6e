"""The rectangle method as an improver of one problem of a search.

Attempts take turns, each a fixed count of steps, so that the same passes give the same
layout: first packings without a budget; then ever cheaper ones, until the bound for
rectangles is met; and pressing: the emptiest bin is made shorter step by step, while
all bins may help, so that its leftover is one large rectangle.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cached_property
from typing import Protocol

import numpy as np

from ..model.job import Objective
from ..model.placement import Reason
from ..rooms import Arrangement, Problem
from .bounds import least_bins, least_cost
from .goods import BinKind, make_goods
from .order import Order, recognised
from .search import BinSearch, Packing

FIRST_WORK = 2_000_000
"""Steps of the first attempt; a second for every ten million."""

MOST_WORK = 40_000_000

PRESS_WORK = 1_500_000
"""Steps of an attempt to press a bin by one step."""

HEATS = (0.05, 0.02, 0.2)
"""Heats of the attempts, by turns."""

SMALLEST = 2e-5
"""Costs closer than this are the same."""

FIRST_PRESS, LEAST_PRESS = 0.1, 2e-3
"""Steps of pressing, relative to the bin: the first, and where they end."""

AGAIN_PRESS = 0.01
"""Where the length matters most, pressing goes on from this step again and again."""


class SearchLike(Protocol):
    """What this improver needs of a search; see `solve.Search`."""

    best: list[Arrangement]
    problems: list[Problem]
    seed: int

    def stopped(self) -> bool:
        """Whether the search has to end."""

    def tick(self) -> None:
        """Count a pass."""

    def offer(self, problem: int, state: Arrangement, /) -> bool:
        """Take an arrangement if it is better."""


def board_of(search: SearchLike, index: int) -> RectangleBoard | None:
    """Return the improver if the problem is one of rectangles, else None."""
    state = search.best[index]
    problem = search.problems[index]
    short = any(why is Reason.STOCK_USED_UP for _, why in state.left.values())
    if any(why is Reason.STOPPED for _, why in state.left.values()):
        return None
    if short and len({kind.part.priority for kind in problem.kinds}) > 1:
        return None  # what is left out is a matter of priority then
    order = recognised(problem, state.left)
    return None if order is None else RectangleBoard(search, index, order)


def first_arrangement(
    problem: Problem, seed: int, stop: Callable[[], bool]
) -> Arrangement | None:
    """Lay all copies of a problem of rectangles for a start.

    Returns
    -------
    Arrangement or None
        None where the method would give something away, a copy finds no place, or it is
        stopped; then the general construction has to say what can be laid and why.
    """
    order = recognised(problem, {})
    if order is None or not order.exact:
        return None
    search = BinSearch(order.goods, seed, order.fixed)
    if not search.stack(stop):
        search.construct(stop)
    if search.best is None or not search.best.complete:
        return None
    return order.arrangement(search.best, {})


class RectangleBoard:
    """Improves the arrangement of one problem of rectangles.

    Attributes
    ----------
    exact : bool
        Whether the method gives nothing away among quarter turns; else another one may
        find more. Rectangles lie along the blank here even where they may turn freely:
        the general search, tried on such orders, found none that gained by other turns.
    """

    def __init__(self, search: SearchLike, index: int, order: Order) -> None:
        self.exact = order.exact
        self._search = search
        self._index = index
        self._order = order
        self._own = BinSearch(order.goods, search.seed * 1_000_003 + index, order.fixed)
        self._kept = {
            kind: entry
            for kind, entry in search.best[index].left.items()
            if entry[1] is not Reason.STOCK_USED_UP
        }
        self._turn = 0
        self._tries = 0
        self._pressing: Packing | None = None
        self._tracks: list[Packing] = []
        self._steps = [FIRST_PRESS, FIRST_PRESS]
        goal = order.problem.job.objective
        self._endless = goal is Objective.SHORTEST_LENGTH

    def attempt(self, evaluations: int) -> bool:
        """Do one pass; return whether another one could be of use."""
        self._search.tick()
        self._turn += 1
        if self._turn == 1:
            self._own.construct(self._search.stopped)
            self._offer(self._own.best)
        self._adopt()
        own = self._own
        cheaper = own.cost > self._least + SMALLEST
        if cheaper and (self._turn % 3 or not self._can_press()):
            self._cheaper()
            return True
        return self._press() or cheaper

    @cached_property
    def _least(self) -> float:
        """A cost that no packing of rectangles beats."""
        return _least(self._order)

    def _adopt(self) -> None:
        """Go on from the search's best layout where it is better than one's own."""
        state = self._search.best[self._index]
        own = self._own
        missing = sum(count for _, count in self._missing(state))
        aslant = any(board.turned for board in state.boards)
        if (missing or aslant) and own.best is not None:
            return
        other = self._order.packing(state)
        if own.best is None or other.cost(self._order.goods) < own.cost - SMALLEST:
            own.load(other)

    def _missing(self, state: Arrangement) -> list[tuple[int, int]]:
        return [
            (kind, count)
            for kind, (count, why) in state.left.items()
            if why is Reason.STOCK_USED_UP
        ]

    def _cheaper(self) -> None:
        own = self._own
        heat = HEATS[self._tries % len(HEATS)]
        work = min(FIRST_WORK << min(self._tries // 2, 10), MOST_WORK)
        before = own.left
        if own.run(own.cost - SMALLEST, self._search.stopped, work, heat):
            self._offer(own.best)
        else:
            self._tries += 1
            if own.left < before:
                self._offer(own.best)

    def _offer(self, packing: Packing | None) -> bool:
        if packing is None:
            return False
        state = self._order.arrangement(packing, self._kept)
        return self._search.offer(self._index, state)

    # ------------------------------------------------------------ pressing

    def _emptiest(self, best: Packing) -> int | None:
        """Return the least filled of the bins that are not held; None without one."""
        goods = self._order.goods
        laid = best.bin >= 0
        area = np.bincount(best.bin[laid], goods.area[laid], len(best.kinds))
        free = [
            (float(area[b] / max(int(goods.room[kind]), 1)), b)
            for b, kind in enumerate(best.kinds)
            if kind not in self._order.fixed
        ]
        return min(free)[1] if free else None

    def _can_press(self) -> bool:
        return self._own.best is not None and max(self._steps) >= LEAST_PRESS

    def _press(self) -> bool:
        """Press a bin by one step; return whether another step is left to try."""
        best = self._own.best
        if best is None or not best.complete:
            return False
        if best is not self._pressing:  # a new one: begin anew along both axes
            self._pressing = best
            self._tracks = [best, best]
            self._steps = [FIRST_PRESS, 0.0 if self._endless else FIRST_PRESS]
        axis = int(self._steps[1] > self._steps[0])
        if self._steps[axis] < LEAST_PRESS:
            if not self._endless:
                return False
            self._steps[axis] = AGAIN_PRESS  # with other random numbers
        track = self._tracks[axis]
        b = self._emptiest(track)
        if b is None:
            return False
        found = self._shorter(track, b, axis, self._steps[axis])
        if found is None:
            self._steps[axis] *= 0.5
        else:
            self._tracks[axis] = found
            self._offer(found)
        return True

    def _shorter(self, best: Packing, b: int, axis: int, step: float) -> Packing | None:
        order, goods = self._order, self._order.goods
        kind = best.kinds[b]
        room = order.bins[kind]
        mine = best.bin == b
        sizes = [goods.width[mine], goods.height[mine]]
        size = np.where(best.turned[mine] > 0, sizes[1 - axis], sizes[axis])
        start = (best.x, best.y)[axis][mine]
        end = int((start + size).max(initial=0))
        full = room.width if axis == 0 else room.height
        target = end - max(int(step * full), 1)
        if target < int(size.max(initial=0)):
            return None
        sides = [room.width, room.height]
        sides[axis] = target
        short = BinKind(sides[0], sides[1], room.cost, 1, _clipped(room, sides))
        supply = None if room.supply is None else room.supply - 1
        kinds = [
            replace(one, supply=supply) if k == kind else one
            for k, one in enumerate(order.bins)
        ]
        items = [replace(item, may=(*item.may, item.may[kind])) for item in order.items]
        new = len(kinds)
        narrowed = make_goods(items, [*kinds, short])
        own = BinSearch(
            narrowed, self._search.seed + 7919 * self._turn, (*order.fixed, new)
        )
        own.load(best, loose=(b,))
        budget = best.cost(goods)
        if not own.run(budget + SMALLEST / 2, self._search.stopped, PRESS_WORK, 0.05):
            return None
        assert own.best is not None, "the run laid all copies"
        found = own.best.with_kind(new, kind)
        return found if found.cost(goods) <= budget + SMALLEST / 2 else None


def _clipped(room: BinKind, sides: list[int]) -> tuple[tuple[int, int, int, int], ...]:
    return tuple(
        (x0, y0, min(x1, sides[0]), min(y1, sides[1]))
        for x0, y0, x1, y1 in room.walls
        if x0 < sides[0] and y0 < sides[1]
    )


def _least(order: Order) -> float:
    """Return a cost that no packing of rectangles beats."""
    goods = order.goods
    sizes = np.column_stack([goods.width, goods.height])
    kinds = order.bins
    if len(kinds) == 1:
        may = goods.may[:, 0].astype(np.int64)
        kind = kinds[0]
        return kind.cost * least_bins(sizes, may, kind.width, kind.height).count
    rows = [(kind.width, kind.height, kind.cost, kind.supply) for kind in kinds]
    found = least_cost(sizes, goods.may, rows)
    return found * (1.0 - 1e-9) if math.isfinite(found) else 0.0


class InTurns:
    """Two improvers of one problem that take turns; the first has the first few."""

    def __init__(self, first: BoardLike, second: BoardLike) -> None:
        self._first = first
        self._second = second
        self._turn = 0

    def attempt(self, evaluations: int) -> bool:
        """Do one pass; return whether another one could be of use."""
        self._turn += 1
        first = self._turn <= 4 or self._turn % 2 == 1
        if first and self._first.attempt(evaluations):
            return True
        return self._second.attempt(evaluations) or not first


class BoardLike(Protocol):
    """Anything that improves a problem pass by pass."""

    def attempt(self, evaluations: int, /) -> bool:
        """Do one pass; return whether another one could be of use."""
