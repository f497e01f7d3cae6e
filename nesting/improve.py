"""The improving engine on a job's boards: close a sheet, or press what is left.

Construction hands over a layout without overlap. Here the least filled sheet is closed
and its copies separated among the others (see `sheets`); when no sheet can be saved,
the copies of the emptiest one are pressed to one side so that the leftover stays whole.
Attempts take turns, each a fixed count of evaluations, so that the same passes give the
same layout.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from . import kernels_separate as kernel
from .jigsaw import jigsaw_of
from .overlap import Places, Task
from .rectangles.board import BoardLike, InTurns, board_of
from .rooms import Arrangement, Board, Problem
from .separate import Settings
from .sheets import SheetSearch
from .solve import Search
from .stock_mix import MixBoard

FIRST_EVALUATIONS = 1_500_000
"""Length of the first attempt to save a sheet."""

MOST_EVALUATIONS = 50_000_000
"""Attempts grow up to this; a second or so for every three million."""

PRESS_EVALUATIONS = 1_500_000


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
        self.incumbent = s.places.copy()
        self.used = sorted({int(b) for b in self.incumbent.room[self._free]})
        return True


class _BoardSearch:
    """Improves the arrangement of one problem."""

    def __init__(self, search: Search, index: int, press: int) -> None:
        self._press_evaluations = press
        self._search = search
        self._index = index
        self._problem: Problem = search.problems[index]
        self._turn = 0
        self._pressed: set[tuple[int, int]] = set()
        self._least = _least_sheets(search, index)

    def attempt(self, evaluations: int) -> bool:
        """Do one pass; return whether another one could be of use."""
        state = self._search.best[self._index]
        if not any(board.kind for board in state.boards):
            return False
        self._search.tick()
        self._turn += 1
        sheets = self._sheets(state)
        if len(sheets) > self._least and len(state.boards) > 1 and not state.left:
            if self._close(state, evaluations):
                self._pressed.clear()
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
            allowed = (
                problem.kinds[kind].variants
                if kind >= 0
                else ((variant,),) * len(problem.rooms)
            )
            menus.append([tuple(row) for row in allowed])

        for b, board in enumerate(state.boards):
            rows = zip(board.kind, board.variant, board.x, board.y, strict=True)
            for kind, variant, x, y in rows:
                add(b, variant, x, y, kind)
            walls = problem.rooms[board.room].walls
            if board.held >= 0:
                walls += problem.held[board.held].walls
            for variant, x, y in walls:
                add(b, variant, x, y, -1)
        task = Task.with_menus(problem.store, menus, movable)
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
        return closing

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
        """Press the emptiest sheet; return whether a direction was left to try."""
        fill = [
            sum(self._problem.kinds[k].part.area for k in board.kind)
            for board in state.boards
        ]
        tries = [
            (fill[b], b, axis)
            for b, board in enumerate(state.boards)
            for axis in (0, 1)
            if board.kind and (b, axis) not in self._pressed
        ]
        if not tries:
            return False
        _, b, axis = min(tries)
        self._pressed.add((b, axis))
        closing = self._begin(state)
        closing.press(self._until(closing, self._press_evaluations), b, axis)
        self._offer(state, closing)
        return True

    def _offer(self, state: Arrangement, closing: _Closing) -> bool:
        found = closing.incumbent
        assert found is not None, "it began from one"
        boards = [Board(board.room, board.held) for board in state.boards]
        for i, kind in enumerate(self._kinds):
            if kind >= 0:
                x, y = float(found.x[i]), float(found.y[i])
                boards[int(found.room[i])].add(kind, int(found.at[i]), x, y)
        kept = [board for board in boards if board.kind or board.held >= 0]
        return self._search.offer(self._index, Arrangement(kept, dict(state.left)))


def _least_sheets(search: Search, index: int) -> int:
    """Sheets that this problem needs at least, by the bound's proof for its parts."""
    ids = {kind.part.id for kind in search.problems[index].kinds}
    for proof in search.bound.proofs:
        if proof.parts and proof.parts[0][0] in ids:
            return proof.count
    return 0
