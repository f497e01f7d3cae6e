"""What the shop's arithmetic adds to the paper: plain rows, points and remarks."""

from __future__ import annotations

from dataclasses import dataclass

from ..nesting.model.breakdown import Breakdown
from ..nesting.model.motion import Point, Points
from ..nesting.model.part import Part

Fact = tuple[str, str]
"""A label and its value, ready to print."""


@dataclass(frozen=True)
class BlankNotes:
    """What is said about one blank.

    Parameters
    ----------
    facts : tuple of Fact
        Weight, passes, time and so on.
    screws : tuple of Point
        Suggested screws, in the blank's coordinates, mm.
    loose : tuple of Point
        Where pieces come loose: drop-outs of holes, small parts, mm.
    remarks : tuple of str
        Whole sentences.
    standing : tuple of Points
        Edges of what the cutter leaves standing, mm.
    """

    facts: tuple[Fact, ...] = ()
    screws: tuple[Point, ...] = ()
    loose: tuple[Point, ...] = ()
    remarks: tuple[str, ...] = ()
    standing: tuple[Points, ...] = ()


@dataclass(frozen=True)
class Left:
    """One place that the cutter leaves standing in a part.

    Parameters
    ----------
    what, index : str, int
        Of the outside, a hole or a pocket, and which.
    entered : bool
        Whether the cutter gets in there at all.
    place : Point
        A point of it, in the part's coordinates, mm.
    polygon : Points
        Its edge, mm.
    area, depth : float
        mm²; how far the cutter stays off the drawn corner, mm.
    """

    what: str
    index: int
    entered: bool
    place: Point
    polygon: Points
    area: float
    depth: float


@dataclass(frozen=True)
class CornerNote:
    """A part in which something stays standing.

    Parameters
    ----------
    number : int
        Its number in the order, from 1.
    part : Part
        As it is cut.
    left : tuple of Left
        What stays.
    cutter : float
        Cut width, mm.
    largest : float
        The widest cutter that gets in everywhere, mm; 0 where this one does.
    """

    number: int
    part: Part
    left: tuple[Left, ...]
    cutter: float
    largest: float = 0.0


@dataclass(frozen=True)
class SheetCuts:
    """How the sheets of one kind are sawn.

    Parameters
    ----------
    name : str
        What people call the sheet.
    sheets : int
        How many are sawn like this.
    breakdown : Breakdown
        The cuts.
    """

    name: str
    sheets: int
    breakdown: Breakdown


@dataclass(frozen=True)
class ShopNotes:
    """What is said about the whole job.

    Parameters
    ----------
    facts : tuple of Fact
        Sheets, yield, weight, time, cost.
    cutting : tuple of Fact
        Cutter, speed, feeds, passes, depth.
    remarks : tuple of str
        What the arithmetic has to say about the set-up.
    blanks : tuple of BlankNotes
        One for each blank of the layout, in its order; or empty.
    sawing : tuple of SheetCuts
        Break-downs of sheets into blanks.
    z_zero : str
        Where depth is counted from.
    corners : tuple of CornerNote
        Parts in which something stays standing.
    """

    facts: tuple[Fact, ...] = ()
    cutting: tuple[Fact, ...] = ()
    remarks: tuple[str, ...] = ()
    blanks: tuple[BlankNotes, ...] = ()
    sawing: tuple[SheetCuts, ...] = ()
    z_zero: str = ""
    corners: tuple[CornerNote, ...] = ()

    def blank(self, index: int) -> BlankNotes:
        """Return what is said about a blank (from 0); nothing when out of range."""
        return self.blanks[index] if index < len(self.blanks) else BlankNotes()
