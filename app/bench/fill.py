"""Filling the hole of a part from the tray: largest first, pressed to one corner.

A quick helping hand for one hole; laying out whole blanks is the engine's work.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from ...nesting.model.job import Job
from ...nesting.model.part import Part
from ...nesting.model.placement import Placement
from ...nesting.model.rules import same_board
from .arrange import free_copies, tray_counts
from .contact import Group, Hand
from .copies import Key, key_of
from .shapes import flat
from .walls import walls_on

MOST = 40
"""No more copies are laid in one go."""

TRIES = 7
"""Places tried across the hole, and as many up it."""


def fill_hole(job: Job, owner: Key, hole: int) -> list[Placement]:
    """Return placements for copies from the tray that fit in a hole.

    Parameters
    ----------
    owner : tuple of str and int
        The copy that has the hole.
    hole : int
        Which of its holes.

    Returns
    -------
    list of Placement
        None of them in conflict with anything; empty if nothing fits.
    """
    placed: list[Placement] = []
    holder = next(p for p in job.layout.placements if key_of(p) == owner)
    ring = flat(job.part(owner[0]).outline).moved(holder.motion)[hole + 1]
    region = shapely.Polygon(ring)
    stock = job.stock_of(holder.blank)
    waiting = [
        part
        for part in (job.part(part_id) for part_id in tray_counts(job))
        if same_board(part.material, part.thickness, stock.material, stock.thickness)
    ]
    for part in sorted(waiting, key=lambda p: -p.area):
        for copy in free_copies(job, part.id):
            found = _place(job, part, copy, holder.blank, region)
            if found is None or len(placed) >= MOST:
                break  # the next copy is no smaller
            placed.append(found)
            layout = replace(job.layout, placements=(*job.layout.placements, found))
            job = replace(job, layout=layout)
    return placed


def _place(
    job: Job, part: Part, copy: int, blank: int, region: shapely.Polygon
) -> Placement | None:
    """Return a free place for one copy within a region, lowest and leftmost."""
    walls = walls_on(job, blank)
    x0, y0, x1, y1 = region.bounds
    turns = part.turn.turns(job.stock_of(blank).grain)
    for turn in (0.0, 90.0, 45.0, 135.0) if turns is None else turns:
        start = Placement(part.id, copy, blank, 0.0, 0.0, turn)
        hand = Hand([Group(walls, [(part.outline, start.motion)])])
        bx0, by0, bx1, by1 = hand.groups[0].box
        wide, high = x1 - x0 - (bx1 - bx0), y1 - y0 - (by1 - by0)
        if wide < 0.0 or high < 0.0:
            continue
        for v in np.linspace(0.0, 1.0, TRIES):
            for u in np.linspace(0.0, 1.0, TRIES):
                at = np.array((x0 - bx0 + u * wide, y0 - by0 + v * high))
                if not region.contains(hand.groups[0].polygons(at)[0]):
                    continue
                if not hand.clear(at):
                    continue
                hand.at = at
                step = hand.move(x0 - bx0 - 1.0, y0 - by0 - 1.0)
                return replace(start, x=step.x, y=step.y)
    return None
