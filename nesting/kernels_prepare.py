"""Compiled measuring for the preparation of outlines."""

from __future__ import annotations

import math

import numpy as np

from .kernels import FloatArray, jit


@jit
def farthest(ring: FloatArray, edge: FloatArray, accuracy: float) -> float:
    """Return at least the greatest distance of a ring from some segments.

    Parameters
    ----------
    ring : float64 (n, 2), mm
        A closed ring.
    edge : float64 (m, 5), mm
        Segments: start, direction, and 1 over the square of the length.
    accuracy : float, mm
        The answer exceeds the true distance by no more.

    Notes
    -----
    Distance changes no faster than the way along the ring, so half a stretch around a
    point adds at most its length to what is measured in the middle; stretches that may
    hold more than the greatest distance seen are halved.
    """
    n = len(ring)
    most = 0.0
    low = np.empty(64)
    high = np.empty(64)
    for i in range(n):
        j = i + 1 if i + 1 < n else 0
        dx = ring[j, 0] - ring[i, 0]
        dy = ring[j, 1] - ring[i, 1]
        length = math.sqrt(dx * dx + dy * dy)
        low[0] = 0.0
        high[0] = 1.0
        depth = 1
        while depth > 0:
            depth -= 1
            a = low[depth]
            b = high[depth]
            t = 0.5 * (a + b)
            x = ring[i, 0] + t * dx
            y = ring[i, 1] + t * dy
            least = math.inf
            for e in range(len(edge)):
                px = x - edge[e, 0]
                py = y - edge[e, 1]
                s = (px * edge[e, 2] + py * edge[e, 3]) * edge[e, 4]
                s = min(max(s, 0.0), 1.0)
                px -= s * edge[e, 2]
                py -= s * edge[e, 3]
                least = min(least, px * px + py * py)
            here = math.sqrt(least)
            most = max(most, here)
            if here + 0.5 * (b - a) * length > most + accuracy and depth < 62:
                low[depth] = a
                high[depth] = t
                low[depth + 1] = t
                high[depth + 1] = b
                depth += 2
    return most + accuracy
