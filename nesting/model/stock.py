"""Stock: sheets to buy, offcuts on the rack, and the areas no cut may touch."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .breakdown import Breakdown
from .curve import Arc, Line, Segment
from .errors import InputError
from .keep_out import KeepOut as KeepOut
from .outline import Loop, Outline
from .rules import Grain


@dataclass(frozen=True)
class Stock:
    """One kind of sheet, or one offcut.

    Parameters
    ----------
    id : str
        Unique within the job; blanks refer to it.
    name : str
        What people call it.
    outline : Outline
        Its edge with the least corner of its bounding box at (0, 0), mm; x runs
        along the length, the first-quoted dimension. It may have holes.
    material : str
        Name of the board.
    thickness : float
        mm; 0 when nobody said.
    grain : Grain
        Along which side the face grain runs.
    price : float
        Cost of one, in the user's currency.
    count : int or None
        How many there are; None for as many as needed.
    keep_outs : tuple of KeepOut
        Areas no cut may touch on every blank of this kind.
    offcut : bool
        Whether it is a kept leftover, which is used before whole sheets.
    sheet : Stock or None
        The sheet as bought that it is sawn from, or is a position of; what is paid
        is that sheet, whole. None for what is bought or kept as it is.
    per_sheet : int
        How many of this kind one such sheet gives.
    kerf : float
        Width of the saw's cuts between what one sheet gives, mm.
    breakdown : Breakdown or None
        How that sheet is sawn, or indexed through, so that it can be told later.

    Raises
    ------
    InputError
        If the count is negative, the price or thickness is not usable, or the
        outline encloses nothing.
    """

    id: str
    name: str
    outline: Outline
    material: str = ""
    thickness: float = 0.0
    grain: Grain = Grain.NONE
    price: float = 0.0
    count: int | None = None
    keep_outs: tuple[KeepOut, ...] = ()
    offcut: bool = False
    sheet: Stock | None = None
    per_sheet: int = 1
    kerf: float = 0.0
    breakdown: Breakdown | None = None

    def __post_init__(self) -> None:
        if self.count is not None and self.count < 0:
            raise InputError(
                self.name, f"count is {self.count}", 'give 0, a number or "as needed"'
            )
        if self.per_sheet < 1:
            raise InputError(
                self.name, f"{self.per_sheet} on a sheet", "give 1 or more"
            )
        if not (self.kerf >= 0.0 and math.isfinite(self.kerf)):
            raise InputError(self.name, f"kerf is {self.kerf} mm", "give 0 or more")
        if not (self.price >= 0.0 and math.isfinite(self.price)):
            raise InputError(self.name, f"price is {self.price}", "give 0 or more")
        if not (self.thickness >= 0.0 and math.isfinite(self.thickness)):
            raise InputError(
                self.name, f"thickness is {self.thickness} mm", "give a length above 0"
            )
        if not self.outline.area > 0.0:
            raise InputError(
                self.name, "its outline encloses no area", "give a size above 0"
            )

    @property
    def area(self) -> float:
        """Exact area of one, mm²."""
        return self.outline.area

    @property
    def is_rectangle(self) -> bool:
        """Whether the outline is an upright rectangle without holes."""
        width, height = self.outline.size
        return (
            not self.outline.holes
            and self.outline.outer.is_straight
            and math.isclose(self.area, width * height, rel_tol=1e-12)
        )


def rounded_rectangle(
    width: float, height: float, x: float, y: float, clearance: float
) -> Loop:
    """Return a rectangle grown by a clearance, mm: its corners are arcs round it.

    Parameters
    ----------
    width, height : float
        Of the thing itself.
    x, y : float
        Its least corner.
    clearance : float
        How far round it; 0 gives the plain rectangle.
    """
    if not clearance:
        return Loop.rectangle(width, height, x, y)
    right, top, r = x + width, y + height, clearance
    segments: list[Segment] = []
    for corner, start, end, angle in (
        ((right, y), (x, y - r), (right, y - r), -90.0),
        ((right, top), (right + r, y), (right + r, top), 0.0),
        ((x, top), (right, top + r), (x, top + r), 90.0),
        ((x, y), (x - r, top), (x - r, y), 180.0),
    ):
        segments += [Line(start, end), Arc(corner, r, angle, 90.0)]
    return Loop(tuple(segments))
