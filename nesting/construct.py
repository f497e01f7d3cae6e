"""The first complete layout: one copy after the other, each to its best place.

Large copies come first, so that small ones find room between them and in their holes.
Each copy goes to the first board that takes it; there to the place, of all allowed
turns, that keeps what is left in one piece. Offcuts are filled before sheets are
opened. The same problem and plan give the same arrangement.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .kernels import FloatArray, IntArray
from .kernels_place import best_place, touching_places
from .model.job import Objective
from .model.placement import Reason
from .nofit import RegionStore
from .rooms import Arrangement, Board, Problem

TOLERANCE = 1e-6
"""Depth of overlap that rounding may cause, mm."""

AT_ONCE = 12
"""Copies whose touching places are worked out between two questions whether to stop."""


class Interrupted(Exception):
    """The search was asked to stop in the middle of something."""


@dataclass(frozen=True, slots=True)
class Plan:
    """How a layout is constructed.

    Parameters
    ----------
    order : str
        What counts as large: "area", "side", "width", "perimeter" or "box".
    direction : str
        Where what is left shall be: "right" or "top" of each board; or in its upper
        right "corner", or "slant" between right and corner, which fill boards better.
    jitter : float
        Sizes are multiplied by up to 1 plus or minus this, to try other orders.
    seed : int
        Of the jitter.
    first_room : int
        The kind of stock to prefer, by rank; 0 is the best by the objective.
    turns : int
        Turns tried for each copy, evenly among those allowed; 0 for all. Few of them
        need fewer no-fit regions, which take most of the time of a first layout.
    """

    order: str = "area"
    direction: str = "slant"
    jitter: float = 0.0
    seed: int = 0
    first_room: int = 0
    turns: int = 0


class EdgeSpans:
    """First and last edge of every no-fit region, kept up to date with the store."""

    def __init__(self, store: RegionStore) -> None:
        self.store = store
        self._spans: IntArray = np.zeros((0, 2), dtype=np.int32)

    def get(self) -> IntArray:
        """Return the spans, shape (R, 2)."""
        regions = self.store.regions
        count, known = len(regions.head), len(self._spans)
        if known < count:
            more = np.empty((count - known, 2), dtype=np.int32)
            for row, region in enumerate(range(known, count)):
                nx, ny, first = regions.dims[region].tolist()
                cells = regions.cell[first : first + nx * ny]
                used = regions.item[cells[:, 0].min() : cells[:, 2].max()]
                more[row] = used.min(), used.max()
            self._spans = np.concatenate([self._spans, more])
        return self._spans


class _Live:
    """A board under construction with its walls and its free touching places."""

    def __init__(self, problem: Problem, board: Board) -> None:
        self.board = board
        walls = problem.rooms[board.room].walls
        if board.held >= 0:
            walls += problem.held[board.held].walls
        self.laid = np.array([w[0] for w in walls], dtype=np.int32)
        self.x = np.array([w[1] for w in walls], dtype=np.float64)
        self.y = np.array([w[2] for w in walls], dtype=np.float64)
        self.known: dict[int, tuple[int, FloatArray]] = {}
        self.full: set[int] = set()
        """Kinds that found no place here; none will any more."""

    def add(self, kind: int, variant: int, x: float, y: float) -> None:
        self.board.add(kind, variant, x, y)
        self.laid = np.append(self.laid, np.int32(variant))
        self.x = np.append(self.x, x)
        self.y = np.append(self.y, y)


class Constructor:
    """Builds arrangements of one problem; keeps what it learns between plans.

    Parameters
    ----------
    problem : Problem
        What is to be laid out.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.spans = EdgeSpans(problem.store)
        self._hopeless: set[tuple[int, int]] = set()
        """(room, kind): does not fit on an empty board."""

    def build(
        self, plan: Plan, stop: Callable[[], bool], keep_partial: bool = False
    ) -> Arrangement:
        """Lay every copy down.

        Parameters
        ----------
        plan : Plan
            How.
        stop : callable
            Asked every few milliseconds.
        keep_partial : bool
            When stopped, return what there is instead of raising.

        Raises
        ------
        Interrupted
            If `stop` said so and what there is was not wanted.
        """
        problem = self.problem
        live = [
            _Live(problem, Board(held.room, k)) for k, held in enumerate(problem.held)
        ]
        supply = [room.left for room in problem.rooms]
        rooms = self._room_order(plan)
        left: dict[int, tuple[int, Reason]] = {}
        stopped = False
        for kind in self._order(plan):
            if kind in left:
                count, reason = left[kind]
                left[kind] = (count + 1, reason)
                continue
            try:
                reason_found = self._lay(kind, live, supply, rooms, plan, stop)
            except Interrupted:
                if not keep_partial:
                    raise
                stopped = True
                reason_found = Reason.STOPPED
            if stopped:
                reason_found = Reason.STOPPED
            if reason_found is not None:
                left[kind] = (1, reason_found)
        return Arrangement([one.board for one in live], left)

    def repacked(
        self, state: Arrangement, plan: Plan, stop: Callable[[], bool]
    ) -> Arrangement | None:
        """Lay the copies of the last sheet anew on a board of its own.

        The last sheet is the one that is not full; laid out by another plan, what is
        left of it may be of more use.

        Returns
        -------
        Arrangement or None
            None if there is no such sheet or its copies do not fit by this plan.

        Raises
        ------
        Interrupted
            If `stop` said so.
        """
        for number in range(len(state.boards) - 1, -1, -1):
            board = state.boards[number]
            if board.held < 0 and not self.problem.rooms[board.room].stock.offcut:
                break
        else:
            return None
        packed = self._on_one(board, board.room, plan, stop)
        if packed is None:
            return None
        boards = [*state.boards]
        boards[number] = packed
        return Arrangement(boards, state.left)

    def cheaper(
        self, state: Arrangement, plan: Plan, stop: Callable[[], bool]
    ) -> Arrangement | None:
        """Move the copies of whole sheets to cheaper ones that hold them all.

        Returns
        -------
        Arrangement or None
            None if no sheet can be exchanged.

        Raises
        ------
        Interrupted
            If `stop` said so.
        """
        rooms = self.problem.rooms
        used = Counter(board.room for board in state.boards if board.held < 0)
        by_price = sorted(range(len(rooms)), key=lambda r: (rooms[r].stock.price, r))
        boards = [*state.boards]
        for number in range(len(boards) - 1, -1, -1):
            board = boards[number]
            if board.held >= 0 or rooms[board.room].stock.offcut:
                continue
            for room in by_price:
                if rooms[room].stock.price >= rooms[board.room].stock.price:
                    break
                left = rooms[room].left
                if rooms[room].stock.offcut or (
                    left is not None and used[room] >= left
                ):
                    continue
                packed = self._on_one(board, room, plan, stop)
                if packed is not None:
                    used[room] += 1
                    used[board.room] -= 1
                    boards[number] = packed
                    break
        if all(one is two for one, two in zip(boards, state.boards, strict=True)):
            return None
        return Arrangement(boards, state.left)

    def _on_one(
        self, board: Board, room: int, plan: Plan, stop: Callable[[], bool]
    ) -> Board | None:
        """Lay the copies of a board on one new board; None if they do not all fit."""
        wanted = Counter(board.kind)
        live = _Live(self.problem, Board(room))
        for kind in self._order(plan):
            if wanted[kind] > 0:
                wanted[kind] -= 1
                if not self._try(kind, live, plan, stop):
                    return None
        return live.board

    # -------------------------------------------------------------- orders

    def _order(self, plan: Plan) -> list[int]:
        """Return the kind of each copy in the order they are laid down."""
        problem = self.problem
        rng = np.random.default_rng(plan.seed)
        rows = []
        for k, kind in enumerate(problem.kinds):
            width, height = kind.part.outline.size
            box = width * height
            size = {
                "area": kind.part.outline.outer.area,
                "box": box,
                "side": max(width, height) ** 2,
                "width": min(width, height) ** 2,
                "perimeter": kind.part.outline.outer.length**2,
            }[plan.order]
            for _ in kind.copies:
                shaken = size * (1.0 + plan.jitter * rng.uniform(-1.0, 1.0))
                rows.append((-kind.part.priority, -shaken, k))
        return [k for _, _, k in sorted(rows)]

    def _room_order(self, plan: Plan) -> list[int]:
        """Return the rooms in the order in which they are opened."""
        problem = self.problem
        least_cost = problem.job.objective is Objective.LEAST_COST

        def merit(room: int) -> tuple[float, float, int]:
            stock, area = problem.rooms[room].stock, problem.rooms[room].area
            if least_cost:
                return (stock.price / area, -area, room)
            return (-area, stock.price, room)

        offcuts = [r for r, room in enumerate(problem.rooms) if room.stock.offcut]
        sheets = [r for r, room in enumerate(problem.rooms) if not room.stock.offcut]
        offcuts.sort(key=lambda r: (problem.rooms[r].area, r))
        sheets.sort(key=merit)
        if sheets and plan.first_room:
            preferred = sheets.pop(plan.first_room % len(sheets))
            sheets.insert(0, preferred)
        return offcuts + sheets

    # -------------------------------------------------------------- one copy

    def _lay(
        self,
        kind: int,
        live: list[_Live],
        supply: list[int | None],
        rooms: Sequence[int],
        plan: Plan,
        stop: Callable[[], bool],
    ) -> Reason | None:
        """Lay one copy down; return why not if that cannot be."""
        problem = self.problem
        if not problem.rooms:
            return Reason.NO_BOARD if not self._board_exists() else Reason.TOO_LARGE
        # Offcuts in the rack are filled before sheets already begun.
        for offcuts in (True, False):
            for one in live:
                is_offcut = problem.rooms[one.board.room].stock.offcut
                if is_offcut is offcuts and self._try(kind, one, plan, stop):
                    return None
            for room in rooms:
                if problem.rooms[room].stock.offcut is not offcuts:
                    continue
                if (room, kind) in self._hopeless or supply[room] == 0:
                    continue
                fresh = _Live(problem, Board(room))
                laid = self._try(kind, fresh, plan, stop)
                if not laid and plan.turns:  # perhaps it fits at another turn
                    fresh.full.clear()
                    laid = self._try(kind, fresh, replace(plan, turns=0), stop)
                if laid:
                    live.append(fresh)
                    remaining = supply[room]
                    if remaining is not None:
                        supply[room] = remaining - 1
                    return None
                self._hopeless.add((room, kind))
        if any((room, kind) not in self._hopeless for room in rooms):
            return Reason.STOCK_USED_UP
        return self._why_nowhere(kind)

    def _board_exists(self) -> bool:
        from .model.rules import same_board

        parts = [kind.part for kind in self.problem.kinds]
        return any(
            same_board(part.material, part.thickness, entry.material, entry.thickness)
            for part in parts[:1]
            for entry in self.problem.job.stock
        )

    def _why_nowhere(self, kind: int) -> Reason:
        """Tell a part too large from one that its turn rule keeps away."""
        from .rooms import fits_box

        problem = self.problem
        variants = [v for row in problem.kinds[kind].variants for v in row]
        for variant in variants[:1]:
            shape = problem.store.shapes[problem.store.shape_of(variant)]
            for room in problem.rooms:
                allowed = problem.kinds[kind].part.turn.turns(room.stock.grain)
                if allowed is not None and any(
                    fits_box(shape, float(angle), room.rectangle)
                    for angle in range(0, 360, 3)
                ):
                    return Reason.TURN_RULE
        return Reason.TOO_LARGE

    def _try(self, kind: int, one: _Live, plan: Plan, stop: Callable[[], bool]) -> bool:
        if kind in one.full:
            return False
        if stop():
            raise Interrupted
        problem = self.problem
        store = problem.store
        room = problem.rooms[one.board.room]
        weights = _weights(plan)
        best = (math.inf, 0.0, 0.0)
        best_variant = -1
        variants = problem.kinds[kind].variants[one.board.room]
        if plan.turns and len(variants) > plan.turns:
            variants = variants[:: len(variants) // plan.turns][: plan.turns]
        for v in variants:
            inner = store.inner_rectangle(v, room.rectangle)
            if inner[0] > inner[2] or inner[1] > inner[3]:
                continue
            seen, known = one.known.get(v, (0, np.zeros((0, 3))))
            rectangle = np.array(inner)
            if seen < len(one.laid) or (seen == 0 and not len(known)):
                self._ensure(one.laid[seen:], v, stop)
                known = self._touching(one, v, rectangle, seen, known, stop)
                one.known[v] = (len(one.laid), known)
            if not len(known):
                continue
            found = best_place(
                store.regions,
                self.spans.get(),
                one.laid,
                one.x,
                one.y,
                v,
                rectangle,
                known,
                weights,
                3,
                TOLERANCE,
            )
            if found[0] < best[0] - 1e-9:
                best, best_variant = found, v
        if best_variant < 0:
            one.full.add(kind)
            return False
        one.add(kind, best_variant, best[1], best[2])
        return True

    def _touching(
        self,
        one: _Live,
        v: int,
        rectangle: FloatArray,
        seen: int,
        known: FloatArray,
        stop: Callable[[], bool],
    ) -> FloatArray:
        """Bring places up to date, a few copies at a time so that a stop is heard."""
        while True:
            end = min(seen + AT_ONCE, len(one.laid))
            known = touching_places(
                self.problem.store.regions,
                self.spans.get(),
                one.laid[:end],
                one.x[:end],
                one.y[:end],
                seen,
                v,
                rectangle,
                known,
                TOLERANCE,
            )
            seen = end
            if seen == len(one.laid):
                return known
            if stop():
                raise Interrupted

    def _ensure(self, laid: IntArray, v: int, stop: Callable[[], bool]) -> None:
        """Build missing regions, a few at a time so that a stop is heard."""
        pairs = [(int(u), v) for u in np.unique(laid)]
        if not self.problem.store.ensure(pairs, stop):
            raise Interrupted


def _weights(plan: Plan) -> FloatArray:
    inside = 1e6  # a place in a hole costs no room at all
    return np.array(
        {
            "right": [1.0, 0.02, inside],
            "top": [0.02, 1.0, inside],
            "slant": [1.0, 0.5, inside],
            "corner": [1.0, 1.0, inside],
        }[plan.direction]
    )
