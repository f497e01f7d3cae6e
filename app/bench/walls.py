"""What stands in a part's way on one blank: edges, each with a distance to keep.

Words used here. A **wall** is one straight edge that a moving part must stay away from
by its **reach**: the gap for edges of other parts and keep-outs, the margin for the
blank's own edge. Every wall runs so that what is in the way lies on its left. A part
is **clear** when it is near no wall and lies inside the blank, outside every other part
and keep-out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from ...nesting.model.job import Cutting, Job
from ...nesting.model.motion import Points
from ...nesting.model.outline import Outline
from ...nesting.model.placement import Placement
from ...nesting.model.stock import Stock
from .copies import Key, key_of
from .shapes import flat, ring_edges

LEAST_REACH = 5e-4
"""A reach of 0 would let rounding push edges through each other, mm."""


@dataclass(frozen=True)
class Owner:
    """Whom a wall belongs to.

    Attributes
    ----------
    kind : str
        "part", "edge" (the blank's own) or "keep-out".
    key : tuple of str and int, or None
        The copy, for a part.
    label : str
        The keep-out's label.
    """

    kind: str
    key: Key | None = None
    label: str = ""


class Walls:
    """Everything in the way on one blank, ready for quick questions.

    Parameters
    ----------
    stock : Stock
        What the blank is made of.
    cutting : Cutting
        The gap and the margin.
    others : iterable of tuple of Placement and Outline
        What lies on the blank, less what is being moved.

    Attributes
    ----------
    edges : ndarray of float64, shape (n, 4), mm
        Ends of the walls, in the blank's coordinates.
    reach : ndarray of float64, shape (n,), mm
        Distance to keep from each.
    owner : ndarray of int64, shape (n,)
        Index into `owners`.
    """

    def __init__(
        self,
        stock: Stock,
        cutting: Cutting,
        others: Iterable[tuple[Placement, Outline]],
    ) -> None:
        self.stock = stock
        self.gap = cutting.gap
        self.margin = cutting.margin
        owners: list[Owner] = []
        edges: list[Points] = []
        reaches: list[float] = []
        solids: list[Any] = []
        self.solid_owner: list[int] = []

        def add(owner: Owner, rings: Sequence[Points], reach: float) -> None:
            for ring in rings:
                edges.append(ring_edges(ring))
                reaches.append(reach)
                counts.append(len(owners))
            owners.append(owner)

        counts: list[int] = []
        board = flat(stock.outline)
        # Reversed, so that what is in the way, the outside, lies on the left.
        add(
            Owner("edge"),
            [ring[::-1] for ring in board.rings],
            self.margin + board.error,
        )
        self.board = board.polygon
        shapely.prepare(self.board)
        for keep_out in stock.keep_outs:
            shape = flat(Outline(keep_out.loop))
            add(
                Owner("keep-out", label=keep_out.label),
                shape.rings,
                self.gap + shape.error,
            )
            solids.append(shape.polygon)
            self.solid_owner.append(len(owners) - 1)
        for placement, outline in others:
            shape = flat(outline)
            rings = shape.moved(placement.motion)
            if placement.flipped:
                rings = tuple(ring[::-1] for ring in rings)
            key = key_of(placement)
            add(Owner("part", key), rings, self.gap + shape.error)
            solids.append(shapely.Polygon(rings[0], list(rings[1:])))
            self.solid_owner.append(len(owners) - 1)
        sizes = [len(e) for e in edges]
        self.owners = owners
        self.edges: Points = np.concatenate(edges)
        self.reach: Points = np.maximum(np.repeat(reaches, sizes), LEAST_REACH)
        self.owner: NDArray[np.int64] = np.repeat(counts, sizes)
        self.greatest_reach = float(self.reach.max())
        self.solids: NDArray[Any] = np.array(solids, dtype=object)

    @cached_property
    def tree(self) -> Any:
        """A tree of the walls' boxes."""
        return shapely.STRtree(shapely.linestrings(self.edges.reshape(-1, 2, 2)))

    @cached_property
    def boxes(self) -> tuple[Points, Points]:
        """Lower left and upper right corners of the walls' boxes."""
        return (
            np.minimum(self.edges[:, :2], self.edges[:, 2:]),
            np.maximum(self.edges[:, :2], self.edges[:, 2:]),
        )

    @cached_property
    def solid_tree(self) -> Any:
        """A tree of other parts and keep-outs as polygons."""
        shapely.prepare(self.solids)
        return shapely.STRtree(self.solids)

    @cached_property
    def solid_rims(self) -> NDArray[Any]:
        """The edges of other parts and keep-outs as lines."""
        rims: NDArray[Any] = shapely.boundary(self.solids)
        return rims

    @cached_property
    def rim(self) -> Any:
        """The blank's edge as one line."""
        rim = self.board.boundary
        shapely.prepare(rim)
        return rim

    def clear(self, polygons: Sequence[Any], tolerance: float) -> bool:
        """Return whether parts keep every distance, less a tolerance (mm)."""
        gap = self.gap - tolerance
        margin = self.margin - tolerance
        array = np.array(polygons, dtype=object)
        if not bool(np.all(shapely.contains_properly(self.board, array))) and (
            margin > 0.0 or not bool(np.all(shapely.covers(self.board, array)))
        ):
            return False
        if margin > 0.0 and bool(np.any(shapely.dwithin(self.rim, array, margin))):
            return False
        if not len(self.solids):
            return True
        if gap > 0.0:
            hits = self.solid_tree.query(array, predicate="dwithin", distance=gap)
            return bool(hits.shape[1] == 0)
        for i, j in self.solid_tree.query(array, predicate="intersects").T:
            if not shapely.touches(array[i], self.solids[j]):
                return False
        return True

    def nearest(self, polygons: Sequence[Any]) -> tuple[float, int, Any]:
        """Return the distance to what is nearest, its owner, and the shortest line.

        The distance is between the flattened outlines, mm; 0 when they overlap.
        """
        array = np.array(polygons, dtype=object)
        rims = shapely.distance(self.rim, array)
        k = int(np.argmin(rims))
        best: tuple[float, int, Any] = (float(rims[k]), 0, (array[k], self.rim))
        if len(self.solids):
            pairs, distances = self.solid_tree.query_nearest(
                array, return_distance=True, all_matches=False
            )
            n = int(np.argmin(distances))
            if distances[n] < best[0]:
                i, j = pairs[:, n]
                best = (
                    float(distances[n]),
                    self.solid_owner[int(j)],
                    (array[i], self.solids[j]),
                )
        return best[0], best[1], shapely.shortest_line(*best[2])


def walls_on(job: Job, blank: int, moving: Iterable[Key] = ()) -> Walls:
    """Return what is in the way on a blank of the job's layout.

    Parameters
    ----------
    moving : iterable of tuple of str and int
        Copies that are being moved and stand in nobody's way.
    """
    away = frozenset(moving)
    return Walls(
        job.stock_of(blank),
        job.cutting,
        (
            (p, job.part(p.part_id).outline)
            for p in job.layout.placements
            if p.blank == blank and key_of(p) not in away
        ),
    )
