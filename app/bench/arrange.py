"""What can be done to placements: turn, flip, align, distribute, swap, find room.

Pure functions from placements to placements; they know neither Qt nor a document.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from enum import StrEnum

from ...nesting.model.curve import Box
from ...nesting.model.job import Job
from ...nesting.model.motion import Motion, Point
from ...nesting.model.placement import Placement
from ...nesting.model.rules import ANGLE_TOLERANCE, Grain, TurnRule, angle_between
from .shapes import flat, placed_box


class Edge(StrEnum):
    """What parts are lined up by."""

    LEFT = "left"
    RIGHT = "right"
    BOTTOM = "bottom"
    TOP = "top"
    MIDDLE_X = "middle across"
    MIDDLE_Y = "middle up"


def box_of(job: Job, placement: Placement) -> Box:
    """Return the bounding box of a placed copy on its blank, mm."""
    return placed_box(job.part(placement.part_id).outline, placement.motion)


def box_round(boxes: Sequence[Box]) -> Box:
    """Return the box round some boxes, mm."""
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0), min(y0), max(x1), max(y1)


def middle(box: Box) -> Point:
    """Return the middle of a box, mm."""
    return (box[0] + box[2]) / 2.0, (box[1] + box[3]) / 2.0


def centre_of(job: Job, placement: Placement) -> Point:
    """Return where the middle of a part's own box lies on the blank, mm."""
    return placement.motion.point(flat(job.part(placement.part_id).outline).centre)


def turned(
    placements: Sequence[Placement], pivot: Point, degrees: float
) -> list[Placement]:
    """Return the placements turned together about a point, counter-clockwise."""
    turn = Motion(turn=degrees % 360.0)
    out = []
    for p in placements:
        x, y = turn.point((p.x - pivot[0], p.y - pivot[1]))
        angle = tidy_angle(p.turn + degrees)
        out.append(replace(p, x=x + pivot[0], y=y + pivot[1], turn=angle))
    return out


def moved(placement: Placement, dx: float, dy: float) -> Placement:
    """Return the placement moved by a distance, mm."""
    return replace(placement, x=placement.x + dx, y=placement.y + dy)


def turned_to(job: Job, placement: Placement, degrees: float) -> Placement:
    """Return the placement at an angle, turned about the part's own middle."""
    cx, cy = centre_of(job, placement)
    placed = replace(placement, turn=tidy_angle(degrees))
    nx, ny = centre_of(job, placed)
    return replace(placed, x=placed.x + cx - nx, y=placed.y + cy - ny)


def flipped(
    job: Job, placements: Sequence[Placement], axis: float | None = None
) -> list[Placement]:
    """Return the placements laid on the other face, mirrored left to right.

    Parameters
    ----------
    axis : float or None
        The x of the upright line they are mirrored in, mm; None for each part's own.
    """
    out = []
    for p in placements:
        line = centre_of(job, p)[0] if axis is None else axis
        # Mirroring x' = 2 line - x of R(t) S(f) q + m is R(-t) S(1-f) q + m'.
        out.append(
            replace(
                p,
                x=2.0 * line - p.x,
                turn=tidy_angle(-p.turn),
                flipped=not p.flipped,
            )
        )
    return out


def tidy_angle(degrees: float) -> float:
    """Return the angle from 0 up to 360; a whole number when it is one, nearly."""
    angle = degrees % 360.0
    whole = round(angle)
    if abs(angle - whole) < 1e-9:
        angle = float(whole)
    return 0.0 if angle == 360.0 else angle


def nearest_allowed(rule: TurnRule, grain: Grain, degrees: float) -> float:
    """Return the turn nearest to a wanted one that the rule allows on this stock."""
    turns = rule.turns(grain)
    if turns is None:
        return tidy_angle(degrees)
    return min(turns, key=lambda t: angle_between(t, degrees))


def next_allowed(rule: TurnRule, grain: Grain, turn: float, step: float) -> float:
    """Return the turn that one key press leads to.

    Parameters
    ----------
    turn : float
        The turn now, degrees.
    step : float
        The step wished for, degrees; with a rule that lists turns, the next one in
        its direction is taken instead.
    """
    turns = rule.turns(grain)
    if turns is None:
        return tidy_angle(turn + step)
    way = 1.0 if step > 0 else -1.0
    ahead = {
        t: (way * (t - turn)) % 360.0
        for t in turns
        if angle_between(t, turn) > ANGLE_TOLERANCE
    }
    return min(ahead, key=lambda t: ahead[t]) if ahead else turn


def aligned(job: Job, placements: Sequence[Placement], edge: Edge) -> list[Placement]:
    """Return the placements lined up with the outermost of them, or their middle."""
    boxes = [box_of(job, p) for p in placements]
    whole = box_round(boxes)
    out = []
    for p, box in zip(placements, boxes, strict=True):
        dx = dy = 0.0
        if edge is Edge.LEFT:
            dx = whole[0] - box[0]
        elif edge is Edge.RIGHT:
            dx = whole[2] - box[2]
        elif edge is Edge.BOTTOM:
            dy = whole[1] - box[1]
        elif edge is Edge.TOP:
            dy = whole[3] - box[3]
        elif edge is Edge.MIDDLE_X:
            dx = middle(whole)[0] - middle(box)[0]
        else:
            dy = middle(whole)[1] - middle(box)[1]
        out.append(replace(p, x=p.x + dx, y=p.y + dy))
    return out


def distributed(
    job: Job, placements: Sequence[Placement], along_x: bool
) -> list[Placement]:
    """Return the placements with equal room between them; the outermost stay."""
    axis = 0 if along_x else 1
    boxes = {p: box_of(job, p) for p in placements}
    order = sorted(placements, key=lambda p: middle(boxes[p])[axis])
    if len(order) < 3:
        return list(placements)
    lengths = [boxes[p][axis + 2] - boxes[p][axis] for p in order]
    start, end = boxes[order[0]][axis], boxes[order[-1]][axis + 2]
    room = (end - start - sum(lengths)) / (len(order) - 1)
    at = start
    out = []
    for p, length in zip(order, lengths, strict=True):
        shift = at - boxes[p][axis]
        inner = p not in (order[0], order[-1])
        dx, dy = (shift, 0.0) if along_x else (0.0, shift)
        out.append(replace(p, x=p.x + dx, y=p.y + dy) if inner else p)
        at += length + room
    return out


def swapped(job: Job, one: Placement, two: Placement) -> list[Placement]:
    """Return both placements with their middles and blanks exchanged."""
    (ax, ay), (bx, by) = centre_of(job, one), centre_of(job, two)
    return [
        replace(one, blank=two.blank, x=one.x + bx - ax, y=one.y + by - ay),
        replace(two, blank=one.blank, x=two.x + ax - bx, y=two.y + ay - by),
    ]


def free_copies(job: Job, part_id: str) -> list[int]:
    """Return the numbers of the copies of a part that lie in the tray."""
    taken = {p.copy for p in job.layout.placements if p.part_id == part_id}
    quantity = job.part(part_id).quantity
    return [n for n in range(1, quantity + 1) if n not in taken]


def tray_counts(job: Job) -> Mapping[str, int]:
    """Return how many copies of each part lie in the tray, in the order's order."""
    placed: dict[str, int] = {}
    for p in job.layout.placements:
        placed[p.part_id] = placed.get(p.part_id, 0) + 1
    return {
        part.id: part.quantity - placed.get(part.id, 0)
        for part in job.parts
        if part.quantity > placed.get(part.id, 0)
    }
