"""Pockets with islands: what is cleared, and what stays standing inside.

A closed pocket curve inside another one is an island: it stays. One inside an island
is a pocket again, and so on.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely import Polygon

from ..model.outline import Loop
from ..model.part import Mark, Operation, Part

_CHORD = 0.05


@dataclass(frozen=True)
class Pocket:
    """One pocket.

    Parameters
    ----------
    mark : Mark
        Its outer edge.
    islands : tuple of Mark
        The edges of what stays standing in it.
    """

    mark: Mark
    islands: tuple[Mark, ...] = ()

    def region(self, chord_error: float = _CHORD) -> Polygon:
        """Return the area to clear, its chords within an error of the curves, mm."""
        area = _polygon(self.mark, chord_error)
        for island in self.islands:
            area = area.difference(_polygon(island, chord_error))
        return area


def _polygon(mark: Mark, chord_error: float) -> Polygon:
    ring = Loop(mark.segments).flatten(chord_error)
    return shapely.make_valid(shapely.Polygon(ring))


@lru_cache(maxsize=512)
def _depths(marks: tuple[Mark, ...]) -> tuple[tuple[int, int], ...]:
    """Return for each closed pocket its depth of nesting, and what it lies in.

    What it lies in is the index of the smallest pocket curve round it, or -1.
    """
    regions = [_polygon(mark, _CHORD) for mark in marks]
    areas = np.array([region.area for region in regions])
    found = []
    for i, region in enumerate(regions):
        spot = region.representative_point()
        around = [
            k
            for k, other in enumerate(regions)
            if k != i
            and areas[k] > areas[i]
            and other.contains(spot)
            # Pockets that only overlap are two pockets.
            and other.buffer(_CHORD).contains(region)
        ]
        parent = min(around, key=lambda k: areas[k], default=-1)
        found.append((len(around), parent))
    return tuple(found)


def _closed_pockets(part: Part) -> dict[int, Mark]:
    """Return the part's closed pocket curves by their place among its marks."""
    return {
        i: mark
        for i, mark in enumerate(part.marks)
        if mark.operation is Operation.POCKET and mark.closed
    }


def pockets_of(part: Part) -> tuple[Pocket, ...]:
    """Return the part's pockets, each with the islands in it."""
    marks = tuple(_closed_pockets(part).values())
    depths = _depths(marks)
    return tuple(
        Pocket(
            mark,
            tuple(
                other
                for other, (_, parent) in zip(marks, depths, strict=True)
                if parent == i
            ),
        )
        for i, (mark, (depth, _)) in enumerate(zip(marks, depths, strict=True))
        if depth % 2 == 0
    )


def is_island(part: Part, index: int) -> bool:
    """Return whether a mark of the part (index from 0) is an island in a pocket."""
    marks = _closed_pockets(part)
    if index not in marks:
        return False
    depths = _depths(tuple(marks.values()))
    return bool(depths[list(marks).index(index)][0] % 2)
