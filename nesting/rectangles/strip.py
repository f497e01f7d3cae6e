"""The search for a short strip of rectangles: a goal is set, then a shorter one.

Each attempt descends once along the skyline with some noise and a limit on its nodes
(see `kernels_skyline`); many short attempts find more than few long ones.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from .. import kernels_skyline as kernel
from ..kernels_rectangles import TURNED, UPRIGHT, FloatArray, draw
from .goods import first_random

Stop = Callable[[], bool]

LIMITS = (300, 1000, 1000, 4000, 1000, 300, 1000, 20000)
"""Nodes of one attempt after the other."""

NODE_SHARE = 400_000
"""Types times nodes between two questions whether to stop: some 20 ms."""


@dataclass(frozen=True)
class Laid:
    """One copy: its type, whether turned, and its lower left corner."""

    type: int
    turned: bool
    x: int
    y: int


class StripSearch:
    """The search for a short strip.

    Parameters
    ----------
    sizes : sequence of (int, int)
        Size of each type along x (the open side) and y.
    copies : sequence of int
        How many of each.
    may : sequence of int
        Bits `UPRIGHT` and `TURNED` for each.
    width : int
        Of the strip, along y.
    seed : int

    Attributes
    ----------
    best : list of Laid
        The shortest layout so far; empty before `begin`.
    length : int
        Its length.
    least : int
        Length that no layout can go below.

    Raises
    ------
    ValueError
        If a copy does not fit across the strip.
    """

    def __init__(
        self,
        sizes: Sequence[tuple[int, int]],
        copies: Sequence[int],
        may: Sequence[int],
        width: int,
        seed: int,
    ) -> None:
        self.width = width
        self.best: list[Laid] = []
        self.length = 0
        allowed, longs = [], []
        for (w, h), bits in zip(sizes, may, strict=True):
            ways = [
                bit
                for bit, across in ((UPRIGHT, h), (TURNED, w))
                if bits & bit and across <= width
            ]
            if not ways:
                raise ValueError("a copy does not fit across the strip")
            allowed.append(sum(ways))
            longs.append(min(w if bit == UPRIGHT else h for bit in ways))
        self._sizes = np.array(sizes, dtype=np.int64).reshape(-1, 2)
        self._may = np.array(allowed, dtype=np.int32)
        self._copies = np.array(copies, dtype=np.int32)
        self._area = int(self._sizes.prod(axis=1) @ self._copies)
        self._unit = self._common(allowed)
        least = max(-(-self._area // width), max(longs, default=0))
        self.least = -(-least // self._unit) * self._unit
        self._random = first_random(seed)
        types, n = len(copies), int(self._copies.sum())
        depth, steps = 3 * n + 8, n + 4
        self._sky = kernel.Skyline(
            np.zeros((depth, steps), dtype=np.int64),
            np.zeros((depth, steps), dtype=np.int64),
            np.zeros(depth, dtype=np.int32),
            np.zeros(depth, dtype=np.int64),
            np.zeros((depth, 2 * types + 1), dtype=np.int32),
            np.zeros(depth, dtype=np.int32),
            np.zeros(depth, dtype=np.int32),
            np.zeros(depth, dtype=np.int64),
            np.zeros(depth, dtype=np.int64),
            np.zeros(depth, dtype=np.int32),
            self._copies.copy(),
        )
        self._keys: FloatArray = np.zeros(2 * types + 1)
        self._attempts = 0

    @property
    def proven(self) -> bool:
        """Whether the best layout is as short as any."""
        return bool(self.best) and self.length <= self.least

    def begin(self) -> None:
        """Make a first layout, whatever its length."""
        longest = int(self._sizes.max(axis=1, initial=1) @ self._copies)
        self._attempt(longest, 2**62, 0.0, 10 * len(self._sky.steps))
        if not self.best:
            raise RuntimeError("no first layout was found")

    def run(self, stop: Stop, attempts: int | None = None) -> None:
        """Search until stopped or proven, or for a number of attempts."""
        if not self.best:
            self.begin()
        done = 0
        while not self.proven and not stop() and done != attempts:
            done += 1
            self._attempts += 1
            k = self._attempts
            # By turns the least length, halfway there, and a little less than now.
            room = self.length - self._unit - self.least
            goal = self.least + (0, room // 2, room, room - room // 16)[k % 4]
            goal = max(goal // self._unit * self._unit, self.least)
            noise = 0.3 * 10.0 ** (1.3 * draw(self._random))
            limit = LIMITS[k % len(LIMITS)] + int(self._copies.sum())
            limit = min(limit, max(NODE_SHARE // len(self._copies), 100))
            limit = max(limit, int(1.5 * self._copies.sum()))
            self._attempt(goal, self.width * goal - self._area, noise, limit)

    def _common(self, allowed: Sequence[int]) -> int:
        """Return what every possible length is a multiple of."""
        longs = [
            int(size)
            for (w, h), bits in zip(self._sizes.tolist(), allowed, strict=True)
            for bit, size in ((UPRIGHT, w), (TURNED, h))
            if bits & bit
        ]
        return math.gcd(*longs) or 1

    def _attempt(self, goal: int, waste: int, noise: float, limit: int) -> None:
        status, depth = kernel.descend(
            self._sky,
            self.width,
            goal,
            waste,
            self._sizes,
            self._may,
            noise,
            self._keys,
            self._random,
            limit,
        )
        if status != kernel.FOUND:
            return
        sky = self._sky
        self.best = [
            Laid(int(what) >> 1, bool(what & 1), int(sky.x[d]), int(sky.y[d]))
            for d in range(1, depth + 1)
            if (what := int(sky.kind[d])) >= 0
        ]
        sizes = self._sizes
        self.length = max(q.x + int(sizes[q.type, int(q.turned)]) for q in self.best)
        sky.left[:] = self._copies
