"""Outlines flattened for the hand: fine polygons, kept once per drawing.

Everything here is seen and touched by a person, so it must be quick; what is written
to files always comes from the true curves of the model.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely

from ...nesting.model.motion import Motion, Point, Points
from ...nesting.model.outline import Outline
from ...nesting.verify import CHORD_ERROR

# A flattened curve may lie CHORD_ERROR inside or outside the true one, so contacts
# leave the errors of both sides as extra room: the true distance is never below the
# gap and exceeds it by at most twice their sum, 0.004 mm. It is the check's own figure,
# so that the bench and the check look at the very same polygons.

_KEPT = 4096

_TURNS_KEPT = 64
"""Of each outline the boxes at so many turns are remembered."""


@dataclass(frozen=True, eq=False)
class Flat:
    """An outline as polygons in its own coordinates.

    Attributes
    ----------
    rings : tuple of ndarray of float64, shape (n, 2), mm
        The outer ring counter-clockwise, then holes clockwise; first not repeated.
    error : float
        No chord is further than this from the true curve, mm; 0 when all is straight.
    """

    rings: tuple[Points, ...]
    error: float
    _boxes: dict[tuple[float, bool], tuple[float, float, float, float]] = field(
        default_factory=dict, init=False, repr=False
    )

    def turned_box(
        self, turn: float, flipped: bool
    ) -> tuple[float, float, float, float]:
        """Return the bounding box after turning, mm; from memory if asked before."""
        found = self._boxes.get((turn, flipped))
        if found is None:
            ring = Motion(0.0, 0.0, turn, flipped).points(self.rings[0])
            low, high = ring.min(axis=0), ring.max(axis=0)
            found = float(low[0]), float(low[1]), float(high[0]), float(high[1])
            if len(self._boxes) >= _TURNS_KEPT:  # turned by hand, step by step
                self._boxes.clear()
            self._boxes[turn, flipped] = found
        return found

    @cached_property
    def box(self) -> tuple[float, float, float, float]:
        """The bounding box of the polygons, mm."""
        low, high = self.rings[0].min(axis=0), self.rings[0].max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    @cached_property
    def centre(self) -> Point:
        """The middle of the bounding box, mm: what the outline turns about."""
        x0, y0, x1, y1 = self.box
        return (x0 + x1) / 2.0, (y0 + y1) / 2.0

    @cached_property
    def polygon(self) -> shapely.Polygon:
        """The polygons as one shapely polygon."""
        polygon = shapely.Polygon(self.rings[0], list(self.rings[1:]))
        return polygon

    @cached_property
    def edges(self) -> Points:
        """All edges, shape (n, 4): x and y of both ends, mm."""
        return np.concatenate([ring_edges(ring) for ring in self.rings])

    @cached_property
    def label_point(self) -> Point:
        """A point well inside the material, for the name: the middle if it is one."""
        circle = shapely.maximum_inscribed_circle(self.polygon, tolerance=1.0)
        (x, y), rim = circle.coords[0], circle.coords[-1]
        middle = self.polygon.centroid
        room = shapely.distance(middle, self.polygon.boundary)
        inside = shapely.contains(self.polygon, middle)
        if inside and room >= 0.7 * math.dist((x, y), rim):
            return float(middle.x), float(middle.y)
        return float(x), float(y)

    @cached_property
    def label_radius(self) -> float:
        """Radius of the circle of material round `label_point`, mm."""
        point = shapely.Point(self.label_point)
        return float(shapely.distance(point, self.polygon.boundary))

    def moved(self, motion: Motion) -> tuple[Points, ...]:
        """Return the rings after a rigid motion."""
        return tuple(motion.points(ring) for ring in self.rings)

    def moved_polygon(self, motion: Motion) -> shapely.Polygon:
        """Return the polygon after a rigid motion."""
        rings = self.moved(motion)
        return shapely.Polygon(rings[0], list(rings[1:]))


def moved_polygons(
    outlines: Sequence[Outline], motions: Sequence[Motion]
) -> list[shapely.Polygon]:
    """Return flattened outlines after their rigid motions; quicker than one by one."""
    rings: list[Points] = []
    owners: list[int] = []
    for n, (outline, motion) in enumerate(zip(outlines, motions, strict=True)):
        moved = flat(outline).moved(motion)
        rings += moved
        owners += [n] * len(moved)
    if not rings:
        return []
    of_ring = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    closed = shapely.linearrings(np.concatenate(rings), indices=of_ring)
    return list(shapely.polygons(closed, indices=owners))


def ring_edges(ring: Points) -> Points:
    """Return the edges of a ring, shape (n, 4): x and y of both ends, mm."""
    return np.hstack([ring, np.roll(ring, -1, axis=0)])


_cache: OrderedDict[int, tuple[Outline, Flat]] = OrderedDict()


def flat(outline: Outline) -> Flat:
    """Return the flattened outline, from memory when it was asked for before.

    Outlines compare by value, which means walking through every segment; memory goes
    by identity, which is enough because outlines never change.
    """
    found = _cache.get(id(outline))
    if found is not None and found[0] is outline:
        _cache.move_to_end(id(outline))
        return found[1]
    flattened = outline.flatten(CHORD_ERROR)
    result = Flat((flattened.outer, *flattened.holes), flattened.error)
    _cache[id(outline)] = (outline, result)
    while len(_cache) > _KEPT:
        _cache.popitem(last=False)
    return result


def placed_box(outline: Outline, motion: Motion) -> tuple[float, float, float, float]:
    """Return the bounding box of a placed outline, mm.

    Curves are taken as flattened, so the box may be short by `CHORD_ERROR`.
    """
    x0, y0, x1, y1 = flat(outline).turned_box(motion.turn, motion.flipped)
    return motion.x + x0, motion.y + y0, motion.x + x1, motion.y + y1
