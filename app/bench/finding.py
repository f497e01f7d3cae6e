"""What lies where on the bench: the copy, the edge or the hole under a point."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from PySide6.QtCore import QRectF

from ...nesting.model.job import Job
from ...nesting.model.motion import Motion, Point
from ...nesting.model.outline import Loop
from ...nesting.verify import CHORD_ERROR
from .copies import Key, key_of
from .shapes import flat
from .walls import Owner, walls_on

if TYPE_CHECKING:
    from .view import BenchView

TARGET = 24.0
"""Least size of what takes a press, pixels (WCAG 2.2, success criterion 2.5.8)."""


class Finder:
    """Answers what lies under a point or in a box of the bench.

    Parameters
    ----------
    view : BenchView
        The bench.
    """

    def __init__(self, view: BenchView) -> None:
        self._view = view
        self._tree: Any = None
        self.keys: list[Key] = []

    def reset(self) -> None:
        """Forget where things were."""
        self._tree = None

    def boxes(self) -> Any:
        """Return a tree of the copies' boxes, in the order of `keys`."""
        if self._tree is None:
            boxes, keys = [], []
            for item, (ox, oy) in zip(
                self._view.blank_items, self._view.plan.origins, strict=True
            ):
                for look in item.looks:
                    x0, y0, x1, y1 = look.box
                    boxes.append((x0 + ox, y0 + oy, x1 + ox, y1 + oy))
                    keys.append(key_of(look.placement))
            array = np.array(boxes).reshape(-1, 4)
            self._tree = shapely.STRtree(shapely.box(*array.T))
            self.keys = keys
        return self._tree

    def polygon(self, key: Key) -> Any:
        """Return a placed copy as a polygon on the bench, mm; None in the tray."""
        p = self._view.document.placement(key)
        if p is None:
            return None
        shape = flat(self._view.document.job.part(p.part_id).outline)
        ox, oy = self._view.plan.origins[p.blank]
        shift = np.array((ox, oy))
        rings = [ring + shift for ring in shape.moved(p.motion)]
        return shapely.Polygon(rings[0], rings[1:])

    def copy_at(self, at: Point, pixels: float = 3.0) -> Key | None:
        """Return the copy under a point of the bench, or very near to it.

        However small a part looks, it takes a press in an area of `TARGET` pixels.
        """
        point = shapely.Point(at)
        scale = self._view.scale_now()
        tree = self.boxes()
        found = tree.query(point.buffer(TARGET / 2.0 / scale))
        best: tuple[float, Key] | None = None
        for k in found:
            polygon = self.polygon(self.keys[int(k)])
            if polygon is None:
                continue
            distance = float(shapely.distance(polygon, point))
            x0, y0, x1, y1 = polygon.bounds
            missing = TARGET - min(x1 - x0, y1 - y0) * scale
            reach = max(pixels, missing / 2.0) / scale
            if distance <= reach and (best is None or distance < best[0]):
                best = (distance, self.keys[int(k)])
        return None if best is None else best[1]

    def copies_in(self, box: QRectF) -> frozenset[Key]:
        """Return the copies a box of the bench touches."""
        area = shapely.box(box.left(), box.top(), box.right(), box.bottom())
        found = []
        for k in self.boxes().query(area):
            polygon = self.polygon(self.keys[int(k)])
            if polygon is not None and shapely.intersects(polygon, area):
                found.append(self.keys[int(k)])
        return frozenset(found)

    def edge_near(self, at: Point, pixels: float = 14.0) -> Any:
        """Return the edge nearest to a point of the bench as a line, or None.

        An edge is one segment of an outline: a whole arc is one, not each chord of it.
        """
        blank = self._view.plan.blank_at(at)
        if blank is None:
            return None
        job = self._view.document.job
        walls = walls_on(job, blank)
        place = shapely.Point(self._view.plan.on_blank(blank, at))
        k = int(walls.tree.nearest(place))
        owner = walls.owners[int(walls.owner[k])]
        lines = np.array(self._edges(job, blank, owner), dtype=object)
        distances = shapely.distance(lines, place)
        best = int(np.argmin(distances))
        if distances[best] > pixels / self._view.scale_now():
            return None
        origin = np.array(self._view.plan.origins[blank])
        return shapely.transform(lines[best], lambda points: points + origin)

    def _edges(self, job: Job, blank: int, owner: Owner) -> list[Any]:
        """Return the segments of something's outline as lines on its blank."""
        stock = job.stock_of(blank)
        motion = Motion()
        loops: Sequence[Loop] = stock.outline.loops
        if owner.kind == "keep-out":
            loops = [keep_out.loop for keep_out in stock.keep_outs]
        elif owner.key is not None:
            p = self._view.document.placement(owner.key)
            assert p is not None
            loops, motion = job.part(owner.key[0]).outline.loops, p.motion
        return [
            shapely.LineString(motion.points(segment.flatten(CHORD_ERROR)))
            for loop in loops
            for segment in loop.segments
        ]

    def hole_at(self, at: Point) -> tuple[Key, int] | None:
        """Return the part and the hole of it that lie under a point, smallest first."""
        best: tuple[float, Key, int] | None = None
        point = shapely.Point(at)
        for k in self.boxes().query(point):
            key = self.keys[int(k)]
            polygon = self.polygon(key)
            for i, ring in enumerate(polygon.interiors if polygon is not None else ()):
                hole = shapely.Polygon(ring)
                if shapely.contains(hole, point) and (
                    best is None or hole.area < best[0]
                ):
                    best = (float(hole.area), key, i)
        return None if best is None else (best[1], best[2])
