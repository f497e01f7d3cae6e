"""Carrying parts over the bench."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from PySide6.QtCore import Qt
from PySide6.QtGui import QPainterPath

from ...nesting.model.motion import Point
from ...nesting.model.placement import Placement
from ...nesting.model.rules import same_board
from . import arrange
from .aligning import Aligner
from .contact import LEGAL, Group, Hand, Step
from .copies import key_of
from .crowd_item import CROWD
from .gestures import CTRL, SHIFT, Gesture, nearest_words, paths_of
from .items import InHand, placed_path
from .walls import Walls, walls_on
from .words import length_text, tr

if TYPE_CHECKING:
    from .view import BenchView

DROP = 8.0
"""A free place this near to the pointer's wish is taken, pixels."""

LINE_UP = 8.0
"""Edges this near to being in line are brought there, pixels."""


class MoveGesture(Gesture):
    """Carry parts, snug against their neighbours; with Ctrl, through them."""

    hint = tr("Ctrl: freely, through neighbours · Shift: along one axis · Esc: back")

    def __init__(
        self,
        view: BenchView,
        start: Point,
        placements: list[Placement],
        home: int | None = None,
        text: str = "",
    ) -> None:
        super().__init__(view, start)
        self.document = view.document
        self.job = self.document.job
        self.before = placements
        self.keys = [key_of(p) for p in placements]
        self.fresh = any(self.document.placement(k) is None for k in self.keys)
        self.text = text
        blanks = {p.blank for p in placements}
        self.together = len(blanks) == 1
        self.home = placements[0].blank if home is None else home
        self.blank = self.home
        self.t: Point = (0.0, 0.0)
        self.moved = list(placements)
        self._hands: dict[int, Hand] = {}
        self._aligners: dict[int, Aligner] = {}
        self._walls: dict[int, Walls] = {}
        self._why = ""
        self._refused: tuple[int, Point] | None = None
        view.lift(self.keys)

    def walls(self, blank: int) -> Walls:
        """Return what is in the way on a blank, worked out when first needed."""
        if blank not in self._walls:
            self._walls[blank] = walls_on(self.job, blank, self.keys)
        return self._walls[blank]

    def hand(self, blank: int) -> Hand:
        """Return the hand that moves the parts over a blank."""
        if blank not in self._hands:
            split: dict[int, list[Placement]] = {}
            for p in self.before:
                split.setdefault(blank if self.together else p.blank, []).append(p)
            groups = [
                Group(
                    self.walls(b),
                    [(self.job.part(p.part_id).outline, p.motion) for p in ps],
                )
                for b, ps in split.items()
            ]
            self._hands[blank] = Hand(groups)
        return self._hands[blank]

    def aligner(self, blank: int) -> Aligner:
        """Return what finds edges in line on a blank, made when first needed."""
        if blank not in self._aligners:
            group = self.hand(blank).groups[0]
            self._aligners[blank] = Aligner(group, self.view.owner_name)
        return self._aligners[blank]

    def _wish(self, blank: int, at: Point, keys: Qt.KeyboardModifier) -> Point:
        dx, dy = self._pulled(at)
        axis = _axis((dx, dy), keys)
        if axis is not None:
            dx, dy = (dx, 0.0) if axis == 0 else (0.0, dy)
        (hx, hy), (bx, by) = (
            self.view.plan.origins[self.home],
            self.view.plan.origins[blank],
        )
        return dx + hx - bx, dy + hy - by

    def move(self, at: Point, keys: Qt.KeyboardModifier) -> str:
        """Follow the pointer as closely as the neighbours allow."""
        over = self.view.plan.blank_at(at)
        blank = self.blank
        if self.together and over is not None and over != self.blank:
            blank = over
        wish = self._wish(blank, at, keys)
        through = bool(keys & CTRL)
        pixel = 1.0 / self.view.scale_now()
        if blank != self.blank and not through:
            blank, wish = self._enter(blank, wish, at, keys)
        elif blank == over:
            self._why = ""
        self.blank = blank
        hand = self.hand(blank)
        found: list[int] = []
        if through:
            step = Step(wish[0], wish[1], (), False)
            if hand.clear(np.array(wish)):
                hand.at = np.array(wish)
        else:
            if self.together and self.view.lines_up:
                axis = _axis(self._pulled(at), keys)
                reach = LINE_UP * pixel
                wish, found = self.aligner(blank).snap(wish, reach, axis)
            drop = min(max(DROP * pixel, 0.5), 25.0)
            step = hand.move(*wish, drop=drop, starts=self._holes(at, blank))
        return self._show(step, wish, blank, through, found)

    def _pulled(self, at: Point) -> Point:
        return at[0] - self.start[0], at[1] - self.start[1]

    def _enter(
        self, blank: int, wish: Point, at: Point, keys: Qt.KeyboardModifier
    ) -> tuple[int, Point]:
        """Come onto another blank if there is room near the pointer."""
        back = self._wish(self.blank, at, keys)
        self._why = self._against(blank)
        if self._why:
            return self.blank, back
        if self._refused is not None and self._refused[0] == blank:
            if math.dist(self._refused[1], at) < 8.0 / self.view.scale_now():
                return self.blank, back
        if self.hand(blank).enter(wish):
            self._refused = None
            return blank, wish
        self._refused = (blank, at)
        return self.blank, back

    def _against(self, blank: int) -> str:
        """Return why the parts may not lie on a blank, empty if they may."""
        stock = self.job.stock_of(blank)
        for p in self.before:
            part = self.job.part(p.part_id)
            if not same_board(
                part.material, part.thickness, stock.material, stock.thickness
            ):
                return tr("{name} is to be cut from another board").format(
                    name=part.name
                )
            if not part.turn.allows(p.turn, stock.grain):
                return tr("the grain there runs the other way for {name}").format(
                    name=part.name
                )
        return ""

    def _holes(self, at: Point, blank: int) -> list[Point]:
        """Return the moves that bring the parts to the middle of a hole pointed at."""
        if not self.together:
            return []
        group = self.hand(blank).groups[0]
        x, y = self.view.plan.on_blank(blank, at)
        mx, my = (group.box[0] + group.box[2]) / 2, (group.box[1] + group.box[3]) / 2
        wide, high = group.box[2] - group.box[0], group.box[3] - group.box[1]
        walls = self.walls(blank)
        out: list[Point] = []
        if not len(walls.solids):
            return out
        for k in walls.solid_tree.query(shapely.Point(x, y)):
            for ring in walls.solids[k].interiors:
                x0, y0, x1, y1 = ring.bounds
                fits = x1 - x0 > wide and y1 - y0 > high
                if fits and x0 <= x <= x1 and y0 <= y <= y1:
                    out.append(((x0 + x1) / 2 - mx, (y0 + y1) / 2 - my))
        return out

    def _show(
        self, step: Step, wish: Point, blank: int, through: bool, found: list[int]
    ) -> str:
        self.t = (step.x, step.y)
        self.moved = self._at(self.t, blank)
        hand = self.hand(blank)
        view = self.view
        group = hand.groups[0]
        origin = view.plan.origins[self.moved[0].blank]
        near = nearest_words(
            group.walls, group.polygons(np.array(self.t)), view, self.job, origin
        )
        ghost = None
        crowd = len(self.before) > CROWD
        away = math.dist(self.t, wish) > 3.0 / view.scale_now()
        if step.held and away and not crowd:
            ghost = QPainterPath()
            for p in self._at(wish, blank):
                ghost.addPath(placed_path(self.job, p, view.plan.origins[p.blank]))
        bad = []
        if through and not hand.clear(np.array(self.t), LEGAL):
            bad = paths_of(self.job, self.moved, view.plan.origins)
        guides = self.aligner(blank).guides(found, self.t) if found else []
        view.show_hand(
            self.moved,
            InHand(
                wish=ghost,
                line=near.line,
                line_text=view.foreground.unless_near(near.line, near.distance),
                guides=[guide.moved(origin) for guide in guides],
                bad=bad,
            ),
        )
        x0, y0, _, _ = arrange.box_of(self.job, self.moved[0])
        units = self.job.units
        figures = tr("x {x}   y {y}").format(
            x=length_text(x0, units), y=length_text(y0, units)
        )
        # Both ways in line with the same: said once.
        words = list(dict.fromkeys(guide.text for guide in guides))
        words += [self._why] if self._why else []
        return "\n".join((figures, near.words, *words))

    def _at(self, t: Point, blank: int) -> list[Placement]:
        moved = [arrange.moved(p, *t) for p in self.before]
        if not self.together:
            return moved
        return [replace(p, blank=blank) for p in moved]

    def finish(self) -> None:
        """Leave the parts where they are shown, as one step."""
        self.view.drop_hand()
        document = self.document
        if self.fresh:
            document.place(self.moved)
            return
        if self.moved == self.before:
            return
        text = document.gesture_text(
            tr("Move {name}"), tr("Move {count} parts"), self.keys
        )
        document.replace_placements(text, self.moved)

    def cancel(self) -> None:
        """Leave the parts where they were picked up."""
        self.view.drop_hand()


def _axis(pulled: Point, keys: Qt.KeyboardModifier) -> int | None:
    """Return the one axis that Shift keeps a drag to, or None."""
    if not keys & SHIFT:
        return None
    return 0 if abs(pulled[0]) >= abs(pulled[1]) else 1
