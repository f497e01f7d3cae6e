"""Compiled rows of the linear programs that press a layout together.

Every copy is a set of convex pieces that may lie at any angle. For each pair of pieces
near each other the edge that parts them best (or along which they overlap least) is
found, and every corner of the other piece that could get to it within a step gives a
row: how far it is beyond the edge, and how that changes as the copies move and turn.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .kernels import FloatArray, IntArray, jit


@jit
def lay(
    corner: FloatArray,
    first: IntArray,
    last: IntArray,
    x: FloatArray,
    y: FloatArray,
    turn: FloatArray,
    start: IntArray,
    laid: FloatArray,
) -> None:
    """Turn and move each copy's corners.

    Parameters
    ----------
    corner : float64 (c, 2)
        Corners of all shapes, mm.
    first, last : int32 (n,)
        Range of each copy's shape in them.
    x, y, turn : float64 (n,)
        Place, mm, and turn, radians.
    start : int32 (n,)
        Where each copy's corners begin in `laid`.
    laid : float64 (m, 2)
        Receives the corners.
    """
    for i in range(len(x)):
        c = math.cos(turn[i])
        s = math.sin(turn[i])
        for k in range(first[i], last[i]):
            at = start[i] + k - first[i]
            laid[at, 0] = x[i] + c * corner[k, 0] - s * corner[k, 1]
            laid[at, 1] = y[i] + s * corner[k, 0] + c * corner[k, 1]


@jit
def raw_apart(
    laid: FloatArray, a0: int, a1: int, b0: int, b1: int, far: float, edge: FloatArray
) -> float:
    """Farthest that piece `b` lies beyond an edge of `a`; negative if over all of them.

    ``edge`` receives the edge's start and outward normal where that is more than `far`;
    otherwise it stays as it is, and `far` comes back.
    """
    best = far
    for k in range(a0, a1):
        n = k + 1 if k + 1 < a1 else a0
        ex = laid[n, 0] - laid[k, 0]
        ey = laid[n, 1] - laid[k, 1]
        length = math.sqrt(ex * ex + ey * ey)
        if length == 0.0:
            continue
        nx = ey / length
        ny = -ex / length
        px = laid[k, 0]
        py = laid[k, 1]
        least = math.inf
        for q in range(b0, b1):
            d = nx * (laid[q, 0] - px) + ny * (laid[q, 1] - py)
            if d < least:
                least = d
                if least <= best:
                    break
        if least > best:
            best = least
            edge[0] = px
            edge[1] = py
            edge[2] = nx
            edge[3] = ny
    return best


@jit
def raw_boxes(
    laid: FloatArray,
    piece: IntArray,
    pieces: IntArray,
    box: FloatArray,
    whole: FloatArray,
) -> None:
    """Find the bounding boxes of pieces and of copies."""
    for i in range(len(pieces) - 1):
        for q in range(2):
            whole[i, q] = math.inf
            whole[i, 2 + q] = -math.inf
        for p in range(pieces[i], pieces[i + 1]):
            for q in range(2):
                box[p, q] = math.inf
                box[p, 2 + q] = -math.inf
                for k in range(piece[p, 0], piece[p, 1]):
                    box[p, q] = min(box[p, q], laid[k, q])
                    box[p, 2 + q] = max(box[p, 2 + q], laid[k, q])
                whole[i, q] = min(whole[i, q], box[p, q])
                whole[i, 2 + q] = max(whole[i, 2 + q], box[p, 2 + q])


@jit
def raw_far(one: FloatArray, i: int, two: FloatArray, j: int, reach: float) -> bool:
    """Whether two bounding boxes are farther apart than `reach`."""
    return bool(
        one[i, 0] > two[j, 2] + reach
        or two[j, 0] > one[i, 2] + reach
        or one[i, 1] > two[j, 3] + reach
        or two[j, 1] > one[i, 3] + reach
    )


@jit
def rows(
    laid: FloatArray,
    x: FloatArray,
    y: FloatArray,
    movable: NDArray[np.bool_],
    piece: IntArray,
    pieces: IntArray,
    reach: float,
    pair: IntArray,
    row: FloatArray,
) -> tuple[int, int, float]:
    """Find the rows of all pairs of copies near each other.

    Parameters
    ----------
    laid : float64 (m, 2)
        Corners of all copies, laid.
    x, y : float64 (n,)
        Places of the copies.
    movable : bool (n,)
        Pairs of which neither can move are left out.
    piece : int32 (p, 2)
        Range in `laid` of each convex piece.
    pieces : int32 (n + 1,)
        Where each copy's pieces begin in `piece`.
    reach : float, mm
        What is farther apart is left out.
    pair : int32 (r, 3)
        Receive the two copies and the number of their pair.
    row : float64 (r, 5)
        Receive how far apart, the normal from the first copy to the second, and by how
        much that distance changes as the first and as the second copy turns.

    Returns
    -------
    rows : int
        -1 if there is no room for them.
    pairs : int
    overlap : float, mm
        Sum over the pairs of the greatest overlap of their pieces.
    """
    n = len(x)
    edge = np.zeros(4)
    other = np.zeros(4)
    box = np.empty((len(piece), 4))
    whole = np.empty((n, 4))
    raw_boxes(laid, piece, pieces, box, whole)
    count = 0
    pairs = 0
    overlap = 0.0
    for i in range(n):
        for j in range(i + 1, n):
            if not (movable[i] or movable[j]) or raw_far(whole, i, whole, j, reach):
                continue
            before = count
            worst = 0.0
            for a in range(pieces[i], pieces[i + 1]):
                for b in range(pieces[j], pieces[j + 1]):
                    if raw_far(box, a, box, b, reach):
                        continue
                    a0 = piece[a, 0]
                    a1 = piece[a, 1]
                    b0 = piece[b, 0]
                    b1 = piece[b, 1]
                    d = raw_apart(laid, a0, a1, b0, b1, -math.inf, edge)
                    e = raw_apart(laid, b0, b1, a0, a1, d, other)
                    worst = max(worst, -e)
                    if e > reach:
                        continue
                    sign = 1.0
                    k0 = b0
                    k1 = b1
                    if e > d:
                        for q in range(4):
                            edge[q] = other[q] if q < 2 else -other[q]
                        sign = -1.0
                        k0 = a0
                        k1 = a1
                    for k in range(k0, k1):
                        qx = laid[k, 0]
                        qy = laid[k, 1]
                        far = edge[2] * (qx - edge[0]) + edge[3] * (qy - edge[1])
                        if sign * far > reach:
                            continue
                        if count == len(row):
                            return -1, pairs, overlap
                        pair[count, 0] = i
                        pair[count, 1] = j
                        pair[count, 2] = pairs
                        row[count, 0] = sign * far
                        row[count, 1] = edge[2]
                        row[count, 2] = edge[3]
                        # Whether the edge turns or the corner: its lever is that of
                        # the corner about the copy that turns, with either sign.
                        row[count, 3] = edge[2] * (qy - y[i]) - edge[3] * (qx - x[i])
                        row[count, 4] = edge[3] * (qx - x[j]) - edge[2] * (qy - y[j])
                        count += 1
            overlap += worst
            if count > before:
                pairs += 1
    return count, pairs, overlap
