"""Break-downs: the straight saw cuts that turn a sheet into blanks."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from .keep_out import KeepOut
from .motion import Point


class SawStage(StrEnum):
    """What a saw cut does."""

    TRIM = "trim"
    """Takes a damaged edge off."""
    RIP = "rip"
    """Runs the full way across the sheet."""
    CROSS = "cross cut"
    """Parts a strip that a rip has freed."""


@dataclass(frozen=True, slots=True)
class SawCut:
    """One straight cut.

    Parameters
    ----------
    stage : SawStage
        What it does.
    start, end : Point
        Ends of the middle of the kerf, in the sheet's coordinates, mm.
    setting : float
        Distance to set from the edge last cut to the near side of the kerf, mm.
    """

    stage: SawStage
    start: Point
    end: Point
    setting: float


@dataclass(frozen=True, slots=True)
class Piece:
    """One blank of a break-down: a rectangle in the sheet's coordinates, mm.

    Parameters
    ----------
    x, y : float
        Its least corner.
    width, height : float
        Along x and y.
    keep_outs : tuple of KeepOut
        Areas no cut may touch, counted from the piece's own least corner.
    """

    x: float
    y: float
    width: float
    height: float
    keep_outs: tuple[KeepOut, ...] = ()

    @property
    def area(self) -> float:
        """mm²."""
        return self.width * self.height


@dataclass(frozen=True)
class Breakdown:
    """How one sheet is sawn.

    Parameters
    ----------
    sheet : tuple of float
        Length and width of the sheet, mm; x runs along the length.
    kerf : float
        Width of the saw's cut, mm.
    cuts : tuple of SawCut
        In sawing order.
    pieces : tuple of Piece
        What lies on the bed; the order is that of the blanks.
    holes : tuple of Point
        Holes to drill for pins, where a sheet is indexed through instead of sawn: two
        for each position but the last, in the order of the pieces.
    pin : float
        Diameter of those holes, mm.
    """

    sheet: tuple[float, float]
    kerf: float
    cuts: tuple[SawCut, ...]
    pieces: tuple[Piece, ...]
    holes: tuple[Point, ...] = ()
    pin: float = 8.0

    @property
    def area(self) -> float:
        """Area of all pieces, mm²."""
        return sum(piece.area for piece in self.pieces)

    @property
    def sizes(self) -> tuple[tuple[float, float, int], ...]:
        """Width, height (mm) and number of each size of piece, largest first."""
        counts: dict[tuple[float, float], int] = {}
        for piece in self.pieces:
            size = (round(piece.width, 6), round(piece.height, 6))
            counts[size] = counts.get(size, 0) + 1
        ordered = sorted(counts.items(), key=lambda item: -item[0][0] * item[0][1])
        return tuple((width, height, n) for (width, height), n in ordered)
