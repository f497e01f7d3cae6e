"""Shortest strip: explore with larger shrinks, then compress with small ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from . import kernels_separate as kernel
from .kernels import FloatArray
from .overlap import Places, Task
from .pool import Pool
from .separate import Separation, Settings
from .tighten import Tightener

Stop = Callable[[], bool]

SHRINK = 0.01
"""How much shorter the strip gets at a time while exploring."""

MOST_SCATTERED = 3
"""Copies put anywhere at a time."""

POOL = 12
"""Least overlapping layouts kept to go on from."""

GRID_SLACK = 1e-7
"""Lengths on a grid are longer by this part of the width, for rounding."""


@dataclass(frozen=True, eq=False)
class StripLayout:
    """A layout without overlap and the length it needs."""

    length: float
    places: Places


def random_places(task: Task, width: float, length: float, seed: int) -> Places:
    """Drop every copy somewhere in the strip, at a variant that fits across it."""
    rng = np.random.default_rng(seed)
    n = len(task)
    places = Places(
        np.zeros(n, dtype=np.int32),
        np.zeros(n, dtype=np.int32),
        np.zeros(n),
        np.zeros(n),
    )
    box = task.store.regions.box
    for i in range(n):
        fits = [v for v in task.variants(i).tolist() if box[v, 3] - box[v, 1] <= width]
        v = fits[int(rng.integers(len(fits)))]
        places.at[i] = v
        places.x[i] = rng.uniform(-box[v, 0], max(length - box[v, 2], -box[v, 0]))
        places.y[i] = rng.uniform(-box[v, 1], width - box[v, 3])
    return places


class StripSearch:
    """The search for a short strip.

    Parameters
    ----------
    task : Task
        All copies movable, in one room.
    width : float, mm
    seed : int
    settings : Settings
    """

    def __init__(self, task: Task, width: float, seed: int, settings: Settings) -> None:
        self.task = task
        self.width = width
        self.seed = seed
        self.settings = settings
        self.area = float(task.area.sum())
        box = task.store.regions.box
        span = np.where(box[:, 3] - box[:, 1] <= width, box[:, 2] - box[:, 0], np.inf)
        least = max(float(span[task.variants(i)].min()) for i in range(len(task)))
        if least == np.inf:
            raise ValueError("a part is wider than the strip at every allowed angle")
        self._least = least
        self._every = np.arange(len(task), dtype=np.int32)
        self.bound = max(self.area / width, least)
        length = max(self.area / width / 0.65, least)
        places = random_places(task, width, length, seed)
        self.separation = Separation(
            task, places, self._rooms(length), settings, seed + 1
        )
        self._set_length(length)
        self.incumbent: StripLayout | None = None
        self.history: list[StripLayout] = []
        self._tightener = Tightener(task, settings.tolerance)

    def _rooms(self, length: float) -> FloatArray:
        return np.array([[0.0, 0.0, length, self.width]])

    @property
    def least_length(self) -> float:
        """Length of the best layout so far, mm."""
        assert self.incumbent is not None, "begin first"
        return self.incumbent.length

    # ------------------------------------------------------------ moves

    def _set_length(self, length: float) -> None:
        """Change the length; turn what is too long for it, pull in what sticks out."""
        self.length = max(length, self._least)
        room = self.separation.rooms[0]
        room[2] = self.length
        p = self.separation.places
        self.task.turn_to_fit(p, self._every, room)
        box = self.task.store.regions.box
        p.x[:] = np.maximum(np.minimum(p.x, room[2] - box[p.at, 2]), -box[p.at, 0])
        p.y[:] = np.maximum(np.minimum(p.y, room[3] - box[p.at, 3]), -box[p.at, 1])

    def _accept(self) -> None:
        p = self.separation.places
        box = self.task.store.regions.box
        used = float((p.x + box[p.at, 2]).max())
        self.incumbent = StripLayout(min(used, self.length), p.copy())
        self.history.append(self.incumbent)

    def _exchange(self) -> None:
        """Exchange the places of two copies of unlike, preferably large, shape."""
        p = self.separation.places
        n = len(self.task)
        rank = np.argsort(-self.task.size, kind="stable")
        shape = self.task.store.regions.variant[p.at, 0]
        for _ in range(20):
            i = rank[int(n * self.separation.random() ** 2)]
            j = rank[int(n * self.separation.random() ** 2)]
            if shape[i] != shape[j]:
                break
        box = self.task.store.regions.box
        for a, b in ((p.x, 0), (p.y, 1)):
            ci = a[i] + 0.5 * (box[p.at[i], b] + box[p.at[i], b + 2])
            cj = a[j] + 0.5 * (box[p.at[j], b] + box[p.at[j], b + 2])
            a[i] += cj - ci
            a[j] += ci - cj
        for k in (i, j):
            v = p.at[k]
            p.x[k] = max(min(p.x[k], self.length - box[v, 2]), -box[v, 0])
            p.y[k] = max(min(p.y[k], self.width - box[v, 3]), -box[v, 1])

    def _shorter(self, shrink: float) -> float:
        """Length to try next."""
        assert self.incumbent is not None
        length, grid = self.incumbent.length, self.settings.grid
        target = max(length * (1.0 - shrink), self.bound)
        if grid > 0.0:  # the next multiple of the grid that is shorter
            steps = min(np.ceil(target / grid - 1e-4), np.floor(length / grid - 0.5))
            target = float(steps) * grid + GRID_SLACK * self.width
        return target

    def _scatter(self) -> None:
        """Put a few copies anywhere."""
        s, p = self.separation, self.separation.places
        box = self.task.store.regions.box
        for _ in range(1 + int(MOST_SCATTERED * s.random())):
            k = int(len(self.task) * s.random())
            x0, y0, x1, y1 = box[p.at[k]].tolist()
            p.x[k] = -x0 + s.random() * max(self.length - x1 + x0, 0.0)
            p.y[k] = -y0 + s.random() * max(self.width - y1 + y0, 0.0)

    def _cut_out(self) -> None:
        """Begin from the best layout, a band of it cut out somewhere."""
        assert self.incumbent is not None
        p = self.separation.places
        p.assign(self.incumbent.places)
        cut = self.length * self.separation.random()
        p.x[p.x > cut] -= self.incumbent.length - self.length
        self._set_length(self.length)

    def _disturb(self, pool: Pool) -> None:
        """Change one of the least overlapping layouts, or the best one, at random."""
        s = self.separation
        if s.settings.grid == 0.0 and s.random() < self.settings.cuts:
            self._cut_out()
            return
        s.places.assign(pool.pick(s.random()))
        if s.settings.grid > 0.0 or s.random() >= self.settings.scatters:
            self._exchange()
        else:
            self._scatter()

    def _tighten(self, places: Places, stop: Stop) -> bool:
        """Tighten a layout; take it over if it is the best one so far."""
        assert self.incumbent is not None
        s = self.separation
        if s.settings.grid > 0.0:
            return False
        worse = 1.01 * self.incumbent.length
        found = self._tightener.run(places, s.rooms[0], worse=worse, stop=stop)
        if found is None or found[0] >= self.incumbent.length * (1.0 - 1e-7):
            return False
        before, length = s.places.copy(), self.length
        if s.accepts(found[1]):
            self._set_length(max(found[0] * (1.0 + 1e-9), self.bound))
            self._accept()
            return True
        s.places.assign(before)
        self._set_length(length)
        return False

    # ------------------------------------------------------------ phases

    def begin(self, stop: Stop) -> bool:
        """Find a first layout without overlap, giving way as often as needed."""
        while not stop():
            self.separation.restart()
            status = self.separation.run(stop)
            if status == kernel.SEPARATED:
                self._accept()
                return True
            if status == kernel.STUCK:
                self._set_length(self.length * 1.04)
        return False

    def explore(self, stop: Stop) -> None:
        """Shrink boldly; on failure disturb one of the least overlapping layouts."""
        assert self.incumbent is not None
        pool = Pool(POOL)
        s = self.separation
        s.places.assign(self.incumbent.places)
        self._tighten(s.places, stop)
        better = True
        while not stop() and self.incumbent.length > self.bound * (1 + 1e-6):
            if better:
                pool.clear()
                s.places.assign(self.incumbent.places)
                self._set_length(self._shorter(SHRINK))
            s.snap()
            s.restart()
            status = s.run(stop)
            better = status == kernel.SEPARATED
            if better:
                self._accept()
                self._tighten(s.places, stop)
            elif status == kernel.STUCK:
                pool.add(s.least, s.best)
                near = self._tightener.is_near(s.least)
                better = near and self._tighten(s.best, stop)
                if not better:
                    self._disturb(pool)
        s.places.assign(self.incumbent.places)

    def compress(self, stop: Stop, start: float = 5e-4, end: float = 1e-5) -> None:
        """Shrink a little at a time from the best layout."""
        assert self.incumbent is not None
        s = self.separation
        step = start
        failed = 0
        while not stop() and self.incumbent.length > self.bound * (1 + 1e-7):
            s.places.assign(self.incumbent.places)
            length = self.incumbent.length
            cut = length * s.random()
            target = max(length * (1.0 - step), self.bound)
            if failed % 2 == 0 and length < self.bound * 1.002:
                target = self.bound  # a jigsaw: only the whole way will do
            p = s.places
            right = p.x > cut
            p.x[right] -= length - target
            self._set_length(target)
            s.restart()
            status = s.run(stop)
            if status == kernel.SEPARATED:
                self._accept()
                self._tighten(s.places, stop)
                failed = 0
            elif status == kernel.STUCK:
                failed += 1
                if failed >= 3:
                    step = max(step * 0.6, end)
                    failed = 0
        s.places.assign(self.incumbent.places)
