"""Leftovers of a finished blank that are worth keeping, as the pieces they are.

What is worth keeping is decided in one place, the objective's: the search and the
verdict measure a leftover by the largest rectangle in it, and a piece goes on the rack
when there is such a rectangle in it.
"""

from __future__ import annotations

import shapely

from ..model.job import Job
from ..model.outline import Loop, Outline
from ..objective import rectangle_in

_CHORD = 0.1

_LESS = 0.99
"""A neck is at most this share of the least side of a rectangle worth keeping, so that
no such rectangle is lost with the necks."""


def leftovers(job: Job, blank: int) -> tuple[Outline, ...]:
    """Return the outlines of leftovers worth keeping, in the blank's coordinates.

    What is left is the board without its parts and the slots beside them, a cut
    width wide, and without its keep-outs. Fingers narrower than the cutting set-up
    says are left off; a piece is kept when it holds a rectangle worth keeping.
    Largest first; edges are straight.
    """
    stock = job.stock_of(blank)
    flat = stock.outline.flatten(_CHORD)
    board = shapely.Polygon(flat.outer, flat.holes)
    gone = [shapely.Polygon(area.loop.flatten(_CHORD)) for area in stock.keep_outs]
    for placement in job.layout.on(blank):
        outline = job.part(placement.part_id).outline.moved(placement.motion)
        # Only the outer edge: what falls out of holes is too small to sort out.
        outer = shapely.Polygon(outline.outer.flatten(_CHORD))
        gone.append(outer.buffer(job.cutting.cutter + _CHORD, join_style="mitre"))
    free = board.difference(shapely.union_all(gone))
    half = min(job.cutting.keep_neck, _LESS * job.cutting.keep_side) / 2.0
    opened = free.buffer(-half, join_style="mitre").buffer(half, join_style="mitre")
    opened = opened.intersection(free)
    found = []
    for piece in shapely.get_parts(opened):
        if piece.geom_type != "Polygon" or piece.area < 1.0:
            continue
        piece = piece.simplify(0.05)
        outline = Outline(
            Loop.polygon(piece.exterior.coords[:-1]),
            tuple(Loop.polygon(ring.coords[:-1]) for ring in piece.interiors),
        )
        if rectangle_in(outline, job.cutting) is not None:
            found.append(outline)
    return tuple(sorted(found, key=lambda outline: -outline.area))
