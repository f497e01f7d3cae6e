"""SVG's basic shapes and paths to chains of curves in user units."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import pairwise

from ..nesting.model.curve import Line
from ..nesting.model.motion import Point
from .limits import Budget
from .svg_curves import EllipticArc, UserSegment
from .svg_path import SubPath, parse_path, parse_points
from .svg_xml import Node

SHAPES = frozenset("path rect circle ellipse line polyline polygon".split())

Lengths = Callable[[str, int], float | None]
"""Name and axis (0 x, 1 y, 2 neither) to a length in user units, None if not given."""

_CSS_PATH = re.compile(r"path\(\s*+(?:[a-z]++\s*+,\s*+)?([\"'])(.*)\1\s*+\)", re.DOTALL)


def shape_paths(
    node: Node, css_path: str | None, length: Lengths, budget: Budget
) -> tuple[list[SubPath], str]:
    """Return the chains of a shape, and the error that ended them early.

    Parameters
    ----------
    node : Node
        An element whose tag is in `SHAPES`.
    css_path : str or None
        The property ``d``, which overrules the attribute.
    length : callable
        Gives the element's lengths.
    budget : Budget
        Counts vertices.
    """
    budget.vertices(1)
    if node.tag == "path":
        text = node.get("d")
        if css_path is not None:
            match = _CSS_PATH.fullmatch(css_path)
            text = match[2] if match else ""
        return parse_path(text if text.strip() != "none" else "", budget)
    if node.tag in ("polyline", "polygon"):
        return _polygon(node, budget)
    return [path for path in [_FIXED[node.tag](length)] if path is not None], ""


def _polygon(node: Node, budget: Budget) -> tuple[list[SubPath], str]:
    points, error = parse_points(node.get("points"), budget)
    if not points:
        return [], error
    path = SubPath(points[0], [Line(a, b) for a, b in pairwise(points)])
    if node.tag == "polygon" and len(points) > 1:
        path.close(points[-1])
    return [path], error


def _line(length: Lengths) -> SubPath | None:
    start = (length("x1", 0) or 0.0, length("y1", 1) or 0.0)
    end = (length("x2", 0) or 0.0, length("y2", 1) or 0.0)
    return SubPath(start, [Line(start, end)])


def _circle(length: Lengths) -> SubPath | None:
    r = length("r", 2) or 0.0
    return _round(length, r, r)


def _ellipse(length: Lengths) -> SubPath | None:
    rx, ry = _radii(length)
    return _round(length, rx, ry)


def _radii(length: Lengths) -> tuple[float, float]:
    """Return rx and ry; where one is not given or negative, the other."""
    rx, ry = length("rx", 0), length("ry", 1)
    rx = rx if rx is not None and rx >= 0.0 else None
    ry = ry if ry is not None and ry >= 0.0 else None
    one = rx if ry is None else ry
    return (
        rx if rx is not None else one or 0.0,
        ry if ry is not None else one or 0.0,
    )


def _round(length: Lengths, rx: float, ry: float) -> SubPath | None:
    if not (rx > 0.0 and ry > 0.0):
        return None
    centre = (length("cx", 0) or 0.0, length("cy", 1) or 0.0)
    arc = EllipticArc.whole(centre, rx, ry)
    return SubPath(arc.start, [arc], True)


def _rect(length: Lengths) -> SubPath | None:
    width, height = length("width", 0) or 0.0, length("height", 1) or 0.0
    if not (width > 0.0 and height > 0.0):
        return None
    x, y = length("x", 0) or 0.0, length("y", 1) or 0.0
    rx, ry = _radii(length)
    rx, ry = min(rx, width / 2.0), min(ry, height / 2.0)
    right, bottom = x + width, y + height
    if rx == 0.0 or ry == 0.0:
        p = [(x, y), (right, y), (right, bottom), (x, bottom)]
        sides = [Line(a, b) for a, b in zip(p, p[1:] + p[:1], strict=True)]
        return SubPath(p[0], list(sides), True)
    # Each corner: its middle, the angle it begins at; SVG runs clockwise as seen.
    corners = [
        ((right - rx, y + ry), -90.0, (right - rx, y), (right, y + ry)),
        ((right - rx, bottom - ry), 0.0, (right, bottom - ry), (right - rx, bottom)),
        ((x + rx, bottom - ry), 90.0, (x + rx, bottom), (x, bottom - ry)),
        ((x + rx, y + ry), 180.0, (x, y + ry), (x + rx, y)),
    ]
    segments: list[UserSegment] = []
    here: Point = (x + rx, y)
    path = SubPath(here, segments, True)
    for centre, angle, start, end in corners:
        if here != start:
            segments.append(Line(here, start))
        segments.append(
            EllipticArc(centre, (rx, 0.0), (0.0, ry), angle, 90.0, start, end)
        )
        here = end
    return path


_FIXED: dict[str, Callable[[Lengths], SubPath | None]] = {
    "line": _line,
    "circle": _circle,
    "ellipse": _ellipse,
    "rect": _rect,
}
