"""Compiled choice of the next step of an exact tiling (see `tiling`)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .kernels import jit

Longs = NDArray[np.int64]

# Columns of the table of corners.
KEY, VARIANT, KIND, WX, WY, LENGTH_OUT, LENGTH_IN, LEFT, RIGHT, DOWN, UP, AREA = range(
    12
)

# Columns of the options.
SCORE, SIZE, OF_VARIANT, OF_KIND, X, Y = range(6)
OPTION_COLUMNS = 6

FOLD = 1 << 31
"""Directions are reduced to lowest terms and folded into one whole number."""


@jit
def reduced(dx: int, dy: int) -> tuple[int, int]:
    """Direction in lowest terms."""
    a = abs(dx)
    b = abs(dy)
    while b:
        a, b = b, a % b
    if a == 0:
        return 0, 0
    return dx // a, dy // a


@jit
def choose(
    x: Longs,
    y: Longs,
    start: Longs,
    corners: Longs,
    count: Longs,
    box: Longs,
    amount: int,
    option: Longs,
    spare: Longs,
) -> int:
    """Find the corner of the free region that the fewest copies could fill.

    Parameters
    ----------
    x, y : int64 (p,)
        Vertices of all rings of the region, the region on the left of each.
    start : int64 (r + 1,)
        Where each ring begins.
    corners : int64 (c, 12)
        Convex corners of all variants, sorted by the direction of the edge that
        leaves them.
    count : int64 (k,)
        Copies left of each kind.
    box : int64 (4,)
        Bounding box of the region.
    amount : int
        Twice the region's area.
    option, spare : int64 (c, 6)
        `option` receives what fits the corner by its angle and the lengths of its
        edges: score, twice the area, variant, kind and place; `spare` is scratch.

    Returns
    -------
    int
        Rows in `option`; 0 if some corner cannot be filled.
    """
    fewest = -1
    at_x = 0
    at_y = 0
    for ring in range(len(start) - 1):
        first = start[ring]
        n = start[ring + 1] - first
        for i in range(n):
            a = first + (i - 1) % n
            b = first + i
            c = first + (i + 1) % n
            ux = x[c] - x[b]
            uy = y[c] - y[b]
            wx = x[a] - x[b]
            wy = y[a] - y[b]
            if ux * wy - uy * wx <= 0:
                continue  # a straight edge may pass there
            # Beyond a convex neighbour an edge cannot go on.
            d = first + (i + 2) % n
            ends = (x[d] - x[c]) * -uy + (y[d] - y[c]) * ux > 0
            e = first + (i - 2) % n
            begins = wx * (y[e] - y[a]) - wy * (x[e] - x[a]) < 0
            lu = ux * ux + uy * uy
            lw = wx * wx + wy * wy
            rx, ry = reduced(ux, uy)
            key = rx * FOLD + ry
            sx, sy = reduced(wx, wy)
            low = 0
            high = len(corners)
            while low < high:
                middle = (low + high) // 2
                if corners[middle, KEY] < key:
                    low = middle + 1
                else:
                    high = middle
            found = 0
            while low < len(corners) and corners[low, KEY] == key:
                k = low
                low += 1
                if count[corners[k, KIND]] == 0 or corners[k, AREA] > amount:
                    continue
                wide = corners[k, WX] * sy - corners[k, WY] * sx
                if wide < 0:
                    continue
                if corners[k, LENGTH_OUT] > lu and ends:
                    continue
                if wide == 0 and corners[k, LENGTH_IN] > lw and begins:
                    continue
                if (
                    x[b] - corners[k, LEFT] < box[0]
                    or y[b] - corners[k, DOWN] < box[1]
                    or x[b] + corners[k, RIGHT] > box[2]
                    or y[b] + corners[k, UP] > box[3]
                ):
                    continue
                # Slanted edges that match by chance are rarer than upright ones.
                score = 3 if rx != 0 and ry != 0 else 0
                if corners[k, LENGTH_OUT] == lu:
                    score += 2 if rx != 0 and ry != 0 else 1
                if wide == 0:
                    score += 4 if sx != 0 and sy != 0 else 1
                    if corners[k, LENGTH_IN] == lw:
                        score += 2 if sx != 0 and sy != 0 else 1
                spare[found, SCORE] = score
                spare[found, SIZE] = corners[k, AREA]
                spare[found, OF_VARIANT] = corners[k, VARIANT]
                spare[found, OF_KIND] = corners[k, KIND]
                spare[found, X] = x[b] - corners[k, LEFT]
                spare[found, Y] = y[b] - corners[k, DOWN]
                found += 1
                if 0 <= fewest < found:
                    break
            if found == 0:
                return 0
            if (
                fewest < 0
                or found < fewest
                or (found == fewest and (y[b] < at_y or (y[b] == at_y and x[b] < at_x)))
            ):
                fewest = found
                at_x = x[b]
                at_y = y[b]
                option[:found] = spare[:found]
    return max(fewest, 0)
