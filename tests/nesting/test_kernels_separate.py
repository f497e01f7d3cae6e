"""What a place is compared with, and what it costs there: never one copy too few."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.nesting.kernels import FloatArray
from drystone.nesting.kernels_separate import (
    COLUMNS,
    FEW,
    raw_columns,
    raw_cost,
    raw_gather,
)
from drystone.nesting.nofit import RegionStore
from drystone.nesting.prepare import prepare_shape


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


def corners(seed: int) -> FloatArray:
    """Return a random polygon about the origin, some ten millimetres wide."""
    rng = np.random.default_rng(seed)
    turn = np.linspace(0.0, 2 * np.pi, 9)[:-1] + rng.uniform(0.0, 0.7, 8)
    radius = rng.uniform(2.0, 10.0, 8)
    return np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1)


def places_given_up(seed: int, count: int) -> int:
    """Price places with and without a bound; return how many were left early."""
    shapes = [prepare_shape([corners(seed)]), prepare_shape([corners(seed + 1)])]
    store = RegionStore(shapes, [[0.0, 90.0], [0.0, 37.0]])
    store.ensure([(u, v) for u in range(4) for v in range(4)])
    regions = store.regions
    rng = np.random.default_rng(seed)
    at = rng.integers(0, 4, count).astype(np.int32)
    x, y = rng.uniform(0.0, 40.0, (2, count))
    near = np.zeros((10, count))
    region = np.zeros(count, dtype=np.int32)
    weight = rng.uniform(1.0, 9.0, (count, count)).astype(np.float32)
    members = np.arange(count, dtype=np.int32)[None]
    size = np.full(count, 10.0)
    found = raw_gather(
        *regions[:5],
        at,
        members,
        np.array([count], dtype=np.int32),
        x,
        y,
        size,
        weight,
        0.02,
        0,
        0,
        0,
        near,
        region,
    )
    assert found == count - 1
    begin, end = np.zeros((2, COLUMNS), dtype=np.int32)
    end[:] = found
    across = np.array([0.0, 0.0])
    x0, y0, x1, y1 = regions.box[0].tolist()

    def cost_at(px: float, py: float, bound: float) -> float:
        return raw_cost(
            near,
            region,
            begin,
            end,
            across,
            regions.head,
            regions.dims,
            regions.cell,
            regions.item,
            regions.edge,
            1e-6,
            px,
            py,
            x0,
            y0,
            x1,
            y1,
            bound,
        )

    given_up = 0
    for px, py in rng.uniform(0.0, 40.0, (60, 2)).tolist():
        cost = cost_at(px, py, np.inf)
        for bound in (0.3 * cost, cost, 1.5 * cost + 1e-9):
            early = cost_at(px, py, bound)
            if cost < bound:
                assert early == cost
            else:
                assert early >= bound
                given_up += early < cost
    return given_up


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.integers(2, 12))
def test_giving_a_place_up_early_changes_no_choice(seed: int, count: int) -> None:
    places_given_up(seed, count)


def test_places_are_given_up_early() -> None:
    assert sum(places_given_up(seed, 12) for seed in range(5)) > 0
