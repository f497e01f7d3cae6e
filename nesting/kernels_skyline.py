"""Compiled search for rectangles in a strip: along the skyline, with a waste budget.

The **skyline** is how far the strip is filled at each height. The lowest level of it
is looked at: either some copy is laid in the lower corner of that niche, or the niche
is given up to the nearer neighbour, which is waste. With the length as a goal, waste is
limited to what the goal leaves, and a branch that wastes more is left. Where nothing
may be wasted this search is complete (Lesh, Marks, McMahon & Mitzenmacher, Information
Processing Letters 90, 2004, doi:10.1016/j.ipl.2004.01.006); elsewhere it is not.

The order of the branches follows how well a copy fits the niche (after Leung, Zhang &
Sim, EJOR 215, 2011, doi:10.1016/j.ejor.2011.06.002, in the large) with noise, and the
search starts anew after a number of steps.

Lengths are whole numbers. The strip is `width` wide along y and filled along x.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .kernels_rectangles import IntArray, LongArray, draw, jit

FloatArray = NDArray[np.float64]

FOUND, SPENT, EXHAUSTED = 0, 1, 2
"""All copies are laid; the steps are used up; every branch was tried."""


class Skyline(NamedTuple):
    """Room for the search to work in, one row a depth.

    Attributes
    ----------
    level, low : int64 (d, s)
        Filled length and lower end of each step of the skyline.
    steps : int32 (d,)
        How many steps there are.
    waste : int64 (d,)
        What was given up so far.
    branch : int32 (d, 2 t + 1)
        What to try: twice the type, plus 1 if turned; -1 to give the niche up.
    branches, next : int32 (d,)
        How many there are, and which is the next.
    x, y : int64 (d,)
        Where the copy of that depth was laid.
    kind : int32 (d,)
        What was laid there, as in `branch`.
    left : int32 (t,)
        Copies left of each type.
    """

    level: LongArray
    low: LongArray
    steps: IntArray
    waste: LongArray
    branch: IntArray
    branches: IntArray
    next: IntArray
    x: LongArray
    y: LongArray
    kind: IntArray
    left: IntArray


@jit
def lowest(sky: Skyline, d: int) -> int:
    """Return the step of the skyline that is filled least."""
    best = 0
    for k in range(1, sky.steps[d]):
        if sky.level[d, k] < sky.level[d, best]:
            best = k
    return best


@jit
def rank(
    sky: Skyline,
    d: int,
    k: int,
    width: int,
    goal: int,
    sizes: LongArray,
    may: IntArray,
    noise: float,
    keys: FloatArray,
    random: NDArray[np.uint64],
) -> None:
    """List what can be done at the lowest step, the most promising first."""
    many = sky.steps[d]
    base = sky.level[d, k]
    low = sky.low[d, k]
    high = sky.low[d, k + 1] if k + 1 < many else width
    gap = high - low
    below = sky.level[d, k - 1] if k > 0 else goal
    above = sky.level[d, k + 1] if k + 1 < many else goal
    least = goal + width
    for t in range(len(sky.left)):
        if sky.left[t] > 0:
            if may[t] & 1:
                least = min(least, sizes[t, 1])
            if may[t] & 2:
                least = min(least, sizes[t, 0])
    count = 0
    for t in range(len(sky.left)):
        if sky.left[t] == 0:
            continue
        for turned in range(2):
            if (may[t] >> turned) & 1 == 0:
                continue
            if turned and may[t] == 3 and sizes[t, 0] == sizes[t, 1]:
                continue
            long = sizes[t, 1] if turned else sizes[t, 0]
            wide = sizes[t, 0] if turned else sizes[t, 1]
            if wide > gap or base + long > goal:
                continue
            merit = 0.0
            rest = gap - wide
            if rest == 0:
                merit += 3.0
                if base + long == below or base + long == above:
                    merit += 2.0
                if base + long == below and base + long == above:
                    merit += 2.0
            else:
                if rest < least:
                    merit -= 3.0
                if base + long == below:
                    merit += 2.0
            if base + long == goal:
                merit += 0.5
            merit += 1.5 * float(wide) / float(gap)
            merit += 1.5 * float(long * wide) / float(width * goal) * len(sky.left)
            merit += noise * draw(random)
            sky.branch[d, count] = 2 * t + turned
            keys[count] = -merit
            count += 1
    # Sort by insertion: there are few.
    for a in range(1, count):
        key = keys[a]
        what = sky.branch[d, a]
        b = a - 1
        while b >= 0 and keys[b] > key:
            keys[b + 1] = keys[b]
            sky.branch[d, b + 1] = sky.branch[d, b]
            b -= 1
        keys[b + 1] = key
        sky.branch[d, b + 1] = what
    sky.branch[d, count] = -1
    sky.branches[d] = count + 1
    sky.next[d] = 0


@jit
def advance(
    sky: Skyline, d: int, k: int, what: int, width: int, goal: int, sizes: LongArray
) -> None:
    """Make the skyline of the next depth from this one and what is done at a step."""
    many = sky.steps[d]
    base = sky.level[d, k]
    low = sky.low[d, k]
    high = sky.low[d, k + 1] if k + 1 < many else width
    waste = sky.waste[d]
    if what < 0:
        top = goal
        if k > 0:
            top = min(top, sky.level[d, k - 1])
        if k + 1 < many:
            top = min(top, sky.level[d, k + 1])
        waste += (high - low) * (top - base)
        wide = high - low
    else:
        t = what >> 1
        turned = what & 1
        top = base + (sizes[t, 1] if turned else sizes[t, 0])
        wide = sizes[t, 0] if turned else sizes[t, 1]
    n = 0
    e = d + 1
    for s in range(many):
        if s != k:
            if n > 0 and sky.level[e, n - 1] == sky.level[d, s]:
                continue
            sky.level[e, n] = sky.level[d, s]
            sky.low[e, n] = sky.low[d, s]
            n += 1
            continue
        if n == 0 or sky.level[e, n - 1] != top:
            sky.level[e, n] = top
            sky.low[e, n] = low
            n += 1
        if low + wide < high:
            sky.level[e, n] = base
            sky.low[e, n] = low + wide
            n += 1
    sky.steps[e] = n
    sky.waste[e] = waste
    sky.kind[e] = what
    sky.x[e] = base
    sky.y[e] = low


@jit
def descend(
    sky: Skyline,
    width: int,
    goal: int,
    allowed: int,
    sizes: LongArray,
    may: IntArray,
    noise: float,
    keys: FloatArray,
    random: NDArray[np.uint64],
    limit: int,
) -> tuple[int, int]:
    """Search from an empty strip; return a status and the depth reached.

    Parameters
    ----------
    goal : int
        Length that must not be exceeded.
    allowed : int
        Area that may be wasted.
    sizes : int64 (t, 2)
        Size of each type along x and y.
    may : int32 (t,)
        Whether it may lie upright (1), turned (2) or either (3).
    limit : int
        Nodes to look at.
    """
    wanted = 0
    for t in range(len(sky.left)):
        wanted += sky.left[t]
    sky.steps[0] = 1
    sky.level[0, 0] = 0
    sky.low[0, 0] = 0
    sky.waste[0] = 0
    d = 0
    laid = 0
    fresh = True
    nodes = 0
    status = SPENT
    step = 0
    while True:
        if laid == wanted:
            return FOUND, d
        if fresh:
            if nodes >= limit:
                break
            nodes += 1
            step = lowest(sky, d)
            rank(sky, d, step, width, goal, sizes, may, noise, keys, random)
            fresh = False
        else:
            step = lowest(sky, d)
        moved = False
        while sky.next[d] < sky.branches[d]:
            what = sky.branch[d, sky.next[d]]
            sky.next[d] += 1
            if what < 0 and sky.level[d, step] >= goal:
                continue
            if d + 2 >= len(sky.steps):
                continue
            advance(sky, d, step, what, width, goal, sizes)
            if sky.waste[d + 1] > allowed:
                continue
            d += 1
            if what >= 0:
                sky.left[what >> 1] -= 1
                laid += 1
            fresh = True
            moved = True
            break
        if moved:
            continue
        if d == 0:
            status = EXHAUSTED
            break
        what = sky.kind[d]
        if what >= 0:
            sky.left[what >> 1] += 1
            laid -= 1
        d -= 1
    while d > 0:
        what = sky.kind[d]
        if what >= 0:
            sky.left[what >> 1] += 1
        d -= 1
    return status, 0
