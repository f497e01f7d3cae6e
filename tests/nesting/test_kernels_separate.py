"""Which copies a place is compared with: never one too few."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.nesting.kernels_separate import COLUMNS, FEW, raw_columns


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**31), st.integers(FEW + 1, 120), st.booleans())
def test_every_copy_that_can_be_met_is_in_its_column(
    seed: int, count: int, lattice: bool
) -> None:
    rng = np.random.default_rng(seed)
    near = np.zeros((10, count))
    near[0] = np.sort(rng.uniform(-20, 480, count))
    near[2] = near[0] + rng.uniform(1, 200, count)
    if lattice:
        near = np.round(near, -1)
    bx0, bx1 = -rng.uniform(1, 60), rng.uniform(1, 60)
    low, high = -bx0, 500 - bx1
    begin = np.zeros(COLUMNS, dtype=np.int32)
    end = np.zeros(COLUMNS, dtype=np.int32)
    across = np.zeros(2)
    raw_columns(near, count, low, high, bx0, bx1, begin, end, across)
    for x in [low, high, *rng.uniform(low, high, 40), *np.linspace(low, high, 17)]:
        here = min(max(int((x - across[0]) * across[1]), 0), COLUMNS - 1)
        met = np.flatnonzero((near[0] < x + bx1) & (near[2] > x + bx0))
        assert ((begin[here] <= met) & (met < end[here])).all()


def test_few_copies_are_all_looked_at() -> None:
    near = np.zeros((10, FEW))
    begin = np.zeros(COLUMNS, dtype=np.int32)
    end = np.zeros(COLUMNS, dtype=np.int32)
    across = np.ones(2)
    raw_columns(near, FEW, 0.0, 100.0, -1.0, 1.0, begin, end, across)
    assert (begin[0], end[0], across[1]) == (0, FEW, 0.0)
