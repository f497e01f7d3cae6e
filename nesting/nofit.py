"""No-fit regions: where two variants would overlap; built lazily, packed for kernels.

Notes for callers
-----------------
A `RegionStore` holds the shapes of a job (parts, their flipped forms, and the walls and
locked copies of the rooms, all alike) with the angles each may take. Shape and angle
make a **variant**, a plain number: ``store.variants(shape)`` is the range of a shape's
variants in the order of its angles.

>>> store = RegionStore([part, wall], [[0.0, 90.0], [0.0]])
>>> store.ensure([(u, v), ...])       # build what is missing; cheap if all is there
>>> regions = store.regions           # a tuple of arrays for the kernels
>>> pair_depth(regions, u, v, dx, dy)           # 0: apart or touching
>>> free_places(regions, variants, xs, ys, v, at_x, at_y, tolerance)

`regions` is a snapshot: what its table refers to never changes, later calls of
`ensure` make a new one. ``store.corners(u, v)`` and ``store.edges(u, v)`` give the
region's boundary as offsets of `v` from `u`, the classic candidates for touching
places; ``store.inner_rectangle(v, rectangle)`` the places at which the variant's
bounding box lies within a rectangle. Walls are copies like any other, at a fixed place.

The region of a pair depends on its relative angle only, so it is built once per pair of
shapes and relative angle, and the region of ``(v, u)`` is that of ``(u, v)`` mirrored
through the origin.

References
----------
Minkowski sums by convolution: Guibas, Ramshaw & Stolfi 1983,
doi:10.1109/SFCS.1983.1. No-fit polygons: Bennell & Oliveira 2008,
doi:10.1016/j.ejor.2006.11.038.
"""

from __future__ import annotations

import copy
import math
import threading
from collections.abc import Callable, Iterable, Sequence
from functools import cached_property
from typing import TypeVar

import numpy as np
import pyclipper
import shapely

from .convex import convex_pieces, join_holes
from .kernels import FloatArray, IntArray, Regions, grid_cells
from .kernels_convolve import convolve, to_grid
from .prepare import Shape, cos_sin, turned

_Array = TypeVar("_Array", FloatArray, IntArray)

GRID = float((1 << 30) - 1)
"""Largest coordinate of the whole-number grid the union runs on, for speed."""

CHUNK = 4
"""Regions built between two questions whether to stop, some milliseconds each."""

COPIED = 8_000_000
"""Bytes moved between two such questions."""

CRACK = 4.0
"""Half the width of the widest crack, in grid units, that is taken for rounding."""


def nofit_rings(one: Shape, two: Shape, angle: float) -> list[FloatArray]:
    """Boundary of the no-fit region of `one` at 0 and `two` turned by the angle.

    Parameters
    ----------
    one, two : Shape
    angle : float, degrees

    Returns
    -------
    list of float64 (n, 2), mm
        Outer rings counter-clockwise and holes clockwise, as offsets of `two`.
    """
    return _rings(_Parts(one), _Parts(two), angle)


class _Parts:
    """A shape with its convex pieces and its slit ring, made when first needed."""

    def __init__(self, shape: Shape, kept: tuple[int, ...] | None = None) -> None:
        if kept is None:
            kept = tuple(range(len(shape.rings) - 1))
        self.shape = shape
        self.rings = (shape.rings[0], *(shape.rings[1 + hole] for hole in kept))
        self.reach = float(np.abs(shape.rings[0]).max())
        self._filled: dict[tuple[int, ...], _Parts] = {kept: self}

    @cached_property
    def pieces(self) -> list[FloatArray]:
        """Convex pieces."""
        return convex_pieces(self.rings)

    @cached_property
    def ring(self) -> FloatArray:
        """The boundary as one ring, slit to its holes."""
        return join_holes(self.rings)

    def for_guest(self, ring: FloatArray) -> _Parts:
        """Return the shape with only those holes whose box could hold the guest's.

        Any other hole is as good as filled, and a lace of holes costs most of the
        time that a region takes.
        """
        width, height = np.ptp(ring, axis=0)
        kept = tuple(
            hole
            for hole, inner in enumerate(self.shape.rings[1:])
            if (np.ptp(inner, axis=0) >= (width, height)).all()
        )
        if kept not in self._filled:
            self._filled[kept] = _Parts(self.shape, kept)
        return self._filled[kept]


def _rings(one: _Parts, two: _Parts, angle: float) -> list[FloatArray]:
    guest = turned([two.shape.rings[0]], angle)[0]
    host = turned([one.shape.rings[0]], -angle)[0]
    # Both boxes are taken in the frame in which the hole is upright.
    one, two = one.for_guest(guest), two.for_guest(host)
    half_turn = angle + 180.0
    scale = GRID / (2.0 * (one.reach + 1.5 * two.reach))
    if len(two.pieces) * len(one.ring) <= len(one.pieces) * len(two.ring):
        ring, pieces = one.ring, turned(two.pieces, half_turn)
    else:
        ring, pieces = turned([two.ring], half_turn)[0], one.pieces
    # A copy can be written to: arrays that cannot would have the kernel compiled again.
    ring = np.array(ring, order="C")
    clipper = pyclipper.Pyclipper()
    for piece in pieces:
        cycle = to_grid(convolve(ring, np.ascontiguousarray(piece)), scale)
        clipper.AddPath(cycle.tolist(), pyclipper.PT_SUBJECT, True)
    paths = clipper.Execute(
        pyclipper.CT_UNION, pyclipper.PFT_POSITIVE, pyclipper.PFT_POSITIVE
    )
    if len(one.pieces) > 1 or len(two.pieces) > 1:
        paths = _without_cracks(paths)
    rings = []
    for path in paths:
        points = np.array(path, dtype=np.float64)
        x, y = points[:, 0] - points[0, 0], points[:, 1] - points[0, 1]
        area = 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
        points /= scale
        if area < 1e-5 * GRID * GRID and not _holds(one, two, angle, points, area):
            continue
        rings.append(points)
    return rings


def _without_cracks(paths: list[list[list[int]]]) -> list[list[list[int]]]:
    """Close cracks of a few grid units: grow the region by so much and shrink it back.

    At a reflex corner the cycle runs forth and back along one line; rounded to the
    grid, the two ways may leave a crack from the outside deep into the region.
    """
    for step in (CRACK, -CRACK):
        offset = pyclipper.PyclipperOffset(4.0)
        offset.AddPaths(paths, pyclipper.JT_MITER, pyclipper.ET_CLOSEDPOLYGON)
        paths = offset.Execute(step)
    return paths


def _holds(
    one: _Parts, two: _Parts, angle: float, ring: FloatArray, area: float
) -> bool:
    """Whether a small ring is more than an artefact of the whole-number grid.

    A small hole is kept only if a placement in it truly does not overlap, a small
    island only if one truly does.
    """
    if len(ring) < 3:
        return False
    polygon = shapely.Polygon(ring)
    if not polygon.is_valid or polygon.is_empty:
        return False
    at = np.array(polygon.representative_point().coords[0])
    moved = [r + at for r in turned(two.shape.rings, angle)]
    other = shapely.Polygon(moved[0], moved[1:])
    mine = one.shape.polygon
    shared = float(mine.intersection(other).area)
    allowed = 1e-11 * min(mine.area, other.area)
    return bool((shared <= allowed) == (area < 0.0))


class RegionStore:
    """The variants of a job and their no-fit regions, built when first asked for.

    Parameters
    ----------
    shapes : sequence of Shape
        Parts and walls alike.
    angles : sequence of sequences of float, degrees
        The angles of each shape, without repetition.
    """

    def __init__(
        self, shapes: Sequence[Shape], angles: Sequence[Sequence[float]]
    ) -> None:
        if len(shapes) != len(angles):
            raise ValueError("one list of angles per shape is needed")
        self.shapes = tuple(shapes)
        self._parts: list[_Parts | None] = [None] * len(shapes)
        self._lock = threading.Lock()
        self._lengths = [len(a) for a in angles]
        self._first = np.concatenate([[0], np.cumsum(self._lengths)]).astype(np.int64)
        owner = [s for s, row in enumerate(angles) for _ in row]
        self.angles = tuple(float(a) % 360.0 for row in angles for a in row)
        self._counts = [0, 0, 0, 0]  # regions, cells, items, edges in use
        self._more: dict[tuple[tuple[int, float], ...], RegionStore] = {}
        self.regions = self._without_regions(owner)

    def _without_regions(self, owner: Sequence[int]) -> Regions:
        """Return what the kernels need of variants, `owner` being each one's shape."""
        self.turned_shapes = tuple(
            tuple(turned(self.shapes[s].rings, a))
            for s, a in zip(owner, self.angles, strict=True)
        )
        boxes = [
            [*rings[0].min(axis=0), *rings[0].max(axis=0)]
            for rings in self.turned_shapes
        ]
        distinct = sorted({*self.angles})
        where = {a: k for k, a in enumerate(distinct)}
        difference = [
            [round((b - a) % 360.0, 9) % 360.0 for b in distinct] for a in distinct
        ]
        self._relative = sorted({d for row in difference for d in row})
        place = {d: k for k, d in enumerate(self._relative)}
        count = len(self.shapes)
        return Regions(
            variant=np.array(
                [[s, where[a]] for s, a in zip(owner, self.angles, strict=True)],
                dtype=np.int32,
            ).reshape(-1, 2),
            trig=np.array([cos_sin(a) for a in self.angles]).reshape(-1, 2),
            box=np.array(boxes, dtype=np.float64).reshape(-1, 4),
            relative=np.array(
                [[place[d] for d in row] for row in difference], dtype=np.int32
            ).reshape(len(distinct), len(distinct)),
            table=np.full((count, count, len(self._relative)), -1, dtype=np.int32),
            head=np.zeros((0, 6)),
            dims=np.zeros((0, 3), dtype=np.int32),
            cell=np.zeros((0, 4), dtype=np.int32),
            item=np.zeros(0, dtype=np.int32),
            edge=np.zeros((0, 6)),
        )

    def with_turns(self, turns: Sequence[tuple[int, float]]) -> RegionStore:
        """Return a store with further variants, numbered on from the last of this one.

        Regions that are built here are there, too; later ones are built by each store
        for itself. The last one that was made is kept.

        Parameters
        ----------
        turns : sequence of (int, float)
            Shape and angle, degrees, of each. `variants` does not list them.
        """
        key = tuple(turns)
        with self._lock:
            old, counts, relative = self.regions, [*self._counts], self._relative
            if key in self._more:
                return self._more[key]
        more = copy.copy(self)
        more._more = {}
        more.angles = (*self.angles, *(angle % 360.0 for _, angle in turns))
        owner = [*old.variant[:, 0].tolist(), *(shape for shape, _ in turns)]
        new = more._without_regions(owner)
        place = {d: k for k, d in enumerate(more._relative)}
        new.table[:, :, [place[d] for d in relative]] = old.table
        _, cells, items, edges = more._counts = counts
        # Cut to what is in use, so that neither store writes into the other's arrays.
        more.regions = new._replace(
            table=new.table,
            head=old.head,
            dims=old.dims,
            cell=old.cell[:cells],
            item=old.item[:items],
            edge=old.edge[:edges],
        )
        with self._lock:
            self._more = {key: more}
        return more

    def __getstate__(self) -> dict[str, object]:
        """Leave the lock behind: to another process, and to a copy."""
        return {**self.__dict__, "_lock": None, "_more": {}}

    def __setstate__(self, state: dict[str, object]) -> None:
        """Take everything over and make a new lock."""
        self.__dict__.update(state)
        self._lock = threading.Lock()

    def __len__(self) -> int:
        """Count of variants."""
        return len(self.angles)

    def variants(self, shape: int) -> range:
        """Variants of a shape, in the order of its angles."""
        return range(int(self._first[shape]), int(self._first[shape + 1]))

    def pieces(self, shape: int) -> list[FloatArray]:
        """Return convex pieces of a shape that is not turned."""
        return self._part(shape).pieces

    def shape_of(self, variant: int) -> int:
        """Shape of a variant."""
        return int(self.regions.variant[variant, 0])

    def inner_rectangle(
        self, variant: int, rectangle: tuple[float, float, float, float]
    ) -> tuple[float, float, float, float]:
        """Places at which the variant's box lies in the rectangle; empty if x0 > x1."""
        x0, y0, x1, y1 = rectangle
        a0, b0, a1, b1 = self.regions.box[variant].tolist()
        return x0 - a0, y0 - b0, x1 - a1, y1 - b1

    # ------------------------------------------------------------ building

    def ensure(
        self,
        pairs: Iterable[tuple[int, int]],
        stop: Callable[[], bool] | None = None,
    ) -> bool:
        """Build the regions of the pairs of variants that are missing.

        Parameters
        ----------
        pairs : iterable of (int, int)
        stop : callable, optional
            Asked between a few regions and the next; what is built stays.

        Returns
        -------
        bool
            Whether all are there.
        """
        wanted = [*dict.fromkeys(self._key(u, v) for u, v in pairs)]
        keys = [key for key in wanted if self.regions.table[key] < 0]
        chunk = max(len(keys), 1) if stop is None else CHUNK
        for start in range(0, len(keys), chunk):
            if stop is not None and stop():
                return False
            with self._lock:  # another thread may have built some meanwhile
                table = self.regions.table
                missing = [k for k in keys[start : start + chunk] if table[k] < 0]
                if missing and not self._build(missing, stop):
                    return False
        return True

    def ensure_all(self, shapes: Iterable[int], others: Iterable[int]) -> None:
        """Build the regions of every variant of `shapes` with every one of `others`."""
        us = [u for s in shapes for u in self.variants(s)]
        vs = [v for s in others for v in self.variants(s)]
        self.ensure((u, v) for u in us for v in vs)

    def _key(self, u: int, v: int) -> tuple[int, int, int]:
        (a, i), (b, j) = self.regions.variant[u], self.regions.variant[v]
        if a <= b:
            return int(a), int(b), int(self.regions.relative[i, j])
        return int(b), int(a), int(self.regions.relative[j, i])

    def _part(self, shape: int) -> _Parts:
        part = self._parts[shape]
        if part is None:
            part = self._parts[shape] = _Parts(self.shapes[shape])
        return part

    def _build(
        self, keys: list[tuple[int, int, int]], stop: Callable[[], bool] | None
    ) -> bool:
        """Build regions; false, and as before, if stopped."""
        old = self.regions
        table = old.table.copy()
        heads, dims, cells, items, edges = [], [], [], [], []
        regions, n_cells, n_items, n_edges = self._counts
        for key in keys:
            a, b, k = key
            rings = _rings(self._part(a), self._part(b), self._relative[k])
            edge = _edge_rows(rings)
            head, size = _grid_of(edge)
            cell, item = grid_cells(
                edge,
                n_edges,
                head[0],
                head[1],
                head[2] - head[0],
                head[3] - head[1],
                size[0],
                size[1],
            )
            cell[:, :3] += n_items
            table[key] = regions
            heads.append(
                [*head, size[0] / (head[2] - head[0]), size[1] / (head[3] - head[1])]
            )
            dims.append([size[0], size[1], n_cells])
            cells.append(cell)
            items.append(item)
            edges.append(edge)
            regions += 1
            n_cells += len(cell)
            n_items += len(item)
            n_edges += len(edge)
        _, in_cell, in_item, in_edge = self._counts
        all_cells = _append(old.cell, in_cell, cells, stop)
        if all_cells is None:
            return False
        all_items = _append(old.item, in_item, items, stop)
        if all_items is None:
            return False
        all_edges = _append(old.edge, in_edge, edges, stop)
        if all_edges is None:
            return False
        self._counts = [regions, n_cells, n_items, n_edges]
        self.regions = old._replace(
            table=table,
            head=np.concatenate([old.head, np.array(heads)]),
            dims=np.concatenate([old.dims, np.array(dims, dtype=np.int32)]),
            cell=all_cells,
            item=all_items,
            edge=all_edges,
        )
        return True

    # ------------------------------------------------------------ boundaries

    def edges(self, u: int, v: int) -> FloatArray:
        """Boundary of the pair's region: rows ``x, y, dx, dy`` as offsets of `v`.

        Returns
        -------
        float64 (n, 4), mm
        """
        self.ensure([(u, v)])
        r = self.regions
        key = self._key(u, v)
        region = int(r.table[key])
        nx, ny, first = r.dims[region].tolist()
        rows = r.cell[first : first + nx * ny]
        used = r.item[rows[:, 0].min() : rows[:, 2].max()]
        edge = r.edge[int(used.min()) : int(used.max()) + 1, :4]
        straight = r.variant[u, 0] <= r.variant[v, 0]
        c, s = (r.trig[u] if straight else -r.trig[v]).tolist()
        matrix = np.array([[c, s], [-s, c]])
        return np.hstack([edge[:, :2] @ matrix, edge[:, 2:] @ matrix])

    def corners(self, u: int, v: int) -> FloatArray:
        """Vertices of the pair's region, as offsets of `v` from `u`, (n, 2), mm."""
        return self.edges(u, v)[:, :2]


def _edge_rows(rings: Sequence[FloatArray]) -> FloatArray:
    rows = []
    for ring in rings:
        end = np.roll(ring, -1, axis=0)
        ahead = end - ring
        inverse = 1.0 / (ahead**2).sum(axis=1)
        rows.append(np.hstack([ring, ahead, inverse[:, None], end[:, 1:]]))
    return np.vstack(rows)


def _grid_of(edge: FloatArray) -> tuple[list[float], tuple[int, int]]:
    """Bounding box of the edges and the count of cells along x and y."""
    x0, y0 = edge[:, 0].min(), edge[:, 1].min()
    x1, y1 = edge[:, 0].max(), edge[:, 1].max()
    width, height = float(x1 - x0), float(y1 - y0)
    wanted = min(max(12.0 * len(edge), 64.0), 576.0)
    side = math.sqrt(width * height / wanted)
    nx = min(max(round(width / side), 1), 96)
    ny = min(max(round(height / side), 1), 96)
    return [float(x0), float(y0), float(x1), float(y1)], (nx, ny)


def _append(
    array: _Array,
    used: int,
    chunks: Sequence[_Array],
    stop: Callable[[], bool] | None,
) -> _Array | None:
    """Append rows; no snapshot taken before refers to the rows that are written.

    None if stopped while the rows moved to a larger array, which may be 100 MB.
    """
    total = used + sum(len(chunk) for chunk in chunks)
    grown = array
    if total > len(array):  # half as much again, so that copying stays rare
        grown = np.empty((total + total // 2, *array.shape[1:]), dtype=array.dtype)
        step = max(COPIED // max(array[:1].nbytes, 1), 1)
        for first in range(0, used, step):
            if first and stop is not None and stop():
                return None
            last = min(first + step, used)
            grown[first:last] = array[first:last]
    for chunk in chunks:
        grown[used : used + len(chunk)] = chunk
        used += len(chunk)
    return grown
