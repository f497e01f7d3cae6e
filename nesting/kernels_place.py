"""Compiled search for places where one more copy touches what lies there already.

Candidates are the corners of no-fit regions and where their edges cross the sides of
the rectangle of places; the best of them are then slid until they touch in both
directions. The classic bottom-left idea on no-fit regions: Burke, Hellier, Kendall &
Whitwell 2007, doi:10.1016/j.ejor.2006.03.011.

Copies and walls are given alike by variant and place. All arrays come one by one, see
`kernels`.
"""

from __future__ import annotations

import math

import numpy as np

from .kernels import (
    FloatArray,
    IntArray,
    Regions,
    jit,
    raw_boxes_apart,
    raw_pair_depth,
)

BEHIND = 1e-5
"""A ray that starts this little inside a region, mm, counts as on its boundary."""


@jit
def raw_blocker(
    variant: IntArray,
    trig: FloatArray,
    box: FloatArray,
    relative: IntArray,
    table: IntArray,
    head: FloatArray,
    dims: IntArray,
    cell: IntArray,
    item: IntArray,
    edge: FloatArray,
    laid: IntArray,
    xs: FloatArray,
    ys: FloatArray,
    chosen: IntArray,
    count: int,
    v: int,
    x: float,
    y: float,
    tolerance: float,
) -> int:
    """Return which of the chosen copies `v` at a place overlaps; -1 if none."""
    for i in range(count):
        j = chosen[i]
        u = laid[j]
        if raw_boxes_apart(box, u, xs[j], ys[j], v, x, y):
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
            x - xs[j],
            y - ys[j],
        )
        if d > tolerance or d < 0.0:
            return i
    return -1


@jit
def touching_places(
    regions: Regions,
    spans: IntArray,
    laid: IntArray,
    xs: FloatArray,
    ys: FloatArray,
    first: int,
    v: int,
    rectangle: FloatArray,
    known: FloatArray,
    tolerance: float,
) -> FloatArray:
    """Bring the free touching places of `v` up to date with copies from `first` on.

    Parameters
    ----------
    regions, spans
        As in `nofit.RegionStore`; spans are the first and last edge of each region.
    laid, xs, ys
        Variant and place of every copy and wall.
    first : int
        Copies before it are reflected in `known`.
    rectangle : float64 (4,)
        Places at which the variant's box lies in the room.
    known : float64 (n, 3)
        Free places so far: x, y, and 1 where the box lies within that of a copy.

    Returns
    -------
    float64 (m, 3)
    """
    (variant, trig, box, relative, table, head, dims, cell, item, edge) = regions
    x0, y0, x1, y1 = rectangle[0], rectangle[1], rectangle[2], rectangle[3]
    n = len(laid)
    out = np.empty((len(known) + 256, 3))
    used = 0
    every = np.arange(n).astype(np.int32)
    if first == 0:
        for i in range(4):
            x = x0 if i % 2 == 0 else x1
            y = y0 if i < 2 else y1
            if (
                raw_blocker(
                    variant,
                    trig,
                    box,
                    relative,
                    table,
                    head,
                    dims,
                    cell,
                    item,
                    edge,
                    laid,
                    xs,
                    ys,
                    every,
                    n,
                    v,
                    x,
                    y,
                    tolerance,
                )
                < 0
            ):
                out[used, 0] = x
                out[used, 1] = y
                out[used, 2] = 0.0
                used += 1
    for i in range(len(known)):
        x = known[i, 0]
        y = known[i, 1]
        if (
            raw_blocker(
                variant,
                trig,
                box,
                relative,
                table,
                head,
                dims,
                cell,
                item,
                edge,
                laid,
                xs,
                ys,
                every[first:],
                n - first,
                v,
                x,
                y,
                tolerance,
            )
            < 0
        ):
            out[used] = known[i]
            used += 1
    near = np.empty(n, dtype=np.int32)
    px = np.empty(5)
    py = np.empty(5)
    for k in range(first, n):
        u = laid[k]
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
            continue
        # Only copies that a copy touching this one can reach.
        reach_x0 = xs[k] + box[u, 0] - (box[v, 2] - box[v, 0])
        reach_x1 = xs[k] + box[u, 2] + (box[v, 2] - box[v, 0])
        reach_y0 = ys[k] + box[u, 1] - (box[v, 3] - box[v, 1])
        reach_y1 = ys[k] + box[u, 3] + (box[v, 3] - box[v, 1])
        near_count = 0
        for j in range(n):
            w = laid[j]
            if (
                j != k
                and xs[j] + box[w, 0] < reach_x1
                and xs[j] + box[w, 2] > reach_x0
                and ys[j] + box[w, 1] < reach_y1
                and ys[j] + box[w, 3] > reach_y0
            ):
                near[near_count] = j
                near_count += 1
        for e in range(spans[r, 0], spans[r, 1] + 1):
            ex = xs[k] + c * edge[e, 0] - s * edge[e, 1]
            ey = ys[k] + c * edge[e, 1] + s * edge[e, 0]
            dx = c * edge[e, 2] - s * edge[e, 3]
            dy = c * edge[e, 3] + s * edge[e, 2]
            points = 0
            if x0 <= ex <= x1 and y0 <= ey <= y1:
                px[0] = ex
                py[0] = ey
                points = 1
            for side in range(4):
                if side < 2:
                    level = x0 if side == 0 else x1
                    if (ex < level) != (ex + dx < level):
                        at = ey + dy * ((level - ex) / dx)
                        if y0 <= at <= y1:
                            px[points] = level
                            py[points] = at
                            points += 1
                else:
                    level = y0 if side == 2 else y1
                    if (ey < level) != (ey + dy < level):
                        at = ex + dx * ((level - ey) / dy)
                        if x0 <= at <= x1:
                            px[points] = at
                            py[points] = level
                            points += 1
            for i in range(points):
                x = px[i]
                y = py[i]
                blocker = raw_blocker(
                    variant,
                    trig,
                    box,
                    relative,
                    table,
                    head,
                    dims,
                    cell,
                    item,
                    edge,
                    laid,
                    xs,
                    ys,
                    near,
                    near_count,
                    v,
                    x,
                    y,
                    tolerance,
                )
                if blocker >= 0:  # most likely it is in the way of the next as well
                    first_near = near[0]
                    near[0] = near[blocker]
                    near[blocker] = first_near
                    continue
                if used == len(out):
                    grown = np.empty((2 * used, 3))
                    grown[:used] = out
                    out = grown
                inside = (
                    x + box[v, 0] >= xs[k] + box[u, 0]
                    and x + box[v, 2] <= xs[k] + box[u, 2]
                    and y + box[v, 1] >= ys[k] + box[u, 1]
                    and y + box[v, 3] <= ys[k] + box[u, 3]
                )
                out[used, 0] = x
                out[used, 1] = y
                out[used, 2] = 1.0 if inside else 0.0
                used += 1
    return out[:used].copy()


@jit
def raw_run(
    variant: IntArray,
    trig: FloatArray,
    box: FloatArray,
    relative: IntArray,
    table: IntArray,
    edge: FloatArray,
    spans: IntArray,
    laid: IntArray,
    xs: FloatArray,
    ys: FloatArray,
    v: int,
    x: float,
    y: float,
    gx: float,
    gy: float,
    far: float,
) -> float:
    """How far `v` can move from a place along a unit vector before it is stopped."""
    for j in range(len(laid)):
        u = laid[j]
        # Boxes that the swept box never meets.
        ax = min(x, x + gx * far) + box[v, 0]
        bx = max(x, x + gx * far) + box[v, 2]
        ay = min(y, y + gy * far) + box[v, 1]
        by = max(y, y + gy * far) + box[v, 3]
        if (
            xs[j] + box[u, 0] >= bx
            or xs[j] + box[u, 2] <= ax
            or ys[j] + box[u, 1] >= by
            or ys[j] + box[u, 3] <= ay
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
            return 0.0
        lx = c * (x - xs[j]) + s * (y - ys[j])
        ly = c * (y - ys[j]) - s * (x - xs[j])
        hx = c * gx + s * gy
        hy = c * gy - s * gx
        for e in range(spans[r, 0], spans[r, 1] + 1):
            dx = edge[e, 2]
            dy = edge[e, 3]
            into = dx * hy - dy * hx  # above 0: the ray crosses to the edge's left
            if into <= 0.0:
                continue
            ox = edge[e, 0] - lx
            oy = edge[e, 1] - ly
            t = (dx * oy - dy * ox) / into
            if t >= far or t < -BEHIND:
                continue
            q = (hx * oy - hy * ox) / into
            if -1e-9 <= q <= 1.0 + 1e-9:
                far = max(t, 0.0)
    return far


@jit
def best_place(
    regions: Regions,
    spans: IntArray,
    laid: IntArray,
    xs: FloatArray,
    ys: FloatArray,
    v: int,
    rectangle: FloatArray,
    known: FloatArray,
    weights: FloatArray,
    tries: int,
    tolerance: float,
) -> tuple[float, float, float]:
    """Cost, x and y of the best place for `v`; infinite cost if there is none.

    The cost of a place is ``weights[0]`` times the right edge of the copy plus
    ``weights[1]`` times its upper edge, less ``weights[2]`` inside another's box. The
    `tries` best candidates are slid to the left and down in turn.
    """
    (variant, trig, box, relative, table, head, dims, cell, item, edge) = regions
    every = np.arange(len(laid)).astype(np.int32)
    n = len(known)
    cost = np.empty(n)
    for i in range(n):
        cost[i] = (
            weights[0] * (known[i, 0] + box[v, 2])
            + weights[1] * (known[i, 1] + box[v, 3])
            - weights[2] * known[i, 2]
        )
    best = math.inf
    best_x = 0.0
    best_y = 0.0
    for _ in range(min(tries, n)):
        i = int(np.argmin(cost))
        if cost[i] == math.inf:
            break
        x = known[i, 0]
        y = known[i, 1]
        here = cost[i]
        cost[i] = math.inf
        if here < best:
            best = here
            best_x = x
            best_y = y
        left_first = weights[0] >= weights[1]
        for turn in range(6):
            if (turn % 2 == 0) == left_first:
                gx = -1.0
                gy = 0.0
                far = x - rectangle[0]
            else:
                gx = 0.0
                gy = -1.0
                far = y - rectangle[1]
            if far > 0.0:
                far = raw_run(
                    variant,
                    trig,
                    box,
                    relative,
                    table,
                    edge,
                    spans,
                    laid,
                    xs,
                    ys,
                    v,
                    x,
                    y,
                    gx,
                    gy,
                    far,
                )
                x += gx * far
                y += gy * far
            elif turn >= 2:
                break
            if turn >= 2 and far <= 1e-6:
                break
        slid = (
            weights[0] * (x + box[v, 2])
            + weights[1] * (y + box[v, 3])
            - weights[2] * known[i, 2]
        )
        if (
            slid < best
            and raw_blocker(
                variant,
                trig,
                box,
                relative,
                table,
                head,
                dims,
                cell,
                item,
                edge,
                laid,
                xs,
                ys,
                every,
                len(laid),
                v,
                x,
                y,
                tolerance,
            )
            < 0
        ):
            best = slid
            best_x = x
            best_y = y
    return best, best_x, best_y
