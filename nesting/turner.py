"""Parting and pressing the copies of a sheet, of which some may turn freely.

No-fit regions are built for pairs of turns, so the search for fewer sheets has a few of
them only. What it leaves nearly without overlap is parted here by linear programs in
which copies turn as well (see `compact`), and the copies of the last sheet are pressed
together the same way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .compact import Bodies, Poses, Press
from .kernels import FloatArray, IntArray
from .overlap import BoolArray, Places, Task
from .strip import Stop

MOST_COPIES = 120
"""Copies in a room, walls included, above which none is turned."""

FIRST_STEP = 0.05
"""First step, relative to the mean size of the copies."""

STILL = 1e-9
"""Turns smaller than this, radians, are none."""


@dataclass(frozen=True, eq=False)
class Turned:
    """Copies at angles of their own.

    Attributes
    ----------
    places : Places
        Where every copy lies.
    angle : dict of int to float
        By copy: the angle, degrees, where it is not its variant's.
    """

    places: Places
    angle: dict[int, float]


class Turner:
    """Parts and presses copies of a task's rooms.

    Parameters
    ----------
    task : Task
    turnable : bool (n, c)
        Whether each copy may turn freely in rooms of each class.
    room_class : int32 (b,)
        Class of each room.
    tolerance : float, mm
        Overlap, added up over all pairs of a room, that does not count.
    """

    def __init__(
        self, task: Task, turnable: BoolArray, room_class: IntArray, tolerance: float
    ) -> None:
        self.task = task
        self.tolerance = tolerance
        self._turnable = turnable
        self._class = room_class
        self._angle = np.radians(np.array(task.store.angles))

    def part(
        self, places: Places, rooms: FloatArray, used: Sequence[int], stop: Stop
    ) -> Turned | None:
        """Part what overlaps in some rooms; None if that is not found.

        Parameters
        ----------
        places : Places
            Left as they are.
        rooms : float64 (b, 4), mm
            Rectangle of each room.
        used : sequence of int
            The rooms to look at.
        stop : callable
            Asked before each program.
        """
        found = Turned(places.copy(), {})
        for room in used:
            rectangle = rooms[room]
            if self._press(found, rectangle, room, 0, stop, np.inf) is None:
                return None
        return found

    def press(
        self, places: Places, rectangle: FloatArray, room: int, axis: int, stop: Stop
    ) -> tuple[float, Turned] | None:
        """Press a room's copies to the lower end of an axis.

        Parameters
        ----------
        places : Places
            Left as they are; some copies may overlap or stick out a little.
        rectangle : float64 (4,), mm
            Of the room; its upper end along `axis` does not bind.
        room : int
        axis : int
            0 to press along x, 1 along y.
        stop : callable
            Asked before each program.

        Returns
        -------
        tuple of float, mm, and Turned, or None
            How far the copies reach along the axis, and where they lie; None if some
            still overlap.
        """
        found = Turned(places.copy(), {})
        free = rectangle.copy()
        free[2 + axis] = np.inf
        end = self._press(found, free, room, axis, stop, -np.inf)
        return None if end is None else (end, found)

    def _press(
        self,
        found: Turned,
        rectangle: FloatArray,
        room: int,
        axis: int,
        stop: Stop,
        enough: float,
    ) -> float | None:
        """Press one room of a layout in place; return how far its copies reach."""
        places, task = found.places, self.task
        copies: IntArray = np.flatnonzero(places.room == room).astype(np.int32)
        movable = task.movable[copies]
        turnable = self._turnable[copies, self._class[room]] & movable
        if not movable.any():
            return 0.0
        if len(copies) > MOST_COPIES:
            return None
        at = places.at[copies]
        shapes = task.store.regions.variant[at, 0].tolist()
        bodies = Bodies(
            {shape: task.store.pieces(shape) for shape in {*shapes}},
            shapes,
            turnable.tolist(),
            movable.tolist(),
        )
        x0, y0, x1, y1 = rectangle.tolist()
        press = Press(bodies, (x0, y0, x1, y1), axis, self.tolerance)
        poses = Poses(places.x[copies], places.y[copies], self._angle[at])
        step = FIRST_STEP * float(task.size[copies][movable].mean())
        pressed = press.run(poses, stop, step, enough=enough)
        if pressed is None:
            return None
        end, there = pressed
        places.x[copies], places.y[copies] = there.x, there.y
        change = there.turn - self._angle[at]
        for k in np.flatnonzero(np.abs(change) > STILL).tolist():
            angle = task.store.angles[at[k]] + float(np.degrees(change[k]))
            found.angle[int(copies[k])] = angle % 360.0
        return end
