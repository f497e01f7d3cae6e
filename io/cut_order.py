"""The order in which one blank is cut.

Drilled first, then engraved, pockets, tabs marked, holes, outer edges: the board
stays whole and held down as long as it can. A part in another part's hole is cut
free before that hole is, and the hole before the part around it: what is loose is
never cut again. Small parts go before big ones, and otherwise the cutter goes to
the nearest place. Common practice; nothing here knows the machine.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..nesting.model.curve import Segment
from ..nesting.model.job import Job
from ..nesting.model.motion import Motion, Point
from ..nesting.model.outline import Loop
from ..nesting.model.part import Operation, Part
from ..nesting.model.placement import Placement

_CHORD_ERROR = 0.05
"""Accuracy of the polygons that tell what lies in what, mm; parts and holes are
further apart than that, or the layout is wrong anyway."""

Rank = tuple[float, float, float, float]
"""Phase, depth of nesting (deepest first), edges before the hole around them, size."""


@dataclass(frozen=True)
class Cut:
    """One closed or open curve to cut.

    Parameters
    ----------
    operation : Operation
        What is done along it; also its layer.
    segments : tuple of Segment
        The curve in the blank's coordinates, mm.
    closed : bool
        Whether it ends where it begins.
    placement : Placement
        The copy it belongs to.
    part : Part
        The part of that copy.
    name : str
        The mark's name; empty for edges and holes.
    """

    operation: Operation
    segments: tuple[Segment, ...]
    closed: bool
    placement: Placement
    part: Part
    name: str = ""

    def moved(self, motion: Motion) -> Cut:
        """Return the same cut with its curve moved."""
        moved = tuple(segment.moved(motion) for segment in self.segments)
        return replace(self, segments=moved)


def cut_order(job: Job, blank: int, origin: Point = (0.0, 0.0)) -> tuple[Cut, ...]:
    """Return everything to cut on a blank, in cutting order.

    Parameters
    ----------
    job : Job
        The job with its layout.
    blank : int
        Index of the blank, from 0.
    origin : Point
        Where the cutter starts from, in the blank's coordinates, mm.
    """
    placed = [(p, job.part(p.part_id)) for p in job.layout.on(blank)]
    outlines = [part.outline.moved(p.motion) for p, part in placed]
    levels, filled = _nesting(
        [outline.outer for outline in outlines],
        [outline.holes for outline in outlines],
    )
    ranked: list[tuple[Rank, Cut]] = []
    for index, ((placement, part), outline) in enumerate(
        zip(placed, outlines, strict=True)
    ):
        level = levels[index]
        for mark in part.marks:
            moved = mark.moved(placement.motion)
            cut = Cut(
                mark.operation, moved.segments, moved.closed, placement, part, mark.name
            )
            ranked.append(((_FIRST[mark.operation], 0, 0, 0), cut))
        for number, hole in enumerate(outline.holes):
            cut = Cut(Operation.INSIDE, hole.segments, True, placement, part)
            if (index, number) in filled:  # after the edges of what lies in it
                rank: Rank = (_EDGES, -level - 1, 1, 0)
            else:
                rank = (_FIRST[Operation.INSIDE], -level, 0, 0)
            ranked.append((rank, cut))
        cut = Cut(Operation.OUTSIDE, outline.outer.segments, True, placement, part)
        ranked.append(((_EDGES, -level, 0, _size_class(part.area)), cut))
    order: list[Cut] = []
    here = origin
    for rank in sorted({rank for rank, _ in ranked}):
        group = [cut for other, cut in ranked if other == rank]
        for cut in _nearest_first(group, here):
            order.append(cut)
            here = cut.segments[-1].end
    return tuple(order)


_FIRST: dict[Operation, float] = {
    Operation.DRILL: 0.0,
    Operation.ENGRAVE: 1.0,
    Operation.POCKET: 2.0,
    Operation.TAB: 3.0,
    Operation.INSIDE: 4.0,
    Operation.OUTSIDE: 5.0,
}
_EDGES = _FIRST[Operation.OUTSIDE]


def _size_class(area: float) -> float:
    """Return an area rounded so that copies of one part compare equal."""
    return float(f"{area:.5e}")


def _nesting(
    outers: Sequence[Loop], holes: Sequence[Sequence[Loop]]
) -> tuple[list[int], set[tuple[int, int]]]:
    """Return how deep each part lies in holes, and which holes hold parts.

    Parameters
    ----------
    outers : sequence of Loop
        Each part's edge where it lies.
    holes : sequence of sequences of Loop
        Each part's holes where they lie.

    Returns
    -------
    tuple
        For each part the number of holes around it, and the pairs (part, hole)
        with something in them.
    """
    keys = [(part, n) for part, own in enumerate(holes) for n in range(len(own))]
    if not keys:
        return [0] * len(outers), set()
    polygons = [
        shapely.Polygon(holes[part][n].flatten(_CHORD_ERROR)) for part, n in keys
    ]
    tree = shapely.STRtree(polygons)
    points = shapely.points([outer.segments[0].start for outer in outers])
    levels = [0] * len(outers)
    filled: set[tuple[int, int]] = set()
    for inner, found in tree.query(points, predicate="within").T:
        part, hole = keys[found]
        if part != inner:
            levels[inner] += 1
            filled.add((part, hole))
    return levels, filled


def _nearest_first(cuts: Sequence[Cut], start: Point) -> Iterable[Cut]:
    """Yield cuts so that each begins nearest to where the last one ended."""
    begins = np.array([cut.segments[0].start for cut in cuts])
    ends = np.array([cut.segments[-1].end for cut in cuts])
    left = np.ones(len(cuts), dtype=bool)
    here = np.array(start)
    for _ in cuts:
        away = np.hypot(*(begins - here).T)
        away[~left] = np.inf
        # Equal distances are settled by the order of the job, the same every time.
        index = int(np.argmin(np.round(away, 6)))
        left[index] = False
        here = ends[index]
        yield cuts[index]
