"""Lines, arcs and cubic Béziers: exact measures and exact rigid motions."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .motion import Motion, Point, Points, cos_sin

Box = tuple[float, float, float, float]
"""Least x, least y, greatest x, greatest y, mm."""

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight segment from `start` to `end`, mm."""

    start: Point
    end: Point

    def length(self) -> float:
        """Return the length, mm."""
        return math.dist(self.start, self.end)

    def swept_area(self) -> float:
        """Return its share of the enclosed area, half the integral of x dy - y dx."""
        (x0, y0), (x1, y1) = self.start, self.end
        return (x0 * y1 - x1 * y0) / 2.0

    def bounds(self) -> Box:
        """Return the bounding box, mm."""
        (x0, y0), (x1, y1) = self.start, self.end
        return min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)

    def point_at(self, t: float) -> Point:
        """Return the point at parameter `t` from 0 to 1."""
        (x0, y0), (x1, y1) = self.start, self.end
        return x0 + t * (x1 - x0), y0 + t * (y1 - y0)

    def moved(self, motion: Motion) -> Line:
        """Return the segment after a rigid motion."""
        return Line(motion.point(self.start), motion.point(self.end))

    def reversed(self) -> Line:
        """Return the segment run the other way."""
        return Line(self.end, self.start)

    def flatten(self, chord_error: float) -> Points:
        """Return the two ends; a line needs no more."""
        return np.array([self.start, self.end], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Arc:
    """A circular arc, or a whole circle.

    Parameters
    ----------
    centre : Point
        mm.
    radius : float
        Above 0, mm.
    start_angle : float
        Direction from the centre to the first point, degrees.
    sweep : float
        The angle run through, degrees, counter-clockwise positive, at most one
        full turn either way; ±360 is a circle.
    """

    centre: Point
    radius: float
    start_angle: float
    sweep: float

    @property
    def start(self) -> Point:
        """The first point, mm."""
        return self._on_circle(self.start_angle)

    @property
    def end(self) -> Point:
        """The last point, mm."""
        return self._on_circle(self.end_angle)

    @property
    def end_angle(self) -> float:
        """Direction from the centre to the last point, degrees."""
        if self.is_circle:  # a circle ends, to the last bit, where it began
            return self.start_angle
        return self.start_angle + self.sweep

    @property
    def is_circle(self) -> bool:
        """Whether the arc is a whole circle."""
        return abs(self.sweep) == 360.0

    def _on_circle(self, degrees: float) -> Point:
        cos, sin = cos_sin(degrees)
        return self.centre[0] + self.radius * cos, self.centre[1] + self.radius * sin

    def length(self) -> float:
        """Return the length, mm."""
        return self.radius * math.radians(abs(self.sweep))

    def swept_area(self) -> float:
        """Return its share of the enclosed area, half the integral of x dy - y dx."""
        (x0, y0), (x1, y1) = self.start, self.end
        turned = self.radius**2 * math.radians(self.sweep)
        moved = self.centre[0] * (y1 - y0) - self.centre[1] * (x1 - x0)
        return (turned + moved) / 2.0

    def bounds(self) -> Box:
        """Return the bounding box, mm."""
        low, high = sorted((self.start_angle, self.start_angle + self.sweep))
        xs, ys = zip(self.start, self.end, strict=True)
        x, y = list(xs), list(ys)
        for quarter in range(math.ceil(low / 90.0), math.floor(high / 90.0) + 1):
            px, py = self._on_circle(quarter * 90.0)
            x.append(px)
            y.append(py)
        return min(x), min(y), max(x), max(y)

    def point_at(self, t: float) -> Point:
        """Return the point at parameter `t` from 0 to 1."""
        return self._on_circle(self.start_angle + t * self.sweep)

    def moved(self, motion: Motion) -> Arc:
        """Return the arc after a rigid motion; its radius stays to the last bit."""
        sweep = -self.sweep if motion.flipped else self.sweep
        angle = motion.angle(self.start_angle) % 360.0
        return Arc(motion.point(self.centre), self.radius, angle, sweep)

    def reversed(self) -> Arc:
        """Return the arc run the other way."""
        return Arc(self.centre, self.radius, self.end_angle, -self.sweep)

    def flatten(self, chord_error: float) -> Points:
        """Return points on the arc, no chord further than `chord_error` (mm) away."""
        angle = math.radians(abs(self.sweep))
        ratio = min(chord_error / self.radius, 1.0)
        step = 2.0 * math.acos(1.0 - ratio)
        # 1e-9: an exact whole number of steps must not become one more.
        count = max(math.ceil(angle / step - 1e-9), 1)
        if self.is_circle:
            count = max(count, 4)
        t = np.radians(self.start_angle + self.sweep * np.arange(count + 1) / count)
        flat = np.empty((count + 1, 2))
        flat[:, 0] = self.centre[0] + self.radius * np.cos(t)
        flat[:, 1] = self.centre[1] + self.radius * np.sin(t)
        flat[0] = self.start
        flat[-1] = self.end
        return flat


@dataclass(frozen=True, slots=True)
class Cubic:
    """A cubic Bézier with control points `p0` to `p3`, mm."""

    p0: Point
    p1: Point
    p2: Point
    p3: Point

    @property
    def start(self) -> Point:
        """The first point, mm."""
        return self.p0

    @property
    def end(self) -> Point:
        """The last point, mm."""
        return self.p3

    def _controls(self) -> Points:
        return np.array([self.p0, self.p1, self.p2, self.p3], dtype=np.float64)

    def length(self) -> float:
        """Return the length to about 1e-9 of itself, mm.

        Gauss-Legendre quadrature over halves until two levels agree.
        """
        p = self._controls()
        return _cubic_length(p, 0, 1e-10 * max(_speed_integral(p), 1e-9))

    def swept_area(self) -> float:
        """Return its share of the enclosed area, half the integral of x dy - y dx."""
        p = (self.p0, self.p1, self.p2, self.p3)

        def cross(i: int, j: int) -> float:
            return p[i][0] * p[j][1] - p[j][0] * p[i][1]

        return (
            6.0 * cross(0, 1)
            + 3.0 * cross(0, 2)
            + cross(0, 3)
            + 3.0 * cross(1, 2)
            + 3.0 * cross(1, 3)
            + 6.0 * cross(2, 3)
        ) / 20.0

    def bounds(self) -> Box:
        """Return the bounding box, mm."""
        low: list[float] = []
        high: list[float] = []
        for axis in (0, 1):
            p0, p1, p2, p3 = (p[axis] for p in (self.p0, self.p1, self.p2, self.p3))
            values = [p0, p3]
            for t in _unit_roots(
                p3 - 3.0 * p2 + 3.0 * p1 - p0, 2.0 * (p2 - 2.0 * p1 + p0), p1 - p0
            ):
                values.append(self.point_at(t)[axis])
            low.append(min(values))
            high.append(max(values))
        return low[0], low[1], high[0], high[1]

    def point_at(self, t: float) -> Point:
        """Return the point at parameter `t` from 0 to 1."""
        s = 1.0 - t
        w0, w1, w2, w3 = s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t
        return (
            w0 * self.p0[0] + w1 * self.p1[0] + w2 * self.p2[0] + w3 * self.p3[0],
            w0 * self.p0[1] + w1 * self.p1[1] + w2 * self.p2[1] + w3 * self.p3[1],
        )

    def moved(self, motion: Motion) -> Cubic:
        """Return the curve after a rigid motion of its control points."""
        return Cubic(
            motion.point(self.p0),
            motion.point(self.p1),
            motion.point(self.p2),
            motion.point(self.p3),
        )

    def reversed(self) -> Cubic:
        """Return the curve run the other way."""
        return Cubic(self.p3, self.p2, self.p1, self.p0)

    def flatten(self, chord_error: float) -> Points:
        """Return points on the curve, no chord further than `chord_error` (mm) away.

        With n equal steps of the parameter a chord strays at most
        max|B''| / (8 n²), and |B''| is at most 6 times the larger second
        difference of the control points.
        """
        p = self._controls()
        bend = max(
            math.hypot(*(p[0] - 2.0 * p[1] + p[2])),
            math.hypot(*(p[1] - 2.0 * p[2] + p[3])),
        )
        count = max(math.ceil(math.sqrt(0.75 * bend / chord_error)), 1)
        t = (np.arange(count + 1) / count)[:, None]
        s = 1.0 - t
        flat: Points = (
            s**3 * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t**3 * p[3]
        )
        flat[0] = p[0]
        flat[-1] = p[3]
        return flat


Segment = Line | Arc | Cubic


def _unit_roots(a: float, b: float, c: float) -> list[float]:
    """Return the roots of a t² + b t + c strictly between 0 and 1."""
    scale = max(abs(a), abs(b), abs(c))
    if scale == 0.0:
        return []
    if abs(a) < 1e-14 * scale:
        roots = [-c / b] if b else []
    else:
        inside = b * b - 4.0 * a * c
        if inside < 0.0:
            return []
        # The stable form: never subtract two nearly equal numbers.
        q = -(b + math.copysign(math.sqrt(inside), b)) / 2.0
        roots = [q / a] + ([c / q] if q else [])
    return [t for t in roots if 0.0 < t < 1.0]


def _speed_integral(p: Points) -> float:
    t = ((_NODES + 1.0) / 2.0)[:, None]
    s = 1.0 - t
    d = 3.0 * np.diff(p, axis=0)
    speed = s * s * d[0] + 2.0 * s * t * d[1] + t * t * d[2]
    return float(np.dot(_WEIGHTS, np.hypot(speed[:, 0], speed[:, 1])) / 2.0)


def split_cubic(p: Points) -> tuple[Points, Points]:
    """Return the two halves of a Bézier given as controls of shape (4, 2)."""
    a = (p[:-1] + p[1:]) / 2.0
    b = (a[:-1] + a[1:]) / 2.0
    c = (b[0] + b[1]) / 2.0
    return np.array([p[0], a[0], b[0], c]), np.array([c, b[1], a[2], p[3]])


def _cubic_length(p: Points, depth: int, near: float) -> float:
    # Near enough for the whole: by its own length a bit at a cusp would never do.
    whole = _speed_integral(p)
    left, right = split_cubic(p)
    halves = _speed_integral(left) + _speed_integral(right)
    if depth >= 20 or abs(whole - halves) <= near:
        return halves
    return sum(_cubic_length(half, depth + 1, near) for half in (left, right))
