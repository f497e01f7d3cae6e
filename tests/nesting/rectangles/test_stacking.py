"""Blocks that share a side: rooms cut up straight are filled again, nothing false."""

from __future__ import annotations

from collections import Counter
from random import Random

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.nesting.rectangles.goods import BinKind, Item, make_goods
from drystone.nesting.rectangles.search import BinSearch
from drystone.nesting.rectangles.stacking import (
    MOST_LOOKS,
    MOST_STEPS,
    Lying,
    Rectangle,
    stacked,
)

WIDTH, HEIGHT = 1200, 900
PINWHEEL = [(7, 5), (5, 8), (7, 5), (5, 8), (2, 3)]
"""Fills 12 × 13, but no straight cut goes through it."""


def never() -> bool:
    return False


def upright(sizes: list[tuple[int, int]]) -> list[Rectangle]:
    return [Rectangle(kind, *size) for kind, size in enumerate(sizes)]


def assert_filled(
    rectangles: list[Rectangle], count: list[int], laid: list[Lying], rooms: int
) -> None:
    assert Counter(rectangles[q.rectangle].kind for q in laid) == Counter(
        {kind: n for kind, n in enumerate(count) if n}
    )
    for room in range(rooms):
        boxes = [
            shapely.box(q.x, q.y, q.x + one.width, q.y + one.height)
            for q in laid
            if q.room == room
            for one in [rectangles[q.rectangle]]
        ]
        assert sum(box.area for box in boxes) == WIDTH * HEIGHT
        assert shapely.union_all(boxes).equals(shapely.box(0, 0, WIDTH, HEIGHT))


def cut_up(random: Random) -> list[tuple[int, int]]:
    """Cut a room straight through, the largest piece first, at places by chance."""
    pieces = [(WIDTH, HEIGHT)]
    for _ in range(random.randint(0, 6)):
        pieces.sort(key=lambda size: size[0] * size[1])
        w, h = pieces.pop()
        if random.random() < 0.5:
            cut = random.randint(w // 5, 4 * w // 5)
            pieces += [(cut, h), (w - cut, h)]
        else:
            cut = random.randint(h // 5, 4 * h // 5)
            pieces += [(w, cut), (w, h - cut)]
    return pieces


@settings(max_examples=60)
@given(st.integers(1, 3), st.integers(0, 2**31))
def test_rooms_cut_straight_are_filled_again(rooms: int, seed: int) -> None:
    random = Random(seed)
    sizes = [size for _ in range(rooms) for size in cut_up(random)]
    random.shuffle(sizes)
    kinds = list(dict.fromkeys(sizes))
    count = [sizes.count(size) for size in kinds]
    rectangles = upright(kinds)
    rectangles += [Rectangle(r.kind, r.height, r.width) for r in rectangles]
    laid = stacked(rectangles, count, WIDTH, HEIGHT, rooms, never)
    assert laid is not None
    assert_filled(rectangles, count, laid, rooms)


def test_copies_are_counted() -> None:
    """Six equal ones fill a room of two by three; with five there is none."""
    one = [Rectangle(0, 600, 300)]
    laid = stacked(one, [6], WIDTH, HEIGHT, 1, never)
    assert laid is not None
    assert_filled(one, [6], laid, 1)
    assert stacked(one, [5], WIDTH, HEIGHT, 1, never) is None


def test_a_turn_that_is_not_given_is_not_taken() -> None:
    sizes = [(WIDTH, 300), (600, WIDTH)]
    assert stacked(upright(sizes), [1, 1], WIDTH, HEIGHT, 1, never) is None
    turned = [*upright(sizes), Rectangle(1, WIDTH, 600)]
    laid = stacked(turned, [1, 1], WIDTH, HEIGHT, 1, never)
    assert laid is not None
    assert [q.rectangle for q in laid if q.rectangle == 2]


def test_what_no_straight_cut_parts_is_left_to_others() -> None:
    areas = sum(w * h for w, h in PINWHEEL)
    assert areas == 12 * 13
    assert stacked(upright(PINWHEEL), [1] * 5, 12, 13, 1, never) is None


def test_many_rooms_and_deep_blocks() -> None:
    sizes = [(WIDTH, HEIGHT)]
    laid = stacked(upright(sizes), [3000], WIDTH, HEIGHT, 3000, never)
    assert laid is not None
    assert {q.room for q in laid} == set(range(3000))


def test_it_gives_up_where_sides_match_too_often() -> None:
    tiny = [Rectangle(0, 1, 1), Rectangle(1, 1, 2), Rectangle(2, 2, 1)]
    assert stacked(tiny, [40, 40, 40], 20, 10, 1, never) is None


def test_it_hears_a_stop() -> None:
    one = [Rectangle(0, 600, 300)]
    assert stacked(one, [6], WIDTH, HEIGHT, 1, lambda: True) is None


def test_choosing_among_many_blocks_comes_to_an_end() -> None:
    """Plates of one height, three of which fill a sheet: lists of ways are long."""
    random = Random(3)
    wide: list[int] = []
    for _ in range(200):
        cuts = sorted(random.sample(range(1, 20), 2))
        wide += [cuts[0], cuts[1] - cuts[0], 20 - cuts[1]]
    kinds = sorted(set(wide))
    count = [wide.count(k) for k in kinds]
    asked = 0

    def stop() -> bool:
        nonlocal asked
        asked += 1
        return False

    plates = [Rectangle(k, width, 12) for k, width in enumerate(kinds)]
    laid = stacked(plates, count, 20, 12, 200, stop)
    assert laid is None or len(laid) == 600
    assert asked <= MOST_LOOKS + MOST_STEPS


@pytest.mark.parametrize(
    ("kinds", "fixed"),
    [
        ([BinKind(800, 900, supply=1)], ()),  # two are needed
        ([BinKind(800, 900), BinKind(800, 900)], ()),
        ([BinKind(800, 900, walls=((400, 0, 410, 900),))], ()),
        ([BinKind(800, 900)], (0,)),
    ],
)
def test_other_bins_are_left_to_the_search(
    kinds: list[BinKind], fixed: tuple[int, ...]
) -> None:
    items = [Item(400, 900, 2, (1,) * len(kinds)), Item(900, 800, 1, (2,) * len(kinds))]
    search = BinSearch(make_goods(items, kinds), 0, fixed)
    assert not search.stack(never)
    assert search.best is None


@pytest.mark.parametrize("left", [0, 100])
def test_a_search_begins_with_full_bins(left: int) -> None:
    """Also where a wall leaves one rectangle free, and with turns as allowed."""
    walls = ((0, 0, left, 900),) if left else ()
    kind = BinKind(800 + left, 900, walls=walls)
    items = [Item(400, 900, 2, (1,)), Item(900, 800, 1, (2,))]
    search = BinSearch(make_goods(items, [kind]), 0)
    assert search.stack(never)
    assert search.best is not None
    assert search.cost == 2.0
    assert sorted(search.best.x.tolist()) == [left, left, left + 400]
    assert search.best.turned.tolist() == [0, 0, 1]
    assert sorted(np.bincount(search.best.bin).tolist()) == [1, 2]
