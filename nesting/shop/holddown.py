"""Holding down: tabs, small parts, drop-outs, and where screws may go.

Numbers behind it (one tab for about every 200 mm, three at least; parts under 75 mm
or 100 cm² held specially) are common practice and part of the shop's set-up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from ..model.curve import Line
from ..model.job import Job
from ..model.machine import Practice
from ..model.motion import Point
from ..model.part import Mark, Operation, Part

_CHORD = 0.05
_TICKS = 64
"""Candidates for screws along the longer side of a blank."""

_APART = 40.0
"""No second screw nearer than this to the first, mm."""


def screw_spots(
    job: Job,
    blank: int,
    *,
    distance: float = 10.0,
    count: int = 4,
    edge: float = 10.0,
) -> tuple[Point, ...]:
    """Return places in the waste where a screw is clear of every cutter path.

    Parameters
    ----------
    job : Job
        With its layout.
    blank : int
        Which blank, from 0.
    distance : float
        Least distance from the screw's middle to the edge of any slot, mm; a slot
        is one cut width wide beside each part.
    count : int
        How many to look for; fewer are returned when there is no room.
    edge : float
        Least distance from the blank's own edge, mm.

    Returns
    -------
    tuple of Point
        In the blank's coordinates, mm, well spread: the first four nearest to the
        corners, lower left first, the others as far from those before as possible.
    """
    stock = job.stock_of(blank)
    flat = stock.outline.flatten(_CHORD)
    board = shapely.Polygon(flat.outer, flat.holes)
    x0, y0, x1, y1 = board.bounds
    step = max(x1 - x0, y1 - y0) / _TICKS
    xs = np.arange(x0 + step / 2.0, x1, step)
    ys = np.arange(y0 + step / 2.0, y1, step)
    xs = np.unique(np.concatenate([xs, [x0 + edge, x1 - edge]]))
    ys = np.unique(np.concatenate([ys, [y0 + edge, y1 - edge]]))
    grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    points = shapely.points(grid)
    keep = shapely.contains(board, points)
    keep &= shapely.distance(board.boundary, points) >= edge + flat.error - 1e-9
    for area in stock.keep_outs:
        loop = shapely.Polygon(area.loop.flatten(_CHORD))
        keep &= shapely.distance(loop, points) >= distance + _CHORD
    need = job.cutting.cutter + distance + _CHORD
    parts = shapely.union_all([_placed(job, i) for i in _on(job, blank)])
    if not parts.is_empty:
        keep &= shapely.distance(parts, points) >= need
    left = grid[keep]
    corners = ((x0, y0), (x1, y1), (x1, y0), (x0, y1))
    return _spread(left, count, corners)


def _on(job: Job, blank: int) -> list[int]:
    return [i for i, p in enumerate(job.layout.placements) if p.blank == blank]


def _placed(job: Job, index: int) -> Any:
    placement = job.layout.placements[index]
    outline = job.part(placement.part_id).outline.moved(placement.motion)
    flat = outline.flatten(_CHORD)
    return shapely.make_valid(shapely.Polygon(flat.outer, flat.holes))


def _spread(
    places: np.ndarray[Any, np.dtype[np.float64]],
    count: int,
    corners: tuple[Point, ...],
) -> tuple[Point, ...]:
    """Return up to `count` places: near the corners, then far from all others."""
    chosen: list[Point] = []
    if not len(places):
        return ()
    away = np.full(len(places), np.inf)
    wanted = list(corners)
    while len(chosen) < count and away.max() >= _APART:
        if wanted:
            x, y = wanted.pop(0)
            off = np.hypot(places[:, 0] - x, places[:, 1] - y)
            pick = int(np.argmin(off))
            if away[pick] < _APART:
                continue
        else:
            pick = int(np.argmax(away))
        x, y = places[pick]
        chosen.append((float(x), float(y)))
        away = np.minimum(away, np.hypot(places[:, 0] - x, places[:, 1] - y))
    return tuple(chosen)


@dataclass(frozen=True, slots=True)
class Tab:
    """A tab: a short stretch of a straight edge that is not cut through.

    Parameters
    ----------
    start, end : Point
        Its ends on the edge, in the part's coordinates, mm.
    """

    start: Point
    end: Point


def tab_count(part: Part, practice: Practice) -> int:
    """Return how many tabs a part gets: by its perimeter, three at least."""
    if not practice.tab_width:
        return 0
    return max(3, math.ceil(part.outline.outer.length / practice.tab_spacing))


def tabs_for(part: Part, cutter: float, practice: Practice) -> tuple[Tab, ...]:
    """Return tabs on the straight runs of a part's outer edge.

    They are spread evenly along the edge, at least a cut width from each corner,
    and never overlap; fewer than `tab_count` when the straight runs have no room
    for more.
    """
    width = practice.tab_width
    wanted = tab_count(part, practice)
    runs: list[tuple[float, float, Line]] = []  # first and last middle, along the edge
    at = 0.0
    for segment in part.outline.outer.segments:
        length = segment.length()
        clear = cutter + width / 2.0
        if isinstance(segment, Line) and length >= 2.0 * clear:
            runs.append((at + clear, at + length - clear, segment))
        at += length
    total = at
    if not runs or not wanted:
        return ()
    chosen: list[tuple[float, Line, float]] = []
    for i in range(wanted):
        target = (i + 0.5) * total / wanted
        options = []
        for low, high, line in runs:
            middle = min(max(target, low), high)
            start = low - (cutter + width / 2.0)
            options.append((abs(middle - target), middle, line, middle - start))
        options.sort(key=lambda option: option[:2])
        for _, middle, line, along in options:
            if all(abs(middle - other) >= width + cutter for other, _, _ in chosen):
                chosen.append((middle, line, along))
                break
    tabs = []
    for _, line, along in sorted(chosen, key=lambda item: item[0]):
        length = line.length()
        tabs.append(
            Tab(
                line.point_at((along - width / 2.0) / length),
                line.point_at((along + width / 2.0) / length),
            )
        )
    return tuple(tabs)


def with_tabs(part: Part, cutter: float, practice: Practice) -> Part:
    """Return the part with its tabs as marks, those it had replaced."""
    marks = tuple(mark for mark in part.marks if mark.operation is not Operation.TAB)
    tabs = tuple(
        Mark(Operation.TAB, (Line(tab.start, tab.end),), "tab")
        for tab in tabs_for(part, cutter, practice)
    )
    return replace(part, marks=marks + tabs)


def is_small(part: Part, practice: Practice) -> bool:
    """Return whether a part is small enough to need tabs or a skin."""
    return (
        min(part.outline.size) < practice.small_part
        or part.outline.area < practice.small_area
    )


def drop_outs(part: Part, cutter: float) -> tuple[Point, ...]:
    """Return where a piece falls out of a hole when it is cut round.

    The slot is one cut width wide inside the hole; what lies within it comes loose.
    One point for each piece, in the part's coordinates, mm.
    """
    found = []
    for hole in part.outline.holes:
        region = shapely.Polygon(hole.flatten(_CHORD)).buffer(-cutter)
        for piece in shapely.get_parts(region):
            if piece.area > 1.0:
                spot = piece.representative_point()
                found.append((float(spot.x), float(spot.y)))
    return tuple(found)


def loose_pieces(job: Job, blank: int) -> tuple[Point, ...]:
    """Return where pieces of waste come loose on a blank, in its coordinates, mm.

    As `drop_outs`, but what lies in a hole is cut from the piece that would fall
    out; scraps below 1 cm² are left out.
    """
    cutter = job.cutting.cutter
    placed = [(i, _placed(job, i)) for i in _on(job, blank)]
    found = []
    for index, _ in placed:
        placement = job.layout.placements[index]
        part = job.part(placement.part_id)
        for hole in part.outline.holes:
            region = shapely.Polygon(hole.moved(placement.motion).flatten(_CHORD))
            region = shapely.make_valid(region).buffer(-cutter)
            for other, shape in placed:
                if other != index and shape.intersects(region):
                    region = region.difference(shape.buffer(cutter))
            for piece in shapely.get_parts(region):
                if piece.area > 100.0:
                    spot = piece.representative_point()
                    found.append((float(spot.x), float(spot.y)))
    return tuple(found)
