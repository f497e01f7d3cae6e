"""Parts: one flat shape with its marks, and how many are wanted."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum

from .curve import Box, Segment
from .errors import InputError
from .holding import ReliefKind
from .motion import Motion
from .outline import JOIN_TOLERANCE, Outline, bounds_of
from .rules import TurnRule


class Operation(StrEnum):
    """What the cutter does along a curve; also the name of its layer in exports."""

    OUTSIDE = "OUTSIDE"
    INSIDE = "INSIDE"
    POCKET = "POCKET"
    ENGRAVE = "ENGRAVE"
    DRILL = "DRILL"
    TAB = "TAB"


@dataclass(frozen=True)
class Mark:
    """Something cut in a part but not through its edge.

    Parameters
    ----------
    operation : Operation
        POCKET, ENGRAVE, DRILL or TAB.
    segments : tuple of Segment
        One chain of curves in the part's own coordinates, mm; closed or open.
    name : str
        The layer or id it came from; may be empty.
    """

    operation: Operation
    segments: tuple[Segment, ...]
    name: str = ""

    @property
    def closed(self) -> bool:
        """Whether the chain ends where it began."""
        first, last = self.segments[0], self.segments[-1]
        return math.dist(first.start, last.end) <= JOIN_TOLERANCE

    @property
    def bounds(self) -> Box:
        """The bounding box, mm."""
        return bounds_of(self.segments)

    def moved(self, motion: Motion) -> Mark:
        """Return the mark after a rigid motion."""
        moved = tuple(segment.moved(motion) for segment in self.segments)
        return Mark(self.operation, moved, self.name)


@dataclass(frozen=True)
class Part:
    """One flat shape, and how it is wanted.

    Parameters
    ----------
    id : str
        Unique within the order; placements refer to it.
    name : str
        What people call it.
    outline : Outline
        Its edge and holes in its own coordinates, mm.
    marks : tuple of Mark
        What is cut in it.
    quantity : int
        Copies wanted, 0 or more.
    material : str
        Name of the board; compared without regard to case and spacing.
    thickness : float
        mm; 0 when nobody said.
    turn : TurnRule
        Which turns it may take.
    flip : bool
        Whether it may be laid face down.
    priority : int
        Higher is placed first when not everything fits.
    source : str
        The drawing it came from; may be empty.
    relief : ReliefKind or None
        How its inside corners are cut; None as the job says.
    tabs : bool or None
        Whether it is held by tabs; None as the job says.

    Raises
    ------
    InputError
        If the quantity is negative, the thickness is negative or not a number,
        or the outline encloses nothing.
    """

    id: str
    name: str
    outline: Outline
    marks: tuple[Mark, ...] = ()
    quantity: int = 1
    material: str = ""
    thickness: float = 0.0
    turn: TurnRule = field(default_factory=TurnRule)
    flip: bool = False
    priority: int = 0
    source: str = ""
    relief: ReliefKind | None = None
    tabs: bool | None = None

    def __post_init__(self) -> None:
        if self.quantity < 0:
            raise InputError(
                self.name, f"quantity is {self.quantity}", "give 0 or a whole number"
            )
        if not (self.thickness >= 0.0 and math.isfinite(self.thickness)):
            raise InputError(
                self.name, f"thickness is {self.thickness} mm", "give a length above 0"
            )
        if not self.outline.area > 0.0:
            raise InputError(
                self.name, "its outline encloses no area", "redraw the outline"
            )

    @property
    def area(self) -> float:
        """Exact area of one copy without its holes, mm²."""
        return self.outline.area
