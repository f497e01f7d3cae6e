"""Tighten a room: move all its copies at once, at the turns they have.

A separation moves one copy at a time and ends near a layout without overlap, or in one
that could still be shorter. Here a linear program moves all copies a little: each pair
stays within half-planes that keep it apart (see `kernels_tighten`), what overlaps is
parted first, and the layout reaches as little far along an axis as can be. The
half-planes are then chosen anew, until nothing is gained.

References
----------
Li & Milenkovic 1995, doi:10.1016/0377-2217(95)00021-H; Gomes & Oliveira 2006,
doi:10.1016/j.ejor.2004.09.008.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import scipy.optimize

from .kernels import FloatArray, IntArray
from .kernels_tighten import FULL, half_planes
from .linear import Table
from .overlap import Places, Task

NEAR = 0.5
"""Overlap, in squares of the copies' mean size, from which all may well be parted."""

REACH = 0.1
"""How far a copy moves in one program, relative to the mean size of the copies."""

MOST_PROGRAMS = 12
"""Programs run one after the other at most."""

PATIENCE = 4
"""Programs after which the overlap has to shrink by a tenth each."""

PENALTY = 100.0
"""What a unit of overlap costs, in units of length."""

WORTH = 1e-5
"""Gain in length, relative, that is worth another program."""

MOST_COPIES = 250
"""Copies of a room above which a program takes too long to be stopped in time."""


class Tightener:
    """Tightens layouts of a task.

    Parameters
    ----------
    task : Task
    tolerance : float, mm
        Depth of an overlap that does not count.

    Attributes
    ----------
    programs : int
        Linear programs solved so far.
    """

    def __init__(self, task: Task, tolerance: float) -> None:
        self.task = task
        self.tolerance = tolerance
        self.programs = 0
        free = task.size[task.movable]
        self._size = float(free.mean()) if len(free) else 0.0
        self._span = np.zeros((0, 2), dtype=np.int32)
        self._pair = np.zeros((1024, 2), dtype=np.int32)
        self._plane = np.zeros((1024, 4))

    def is_near(self, overlap: float) -> bool:
        """Return whether a `Separation.least` as small as this may well be parted."""
        return overlap < NEAR * self._size**2

    def run(
        self,
        places: Places,
        rectangle: FloatArray,
        room: int = 0,
        axis: int | None = 0,
        worse: float = np.inf,
        stop: Callable[[], bool] | None = None,
    ) -> tuple[float, Places] | None:
        """Part what overlaps in a room and press its copies to the axis's lower end.

        Parameters
        ----------
        places : Places
            Copies within the rectangle, some of them overlapping; left as they are.
        rectangle : float64 (4,), mm
            Of the room. Its upper end along `axis` does not bind.
        room : int
        axis : int or None
            0 to press along x, 1 along y, None to part only, within the rectangle.
        worse : float, mm
            Length above which a layout is not worth going on with.
        stop : callable, optional
            Asked before each program, some 20 ms long at most.

        Returns
        -------
        tuple of float, mm, and Places, or None
            How far the movable copies reach along the axis, and where they lie; None if
            some still overlap.
        """
        copies: IntArray = np.flatnonzero(places.room == room).astype(np.int32)
        if len(copies) > MOST_COPIES or not self.task.movable[copies].any():
            return None
        places = places.copy()
        length, overlap = np.inf, np.inf
        for number in range(MOST_PROGRAMS):
            if stop is not None and stop():
                break
            solved = self._solve(places, copies, rectangle, axis)
            if solved is None:
                break
            before, parted = length, overlap <= self.tolerance
            length, left = solved
            if left > self.tolerance:
                if number >= PATIENCE and left > 0.9 * overlap:
                    break
            elif axis is None:
                return length, places
            elif parted and before - length < WORTH * abs(length):
                return length, places
            elif number >= PATIENCE and length > worse:
                return None
            overlap = left
        return (length, places) if overlap <= self.tolerance else None

    def _edges_of(self) -> IntArray:
        """Range of the edges of every region built so far."""
        regions = self.task.store.regions
        known = len(self._span)
        if known < len(regions.dims):
            rows = []
            for nx, ny, first in regions.dims[known:, :3].tolist():
                cell = regions.cell[first : first + nx * ny]
                used = regions.item[cell[:, 0].min() : cell[:, 2].max()]
                rows.append((used.min(), used.max() + 1))
            new = np.array(rows, dtype=np.int32)
            self._span = np.concatenate([self._span, new])
        return self._span

    def _half_planes(
        self, places: Places, copies: IntArray, reach: float
    ) -> tuple[IntArray, FloatArray]:
        store = self.task.store
        while True:
            count = half_planes(
                store.regions,
                self._edges_of(),
                self.task.movable,
                copies,
                places.at,
                places.x,
                places.y,
                reach,
                0.01 * self.tolerance,
                self._pair,
                self._plane,
            )
            if count == FULL:
                more = 2 * len(self._pair)
                self._pair = np.zeros((more, 2), dtype=np.int32)
                self._plane = np.zeros((more, 4))
            elif count < 0:
                mine = int(places.at[-1 - count])
                others = np.unique(places.at[copies]).tolist()
                store.ensure((u, mine) for u in others)
                store.ensure((mine, u) for u in others)
            else:
                return self._pair[:count], self._plane[:count]

    def _solve(
        self,
        places: Places,
        copies: IntArray,
        rectangle: FloatArray,
        axis: int | None,
    ) -> tuple[float, float] | None:
        """Solve one program and move the copies; return length and overlap left."""
        reach = REACH * self._size
        n = len(copies)
        pair, plane = self._half_planes(places, copies, reach)
        if axis is None and not (plane[:, 3] > self.tolerance).any():
            return 0.0, 0.0  # nothing to part
        self.programs += 1
        x, y = places.x[copies], places.y[copies]
        box = self.task.store.regions.box[places.at[copies]]
        movable = self.task.movable[copies]
        i, j = pair[:, 0].astype(np.int64), pair[:, 1].astype(np.int64)
        normal = plane[:, :2]
        # How far each pair is within its half-plane, less what rounding may take.
        room = normal[:, 0] * (x[j] - x[i]) + normal[:, 1] * (y[j] - y[i])
        room -= plane[:, 2] + 0.1 * self.tolerance
        binds = room < 2.0 * reach * np.abs(normal).sum(axis=1)
        i, j, normal, room = i[binds], j[binds], normal[binds], room[binds]
        deep = plane[binds, 3] > 0.0
        hot, number = np.unique(i[deep] * n + j[deep], return_inverse=True)
        # Unknowns: dx and dy of each copy, the length, the overlap of each pair that
        # overlaps now. All are measured in reaches, so that the solver's tolerances
        # mean the same at every scale.
        end = 2 * n
        table = Table()
        slack = np.zeros(len(room))
        slack[deep] = -1.0
        column = np.full(len(room), end)
        column[deep] = end + 1 + number
        table.add(
            room / reach,
            (2 * j, -normal[:, 0]),
            (2 * j + 1, -normal[:, 1]),
            (2 * i, normal[:, 0]),
            (2 * i + 1, normal[:, 1]),
            (column, slack),
        )
        bound = np.empty((end + 1 + len(hot), 2))
        for k, value in enumerate((x, y)):
            low = (rectangle[k] - box[:, k] - value) / reach
            high = (rectangle[k + 2] - box[:, k + 2] - value) / reach
            if k == axis:
                high[:] = np.inf
                mine = np.flatnonzero(movable)
                table.add(
                    -(value + box[:, k + 2])[mine] / reach,
                    (2 * mine + k, np.ones(len(mine))),
                    (np.full(len(mine), end), -np.ones(len(mine))),
                )
            bound[k:end:2, 0] = np.clip(low, -1.0, 0.0)
            bound[k:end:2, 1] = np.clip(high, 0.0, 1.0)
        bound[:end][np.repeat(~movable, 2)] = 0.0
        bound[end] = (-np.inf, np.inf) if axis is not None else (0.0, 0.0)
        bound[end + 1 :] = (0.0, np.inf)
        cost = np.full(end + 1 + len(hot), PENALTY)
        cost[:end] = 0.0
        cost[end] = 1.0
        matrix, limit = table.of(len(cost))
        solved = scipy.optimize.linprog(
            cost,
            matrix,
            limit,
            bounds=bound,
            method="highs-ds",
            options={"primal_feasibility_tolerance": 1e-9},
        )
        if solved.x is None:
            return None
        move = reach * solved.x
        for k, value in enumerate((places.x, places.y)):
            moved = value[copies] + move[k:end:2]
            high = np.inf if k == axis else rectangle[k + 2]
            inside = np.clip(moved, rectangle[k] - box[:, k], high - box[:, k + 2])
            value[copies] = np.where(movable, inside, value[copies])
        return float(move[end]), float(move[end + 1 :].sum())
