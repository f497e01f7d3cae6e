"""Where the blanks lie on the bench: rows of boards, at true scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from ...nesting.model.curve import Box
from ...nesting.model.job import Job
from ...nesting.model.motion import Point

SHAPE = 1.35
"""Width to height that the rows of blanks aim at: a usual window beside its book."""


@dataclass(frozen=True)
class Plan:
    """The place of every blank.

    Attributes
    ----------
    origins : tuple of tuple of float
        Where each blank's (0, 0) lies on the bench, mm; y up.
    boxes : tuple of Box
        What each blank covers, mm.
    widths : tuple of float
        Room for a title above each blank, to the next one in its row or to the end of
        the longest row, mm.
    lefts : tuple of float
        Room for numbers left of each blank, mm; infinite for the first of a row.
    belows : tuple of float
        Room below each blank for its numbers and the titles of the next row, mm;
        infinite for the last row.
    """

    origins: tuple[Point, ...]
    boxes: tuple[Box, ...]
    widths: tuple[float, ...] = ()
    lefts: tuple[float, ...] = ()
    belows: tuple[float, ...] = ()

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


def plan(job: Job, shape: float = SHAPE) -> Plan:
    """Lay the blanks of a job's layout out in rows, left to right, top to bottom.

    Blanks of a row stand on one line. What stands in a row depends on the blanks only,
    never on the window, so that nothing moves when the window is resized.

    Parameters
    ----------
    shape : float
        Width to height that the rows aim at.
    """
    boxes = [job.stock_of(i).outline.bounds for i in range(len(job.layout.blanks))]
    if not boxes:
        return Plan((), ())
    sizes = [(b[2] - b[0], b[3] - b[1]) for b in boxes]
    room_x = 0.09 * max(w for w, _ in sizes) + 40.0
    room_y = 0.20 * max(h for _, h in sizes) + 110.0
    rows = _rows(sizes, room_x, room_y, shape)
    end = max(sum(sizes[i][0] + room_x for i in row) for row in rows) - room_x
    origins: list[Point] = []
    widths: list[float] = []
    lefts: list[float] = []
    belows: list[float] = []
    base = 0.0
    for row in rows:
        base -= max(sizes[i][1] for i in row)
        x = 0.0
        for i in row:
            origins.append((x - boxes[i][0], base - boxes[i][1]))
            widths.append(sizes[i][0] + room_x if i != row[-1] else end - x)
            lefts.append(room_x if i != row[0] else math.inf)
            belows.append(room_y if row is not rows[-1] else math.inf)
            x += sizes[i][0] + room_x
        base -= room_y
    covered = tuple(
        (x + b[0], y + b[1], x + b[2], y + b[3])
        for (x, y), b in zip(origins, boxes, strict=True)
    )
    return Plan(tuple(origins), covered, tuple(widths), tuple(lefts), tuple(belows))


def _rows(
    sizes: Sequence[tuple[float, float]], room_x: float, room_y: float, shape: float
) -> list[list[int]]:
    """Return which blanks stand in a row, to look largest in a window of a shape."""

    def filled(limit: float) -> list[list[int]]:
        rows: list[list[int]] = []
        x = math.inf
        for i, (width, _) in enumerate(sizes):
            if x + width > limit + 1e-6:
                rows.append([])
                x = 0.0
            rows[-1].append(i)
            x += width + room_x
        return rows

    def scale(rows: list[list[int]]) -> float:
        width = max(sum(sizes[i][0] + room_x for i in row) for row in rows)
        height = sum(max(sizes[i][1] for i in row) + room_y for row in rows)
        return min(shape / width, 1.0 / height)

    # Rows are as long as some run of blanks: other lengths break no differently.
    widest = max(width for width, _ in sizes)
    runs = accumulate(width + room_x for width, _ in sizes)
    limits = {max(run - room_x, widest) for run in runs}
    return max((filled(limit) for limit in sorted(limits)), key=scale)
