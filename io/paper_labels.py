"""Where a part's name goes on the drawing, and how large."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import affinity

from ..nesting.model.motion import Motion
from ..nesting.model.outline import flatten_chain
from ..nesting.model.part import Part
from ..nesting.model.placement import Placement
from .paper import shortened, text_width, wrapped

_POINT = 0.3528
"""mm in a point."""

_SIZES = (8.0, 7.0, 6.0, 5.0)
_LEAST = 3.0
_GRID = 9


@dataclass(frozen=True, slots=True)
class Label:
    """Text on a part.

    Parameters
    ----------
    lines : tuple of str
        Number first, then the name.
    size : float
        Points.
    x, y : float
        Its middle, from where the part's own (0, 0) lies, mm of blank.
    turn : float
        Degrees counter-clockwise, 0 or 90.
    """

    lines: tuple[str, ...]
    size: float
    x: float
    y: float
    turn: float


class LabelMaker:
    """Finds room for labels; remembers what it found for equal placements."""

    def __init__(self) -> None:
        self._known: dict[tuple[object, ...], Label] = {}

    def label(
        self, part: Part, placement: Placement, number: str, name: str, scale: float
    ) -> Label:
        """Return the label of a placed copy.

        The name stands in full if it fits, on up to three lines; else it is
        shortened, and then the number stands alone, small in tiny parts.

        Parameters
        ----------
        scale : float
            mm of paper for one mm of blank.
        """
        turn = placement.turn % 360.0
        wide = text_width(number, 1.0, True)  # equal widths share a place
        key = (part.id, turn, placement.flipped, scale, round(wide, 3), name)
        if key not in self._known:
            motion = Motion(0.0, 0.0, turn, placement.flipped)
            self._known[key] = _place(part, motion, number, name, scale)
        found = self._known[key]
        return replace(found, lines=(number, *found.lines[1:]))


def _regions(part: Part, motion: Motion) -> list[shapely.Geometry]:
    """Return where text may stand: clear of the marks, and anywhere on the part."""
    flat = part.outline.moved(motion).flatten(0.2)
    whole = shapely.Polygon(flat.outer, flat.holes)
    if not whole.is_valid:
        whole = shapely.make_valid(whole)
    marks = [
        shapely.LineString(flatten_chain(mark.moved(motion).segments, 0.2)).buffer(1.0)
        for mark in part.marks
    ]
    if not marks:
        return [whole]
    return [whole.difference(shapely.union_all(marks)), whole]


def _candidates(region: shapely.Geometry) -> list[tuple[float, float]]:
    """Return places to try, from the middle of the largest circle outwards."""
    x0, y0, x1, y1 = region.bounds
    middle = shapely.maximum_inscribed_circle(
        region, tolerance=max(x1 - x0, y1 - y0) / 50.0
    )
    cx, cy = middle.coords[0]
    ticks = (np.arange(_GRID) + 0.5) / _GRID
    places = [(x0 + u * (x1 - x0), y0 + v * (y1 - y0)) for u in ticks for v in ticks]
    places.append(((x0 + x1) / 2.0, (y0 + y1) / 2.0))
    places.sort(key=lambda p: (p[0] - cx) ** 2 + (p[1] - cy) ** 2)
    return [(cx, cy), *places]


def _place(part: Part, motion: Motion, number: str, name: str, scale: float) -> Label:
    for region in _regions(part, motion):
        if region.is_empty:
            continue
        shapely.prepare(region)
        places = _candidates(region)
        x0, y0, x1, y1 = region.bounds
        longest = max(x1 - x0, y1 - y0) * scale
        for lines, size in _versions(number, name, longest):
            wide = max(text_width(line, size, i == 0) for i, line in enumerate(lines))
            high = len(lines) * size * _POINT * 1.15
            box = shapely.box(-wide / 2.0, -high / 2.0, wide / 2.0, high / 2.0)
            box = affinity.scale(box, 1.0 / scale, 1.0 / scale, origin=(0, 0))
            upright = affinity.rotate(box, 90.0, origin=(0, 0))
            for turn, shape in ((0.0, box), (90.0, upright)):
                moved = [affinity.translate(shape, x, y) for x, y in places]
                inside = shapely.contains_properly(region, moved)
                if inside.any():
                    x, y = places[int(np.argmax(inside))]
                    return Label(lines, size, x, y, turn)
    # Nothing fits: the number alone, as large as the part allows.
    whole = _regions(part, motion)[-1]
    circle = shapely.maximum_inscribed_circle(whole)
    x, y = circle.coords[0]
    room = 2.0 * circle.length * scale
    size = min(max(room / max(text_width(number, 1.0, True), 1e-9), _LEAST), 5.0)
    return Label((number,), size, x, y, 0.0)


def _versions(
    number: str, name: str, longest: float
) -> list[tuple[tuple[str, ...], float]]:
    """Return what may be written, best first."""
    found: list[tuple[tuple[str, ...], float]] = []
    for size in _SIZES:
        for width in (longest, 28.0, 18.0):
            lines = wrapped(name, width, size)
            if lines and len(lines) <= 3:
                version = ((number, *lines), size)
                if version not in found:
                    found.append(version)
    for width in (18.0, 12.0, 8.0):
        short = shortened(name, width, 5.0)
        if len(short) > 3:
            found.append(((number, short), 5.0))
    found += [((number,), size) for size in (*_SIZES, 4.5, 4.0)]
    return found
