"""Compiled search for the largest empty rectangle on a raster."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .kernels import FloatArray, jit


@jit
def fill_cells(
    taken: NDArray[np.bool_],
    corners: FloatArray,
    starts: NDArray[np.int64],
) -> None:
    """Mark every raster cell that a polygon touches.

    Parameters
    ----------
    taken : bool (rows, columns)
        Marked in place; row 0 is at y = 0.
    corners : float64 (n, 2)
        Corners of the polygon's rings one after the other, in cells.
    starts : int64 (rings + 1,)
        First corner of each ring, and the count of corners.
    """
    rows, columns = taken.shape
    count = len(corners)
    low = np.empty(count + 1)
    for row in range(rows):
        ya = float(row)
        yb = ya + 1.0
        middle = ya + 0.5
        crossings = 0
        for ring in range(len(starts) - 1):
            first = starts[ring]
            last = starts[ring + 1]
            for i in range(first, last):
                j = i + 1 if i + 1 < last else first
                x0 = corners[i, 0]
                y0 = corners[i, 1]
                x1 = corners[j, 0]
                y1 = corners[j, 1]
                if max(y0, y1) < ya or min(y0, y1) > yb:
                    continue
                xa = min(x0, x1)
                xb = max(x0, x1)
                if y0 != y1:
                    ta = min(max((ya - y0) / (y1 - y0), 0.0), 1.0)
                    tb = min(max((yb - y0) / (y1 - y0), 0.0), 1.0)
                    xa = min(x0 + ta * (x1 - x0), x0 + tb * (x1 - x0))
                    xb = max(x0 + ta * (x1 - x0), x0 + tb * (x1 - x0))
                    if (y0 > middle) != (y1 > middle):
                        low[crossings] = x0 + (middle - y0) / (y1 - y0) * (x1 - x0)
                        crossings += 1
                for column in range(max(int(xa), 0), min(int(xb) + 1, columns)):
                    taken[row, column] = True
        sorted_x = np.sort(low[:crossings])
        for k in range(0, crossings - 1, 2):
            for column in range(
                max(int(sorted_x[k]), 0),
                min(int(sorted_x[k + 1]) + 1, columns),
            ):
                taken[row, column] = True


@jit
def largest_rectangle(
    taken: NDArray[np.bool_], least_rows: int, least_columns: int
) -> tuple[int, int, int, int]:
    """First row, column, rows and columns of the largest rectangle without a mark.

    It has at least so many rows and columns; all zero if there is none.
    """
    rows, columns = taken.shape
    height = np.zeros(columns + 1, dtype=np.int64)
    stack = np.empty(columns + 1, dtype=np.int64)
    best = 0
    found = (0, 0, 0, 0)
    for row in range(rows):
        for column in range(columns):
            height[column] = 0 if taken[row, column] else height[column] + 1
        top = 0
        for column in range(columns + 1):
            while top > 0 and height[stack[top - 1]] >= height[column]:
                top -= 1
                tall = height[stack[top]]
                left = stack[top - 1] + 1 if top > 0 else 0
                wide = column - left
                if tall * wide > best and tall >= least_rows and wide >= least_columns:
                    best = tall * wide
                    found = (row - tall + 1, left, tall, wide)
            stack[top] = column
            top += 1
    return found
