"""Rigid motions of the plane: flip, turn, move."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]
Points = NDArray[np.float64]
"""Points as an array of shape (n, 2), mm."""

_QUARTERS = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))


def cos_sin(degrees: float) -> tuple[float, float]:
    """Return cosine and sine of an angle in degrees, exact at quarter turns."""
    quarters = degrees / 90.0
    nearest = round(quarters)
    if quarters == nearest:
        return _QUARTERS[nearest % 4]
    radians = math.radians(degrees)
    return math.cos(radians), math.sin(radians)


@dataclass(frozen=True, slots=True)
class Motion:
    """Flip (x to -x), then turn about (0, 0), then move by (x, y).

    Parameters
    ----------
    x, y : float
        The move, mm.
    turn : float
        The turn, degrees counter-clockwise.
    flipped : bool
        Whether the part is mirrored first, which lays it face down.
    """

    x: float = 0.0
    y: float = 0.0
    turn: float = 0.0
    flipped: bool = False

    def matrix(self) -> tuple[float, float, float, float]:
        """Return (a, b, c, d) with x' = a x + b y + move, y' = c x + d y + move."""
        cos, sin = cos_sin(self.turn)
        sign = -1.0 if self.flipped else 1.0
        return cos * sign, -sin, sin * sign, cos

    def point(self, p: Point) -> Point:
        """Return where point `p` (mm) ends up."""
        a, b, c, d = self.matrix()
        return a * p[0] + b * p[1] + self.x, c * p[0] + d * p[1] + self.y

    def points(self, p: Points) -> Points:
        """Return where the points `p`, shape (n, 2), mm, end up."""
        a, b, c, d = self.matrix()
        moved = np.empty_like(p)
        moved[:, 0] = a * p[:, 0] + b * p[:, 1] + self.x
        moved[:, 1] = c * p[:, 0] + d * p[:, 1] + self.y
        return moved

    def angle(self, degrees: float) -> float:
        """Return the direction that a direction given in degrees takes."""
        return (180.0 - degrees if self.flipped else degrees) + self.turn

    def after(self, first: Motion) -> Motion:
        """Return the motion that does `first` and then this one."""
        x, y = self.point((first.x, first.y))
        turn = -first.turn if self.flipped else first.turn
        return Motion(x, y, (turn + self.turn) % 360.0, self.flipped != first.flipped)

    def inverse(self) -> Motion:
        """Return the motion that takes everything back."""
        turn = self.turn if self.flipped else -self.turn
        back = Motion(0.0, 0.0, turn % 360.0, self.flipped)
        x, y = back.point((self.x, self.y))
        return Motion(-x, -y, back.turn, back.flipped)
