"""Chains in user units to strokes in mm, left out where they cannot be used."""

from __future__ import annotations

import math

from ..nesting.model.curve import Arc, Box, Cubic, Line, Segment
from ..nesting.model.motion import Point
from ..nesting.model.outline import bounds_of
from .affine import Affine
from .drawing import Stroke
from .limits import Budget
from .notes import Notes
from .svg_curves import to_mm
from .svg_paint import Look
from .svg_path import SubPath

_SHORT = 1e-7
"""Shorter lines are rounding noise, mm; a loop may be open by more."""


class StrokeMaker:
    """Makes the strokes of one drawing.

    Parameters
    ----------
    page : tuple of float or None
        Width and height of the page, mm; None where nothing states it.
    budget : Budget
        Says which numbers are usable.
    notes : Notes
        Where to note what was left out or closed.
    """

    def __init__(
        self, page: tuple[float, float] | None, budget: Budget, notes: Notes
    ) -> None:
        self._page = page
        self._budget = budget
        self._notes = notes

    def make(
        self,
        path: SubPath,
        affine: Affine,
        painted: Look,
        layer: str,
        name: str,
        where: str,
    ) -> Stroke | None:
        """Return the stroke of one chain; None, with a note, if it is unusable.

        Parameters
        ----------
        path : SubPath
            The chain, user units.
        affine : Affine
            User units to mm, y up.
        painted : Look
            A chain that is only filled is closed, as it is seen.
        layer, name, where : str
            As in `Stroke`; `where` is its entity.
        """
        longer, shorter = affine.stretches()
        if not affine.is_finite:
            self._notes.add("svg-out-of-range", where)
            return None
        if shorter <= 1e-9 * longer or longer == 0.0:
            self._notes.add("svg-flat-transform", where)
            return None
        segments: list[Segment] = []
        last: Point | None = None
        for segment in path.segments:
            for piece in to_mm(segment, affine):
                if not self.usable(piece):
                    self._notes.add("svg-out-of-range", where)
                    return None
                if _is_short(piece, last):
                    continue
                segments.append(piece)
                last = piece.end
        if not segments:
            self._notes.add("svg-empty-shape", where)
            return None
        first, end = segments[0].start, segments[-1].end
        closed = path.closed
        only_filled = painted.fill.seen and not painted.stroke.seen
        if not closed and only_filled and _encloses(segments):
            closed = True
            if math.dist(first, end) > _SHORT:
                segments.append(Line(end, first))
                self._notes.add("svg-fill-closed", where, place=end)
        if not self._on_page(segments):
            self._notes.add("svg-outside-page", where, place=first)
        return Stroke(
            tuple(segments),
            closed,
            layer,
            name,
            painted.colour,
            where,
            painted.fill.colour if painted.fill.seen else "",
        )

    def usable(self, piece: Segment) -> bool:
        """Return whether a segment's numbers are finite and near enough."""
        usable = self._budget.usable
        if isinstance(piece, Line):
            limit = self._budget.limits.coordinate
            (x0, y0), (x1, y1) = piece.start, piece.end
            # Written out for speed; a NaN fails every comparison.
            return (
                -limit <= x0 <= limit
                and -limit <= y0 <= limit
                and -limit <= x1 <= limit
                and -limit <= y1 <= limit
            )
        if isinstance(piece, Cubic):
            return usable(*piece.p0, *piece.p1, *piece.p2, *piece.p3)
        return math.isfinite(piece.radius) and usable(*piece.bounds())

    def _on_page(self, segments: list[Segment]) -> bool:
        """Return whether any end of a segment lies on the page, 1 mm allowed."""
        size = self._page
        if size is None:
            return True
        for piece in segments:
            if isinstance(piece, Arc) and piece.is_circle:
                x, y = piece.centre
            else:
                x, y = piece.start
            if -1.0 <= x <= size[0] + 1.0 and -1.0 <= y <= size[1] + 1.0:
                return True
        return False


def is_cut_off(strokes: list[Stroke], clips: tuple[Box, ...]) -> bool:
    """Return whether a shape reaches out of one of the rectangles, 0.01 mm allowed."""
    if not clips or not strokes:
        return False
    x0, y0, x1, y1 = bounds_of(s for stroke in strokes for s in stroke.segments)
    return any(
        x0 < c[0] - 0.01 or y0 < c[1] - 0.01 or x1 > c[2] + 0.01 or y1 > c[3] + 0.01
        for c in clips
    )


def _is_short(piece: Segment, last: Point | None) -> bool:
    if isinstance(piece, Line):
        return math.dist(last or piece.start, piece.end) <= _SHORT
    if isinstance(piece, Cubic):
        return all(
            math.dist(piece.p0, p) <= _SHORT for p in (piece.p1, piece.p2, piece.p3)
        ) and (last is None or math.dist(last, piece.end) <= _SHORT)
    return piece.length() <= _SHORT


def _encloses(segments: list[Segment]) -> bool:
    """Return whether a chain, closed by a line, has an area to speak of."""
    first, end = segments[0].start, segments[-1].end
    # About the first point: far from the origin the sum would lose its digits.
    area = Line(end, first).swept_area() + math.fsum(s.swept_area() for s in segments)
    span = max(max(math.dist(first, s.point_at(t)) for t in (0.5, 1)) for s in segments)
    return abs(area) > 1e-6 * span * span
