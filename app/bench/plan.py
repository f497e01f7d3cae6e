"""Where the blanks lie on the bench: rows of boards, at true scale."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ...nesting.model.curve import Box
from ...nesting.model.job import Job
from ...nesting.model.motion import Point

SHAPE = 1.6
"""Width to height that the rows of blanks aim at: that of a usual window."""


@dataclass(frozen=True)
class Plan:
    """The place of every blank.

    Attributes
    ----------
    origins : tuple of tuple of float
        Where each blank's (0, 0) lies on the bench, mm; y up.
    boxes : tuple of Box
        What each blank covers, mm.
    """

    origins: tuple[Point, ...]
    boxes: tuple[Box, ...]

    @property
    def box(self) -> Box:
        """What all blanks together cover, mm; empty at (0, 0) when there are none."""
        if not self.boxes:
            return 0.0, 0.0, 0.0, 0.0
        x0, y0, x1, y1 = zip(*self.boxes, strict=True)
        return min(x0), min(y0), max(x1), max(y1)

    def blank_at(self, point: Point) -> int | None:
        """Return the blank under a point of the bench, or None."""
        x, y = point
        for i, (x0, y0, x1, y1) in enumerate(self.boxes):
            if x0 <= x <= x1 and y0 <= y <= y1:
                return i
        return None

    def on_blank(self, blank: int, point: Point) -> Point:
        """Return a point of the bench in a blank's coordinates."""
        ox, oy = self.origins[blank]
        return point[0] - ox, point[1] - oy

    def on_bench(self, blank: int, point: Point) -> Point:
        """Return a point of a blank in the bench's coordinates."""
        ox, oy = self.origins[blank]
        return point[0] + ox, point[1] + oy


def plan(job: Job) -> Plan:
    """Lay the blanks of a job's layout out in rows, left to right, top to bottom.

    Blanks of a row stand on one line. The number in a row depends on the blanks only,
    never on the window, so that nothing moves when the window is resized.
    """
    boxes = [job.stock_of(i).outline.bounds for i in range(len(job.layout.blanks))]
    if not boxes:
        return Plan((), ())
    width = max(b[2] - b[0] for b in boxes)
    height = max(b[3] - b[1] for b in boxes)
    room_x = 0.09 * width + 40.0
    room_y = 0.20 * height + 110.0
    columns = _columns(len(boxes), width + room_x, height + room_y)
    origins: list[Point] = []
    base = 0.0
    for first in range(0, len(boxes), columns):
        row = boxes[first : first + columns]
        base -= max(b[3] - b[1] for b in row)
        x = 0.0
        for b in row:
            origins.append((x - b[0], base - b[1]))
            x += b[2] - b[0] + room_x
        base -= room_y
    covered = tuple(
        (x + b[0], y + b[1], x + b[2], y + b[3])
        for (x, y), b in zip(origins, boxes, strict=True)
    )
    return Plan(tuple(origins), covered)


def _columns(count: int, width: float, height: float) -> int:
    """Return how many in a row make the whole look largest in a usual window."""

    def scale(columns: int) -> float:
        rows = math.ceil(count / columns)
        return min(SHAPE / (columns * width), 1.0 / (rows * height))

    return max(range(1, count + 1), key=scale)
