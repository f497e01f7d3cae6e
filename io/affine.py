"""Affine maps of the plane, as drawings state them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..nesting.model.motion import Point, cos_sin


@dataclass(frozen=True, slots=True)
class Affine:
    """The map x' = a x + c y + e, y' = b x + d y + f.

    The letters are those of SVG's ``matrix(a b c d e f)``.
    """

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @classmethod
    def move(cls, x: float, y: float = 0.0) -> Affine:
        """Return the move by (x, y)."""
        return cls(1.0, 0.0, 0.0, 1.0, x, y)

    @classmethod
    def scale(cls, x: float, y: float) -> Affine:
        """Return the scaling about the origin."""
        return cls(x, 0.0, 0.0, y)

    @classmethod
    def turn(cls, degrees: float) -> Affine:
        """Return the turn about the origin that takes the x axis towards the y axis."""
        cos, sin = cos_sin(degrees)
        return cls(cos, sin, -sin, cos)

    @classmethod
    def skew(cls, x: float, y: float) -> Affine:
        """Return the slant along x and along y, degrees."""
        return cls(1.0, math.tan(math.radians(y)), math.tan(math.radians(x)), 1.0)

    def __matmul__(self, first: Affine) -> Affine:
        """Return the map that does `first` and then this one."""
        return Affine(
            self.a * first.a + self.c * first.b,
            self.b * first.a + self.d * first.b,
            self.a * first.c + self.c * first.d,
            self.b * first.c + self.d * first.d,
            self.a * first.e + self.c * first.f + self.e,
            self.b * first.e + self.d * first.f + self.f,
        )

    def point(self, p: Point) -> Point:
        """Return where point `p` ends up."""
        x, y = p
        return self.a * x + self.c * y + self.e, self.b * x + self.d * y + self.f

    def vector(self, p: Point) -> Point:
        """Return where the difference `p` of two points ends up."""
        x, y = p
        return self.a * x + self.c * y, self.b * x + self.d * y

    @property
    def determinant(self) -> float:
        """How areas grow; negative when the map mirrors."""
        return self.a * self.d - self.b * self.c

    @property
    def is_finite(self) -> bool:
        """Whether all six numbers are numbers."""
        return all(map(math.isfinite, (self.a, self.b, self.c, self.d, self.e, self.f)))

    def stretches(self) -> tuple[float, float]:
        """Return the greatest and the least factor by which lengths grow."""
        return stretches((self.a, self.b), (self.c, self.d))


def stretches(u: Point, v: Point) -> tuple[float, float]:
    """Return the half axes, longer first, of the ellipse u cos t + v sin t.

    They are the singular values of the matrix with columns `u` and `v`.
    """
    (a, b), (c, d) = u, v
    s1 = math.hypot(a + d, b - c)
    s2 = math.hypot(a - d, b + c)
    return (s1 + s2) / 2.0, abs(s1 - s2) / 2.0
