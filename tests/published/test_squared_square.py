"""A layout that fills its blank to the last bit.

The simple perfect squared square of order 21, side 112: A. J. W. Duijvestijn, Journal
of Combinatorial Theory B 25 (1978) 240-243, Bouwkamp code
[50,35,27][8,19][15,17,11][6,24][29,25,9,2][7,18][16][42][4,37][33].
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock
from drystone.nesting.verify import Kind, verify

CODE = [
    *([50, 35, 27], [8, 19], [15, 17, 11], [6, 24], [29, 25, 9, 2]),
    *([7, 18], [16], [42], [4, 37], [33]),
]
SIDE = 112


def decode(code: list[list[int]], side: int) -> list[tuple[int, int, int]]:
    """Return (side, x, y) of each square: a run starts lowest, then leftmost."""
    level = [0] * side
    squares = []
    for run in code:
        x = level.index(min(level))
        for size in run:
            y = level[x]
            assert level[x : x + size] == [y] * size
            squares.append((size, x, y))
            level[x : x + size] = [y + size] * size
            x += size
    assert level == [side] * side
    return squares


SQUARES = decode(CODE, SIDE)


def squared_square(moved: int = -1, dx: float = 0.0, dy: float = 0.0) -> Job:
    parts = tuple(
        Part(f"s{size}", f"square {size}", Outline(Loop.rectangle(size, size)))
        for size, _, _ in SQUARES
    )
    placements = [Placement(f"s{s}", 1, 0, x, y) for s, x, y in SQUARES]
    if moved >= 0:
        still = placements[moved]
        placements[moved] = replace(still, x=still.x + dx, y=still.y + dy)
    return Job(
        "squared square",
        parts,
        (Stock("s", "sheet", Outline(Loop.rectangle(SIDE, SIDE)), count=1),),
        Cutting(cutter=0.0, allowance=0.0, margin=0.0),
        layout=Layout((Blank("s"),), tuple(placements)),
    )


def test_the_squares_are_all_different_and_fill_the_square() -> None:
    sizes = [size for size, _, _ in SQUARES]
    assert len(set(sizes)) == 21
    assert sum(size**2 for size in sizes) == SIDE**2


def test_the_full_square_is_accepted() -> None:
    assert verify(squared_square()).ok


@pytest.mark.parametrize("moved", range(21))
@pytest.mark.parametrize(("dx", "dy"), [(0.01, 0.0), (0.0, -0.01)])
def test_one_square_moved_by_a_hundredth_is_refused(
    moved: int, dx: float, dy: float
) -> None:
    report = verify(squared_square(moved, dx, dy))
    assert report.of(Kind.OVERLAP, Kind.OUTSIDE)
    assert all(p.measured < -0.009 for p in report.problems)
