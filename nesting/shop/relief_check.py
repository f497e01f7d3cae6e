"""The independent check of relief: what was taken off a part, by shapely alone.

Nothing here is shared with the code that relieves. A part as it is cut may differ
from its drawing only beside inside corners, and only by what a cutter takes there.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from ..model.curve import Segment
from ..model.motion import Point
from ..model.outline import Outline

CHORD = 0.005

LEAST_TURN = math.radians(1.0)
"""A corner turns at least this much."""

NOTHING = 0.01
"""Areas below this are chords of arcs, mm²."""


def inside_corners_of(outline: Outline) -> tuple[tuple[Point, float], ...]:
    """Return the corners of an outline where the material goes round the outside.

    Each comes with its opening, radians. Found from the chords on either side of each
    join: to the left of every loop lies material, so an inside corner is one that
    turns right.
    """
    found: list[tuple[Point, float]] = []
    for loop in outline.loops:
        chords = [_ends(segment) for segment in loop.segments]
        pairs = [*pairwise(chords), (chords[-1], chords[0])]
        for ((_, into), (out, _)), segment in zip(pairs, loop.segments, strict=True):
            cross = into[0] * out[1] - into[1] * out[0]
            turn = math.atan2(cross, into @ out)
            if turn < -LEAST_TURN:
                found.append((segment.end, math.pi + turn))
    return tuple(found)


def _reach(opening: float, cutter: float) -> tuple[float, float]:
    """Return how far from a corner, mm, and how much, mm², a cutter may take there.

    A circle through the corner lies within its diameter of it. In a corner below a
    right angle the lane that leads there ends at the cutter's radius over the sine of
    half the angle.
    """
    wide = cutter * 1.05 + 0.2
    half = min(opening, math.pi / 2.0) / 2.0
    lane = wide / 2.0 / math.sin(max(half, math.radians(10.0)))
    return max(wide, lane), math.pi * (wide / 2.0) ** 2 + wide * lane


def _ends(segment: Segment) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the directions at a segment's beginning and end, by fine chords."""
    points = segment.flatten(CHORD / 50.0)
    steps = np.diff(points, axis=0)
    steps = steps[np.hypot(*steps.T) > 0.0]
    return steps[0], steps[-1]


def relief_fault(drawn: Outline, shown: Outline, cutter: float) -> str:
    """Return what is wrong with a part as it is cut, in words; empty for nothing.

    Parameters
    ----------
    drawn, shown : Outline
        The part's outline as drawn and as cut, in the same coordinates.
    cutter : float
        Cut width, mm.
    """
    before, after = _polygon(drawn), _polygon(shown)
    if not after.is_valid:
        return "its edge crosses itself"
    # Curves that were shortened have other chords: a hair's breadth is no difference.
    added = after.difference(before.buffer(2.0 * CHORD)).area
    if added > NOTHING:
        return f"it has {added:.2f} mm² more than its drawing"
    taken = before.buffer(-2.0 * CHORD).difference(after)
    if taken.area <= NOTHING:
        return ""
    corners = inside_corners_of(drawn)
    allowed = {corner: _reach(opening, cutter) for corner, opening in corners}
    near = [
        shapely.Point(c).buffer(reach, quad_segs=32)
        for c, (reach, _) in allowed.items()
    ]
    rest = taken.difference(shapely.union_all(near))
    if rest.area > NOTHING:
        spot = rest.representative_point()
        return (
            f"{rest.area:.2f} mm² are missing away from any inside corner, at "
            f"({spot.x:.1f}, {spot.y:.1f})"
        )
    for corner, (_, most) in allowed.items():
        # Beside one corner no more than belongs to it; neighbours' are told apart.
        spot = shapely.Point(corner).buffer(4.0 * CHORD)
        for piece in shapely.get_parts(taken):
            if piece.intersects(spot) and piece.area > most:
                x, y = corner
                return f"{piece.area:.2f} mm² are missing at ({x:.1f}, {y:.1f})"
    return ""


def _polygon(outline: Outline) -> Polygon:
    flat = outline.flatten(CHORD)
    return shapely.Polygon(flat.outer, flat.holes)
