"""Compiled search for rectangles on bins of several kinds: take out, lay anew.

A bin's free room is kept as its **maximal free rectangles**: each one cannot be made
larger without meeting what is laid, and together they cover all that is free. A copy is
laid in the corner of one of them; those it meets are split, and what lies within
another is dropped.

The search is given a **budget**, what all open bins may cost together, and tries to
leave no copy out: it empties a few bins or a spot of them, lays what is loose in some
order by some rule of fit, and keeps the result unless much more is left out than
before.

Coordinates are whole numbers, so nothing rounds. Every kernel releases the GIL and is
deterministic: randomness comes from the one number in `State.random`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

LongArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int32]
ByteArray = NDArray[np.uint8]

_F = TypeVar("_F", bound=Callable[..., object])

UPRIGHT, TURNED = 1, 2
"""Bits of what a copy may do in a kind of bin: lie as drawn; lie a quarter turned."""

RULES = 5
"""Rules of fit; see `fit`."""

MOST_WORK = 400_000
"""Work of one step at most, so that a stop is heard: some 40 ms."""

MOST_TAKEN = 60
"""Copies taken out at one step, about."""

DONE, WORKED, FAILED = 0, 1, 2
"""All copies are laid; the work is used up; a copy fits no kind of bin."""


def jit(function: _F) -> _F:
    """Compile without the GIL, cached on disk, and keep the function's type."""
    options = numba.njit(nogil=True, cache=True, error_model="numpy")
    return cast(_F, options(function))


class Goods(NamedTuple):
    """The copies and the kinds of bin.

    Attributes
    ----------
    width, height, area : int64 (n,)
        Of each copy as drawn, grown by the gap.
    same : int32 (n,)
        Copies with equal entries can be exchanged.
    may : uint8 (n, k)
        Whether a copy may lie upright (1), turned (2), either (3) or not at all (0)
        in each kind of bin.
    cost : float64 (k,)
        Of one bin of a kind.
    supply : int64 (k,)
        How many there are.
    room : int64 (k,)
        Area free in an empty bin.
    start : int32 (k + 1,)
        Rows of `free`.
    free : int64 (m, 4)
        Maximal free rectangles ``x0, y0, x1, y1`` of an empty bin.
    least : int64 (2,)
        Least size of a copy along x and along y: less room is of no use.
    """

    width: LongArray
    height: LongArray
    area: LongArray
    same: IntArray
    may: ByteArray
    cost: FloatArray
    supply: LongArray
    room: LongArray
    start: IntArray
    free: LongArray
    least: LongArray


class Bins(NamedTuple):
    """Bins with what lies on them; a bin of kind -1 is not open.

    Attributes
    ----------
    kind, laid, frees : int32 (b,)
        Kind, number of copies, number of free rectangles.
    used : int64 (b,)
        Area of the copies.
    item : int32 (b, c)
        The copies.
    x, y : int64 (b, c)
        Their lower left corners.
    turned : uint8 (b, c)
        Whether each lies a quarter turned.
    free : int64 (b, f, 4)
        Maximal free rectangles; the smallest are forgotten where there are too many.
    """

    kind: IntArray
    laid: IntArray
    frees: IntArray
    used: LongArray
    item: IntArray
    x: LongArray
    y: LongArray
    turned: ByteArray
    free: LongArray


class State(NamedTuple):
    """What a search carries from call to call.

    Attributes
    ----------
    loose : int32 (n + 1,)
        Copies that are not laid; their number stands last.
    weight : float64 (n,)
        How much it matters that a copy is laid.
    random : uint64 (1,)
    touched : int32 (b + 1,)
        Bins changed since the last state kept; their number stands last.
    scratch : int64 (f, 4)
    key : float64 (n,)
    """

    loose: IntArray
    weight: FloatArray
    random: NDArray[np.uint64]
    touched: IntArray
    scratch: LongArray
    key: FloatArray


@jit
def draw(random: NDArray[np.uint64]) -> float:
    """Draw a number from 0 up to 1 (xorshift64*, doi:10.1145/2845077)."""
    s = random[0]
    s ^= s >> np.uint64(12)
    s ^= s << np.uint64(25)
    s ^= s >> np.uint64(27)
    random[0] = s
    return float((s * np.uint64(2685821657736338717)) >> np.uint64(11)) / 2.0**53


# ---------------------------------------------------------------- free rectangles


@jit
def carve(
    free: LongArray,
    count: int,
    scratch: LongArray,
    x0: int,
    y0: int,
    x1: int,
    y1: int,
    least_x: int,
    least_y: int,
) -> int:
    """Take a rectangle out of free rectangles, in place; return how many are left.

    Parameters
    ----------
    free : int64 (f, 4)
        The first `count` rows are maximal free rectangles.
    scratch : int64 (s, 4)
        Room to work in.
    least_x, least_y : int
        Free rectangles smaller than this are dropped.
    """
    pieces = 0
    room = len(scratch)
    i = 0
    while i < count:
        a0 = free[i, 0]
        b0 = free[i, 1]
        a1 = free[i, 2]
        b1 = free[i, 3]
        if x0 >= a1 or x1 <= a0 or y0 >= b1 or y1 <= b0:
            i += 1
            continue
        count -= 1
        free[i] = free[count]
        if pieces + 4 > room:
            continue
        if x0 - a0 >= least_x:
            scratch[pieces] = (a0, b0, x0, b1)
            pieces += 1
        if a1 - x1 >= least_x:
            scratch[pieces] = (x1, b0, a1, b1)
            pieces += 1
        if y0 - b0 >= least_y:
            scratch[pieces] = (a0, b0, a1, y0)
            pieces += 1
        if b1 - y1 >= least_y:
            scratch[pieces] = (a0, y1, a1, b1)
            pieces += 1
    old = count
    for p in range(pieces):
        a0 = scratch[p, 0]
        b0 = scratch[p, 1]
        a1 = scratch[p, 2]
        b1 = scratch[p, 3]
        inside = False
        for q in range(pieces):
            if (
                q != p
                and scratch[q, 0] <= a0
                and scratch[q, 1] <= b0
                and scratch[q, 2] >= a1
                and scratch[q, 3] >= b1
            ):
                same = (
                    scratch[q, 0] == a0
                    and scratch[q, 1] == b0
                    and scratch[q, 2] == a1
                    and scratch[q, 3] == b1
                )
                if not same or q < p:
                    inside = True
                    break
        if inside:
            continue
        for q in range(old):
            if (
                free[q, 0] <= a0
                and free[q, 1] <= b0
                and free[q, 2] >= a1
                and free[q, 3] >= b1
            ):
                inside = True
                break
        if inside:
            continue
        at = count
        if count == len(free):  # forget the smallest
            size = (a1 - a0) * (b1 - b0)
            for q in range(count):
                other = (free[q, 2] - free[q, 0]) * (free[q, 3] - free[q, 1])
                if other < size:
                    size = other
                    at = q
            if at == count:
                continue
            old = 0  # order is lost: what is contained may stay, which does no harm
        else:
            count += 1
        free[at] = (a0, b0, a1, b1)
    return count


@jit
def empty_bin(goods: Goods, bins: Bins, b: int, kind: int) -> None:
    """Make a bin an empty one of a kind."""
    bins.kind[b] = kind
    bins.laid[b] = 0
    bins.used[b] = 0
    first = goods.start[kind]
    many = min(goods.start[kind + 1] - first, bins.free.shape[1])
    for k in range(many):
        bins.free[b, k] = goods.free[first + k]
    bins.frees[b] = many


@jit
def lay(
    goods: Goods, bins: Bins, state: State, b: int, i: int, x: int, y: int, turned: int
) -> None:
    """Lay a copy down on a bin."""
    c = bins.laid[b]
    bins.item[b, c] = i
    bins.x[b, c] = x
    bins.y[b, c] = y
    bins.turned[b, c] = turned
    bins.laid[b] = c + 1
    bins.used[b] += goods.area[i]
    w = goods.height[i] if turned else goods.width[i]
    h = goods.width[i] if turned else goods.height[i]
    bins.frees[b] = carve(
        bins.free[b],
        bins.frees[b],
        state.scratch,
        x,
        y,
        x + w,
        y + h,
        goods.least[0],
        goods.least[1],
    )


@jit
def lay_all(
    goods: Goods,
    bins: Bins,
    state: State,
    at: LongArray,
    x: LongArray,
    y: LongArray,
    turned: ByteArray,
) -> None:
    """Lay every copy down on its bin; those at bin -1 are left as they are."""
    for i in range(len(at)):
        if at[i] >= 0:
            lay(goods, bins, state, at[i], i, x[i], y[i], turned[i])


@jit
def renew(goods: Goods, bins: Bins, state: State, b: int) -> None:
    """Work the free rectangles of a bin out anew from what lies on it."""
    many = bins.laid[b]
    kind = bins.kind[b]
    empty_bin(goods, bins, b, kind)
    for c in range(many):
        lay(
            goods,
            bins,
            state,
            b,
            bins.item[b, c],
            bins.x[b, c],
            bins.y[b, c],
            bins.turned[b, c],
        )


# ---------------------------------------------------------------- where a copy fits


@jit
def contact(
    goods: Goods, bins: Bins, b: int, x0: int, y0: int, x1: int, y1: int
) -> int:
    """Length along which a rectangle would touch what is laid."""
    total = 0
    for c in range(bins.laid[b]):
        i = bins.item[b, c]
        a0 = bins.x[b, c]
        b0 = bins.y[b, c]
        if bins.turned[b, c]:
            a1 = a0 + goods.height[i]
            b1 = b0 + goods.width[i]
        else:
            a1 = a0 + goods.width[i]
            b1 = b0 + goods.height[i]
        if a1 == x0 or a0 == x1:
            total += max(min(b1, y1) - max(b0, y0), 0)
        if b1 == y0 or b0 == y1:
            total += max(min(a1, x1) - max(a0, x0), 0)
    return total


@jit
def fit(
    goods: Goods,
    bins: Bins,
    b: int,
    i: int,
    rule: int,
    blink: float,
    random: NDArray[np.uint64],
) -> tuple[float, float, int, int, int]:
    """Find the best place for a copy on a bin.

    Parameters
    ----------
    rule : int
        0 the least room left along one axis, 1 the least along both, 2 the smallest
        free rectangle, 3 the lowest, 4 the longest contact.
    blink : float
        Chance to overlook a free rectangle.

    Returns
    -------
    first, second : float
        Merit, smaller is better; the first is infinite where there is no place.
    x, y, turned : int
    """
    best = math.inf
    second = math.inf
    bx = 0
    by = 0
    bt = 0
    kind = bins.kind[b]
    may = goods.may[i, kind]
    if may == 0 or bins.used[b] + goods.area[i] > goods.room[kind]:
        return best, second, bx, by, bt
    for t in range(2):
        if (may >> t) & 1 == 0:
            continue
        if t == 1 and may == 3 and goods.width[i] == goods.height[i]:
            continue
        w = goods.height[i] if t else goods.width[i]
        h = goods.width[i] if t else goods.height[i]
        for k in range(bins.frees[b]):
            x0 = bins.free[b, k, 0]
            y0 = bins.free[b, k, 1]
            dx = bins.free[b, k, 2] - x0 - w
            dy = bins.free[b, k, 3] - y0 - h
            if dx < 0 or dy < 0:
                continue
            if blink > 0.0 and draw(random) < blink:
                continue
            x = x0
            y = y0
            if rule == 0:
                one = float(min(dx, dy))
                two = float(max(dx, dy))
            elif rule == 1:
                one = float(max(dx, dy))
                two = float(min(dx, dy))
            elif rule == 2:
                one = float((dx + w) * (dy + h) - goods.area[i])
                two = float(min(dx, dy))
            elif rule == 3:
                one = float(y0 + h)
                two = float(x0)
            else:
                first = goods.start[kind]
                one = math.inf
                for corner in range(4):
                    if (corner & 1 and dx == 0) or (corner & 2 and dy == 0):
                        continue
                    cx = x0 + (dx if corner & 1 else 0)
                    cy = y0 + (dy if corner & 2 else 0)
                    touch = contact(goods, bins, b, cx, cy, cx + w, cy + h)
                    f = goods.free[first]
                    if cx == f[0] or cx + w == f[2]:
                        touch += h
                    if cy == f[1] or cy + h == f[3]:
                        touch += w
                    merit = -float(touch) / float(w + h)
                    if merit < one:
                        one = merit
                        x = cx
                        y = cy
                two = float(min(dx, dy))
            if one < best or (one == best and two < second):
                best = one
                second = two
                bx = x
                by = y
                bt = t
    return best, second, bx, by, bt


# ---------------------------------------------------------------- the search


@jit
def copy_bin(source: Bins, b: int, target: Bins, c: int) -> None:
    """Copy a bin of one set to a place in another."""
    target.kind[c] = source.kind[b]
    many = source.laid[b]
    target.laid[c] = many
    target.used[c] = source.used[b]
    frees = source.frees[b]
    target.frees[c] = frees
    for k in range(many):
        target.item[c, k] = source.item[b, k]
        target.x[c, k] = source.x[b, k]
        target.y[c, k] = source.y[b, k]
        target.turned[c, k] = source.turned[b, k]
    for k in range(frees):
        for j in range(4):
            target.free[c, k, j] = source.free[b, k, j]


@jit
def keep(bins: Bins, spare: Bins, b: int) -> None:
    """Copy one bin to the same place in the other set."""
    copy_bin(bins, b, spare, b)


@jit
def touch(state: State, b: int) -> None:
    """Note that a bin is changed."""
    n = len(state.touched) - 1
    many = state.touched[n]
    for k in range(many):
        if state.touched[k] == b:
            return
    state.touched[many] = b
    state.touched[n] = many + 1


@jit
def loosen(bins: Bins, state: State, b: int, c: int) -> None:
    """Take a copy off a bin; its free rectangles have to be renewed afterwards."""
    n = len(state.loose) - 1
    state.loose[state.loose[n]] = bins.item[b, c]
    state.loose[n] += 1
    last = bins.laid[b] - 1
    bins.item[b, c] = bins.item[b, last]
    bins.x[b, c] = bins.x[b, last]
    bins.y[b, c] = bins.y[b, last]
    bins.turned[b, c] = bins.turned[b, last]
    bins.laid[b] = last


@jit
def sort_loose(goods: Goods, state: State, noise: float) -> None:
    """Order the loose copies by a size drawn at random, the largest first."""
    n = len(state.loose) - 1
    many = state.loose[n]
    by = int(draw(state.random) * 7)
    for k in range(many):
        i = state.loose[k]
        w = float(goods.width[i])
        h = float(goods.height[i])
        if by == 0 or by == 1:
            size = w * h
        elif by == 2:
            size = w
        elif by == 3:
            size = h
        elif by == 4:
            size = max(w, h) + 1e-3 * min(w, h)
        elif by == 5:
            size = min(w, h) + 1e-3 * max(w, h)
        else:
            size = w + h
        # Copies that can be exchanged stay together where nothing shakes the order.
        state.key[k] = -size * (1.0 + noise * (draw(state.random) - 0.5))
    order = np.argsort(state.key[:many], kind="mergesort")
    ordered = state.loose[:many][order]
    for k in range(many):
        state.loose[k] = ordered[k]


@jit
def open_bin(
    goods: Goods,
    bins: Bins,
    used: LongArray,
    i: int,
    left: float,
    random: NDArray[np.uint64],
) -> tuple[int, int]:
    """Choose a kind of bin to open for a copy; return bin and kind, or -1 twice."""
    place = -1
    for b in range(len(bins.kind)):
        if bins.kind[b] < 0:
            place = b
            break
    if place < 0:
        return -1, -1
    best = math.inf
    choice = -1
    how = draw(random)
    for k in range(len(goods.cost)):
        if goods.may[i, k] == 0 or goods.cost[k] > left or used[k] >= goods.supply[k]:
            continue
        if how < 0.4:
            merit = goods.cost[k] / float(goods.room[k])
        elif how < 0.6:
            merit = goods.cost[k] + 1e-12 / float(goods.room[k])
        else:
            merit = draw(random)
        if merit < best:
            best = merit
            choice = k
    if choice < 0:
        return -1, -1
    return place, choice


@jit
def fill(
    goods: Goods,
    bins: Bins,
    state: State,
    used: LongArray,
    left: float,
    rule: int,
    blink: float,
    across: bool,
    most: int,
) -> tuple[float, int]:
    """Lay the loose copies in their order; return the money left and the work done.

    Parameters
    ----------
    across : bool
        Whether each copy goes to the best of all bins, or to the first that takes it.
    most : int
        Work after which the copies that are left stay loose.
    """
    n = len(state.loose) - 1
    many = state.loose[n]
    still = 0
    work = 0
    last = -1
    for q in range(many):
        i = state.loose[q]
        hopeless = last >= 0 and goods.same[i] == goods.same[last] and blink == 0.0
        if hopeless or work > most:
            state.loose[still] = i
            still += 1
            continue
        best = math.inf
        second = math.inf
        at = -1
        x = 0
        y = 0
        t = 0
        for b in range(len(bins.kind)):
            if bins.kind[b] < 0:
                continue
            work += 2 + bins.frees[b]
            one, two, cx, cy, ct = fit(goods, bins, b, i, rule, blink, state.random)
            if one < best or (one == best and two < second):
                best, second = one, two
                at, x, y, t = b, cx, cy, ct
                if not across:
                    break
        if at < 0:
            b, kind = open_bin(goods, bins, used, i, left, state.random)
            if b >= 0:
                touch(state, b)
                empty_bin(goods, bins, b, kind)
                used[kind] += 1
                left -= goods.cost[kind]
                one, two, cx, cy, ct = fit(goods, bins, b, i, rule, 0.0, state.random)
                at, x, y, t = b, cx, cy, ct
        if at < 0:
            state.loose[still] = i
            still += 1
            last = i
            continue
        touch(state, at)
        lay(goods, bins, state, at, i, x, y, t)
        work += 3 * bins.frees[at]
    state.loose[n] = still
    return left, work


@jit
def spent(goods: Goods, bins: Bins, used: LongArray) -> float:
    """Count the open bins by kind; return what they cost together."""
    used[:] = 0
    total = 0.0
    for b in range(len(bins.kind)):
        if bins.kind[b] >= 0:
            used[bins.kind[b]] += 1
            total += goods.cost[bins.kind[b]]
    return total


@jit
def close_some(goods: Goods, bins: Bins, state: State, budget: float) -> None:
    """Close bins, the least filled for their cost first, until the budget is kept."""
    used = np.zeros(len(goods.cost), dtype=np.int64)
    while spent(goods, bins, used) > budget:
        worst = math.inf
        choice = -1
        for b in range(len(bins.kind)):
            kind = bins.kind[b]
            if kind < 0 or goods.cost[kind] <= 0.0:
                continue
            merit = float(bins.used[b]) / goods.cost[kind]
            if merit < worst:
                worst = merit
                choice = b
        if choice < 0:
            return
        while bins.laid[choice] > 0:
            loosen(bins, state, choice, bins.laid[choice] - 1)
        bins.kind[choice] = -1


@jit
def left_out(state: State) -> float:
    """Weight of the copies that are not laid."""
    total = 0.0
    for k in range(state.loose[len(state.loose) - 1]):
        total += state.weight[state.loose[k]]
    return total


@jit
def ruin(goods: Goods, bins: Bins, state: State, fixed: int) -> None:
    """Take copies off a few bins, from all of each or from a spot."""
    total = 0
    for b in range(len(bins.kind)):
        if bins.kind[b] >= 0:
            total += 1
    if total == 0:
        return
    taken = 0
    how = draw(state.random)
    bins_hit = 1 + int(draw(state.random) * min(total, 3))
    for _ in range(bins_hit):
        pick = int(draw(state.random) * total)
        b = -1
        for k in range(len(bins.kind)):
            if bins.kind[k] >= 0:
                if pick == 0:
                    b = k
                    break
                pick -= 1
        if b < 0:  # fewer are open by now
            continue
        touch(state, b)
        many = bins.laid[b]
        whole = how < 0.5 and taken + many <= MOST_TAKEN
        taken += many
        if whole or many <= 1:
            while bins.laid[b] > 0:
                loosen(bins, state, b, bins.laid[b] - 1)
            if b >= fixed:
                bins.kind[b] = -1
            else:
                renew(goods, bins, state, b)
            continue
        # A spot: the copies nearest to one of them.
        c = int(draw(state.random) * many)
        px = bins.x[b, c]
        py = bins.y[b, c]
        take = 1 + int(draw(state.random) * min(many, 12))
        for _ in range(take):
            near = math.inf
            choice = -1
            for k in range(bins.laid[b]):
                dx = float(bins.x[b, k] - px)
                dy = float(bins.y[b, k] - py)
                far = dx * dx + dy * dy
                if far < near:
                    near = far
                    choice = k
            if choice < 0:
                break
            loosen(bins, state, b, choice)
        renew(goods, bins, state, b)


@jit
def search(
    goods: Goods,
    bins: Bins,
    spare: Bins,
    state: State,
    spare_loose: IntArray,
    fixed: int,
    budget: float,
    heat: float,
    work: int,
) -> tuple[int, float]:
    """Search for a layout of all copies within a budget.

    `bins` and `state.loose` hold the present layout, `spare` and `spare_loose` an equal
    copy of it; both go on from there.

    Parameters
    ----------
    fixed : int
        The first bins that stay open whatever happens.
    heat : float
        Weight left out that may be lost at a step, on the average.
    work : int
        Steps, about five million a second.

    Returns
    -------
    int
        `DONE` or `WORKED`.
    float
        Weight left out at the end.
    """
    n = len(state.loose) - 1
    used = np.zeros(len(goods.cost), dtype=np.int64)
    now = left_out(state)
    done = 0
    while done < work:
        if state.loose[n] == 0:
            return DONE, 0.0
        state.touched[len(state.touched) - 1] = 0
        ruin(goods, bins, state, fixed)
        left = budget - spent(goods, bins, used)
        noise = 0.0
        if draw(state.random) < 0.7:
            noise = 0.6 * draw(state.random) ** 2
        sort_loose(goods, state, noise)
        rule = int(draw(state.random) * RULES)
        blink = 0.02 if draw(state.random) < 0.5 else 0.0
        across = draw(state.random) < 0.7
        _, did = fill(goods, bins, state, used, left, rule, blink, across, MOST_WORK)
        done += did + 50
        then = left_out(state)
        many = state.touched[len(state.touched) - 1]
        if then <= now - heat * math.log(draw(state.random) + 1e-300):
            now = then
            for k in range(many):
                keep(bins, spare, state.touched[k])
            for k in range(state.loose[n]):
                spare_loose[k] = state.loose[k]
            spare_loose[n] = state.loose[n]
        else:
            for k in range(many):
                keep(spare, bins, state.touched[k])
            for k in range(spare_loose[n]):
                state.loose[k] = spare_loose[k]
            state.loose[n] = spare_loose[n]
    if state.loose[n] == 0:
        return DONE, 0.0
    return WORKED, now
