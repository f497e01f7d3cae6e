"""Fewest sheets: close the emptiest one, spread its copies, separate; again and again.

A closed sheet's copies are dropped onto the others, where they overlap; separation
across all open sheets then looks for a place for each, on any of them. When it is
stuck, copies change places, within and between sheets, and it starts anew from one of
the least overlapping layouts seen.
"""

from __future__ import annotations

import numpy as np

from . import kernels_separate as kernel
from .kernels import FloatArray, IntArray
from .overlap import Places, Task
from .pool import Pool
from .separate import Separation, Settings
from .strip import MOST_SCATTERED, Stop
from .tighten import Tightener
from .turner import Turned, Turner

POOL = 10
"""Least overlapping layouts kept to go on from."""

CHANCE = 0.3
"""Share of all other layouts that are pressed where copies turn freely."""

WORTH = 1e-4
"""Gain, relative to the room, that is worth beginning anew from."""

MOST_IN_VAIN = 40
"""Tries to press a room by the smallest step, in vain, after which to end."""


class SheetSearch:
    """The search for a layout on as few rooms as can be.

    Parameters
    ----------
    task : Task
        Movable copies and the fixed ones of every room.
    rooms : float64 (b, 4), mm
        Rectangle of each room; all are open at the start.
    places : Places
        Fixed copies at their places; movable ones anywhere, overlapping or not.
    settings : Settings
    seed : int
    least : int
        Number of rooms that no layout can go below.
    room_class : int32 (b,), optional
        Class of each room in the task's menus; all alike by default.

    Attributes
    ----------
    incumbent : Places or None
        The best layout without overlap so far.
    used : list of int
        The rooms it lies on.
    turner : Turner or None
        Parts and presses where copies may turn freely; none by default.
    turned : Turned or None
        The best layout without overlap in which some do, where that is better than
        the incumbent.
    """

    def __init__(
        self,
        task: Task,
        rooms: FloatArray,
        places: Places,
        settings: Settings,
        seed: int,
        least: int = 1,
        room_class: IntArray | None = None,
    ) -> None:
        self.task = task
        self.least = least
        self.separation = Separation(task, places, rooms, settings, seed, room_class)
        self.incumbent: Places | None = None
        self.used = list(range(len(rooms)))
        self._free = np.flatnonzero(task.movable).astype(np.int32)
        self._tightener = Tightener(task, settings.tolerance)
        self.turner: Turner | None = None
        self.turned: Turned | None = None

    def run(self, stop: Stop) -> bool:
        """Search until stopped or the bound is met; return whether it was met."""
        s = self.separation
        while not stop():
            if not self._separated(stop):
                return False
            self.incumbent = s.places.copy()
            room = s.places.room[self._free]
            self.used = sorted({int(b) for b in room})
            if len(self.used) <= self.least:
                return True
            self._close(self._emptiest())
        return False

    def press(
        self,
        stop: Stop,
        room: int,
        axis: int = 0,
        first: float = 0.05,
        least: float = 2e-3,
    ) -> float:
        """Press the copies of one room towards its lower end along an axis.

        Parameters
        ----------
        stop : callable
            Ends the work; by itself it ends after so many tries in vain.
        room : int
        axis : int
            0 to press along x, 1 along y.
        first, least : float
            The first step and the smallest one, relative to the room; with that copies
            are put elsewhere in between.

        Returns
        -------
        float, mm
            Upper end of what the room's movable copies take up along the axis.
        """
        if self.incumbent is None:
            raise ValueError("there is no layout to press yet")
        s, box = self.separation, self.task.store.regions.box
        open_rooms, s.open_rooms = s.open_rooms, np.array([room], dtype=np.int32)
        whole = s.rooms[room].copy()
        low, full = float(whole[axis]), float(whole[2 + axis])
        here = self.task.movable & (self.incumbent.room == room)
        mine: IntArray = np.flatnonzero(here).astype(np.int32)
        best = self._end(self.incumbent, mine, axis) if len(mine) else 0.0
        step, vain, pool, p = max(first, least), 0, Pool(POOL), s.places
        if len(mine):
            start = self.incumbent.copy()
            best = self._pressed_from(start, whole, room, axis, best, stop)
        p.assign(self.incumbent)
        while len(mine) and not stop():
            target = best - step * (full - low)
            shorter = whole.copy()
            shorter[2 + axis] = target
            if not self.task.turn_to_fit(p, mine, shorter, int(s.room_class[room])):
                if step <= least:
                    break
                step = max(0.5 * step, least)
                continue
            for value, a in ((p.x, 0), (p.y, 1)):
                high = shorter[2 + a] - box[p.at[mine], 2 + a]
                least_place = shorter[a] - box[p.at[mine], a]
                value[mine] = np.maximum(np.minimum(value[mine], high), least_place)
            s.rooms[room, 2 + axis] = target
            s.restart()
            status = s.run(stop)
            if status == kernel.SEPARATED:
                start = p.copy()
                self.incumbent, self.turned = start, None
                best, better = self._end(p, mine, axis), True
            elif status == kernel.STUCK:
                start, better = s.best.copy(), False
                pool.add(s.least, start)
            else:
                break
            end = best
            turns = self.turner is not None and s.random() < CHANCE
            if better or turns or self._tightener.is_near(s.least):
                end = self._pressed_from(start, whole, room, axis, best, stop)
            if better or end < best - WORTH * (full - low):
                best, vain = min(best, end), 0
                pool.clear()
                p.assign(self.incumbent)
            elif step > least:
                step = max(0.5 * step, least)
                pool.clear()
                p.assign(self.incumbent)
            elif (vain := vain + 1) > MOST_IN_VAIN:
                break
            else:
                p.assign(pool.pick(s.random()))
                if s.random() < 0.5:
                    self._exchange(mine)
                else:
                    self._scatter(mine, room)
        s.rooms[room, 2 + axis] = full
        s.places.assign(self.incumbent)
        s.open_rooms = open_rooms
        return best

    def _pressed_from(
        self,
        start: Places,
        rectangle: FloatArray,
        room: int,
        axis: int,
        best: float,
        stop: Stop,
    ) -> float:
        """Press by linear programs; take over what reaches less far than `best`.

        Returns
        -------
        float, mm
            How far it reaches; `best` if that is no better.
        """
        found = self._tightener.run(start, rectangle, room, axis, stop=stop)
        if found is not None:
            start = found[1]
            if found[0] < best and self.separation.accepts(found[1]):
                best, self.incumbent = found
                self.turned = None
        if self.turner is not None and not stop():
            turned = self.turner.press(start, rectangle, room, axis, stop)
            if turned is not None and turned[0] < best:
                best, self.turned = turned
        return best

    def _end(self, places: Places, copies: IntArray, axis: int) -> float:
        value = (places.x, places.y)[axis]
        box = self.task.store.regions.box
        return float((value[copies] + box[places.at[copies], 2 + axis]).max())

    # ------------------------------------------------------------ steps

    def _separated(self, stop: Stop) -> bool:
        """Separate the present places, disturbing them as often as needed."""
        s = self.separation
        pool = Pool(POOL)
        while not stop():
            s.restart()
            status = s.run(stop)
            if status == kernel.SEPARATED:
                return True
            if status == kernel.STUCK:
                pool.add(s.least, s.best)
                if self._parted(stop):
                    return True
                s.places.assign(pool.pick(s.random()))
                for _ in range(1 + int(3 * s.random() ** 2)):
                    self._exchange()
        return False

    def _parted(self, stop: Stop) -> bool:
        """Part what overlaps in the best layout by moving all copies of a room.

        Where that takes turns of their own, `turned` is the layout.
        """
        s = self.separation
        if not self._tightener.is_near(s.least):
            return False
        places = s.best
        used = sorted({int(b) for b in places.room[self._free]})
        for room in used:
            found = self._tightener.run(places, s.rooms[room], room, None, stop=stop)
            if found is None:
                break
            places = found[1]
        else:
            return s.accepts(places)
        if self.turner is not None and not stop():
            self.turned = self.turner.part(s.best, s.rooms, used, stop)
        return self.turned is not None

    def _scatter(self, copies: IntArray, room: int) -> None:
        """Put a few copies anywhere in a room."""
        random = self.separation.random
        for _ in range(1 + int(MOST_SCATTERED * random())):
            self._drop(int(copies[int(len(copies) * random())]), room)

    def _fill(self) -> FloatArray:
        """Area of the movable copies in each room."""
        p = self.separation.places
        count = len(self.separation.rooms)
        fill = np.bincount(p.room, weights=self.task.area, minlength=count)
        return fill.astype(np.float64)

    def _emptiest(self) -> int:
        fill = self._fill()
        return min(self.used, key=lambda b: (float(fill[b]), b))

    def _close(self, closed: int) -> None:
        """Drop the copies of a room onto the open ones, where most is left."""
        s, p = self.separation, self.separation.places
        open_rooms = [b for b in self.used if b != closed]
        s.open_rooms = np.array(open_rooms, dtype=np.int32)
        rect = s.rooms
        left = (rect[:, 2] - rect[:, 0]) * (rect[:, 3] - rect[:, 1]) - self._fill()
        moving = [int(i) for i in self._free if p.room[i] == closed]
        moving.sort(key=lambda i: (-float(self.task.area[i]), i))
        for i in moving:
            fitting = [b for b in open_rooms if self._variants_in(i, b)]
            if not fitting:
                raise ValueError("a copy fits on none of the open sheets")
            b = max(fitting, key=lambda b: (float(left[b]), -b))
            left[b] -= self.task.area[i]
            self._drop(i, b)

    def _variants_in(self, i: int, b: int) -> list[int]:
        box, rect = self.task.store.regions.box, self.separation.rooms[b]
        allowed = self.task.variants(i, int(self.separation.room_class[b]))
        return [
            v
            for v in allowed.tolist()
            if box[v, 2] - box[v, 0] <= rect[2] - rect[0]
            and box[v, 3] - box[v, 1] <= rect[3] - rect[1]
        ]

    def _drop(self, i: int, b: int) -> None:
        """Put a copy somewhere in the room, at a variant that fits."""
        s, p = self.separation, self.separation.places
        fits = self._variants_in(i, b)
        v = fits[int(s.random() * len(fits))]
        box, rect = self.task.store.regions.box[v], s.rooms[b]
        p.at[i], p.room[i] = v, b
        p.x[i] = rect[0] - box[0] + s.random() * (rect[2] - rect[0] - box[2] + box[0])
        p.y[i] = rect[1] - box[1] + s.random() * (rect[3] - rect[1] - box[3] + box[1])

    def _exchange(self, among: IntArray | None = None) -> None:
        """Exchange two copies that are near in size, preferably large ones."""
        s, p, task = self.separation, self.separation.places, self.task
        free = self._free if among is None else among
        rank = free[np.argsort(-task.size[free], kind="stable")]
        n = len(rank)
        if n < 2:
            return
        a = int(n * s.random() ** 1.5)
        reach = max(3, n // 4)
        b = min(max(a + 1 + int(reach * s.random()), 0), n - 1)
        i, j = int(rank[a]), int(rank[b])
        if i == j:
            return
        box = task.store.regions.box
        centre = [
            (
                int(p.room[k]),
                p.x[k] + 0.5 * (box[p.at[k], 0] + box[p.at[k], 2]),
                p.y[k] + 0.5 * (box[p.at[k], 1] + box[p.at[k], 3]),
            )
            for k in (i, j)
        ]
        for k, (b_new, cx, cy) in ((i, centre[1]), (j, centre[0])):
            fits = self._variants_in(k, b_new)
            if not fits:
                continue
            v = fits[int(s.random() * len(fits))]
            rect = s.rooms[b_new]
            p.at[k], p.room[k] = v, b_new
            x = cx - 0.5 * (box[v, 0] + box[v, 2])
            y = cy - 0.5 * (box[v, 1] + box[v, 3])
            p.x[k] = min(max(x, rect[0] - box[v, 0]), rect[2] - box[v, 2])
            p.y[k] = min(max(y, rect[1] - box[v, 1]), rect[3] - box[v, 3])


def scattered(task: Task, rooms: FloatArray, share: FloatArray, seed: int) -> Places:
    """Drop every movable copy into some room, largest first, where most area is left.

    Parameters
    ----------
    share : float64 (b,), mm²
        Usable area of each room.

    Returns
    -------
    Places
        Fixed copies are left at the first room and (0, 0) for the caller to set.
    """
    n = len(task)
    places = Places(
        task.menus[task.menu[:, 0, 0]],
        np.zeros(n, dtype=np.int32),
        np.zeros(n),
        np.zeros(n),
    )
    search = SheetSearch(task, rooms, places, Settings(), seed)
    left = share.astype(np.float64)
    order = sorted(np.flatnonzero(task.movable), key=lambda i: (-task.area[i], i))
    for i in order:
        fitting = [b for b in range(len(rooms)) if search._variants_in(int(i), b)]
        if not fitting:
            raise ValueError("a copy fits on none of the sheets")
        b = max(fitting, key=lambda b: (float(left[b]), -b))
        left[b] -= task.area[i]
        search._drop(int(i), b)
    return search.separation.places


def shelved(
    task: Task, rectangle: tuple[float, float, float, float]
) -> tuple[Places, int]:
    """Lay movable copies on shelves by their bounding boxes, highest first.

    Poor but immediate, and never with an overlap: a start for like rooms without walls.

    Parameters
    ----------
    rectangle : tuple of four floats, mm
        Of every room.

    Returns
    -------
    places : Places
    rooms : int
        How many rooms that takes.

    Raises
    ------
    ValueError
        If a copy fits into no room.
    """
    x0, y0, x1, y1 = rectangle
    box = task.store.regions.box
    n = len(task)
    places = Places(
        task.menus[task.menu[:, 0, 0]],
        np.zeros(n, dtype=np.int32),
        np.zeros(n),
        np.zeros(n),
    )
    for i in range(n):
        fits = [
            v
            for v in task.variants(i).tolist()
            if box[v, 2] - box[v, 0] <= x1 - x0 and box[v, 3] - box[v, 1] <= y1 - y0
        ]
        if not fits:
            raise ValueError("a copy fits on none of the sheets")
        places.at[i] = min(fits, key=lambda v: (float(box[v, 3] - box[v, 1]), v))
    high = box[places.at, 3] - box[places.at, 1]
    shelves: list[list[float]] = []  # room, bottom, height, where the next copy begins
    top: list[float] = []  # where the next shelf of a room begins
    for i in sorted(range(n), key=lambda i: (-float(high[i]), i)):
        v = int(places.at[i])
        width = float(box[v, 2] - box[v, 0])
        shelf = next((q for q in shelves if q[3] + width <= x1), None)
        if shelf is None:
            room = next((b for b, y in enumerate(top) if y + high[i] <= y1), len(top))
            if room == len(top):
                top.append(y0)
            shelf = [float(room), top[room], float(high[i]), x0]
            top[room] += float(high[i])
            shelves.append(shelf)
        places.room[i] = int(shelf[0])
        places.x[i] = shelf[3] - box[v, 0]
        places.y[i] = shelf[1] - box[v, 1]
        shelf[3] += width
    return places, len(top)
