"""True curves on paper: lines stay lines, arcs and Béziers become PDF Béziers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.lib.units import mm

from ..nesting.model.curve import Arc, Line, Segment
from ..nesting.model.motion import Point
from ..nesting.model.outline import Loop

_MOST_SWEEP = 45.0
"""An arc of this sweep as one cubic strays 4e-6 of its radius: less than a printer
can show."""


@dataclass(frozen=True, slots=True)
class View:
    """Where the blank's millimetres lie on the page.

    Parameters
    ----------
    x, y : float
        Where the blank's (0, 0) lies, mm of paper.
    scale : float
        mm of paper for one mm of blank.
    """

    x: float
    y: float
    scale: float

    def point(self, p: Point) -> Point:
        """Return a point of the blank in mm of paper."""
        return self.x + p[0] * self.scale, self.y + p[1] * self.scale


def arc_cubics(arc: Arc) -> list[tuple[Point, Point, Point]]:
    """Return the arc as cubics: for each the two inner controls and the end."""
    pieces = max(math.ceil(abs(arc.sweep) / _MOST_SWEEP - 1e-9), 1)
    step = math.radians(arc.sweep) / pieces
    handle = 4.0 / 3.0 * math.tan(step / 4.0) * arc.radius
    angle = math.radians(arc.start_angle)
    cx, cy = arc.centre
    found = []
    for i in range(pieces):
        a, b = angle + i * step, angle + (i + 1) * step
        x0, y0 = cx + arc.radius * math.cos(a), cy + arc.radius * math.sin(a)
        x1, y1 = cx + arc.radius * math.cos(b), cy + arc.radius * math.sin(b)
        found.append(
            (
                (x0 - handle * math.sin(a), y0 + handle * math.cos(a)),
                (x1 + handle * math.sin(b), y1 - handle * math.cos(b)),
                (x1, y1),
            )
        )
    return found


def add_chain(path: Any, segments: Sequence[Segment], view: View) -> None:
    """Add joined segments to a PDF path, not closed."""

    def at(p: Point) -> Point:
        x, y = view.point(p)
        return x * mm, y * mm

    path.moveTo(*at(segments[0].start))
    for segment in segments:
        if isinstance(segment, Line):
            path.lineTo(*at(segment.end))
        elif isinstance(segment, Arc):
            for p1, p2, p3 in arc_cubics(segment):
                path.curveTo(*at(p1), *at(p2), *at(p3))
        else:
            path.curveTo(*at(segment.p1), *at(segment.p2), *at(segment.p3))


def add_loops(path: Any, loops: Iterable[Loop], view: View) -> None:
    """Add closed loops to a PDF path."""
    for loop in loops:
        add_chain(path, loop.segments, view)
        path.close()
