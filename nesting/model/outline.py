"""Loops of curves, and outlines: an outer loop with its holes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from .curve import Arc, Box, Line, Segment
from .errors import InputError
from .motion import Motion, Point, Points

JOIN_TOLERANCE = 1e-6
"""Ends of neighbouring segments in a loop agree to this distance, mm."""


def bounds_of(segments: Iterable[Segment]) -> Box:
    """Return the box around some segments, mm."""
    boxes = [segment.bounds() for segment in segments]
    if not boxes:
        raise InputError("", "no curve to measure")
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def flatten_chain(segments: Sequence[Segment], chord_error: float) -> Points:
    """Return points along joined segments, first and last included, mm."""
    pieces = [segment.flatten(chord_error) for segment in segments]
    return np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])


@dataclass(frozen=True)
class Loop:
    """A closed chain of segments, each beginning where the last one ended.

    Raises
    ------
    InputError
        If there is no segment, or two neighbours do not meet within
        `JOIN_TOLERANCE`.
    """

    segments: tuple[Segment, ...]

    def __post_init__(self) -> None:
        if not self.segments:
            raise InputError("", "a loop needs at least one segment")
        first, last = self.segments[0], self.segments[-1]
        for before, after in [*pairwise(self.segments), (last, first)]:
            distance = math.dist(before.end, after.start)
            if not distance <= JOIN_TOLERANCE:
                x, y = before.end
                raise InputError(
                    "",
                    f"a loop is open by {distance:g} mm at ({x:.3f}, {y:.3f})",
                    "close it in the drawing",
                )

    @classmethod
    def polygon(cls, points: Iterable[Point]) -> Loop:
        """Return the loop of straight lines through `points` (mm), closed."""
        p = [(float(x), float(y)) for x, y in points]
        return cls(tuple(Line(a, b) for a, b in zip(p, p[1:] + p[:1], strict=True)))

    @classmethod
    def rectangle(cls, width: float, height: float, x: float = 0, y: float = 0) -> Loop:
        """Return a counter-clockwise rectangle with its least corner at (x, y)."""
        right, top = x + width, y + height
        return cls.polygon([(x, y), (right, y), (right, top), (x, top)])

    @classmethod
    def circle(cls, x: float, y: float, radius: float) -> Loop:
        """Return a counter-clockwise circle round (x, y), mm."""
        return cls((Arc((float(x), float(y)), float(radius), 0.0, 360.0),))

    @cached_property
    def signed_area(self) -> float:
        """Exact area, mm²; positive when the loop runs counter-clockwise."""
        return math.fsum(
            [segment.swept_area() for segment in self.segments]
            + [  # the steps between ends that agree only within tolerance
                Line(before.end, after.start).swept_area()
                for before, after in zip(
                    self.segments, self.segments[1:] + self.segments[:1], strict=True
                )
            ]
        )

    @property
    def area(self) -> float:
        """Exact area enclosed, mm²."""
        return abs(self.signed_area)

    @cached_property
    def length(self) -> float:
        """Length round the loop, mm."""
        return math.fsum(segment.length() for segment in self.segments)

    @cached_property
    def bounds(self) -> Box:
        """The bounding box, mm."""
        return bounds_of(self.segments)

    @property
    def is_straight(self) -> bool:
        """Whether every segment is a line, so that flattening is exact."""
        return all(isinstance(segment, Line) for segment in self.segments)

    @property
    def is_circle(self) -> bool:
        """Whether the loop is one whole circle."""
        only = self.segments[0]
        return len(self.segments) == 1 and isinstance(only, Arc) and only.is_circle

    def reversed(self) -> Loop:
        """Return the loop run the other way."""
        return Loop(tuple(segment.reversed() for segment in reversed(self.segments)))

    def oriented(self, counter_clockwise: bool) -> Loop:
        """Return the loop run in the wanted direction."""
        return self if (self.signed_area > 0) == counter_clockwise else self.reversed()

    def moved(self, motion: Motion) -> Loop:
        """Return the loop after a rigid motion.

        A flip turns the direction of running round; `Outline` mends that.
        """
        return Loop(tuple(segment.moved(motion) for segment in self.segments))

    def flatten(self, chord_error: float) -> Points:
        """Return the loop's points, shape (n, 2), mm, the first not repeated.

        Points lie on the curve, chords within `chord_error` of it.
        """
        return flatten_chain(self.segments, chord_error)[:-1]


@dataclass(frozen=True)
class FlatOutline:
    """An outline as polygons, and how far it may be from the true one.

    Attributes
    ----------
    outer : ndarray of float64, shape (n, 2), mm
        Counter-clockwise, first point not repeated.
    holes : tuple of ndarray of float64, shape (m, 2), mm
        Clockwise.
    error : float
        No point of the true outline is further than this from the polygons, mm.
        Grown by `error`, the polygons contain the true outline.
    """

    outer: Points
    holes: tuple[Points, ...]
    error: float


@dataclass(frozen=True)
class Outline:
    """An outer loop (counter-clockwise) and its holes (clockwise)."""

    outer: Loop
    holes: tuple[Loop, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "outer", self.outer.oriented(True))
        object.__setattr__(
            self, "holes", tuple(hole.oriented(False) for hole in self.holes)
        )

    @property
    def loops(self) -> tuple[Loop, ...]:
        """The outer loop, then the holes."""
        return (self.outer, *self.holes)

    @property
    def area(self) -> float:
        """Exact area without the holes, mm²."""
        return math.fsum(loop.signed_area for loop in self.loops)

    @property
    def length(self) -> float:
        """Length of all edges, mm."""
        return math.fsum(loop.length for loop in self.loops)

    @property
    def bounds(self) -> Box:
        """The bounding box, mm."""
        return self.outer.bounds

    @property
    def size(self) -> tuple[float, float]:
        """Extent along x and along y, mm."""
        x0, y0, x1, y1 = self.bounds
        return x1 - x0, y1 - y0

    def moved(self, motion: Motion) -> Outline:
        """Return the outline after a rigid motion."""
        return Outline(
            self.outer.moved(motion), tuple(hole.moved(motion) for hole in self.holes)
        )

    def flatten(self, chord_error: float) -> FlatOutline:
        """Return the outline as polygons whose chords stray at most `chord_error`.

        The stated error is 0 where all segments are straight.
        """
        straight = all(loop.is_straight for loop in self.loops)
        return FlatOutline(
            self.outer.flatten(chord_error),
            tuple(hole.flatten(chord_error) for hole in self.holes),
            0.0 if straight else chord_error,
        )
