"""Compiled tracing of convolution cycles, the raw material of no-fit regions."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from .kernels import FloatArray, jit


@jit
def _edge_angles(ring: FloatArray) -> FloatArray:
    n = len(ring)
    out = np.empty(n)
    for i in range(n):
        k = i + 1 if i + 1 < n else 0
        out[i] = math.atan2(ring[k, 1] - ring[i, 1], ring[k, 0] - ring[i, 0])
    return out


@jit
def convolve(ring: FloatArray, convex: FloatArray) -> FloatArray:
    """Convolution cycle of a closed ring with a convex polygon.

    The winding number of the cycle about a point counts the pieces in which the
    polygon, mirrored through that point, cuts the ring's inside: it is positive exactly
    on the inside of the Minkowski sum as long as the ring bounds a simply connected
    set. Holes must therefore be joined to the outer ring by slits first.

    Parameters
    ----------
    ring : float64 (n, 2)
        Counter-clockwise, without repeated neighbouring points.
    convex : float64 (c, 2)
        Counter-clockwise.

    Returns
    -------
    float64 (m, 2)
        The cycle's points.

    References
    ----------
    Guibas, Ramshaw & Stolfi 1983, doi:10.1109/SFCS.1983.1.
    """
    n = len(ring)
    c = len(convex)
    ring_angle = _edge_angles(ring)
    raw = _edge_angles(convex)
    first = 0  # convex edge of least angle: from there the angles rise
    for j in range(1, c):
        if raw[j] < raw[first]:
            first = j
    angle = np.empty(c)
    for j in range(c):
        angle[j] = raw[(first + j) % c]
    # support[i]: number of convex edges turned less than ring edge i, which is the
    # vertex (counted from `first`) that lies farthest to the right of that edge.
    support = np.empty(n, dtype=np.int64)
    for i in range(n):
        k = 0
        while k < c and angle[k] < ring_angle[i]:
            k += 1
        support[i] = k % c
    out = np.empty((n * (c + 2) + c + 2, 2))
    used = 0
    j = support[n - 1]
    for i in range(n):
        before = ring_angle[i - 1] if i > 0 else ring_angle[n - 1]
        turn = ring_angle[i] - before
        if turn <= -math.pi:
            turn += 2.0 * math.pi
        elif turn > math.pi:
            turn -= 2.0 * math.pi
        step = 1 if turn > 0.0 else c - 1
        while True:
            q = (first + j) % c
            out[used, 0] = ring[i, 0] + convex[q, 0]
            out[used, 1] = ring[i, 1] + convex[q, 1]
            used += 1
            if j == support[i]:
                break
            j = (j + step) % c
    return out[:used].copy()


@jit
def to_grid(points: FloatArray, scale: float) -> NDArray[np.int64]:
    """Round the scaled points to whole numbers, dropping repeated neighbours."""
    n = len(points)
    out = np.empty((n, 2), dtype=np.int64)
    used = 0
    for i in range(n):
        x = np.int64(np.rint(points[i, 0] * scale))
        y = np.int64(np.rint(points[i, 1] * scale))
        if used > 0 and out[used - 1, 0] == x and out[used - 1, 1] == y:
            continue
        out[used, 0] = x
        out[used, 1] = y
        used += 1
    return out[:used].copy()
