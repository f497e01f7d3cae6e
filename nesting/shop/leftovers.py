"""Leftovers of a finished blank that are worth keeping."""

from __future__ import annotations

import shapely

from ..model.job import Job
from ..model.outline import Loop, Outline

KEEP_SIDE = 300.0
"""A leftover in which no square of this side fits is waste, mm; common practice."""

NARROW = 100.0
"""Necks and fingers narrower than this are waste too, mm; common practice."""

_CHORD = 0.1


def leftovers(
    job: Job, blank: int, keep_side: float = KEEP_SIDE, narrow: float = NARROW
) -> tuple[Outline, ...]:
    """Return the outlines of leftovers worth keeping, in the blank's coordinates.

    What is left is the board without its parts and the slots beside them, a cut
    width wide. Fingers narrower than `narrow` are left off; a piece is kept when a
    circle of diameter `keep_side` fits in it. Largest first; edges are straight.
    """
    stock = job.stock_of(blank)
    flat = stock.outline.flatten(_CHORD)
    board = shapely.Polygon(flat.outer, flat.holes)
    slots = []
    for placement in job.layout.on(blank):
        outline = job.part(placement.part_id).outline.moved(placement.motion)
        # Only the outer edge: what falls out of holes is too small to sort out.
        outer = shapely.Polygon(outline.outer.flatten(_CHORD))
        slots.append(outer.buffer(job.cutting.cutter + _CHORD, join_style="mitre"))
    free = board.difference(shapely.union_all(slots))
    half = narrow / 2.0
    opened = free.buffer(-half, join_style="mitre").buffer(half, join_style="mitre")
    opened = opened.intersection(free)
    found = []
    for piece in shapely.get_parts(opened):
        if piece.geom_type != "Polygon":
            continue
        piece = piece.simplify(0.05)
        circle = shapely.maximum_inscribed_circle(piece, tolerance=1.0)
        if 2.0 * circle.length >= keep_side - 2.0:
            found.append(piece)
    found.sort(key=lambda piece: -piece.area)
    return tuple(
        Outline(
            Loop.polygon(piece.exterior.coords[:-1]),
            tuple(Loop.polygon(ring.coords[:-1]) for ring in piece.interiors),
        )
        for piece in found
    )
