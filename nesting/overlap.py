"""The numeric state of a layout in which copies may still overlap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .kernels import FloatArray, IntArray
from .nofit import RegionStore

BoolArray = NDArray[np.bool_]


@dataclass(eq=False)
class Places:
    """Where every copy lies: variant, room and place, one entry per copy."""

    at: IntArray
    room: IntArray
    x: FloatArray
    y: FloatArray

    def copy(self) -> Places:
        """Return an independent copy."""
        return Places(self.at.copy(), self.room.copy(), self.x.copy(), self.y.copy())

    def assign(self, other: Places) -> None:
        """Take over the other's values in place."""
        self.at[:] = other.at
        self.room[:] = other.room
        self.x[:] = other.x
        self.y[:] = other.y


@dataclass(frozen=True, eq=False)
class Task:
    """What is to be laid out: copies of shapes, and rooms with fixed copies.

    Attributes
    ----------
    store : RegionStore
    first, choices : int32 (n,)
        Variants each copy may take, ``first .. first + choices - 1``.
    movable : bool (n,)
        False for walls, keep-outs and locked copies.
    size : float64 (n,), mm
        Square root of each copy's convex hull area.
    area : float64 (n,), mm²
        Area of each copy as drawn; 0 for what cannot move.
    """

    store: RegionStore
    first: IntArray
    choices: IntArray
    movable: BoolArray
    size: FloatArray
    area: FloatArray
    shape: IntArray = field(repr=False)

    @classmethod
    def of(
        cls, store: RegionStore, shapes: Sequence[int], movable: Sequence[bool]
    ) -> Task:
        """Describe one copy per entry of `shapes`."""
        index = np.array(shapes, dtype=np.int32)
        ranges = [store.variants(s) for s in shapes]
        hull = [float(shape.polygon.convex_hull.area) ** 0.5 for shape in store.shapes]
        area = np.array([shape.area for shape in store.shapes])
        free = np.array(movable, dtype=np.bool_)
        return cls(
            store=store,
            first=np.array([r.start for r in ranges], dtype=np.int32),
            choices=np.array([len(r) for r in ranges], dtype=np.int32),
            movable=free,
            size=np.array(hull)[index],
            area=np.where(free, area[index], 0.0),
            shape=index,
        )

    def __len__(self) -> int:
        """Count of copies, fixed ones included."""
        return len(self.first)
