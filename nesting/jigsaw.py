"""Jigsaws among orders: parts without a gap that fill their sheets to the last bit.

Such orders are rare (tiles, parts cut by a blade) and out of reach of a search
through overlaps. Where one is recognised, exact tiling takes turns with the other
methods, so many steps at a time; what is over on the last sheet counts as one more
piece, a rectangle across the sheet, which is the best leftover there is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .model.placement import Blank, Layout, Placement, Reason
from .rectangles.board import SearchLike
from .rooms import QUARTERS, Kind, Problem, arrangement_of, usable_area
from .tiling import Laid, Ring, Tile, grid_of, tile, twice_area

FIRST_STEPS = 4_000
"""Steps of the first attempt; a second for every few thousand."""

ATTEMPTS = 5
"""Attempts, each of twice the steps of the one before."""


@dataclass(frozen=True, eq=False)
class Jigsaw:
    """A problem as an exact tiling.

    Attributes
    ----------
    tiles : tuple of Tile
        One for each kind, in order; then, where area is left over, that.
    scale : int
        Grid steps per mm.
    corner : tuple of float
        Of the usable rectangle on the blank, mm.
    width, height : int
        Of that rectangle, in grid steps.
    rooms : int
        Sheets that the parts fill.
    """

    tiles: tuple[Tile, ...]
    scale: int
    corner: tuple[float, float]
    width: int
    height: int
    rooms: int


def jigsaws(problem: Problem) -> list[Jigsaw]:
    """Return a problem as the tilings it could be, of which any would be best.

    Empty unless parts keep no gap, have straight outlines on a common grid without
    holes and may lie at right angles, and there is one kind of sheet, without walls and
    locked copies, whose rectangles the parts fill but for a strip across one of them.
    """
    if problem.job.cutting.gap > 0.0 or len(problem.rooms) != 1 or problem.held:
        return []
    (room,) = problem.rooms
    kinds = [kind for kind in problem.kinds if kind.copies]
    outlines = [kind.part.outline for kind in kinds]
    if room.walls or not kinds or any(o.holes for o in outlines):
        return []
    if not all(o.outer.is_straight for o in outlines):
        return []
    turns = [_quarters(kind, problem) for kind in kinds]
    rings = [o.outer.flatten(1.0) for o in outlines]
    scale = grid_of(rings, ())
    if scale is None or not all(turns):
        return []
    x0, y0, x1, y1 = usable_area(room.stock, problem.job.cutting).bounds
    w, h = (x1 - x0) * scale, (y1 - y0) * scale
    if max(abs(w - round(w)), abs(h - round(h))) > 1e-6:
        return []
    tiles = tuple(
        Tile(_whole(ring * scale), len(kind.copies), quarters)
        for ring, kind, quarters in zip(rings, kinds, turns, strict=True)
    )
    w, h = round(w), round(h)
    area = sum(twice_area(one.outline) * one.quantity for one in tiles)
    rooms = -(-area // (2 * w * h))
    if room.left is not None and rooms > room.left:
        return []
    rest = 2 * w * h * rooms - area
    if rest == 0:
        return [Jigsaw(tiles, scale, (x0, y0), w, h, rooms)]
    return [
        Jigsaw((*tiles, Tile(_box(*sides), 1, (0,))), scale, (x0, y0), w, h, rooms)
        for side, sides in ((h, (rest // (2 * h), h)), (w, (w, rest // (2 * w))))
        if rest % (2 * side) == 0
    ]


class JigsawBoard:
    """Tries to put a problem together as a jigsaw."""

    def __init__(self, search: SearchLike, index: int, forms: list[Jigsaw]) -> None:
        self._search = search
        self._index = index
        self._forms = forms
        self._tries = 0

    def attempt(self, evaluations: int) -> bool:
        """Do one pass; return whether another one could be of use."""
        form = self._forms[self._tries % len(self._forms)]
        state = self._search.best[self._index]
        fewest = not state.left and len(state.boards) <= form.rooms
        if self._tries >= ATTEMPTS * len(self._forms) or fewest:
            return False
        self._search.tick()
        steps = FIRST_STEPS << (self._tries // len(self._forms))
        self._tries += 1
        seed = self._search.seed * 1_000_003 + self._index * 1009 + self._tries
        found = solution(
            self._search.problems[self._index], form, seed, steps, self._stop
        )
        if found is not None:
            state_found = arrangement_of(self._search.problems[self._index], found)
            if state_found is not None:
                self._search.offer(self._index, state_found)
        return True

    def _stop(self) -> bool:
        return self._search.stopped()


def jigsaw_of(search: SearchLike, index: int) -> JigsawBoard | None:
    """Return the improver if the problem may be a jigsaw, else None."""
    left = search.best[index].left.values()
    if any(why is not Reason.STOCK_USED_UP for _, why in left):
        return None
    forms = jigsaws(search.problems[index])
    return JigsawBoard(search, index, forms) if forms else None


def solution(
    problem: Problem,
    form: Jigsaw,
    seed: int,
    steps: int,
    stop: Callable[[], bool],
) -> Layout | None:
    """Return the layout of a tiling; None if none was found within the steps."""
    laid = tile(form.tiles, form.width, form.height, form.rooms, seed, stop, steps)
    if laid is None:
        return None
    kinds = [kind for kind in problem.kinds if kind.copies]
    copies = [iter(kind.copies) for kind in kinds]
    placements = [
        _placement(form, kinds[one.tile], next(copies[one.tile]), one)
        for one in laid
        if one.tile < len(kinds)
    ]
    blanks = tuple(Blank(problem.rooms[0].stock.id) for _ in range(form.rooms))
    return Layout(blanks, tuple(placements))


def _placement(form: Jigsaw, kind: Kind, copy: int, one: Laid) -> Placement:
    x = form.corner[0] + one.x / form.scale
    y = form.corner[1] + one.y / form.scale
    return Placement(kind.part.id, copy, one.room, x, y, 90.0 * one.quarter)


def _quarters(kind: Kind, problem: Problem) -> tuple[int, ...]:
    rule = kind.part.turn.turns(problem.rooms[0].stock.grain)
    turns = QUARTERS if rule is None else tuple(rule)
    right = [a / 90.0 for a in turns if abs(a / 90.0 - round(a / 90.0)) < 1e-9]
    return tuple(sorted({round(q) % 4 for q in right}))


def _whole(ring: np.ndarray) -> Ring:
    points = tuple((round(float(x)), round(float(y))) for x, y in ring)
    return points if twice_area(points) > 0 else points[::-1]


def _box(width: int, height: int) -> Ring:
    return ((0, 0), (width, 0), (width, height), (0, height))
