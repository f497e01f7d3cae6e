"""Pressing a layout together: every copy moves and turns a little, all at once.

Near a layout, convex pieces that do not overlap are parted by one of their edges. A
linear program finds the layout that reaches least far and keeps each pair of pieces on
the two sides of that edge, to first order in the turns and within a small step; then
the edges are chosen anew. What a step lets overlap, since a turn is no straight line,
costs as much as several times its length, and the next step parts it. So copies come to
lie edge to edge at whatever angle that takes.

References
----------
Compaction by linear programs: Li & Milenkovic 1995, doi:10.1016/0377-2217(95)00021-H;
Gomes & Oliveira 2006, doi:10.1016/j.ejor.2004.09.008. Here it turns, too.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.optimize
from numpy.typing import NDArray

from .kernels import FloatArray, IntArray
from .kernels_compact import lay, rows
from .linear import Table

FAR = 6.0
"""Steps by which two copies can come nearer: each moves along both axes and turns."""

PENALTY = 5.0
"""What a unit of overlap costs, in units of length."""

LAST_PENALTY = 500.0
"""The same once nothing counts but parting what overlaps."""

REPAIRS = 10
"""Steps at the end that part what still overlaps."""

HALVINGS = 4
"""Shorter steps tried where the whole one makes nothing better."""

SHORTER = 0.4
"""How much shorter each of them is."""

MOST_ROWS = 6_000
"""Rows above which a step is made shorter, so that one takes some ten milliseconds."""

SLOW = 3
"""Steps without a gain worth mentioning after which to end."""

Rectangle = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Poses:
    """Where every copy lies: place, mm, and turn, radians."""

    x: FloatArray
    y: FloatArray
    turn: FloatArray

    def moved(self, change: FloatArray) -> Poses:
        """Return the copies after a change (n, 3) of place and turn."""
        return Poses(
            self.x + change[:, 0], self.y + change[:, 1], self.turn + change[:, 2]
        )


class Bodies:
    """Copies as convex pieces that can be laid anywhere at any angle.

    Parameters
    ----------
    pieces : sequence of sequences of float64 (n, 2), mm
        Convex pieces of each shape about its own origin, about which it turns; see
        `convex.convex_pieces`.
    copies : sequence of int
        The shape of each copy.
    turnable : sequence of bool
        Whether each copy may turn freely.
    movable : sequence of bool, optional
        Whether it may move at all; by default all may.
    """

    def __init__(
        self,
        pieces: Sequence[Sequence[FloatArray]] | Mapping[int, Sequence[FloatArray]],
        copies: Sequence[int],
        turnable: Sequence[bool],
        movable: Sequence[bool] | None = None,
    ) -> None:
        n = len(copies)
        self.movable = np.array([True] * n if movable is None else movable, dtype=bool)
        self.turnable = np.array(turnable, dtype=bool) & self.movable
        corners: list[FloatArray] = []
        ranges: dict[int, list[tuple[int, int]]] = {}
        reach: dict[int, float] = {}
        at = 0
        for k in sorted(set(copies)):
            ranges[k] = []
            for piece in pieces[k]:
                ranges[k].append((at, at + len(piece)))
                corners.append(piece)
                at += len(piece)
            reach[k] = max(float(np.hypot(*piece.T).max()) for piece in pieces[k])
        self.corner = np.concatenate(corners)
        self.reach = np.array([reach[k] for k in copies])
        self.first = np.array([ranges[k][0][0] for k in copies], dtype=np.int32)
        self.last = np.array([ranges[k][-1][1] for k in copies], dtype=np.int32)
        size = (self.last - self.first).astype(np.int64)
        self.start = (np.cumsum(size) - size).astype(np.int32)
        self.owner = np.repeat(np.arange(n, dtype=np.int32), size)
        piece_rows, ends = [], [0]
        for i, k in enumerate(copies):
            shift = int(self.start[i] - self.first[i])
            piece_rows += [(a + shift, b + shift) for a, b in ranges[k]]
            ends.append(len(piece_rows))
        self.piece = np.array(piece_rows, dtype=np.int32)
        self.pieces = np.array(ends, dtype=np.int32)
        self._room = 64 * n

    def __len__(self) -> int:
        """Count of copies."""
        return len(self.first)

    def laid(self, poses: Poses) -> FloatArray:
        """Return the corners (m, 2) of all copies where they lie; see `owner`."""
        out = np.empty((len(self.owner), 2))
        lay(
            self.corner,
            self.first,
            self.last,
            poses.x,
            poses.y,
            poses.turn,
            self.start,
            out,
        )
        return out

    def rows(
        self, poses: Poses, laid: FloatArray, reach: float
    ) -> tuple[IntArray, FloatArray, int, float]:
        """Return pairs, rows, pairs' count, overlap; see `kernels_compact.rows`."""
        while True:
            pair = np.empty((self._room, 3), dtype=np.int32)
            row = np.empty((self._room, 5))
            count, pairs, overlap = rows(
                laid,
                poses.x,
                poses.y,
                self.movable,
                self.piece,
                self.pieces,
                reach,
                pair,
                row,
            )
            if count >= 0:
                return pair[:count], row[:count], pairs, overlap
            self._room *= 2


@dataclass(frozen=True, eq=False)
class _State:
    """A layout under way, and how bad it is."""

    poses: Poses
    laid: FloatArray
    end: float
    overlap: float

    def merit(self, penalty: float) -> float:
        return self.end + penalty * self.overlap


class Press:
    """Presses copies within a rectangle towards its lower end along an axis.

    Parameters
    ----------
    bodies : Bodies
    rectangle : tuple of four floats, mm
        ``x0, y0, x1, y1``; the upper ends may be infinite.
    axis : int
        0 to press along x, 1 along y.
    tolerance : float, mm
        Overlap, added up over all pairs, that does not count.
    """

    def __init__(
        self, bodies: Bodies, rectangle: Rectangle, axis: int, tolerance: float
    ) -> None:
        self.bodies = bodies
        self.rectangle = rectangle
        self.axis = axis
        self.tolerance = tolerance
        self._mine = bodies.movable[bodies.owner]

    def run(
        self,
        poses: Poses,
        stop: Callable[[], bool],
        step: float,
        most: int = 100,
        least: float = 1e-4,
        enough: float = -np.inf,
    ) -> tuple[float, Poses] | None:
        """Press; return how far the copies then reach, and where they lie.

        Parameters
        ----------
        poses : Poses
            Copies may overlap a little, and stick out.
        stop : callable
            Asked before each step; the work may end in the middle.
        step : float, mm
            How far a copy moves in the first step at most.
        most : int
            Steps at most, a few more to part what overlaps not counted.
        least : float
            Gain, relative to the first step, that is worth going on for.
        enough : float, mm
            End at the first layout without overlap that reaches no farther.

        Returns
        -------
        tuple of float and Poses, or None
            None if no layout without overlap was found from there.
        """
        best: tuple[float, Poses] | None = None
        here = self._state(poses)
        slow = repairs = 0
        worth = least * step
        for number in range(most + REPAIRS):
            if here.overlap <= self.tolerance and (best is None or here.end < best[0]):
                best = here.end, here.poses
            if stop() or (best is not None and best[0] <= enough):
                break
            penalty = PENALTY
            if repairs or number >= most or slow >= SLOW or step < worth:
                if here.overlap <= self.tolerance or repairs == REPAIRS:
                    break
                repairs += 1
                step = min(step, 4.0 * here.overlap)
                penalty = LAST_PENALTY
            solved = self._solve(here, step, penalty)
            if solved is None:
                step *= SHORTER
                slow += 1
                continue
            change, step, promise = solved
            gain = 0.0
            for _ in range(HALVINGS):
                there = self._state(here.poses.moved(change))
                gain = here.merit(penalty) - there.merit(penalty)
                if gain > 0.0:
                    break
                change = change * SHORTER
                step *= SHORTER
            slow = slow + 1 if gain < worth else 0
            if gain > 0.0:
                if gain > 0.75 * (here.merit(penalty) - promise):
                    step *= 1.5
                here = there
        return best

    def _state(self, poses: Poses) -> _State:
        laid = self.bodies.laid(poses)
        *_, overlap = self.bodies.rows(poses, laid, 0.0)
        mine = laid[self._mine]
        low, high = mine.min(axis=0), mine.max(axis=0)
        out = max(
            *(self.rectangle[k] - float(low[k]) for k in (0, 1)),
            *(float(high[k]) - self.rectangle[2 + k] for k in (0, 1)),
            0.0,
        )
        return _State(poses, laid, float(high[self.axis]), overlap + out)

    def _solve(
        self, here: _State, step: float, penalty: float
    ) -> tuple[FloatArray, float, float] | None:
        """Solve one program; return change (n, 3), its step, and the merit promised."""
        bodies, poses, laid = self.bodies, here.poses, here.laid
        pair, row, pairs, _ = bodies.rows(poses, laid, FAR * step)
        while len(row) > MOST_ROWS and step > here.overlap:
            step *= 0.5
            pair, row, pairs, _ = bodies.rows(poses, laid, FAR * step)
        n = len(bodies)
        # Unknowns: dx, dy and turn of each copy, the end, the overlap of each pair and
        # of each copy with the rectangle. Turns are measured by what they move at most,
        # and everything in steps, so that tolerances mean the same at every scale.
        lever = 1.0 / np.maximum(bodies.reach, 1e-12)
        end, over, out = 3 * n, 3 * n + 1, 3 * n + 1 + pairs
        unknowns = out + n
        matrix = Table()
        i, j, number = pair[:, 0], pair[:, 1], pair[:, 2]
        matrix.add(
            row[:, 0],
            (3 * i, row[:, 1]),
            (3 * i + 1, row[:, 2]),
            (3 * i + 2, -row[:, 3] * lever[i]),
            (3 * j, -row[:, 1]),
            (3 * j + 1, -row[:, 2]),
            (3 * j + 2, -row[:, 4] * lever[j]),
            (over + number, -np.ones(len(row))),
        )
        own = bodies.owner
        turning = (
            (poses.y[own] - laid[:, 1]) * lever[own],
            (laid[:, 0] - poses.x[own]) * lever[own],
        )

        def wall(
            axis: int, sign: float, limit: float, slack: NDArray[Any] | int
        ) -> None:
            """Keep corners on the lower (sign -1) or upper side of a limit."""
            room = sign * (limit - laid[:, axis])
            at = np.flatnonzero(self._mine & (room < 0.5 * FAR * step))
            column = slack[at] if isinstance(slack, np.ndarray) else slack
            matrix.add(
                room[at],
                (3 * own[at] + axis, np.full(len(at), sign)),
                (3 * own[at] + 2, sign * turning[axis][at]),
                (np.broadcast_to(column, len(at)), -np.ones(len(at))),
            )

        for axis in (0, 1):
            wall(axis, -1.0, self.rectangle[axis], out + own)
            wall(axis, 1.0, self.rectangle[2 + axis], out + own)
        wall(self.axis, 1.0, here.end, end)
        cost = np.zeros(unknowns)
        cost[end] = 1.0
        cost[over:] = penalty
        bound = np.zeros((unknowns, 2))
        bound[over:, 1] = np.inf
        bound[end] = (-FAR, np.inf)
        bound[:end] = (-1.0, 1.0)
        bound[:end][np.repeat(~bodies.movable, 3)] = 0.0
        bound[2:end:3][~bodies.turnable] = 0.0
        table, limits = matrix.of(unknowns)
        solved = scipy.optimize.linprog(
            cost, table, limits / step, bounds=bound, method="highs"
        )
        if solved.x is None:
            return None
        change = step * solved.x[:end].reshape(n, 3)
        change[:, 2] *= lever
        return change, step, here.end + step * float(solved.fun)
