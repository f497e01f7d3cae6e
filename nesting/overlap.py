"""The numeric state of a layout in which copies may still overlap."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

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
    menu : int32 (n, c, 2)
        Start in `menus` and count of the variants each copy may take, by class of room.
    menus : int32 (m,)
        Variants.
    movable : bool (n,)
        False for walls, keep-outs and locked copies.
    size : float64 (n,), mm
        Square root of each copy's convex hull area.
    area : float64 (n,), mm²
        Area of each copy as drawn; 0 for what cannot move.
    """

    store: RegionStore
    menu: IntArray
    menus: IntArray
    movable: BoolArray
    size: FloatArray
    area: FloatArray

    @classmethod
    def of(
        cls, store: RegionStore, shapes: Sequence[int], movable: Sequence[bool]
    ) -> Task:
        """Describe one copy per entry of `shapes`, with all of the shape's variants."""
        return cls.with_menus(
            store, [[tuple(store.variants(shape))] for shape in shapes], movable
        )

    @classmethod
    def with_menus(
        cls,
        store: RegionStore,
        menus: Sequence[Sequence[Sequence[int]]],
        movable: Sequence[bool],
    ) -> Task:
        """Describe copies by the variants each may take, by class of room.

        A copy's variants may belong to several shapes, as face up and face down; its
        sizes are those of the first.
        """
        flat: list[int] = []
        where: dict[tuple[int, ...], int] = {}
        menu = []
        first = []
        for copy in menus:
            rows = []
            for variants in copy:
                key = tuple(int(v) for v in variants)
                if key not in where:
                    where[key] = len(flat)
                    flat += key
                rows.append([where[key], len(key)])
            menu.append(rows)
            first.append(next((int(v) for row in copy for v in row), 0))
        hull = [float(shape.polygon.convex_hull.area) ** 0.5 for shape in store.shapes]
        area = [shape.area for shape in store.shapes]
        free = np.array(movable, dtype=np.bool_)
        index = store.regions.variant[np.array(first, dtype=np.int64), 0]
        return cls(
            store=store,
            menu=np.array(menu, dtype=np.int32),
            menus=np.array(flat, dtype=np.int32),
            movable=free,
            size=np.array(hull)[index],
            area=np.where(free, np.array(area)[index], 0.0),
        )

    def variants(self, copy: int, room_class: int = 0) -> IntArray:
        """Variants the copy may take in rooms of a class."""
        start, count = self.menu[copy, room_class]
        return self.menus[start : start + count]

    def turn_to_fit(
        self,
        places: Places,
        copies: IntArray,
        room: FloatArray,
        room_class: int = 0,
    ) -> bool:
        """Turn copies whose boxes do not fit into a room; false if one cannot.

        Parameters
        ----------
        places : Places
            Changed only where the answer is true; a turned copy keeps its centre.
        copies : int32 (m,)
        room : float64 (4,)
            ``x0, y0, x1, y1``, mm.
        room_class : int
        """
        box = self.store.regions.box
        span = box[:, 2:] - box[:, :2]
        size = room[2:] - room[:2] + 1e-9 * (room[2:] - room[:2])
        fits = (span[:, 0] <= size[0]) & (span[:, 1] <= size[1])
        turned: dict[int, int] = {}
        for k in copies[~fits[places.at[copies]]].tolist():
            menu = self.variants(k, room_class)
            menu = menu[fits[menu]]
            if not len(menu):
                return False
            turned[k] = int(menu[np.argmin(span[menu, 0])])
        centre = 0.5 * (box[:, :2] + box[:, 2:])
        for k, variant in turned.items():
            places.x[k] += centre[places.at[k], 0] - centre[variant, 0]
            places.y[k] += centre[places.at[k], 1] - centre[variant, 1]
            places.at[k] = variant
        return True

    def __len__(self) -> int:
        """Count of copies, fixed ones included."""
        return len(self.menu)
