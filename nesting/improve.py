"""The improving engine on a job's boards: close a sheet, or press what is left.

Construction hands over a layout without overlap. Here the least filled sheet is closed
and its copies separated among the others (see `sheets`); when no sheet can be saved,
the copies of the emptiest one are pressed to one side so that the leftover stays whole.
Attempts take turns, each a fixed count of evaluations, so that the same passes give the
same layout.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable

import numpy as np

from . import kernels_separate as kernel
from .jigsaw import jigsaw_of
from .model.job import Objective
from .nofit import RegionStore
from .overlap import Places, Task
from .rectangles.board import BoardLike, InTurns, board_of
from .rooms import Arrangement, Board, Problem
from .separate import Settings
from .sharing import is_round
from .sheets import SheetSearch
from .solve import Search
from .stock_mix import MixBoard
from .turner import Turned, Turner

FIRST_EVALUATIONS = 1_500_000
"""Length of the first attempt to save a sheet."""

MOST_EVALUATIONS = 50_000_000
"""Attempts grow up to this; a second or so for every three million."""

PRESS_EVALUATIONS = 1_500_000

PRESS_EACH = 60_000
"""Evaluations of an attempt to press a sheet, for each copy on it, at most."""

FIRST_PRESS, AGAIN_PRESS = 0.05, 0.01
"""Steps, relative to the sheet, that pressing begins with: at first, and again."""

PATIENCE = 4
"""Attempts to press the emptiest sheet along an axis without use, until it is given up.

Where the length matters most it never is.
"""

MOST_DOUBLED = 4
"""Each such attempt is twice as long as the one before, so many times."""

MOST_TURNED = 80
"""Copies at angles of their own, above which a layout is not gone on from.

Pairs of turns grow with its square, and with them the table of no-fit regions.
"""


def improve(
    search: Search,
    *,
    first: int = FIRST_EVALUATIONS,
    press: int = PRESS_EVALUATIONS,
) -> None:
    """Improve the best arrangements until the stop rule fires or nothing is left.

    Parameters
    ----------
    search : Search
        Holds a complete layout; better ones are offered to it as they are found.
    first : int
        Evaluations of the first attempt to save a sheet.
    press : int
        Evaluations of each attempt to press a sheet.
    """
    boards = [_improver(search, k, press) for k in range(len(search.problems))]
    length = first
    while not search.stopped():
        busy = False
        for one in boards:
            if search.stopped():
                return
            busy |= one.attempt(length)
        if not busy:
            return
        length = min(2 * length, MOST_EVALUATIONS)


def _improver(search: Search, index: int, press: int) -> BoardLike:
    """Choose the methods for a problem: rectangles have one of their own."""
    rectangles = board_of(search, index)
    if rectangles is not None and rectangles.exact:
        return rectangles
    general: BoardLike = _BoardSearch(search, index, press)
    jigsaw = jigsaw_of(search, index)
    if jigsaw is not None:
        general = InTurns(jigsaw, general)
    if len(search.problems[index].rooms) > 1:
        general = InTurns(MixBoard(search, index), general)
    return general if rectangles is None else InTurns(rectangles, general)


class _Closing(SheetSearch):
    """A sheet search that leaves offcuts and boards with locked copies open."""

    closable: frozenset[int] = frozenset()

    def _emptiest(self) -> int:
        fill = self._fill()
        choice = [b for b in self.used if b in self.closable]
        return min(choice, key=lambda b: (float(fill[b]), b))

    def saved_one(self, stop: Callable[[], bool]) -> bool:
        """Close the emptiest sheet; return whether its copies found room elsewhere."""
        s = self.separation
        if self.incumbent is None:
            raise ValueError("begin from a layout without overlap")
        s.places.assign(self.incumbent)
        try:
            self._close(self._emptiest())
        except ValueError:  # a copy fits on none of the others
            s.places.assign(self.incumbent)
            return False
        if not self._separated(stop):
            s.places.assign(self.incumbent)
            return False
        if self.turned is None:
            self.incumbent = s.places.copy()
        return True


class _BoardSearch:
    """Improves the arrangement of one problem."""

    def __init__(self, search: Search, index: int, press: int) -> None:
        self._press_evaluations = press
        self._search = search
        self._index = index
        self._problem: Problem = search.problems[index]
        self._turn = 0
        self._fruitless: Counter[tuple[int, int]] = Counter()
        self._patience = PATIENCE
        self._axes: tuple[int, ...] = (0, 1)
        if search.job.objective is Objective.SHORTEST_LENGTH:
            self._patience, self._axes = sys.maxsize, (0,)
        self._least = _least_sheets(search, index)
        # A row for each kind, and one at the end for what is fixed, the kind -1.
        rows, rooms = len(self._problem.kinds) + 1, len(self._problem.rooms)
        self._turnable = np.zeros((rows, rooms), dtype=np.bool_)
        for k, kind in enumerate(self._problem.kinds):
            if not is_round(kind.part.outline):
                for r in range(rooms):
                    self._turnable[k, r] = self._problem.turns_freely(k, r)

    def attempt(self, evaluations: int) -> bool:
        """Do one pass; return whether another one could be of use."""
        state = self._search.best[self._index]
        if not any(board.kind for board in state.boards):
            return False
        if _turned(state) > MOST_TURNED:  # laid by hand
            return False
        self._search.tick()
        self._turn += 1
        sheets = self._sheets(state)
        if len(sheets) > self._least and len(state.boards) > 1 and not state.left:
            if self._close(state, evaluations):
                self._fruitless.clear()
                return True
            self._press(self._search.best[self._index])
            return True
        return self._press(state)

    def _sheets(self, state: Arrangement) -> list[int]:
        """Boards whose closing saves a sheet."""
        return [
            b
            for b, board in enumerate(state.boards)
            if board.held < 0 and not self._problem.rooms[board.room].stock.offcut
        ]

    def _begin(self, state: Arrangement) -> _Closing:
        problem = self._problem
        store, own = self._store(state)
        menus: list[list[tuple[int, ...]]] = []
        at: list[int] = []
        room: list[int] = []
        xs: list[float] = []
        ys: list[float] = []
        movable: list[bool] = []
        self._kinds: list[int] = []

        def add(b: int, variant: int, x: float, y: float, kind: int) -> None:
            at.append(variant)
            room.append(b)
            xs.append(x)
            ys.append(y)
            movable.append(kind >= 0)
            self._kinds.append(kind)
            if kind < 0:
                menus.append([(variant,)] * len(problem.rooms))
                return
            rows = problem.kinds[kind].variants
            menus.append(
                [
                    (*row, variant)
                    if variant >= len(problem.store) and problem.turns_freely(kind, r)
                    else row
                    for r, row in enumerate(rows)
                ]
            )

        for b, board in enumerate(state.boards):
            rows = zip(board.kind, board.variant, board.x, board.y, strict=True)
            for i, (kind, variant, x, y) in enumerate(rows):
                add(b, own.get((b, i), variant), x, y, kind)
            walls = problem.rooms[board.room].walls
            if board.held >= 0:
                walls += problem.held[board.held].walls
            for variant, x, y in walls:
                add(b, variant, x, y, -1)
        task = Task.with_menus(store, menus, movable)
        places = Places(
            np.array(at, dtype=np.int32),
            np.array(room, dtype=np.int32),
            np.array(xs),
            np.array(ys),
        )
        rectangles = np.array(
            [problem.rooms[board.room].rectangle for board in state.boards]
        )
        closing = _Closing(
            task,
            rectangles,
            places,
            Settings(),
            self._search.seed * 1_000_003 + self._index * 1009 + self._turn,
            room_class=np.array([board.room for board in state.boards], dtype=np.int32),
        )
        closing.closable = frozenset(self._sheets(state))
        closing.incumbent = places.copy()
        turnable = self._turnable[self._kinds]
        if turnable.any():
            rooms, tolerance = closing.separation.room_class, Settings().tolerance
            closing.turner = Turner(task, turnable, rooms, tolerance)
        return closing

    def _store(
        self, state: Arrangement
    ) -> tuple[RegionStore, dict[tuple[int, int], int]]:
        """Return a store with a variant for every copy at an angle of its own.

        Also these variants, by board and copy.
        """
        store = self._problem.store
        turns = [
            ((b, i), (store.shape_of(board.variant[i]), angle))
            for b, board in enumerate(state.boards)
            for i, angle in sorted(board.turned.items())
        ]
        if not turns:
            return store, {}
        own = {where: len(store) + k for k, (where, _) in enumerate(turns)}
        return store.with_turns([turn for _, turn in turns]), own

    def _until(self, closing: _Closing, evaluations: int) -> Callable[[], bool]:
        counters = closing.separation.counters
        end = int(counters[kernel.EVALUATIONS]) + evaluations

        def stop() -> bool:
            spent = int(counters[kernel.EVALUATIONS]) >= end
            return self._search.stopped() or spent

        return stop

    def _close(self, state: Arrangement, evaluations: int) -> bool:
        closing = self._begin(state)
        if not closing.saved_one(self._until(closing, evaluations)):
            return False
        return self._offer(state, closing)

    def _press(self, state: Arrangement) -> bool:
        """Press a sheet, the emptiest first; return whether that could be of use again.

        Sheets are pressed along each axis once, the emptiest again and again until
        that did not help so many times.
        """
        fill = [
            sum(self._problem.kinds[k].part.area for k in board.kind)
            for board in state.boards
        ]
        tries = [
            (self._fruitless[b, axis], fill[b], b, axis)
            for b, board in enumerate(state.boards)
            for axis in self._axes
            if board.kind
        ]
        emptiest = min(tries, key=lambda row: row[1])[2]
        tries = [
            row
            for row in tries
            if row[0] < (self._patience if row[2] == emptiest else 1)
        ]
        if not tries:
            return False
        fails, _, b, axis = min(tries)
        closing = self._begin(state)
        most = PRESS_EACH * len(state.boards[b].kind)
        work = min(self._press_evaluations, most) << min(fails, MOST_DOUBLED)
        first = FIRST_PRESS if fails == 0 else AGAIN_PRESS
        closing.press(self._until(closing, work), b, axis, first)
        if self._offer(state, closing):
            self._fruitless.clear()
        else:
            self._fruitless[b, axis] += 1
        return True

    def _offer(self, state: Arrangement, closing: _Closing) -> bool:
        """Offer what was found; the layout with turns of its own first."""
        assert closing.incumbent is not None, "it began from one"
        found = [Turned(closing.incumbent, {})]
        if closing.turned is not None:
            found.insert(0, closing.turned)
        store = closing.task.store
        for one in found:
            boards = [Board(board.room, board.held) for board in state.boards]
            rows = zip(
                self._kinds,
                one.places.at.tolist(),
                one.places.room.tolist(),
                one.places.x.tolist(),
                one.places.y.tolist(),
                strict=True,
            )
            for i, (kind, variant, b, x, y) in enumerate(rows):
                if kind < 0:
                    continue
                angle = one.angle.get(i)
                if variant >= len(self._problem.store):
                    angle = store.angles[variant] if angle is None else angle
                    variant = self._face(kind, boards[b].room, store.shape_of(variant))
                boards[b].add(kind, variant, x, y, angle)
            kept = [board for board in boards if board.kind or board.held >= 0]
            better = Arrangement(kept, dict(state.left))
            if _turned(better) <= MOST_TURNED and self._search.offer(
                self._index, better
            ):
                return True
        return False

    def _face(self, kind: int, room: int, shape: int) -> int:
        """Return a variant of a kind that shows the face that a shape stands for."""
        store = self._problem.store
        allowed = self._problem.kinds[kind].variants[room]
        return next(v for v in allowed if store.shape_of(v) == shape)


def _turned(state: Arrangement) -> int:
    """Count of copies at angles of their own."""
    return sum(len(board.turned) for board in state.boards)


def _least_sheets(search: Search, index: int) -> int:
    """Sheets that this problem needs at least, by the bound's proof for its parts."""
    ids = {kind.part.id for kind in search.problems[index].kinds}
    for proof in search.bound.proofs:
        if proof.parts and proof.parts[0][0] in ids:
            return proof.count
    return 0
