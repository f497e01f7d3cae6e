"""Strips of copies that may turn freely: search at some turns, turn while pressing.

No-fit regions are built for pairs of turns, so the search by separation has a few of
them only. A layout that it leaves nearly without overlap is pressed together by linear
programs in which copies turn as well (see `compact`). The search then aims at a length
below that of the best pressed layout: it need not part all copies itself, only come so
near that pressing does.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from . import kernels_separate as kernel
from .compact import Bodies, Poses, Press
from .overlap import Places, Task
from .pool import Pool
from .separate import Settings
from .strip import POOL, Stop, StripLayout, StripSearch

FIRST_STEP = 0.01
"""First step of a press, relative to the strip's width."""

NEAR = 1.5
"""Layouts are pressed if they overlap at most so many times as the least of the pool,
..."""

CHANCE = 0.3
"""... and this share of the others."""


class TurningSearch(StripSearch):
    """The search for a short strip whose copies may lie at any angle.

    Parameters
    ----------
    task : Task
        All copies movable, in one room; its variants are where the search begins.
    width : float, mm
    seed : int
    settings : Settings
    turnable : sequence of bool
        Whether each copy may turn freely; the others keep to their variants.

    Attributes
    ----------
    pressed : list of (float, Poses)
        Lengths and layouts without overlap, each better than the one before.
    """

    def __init__(
        self,
        task: Task,
        width: float,
        seed: int,
        settings: Settings,
        turnable: Sequence[bool],
    ) -> None:
        super().__init__(task, width, seed, settings)
        first = [int(task.variants(i)[0]) for i in range(len(task))]
        shapes = [task.store.shape_of(variant) for variant in first]
        pieces = {shape: task.store.pieces(shape) for shape in {*shapes}}
        self.pressed: list[tuple[float, Poses]] = []
        self._press = Press(
            Bodies(pieces, shapes, turnable),
            (0.0, 0.0, np.inf, width),
            0,
            settings.tolerance,
        )
        self._angle = np.radians(np.array(task.store.angles))

    def turn(self, stop: Stop) -> None:
        """Search until stopped; `begin` has found a first layout."""
        assert self.incumbent is not None, "begin first"
        s = self.separation
        pool = Pool(POOL)
        s.places.assign(self.incumbent.places)
        self._press_from(s.places, stop)
        self._set_length(self._aim())
        while not stop() and self._aim() > self.bound * (1.0 + 1e-7):
            s.restart()
            status = s.run(stop)
            if status == kernel.SEPARATED:
                self._accept()
                self._press_from(s.places, stop)
                pool.clear()
                self._set_length(self._aim())
            elif status == kernel.STUCK:
                near = s.least < NEAR * pool.least
                better = False
                if near or s.random() < CHANCE:
                    better = self._press_from(s.best, stop)
                if better:
                    pool.clear()
                pool.add(s.least, s.best)
                s.places.assign(pool.pick(s.random()))
                self._exchange()
                self._set_length(self._aim())

    @property
    def least_length(self) -> float:
        """Length of the best layout so far, mm."""
        assert self.incumbent is not None, "begin first"
        pressed = self.pressed[-1][0] if self.pressed else np.inf
        return min(self.incumbent.length, pressed)

    def _aim(self) -> float:
        shrink = min(max(0.5 / len(self.task), 0.0025), 0.01)
        return max(self.least_length * (1.0 - shrink), self.bound)

    def _press_from(self, places: Places, stop: Stop) -> bool:
        """Press a layout; return whether that gave the best one so far."""
        poses = Poses(places.x.copy(), places.y.copy(), self._angle[places.at])
        found = self._press.run(poses, stop, FIRST_STEP * self.width)
        if found is None or found[0] >= self.least_length:
            return False
        self.pressed.append(found)
        return True

    def layouts(self) -> list[StripLayout | tuple[float, Poses]]:
        """All layouts found, the shortest last."""
        found: list[StripLayout | tuple[float, Poses]] = [*self.history, *self.pressed]
        return sorted(
            found, key=lambda e: -(e.length if isinstance(e, StripLayout) else e[0])
        )
