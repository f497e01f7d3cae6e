"""The bin search: valid packings, fixed bins, budgets, the same for the same seed."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.nesting.kernels_rectangles import Goods
from drystone.nesting.rectangles.goods import (
    BinKind,
    Item,
    free_area,
    free_rectangles,
    make_goods,
)
from drystone.nesting.rectangles.search import BinSearch, Packing, packing


def never() -> bool:
    return False


def boxes(goods: Goods, packing: Packing, b: int) -> list[shapely.Polygon]:
    found = []
    for i in np.flatnonzero(packing.bin == b).tolist():
        w, h = int(goods.width[i]), int(goods.height[i])
        if packing.turned[i]:
            w, h = h, w
        x, y = int(packing.x[i]), int(packing.y[i])
        found.append(shapely.box(x, y, x + w, y + h))
    return found


def faults(goods: Goods, packing: Packing, kinds: list[BinKind]) -> list[str]:
    """Look a packing over with shapely and plain counting; return what is wrong."""
    found = []
    for b, kind in enumerate(packing.kinds):
        sheet = shapely.box(0, 0, kinds[kind].width, kinds[kind].height)
        laid = boxes(goods, packing, b)
        walls = [shapely.box(*box) for box in kinds[kind].walls]
        if not laid:
            found.append(f"bin {b} is empty")
        for k, one in enumerate(laid):
            if not sheet.covers(one):
                found.append(f"bin {b}: {one.bounds} sticks out")
            for two in [*laid[:k], *walls]:
                if one.intersection(two).area > 0:
                    found.append(f"bin {b}: {one.bounds} meets {two.bounds}")
        for i in np.flatnonzero(packing.bin == b).tolist():
            bit = 2 if packing.turned[i] else 1
            if not goods.may[i, kind] & bit:
                found.append(f"copy {i} may not lie so in kind {kind}")
    for kind, one in enumerate(kinds):
        if one.supply is not None and packing.kinds.count(kind) > one.supply:
            found.append(f"too many of kind {kind}")
    return found


@st.composite
def orders(draw: st.DrawFn) -> tuple[list[Item], list[BinKind]]:
    side = st.integers(1, 30)
    kinds = []
    for _ in range(draw(st.integers(1, 3))):
        w, h = draw(st.integers(20, 40)), draw(st.integers(20, 40))
        walls = []
        for _ in range(draw(st.integers(0, 2))):
            x, y = draw(st.integers(0, w - 2)), draw(st.integers(0, h - 2))
            walls.append((x, y, min(x + draw(side), w), min(y + draw(side), h)))
        cost = draw(st.sampled_from([1.0, 2.5, 7.0]))
        supply = draw(st.sampled_from([None, None, 0, 2]))
        kinds.append(BinKind(w, h, cost, supply, tuple(walls)))
    items = [
        Item(
            draw(side),
            draw(side),
            draw(st.integers(1, 4)),
            tuple(draw(st.integers(0, 3)) for _ in kinds),
        )
        for _ in range(draw(st.integers(1, 8)))
    ]
    return items, kinds


@given(orders(), st.integers(0, 3))
@settings(max_examples=60, deadline=None)
def test_every_packing_is_valid(
    order: tuple[list[Item], list[BinKind]], seed: int
) -> None:
    items, kinds = order
    goods = make_goods(items, kinds)
    search = BinSearch(goods, seed)
    search.construct(never, orders=4)
    first = search.best
    assert first is not None
    assert faults(goods, first, kinds) == []
    # A copy that fits on an empty bin of unlimited supply is never left out.
    endless = [k for k, kind in enumerate(kinds) if kind.supply is None]
    for i in np.flatnonzero(first.bin < 0).tolist():
        assert not goods.may[i, endless].any()
    if first.complete:
        search.run(search.cost - 0.5, never, 30_000, 0.1)
        assert search.best is not None
        assert faults(goods, search.best, kinds) == []
        assert search.cost <= first.cost(goods)


def test_a_goal_that_can_be_met_is_met() -> None:
    """Four bins' worth, cut from full sheets, and six bins at the start."""
    kinds = [BinKind(12, 12)]
    cut = [(7, 5), (5, 7), (7, 7), (5, 5)]
    items = [Item(w, h, 4, (1,)) for w, h in cut]
    search = BinSearch(make_goods(items, kinds), 1)
    search.construct(never)
    while search.cost > 4.0:
        assert search.run(search.cost - 0.5, never, 20_000_000, 0.05)
    assert search.best is not None
    assert len(search.best.kinds) == 4
    assert faults(search.goods, search.best, kinds) == []


def test_a_cheaper_mix_replaces_a_large_sheet() -> None:
    """Two small sheets hold all and cost less than the large one."""
    kinds = [BinKind(20, 10, 100.0), BinKind(10, 10, 30.0)]
    items = [Item(10, 10, 2, (1, 1))]
    search = BinSearch(make_goods(items, kinds), 0)
    search.construct(never)
    search.run(60.0, never, 1_000_000, 0.05)
    assert search.cost == 60.0
    assert search.best is not None
    assert search.best.kinds == (1, 1)


def test_fixed_bins_stay_and_are_filled_first() -> None:
    kinds = [BinKind(10, 10), BinKind(10, 10, 0.0, 1, walls=((0, 0, 5, 10),))]
    items = [Item(5, 5, 2, (1, 1))]
    search = BinSearch(make_goods(items, kinds), 0, fixed=(1,))
    search.construct(never)
    search.run(0.5, never, 100_000, 0.05)
    assert search.best is not None
    assert search.best.kinds == (1,)
    assert faults(search.goods, search.best, kinds) == []


def test_what_finds_no_sheet_is_left_out() -> None:
    kinds = [BinKind(10, 10, supply=1)]
    search = BinSearch(make_goods([Item(6, 6, 3, (1,))], kinds), 0)
    search.construct(never)
    assert search.best is not None
    assert not search.best.complete
    assert int((search.best.bin >= 0).sum()) == 1
    assert math.isinf(search.cost)


def test_the_same_seed_and_work_give_the_same_packing() -> None:
    """Compared is where the search stands, since that changes at every step."""
    kinds = [BinKind(37, 29)]
    rng = np.random.default_rng(5)
    sizes = rng.integers(3, 19, (15, 2)).tolist()
    items = [Item(w, h, 2, (3,)) for w, h in sizes]
    found = []
    for seed in (4, 4, 5):
        search = BinSearch(make_goods(items, kinds), seed)
        search.construct(never)
        search.run(search.cost - 1.5, never, 300_000, 0.1)
        now = packing(search.goods, search._bins)
        found.append((now.bin.tobytes(), now.x.tobytes(), now.y.tobytes()))
    assert found[0] == found[1]
    assert found[0] != found[2]


def test_loading_a_packing_goes_on_from_it() -> None:
    kinds = [BinKind(10, 10)]
    goods = make_goods([Item(5, 5, 6, (1,))], kinds)
    search = BinSearch(goods, 0)
    search.construct(never)
    assert search.best is not None
    again = BinSearch(goods, 1)
    again.load(search.best, loose=(1,))
    assert again.best is not None
    assert not again.best.complete
    assert again.run(2.0, never, 100_000, 0.05)
    assert faults(goods, again.best, kinds) == []


@pytest.mark.parametrize("seed", range(8))
def test_free_rectangles_cover_what_is_free_and_are_maximal(seed: int) -> None:
    rng = np.random.default_rng(seed)
    walls = []
    for x, y, w, h in rng.integers(0, 12, (5, 4)).tolist():
        walls.append((x, y, min(x + w + 1, 20), min(y + h + 1, 15)))
    free = free_rectangles(BinKind(20, 15, walls=tuple(walls)))
    wall = shapely.union_all([shapely.box(*w) for w in walls])
    open_area = shapely.box(0, 0, 20, 15).difference(wall)
    cover = shapely.union_all([shapely.box(*f) for f in free.tolist()])
    assert cover.symmetric_difference(open_area).area == pytest.approx(0.0, abs=1e-9)
    assert free_area(free) == pytest.approx(open_area.area)
    for x0, y0, x1, y1 in free.tolist():
        grown = [
            (x0 - 1, y0, x1, y1),
            (x0, y0 - 1, x1, y1),
            (x0, y0, x1 + 1, y1),
            (x0, y0, x1, y1 + 1),
        ]
        assert not any(open_area.covers(shapely.box(*g)) for g in grown)
