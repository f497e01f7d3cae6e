"""Separation of overlapping copies by guided local search, in short slices.

See `kernels_separate` for the method and its references.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from . import kernels_separate as kernel
from .kernels import FloatArray, IntArray
from .overlap import Places, Task
from .prepare import drawing_place

SLICE = 20_000
"""Evaluations per kernel call: some ten milliseconds, so that a stop is heard."""


MOST_HEAVY = 2_000_000
"""Pairs whose weights can be other than 1 at the same time."""


@dataclass(frozen=True)
class Settings:
    """Constants of the search; lengths are relative to a copy's size.

    Attributes
    ----------
    uniform, focused : int
        Samples over the room per variant, and around the copy's own place.
    kept : int
        Best samples that are descended from.
    descent : float
        Step at which a descent ends.
    patience : int
        Passes without progress after which a separation is stuck.
    contact : float
        Depth added to any overlap.
    tolerance : float, mm
        Depth that does not count.
    gain, decay : float
        How fast weights of stuck pairs rise and others fall, per pass.
    turns, rooms : int
        Variants and rooms tried per move at most.
    pushes : int
        Pushes out of the costliest overlaps after a descent. They lead exactly onto
        contacts, which jigsaws need and all others are the worse for.
    grid : float, mm
        Try places on this grid of the drawings only; 0 for all places.
    cuts : float
        Share of the stuck searches for a strip that begin again from the best layout,
        with a band cut out.
    scatters : float
        Share of the others in which a few copies are put anywhere; in the rest, two
        change places.
    """

    uniform: int = 30
    focused: int = 15
    kept: int = 1
    descent: float = 1e-4
    patience: int = 100
    contact: float = 0.02
    tolerance: float = 1e-6
    gain: float = 0.1
    decay: float = 0.95
    turns: int = 16
    rooms: int = 3
    pushes: int = 0
    grid: float = 0.0
    cuts: float = 0.25
    scatters: float = 0.5

    def array(self) -> FloatArray:
        """Pack for the kernel."""
        return np.array(
            [
                self.uniform,
                self.focused,
                self.kept,
                self.descent,
                self.patience,
                self.contact,
                self.tolerance,
                self.gain,
                self.decay,
                self.turns,
                self.rooms,
                self.pushes,
                self.grid,
            ],
            dtype=np.float64,
        )


def drawing_offsets(task: Task) -> FloatArray:
    """Offsets (m, 2) from a variant's place to its drawing's own translation."""
    store = task.store
    rows = [
        drawing_place(store.shapes[shape], angle, 0.0, 0.0)
        for shape, angle in zip(
            store.regions.variant[:, 0].tolist(), store.angles, strict=True
        )
    ]
    return np.array(rows, dtype=np.float64).reshape(-1, 2)


class Separation:
    """A separation that can be run in slices and restarted from other layouts.

    Parameters
    ----------
    task : Task
    places : Places
        Taken over and changed in place.
    rooms : float64 (b, 4), mm
        Rectangle of each room.
    settings : Settings
    seed : int
    room_class : int32 (b,), optional
        Class of each room in the task's menus; all alike by default.
    """

    def __init__(
        self,
        task: Task,
        places: Places,
        rooms: FloatArray,
        settings: Settings,
        seed: int,
        room_class: IntArray | None = None,
    ) -> None:
        n = len(task)
        self.task = task
        self.places = places
        self.rooms = rooms.copy()
        self.room_class = (
            np.zeros(len(rooms), dtype=np.int32) if room_class is None else room_class
        )
        self.open_rooms = np.arange(len(rooms), dtype=np.int32)
        self.settings = settings
        self.best = places.copy()
        self._least = np.array([np.inf])
        self._weight = np.ones((n, n), dtype=np.float32)
        pairs = min(n * (n - 1) // 2, MOST_HEAVY)
        self._heavy = np.zeros((max(pairs, 1), 2), dtype=np.int32)
        self._heavies = np.zeros(1, dtype=np.int32)
        self._member = np.zeros((len(rooms), n), dtype=np.int32)
        self._members = np.zeros(len(rooms), dtype=np.int32)
        self._member[0] = np.arange(n)
        self._members[0] = n
        self._order = np.zeros(n, dtype=np.int32)
        self._offset = drawing_offsets(task)
        self.counters = np.zeros(kernel.COUNTERS, dtype=np.int64)
        self._random = np.array([seed], dtype=np.uint64)
        kernel.draw(self._random)

    @property
    def least(self) -> float:
        """Least overlap since the last `restart`."""
        return float(self._least[0])

    def random(self) -> float:
        """Next number of the search's own random sequence."""
        return float(kernel.draw(self._random))

    def _all_variants(self, copy: int) -> list[int]:
        """Variants of a copy in rooms of any class, and the one it is at."""
        classes = range(self.task.menu.shape[1])
        found = {int(v) for c in classes for v in self.task.variants(copy, c)}
        return sorted(found | {int(self.places.at[copy])})

    def snap(self) -> None:
        """Move every copy to the nearest place on the grid, if there is one."""
        grid, p = self.settings.grid, self.places
        if grid > 0.0:
            for values, axis in ((p.x, 0), (p.y, 1)):
                shift = self._offset[p.at, axis]
                values[:] = np.floor((values + shift) / grid + 0.5) * grid - shift

    def restart(self, *, keep_weights: bool = False) -> None:
        """Begin anew from the present places."""
        if not keep_weights:
            self._weight.fill(1.0)
            self._heavies[0] = 0
        self._least[0] = np.inf
        self.counters[kernel.STALL] = 0
        self.counters[kernel.CURSOR] = 0
        self.counters[kernel.QUEUED] = 0

    def tune(self, **changes: float) -> None:
        """Change settings."""
        self.settings = replace(self.settings, **changes)  # type: ignore[arg-type]

    def run(self, stop: Callable[[], bool], evaluations: int | None = None) -> int:
        """Run until separated, stuck, stopped, or out of evaluations; return status."""
        end = None
        if evaluations is not None:
            end = int(self.counters[kernel.EVALUATIONS]) + evaluations
        while not stop():
            done = int(self.counters[kernel.EVALUATIONS])
            if end is not None and done >= end:
                break
            # Slices end at the same counts whether or not a region was missing.
            status = self._slice(SLICE - done % SLICE)
            if status == kernel.MISSING:
                if not self._build_missing(stop):
                    break
            elif status != kernel.RUNNING:
                return status
        return kernel.RUNNING

    def accepts(self, places: Places) -> bool:
        """Begin anew from other places; return whether nothing overlaps there."""
        self.places.assign(places)
        self.restart()
        while (status := self._slice(0)) == kernel.MISSING:
            self._build_missing(lambda: False)
        return status == kernel.SEPARATED

    def _slice(self, budget: int) -> int:
        """Go on for so many evaluations; 0 only looks whether something overlaps."""
        task, p = self.task, self.places
        status = kernel.separate(
            task.store.regions,
            self.rooms,
            self.open_rooms,
            self.room_class,
            task.menu,
            task.menus,
            p.at,
            p.room,
            task.movable,
            p.x,
            p.y,
            task.size,
            self._weight,
            self._heavy,
            self._heavies,
            self._member,
            self._members,
            self._order,
            self.best.at,
            self.best.room,
            self.best.x,
            self.best.y,
            self._least,
            self.counters,
            self._random,
            self.settings.array(),
            self._offset,
            budget,
        )
        return int(status)

    def _build_missing(self, stop: Callable[[], bool]) -> bool:
        """Build the regions that the kernel asked for; return whether all are there."""
        mine = self._all_variants(int(self.counters[kernel.WANTED]))
        others = np.unique(self.places.at).tolist()
        # Both ways round: they differ between two turns of one shape.
        pairs = [(u, v) for u in others for v in mine]
        pairs += [(v, u) for u, v in pairs]
        return self.task.store.ensure(pairs, stop)
