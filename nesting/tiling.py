"""Exact tiling: fill rooms to the last square millimetre, or find that it fails.

Where the copies' areas add up to exactly the rooms' areas, as in a jigsaw cut from full
sheets, every convex corner of the free region must be filled by a copy that has an edge
along the region's edge there. So few copies can that a depth-first search, always at
the corner with the fewest candidates, gets far where a search through overlaps creeps.
All of it is exact arithmetic on whole numbers.

The choice of the most constrained corner is the rule of Golomb & Baumert 1965,
doi:10.1145/321296.321300; restarts with a growing limit and shuffled ties after Gomes,
Selman & Kautz 1998 (Boosting combinatorial search through randomization, AAAI-98).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import pyclipper

from . import kernels_tiling as kernel
from .kernels_tiling import Longs

Ring = tuple[tuple[int, int], ...]

FIRST_LIMIT = 2_000
"""Steps before the first restart."""

GROWTH = 1.3
"""How the limit grows from one restart to the next."""

FINEST = 3
"""Decimals of a drawing's grid that are looked for."""


COARSE = 64
"""Steps across the widest shape for which a lattice is coarse."""

STRAIGHT = 0.9
"""Share of the outlines' length along the axes and diagonals on a lattice."""


@dataclass(frozen=True)
class Tile:
    """A kind of copy on a whole-number grid.

    Attributes
    ----------
    outline : tuple of (int, int)
        Simple and counter-clockwise.
    quantity : int
    quarters : tuple of int
        Allowed turns in steps of 90°.
    """

    outline: Ring
    quantity: int
    quarters: tuple[int, ...]


@dataclass(frozen=True)
class Laid:
    """A copy at its place: turned about its drawing's origin, then moved."""

    tile: int
    quarter: int
    room: int
    x: int
    y: int


def grid_of(rings: Sequence[np.ndarray], angles: Sequence[float]) -> int | None:
    """Return how many grid steps make a millimetre, or None if there is no such grid.

    Parameters
    ----------
    rings : sequence of float64 (n, 2), mm
    angles : sequence of float
        Degrees; only right angles keep a grid.
    """
    if any(abs(a / 90.0 - round(a / 90.0)) > 1e-9 for a in angles):
        return None
    for decimals in range(FINEST + 1):
        scale = int(10**decimals)
        if all(np.abs(r * scale - np.round(r * scale)).max() < 1e-6 for r in rings):
            return scale
    return None


def lattice_of(rings: Sequence[np.ndarray], angles: Sequence[float]) -> float | None:
    """Return the step of the lattice that rectilinear shapes are drawn on, in mm.

    None unless nearly all edges run along the axes or the diagonals and the shapes are
    at most `COARSE` steps wide: then contacts lie on the lattice, and a search may try
    its points only.
    """
    scale = grid_of(rings, angles)
    if scale is None:
        return None
    straight = total = 0.0
    for ring in rings:
        edge = np.abs(np.diff(ring, axis=0, append=ring[:1]))
        length = np.hypot(edge[:, 0], edge[:, 1])
        on_axis = edge.min(axis=1) * scale < 0.5
        diagonal = np.abs(edge[:, 0] - edge[:, 1]) * scale < 0.5
        straight += float(length[on_axis | diagonal].sum())
        total += float(length.sum())
        if np.ptp(ring, axis=0).max() * scale > COARSE:
            return None
    return 1.0 / scale if straight > STRAIGHT * total else None


def tile(
    tiles: Sequence[Tile],
    width: int,
    height: int,
    rooms: int,
    seed: int,
    stop: Callable[[], bool],
    steps: int | None = None,
) -> list[Laid] | None:
    """Tile equal rectangles with all copies, no room left over.

    Parameters
    ----------
    tiles : sequence of Tile
    width, height : int
        Of every room, in grid steps.
    rooms : int
    seed : int
    stop : callable
        Asked before every step.
    steps : int, optional
        Give up after as many.

    Returns
    -------
    list of Laid, or None
        None if none was found, be it that there is none.
    """
    total = sum(q.quantity * twice_area(q.outline) for q in tiles)
    if total != 2 * width * height * rooms:
        return None
    search = _Search(tiles, width, height, rooms)
    rng = np.random.default_rng(seed)
    limit, spent = FIRST_LIMIT, 0
    while not stop() and (steps is None or spent < steps):
        allowed = limit if steps is None else min(limit, steps - spent)
        found, used = search.run(rng, allowed, stop)
        if found or used < allowed:
            return search.laid if found else None
        spent += used
        limit = int(limit * GROWTH)
    return None


def compile_kernel() -> None:
    """Compile or load the kernel, so that no clock counts it."""
    tile([Tile(((0, 0), (1, 0), (1, 1), (0, 1)), 1, (0,))], 1, 1, 1, 0, lambda: False)


@dataclass(frozen=True)
class _Variant:
    kind: int
    quarter: int
    outline: Ring
    x: int
    y: int


@dataclass
class _Level:
    """One step: what the region was, and what may still be tried at its corner."""

    room: int
    region: list[Ring]
    options: Iterator[tuple[int, int, int]]
    kind: int = -1


class _Search:
    def __init__(
        self, tiles: Sequence[Tile], width: int, height: int, rooms: int
    ) -> None:
        self._room: Ring = ((0, 0), (width, 0), (width, height), (0, height))
        self._rooms = rooms
        self._kinds: list[list[int]] = []  # tiles of one shape, with their copies
        self._variants: list[_Variant] = []
        rows: list[list[int]] = []
        forms: dict[tuple[Ring, ...], int] = {}
        for index, one in enumerate(tiles):
            turned = _variants(one, len(self._kinds))
            key = tuple(sorted(v.outline for v in turned))
            if key in forms:
                self._kinds[forms[key]] += [index] * one.quantity
                continue
            kind = forms[key] = len(self._kinds)
            self._kinds.append([index] * one.quantity)
            for v in turned:
                rows += _corners(v.outline, len(self._variants), kind)
                self._variants.append(v)
        rows.sort()
        self._tiles = tiles
        self._table: Longs = np.array(rows, dtype=np.int64)
        self._option = np.empty((len(rows), kernel.OPTION_COLUMNS), dtype=np.int64)
        self._spare = self._option.copy()
        self.laid: list[Laid] = []

    def run(
        self, rng: np.random.Generator, limit: int, stop: Callable[[], bool]
    ) -> tuple[bool, int]:
        """Search from the beginning; tell whether it succeeded and the steps made."""
        count = np.array([len(kind) for kind in self._kinds], dtype=np.int64)
        placed: list[tuple[int, int, int, int]] = []
        used = 0
        levels = [_Level(0, [self._room], self._options([self._room], count, rng))]
        while levels:
            level = levels[-1]
            if level.kind >= 0:  # back from a step that led nowhere
                count[level.kind] += 1
                placed.pop()
                level.kind = -1
            room = level.room
            after = None
            for v, x, y in level.options:
                outline = [(px + x, py + y) for px, py in self._variants[v].outline]
                if _minus([outline], level.region):
                    continue  # sticks out
                after = _minus(level.region, [outline])
                level.kind = self._variants[v].kind
                count[level.kind] -= 1
                placed.append((v, room, x, y))
                break
            if after is None:
                levels.pop()
                continue
            if not after:
                room += 1
                if room == self._rooms:
                    self.laid = self._result(placed)
                    return True, used
                after = [self._room]
            used += 1
            if used >= limit or stop():
                return False, limit
            levels.append(_Level(room, after, self._options(after, count, rng)))
        return False, used

    def _options(
        self, region: list[Ring], count: Longs, rng: np.random.Generator
    ) -> Iterator[tuple[int, int, int]]:
        points = np.array([p for ring in region for p in ring], dtype=np.int64)
        start = np.cumsum([0] + [len(ring) for ring in region], dtype=np.int64)
        x, y = np.ascontiguousarray(points[:, 0]), np.ascontiguousarray(points[:, 1])
        box = np.array([x.min(), y.min(), x.max(), y.max()], dtype=np.int64)
        amount = sum(twice_area(ring) for ring in region)
        found = kernel.choose(
            x, y, start, self._table, count, box, amount, self._option, self._spare
        )
        rows = self._option[:found].copy()
        # Best match first, then the larger, with chance among the near equal.
        size = rows[:, kernel.SIZE] * rng.uniform(0.5, 1.5, found)
        order = np.lexsort((-size, -rows[:, kernel.SCORE]))
        columns = (kernel.OF_VARIANT, kernel.X, kernel.Y)
        return iter([tuple(rows[k, columns].tolist()) for k in order])

    def _result(self, placed: list[tuple[int, int, int, int]]) -> list[Laid]:
        left = [list(kind) for kind in self._kinds]
        out = []
        for v, room, x, y in placed:
            index = left[self._variants[v].kind].pop()
            shape = self._variants[v].outline
            # A tile of the same shape may be drawn at another turn.
            turned = _variants(self._tiles[index], 0)
            same = next(q for q in turned if q.outline == shape)
            out.append(Laid(index, same.quarter, room, x - same.x, y - same.y))
        return out


def _variants(one: Tile, kind: int) -> list[_Variant]:
    """Turn the outline, move it to the axes, keep each form once."""
    out: list[_Variant] = []
    for quarter in one.quarters:
        ring = list(one.outline)
        for _ in range(quarter % 4):
            ring = [(-y, x) for x, y in ring]
        ring = _without_straight(ring)
        x0, y0 = min(x for x, _ in ring), min(y for _, y in ring)
        ring = [(x - x0, y - y0) for x, y in ring]
        first = ring.index(min(ring))
        outline = tuple(ring[first:] + ring[:first])
        if all(v.outline != outline for v in out):
            out.append(_Variant(kind, quarter % 4, outline, x0, y0))
    return out


def _corners(outline: Ring, variant: int, kind: int) -> list[list[int]]:
    n = len(outline)
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    rows = []
    for i, (x, y) in enumerate(outline):
        ux, uy = xs[(i + 1) % n] - x, ys[(i + 1) % n] - y
        wx, wy = xs[i - 1] - x, ys[i - 1] - y
        if ux * wy - uy * wx <= 0:
            continue
        g, h = math.gcd(ux, uy), math.gcd(wx, wy)
        rows.append(
            [
                ux // g * kernel.FOLD + uy // g,
                variant,
                kind,
                wx // h,
                wy // h,
                ux * ux + uy * uy,
                wx * wx + wy * wy,
                x - min(xs),
                max(xs) - x,
                y - min(ys),
                max(ys) - y,
                twice_area(outline),
            ]
        )
    return rows


def twice_area(ring: Sequence[tuple[int, int]]) -> int:
    """Twice the area on the grid; negative if the ring runs clockwise."""
    n = len(ring)
    return sum(
        ring[i - 1][0] * ring[i][1] - ring[i - 1][1] * ring[i][0] for i in range(n)
    )


def _without_straight(ring: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Drop vertices at which the outline goes straight on."""
    out = list(ring)
    while True:
        n = len(out)
        kept = [
            b
            for a, b, c in ((out[i - 1], out[i], out[(i + 1) % n]) for i in range(n))
            if (b[0] - a[0]) * (c[1] - b[1]) != (b[1] - a[1]) * (c[0] - b[0])
        ]
        if len(kept) == n:
            return kept
        out = kept


def _minus(
    first: Sequence[Sequence[tuple[int, int]]],
    second: Sequence[Sequence[tuple[int, int]]],
) -> list[Ring]:
    clip = pyclipper.Pyclipper()
    clip.AddPaths(first, pyclipper.PT_SUBJECT, True)
    clip.AddPaths(second, pyclipper.PT_CLIP, True)
    rings = clip.Execute(
        pyclipper.CT_DIFFERENCE, pyclipper.PFT_NONZERO, pyclipper.PFT_NONZERO
    )
    simple = (_without_straight([(x, y) for x, y in ring]) for ring in rings)
    return [tuple(ring) for ring in simple if len(ring) > 2]
