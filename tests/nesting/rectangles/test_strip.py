"""The strip search: valid layouts, known optima, the same for the same seed."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.nesting.rectangles.strip import StripSearch


def never() -> bool:
    return False


def look_over(
    search: StripSearch, sizes: list[tuple[int, int]], copies: list[int], may: list[int]
) -> None:
    laid = []
    counts = [0] * len(sizes)
    for q in search.best:
        w, h = sizes[q.type]
        assert may[q.type] & (2 if q.turned else 1)
        if q.turned:
            w, h = h, w
        laid.append(shapely.box(q.x, q.y, q.x + w, q.y + h))
        counts[q.type] += 1
    assert counts == copies
    sheet = shapely.box(0, 0, search.length, search.width)
    assert all(sheet.covers(box) for box in laid)
    assert shapely.union_all(laid).area == sum(box.area for box in laid)
    assert search.length >= search.least


@given(st.data())
@settings(max_examples=50, deadline=None)
def test_every_layout_is_valid(data: st.DataObject) -> None:
    side = st.integers(1, 12)
    count = data.draw(st.integers(1, 7))
    sizes = [(data.draw(side), data.draw(side)) for _ in range(count)]
    copies = [data.draw(st.integers(1, 3)) for _ in sizes]
    may = [data.draw(st.sampled_from([1, 2, 3])) for _ in sizes]
    search = StripSearch(sizes, copies, may, 12, data.draw(st.integers(0, 5)))
    search.begin()
    look_over(search, sizes, copies, may)
    first = search.length
    search.run(never, attempts=15)
    look_over(search, sizes, copies, may)
    assert search.length <= first


def test_a_sheet_cut_up_is_put_together_again() -> None:
    rng = np.random.default_rng(3)
    parts = [(40, 30)]
    while len(parts) < 14:
        parts.sort(key=lambda p: p[0] * p[1])
        w, h = parts.pop()
        if w >= h:
            cut = int(rng.integers(w // 3, 2 * w // 3 + 1))
            parts += [(cut, h), (w - cut, h)]
        else:
            cut = int(rng.integers(h // 3, 2 * h // 3 + 1))
            parts += [(w, cut), (w, h - cut)]
    search = StripSearch(parts, [1] * 14, [3] * 14, 30, 1)
    search.run(never, attempts=5000)
    assert search.length == 40
    assert search.proven


def test_a_part_across_the_strip_is_refused_unless_it_may_be_turned() -> None:
    with pytest.raises(ValueError, match="does not fit"):
        StripSearch([(3, 11)], [1], [1], 10, 0)
    search = StripSearch([(3, 11)], [1], [3], 10, 0)
    search.run(never)
    assert search.length == 11


def test_the_same_seed_and_attempts_give_the_same_layout() -> None:
    rng = np.random.default_rng(2)
    sizes = [(int(w), int(h)) for w, h in rng.integers(2, 30, (20, 2))]
    found = []
    for seed in (7, 7, 8):
        search = StripSearch(sizes, [1] * 20, [3] * 20, 60, seed)
        search.run(never, attempts=40)
        found.append(search.best)
    assert found[0] == found[1]
    assert found[0] != found[2]


def test_a_stop_is_heard_at_once() -> None:
    search = StripSearch([(7, 5), (9, 4)], [30, 30], [3, 3], 31, 0)
    search.run(lambda: True)
    assert search.best
