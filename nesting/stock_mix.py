"""Which kinds of sheets and offcuts to use: a cheaper mix is chosen, then tried.

Among all mixes that cost less than the layout in hand, the one with the most room is
the likeliest to do; it is found by a small integer program over the numbers of each
kind, in which copies that fit on some kinds only find room there. The order is then
constructed on just these blanks; what finds no place is dropped among the rest, and
separation (see `sheets`) moves all copies over all blanks. A mix that did not do in an
attempt is tried again later and for longer, by turns with others. What costs less is
for `rectangles.order.bin_costs` to say, so that each objective has its order; whether
an offcut comes before a sheet follows from that.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from random import Random

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from . import kernels_separate as kernel
from .bound import grown_area
from .construct import Constructor, Interrupted, Plan
from .kernels import FloatArray
from .overlap import Places, Task
from .rectangles.board import SearchLike
from .rectangles.order import bin_costs
from .rooms import Arrangement, Board, Problem
from .separate import Settings
from .sheets import SheetSearch

FIRST_EVALUATIONS = 1_000_000
"""Of the first attempt to separate on a mix."""

MOST_EVALUATIONS = 30_000_000

SMALLEST = 2e-5
"""Costs closer than this are the same."""

PLANS = (
    Plan("area", "slant"),
    Plan("side", "corner"),
    Plan("area", "corner"),
    Plan("width", "slant"),
)
"""Constructions tried on a mix, by turns."""

Mix = tuple[int, ...]


class MixChooser:
    """Chooses mixes that would cost less than a given budget.

    Parameters
    ----------
    problem : Problem
    costs : list of float
        Of each room; see `rectangles.order.bin_costs`.
    """

    def __init__(self, problem: Problem, costs: list[float]) -> None:
        self.costs = np.array(costs)
        self._area = np.array([room.area for room in problem.rooms])
        gap = problem.job.cutting.gap / 2.0
        holes = problem.job.cutting.use_holes
        demands: dict[tuple[bool, ...], float] = {}
        self._copies = 0
        for kind in problem.kinds:
            fits = tuple(
                any(fits_in(problem, variant, room) for variant in kind.variants[room])
                for room in range(len(costs))
            )
            area = grown_area(kind.part.outline, gap, holes) * len(kind.copies)
            demands[fits] = demands.get(fits, 0.0) + area
            self._copies += len(kind.copies)
        held = Counter(one.room for one in problem.held)
        self._held = np.array([float(held[k]) for k in range(len(costs))])
        self._supply = np.array(
            [
                float(self._copies if room.left is None else room.left)
                for room in problem.rooms
            ]
        )
        # What fits in some kinds only, and so does what fits in fewer of them.
        self._groups = [
            (
                np.array(group, dtype=np.float64),
                sum(area for fits, area in demands.items() if set_in(fits, group)),
            )
            for group in sorted({*demands, (True,) * len(costs)})
        ]

    def choose(self, budget: float, merit: FloatArray | None = None) -> Mix | None:
        """Return the numbers of each kind with the most room; None if none will do.

        Parameters
        ----------
        budget : float
            What the blanks may cost together.
        merit : float64 (k,), optional
            Worth of one blank of each kind in place of its area.
        """
        if budget < 0.0 or not len(self.costs):
            return None
        worth = self._area if merit is None else merit
        rows, low = [self.costs], [-np.inf]
        high = [budget]
        for group, need in self._groups:
            rows.append(self._area * group)
            low.append(need * (1.0 - 1e-9) - float(self._held @ (self._area * group)))
            high.append(np.inf)
        found = milp(
            -worth / max(float(worth.max()), 1e-9),
            constraints=LinearConstraint(np.array(rows), np.array(low), np.array(high)),
            integrality=np.ones(len(self.costs)),
            bounds=Bounds(np.zeros(len(self.costs)), self._supply),
        )
        if found.x is None:
            return None
        mix = tuple(int(v) for v in np.round(found.x).tolist())
        return mix if float(self.costs @ np.array(mix)) <= budget else None


def fits_in(problem: Problem, variant: int, room: int) -> bool:
    """Whether the box of a variant is no larger than a room's rectangle."""
    rectangle = problem.rooms[room].rectangle
    x0, y0, x1, y1 = problem.store.inner_rectangle(variant, rectangle)
    return x0 <= x1 and y0 <= y1


def set_in(inner: tuple[bool, ...], outer: tuple[bool, ...]) -> bool:
    """Whether every kind in the first set is in the second."""
    return all(b or not a for a, b in zip(inner, outer, strict=True))


class MixBoard:
    """An improver of one problem that tries cheaper mixes of stock.

    Parameters
    ----------
    search : Search
    index : int
        Which of its problems.
    """

    def __init__(self, search: SearchLike, index: int) -> None:
        self._search = search
        self._index = index
        self._problem = search.problems[index]
        self._costs = bin_costs(self._problem.job, self._problem)
        self._chooser = MixChooser(self._problem, self._costs)
        self._tried: Counter[Mix] = Counter()
        self._turn = 0
        self._random = Random(search.seed * 1_000_003 + index)

    def attempt(self, evaluations: int) -> bool:
        """Do one pass; return whether another one could be of use."""
        state = self._search.best[self._index]
        if any(count for count, _ in state.left.values()):
            return False
        mix = self._next(self._cost(state) - SMALLEST)
        if mix is None:
            return False
        self._search.tick()
        self._turn += 1
        self._tried[mix] += 1
        try:
            found = self._on(mix, self._tried[mix])
        except Interrupted:
            return False
        if found is not None:
            self._search.offer(self._index, found)
        return True

    def _cost(self, state: Arrangement) -> float:
        return math.fsum(
            self._costs[board.room] for board in state.boards if board.held < 0
        )

    def _next(self, budget: float) -> Mix | None:
        """Return the mix with the most room, or one near it that was tried less."""
        best = self._chooser.choose(budget)
        if best is None:
            return None
        area = np.array([room.area for room in self._problem.rooms])
        choice = best
        for _ in range(4):
            noise = [1.0 + 0.3 * (self._random.random() - 0.5) for _ in area]
            other = self._chooser.choose(budget, area * np.array(noise))
            if other is not None and self._tried[other] < self._tried[choice]:
                choice = other
        return choice

    def _on(self, mix: Mix, times: int) -> Arrangement | None:
        """Try to lay everything on a mix."""
        rooms = tuple(
            replace(room, left=count)
            for room, count in zip(self._problem.rooms, mix, strict=True)
        )
        narrowed = replace(self._problem, rooms=rooms)
        plan = PLANS[(times - 1) % len(PLANS)]
        if times > len(PLANS):
            seed = self._random.randrange(10**6)
            plan = replace(plan, jitter=0.1, seed=seed)
        state = Constructor(narrowed).build(plan, self._search.stopped)
        if not state.left:
            return state
        work = min(FIRST_EVALUATIONS << min(times - 1, 10), MOST_EVALUATIONS)
        return self._separated(state, mix, work)

    # ------------------------------------------------------------ separation

    def _separated(
        self, state: Arrangement, mix: Mix, evaluations: int
    ) -> Arrangement | None:
        """Drop what has no place among the rest and separate all."""
        problem = self._problem
        boards = [board.copied() for board in state.boards]
        opened = Counter(board.room for board in boards if board.held < 0)
        for room, count in enumerate(mix):
            boards += [Board(room) for _ in range(count - opened[room])]
        if not boards or not self._drop(boards, state):
            return None
        rows: list[tuple[int, int, float, float, int]] = []
        for b, board in enumerate(boards):
            places = zip(board.kind, board.variant, board.x, board.y, strict=True)
            rows += [(b, variant, x, y, kind) for kind, variant, x, y in places]
            walls = problem.rooms[board.room].walls
            if board.held >= 0:
                walls += problem.held[board.held].walls
            rows += [(b, variant, x, y, -1) for variant, x, y in walls]
        menus = [
            problem.kinds[kind].variants
            if kind >= 0
            else ((variant,),) * len(problem.rooms)
            for _, variant, _, _, kind in rows
        ]
        task = Task.with_menus(problem.store, menus, [row[4] >= 0 for row in rows])
        places_now = Places(
            np.array([row[1] for row in rows], dtype=np.int32),
            np.array([row[0] for row in rows], dtype=np.int32),
            np.array([row[2] for row in rows]),
            np.array([row[3] for row in rows]),
        )
        search = SheetSearch(
            task,
            np.array([problem.rooms[board.room].rectangle for board in boards]),
            places_now,
            Settings(),
            self._search.seed * 7_368_787 + self._turn,
            len(boards),
            room_class=np.array([board.room for board in boards], dtype=np.int32),
        )
        search.run(self._until(search, evaluations))
        found = search.incumbent
        if found is None:
            return None
        out = [Board(board.room, board.held) for board in boards]
        for i, row in enumerate(rows):
            if row[4] >= 0:
                x, y = float(found.x[i]), float(found.y[i])
                out[int(found.room[i])].add(row[4], int(found.at[i]), x, y)
        return Arrangement([board for board in out if board.kind or board.held >= 0])

    def _drop(self, boards: list[Board], state: Arrangement) -> bool:
        """Put copies without a place on boards with room; False if one fits nowhere."""
        problem = self._problem
        left = [
            problem.rooms[board.room].area
            - sum(problem.kinds[kind].part.area for kind in board.kind)
            for board in boards
        ]
        missing = [k for k, (count, _) in state.left.items() for _ in range(count)]
        missing.sort(key=lambda k: (-problem.kinds[k].part.area, k))
        for kind in missing:
            rows = problem.kinds[kind].variants
            fits = [
                (left[b], -b, variant)
                for b, board in enumerate(boards)
                for variant in rows[board.room]
                if fits_in(problem, variant, board.room)
            ]
            if not fits:
                return False
            _, minus, variant = max(fits)
            rectangle = problem.rooms[boards[-minus].room].rectangle
            inner = problem.store.inner_rectangle(variant, rectangle)
            x = self._random.uniform(inner[0], inner[2])
            y = self._random.uniform(inner[1], inner[3])
            boards[-minus].add(kind, variant, x, y)
            left[-minus] -= problem.kinds[kind].part.area
        return True

    def _until(self, search: SheetSearch, evaluations: int) -> Callable[[], bool]:
        counters = search.separation.counters
        end = int(counters[kernel.EVALUATIONS]) + evaluations

        def stop() -> bool:
            spent = int(counters[kernel.EVALUATIONS]) >= end
            return self._search.stopped() or spent

        return stop
