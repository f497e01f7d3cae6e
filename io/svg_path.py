"""Path data (the ``d`` attribute) to curves, read up to the first error."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from ..nesting.model.curve import Cubic, Line
from ..nesting.model.motion import Point
from .bezier import quadratic
from .limits import Budget
from .svg_curves import UserSegment, arc_between

_NUMBER = r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)"
_SPACE = r"[ \t\r\n\f]*+"  # possessive: never tried again with fewer
_FIRST = re.compile(_SPACE + _NUMBER)
_NEXT = re.compile(_SPACE + ",?" + _SPACE + _NUMBER)
_FLAG = re.compile(_SPACE + ",?" + _SPACE + "([01])")
_BLANK = re.compile(_SPACE)
_IN_AN_ARC = 3
"""So many vertices more an arc of an ellipse counts as: it comes to several curves."""

_COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7}
_BATCH = 512


@dataclass(slots=True)
class SubPath:
    """One chain of a path, user units.

    Attributes
    ----------
    start : Point
        Where the move went.
    segments : list of UserSegment
        May be empty.
    closed : bool
        Whether a Z ended it.
    """

    start: Point
    segments: list[UserSegment] = field(default_factory=list)
    closed: bool = False

    def close(self, here: Point) -> None:
        """Close the chain with a line if it needs one."""
        if here != self.start:
            self.segments.append(Line(here, self.start))
        self.closed = True


def parse_path(text: str, budget: Budget) -> tuple[list[SubPath], str]:
    """Return the chains of some path data, and the error that ended it early.

    All complete commands before an error count, as SVG's rules for errors demand;
    the error's text is empty when there is none.
    """
    return _Reader(text, budget).read()


class _Reader:
    def __init__(self, text: str, budget: Budget) -> None:
        self._text = text
        self._budget = budget
        self._paths: list[SubPath] = []
        self._here: Point = (0.0, 0.0)
        self._control: tuple[str, Point] = ("", (0.0, 0.0))
        self._at = 0
        self._count = 0

    def read(self) -> tuple[list[SubPath], str]:
        text = self._text
        command = ""
        while True:
            space = _BLANK.match(text, self._at)
            self._at = space.end() if space else self._at
            if self._at >= len(text):
                break
            letter = text[self._at]
            first = letter.upper() in _COUNTS or letter in "Zz"
            if first:
                if not self._paths and letter not in "Mm":
                    return self._stop("it does not begin with M")
                command = letter
                self._at += 1
                if letter in "Zz":
                    self._close()
                    continue
            elif not command or command in "Zz":
                return self._stop("a command letter is missing")
            numbers = self._numbers(command.upper(), first)
            if numbers is None:
                return self._stop("a number is missing or wrong")
            if not first and command in "Mm":
                command = "l" if command == "m" else "L"
            self._do(command, numbers)
            self._count += 1
            if self._count % _BATCH == 0:
                self._budget.vertices(_BATCH)
                self._budget.check()
        self._budget.vertices(self._count % _BATCH)
        return self._paths, ""

    def _stop(self, reason: str) -> tuple[list[SubPath], str]:
        self._budget.vertices(self._count % _BATCH)
        return self._paths, f"{reason} at character {self._at + 1}"

    def _numbers(self, command: str, first: bool) -> list[float] | None:
        """Return the numbers of one command; None if they are not all there."""
        values: list[float] = []
        at = self._at
        for i in range(_COUNTS[command]):
            if command == "A" and i in (3, 4):
                pattern = _FLAG  # one digit each: flags may be run together
            else:
                pattern = _FIRST if first and i == 0 else _NEXT
            match = pattern.match(self._text, at)
            if match is None:
                return None
            value = float(match[1])
            if not math.isfinite(value):
                return None
            values.append(value)
            at = match.end()
        self._at = at
        return values

    def _close(self) -> None:
        path = self._paths[-1]
        if not path.closed:
            path.close(self._here)
        self._here = path.start
        self._control = ("", self._here)

    def _path(self) -> SubPath:
        """Return the open chain; after a Z a new one begins at the same start."""
        if self._paths[-1].closed:
            self._paths.append(SubPath(self._here))
        return self._paths[-1]

    def _do(self, command: str, n: list[float]) -> None:
        kind = command.upper()
        ox, oy = self._here if command.islower() else (0.0, 0.0)
        here = self._here
        control = ("", here)
        if kind == "M":
            end = (ox + n[0], oy + n[1])
            self._paths.append(SubPath(end))
        elif kind in "LHV":
            x = here[0] if kind == "V" else ox + n[0]
            y = here[1] if kind == "H" else oy + n[-1]
            end = (x, y)
            self._add(Line(here, end))
        elif kind in "CS":
            end = (ox + n[-2], oy + n[-1])
            second = (ox + n[-4], oy + n[-3])
            first = (ox + n[0], oy + n[1]) if kind == "C" else self._mirrored("C")
            self._add(Cubic(here, first, second, end))
            control = ("C", second)
        elif kind in "QT":
            end = (ox + n[-2], oy + n[-1])
            middle = (ox + n[0], oy + n[1]) if kind == "Q" else self._mirrored("Q")
            self._add(quadratic(here, middle, end))
            control = ("Q", middle)
        else:
            end = (ox + n[5], oy + n[6])
            arc = arc_between(here, n[0], n[1], n[2], n[3] == 1, n[4] == 1, end)
            if arc is not None:
                self._add(arc)
            if n[0] != n[1]:
                self._budget.vertices(_IN_AN_ARC)
        self._here = end
        self._control = control

    def _add(self, segment: UserSegment) -> None:
        self._path().segments.append(segment)

    def _mirrored(self, kind: str) -> Point:
        """Return the last control point mirrored at the current point."""
        x, y = self._here
        if self._control[0] != kind:
            return x, y
        cx, cy = self._control[1]
        return 2.0 * x - cx, 2.0 * y - cy


_POINTS = re.compile(_NEXT.pattern + _SPACE + ",?" + _SPACE + _NUMBER)


def parse_points(text: str, budget: Budget) -> tuple[list[Point], str]:
    """Return the ``points`` of a polygon or polyline, and the error that ended them."""
    points: list[Point] = []
    at = 0
    while True:
        match = _POINTS.match(text, at)
        if match is None:
            break
        point = (float(match[1]), float(match[2]))
        if not (math.isfinite(point[0]) and math.isfinite(point[1])):
            break
        points.append(point)
        at = match.end()
        if len(points) % _BATCH == 0:
            budget.vertices(_BATCH)
            budget.check()
    budget.vertices(len(points) % _BATCH)
    rest = text[at:].strip(" \t\r\n\f,")
    if rest:
        return points, f"a number is missing or wrong at character {at + 1}"
    return points, ""
