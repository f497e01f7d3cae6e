"""Compiled half-planes that keep copies apart at the turns they have.

Where one copy may lie, seen from another, is what their no-fit region leaves free. Near
an offset that is free, or just about, half-planes can be found that leave the region
out and hold the offset: first the one along the nearest part of the boundary, then,
where the region is not convex, those along what of the boundary it still holds.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .kernels import FloatArray, IntArray, Regions, jit, raw_region_depth

PLANES = 8
"""Half-planes of a pair at most; more are needed in a spiral only."""

FULL = -(2**31)
"""Returned where there are more half-planes than room for them."""


@jit
def raw_nearest(
    edge: FloatArray,
    first: int,
    last: int,
    cut: FloatArray,
    cuts: int,
    x: float,
    y: float,
    wide: float,
    eps: float,
    found: FloatArray,
) -> int:
    """Nearest edge of a region, of what lies within all of the cuts; -1 if none is.

    Parameters
    ----------
    first, last : int
        Range of the region's edges; it lies on their left.
    cut : float64 (k, 3)
        Half-planes ``nx, ny, c``, the first `cuts` of them: what has ``n p > c`` lies
        within.
    x, y : float, mm
        The point.
    wide : float, mm
        Distance up to which to look.
    eps : float, mm
        Distance that is nought.
    found : float64 (4,)
        Receives the nearest point, its distance, and how far the point lies to the
        right of the edge.
    """
    best = wide * wide
    win = -1
    side = -math.inf
    for e in range(first, last):
        ex = edge[e, 0]
        ey = edge[e, 1]
        fx = edge[e, 2]
        fy = edge[e, 3]
        t0 = 0.0
        t1 = 1.0
        for k in range(cuts):
            g = cut[k, 0] * ex + cut[k, 1] * ey - cut[k, 2] - eps
            h = cut[k, 0] * fx + cut[k, 1] * fy
            if h > 0.0:
                t0 = max(t0, -g / h)
            elif h < 0.0:
                t1 = min(t1, -g / h)
            elif g <= 0.0:
                t1 = -1.0
        if t0 >= t1:
            continue
        px = x - ex
        py = y - ey
        t = min(max((px * fx + py * fy) * edge[e, 4], t0), t1)
        beyond = (fy * px - fx * py) * math.sqrt(edge[e, 4])
        px -= t * fx
        py -= t * fy
        far = px * px + py * py
        nearer = far < best - eps * eps
        # Of two edges at one corner, the one that the point lies farther outside of.
        if nearer or (far <= best + eps * eps and far < wide * wide and beyond > side):
            best = min(far, best)
            win = e
            side = beyond
            found[0] = ex + t * fx
            found[1] = ey + t * fy
    found[2] = math.sqrt(best)
    found[3] = side
    return win


@jit
def half_planes(
    regions: Regions,
    span: IntArray,
    movable: NDArray[np.bool_],
    copies: IntArray,
    at: IntArray,
    x: FloatArray,
    y: FloatArray,
    reach: float,
    eps: float,
    pair: IntArray,
    plane: FloatArray,
) -> int:
    """Find half-planes for the pairs that can meet if each copy moves by `reach`.

    Parameters
    ----------
    span : int32 (R, 2)
        Range of the edges of each region.
    copies : int32 (m,)
        Copies of one room.
    at, x, y : (n,)
        Variant and place of every copy.
    reach : float, mm
        How far copies move along either axis.
    eps : float, mm
        Distance that is nought.
    pair : int32 (k, 2)
        Receives the two copies of each half-plane, as indices into `copies`.
    plane : float64 (k, 4)
        Receives ``nx, ny, c, depth``: the pair is apart where ``n (p1 - p0) >= c``; the
        depth is how far the two overlap now.

    Returns
    -------
    int
        How many half-planes; ``-1 - i`` if a region of copy ``i`` has not been built,
        and `FULL` if there are too many.
    """
    (variant, trig, box, relative, table, head, dims, cell, item, edge) = regions
    count = 0
    wide = 2.0 * math.sqrt(2.0) * reach
    cut = np.zeros((PLANES, 3))
    found = np.zeros(4)
    for p in range(len(copies)):
        i = copies[p]
        u = at[i]
        for q in range(p + 1, len(copies)):
            j = copies[q]
            v = at[j]
            if not (movable[i] or movable[j]):
                continue
            if (
                x[i] + box[u, 2] + 2.0 * reach <= x[j] + box[v, 0]
                or x[j] + box[v, 2] + 2.0 * reach <= x[i] + box[u, 0]
                or y[i] + box[u, 3] + 2.0 * reach <= y[j] + box[v, 1]
                or y[j] + box[v, 3] + 2.0 * reach <= y[i] + box[u, 1]
            ):
                continue
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
                return int(-1 - i)
            dx = x[j] - x[i]
            dy = y[j] - y[i]
            px = c * dx + s * dy
            py = c * dy - s * dx
            depth = raw_region_depth(head, dims, cell, item, edge, r, px, py)
            first = span[r, 0]
            last = span[r, 1]
            if depth > 0.0:  # begin where the shortest push out leads
                far = depth + 2.0 * eps
                if raw_nearest(edge, first, last, cut, 0, px, py, far, eps, found) >= 0:
                    px = found[0]
                    py = found[1]
            for cuts in range(PLANES):
                e = raw_nearest(edge, first, last, cut, cuts, px, py, wide, eps, found)
                if e < 0:
                    break
                if found[2] <= 2.0 * eps or found[3] > 0.3 * found[2]:
                    k = math.sqrt(edge[e, 4])
                    nx = edge[e, 3] * k
                    ny = -edge[e, 2] * k
                    least = nx * edge[e, 0] + ny * edge[e, 1]
                else:  # a corner, or an edge seen from its end
                    nx = (px - found[0]) / found[2]
                    ny = (py - found[1]) / found[2]
                    least = nx * found[0] + ny * found[1]
                cut[cuts, 0] = nx
                cut[cuts, 1] = ny
                cut[cuts, 2] = least
                if count >= len(pair):
                    return FULL
                pair[count, 0] = p
                pair[count, 1] = q
                plane[count, 0] = c * nx - s * ny
                plane[count, 1] = c * ny + s * nx
                plane[count, 2] = least
                plane[count, 3] = depth
                count += 1
    return count
