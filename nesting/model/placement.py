"""Placements and layouts: what lies where, and what found no room."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from .motion import Motion


@dataclass(frozen=True, slots=True)
class Blank:
    """One board on the bed: a whole sheet or an offcut of a kind of stock."""

    stock_id: str


@dataclass(frozen=True, slots=True)
class Placement:
    """One copy of a part on a blank.

    Parameters
    ----------
    part_id : str
        The part.
    copy : int
        Which copy, counted from 1.
    blank : int
        Index into the layout's blanks, from 0.
    x, y : float
        Where the part's own (0, 0) lies in the blank's coordinates, mm.
    turn : float
        Degrees counter-clockwise.
    flipped : bool
        Whether it lies face down: mirrored (x to -x) before it is turned.
    locked : bool
        Whether the engine must leave it where it is.
    """

    part_id: str
    copy: int
    blank: int
    x: float
    y: float
    turn: float = 0.0
    flipped: bool = False
    locked: bool = False

    @property
    def motion(self) -> Motion:
        """The rigid motion from the part's coordinates to the blank's."""
        return Motion(self.x, self.y, self.turn, self.flipped)


class Reason(StrEnum):
    """Why copies were not placed."""

    TOO_LARGE = "too large for any blank"
    TURN_RULE = "its turn rule keeps it off every blank it would fit"
    STOCK_USED_UP = "stock used up"
    NO_BOARD = "no stock of its material and thickness"
    STOPPED = "stopped before it was placed"
    WAITING = "waits to be laid out"
    BY_HAND = "taken off by hand"


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Copies of one part that lie in the tray, and why."""

    part_id: str
    count: int
    reason: Reason


@dataclass(frozen=True)
class Layout:
    """All placements.

    Parameters
    ----------
    blanks : tuple of Blank
        The boards used, in the order they are cut.
    placements : tuple of Placement
        Every placed copy.
    unplaced : tuple of Unplaced
        Every other wanted copy, with the reason.
    """

    blanks: tuple[Blank, ...] = ()
    placements: tuple[Placement, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()

    def on(self, blank: int) -> tuple[Placement, ...]:
        """Return the placements on one blank."""
        return tuple(p for p in self.placements if p.blank == blank)

    def locked_only(self) -> Layout:
        """Return the locked placements, and only the blanks that carry them."""
        locked = [p for p in self.placements if p.locked]
        order = sorted({p.blank for p in locked})
        places = {blank: k for k, blank in enumerate(order)}
        blanks = tuple(
            self.blanks[b] if 0 <= b < len(self.blanks) else Blank("") for b in order
        )
        return Layout(blanks, tuple(replace(p, blank=places[p.blank]) for p in locked))
