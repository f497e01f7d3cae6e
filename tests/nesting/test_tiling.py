"""Exact tiling: jigsaws are put together again, and nothing false is handed out."""

from __future__ import annotations

import math
from itertools import pairwise

import hypothesis.strategies as st
import numpy as np
import shapely
from hypothesis import given, settings

from drystone.nesting.tiling import Laid, Ring, Tile, grid_of, tile

SIDE = 60


def never() -> bool:
    return False


def lattice_points(ring: list[tuple[int, int]]) -> list[tuple[int, int]]:
    out = []
    for (x0, y0), (x1, y1) in pairwise([*ring, ring[0]]):
        steps = math.gcd(x1 - x0, y1 - y0)
        out += [
            (x0 + (x1 - x0) * k // steps, y0 + (y1 - y0) * k // steps)
            for k in range(steps)
        ]
    return out


@st.composite
def jigsaws(draw: st.DrawFn) -> list[Ring]:
    """Cut a square along straight lines between lattice points of its pieces."""
    pieces = [[(0, 0), (SIDE, 0), (SIDE, SIDE), (0, SIDE)]]
    for _ in range(draw(st.integers(1, 9))):
        pieces.sort(key=lambda ring: -shapely.Polygon(ring).area)
        points = lattice_points(pieces[0])
        i = draw(st.integers(0, len(points) - 1))
        j = draw(st.integers(0, len(points) - 1))
        i, j = min(i, j), max(i, j)
        one, two = points[i : j + 1], points[j:] + points[: i + 1]
        if min(len(one), len(two)) < 3:
            continue
        if min(shapely.Polygon(q).area for q in (one, two)) < 8.0:
            continue
        pieces[:1] = [one, two]
    return [tuple(ring) for ring in pieces]


def moved(ring: Ring, quarter: int, dx: int, dy: int) -> Ring:
    for _ in range(quarter):
        ring = tuple((-y, x) for x, y in ring)
    return tuple((x + dx, y + dy) for x, y in ring)


def assert_tiled(tiles: list[Tile], laid: list[Laid], rooms: int) -> None:
    used = [0] * len(tiles)
    for room in range(rooms):
        here = [one for one in laid if one.room == room]
        shapes = [
            shapely.Polygon(moved(tiles[q.tile].outline, q.quarter, q.x, q.y))
            for q in here
        ]
        square = shapely.box(0, 0, SIDE, SIDE)
        assert sum(s.area for s in shapes) == square.area
        assert shapely.union_all(shapes).symmetric_difference(square).area < 1e-9
        for q in here:
            assert q.quarter in tiles[q.tile].quarters
            used[q.tile] += 1
    assert used == [one.quantity for one in tiles]


@settings(max_examples=25, deadline=None)
@given(st.lists(jigsaws(), min_size=1, max_size=3), st.randoms(use_true_random=False))
def test_a_jigsaw_is_put_together_again(puzzles, random) -> None:  # type: ignore[no-untyped-def]
    tiles = [
        Tile(
            moved(ring, random.randrange(4), random.randrange(9), random.randrange(9)),
            1,
            (0, 1, 2, 3),
        )
        for puzzle in puzzles
        for ring in puzzle
    ]
    random.shuffle(tiles)
    laid = tile(tiles, SIDE, SIDE, len(puzzles), 1, never, steps=60_000)
    assert laid is not None
    assert_tiled(tiles, laid, len(puzzles))


def test_equal_pieces_count_as_one_kind() -> None:
    halves = [Tile(((0, 0), (SIDE, 0), (SIDE, 30), (0, 30)), 3, (0,))]
    halves.append(Tile(((0, 0), (30, 0), (30, SIDE), (0, SIDE)), 1, (1,)))
    laid = tile(halves, SIDE, SIDE, 2, 0, never)
    assert laid is not None
    assert_tiled(halves, laid, 2)


def test_turns_that_are_not_allowed_are_not_taken() -> None:
    tiles = [
        Tile(((0, 0), (SIDE, 0), (SIDE, 30), (0, 30)), 1, (0,)),
        Tile(((0, 0), (30, 0), (30, SIDE), (0, SIDE)), 1, (0, 2)),
    ]
    assert tile(tiles, SIDE, SIDE, 1, 0, never) is None


def test_area_that_does_not_fill_the_rooms_is_no_jigsaw() -> None:
    square = Tile(((0, 0), (59, 0), (59, 60), (0, 60)), 1, (0,))
    assert tile([square], SIDE, SIDE, 1, 0, never) is None


def test_a_frame_round_a_block_needs_a_room_with_a_hole() -> None:
    """A U, its lid and a block inside: the free region falls in parts meanwhile."""
    tiles = [
        Tile(
            (
                *((0, 0), (60, 0), (60, 40), (40, 40)),
                *((40, 20), (20, 20), (20, 40), (0, 40)),
            ),
            1,
            (0, 1, 2, 3),
        ),
        Tile(((0, 0), (60, 0), (60, 20), (0, 20)), 1, (0, 1, 2, 3)),
        Tile(((0, 0), (20, 0), (20, 20), (0, 20)), 1, (0,)),
    ]
    laid = tile(tiles, SIDE, SIDE, 1, 0, never)
    assert laid is not None
    assert_tiled(tiles, laid, 1)


def test_the_same_seed_gives_the_same_tiling() -> None:
    strips = [Tile(((0, 0), (w, 0), (w, 60), (0, 60)), 1, (0, 1)) for w in (7, 11, 42)]
    first = tile(strips, SIDE, SIDE, 1, 5, never)
    assert first is not None
    assert first == tile(strips, SIDE, SIDE, 1, 5, never)


def test_the_grid_of_a_drawing() -> None:
    ring = np.array([[0.0, 0.0], [1.25, 0.0], [0.0, 3.5]])
    assert grid_of([ring], [0.0, 90.0]) == 100
    assert grid_of([ring * 4], [180.0]) == 1
    assert grid_of([ring * math.pi], [0.0]) is None
    assert grid_of([ring], [45.0]) is None
