"""What the keys do with contact: settle where there is room, push up to a neighbour.

The same as dragging snugly, for those who work without a mouse.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from ...nesting.model.job import Job
from ...nesting.model.placement import Placement
from ...nesting.model.rules import same_board
from . import arrange
from .contact import LEGAL, Group, Hand
from .copies import key_of
from .walls import walls_on

RINGS = 30
"""How far round a place room is looked for, in thirds of the parts' size."""


def hand_for(job: Job, placements: Sequence[Placement]) -> Hand:
    """Return a hand that holds parts of one blank where they lie."""
    blank = placements[0].blank
    walls = walls_on(job, blank, [key_of(p) for p in placements])
    shapes = [(job.part(p.part_id).outline, p.motion) for p in placements]
    return Hand([Group(walls, shapes)])


def settled_near(
    job: Job, wished: Sequence[Placement]
) -> tuple[list[Placement], list[Placement]]:
    """Return parts where they lie well, each as near to its wish as there is room.

    Parts that lie well already stay. Their turn stays as well, unless their rule
    forbids it: then it becomes the nearest one that is allowed.

    Parameters
    ----------
    job : Job
        Says what else lies where; what it says of the wished copies does not count.
    wished : sequence of Placement
        Where they are wished for.

    Returns
    -------
    laid : list of Placement
        Where they go, in the same order.
    left : list of Placement
        Those for which no room was found.
    """
    laid: list[Placement] = []
    left: list[Placement] = []
    keys = {key_of(p) for p in wished}
    rest = tuple(p for p in job.layout.placements if key_of(p) not in keys)
    for p in wished:
        layout = replace(job.layout, placements=(*rest, *laid))
        now = replace(job, layout=layout)
        part, stock = job.part(p.part_id), job.stock_of(p.blank)
        if not same_board(
            part.material, part.thickness, stock.material, stock.thickness
        ):
            left.append(p)
            continue
        turn = arrange.nearest_allowed(part.turn, stock.grain, p.turn)
        if not part.turn.allows(p.turn, stock.grain):
            p = arrange.turned_to(job, p, turn)
        hand = hand_for(now, [p])
        if hand.clear(hand.at, LEGAL):
            laid.append(p)
        elif hand.enter((0.0, 0.0), RINGS):
            step = hand.move(0.0, 0.0)
            laid.append(arrange.moved(p, step.x, step.y))
        else:
            left.append(p)
    return laid, left


def pushed(
    job: Job, placements: Sequence[Placement], way: tuple[float, float]
) -> list[Placement] | None:
    """Return parts of one blank pushed straight along until they touch something.

    Parameters
    ----------
    way : tuple of float
        Unit vector.

    Returns
    -------
    list of Placement or None
        None when they lie wrongly to begin with.
    """
    hand = hand_for(job, placements)
    if not hand.clear(hand.at):
        return None
    x, y = hand.push(way)
    return [arrange.moved(p, x, y) for p in placements]
