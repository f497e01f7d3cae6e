"""Turning parts by the handle."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from PySide6.QtCore import Qt

from ...nesting.model.motion import Point, Points
from ...nesting.model.placement import Placement
from . import arrange
from .aligning import LONG, Guide
from .copies import key_of
from .gestures import CTRL, SHIFT, Gesture, nearest_words, paths_of
from .items import InHand
from .shapes import flat
from .turning import Turner
from .walls import walls_on
from .words import angle_text, tr

if TYPE_CHECKING:
    from .view import BenchView

ANGLE_SNAP = 2.5
"""A turn this near to a round angle or a neighbour's edge takes it, degrees."""

ROUND = 15.0
"""Round angles are multiples of this, degrees."""


@dataclass(frozen=True)
class _Aim:
    """The turn that rules, round angles and neighbours make of a wish.

    Attributes
    ----------
    by : float
        Degrees.
    why : str
        What made it so; empty for nothing.
    ruled : bool
        Whether a turn rule lists the turns there are.
    edge : ndarray of float64, shape (4,), or None
        The neighbour's edge it is along.
    """

    by: float
    why: str = ""
    ruled: bool = False
    edge: Points | None = None


class TurnGesture(Gesture):
    """Turn what is selected about its middle; neighbours push it aside or stop it."""

    hint = tr("Shift: steps of 15° · Ctrl: freely, through neighbours · Esc: back")

    def __init__(
        self, view: BenchView, start: Point, placements: list[Placement]
    ) -> None:
        super().__init__(view, start)
        self.job = view.document.job
        self.before = placements
        self.keys = [key_of(p) for p in placements]
        self.blank = placements[0].blank
        boxes = [arrange.box_of(self.job, p) for p in placements]
        if len(placements) == 1:
            self.pivot = arrange.centre_of(self.job, placements[0])
        else:
            self.pivot = arrange.middle(arrange.box_round(boxes))
        self.walls = walls_on(self.job, self.blank, self.keys)
        self.turner = Turner(self.job, self.walls, placements, self.pivot)
        self.moved = list(placements)
        self._first = self._angle(start)
        view.lift(self.keys)

    def _angle(self, at: Point) -> float:
        x, y = self.view.plan.on_blank(self.blank, at)
        return math.degrees(math.atan2(y - self.pivot[1], x - self.pivot[0]))

    def _aim(self, by: float, keys: Qt.KeyboardModifier) -> _Aim:
        first = self.before[0]
        target = first.turn + by
        for p in self.before:
            rule = self.job.part(p.part_id).turn
            grain = self.view.document.grain_at(p.blank)
            if rule.turns(grain) is not None:
                turn = arrange.nearest_allowed(rule, grain, p.turn + by)
                words = self.view.document.turn_words(key_of(p))
                return _Aim((turn - p.turn + 180.0) % 360.0 - 180.0, words, True)
        if keys & CTRL:
            return _Aim(by)
        near = round(target / ROUND) * ROUND
        if keys & SHIFT or abs(target - near) <= ANGLE_SNAP:
            return _Aim(near - first.turn, tr("a step of 15°"))
        return self._along(by, target) or _Aim(by)

    def _along(self, by: float, target: float) -> _Aim | None:
        """Return the turn that lays a long edge along one of a neighbour's."""
        shape = flat(self.job.part(self.before[0].part_id).outline)
        x0, y0, x1, y1 = shape.box
        mine = _directions(shape.edges, max(x1 - x0, y1 - y0))
        if self.before[0].flipped:
            mine = -mine
        edges, owners = self._near_edges()
        theirs = _directions(edges, 0.0)
        if not len(mine) or not len(theirs):
            return None
        off = (theirs[None, :] - mine[:, None] - target + 90.0) % 180.0 - 90.0
        best = int(np.argmin(np.abs(off)))
        if abs(off.flat[best]) > ANGLE_SNAP:
            return None
        k = best % len(theirs)
        name = self.view.owner_name(self.walls.owners[int(owners[k])])
        words = tr("along an edge of {name}").format(name=name)
        return _Aim(by + float(off.flat[best]), words, False, edges[k])

    def _near_edges(self) -> tuple[Points, Points]:
        """Return long edges near the parts, and whose they are."""
        x0, y0, x1, y1 = arrange.box_round(
            [arrange.box_of(self.job, p) for p in self.before]
        )
        room = 3.0 * self.walls.gap + 20.0
        near = np.sort(
            self.walls.tree.query(
                shapely.box(x0 - room, y0 - room, x1 + room, y1 + room)
            )
        )
        edges = self.walls.edges[near]
        length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
        long = length >= LONG * max(x1 - x0, y1 - y0)
        return edges[long], self.walls.owner[near][long]

    def move(self, at: Point, keys: Qt.KeyboardModifier) -> str:
        """Turn as far as the neighbours allow."""
        wish = (self._angle(at) - self._first + 180.0) % 360.0 - 180.0
        aim = self._aim(wish, keys)
        through = bool(keys & CTRL)
        why = aim.why
        if through:
            self.turner.free(aim.by)
        elif aim.ruled:
            if self.turner.listed(aim.by).held:
                why = tr("no room at {angle}").format(
                    angle=angle_text(arrange.tidy_angle(self.before[0].turn + aim.by))
                )
        elif self.turner.turn(aim.by).held:
            why = tr("held by a neighbour")
        self.moved = self.turner.placed()
        polygons = [
            flat(self.job.part(p.part_id).outline).moved_polygon(p.motion)
            for p in self.moved
        ]
        origin = self.view.plan.origins[self.blank]
        near = nearest_words(self.walls, polygons, self.view, self.job, origin)
        bad = []
        if through and not self.turner.clear():
            bad = paths_of(self.job, self.moved, self.view.plan.origins)
        guides = []
        if aim.edge is not None and why == aim.why:
            x0, y0, x1, y1 = aim.edge
            guides = [Guide(((x0, y0), (x1, y1)), why).moved(origin)]
        self.view.show_hand(
            self.moved,
            InHand(
                line=near.line,
                line_text=self.view.foreground.unless_near(near.line, near.distance),
                guides=guides,
                bad=bad,
            ),
        )
        figures = angle_text(self.moved[0].turn)
        return "\n".join(word for word in (figures, near.words, why) if word)

    def finish(self) -> None:
        """Leave the parts as they are shown, as one step."""
        self.view.drop_hand()
        if self.moved == self.before:
            return
        document = self.view.document
        text = document.gesture_text(
            tr("Turn {name}"), tr("Turn {count} parts"), self.keys
        )
        document.replace_placements(text, self.moved)

    def cancel(self) -> None:
        """Leave the parts as they were."""
        self.view.drop_hand()


def _directions(edges: Points, size: float) -> Points:
    """Return the directions of the edges that are long for a size, degrees."""
    along = edges[:, 2:] - edges[:, :2]
    length = np.hypot(along[:, 0], along[:, 1])
    keep = length >= LONG * size
    angles: Points = np.degrees(np.arctan2(along[keep, 1], along[keep, 0])) % 180.0
    return angles
