"""Compiled queries on no-fit regions: arrays in, arrays out, no Python object.

A no-fit region of two variants ``u`` and ``v`` is the set of offsets ``(dx, dy)`` of
``v`` from ``u`` at which their insides overlap. It is an open set: on its boundary the
two only touch. The **depth** at an offset is the distance to that boundary when the
offset lies inside the region and 0 otherwise: the shortest push that parts the pair.

All regions of a job are packed into one `Regions` tuple of arrays, which every kernel
takes as its first argument (see `nofit.RegionStore`, which builds it). A region is
queried in constant time through a uniform grid over its bounding box: each cell knows
whether it lies outside, inside or across the boundary, the few edges that can be
nearest to any of its points, and the few edges a ray to the left has to be tested
against.

Every kernel releases the GIL and is deterministic; none uses fast math. Functions
whose name starts with ``raw_`` take the arrays one by one: taking them out of the tuple
inside a small function costs four times the query itself in reference counting.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]

_F = TypeVar("_F", bound=Callable[..., object])

OUTSIDE, INSIDE, MIXED, MIXED_ODD = 0, 1, 2, 3
"""Kinds of grid cell; the last is a mixed cell whose skipped edges toggle parity."""


BLOCK = 4
"""Cells along either side of a block for which edges are sorted out together."""


def jit(function: _F) -> _F:
    """Compile without the GIL, cached on disk, and keep the function's type."""
    options = numba.njit(nogil=True, cache=True, error_model="numpy", forceinline=True)
    return cast(_F, options(function))


class Regions(NamedTuple):
    """The variants of a job and the no-fit regions of their pairs, packed.

    Attributes
    ----------
    variant : int32 (V, 2)
        Shape of each variant, and index of its angle among the job's distinct angles.
    trig : float64 (V, 2)
        Cosine and sine of the variant's angle.
    box : float64 (V, 4)
        Bounding box ``x0, y0, x1, y1`` of the variant about its own origin.
    relative : int32 (K, K)
        Index of the relative angle of two turns, ``relative[turn_a, turn_b]``.
    table : int32 (S, S, D)
        Region of ``(shape a, shape b, relative angle)`` for ``a <= b``; -1 where it
        has not been built.
    head : float64 (R, 6)
        Bounding box ``x0, y0, x1, y1`` of a region and its cells per mm along x and y.
    dims : int32 (R, 3)
        Cells along x, cells along y, and first row in `cell`.
    cell : int32 (C, 4)
        Start in `item`, end of the nearest-edge candidates, end of the parity edges,
        kind.
    item : int32 (I,)
        Rows of `edge`.
    edge : float64 (E, 6)
        Start x, y, direction x, y, 1 / length², and end y: exactly the next edge's
        start, which start + direction need not be, so that a ray through a corner
        counts it once.
    """

    variant: IntArray
    trig: FloatArray
    box: FloatArray
    relative: IntArray
    table: IntArray
    head: FloatArray
    dims: IntArray
    cell: IntArray
    item: IntArray
    edge: FloatArray


# ---------------------------------------------------------------- raw queries


@jit
def raw_region_depth(
    head: FloatArray,
    dims: IntArray,
    cell: IntArray,
    item: IntArray,
    edge: FloatArray,
    region: int,
    x: float,
    y: float,
) -> float:
    """Depth of the point in one region, in the region's own frame; 0 if not inside."""
    at = raw_cell(head, dims, region, x, y)
    return 0.0 if at < 0 else raw_cell_depth(cell, item, edge, at, x, y)


@jit
def raw_cell(head: FloatArray, dims: IntArray, region: int, x: float, y: float) -> int:
    """Row of the cell with the point; -1 if it is outside the region's box."""
    x0 = head[region, 0]
    y0 = head[region, 1]
    if x <= x0 or y <= y0 or x >= head[region, 2] or y >= head[region, 3]:
        return -1
    nx = dims[region, 0]
    ny = dims[region, 1]
    column = min(int((x - x0) * head[region, 4]), nx - 1)
    row = min(int((y - y0) * head[region, 5]), ny - 1)
    at: int = dims[region, 2] + row * nx + column
    return at


@jit
def raw_cell_depth(
    cell: IntArray, item: IntArray, edge: FloatArray, at: int, x: float, y: float
) -> float:
    """Depth of a point in the cell it lies in, see `raw_region_depth`."""
    kind = cell[at, 3]
    if kind == OUTSIDE:
        return 0.0
    near_end = cell[at, 1]
    if kind != INSIDE:
        odd = kind == MIXED_ODD
        for k in range(near_end, cell[at, 2]):
            e = item[k]
            ey = edge[e, 1]
            if (ey > y) != (edge[e, 5] > y):
                if edge[e, 0] + edge[e, 2] * ((y - ey) / edge[e, 3]) < x:
                    odd = not odd
        if not odd:
            return 0.0
    best = math.inf
    for k in range(cell[at, 0], near_end):
        e = item[k]
        px = x - edge[e, 0]
        py = y - edge[e, 1]
        dx = edge[e, 2]
        dy = edge[e, 3]
        t = (px * dx + py * dy) * edge[e, 4]
        t = min(max(t, 0.0), 1.0)
        px -= t * dx
        py -= t * dy
        d = px * px + py * py
        if d < best:
            best = d
    return math.sqrt(best)


@jit
def raw_pair_depth(
    variant: IntArray,
    trig: FloatArray,
    relative: IntArray,
    table: IntArray,
    head: FloatArray,
    dims: IntArray,
    cell: IntArray,
    item: IntArray,
    edge: FloatArray,
    u: int,
    v: int,
    dx: float,
    dy: float,
) -> float:
    """Depth of variant `v` in variant `u` at the offset; -1 if not built."""
    a = variant[u, 0]
    b = variant[v, 0]
    if a <= b:
        r = table[a, b, relative[variant[u, 1], variant[v, 1]]]
        c = trig[u, 0]
        s = trig[u, 1]
    else:
        r = table[b, a, relative[variant[v, 1], variant[u, 1]]]
        c = -trig[v, 0]
        s = -trig[v, 1]
    if r < 0:
        return -1.0
    return raw_region_depth(
        head, dims, cell, item, edge, r, c * dx + s * dy, c * dy - s * dx
    )


@jit
def raw_boxes_apart(
    box: FloatArray, u: int, ux: float, uy: float, v: int, vx: float, vy: float
) -> bool:
    """Whether the bounding boxes of the two placed variants do not overlap."""
    return bool(
        ux + box[u, 2] <= vx + box[v, 0]
        or vx + box[v, 2] <= ux + box[u, 0]
        or uy + box[u, 3] <= vy + box[v, 1]
        or vy + box[v, 3] <= uy + box[u, 1]
    )


# ---------------------------------------------------------------- pairs of variants


@jit
def pair_region(regions: Regions, u: int, v: int) -> int:
    """Region of the two variants, -1 if it has not been built."""
    variant, relative = regions.variant, regions.relative
    a = variant[u, 0]
    b = variant[v, 0]
    if a <= b:
        return int(regions.table[a, b, relative[variant[u, 1], variant[v, 1]]])
    return int(regions.table[b, a, relative[variant[v, 1], variant[u, 1]]])


@jit
def pair_depth(regions: Regions, u: int, v: int, dx: float, dy: float) -> float:
    """Depth of variant `v` in variant `u` when it lies at the offset; 0 if apart.

    Returns -1 if the region of the pair has not been built.
    """
    (variant, trig, _, relative, table, head, dims, cell, item, edge) = regions
    return raw_pair_depth(
        variant, trig, relative, table, head, dims, cell, item, edge, u, v, dx, dy
    )


@jit
def pair_exit(
    regions: Regions, u: int, v: int, dx: float, dy: float
) -> tuple[float, float, float]:
    """Depth as `pair_depth` and the shortest push of `v` that parts the pair."""
    depth = pair_depth(regions, u, v, dx, dy)
    if depth <= 0.0:
        return depth, 0.0, 0.0
    region = pair_region(regions, u, v)
    if regions.variant[u, 0] <= regions.variant[v, 0]:
        c = regions.trig[u, 0]
        s = regions.trig[u, 1]
    else:
        c = -regions.trig[v, 0]
        s = -regions.trig[v, 1]
    x = c * dx + s * dy
    y = c * dy - s * dx
    edge = regions.edge
    at = raw_cell(regions.head, regions.dims, region, x, y)
    best = math.inf
    ex = 0.0
    ey = 0.0
    for k in range(regions.cell[at, 0], regions.cell[at, 1]):
        e = regions.item[k]
        px = x - edge[e, 0]
        py = y - edge[e, 1]
        t = (px * edge[e, 2] + py * edge[e, 3]) * edge[e, 4]
        t = min(max(t, 0.0), 1.0)
        px -= t * edge[e, 2]
        py -= t * edge[e, 3]
        d = px * px + py * py
        if d < best:
            best = d
            ex = -px
            ey = -py
    return depth, c * ex - s * ey, c * ey + s * ex


@jit
def overlap_depth(
    regions: Regions, u: int, v: int, dx: FloatArray, dy: FloatArray
) -> FloatArray:
    """Depth of `v` in `u` at each of the offsets; -1 where the region is not built."""
    (variant, trig, _, relative, table, head, dims, cell, item, edge) = regions
    out = np.empty(len(dx))
    for i in range(len(dx)):
        out[i] = raw_pair_depth(
            variant,
            trig,
            relative,
            table,
            head,
            dims,
            cell,
            item,
            edge,
            u,
            v,
            dx[i],
            dy[i],
        )
    return out


# ---------------------------------------------------------------- places in a room


@jit
def free_places(
    regions: Regions,
    variants: IntArray,
    xs: FloatArray,
    ys: FloatArray,
    v: int,
    at_x: FloatArray,
    at_y: FloatArray,
    tolerance: float,
) -> NDArray[np.bool_]:
    """Which of the places of `v` overlap none of the copies deeper than `tolerance`.

    The copies are given by variant and place. The caller keeps the places inside the
    room's rectangle; all regions of `v` with the copies' variants must have been built
    (a missing one counts as an overlap).
    """
    (variant, trig, box, relative, table, head, dims, cell, item, edge) = regions
    out = np.empty(len(at_x), dtype=np.bool_)
    for i in range(len(at_x)):
        free = True
        for j in range(len(variants)):
            u = variants[j]
            if raw_boxes_apart(box, u, xs[j], ys[j], v, at_x[i], at_y[i]):
                continue
            d = raw_pair_depth(
                variant,
                trig,
                relative,
                table,
                head,
                dims,
                cell,
                item,
                edge,
                u,
                v,
                at_x[i] - xs[j],
                at_y[i] - ys[j],
            )
            if d > tolerance or d < 0.0:
                free = False
                break
        out[i] = free
    return out


# ---------------------------------------------------------------- building the grid


@jit
def _segment_distance(edge: FloatArray, e: int, x: float, y: float) -> float:
    px = x - edge[e, 0]
    py = y - edge[e, 1]
    t = (px * edge[e, 2] + py * edge[e, 3]) * edge[e, 4]
    t = min(max(t, 0.0), 1.0)
    px -= t * edge[e, 2]
    py -= t * edge[e, 3]
    return math.sqrt(px * px + py * py)


@jit
def grid_cells(
    edge: FloatArray,
    first_edge: int,
    x0: float,
    y0: float,
    width: float,
    height: float,
    nx: int,
    ny: int,
) -> tuple[IntArray, IntArray]:
    """Cells and items of one region's grid, as in `Regions`, from its edges alone.

    `first_edge` is added to each item, so that it points into the packed edges. Edges
    are first sorted out for blocks of cells, then for each cell among those left.
    """
    n = len(edge)
    cell = np.zeros((nx * ny, 4), dtype=np.int32)
    item = np.empty(nx * ny * 4 + 16, dtype=np.int32)
    used = 0
    w = width / nx
    h = height / ny
    slack = 1e-9 * (width + height)
    reach = math.sqrt(w * w + h * h) + slack  # twice half the diagonal
    blocks = (nx + BLOCK - 1) // BLOCK
    block_items = np.empty((blocks, n), dtype=np.int32)
    block_count = np.zeros(blocks, dtype=np.int64)
    distance = np.empty(n)
    near = np.empty(n)
    low = np.empty(n)
    high = np.empty(n)
    spans = np.empty(n, dtype=np.bool_)
    in_row = np.empty(n, dtype=np.int32)
    crossing = np.empty(n)
    for row in range(ny):
        if row % BLOCK == 0:  # the edges that can be nearest somewhere in each block
            tall = min(BLOCK, ny - row)
            for b in range(blocks):
                wide = min(BLOCK, nx - b * BLOCK)
                cx = x0 + (b * BLOCK + 0.5 * wide) * w
                cy = y0 + (row + 0.5 * tall) * h
                ax = 0.5 * (wide - 1) * w
                ay = 0.5 * (tall - 1) * h
                away = math.sqrt(ax * ax + ay * ay) + slack  # to a cell's middle
                nearest = math.inf
                for e in range(n):
                    distance[e] = _segment_distance(edge, e, cx, cy)
                    nearest = min(nearest, distance[e])
                count = 0
                limit = nearest + reach + 2.0 * away
                for e in range(n):
                    if distance[e] <= limit:
                        block_items[b, count] = e
                        count += 1
                block_count[b] = count
        ya = y0 + row * h - slack
        yb = y0 + (row + 1) * h + slack
        cy = 0.5 * (ya + yb)
        rows = 0
        crossings = 0
        for e in range(n):  # extent along x of each edge within the row
            ey = edge[e, 1]
            fy = edge[e, 5]
            if (ey > cy) != (fy > cy):
                crossing[crossings] = edge[e, 0] + edge[e, 2] * ((cy - ey) / edge[e, 3])
                crossings += 1
            lo = min(ey, fy)
            hi = max(ey, fy)
            if edge[e, 3] == 0.0 or hi < ya or lo > yb:
                continue
            ta = min(max((ya - ey) / edge[e, 3], 0.0), 1.0)
            tb = min(max((yb - ey) / edge[e, 3], 0.0), 1.0)
            xa = edge[e, 0] + ta * edge[e, 2]
            xb = edge[e, 0] + tb * edge[e, 2]
            low[rows] = min(xa, xb)
            high[rows] = max(xa, xb)
            spans[rows] = lo <= ya and hi >= yb
            in_row[rows] = e
            rows += 1
        for column in range(nx):
            b = column // BLOCK
            xa = x0 + column * w - slack
            xb = x0 + (column + 1) * w + slack
            cx = 0.5 * (xa + xb)
            nearest = math.inf
            for k in range(block_count[b]):
                near[k] = _segment_distance(edge, block_items[b, k], cx, cy)
                nearest = min(nearest, near[k])
            if used + 2 * n > len(item):
                grown = np.empty(2 * len(item) + 2 * n, dtype=np.int32)
                grown[:used] = item[:used]
                item = grown
            at = row * nx + column
            start = used
            odd_centre = False
            base_odd = False
            for k in range(crossings):
                if crossing[k] < cx:
                    odd_centre = not odd_centre
            mixed = nearest <= 0.5 * reach + slack
            if not mixed and not odd_centre:
                cell[at, 0] = start
                cell[at, 1] = start
                cell[at, 2] = start
                cell[at, 3] = OUTSIDE
                continue
            for k in range(block_count[b]):
                if near[k] <= nearest + reach:
                    item[used] = first_edge + block_items[b, k]
                    used += 1
            split = used
            if mixed:
                for k in range(rows):
                    if low[k] > xb:
                        continue
                    if spans[k] and high[k] < xa:
                        base_odd = not base_odd
                    else:
                        item[used] = first_edge + in_row[k]
                        used += 1
            cell[at, 0] = start
            cell[at, 1] = split
            cell[at, 2] = used
            if not mixed:
                cell[at, 3] = INSIDE
            elif base_odd:
                cell[at, 3] = MIXED_ODD
            else:
                cell[at, 3] = MIXED
    return cell, item[:used].copy()
