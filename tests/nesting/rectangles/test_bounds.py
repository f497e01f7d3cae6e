"""Bounds for rectangles: never above what can be packed, and tight where known."""

from __future__ import annotations

from itertools import combinations_with_replacement

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.nesting.rectangles.bounds import (
    least_bins,
    least_cost,
    scaled_count,
    scales,
)
from drystone.nesting.rectangles.goods import BinKind, Item, make_goods
from drystone.nesting.rectangles.search import BinSearch


def count(sizes: list[tuple[int, int]], may: int, width: int, height: int) -> int:
    rows = np.array(sizes, dtype=np.int64)
    return least_bins(rows, np.full(len(rows), may), width, height).count


@given(
    st.lists(st.integers(1, 24), min_size=1, max_size=8), st.integers(5, 24), st.data()
)
@settings(max_examples=60, deadline=None)
def test_scales_are_conservative(
    lengths: list[int], side: int, data: st.DataObject
) -> None:
    """Lengths that fit side by side fit when scaled, whatever the family."""
    lengths = [v for v in lengths if v <= side]
    for scale in scales(lengths, side, by_data=True):
        pool = lengths if scale.family == 1 else list(range(1, side + 1))
        chosen: list[int] = []
        while True:
            rest = side - sum(chosen)
            left = list(pool)
            if scale.family == 1:  # each length only as often as it is there
                for v in chosen:
                    left.remove(v)
            fitting = [v for v in left if v <= rest]
            if not fitting:
                break
            chosen.append(data.draw(st.sampled_from(fitting)))
        scaled = scale(np.array(chosen, dtype=np.int64)).sum() if chosen else 0.0
        assert scaled <= scale.whole + 1e-9


@pytest.mark.parametrize("k", range(1, 10))
def test_the_scales_for_several_kinds_hold_on_shorter_sides_too(k: int) -> None:
    side = 19
    for scale in scales(range(1, side + 1), side, by_data=False):
        for pair in combinations_with_replacement(range(1, side), 2):
            if sum(pair) <= side:
                parts = scale(np.array(pair)).sum()
                assert parts <= scale(np.array([sum(pair)]))[0] + 1e-9


def test_bars_wider_than_half_need_a_bin_each() -> None:
    assert count([(6, 6)] * 5, 1, 10, 10) == 5
    assert count([(6, 4)] * 5, 1, 10, 10) == 3  # two on top of one another


def test_where_copies_may_be_turned_less_is_claimed() -> None:
    """Four 7 × 3 lie in one 10 × 10 like a pinwheel, though only if two are turned."""
    assert count([(7, 3)] * 4, 1, 10, 10) == 2
    assert count([(7, 3)] * 4, 3, 10, 10) == 1


def test_a_proof_can_be_worked_out_again() -> None:
    sizes = np.array([(6, 6), (6, 5), (5, 6), (3, 3)], dtype=np.int64)
    may = np.ones(4, dtype=np.int64)
    proof = least_bins(sizes, may, 10, 10)
    assert scaled_count(sizes, may, proof.across, proof.along) == proof.count
    assert proof.count == 3


def test_nothing_to_pack_needs_no_bin() -> None:
    empty = np.zeros((0, 2), dtype=np.int64)
    assert least_bins(empty, np.zeros(0, dtype=np.int64), 10, 10).count == 0
    fits = np.zeros((0, 1), dtype=np.uint8)
    assert least_cost(empty, fits, [(10, 10, 1.0, None)]) == 0.0


def test_cost_minds_what_fits_only_in_the_dear_kind() -> None:
    """By area the cheap kind would do; the long part needs the dear one."""
    sizes = np.array([(18, 2), (9, 9)], dtype=np.int64)
    fits = np.array([[1, 0], [1, 1]], dtype=np.uint8)
    bins = [(20, 10, 50.0, None), (10, 10, 20.0, None)]
    assert least_cost(sizes, fits, bins) == pytest.approx(50.0)


def test_cost_minds_the_supply() -> None:
    sizes = np.array([(10, 10)] * 3, dtype=np.int64)
    fits = np.ones((3, 2), dtype=np.uint8)
    bins = [(10, 10, 5.0, 2), (10, 10, 8.0, None)]
    assert least_cost(sizes, fits, bins) == pytest.approx(18.0)


@given(st.data())
@settings(max_examples=40, deadline=None)
def test_bounds_stay_below_what_is_found(data: st.DataObject) -> None:
    side = st.integers(1, 14)
    may = data.draw(st.sampled_from([1, 3]))
    items = [
        Item(data.draw(side), data.draw(side), data.draw(st.integers(1, 3)), (may, may))
        for _ in range(data.draw(st.integers(1, 6)))
    ]
    kinds = [BinKind(14, 14, 10.0), BinKind(14, 9, 7.0)]
    goods = make_goods(items, kinds)
    search = BinSearch(goods, 0)
    search.construct(lambda: False, orders=6)
    search.run(search.cost - 0.5, lambda: False, 50_000, 0.1)
    sizes = np.column_stack([goods.width, goods.height])
    rows = [(kind.width, kind.height, kind.cost, None) for kind in kinds]
    assert least_cost(sizes, goods.may, rows) <= search.cost + 1e-6
    one = make_goods(
        [Item(i.width, i.height, i.copies, (may,)) for i in items], [kinds[0]]
    )
    alone = BinSearch(one, 0)
    alone.construct(lambda: False, orders=6)
    bound = least_bins(sizes, one.may[:, 0].astype(np.int64), 14, 14).count
    assert 10.0 * bound <= alone.cost
