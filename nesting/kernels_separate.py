"""Compiled separation: move overlapping copies one at a time until none overlaps.

The kernel works on copies of variants in one or more rooms, movable or fixed. The cost
of a copy at a place is the weighted sum, over the copies it overlaps there, of the
penetration depth plus a small constant, scaled by the sizes of the pair. Pairs that
stay stuck get heavier, the others slowly lighter.

`separate` is resumable: it returns when its budget of evaluations is used up and goes
on from its state arrays as if it had not stopped, so the result depends on the seed and
the total budget only, not on how it was cut into slices.

References
----------
Guided local search: Voudouris & Tsang 1999, doi:10.1016/S0377-2217(98)00099-X. For
nesting: Egeblad, Nielsen & Odgaard 2007, doi:10.1016/j.ejor.2005.11.063; Umetani et
al. 2009, doi:10.1111/j.1475-3995.2009.00707.x; Imamichi, Yagiura & Nagamochi 2009,
doi:10.1016/j.disopt.2009.04.002; Elkeran 2013, doi:10.1016/j.ejor.2013.06.020.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .kernels import (
    FloatArray,
    IntArray,
    Regions,
    jit,
    raw_boxes_apart,
    raw_cell,
    raw_cell_depth,
    raw_pair_depth,
)

# Status codes of `separate`.
RUNNING, SEPARATED, STUCK, MISSING = 0, 1, 2, 3

# Rows of the counters' array.
CURSOR, QUEUED, PASSES, STALL, EVALUATIONS, MOVES, WANTED = 0, 1, 2, 3, 4, 5, 6
COUNTERS = 8

# Rows of the array of parameters.
UNIFORM, FOCUSED, KEPT, DESCENT, PATIENCE, CONTACT, TOLERANCE, GAIN, DECAY = (
    0,
    1,
    2,
    3,
    4,
    5,
    6,
    7,
    8,
)
TURNS, ROOMS, PUSHES, GRID = 9, 10, 11, 12
PARAMETERS = 13

COLUMNS = 16
"""Columns of places for which the copies that can be met there are looked up."""

FEW = 32
"""Copies in a room up to which that does not pay."""


@jit
def draw(state: NDArray[np.uint64]) -> float:
    """Next uniform number in [0, 1) of the splitmix64 sequence."""
    state[0] += np.uint64(0x9E3779B97F4A7C15)
    z = state[0]
    z = (z ^ (z >> np.uint64(30))) * np.uint64(0xBF58476D1CE4E5B9)
    z = (z ^ (z >> np.uint64(27))) * np.uint64(0x94D049BB133111EB)
    z = z ^ (z >> np.uint64(31))
    uniform: float = np.float64(z >> np.uint64(11)) * (1.0 / 9007199254740992.0)
    return uniform


@jit
def snapped(value: float, offset: float, grid: float, low: float, high: float) -> float:
    """Nearest place on the grid within the limits."""
    out: float = math.floor((value + offset) / grid + 0.5) * grid - offset
    if out < low - 1e-4 * grid:
        out += grid
    if out > high + 1e-4 * grid:
        out -= grid
    return out


@jit
def raw_cost(
    near: FloatArray,
    region: IntArray,
    begin: IntArray,
    end: IntArray,
    across: FloatArray,
    head: FloatArray,
    dims: IntArray,
    cell: IntArray,
    item: IntArray,
    edge: FloatArray,
    tolerance: float,
    x: float,
    y: float,
    bx0: float,
    by0: float,
    bx1: float,
    by1: float,
    bound: float,
) -> float:
    """Weighted overlap at a place; stops early once it reaches the bound.

    See `raw_gather` for the rows of `near` and `raw_columns` for the columns.
    """
    x0 = x + bx0
    y0 = y + by0
    x1 = x + bx1
    y1 = y + by1
    cost: float = 0.0
    here = min(max(int((x - across[0]) * across[1]), 0), COLUMNS - 1)
    for k in range(begin[here], end[here]):
        if x1 <= near[0, k] or x0 >= near[2, k] or y1 <= near[1, k] or y0 >= near[3, k]:
            continue
        dx = x - near[4, k]
        dy = y - near[5, k]
        c = near[6, k]
        s = near[7, k]
        qx = c * dx + s * dy
        qy = c * dy - s * dx
        # Leaving here is faster than by a depth of 0 from `raw_region_depth`.
        at = raw_cell(head, dims, region[k], qx, qy)
        if at < 0:
            continue
        d = raw_cell_depth(cell, item, edge, at, qx, qy)
        if d > tolerance:
            cost += near[8, k] * (d + near[9, k])
            if cost >= bound:
                return cost
    return cost


@jit
def raw_columns(
    near: FloatArray,
    count: int,
    low: float,
    high: float,
    bx0: float,
    bx1: float,
    begin: IntArray,
    end: IntArray,
    across: FloatArray,
) -> None:
    """Find which of the gathered copies can be met in each column of places.

    Parameters
    ----------
    low, high : float
        Least and greatest place along x of the copy to be moved.
    bx0, bx1 : float
        Its box along x.
    begin, end : int32 (COLUMNS,)
        Receive the range of copies of each column; they are sorted by their left edge.
    across : float64 (2,)
        Receives the first column's begin and the reciprocal of their width.
    """
    wide = (high - low) / COLUMNS
    across[0] = low
    across[1] = 0.0
    begin[0] = 0
    end[0] = count
    if count <= FEW or wide <= 0.0:
        return
    across[1] = 1.0 / wide
    slack = 1e-6 * wide
    first = 0
    last = 0
    reach = -math.inf  # right-most edge of the copies before `first` + 1
    for c in range(COLUMNS):
        # Columns at either end hold what is rounded beyond them, too.
        from_x = low + c * wide - slack
        to_x = low + (c + 1) * wide + slack
        while first < count:
            reach = max(reach, near[2, first])
            if c > 0 and reach - bx0 <= from_x:
                first += 1
            else:
                break
        if c == COLUMNS - 1:
            last = count
        while last < count and near[0, last] - bx1 < to_x:
            last += 1
        begin[c] = first
        end[c] = max(last, first)


@jit
def raw_gather(
    variant: IntArray,
    trig: FloatArray,
    box: FloatArray,
    relative: IntArray,
    table: IntArray,
    at: IntArray,
    member: IntArray,
    members: IntArray,
    x: FloatArray,
    y: FloatArray,
    size: FloatArray,
    weight: NDArray[np.float32],
    contact: float,
    i: int,
    v: int,
    b: int,
    near: FloatArray,
    region: IntArray,
) -> int:
    """Gather the copies of room `b` as copy `i` meets them as variant `v`; count them.

    Rows of `near`: 0-3 box, 4-5 place, 6-7 cosine and sine of the region's frame,
    signed by its direction, 8 weight, 9 the constant for any contact. Returns -1 if a
    region has not been built.
    """
    count = 0
    a = variant[v, 0]
    for q in range(members[b]):
        j = member[b, q]
        if j == i:
            continue
        u = at[j]
        near[0, count] = x[j] + box[u, 0]
        near[1, count] = y[j] + box[u, 1]
        near[2, count] = x[j] + box[u, 2]
        near[3, count] = y[j] + box[u, 3]
        near[4, count] = x[j]
        near[5, count] = y[j]
        c = variant[u, 0]
        if c <= a:
            region[count] = table[c, a, relative[variant[u, 1], variant[v, 1]]]
            near[6, count] = trig[u, 0]
            near[7, count] = trig[u, 1]
        else:
            region[count] = table[a, c, relative[variant[v, 1], variant[u, 1]]]
            near[6, count] = -trig[v, 0]
            near[7, count] = -trig[v, 1]
        if region[count] < 0:
            return -1
        scale = math.sqrt(size[i] * size[j])
        near[8, count] = weight[i, j] * scale
        near[9, count] = contact * scale
        count += 1
    return count


@jit
def raw_enter(
    member: IntArray, members: IntArray, left: FloatArray, b: int, i: int
) -> None:
    """Add a copy to a room's members, which are sorted by their left edge."""
    k = members[b]
    while k > 0 and (
        left[member[b, k - 1]] > left[i]
        or (left[member[b, k - 1]] == left[i] and member[b, k - 1] > i)
    ):
        member[b, k] = member[b, k - 1]
        k -= 1
    member[b, k] = i
    members[b] += 1


@jit
def raw_leave(member: IntArray, members: IntArray, b: int, i: int) -> None:
    """Take a copy out of a room's members."""
    k = 0
    while member[b, k] != i:
        k += 1
    members[b] -= 1
    for q in range(k, members[b]):
        member[b, q] = member[b, q + 1]


@jit
def raw_pushes(
    near: FloatArray,
    region: IntArray,
    count: int,
    head: FloatArray,
    dims: IntArray,
    cell: IntArray,
    item: IntArray,
    edge: FloatArray,
    tolerance: float,
    x: float,
    y: float,
    bx0: float,
    by0: float,
    bx1: float,
    by1: float,
    push: FloatArray,
) -> int:
    """Find the shortest pushes out of the two costliest overlaps at a place.

    Rows of `push` get the push ``x, y`` and the cost of either, the costlier first;
    returns how many there are, 0 to 2.
    """
    push[0, 2] = 0.0
    push[1, 2] = 0.0
    found = 0
    for k in range(count):
        if (
            x + bx1 <= near[0, k]
            or x + bx0 >= near[2, k]
            or y + by1 <= near[1, k]
            or y + by0 >= near[3, k]
        ):
            continue
        c = near[6, k]
        s = near[7, k]
        dx = x - near[4, k]
        dy = y - near[5, k]
        qx = c * dx + s * dy
        qy = c * dy - s * dx
        at = raw_cell(head, dims, region[k], qx, qy)
        if at < 0:
            continue
        d = raw_cell_depth(cell, item, edge, at, qx, qy)
        if d <= tolerance:
            continue
        found += 1
        cost = near[8, k] * (d + near[9, k])
        if cost <= push[1, 2]:
            continue
        best = math.inf
        ex = 0.0
        ey = 0.0
        for q in range(cell[at, 0], cell[at, 1]):
            e = item[q]
            px = qx - edge[e, 0]
            py = qy - edge[e, 1]
            t = (px * edge[e, 2] + py * edge[e, 3]) * edge[e, 4]
            t = min(max(t, 0.0), 1.0)
            px -= t * edge[e, 2]
            py -= t * edge[e, 3]
            far = px * px + py * py
            if far < best:
                best = far
                ex = -px
                ey = -py
        slot = 1
        if cost > push[0, 2]:
            push[1] = push[0]
            slot = 0
        push[slot, 0] = c * ex - s * ey
        push[slot, 1] = c * ey + s * ex
        push[slot, 2] = cost
    return min(found, 2)


@jit
def raw_total(
    regions: Regions,
    at: IntArray,
    member: IntArray,
    members: IntArray,
    left: FloatArray,
    movable: NDArray[np.bool_],
    x: FloatArray,
    y: FloatArray,
    size: FloatArray,
    weight: NDArray[np.float32],
    heavy: IntArray,
    heavies: IntArray,
    stuck: NDArray[np.bool_],
    parameters: FloatArray,
    reweigh: bool,
) -> float:
    """Unweighted overlap of all pairs; marks the copies in one, updates the weights.

    `heavy` lists the pairs whose weight is not 1, ``heavies[0]`` of them. Returns
    ``-1 - i`` if a region of copy `i` has not been built; nothing is then changed that
    a second call would not set anew.
    """
    (variant, trig, box, relative, table, head, dims, cell, item, edge) = regions
    n = len(at)
    total = 0.0
    tolerance = parameters[TOLERANCE]
    contact = parameters[CONTACT]
    worst = 0.0
    for i in range(n):
        stuck[i] = False
    depth = np.zeros(64)
    pairs = np.zeros((64, 2), dtype=np.int32)
    found = 0
    for b in range(len(members)):
        m = members[b]
        for q in range(m):
            i = member[b, q]
            u = at[i]
            right = x[i] + box[u, 2]
            for k in range(q + 1, m):
                j = member[b, k]
                if left[j] >= right:
                    break
                if not (movable[i] or movable[j]):
                    continue
                v = at[j]
                if raw_boxes_apart(box, u, x[i], y[i], v, x[j], y[j]):
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
                    x[j] - x[i],
                    y[j] - y[i],
                )
                if d < 0.0:
                    return -1.0 - np.float64(i)
                if d <= tolerance:
                    continue
                scale = math.sqrt(size[i] * size[j])
                d = (d + contact * scale) * scale
                total += d
                worst = max(worst, d)
                stuck[i] = stuck[i] or movable[i]
                stuck[j] = stuck[j] or movable[j]
                if found == len(depth):
                    wider = np.zeros(2 * found)
                    wider[:found] = depth
                    depth = wider
                    longer = np.zeros((2 * found, 2), dtype=np.int32)
                    longer[:found] = pairs
                    pairs = longer
                depth[found] = d
                pairs[found, 0] = i
                pairs[found, 1] = j
                found += 1
    if reweigh and found > 0:
        decay = parameters[DECAY]
        gain = parameters[GAIN]
        for k in range(found):  # what is stuck does not decay
            i = pairs[k, 0]
            j = pairs[k, 1]
            if weight[i, j] == 1.0 and heavies[0] < len(heavy):
                heavy[heavies[0], 0] = i
                heavy[heavies[0], 1] = j
                heavies[0] += 1
            w = weight[i, j] / decay * (1.2 + gain * depth[k] / worst)
            w = min(w, 1e12)
            weight[i, j] = w
            weight[j, i] = w
        kept = 0
        for k in range(heavies[0]):
            i = heavy[k, 0]
            j = heavy[k, 1]
            w = weight[i, j] * decay
            if w <= 1.0:
                weight[i, j] = 1.0
                weight[j, i] = 1.0
                continue
            weight[i, j] = w
            weight[j, i] = w
            heavy[kept, 0] = i
            heavy[kept, 1] = j
            kept += 1
        heavies[0] = kept
    return total


@jit
def separate(
    regions: Regions,
    rooms: FloatArray,
    open_rooms: IntArray,
    room_class: IntArray,
    menu: IntArray,
    menus: IntArray,
    at: IntArray,
    room: IntArray,
    movable: NDArray[np.bool_],
    x: FloatArray,
    y: FloatArray,
    size: FloatArray,
    weight: NDArray[np.float32],
    heavy: IntArray,
    heavies: IntArray,
    member: IntArray,
    members: IntArray,
    order: IntArray,
    best_at: IntArray,
    best_room: IntArray,
    best_x: FloatArray,
    best_y: FloatArray,
    best: FloatArray,
    counters: NDArray[np.int64],
    random: NDArray[np.uint64],
    parameters: FloatArray,
    offset: FloatArray,
    budget: int,
) -> int:
    """Run the guided local search until it separates, stalls or uses up its budget.

    Parameters
    ----------
    rooms : float64 (b, 4)
        Rectangle of each room.
    open_rooms : int32 (k,)
        Rooms a copy may move to, besides the one it lies in.
    room_class : int32 (b,)
        Rooms of one class allow the same variants.
    menu : int32 (n, c, 2), menus : int32 (m,)
        Start in `menus` and count of the variants a copy may take, by class of room.
    at, room, x, y : (n,)
        Variant, room and place of each copy; changed in place.
    movable : bool (n,)
    size : float64 (n,)
        Length that stands for the copy's size.
    weight : float32 (n, n)
    heavy : int32 (h, 2), heavies : int32 (1,)
        Pairs of a weight above 1, and their count.
    member : int32 (b, n), members : int32 (b,)
        Each room's copies, sorted by their left edge, and their count; together all
        copies in any order at the start.
    order : int32 (n,)
        Queue of the running pass.
    best_at, best_room, best_x, best_y, best
        The layout of least overlap so far, and that overlap in ``best[0]``.
    counters : int64 (8,), random : uint64 (1,), parameters : float64 (13,)
    offset : float64 (m, 2)
        Of each variant: a place plus it is the translation of the drawing.
    budget : int
        Evaluations after which to return `RUNNING`.

    Returns
    -------
    int
        `RUNNING`, `SEPARATED`, `STUCK`, or `MISSING` when a region has to be built for
        copy ``counters[WANTED]`` first.
    """
    (variant, trig, box, relative, table, head, dims, cell, item, edge) = regions
    n = len(at)
    used = 0
    kept = int(parameters[KEPT])
    tolerance = parameters[TOLERANCE]
    contact = parameters[CONTACT]
    grid = parameters[GRID]
    near = np.empty((10, n))
    region = np.empty(n, dtype=np.int32)
    tried = np.empty(max(int(parameters[ROOMS]), 1), dtype=np.int32)
    stuck = np.zeros(n, dtype=np.bool_)
    top_cost = np.empty(kept + 1)
    top = np.empty((kept + 1, 2))
    top_at = np.empty((kept + 1, 2), dtype=np.int32)
    push = np.zeros((2, 3))
    way = np.zeros((3, 2))
    begin = np.zeros(COLUMNS, dtype=np.int32)
    end = np.zeros(COLUMNS, dtype=np.int32)
    across = np.zeros(2)
    left = np.empty(n)
    # The members as they were give an order in which sorting is quick.
    sequence = np.empty(n, dtype=np.int32)
    q = 0
    for b in range(len(members)):
        for k in range(members[b]):
            sequence[q] = member[b, k]
            q += 1
        members[b] = 0
    for i in range(n):
        left[i] = x[i] + box[at[i], 0]
    for q in range(n):
        raw_enter(member, members, left, room[sequence[q]], sequence[q])
    while True:
        if counters[CURSOR] >= counters[QUEUED]:
            total = raw_total(
                regions,
                at,
                member,
                members,
                left,
                movable,
                x,
                y,
                size,
                weight,
                heavy,
                heavies,
                stuck,
                parameters,
                counters[QUEUED] > 0,
            )
            if total < 0.0:
                counters[WANTED] = int(-1.0 - total)
                counters[EVALUATIONS] += used
                return MISSING
            if total < best[0]:
                counters[STALL] = 0 if total < 0.98 * best[0] else counters[STALL] + 1
                best[0] = total
                best_at[:] = at
                best_room[:] = room
                best_x[:] = x
                best_y[:] = y
            else:
                counters[STALL] += 1
            if total == 0.0:
                counters[CURSOR] = 0
                counters[QUEUED] = 0
                counters[EVALUATIONS] += used
                return SEPARATED
            if counters[STALL] > parameters[PATIENCE]:
                counters[CURSOR] = 0
                counters[QUEUED] = 0
                counters[EVALUATIONS] += used
                return STUCK
            queued = 0
            for i in range(n):
                if stuck[i]:
                    order[queued] = i
                    queued += 1
            for i in range(queued - 1, 0, -1):
                k = int(draw(random) * (i + 1))
                order[i], order[k] = order[k], order[i]
            counters[CURSOR] = 0
            counters[QUEUED] = queued
            counters[PASSES] += 1
        if used >= budget:
            counters[EVALUATIONS] += used
            return RUNNING
        i = order[counters[CURSOR]]
        # Where a region is missing, the move is begun again when it is there, with the
        # same random numbers, so that the search does not depend on what was built.
        used_before = used
        random_before = random[0]
        missing = False
        counters[CURSOR] += 1
        # ---- cost where it is
        here = at[i]
        for k in range(kept + 1):
            top_cost[k] = math.inf
        found = 0
        current = 0.0
        # Its own room, then others without repetition.
        tried[0] = room[i]
        rooms_tried = 1
        for _ in range(1, min(len(tried), len(open_rooms))):
            b = open_rooms[int(draw(random) * len(open_rooms))]
            new = True
            for k in range(rooms_tried):
                new = new and tried[k] != b
            if new:
                tried[rooms_tried] = b
                rooms_tried += 1
        for k_room in range(rooms_tried):
            if missing:
                break
            b = tried[k_room]
            start = menu[i, room_class[b], 0]
            choices = menu[i, room_class[b], 1]
            turns = min(choices, int(parameters[TURNS]))
            # At home the present variant comes first; then all, or some at random.
            for trial in range(-1 if k_room == 0 else 0, turns):
                if trial < 0:
                    v = here
                elif turns < choices:
                    v = menus[start + int(draw(random) * choices)]
                else:
                    v = menus[start + trial]
                if trial >= 0 and k_room == 0 and v == here:
                    continue
                x0 = rooms[b, 0] - box[v, 0]
                y0 = rooms[b, 1] - box[v, 1]
                x1 = rooms[b, 2] - box[v, 2]
                y1 = rooms[b, 3] - box[v, 3]
                if x0 > x1 or y0 > y1:
                    continue
                count = raw_gather(
                    variant,
                    trig,
                    box,
                    relative,
                    table,
                    at,
                    member,
                    members,
                    x,
                    y,
                    size,
                    weight,
                    contact,
                    i,
                    v,
                    b,
                    near,
                    region,
                )
                if count < 0:
                    missing = True
                    break
                raw_columns(
                    near, count, x0, x1, box[v, 0], box[v, 2], begin, end, across
                )
                home = trial < 0
                if home:
                    current = raw_cost(
                        near,
                        region,
                        begin,
                        end,
                        across,
                        head,
                        dims,
                        cell,
                        item,
                        edge,
                        tolerance,
                        x[i],
                        y[i],
                        box[v, 0],
                        box[v, 1],
                        box[v, 2],
                        box[v, 3],
                        math.inf,
                    )
                    used += 1
                    top_cost[0] = current
                    top[0, 0] = x[i]
                    top[0, 1] = y[i]
                    top_at[0, 0] = v
                    top_at[0, 1] = b
                    found = 1
                samples = int(parameters[UNIFORM])
                around = int(parameters[FOCUSED]) if home else 0
                reach = 0.15 * max(box[v, 2] - box[v, 0], box[v, 3] - box[v, 1])
                for k in range(samples + around):
                    px = x0 + draw(random) * (x1 - x0)
                    py = y0 + draw(random) * (y1 - y0)
                    if k >= samples:
                        px = x[i] + (2.0 * draw(random) - 1.0) * reach
                        py = y[i] + (2.0 * draw(random) - 1.0) * reach
                        px = min(max(px, x0), x1)
                        py = min(max(py, y0), y1)
                    if grid > 0.0:
                        px = snapped(px, offset[v, 0], grid, x0, x1)
                        py = snapped(py, offset[v, 1], grid, y0, y1)
                    bound = top_cost[kept - 1]
                    cost = raw_cost(
                        near,
                        region,
                        begin,
                        end,
                        across,
                        head,
                        dims,
                        cell,
                        item,
                        edge,
                        tolerance,
                        px,
                        py,
                        box[v, 0],
                        box[v, 1],
                        box[v, 2],
                        box[v, 3],
                        bound,
                    )
                    used += 1
                    if cost < bound:
                        q = min(found, kept - 1)
                        while q > 0 and top_cost[q - 1] > cost:
                            top_cost[q] = top_cost[q - 1]
                            top[q] = top[q - 1]
                            top_at[q] = top_at[q - 1]
                            q -= 1
                        top_cost[q] = cost
                        top[q, 0] = px
                        top[q, 1] = py
                        top_at[q, 0] = v
                        top_at[q, 1] = b
                        found = min(found + 1, kept)
        if missing:
            random[0] = random_before
            counters[CURSOR] -= 1
            counters[WANTED] = i
            counters[EVALUATIONS] += used_before
            return MISSING
        # ---- descend from the kept places
        win = 0
        for t in range(found):
            v = top_at[t, 0]
            b = top_at[t, 1]
            x0 = rooms[b, 0] - box[v, 0]
            y0 = rooms[b, 1] - box[v, 1]
            x1 = rooms[b, 2] - box[v, 2]
            y1 = rooms[b, 3] - box[v, 3]
            count = raw_gather(
                variant,
                trig,
                box,
                relative,
                table,
                at,
                member,
                members,
                x,
                y,
                size,
                weight,
                contact,
                i,
                v,
                b,
                near,
                region,
            )
            raw_columns(near, count, x0, x1, box[v, 0], box[v, 2], begin, end, across)
            cost = top_cost[t]
            px = top[t, 0]
            py = top[t, 1]
            step = 0.04 * size[i]
            least = parameters[DESCENT] * size[i]
            if grid > 0.0:
                least = 0.45 * grid
                step = max(step, 1.6 * grid)
            while step > least and cost > 0.0:
                turn = draw(random) * (0.5 * math.pi)
                ux = math.cos(turn) * step
                uy = math.sin(turn) * step
                better = False
                for _ in range(4):
                    qx = min(max(px + ux, x0), x1)
                    qy = min(max(py + uy, y0), y1)
                    if grid > 0.0:
                        qx = snapped(qx, offset[v, 0], grid, x0, x1)
                        qy = snapped(qy, offset[v, 1], grid, y0, y1)
                        if qx == px and qy == py:
                            ux, uy = -uy, ux
                            continue
                    trying = raw_cost(
                        near,
                        region,
                        begin,
                        end,
                        across,
                        head,
                        dims,
                        cell,
                        item,
                        edge,
                        tolerance,
                        qx,
                        qy,
                        box[v, 0],
                        box[v, 1],
                        box[v, 2],
                        box[v, 3],
                        cost,
                    )
                    used += 1
                    if trying < cost:
                        cost = trying
                        px = qx
                        py = qy
                        better = True
                        break
                    ux, uy = -uy, ux
                step *= 1.2 if better else 0.55
            # A descent only comes near a contact; the push out of the costliest
            # overlaps, one or both at once, leads exactly onto it.
            for _ in range(int(parameters[PUSHES])):
                if cost == 0.0:
                    break
                pushes = raw_pushes(
                    near,
                    region,
                    count,
                    head,
                    dims,
                    cell,
                    item,
                    edge,
                    tolerance,
                    px,
                    py,
                    box[v, 0],
                    box[v, 1],
                    box[v, 2],
                    box[v, 3],
                    push,
                )
                ways = 0
                if pushes == 2:
                    # The move whose share along either push is that whole push.
                    ax = push[0, 0]
                    ay = push[0, 1]
                    bx = push[1, 0]
                    by = push[1, 1]
                    cross = ax * by - ay * bx
                    aa = ax * ax + ay * ay
                    bb = bx * bx + by * by
                    if cross * cross > 1e-6 * aa * bb:
                        way[0, 0] = (aa * by - bb * ay) / cross
                        way[0, 1] = (bb * ax - aa * bx) / cross
                        ways = 1
                    way[ways + 1, 0] = bx
                    way[ways + 1, 1] = by
                if pushes > 0:
                    way[ways, 0] = push[0, 0]
                    way[ways, 1] = push[0, 1]
                    ways += pushes
                better = False
                for k in range(ways):
                    qx = min(max(px + way[k, 0] * (1.0 + 1e-9), x0), x1)
                    qy = min(max(py + way[k, 1] * (1.0 + 1e-9), y0), y1)
                    trying = raw_cost(
                        near,
                        region,
                        begin,
                        end,
                        across,
                        head,
                        dims,
                        cell,
                        item,
                        edge,
                        tolerance,
                        qx,
                        qy,
                        box[v, 0],
                        box[v, 1],
                        box[v, 2],
                        box[v, 3],
                        cost,
                    )
                    used += 1
                    if trying < cost:
                        cost = trying
                        px = qx
                        py = qy
                        better = True
                        break
                if not better:
                    break
            top_cost[t] = cost
            top[t, 0] = px
            top[t, 1] = py
            if cost < top_cost[win]:
                win = t
        if top_cost[win] < current:
            raw_leave(member, members, room[i], i)
            x[i] = top[win, 0]
            y[i] = top[win, 1]
            at[i] = top_at[win, 0]
            room[i] = top_at[win, 1]
            left[i] = x[i] + box[at[i], 0]
            raw_enter(member, members, left, room[i], i)
            counters[MOVES] += 1
