"""The least overlapping layouts of a search."""

from __future__ import annotations

import math

import numpy as np

from drystone.nesting.overlap import Places
from drystone.nesting.pool import Pool


def places(x: float) -> Places:
    zero = np.zeros(1, dtype=np.int32)
    return Places(zero, zero.copy(), np.array([x]), np.zeros(1))


def test_the_least_overlapping_stay() -> None:
    pool = Pool(2)
    assert pool.least == math.inf
    for overlap in (3.0, 1.0, 2.0):
        pool.add(overlap, places(overlap))
    assert len(pool) == 2
    assert pool.least == 1.0
    assert pool.pick(0.0).x[0] == 1.0
    assert pool.pick(0.999).x[0] == 2.0
    pool.clear()
    assert len(pool) == 0


def test_what_is_kept_is_a_copy() -> None:
    pool = Pool(2)
    given = places(5.0)
    pool.add(1.0, given)
    given.x[0] = 9.0
    assert pool.pick(0.5).x[0] == 5.0
