"""Copies that come onto the bench: carried, laid, filled into a hole, doubled."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from PySide6.QtCore import QPoint, Qt

from ...nesting.model.job import Job
from ...nesting.model.motion import Point, Points
from ...nesting.model.placement import Placement
from ...nesting.model.rules import same_board
from ..window.task import in_background
from . import arrange
from .contact import Group, Hand
from .copies import Key
from .fill import fill_hole
from .moving import MoveGesture
from .shapes import flat
from .walls import walls_on
from .words import tr

if TYPE_CHECKING:
    from .view import BenchView


GRID = 48
"""Places tried across a blank, and as many up it."""


def first_room(group: Group, margin: float) -> Point | None:
    """Return the move that brings parts to the first free place of a grid, or None.

    From below upwards, left to right. Most places are ruled out many at a time, by
    points of the parts that would lie within something else.
    """
    walls = group.walls
    bx0, by0, bx1, by1 = group.box
    x0, y0, x1, y1 = walls.board.bounds
    xs = _places(x0 + margin - bx0, x1 - margin - bx1)
    ys = _places(y0 + margin - by0, y1 - margin - by1)
    if not len(xs) or not len(ys):
        return None
    moves = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    for probe in group.probes:
        points = shapely.points(moves + probe)
        good = shapely.contains(walls.board, points)
        if len(walls.solids):
            hit, _ = walls.solid_tree.query(points, predicate="within")
            good[hit] = False
        moves = moves[good]
    for move in moves:
        if group.clear(move, 1e-6):
            return float(move[0]), float(move[1])
    return None


def _places(low: float, high: float) -> Points:
    """Return where to try from a least to a greatest move, mm; a hair within both."""
    if high < low:
        return np.zeros(0)
    if high - low < 0.02:
        return np.array([(low + high) / 2.0])
    places: Points = np.linspace(low + 0.01, high - 0.01, GRID)
    return places


def room_on(
    job: Job, part_id: str, copy: int, blanks: Iterable[int]
) -> Placement | None:
    """Return where a copy fits on the first of some blanks that has room for it."""
    part = job.part(part_id)
    for blank in blanks:
        stock = job.stock_of(blank)
        if not same_board(
            part.material, part.thickness, stock.material, stock.thickness
        ):
            continue
        for turn in part.turn.turns(stock.grain) or (0.0, 90.0):
            start = Placement(part_id, copy, blank, 0.0, 0.0, turn)
            group = Group(walls_on(job, blank), [(part.outline, start.motion)])
            at = first_room(group, job.cutting.margin)
            if at is None:
                continue
            # Pressed to the left, so that the next one finds room beside it.
            x0 = stock.outline.bounds[0]
            step = Hand([group], at).move(x0 - group.box[0] - 1.0, at[1])
            return arrange.moved(start, step.x, step.y)
    return None


class Laying:
    """Brings copies from the tray.

    Parameters
    ----------
    view : BenchView
        The bench.
    """

    def __init__(self, view: BenchView) -> None:
        self._view = view

    def carry(self, part_id: str, place: QPoint) -> bool:
        """Take a copy from the tray into the hand, at a place of the viewport."""
        job: Job = self._view.document.job
        free = arrange.free_copies(job, part_id)
        at = self._view.camera.point(place)
        blank = self._view.plan.blank_at(at)
        if not free or blank is None:
            return False
        part = job.part(part_id)
        stock = job.stock_of(blank)
        if not same_board(
            part.material, part.thickness, stock.material, stock.thickness
        ):
            self._view.document.say(
                "warn",
                tr("{name} is to be cut from another board.").format(name=part.name),
            )
            return False
        grain = self._view.document.grain_at(blank)
        turn = arrange.nearest_allowed(part.turn, grain, 0.0)
        placed = Placement(part_id, free[0], blank, 0.0, 0.0, turn)
        cx, cy = placed.motion.point(flat(part.outline).centre)
        x, y = self._view.plan.on_blank(blank, at)
        placed = Placement(part_id, free[0], blank, x - cx, y - cy, turn)
        gesture = MoveGesture(self._view, at, [placed], blank)
        if not gesture.hand(blank).enter((0.0, 0.0)):
            gesture.cancel()
            self._view.document.say(
                "warn",
                tr("There is no room for {name} here.").format(name=part.name),
            )
            return False
        self._view.gesture = gesture
        self._view.follow(place, Qt.KeyboardModifier.NoModifier)
        return True

    def lay(self, part_id: str) -> bool:
        """Lay a copy from the tray where there is room: the way without dragging.

        The blank in the middle of the view is tried first, then the others.
        """
        document = self._view.document
        job = document.job
        free = arrange.free_copies(job, part_id)
        if not free or not self._view.plan.boxes:
            return False
        here = self._view.camera.blank_in_view()
        order = sorted(range(len(self._view.plan.boxes)), key=lambda b: (b != here, b))
        # On twenty full blanks it is looked for too long to hold the window up.
        found = in_background(lambda: room_on(job, part_id, free[0], order))
        if document.job is not job:
            return False
        if found is not None:
            return document.place([found])
        document.say(
            "warn",
            tr("There is no room for {name} on any blank.").format(
                name=job.part(part_id).name
            ),
        )
        return False

    def fill_hole(self, key: Key, hole: int) -> int:
        """Fill a hole of a placed copy from the tray, as one step.

        Returns
        -------
        int
            How many copies found room.
        """
        document = self._view.document
        name = document.name_of(key)
        if not document.job.cutting.use_holes:
            document.say("info", tr("Holes are not to be used (Cutting)."))
            return 0
        placed = fill_hole(document.job, key, hole)
        if not placed:
            document.say(
                "info",
                tr("Nothing in the tray fits in this hole of {name}.").format(
                    name=name
                ),
            )
            return 0
        document.place(placed, tr("Fill a hole of {name}").format(name=name))
        self._view.hole_filled.emit(key[0], key[1], len(placed))
        return len(placed)

    def duplicate(self) -> bool:
        """Want one more of the current part and lay it near, where there is room."""
        current = self._view.document.current
        placement = None if current is None else self._view.document.placement(current)
        if placement is None:
            return False
        job = self._view.document.job
        outline = job.part(placement.part_id).outline
        group = Group(walls_on(job, placement.blank), [(outline, placement.motion)])
        hand = Hand([group])
        if not hand.enter((0.0, 0.0), rings=12):
            self._view.document.say("warn", tr("There is no room for one more here."))
            return False
        x, y = hand.at
        return self._view.document.duplicate(
            replace(placement, x=placement.x + float(x), y=placement.y + float(y))
        )
