"""Painter paths of true curves, and lighter ones for parts that look small."""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainterPath, QPolygonF

from ...nesting.model.curve import Arc, Cubic, Line, Segment
from ...nesting.model.motion import Points
from ...nesting.model.outline import Outline
from ...nesting.model.part import Mark
from .shapes import flat

ARC_STEP = 22.5
"""Degrees of an arc drawn as one Bézier: off by 2e-8 of the radius at most."""

_KEPT = 4096


def add_segments(path: QPainterPath, segments: Sequence[Segment]) -> None:
    """Append joined segments to a painter path, curves as curves."""
    path.moveTo(QPointF(*segments[0].start))
    for segment in segments:
        if isinstance(segment, Line):
            path.lineTo(QPointF(*segment.end))
        elif isinstance(segment, Cubic):
            path.cubicTo(
                QPointF(*segment.p1), QPointF(*segment.p2), QPointF(*segment.p3)
            )
        else:
            _add_arc(path, segment)


def _add_arc(path: QPainterPath, arc: Arc) -> None:
    count = max(math.ceil(abs(arc.sweep) / ARC_STEP - 1e-9), 1)
    step = math.radians(arc.sweep) / count
    handle = arc.radius * 4.0 / 3.0 * math.tan(step / 4.0)
    angle = math.radians(arc.start_angle)
    cx, cy = arc.centre
    for _ in range(count):
        c0, s0 = math.cos(angle), math.sin(angle)
        angle += step
        c1, s1 = math.cos(angle), math.sin(angle)
        x1, y1 = cx + arc.radius * c1, cy + arc.radius * s1
        path.cubicTo(
            cx + arc.radius * c0 - handle * s0,
            cy + arc.radius * s0 + handle * c0,
            x1 + handle * s1,
            y1 - handle * c1,
            x1,
            y1,
        )


def outline_path(outline: Outline) -> QPainterPath:
    """Return an outline with its holes as a painter path, true curves."""
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for loop in outline.loops:
        add_segments(path, loop.segments)
        path.closeSubpath()
    return path


def marks_path(marks: Iterable[Mark]) -> QPainterPath:
    """Return marks as a painter path, true curves."""
    path = QPainterPath()
    for mark in marks:
        add_segments(path, mark.segments)
    return path


def polygon_path(rings: Iterable[Points]) -> QPainterPath:
    """Return rings as a painter path of straight edges."""
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for ring in rings:
        path.addPolygon(polygon_of(ring))
        path.closeSubpath()
    return path


def polygon_of(ring: Points) -> QPolygonF:
    """Return a ring as a Qt polygon."""
    return QPolygonF([QPointF(x, y) for x, y in ring.tolist()])


class PathStore:
    """Painter paths by outline: exact for large looks, coarse for small ones."""

    def __init__(self) -> None:
        self._exact: OrderedDict[int, tuple[Outline, QPainterPath]] = OrderedDict()
        self._grown: OrderedDict[
            tuple[int, float, int], tuple[Outline, QPainterPath]
        ] = OrderedDict()
        self._coarse: OrderedDict[tuple[int, int], tuple[Outline, list[Points]]] = (
            OrderedDict()
        )

    def exact(self, outline: Outline) -> QPainterPath:
        """Return the path of true curves."""
        found = self._exact.get(id(outline))
        if found is None or found[0] is not outline:
            found = (outline, outline_path(outline))
            self._exact[id(outline)] = found
            if len(self._exact) > _KEPT:
                self._exact.popitem(last=False)
        return found[1]

    def grown(self, outline: Outline, by: float, pixel: float) -> QPainterPath:
        """Return an outline grown by a distance, mm, fine enough at `pixel` mm a pixel.

        Much quicker to fill than a wide line along the outline is to draw.
        """
        level = math.floor(math.log2(max(pixel, 1e-6)))
        key = (id(outline), by, level)
        found = self._grown.get(key)
        if found is None or found[0] is not outline:
            rings = self.coarse(outline, pixel)
            area = shapely.Polygon(rings[0], rings[1:])
            area = shapely.simplify(area.buffer(by, quad_segs=8), 0.3 * 2.0**level)
            pieces = shapely.get_parts(area)
            path = polygon_path(
                np.array(ring.coords)[:-1]
                for piece in pieces
                for ring in (piece.exterior, *piece.interiors)
            )
            found = (outline, path)
            self._grown[key] = found
            if len(self._grown) > _KEPT:
                self._grown.popitem(last=False)
        return found[1]

    def coarse(self, outline: Outline, pixel: float) -> list[Points]:
        """Return rings that look the same at `pixel` mm a pixel.

        Holes smaller than two pixels are left out.
        """
        level = math.floor(math.log2(max(pixel, 1e-6)))
        found = self._coarse.get((id(outline), level))
        if found is None or found[0] is not outline:
            size = 2.0**level
            rings = []
            for k, ring in enumerate(flat(outline).rings):
                spread = float((ring.max(axis=0) - ring.min(axis=0)).max())
                if k and spread < 2.0 * size:
                    continue
                line = shapely.simplify(
                    shapely.linestrings(np.vstack([ring, ring[:1]])), 0.4 * size
                )
                rings.append(np.array(line.coords)[:-1])
            found = (outline, rings)
            self._coarse[id(outline), level] = found
            if len(self._coarse) > _KEPT:
                self._coarse.popitem(last=False)
        return found[1]
