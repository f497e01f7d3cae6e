"""No-fit regions against brute force by shapely, and the cases that break them."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.nesting import nofit
from drystone.nesting.convex import convex_pieces, is_convex, join_holes
from drystone.nesting.kernels import (
    free_places,
    overlap_depth,
    pair_depth,
    pair_exit,
)
from drystone.nesting.nofit import CHUNK, RegionStore, _Parts, nofit_rings
from drystone.nesting.prepare import Shape, prepare_room, prepare_shape


def square(side: float, at: float = 0.0) -> list[list[float]]:
    low, high = at, at + side
    return [[low, low], [high, low], [high, high], [low, high]]


def shape(*rings: list[list[float]], slack: float = 0.0) -> Shape:
    return prepare_shape([np.array(r, dtype=float) for r in rings], slack=slack)


def star(seed: int, corners: int, inner: float, hole: bool) -> Shape:
    """A random star-shaped polygon, spiky for small `inner`, perhaps with a hole."""
    rng = np.random.default_rng(seed)
    turn = np.sort(rng.uniform(0.0, 2 * np.pi, corners)) + np.linspace(0, 1e-3, corners)
    radius = rng.uniform(inner, 1.0, corners) * 10.0
    outer = np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1)
    polygon = shapely.Polygon(outer)
    if not polygon.is_valid or polygon.area < 1.0:
        return shape(square(7.0))
    rings = [outer]
    core = polygon.buffer(-1.0)
    if hole and core.geom_type == "Polygon" and core.area > 1.0:
        rings.append(np.array(core.exterior.coords)[:-1])
    return prepare_shape(rings)


def placed(store: RegionStore, variant: int, x: float, y: float) -> shapely.Polygon:
    rings = [ring + np.array([x, y]) for ring in store.turned_shapes[variant]]
    return shapely.Polygon(rings[0], rings[1:])


@settings(max_examples=40, deadline=None)
@given(
    seeds=st.tuples(st.integers(0, 10**6), st.integers(0, 10**6)),
    corners=st.tuples(st.integers(4, 14), st.integers(4, 14)),
    inner=st.floats(0.15, 0.95),
    holes=st.tuples(st.booleans(), st.booleans()),
    angle=st.sampled_from([0.0, 90.0, 180.0, 37.5, 211.0]),
)
def test_depth_agrees_with_brute_force(
    seeds: tuple[int, int],
    corners: tuple[int, int],
    inner: float,
    holes: tuple[bool, bool],
    angle: float,
) -> None:
    shapes = [
        star(s, c, inner, h) for s, c, h in zip(seeds, corners, holes, strict=True)
    ]
    store = RegionStore(shapes, [[0.0, 45.0], [angle]])
    rng = np.random.default_rng(seeds[0])
    for u, v in [(0, 2), (2, 1), (0, 1)]:
        store.ensure([(v, u)])
        edges = store.edges(u, v)
        low, high = edges[:, :2].min(axis=0), edges[:, :2].max(axis=0)
        size = float((high - low).max())
        lines = shapely.MultiLineString(
            [[(a, b), (a + c, b + d)] for a, b, c, d in edges.tolist()]
        )
        regions = store.regions
        for _ in range(30):
            x, y = low + rng.uniform(-0.05, 1.05, 2) * (high - low)
            depth = pair_depth(regions, u, v, x, y)
            shared = placed(store, u, 0, 0).intersection(placed(store, v, x, y)).area
            far = shapely.distance(lines, shapely.Point(x, y))
            if far < 1e-6 * size:
                continue
            assert depth == pytest.approx(far if shared > 0.0 else 0.0, abs=1e-7 * size)
            assert pair_depth(regions, v, u, -x, -y) == pytest.approx(
                depth, abs=1e-7 * size
            )
            there, ex, ey = pair_exit(regions, u, v, x, y)
            assert np.hypot(ex, ey) == pytest.approx(there) == depth
            assert pair_depth(regions, u, v, x + ex, y + ey) <= 1e-7 * size


def test_touching_is_not_an_overlap() -> None:
    store = RegionStore([shape(square(10.0)), shape(square(4.0))], [[0.0], [0.0, 90.0]])
    for v in (1, 2):
        store.ensure([(0, v)])
        dx = np.array([7.0, 7.0, 6.999, 0.0, -7.0, 0.0])
        dy = np.array([0.0, 7.0, 0.0, 7.0, 3.0, 0.0])
        depth = overlap_depth(store.regions, 0, v, dx, dy)
        assert depth == pytest.approx([0.0, 0.0, 0.001, 0.0, 0.0, 7.0], abs=1e-8)


def test_small_part_inside_a_window() -> None:
    ring = shape(square(10.0), square(6.0, 2.0))
    store = RegionStore([ring, shape(square(4.0))], [[0.0], [0.0]])
    store.ensure([(0, 1)])
    depth = overlap_depth(
        store.regions, 0, 1, np.array([0.0, 1.0, 1.5, 7.0]), np.zeros(4)
    )
    assert depth == pytest.approx([0.0, 0.0, 0.5, 0.0], abs=1e-8)


def test_large_part_over_a_small_hole_overlaps() -> None:
    ring = shape(square(10.0), square(1.0, 4.5))
    store = RegionStore([ring, shape(square(6.0))], [[0.0], [0.0]])
    store.ensure([(0, 1), (0, 0)])
    assert pair_depth(store.regions, 0, 1, 0.0, 0.0) == pytest.approx(8.0)
    assert pair_depth(store.regions, 0, 0, 0.0, 0.0) == pytest.approx(10.0)


@pytest.mark.parametrize("first", [0, 1])
def test_exact_fit_is_found_with_slack(first: int) -> None:
    notched = shape(
        [[0, 0], [10, 0], [10, 10], [7, 10], [7, 4], [3, 4], [3, 10], [0, 10]],
        slack=1e-6,
    )
    plug = shape(square(4.0), slack=1e-6)
    shapes = [notched, plug][:: 1 if first == 0 else -1]
    store = RegionStore(shapes, [[0.0], [0.0]])
    # The plug's centre when it sits at the bottom of the notch.
    dx, dy = np.array([5.0, 6.0]) - notched.origin
    u, v = (0, 1) if first == 0 else (1, 0)
    store.ensure([(u, v)])
    assert pair_depth(store.regions, u, v, dx, dy) == 0.0
    assert pair_depth(store.regions, u, v, dx + 0.1, dy) == pytest.approx(0.1, abs=1e-5)


def test_exact_fit_in_a_window_with_slack() -> None:
    ring = shape(square(10.0), square(4.0, 3.0), slack=1e-6)
    store = RegionStore([ring, shape(square(4.0), slack=1e-6)], [[0.0], [0.0]])
    store.ensure([(0, 1)])
    assert pair_depth(store.regions, 0, 1, 0.0, 0.0) == 0.0


def test_snapshot_survives_later_building() -> None:
    shapes = [star(k, 9, 0.4, False) for k in range(4)]
    store = RegionStore(shapes, [[0.0, 30.0]] * 4)
    store.ensure([(0, 2)])
    before = store.regions
    want = pair_depth(before, 0, 2, 0.5, 0.5)
    assert pair_depth(before, 0, 4, 0.5, 0.5) == -1.0
    store.ensure_all(range(4), range(4))
    assert pair_depth(before, 0, 4, 0.5, 0.5) == -1.0
    assert pair_depth(before, 0, 2, 0.5, 0.5) == want
    assert pair_depth(store.regions, 0, 2, 0.5, 0.5) == want


def test_a_cell_centred_on_a_corners_level_is_not_taken_for_outside() -> None:
    # Two pieces of a jigsaw (ESICUP's TO016, CC0-1.0), with sides just drawn back: an
    # edge's start plus its direction misses the next edge's start by one rounding, at
    # the very level of a grid cell's centre.
    one = [
        [-231.7062659136359, 304.435110228425],
        [-327.70625802842, -445.5648281683255],
        [250.2936565252313, -445.5648281683255],
        [250.2936565252313, 554.4350918316744],
        [94.29371009700142, 554.4350918316744],
    ]
    two = [
        [-436.5405552136049, 246.23544706820462],
        [-436.5405552136049, -435.7644803318933],
        [107.45938287095245, -435.7644803318933],
        [563.4593647863951, 278.23549135149716],
        [563.4593647863951, 452.2354305882046],
    ]
    shapes = [Shape((np.array(ring),), np.zeros(2), 1.0) for ring in (one, two)]
    store = RegionStore(shapes, [[270.0], [180.0]])
    dx, dy = 117.89437661806949, -16.071015492257857
    assert placed(store, 0, 0, 0).intersection(placed(store, 1, dx, dy)).area > 3e5
    edges = store.edges(0, 1)
    whole = shapely.Polygon(edges[:, :2])
    assert pair_depth(store.regions, 0, 1, dx, dy) == pytest.approx(
        whole.exterior.distance(shapely.Point(dx, dy))
    )


def test_rounding_leaves_no_crack_into_the_region() -> None:
    # Two more jigsaw pieces (ESICUP's TZ001C20, CC0-1.0) with parallel sides of one
    # length, between whose ways forth and back rounding once left a crack.
    one = [
        [153.8072465010811, 22.238632681306658],
        [-266.19268947068474, 164.2386110336656],
        [-266.19268947068474, 44.238693677737736],
        [327.80714488377527, -197.76123883704227],
    ]
    two = [
        [95.77719147307529, -69.08882760083969],
        [269.7771283548028, -289.08874779612734],
        [271.7771272294947, -39.08888845964013],
        [-324.22279255515883, 204.91107870052005],
        [-324.22279255515883, 72.91116699918233],
    ]
    shapes = [Shape((np.array(ring),), np.zeros(2), 1.0) for ring in (one, two)]
    store = RegionStore(shapes, [[0.0, 90.0, 270.0], [0.0, 270.0]])
    for u in (0, 1, 2):
        for v in (3, 4, 0, 1, 2):
            store.ensure([(u, v)])
            mine = placed(store, u, 0, 0).buffer(-1e-3, join_style="mitre")
            for x, y, dx, dy in store.edges(u, v).tolist():
                for t in (0.3, 0.5, 0.8):
                    other = placed(store, v, x + t * dx, y + t * dy)
                    assert mine.intersection(other).area < 1.0


def test_a_store_can_go_to_another_process() -> None:
    store = RegionStore([star(k, 9, 0.4, False) for k in range(3)], [[0.0, 30.0]] * 3)
    store.ensure([(0, 2)])
    other = pickle.loads(pickle.dumps(store))
    other.ensure([(0, 4)])
    store.ensure([(0, 4)])
    for v in (2, 4):
        want = pair_depth(store.regions, 0, v, 0.5, 0.5)
        assert pair_depth(other.regions, 0, v, 0.5, 0.5) == want > 0.0


@pytest.mark.parametrize("turns", [[0.0, 90.0, 180.0, 270.0], [0.0, 17.0]])
def test_copies_of_one_shape_at_unlike_turns(turns: list[float]) -> None:
    store = RegionStore([star(5, 9, 0.4, False)], [turns])
    store.ensure_all([0], [0])
    rng = np.random.default_rng(2)
    for u in range(len(turns)):
        for v in range(len(turns)):
            for x, y in rng.uniform(-12, 12, (20, 2)):
                shared = placed(store, u, 0, 0).intersection(placed(store, v, x, y))
                depth = pair_depth(store.regions, u, v, x, y)
                assert (depth > 1e-6) == (shared.area > 1e-5) or depth < 1e-2


def test_free_places_in_a_room_of_any_outline() -> None:
    # An L-shaped room with a round-ish keep-out; the outside is one more shape.
    usable = shapely.Polygon(
        [(0, 0), (100, 0), (100, 40), (50, 40), (50, 100), (0, 100)]
    ).difference(shapely.Point(20, 20).buffer(8, quad_segs=3))
    room = prepare_room(usable)
    part = shape([[0, 0], [20, 0], [20, 10], [12, 10], [12, 16], [0, 16]])
    store = RegionStore([part, *room.walls], [[0.0, 90.0]] + [[0.0]] * len(room.walls))
    walls = [store.variants(1 + k)[0] for k in range(len(room.walls))]
    wall_x = np.array([wall.origin[0] for wall in room.walls])
    wall_y = np.array([wall.origin[1] for wall in room.walls])
    rng = np.random.default_rng(1)
    seen = set()
    for v in store.variants(0):
        store.ensure([(w, v) for w in walls])
        x0, y0, x1, y1 = store.inner_rectangle(v, room.rectangle)
        at = rng.uniform([x0, y0], [x1, y1], (300, 2))
        free = free_places(
            store.regions,
            np.array(walls, dtype=np.int32),
            wall_x,
            wall_y,
            v,
            at[:, 0].copy(),
            at[:, 1].copy(),
            1e-9,
        )
        for (x, y), said in zip(at, free, strict=True):
            true = usable.buffer(1e-6).contains(placed(store, v, x, y))
            if not true:
                assert not said
            if usable.buffer(-0.06).contains(placed(store, v, x, y)):
                assert said
            seen.add(bool(said))
    assert seen == {True, False}


def test_rectangular_room_needs_no_walls() -> None:
    room = prepare_room(shapely.box(5, 5, 105, 65))
    assert room.rectangle == (5.0, 5.0, 105.0, 65.0)
    assert room.walls == ()


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6), corners=st.integers(4, 20), holes=st.integers(0, 4))
def test_convex_pieces_and_slits_keep_the_polygon(
    seed: int, corners: int, holes: int
) -> None:
    polygon = star(seed, corners, 0.3, False).polygon
    rng = np.random.default_rng(seed)
    for _ in range(holes):
        spot = shapely.Point(rng.uniform(-6, 6, 2)).buffer(0.7, quad_segs=2)
        if polygon.buffer(-0.1).contains(spot):
            polygon = polygon.difference(spot)
    rings = prepare_shape(
        [np.array(r.coords)[:-1] for r in (polygon.exterior, *polygon.interiors)]
    ).rings
    polygon = shapely.Polygon(rings[0], rings[1:])
    pieces = convex_pieces(rings)
    assert all(is_convex(piece) for piece in pieces)
    polygons = [shapely.Polygon(piece) for piece in pieces]
    union = shapely.union_all(polygons)
    assert sum(p.area for p in polygons) == pytest.approx(polygon.area)
    assert union.symmetric_difference(polygon).area <= 1e-9 * polygon.area
    ring = join_holes(rings)
    x, y = ring[:, 0], ring[:, 1]
    signed = 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    assert signed == pytest.approx(polygon.area)
    # A slit never crosses the outline: every side lies within the polygon.
    sides = shapely.linestrings(np.stack([ring, np.roll(ring, -1, axis=0)], axis=1))
    inside = polygon.buffer(1e-9)
    assert all(inside.covers(side) for side in sides)


def test_holes_too_small_for_the_other_shape_cost_nothing() -> None:
    plate = [(0, 0), (100, 0), (100, 100), (0, 100)]
    holes = [
        [(x, y), (x, y + 8), (x + 8, y + 8), (x + 8, y)]
        for x in range(5, 90, 15)
        for y in range(5, 90, 15)
    ]
    window = [(20, 20), (20, 60), (60, 60), (60, 20)]
    arrays = [np.array(ring, dtype=np.float64) for ring in [plate, *holes]]
    lace = _Parts(prepare_shape(arrays))
    assert len(lace.for_guest(arrays[0]).rings) == 1
    assert len(lace.for_guest(arrays[1] * 0.5).rings) == 1 + len(holes)
    framed = [np.array(ring, dtype=np.float64) for ring in (plate, window)]
    frame = prepare_shape(framed)
    assert len(nofit_rings(frame, lace.shape, 0.0)) == 1


def test_building_regions_hears_a_stop_and_is_taken_up_again() -> None:
    rings = [np.array([[0.0, 0.0], [9.0 + k, 0.0], [5.0, 7.0 + k]]) for k in range(4)]
    store = RegionStore([prepare_shape([r]) for r in rings], [[0.0, 90.0]] * 4)
    pairs = [(u, v) for u in range(len(store)) for v in range(len(store))]
    asked = 0

    def third() -> bool:
        nonlocal asked
        asked += 1
        return asked >= 3

    assert not store.ensure(pairs, third)
    assert len(store.regions.head) == 2 * CHUNK
    assert store.ensure(pairs, lambda: False)
    whole = RegionStore(store.shapes, [[0.0, 90.0]] * 4)
    assert whole.ensure(pairs)
    assert len(store.regions.head) == len(whole.regions.head)
    for u, v in pairs:
        assert np.allclose(store.corners(u, v), whole.corners(u, v))


def test_a_stop_is_heard_while_regions_move_to_more_room(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    rings = [np.array([[0.0, 0.0], [9.0 + k, 0.0], [5.0, 7.0 + k]]) for k in range(4)]
    store = RegionStore([prepare_shape([r]) for r in rings], [[0.0, 90.0]] * 4)
    pairs = [(u, v) for u in range(len(store)) for v in range(len(store))]
    assert store.ensure(pairs[:4])
    before, count = store.regions, len(store.regions.head)
    monkeypatch.setattr(nofit, "COPIED", 64)
    asked = 0

    def later() -> bool:
        nonlocal asked
        asked += 1
        return asked >= 4

    assert not store.ensure(pairs, later)
    assert store.regions is before
    assert store.ensure(pairs)
    whole = RegionStore(store.shapes, [[0.0, 90.0]] * 4)
    assert whole.ensure(pairs)
    assert count < len(store.regions.head) == len(whole.regions.head)
    for u, v in pairs:
        assert np.allclose(store.corners(u, v), whole.corners(u, v))


def test_further_turns_join_a_store_and_leave_it_as_it_was() -> None:
    parts = [star(3, 9, 0.4, True), star(4, 7, 0.5, False)]
    store = RegionStore(parts, [[0.0, 90.0], [0.0, 37.5]])
    store.ensure([(0, 2), (1, 3)])
    more = store.with_turns([(1, 11.25), (0, 401.0)])
    assert more.angles == (0.0, 90.0, 0.0, 37.5, 11.25, 41.0)
    assert [more.shape_of(v) for v in range(len(more))] == [0, 0, 1, 1, 1, 0]
    assert [*more.variants(1)] == [2, 3]
    # What was built is there; what each builds from now on is its own.
    built = int((more.regions.table >= 0).sum())
    assert built == int((store.regions.table >= 0).sum())
    pairs = [(u, v) for u in range(6) for v in range(6)]
    more.ensure(pairs[:20])
    store.ensure([(u, v) for u, v in pairs if max(u, v) < 4])
    more.ensure(pairs)
    whole = RegionStore(parts, [[0.0, 90.0, 41.0], [0.0, 37.5, 11.25]])
    same = [0, 1, 3, 4, 5, 2]
    whole.ensure([(same[u], same[v]) for u, v in pairs])
    rng = np.random.default_rng(0)
    for u, v in pairs:
        for dx, dy in rng.uniform(-12.0, 12.0, (20, 2)):
            expected = pair_depth(whole.regions, same[u], same[v], dx, dy)
            assert pair_depth(more.regions, u, v, dx, dy) == pytest.approx(expected)
            if max(u, v) < 4:
                found = pair_depth(store.regions, u, v, dx, dy)
                assert found == pytest.approx(expected)
