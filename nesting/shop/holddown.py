"""Holding down: tabs, small parts, drop-outs, and where screws may go.

Numbers behind it (one tab for about every 200 mm, three at least; parts under 75 mm
or 100 cm² held specially) are common practice and part of the shop's set-up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from ..model.curve import Line
from ..model.holding import TabRule
from ..model.job import Job
from ..model.machine import Practice
from ..model.motion import Point
from ..model.part import Mark, Operation, Part
from .advice import Advice, note, warning

_CHORD = 0.05
_TICKS = 64
"""Candidates for screws along the longer side of a blank."""

_APART = 40.0
"""No second screw nearer than this to the first, mm."""

_OFF_CORNER = 1.0
"""A tab keeps a cut width and this much from a corner, mm: clear of any relief."""

EDGE = 10.0
"""Least distance of a screw from the blank's own edge, mm."""


def screw_spots(
    job: Job,
    blank: int,
    *,
    distance: float = 10.0,
    count: int = 4,
    edge: float = EDGE,
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
        None lies in a hole of a part: what is in there comes loose.
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
    filled = [shapely.Polygon(r.exterior) for r in _pieces(job, blank)]
    parts = shapely.union_all(filled)
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


def _pieces(job: Job, blank: int) -> list[Any]:
    """Return the polygons of the parts on a blank; a broken outline may be several."""
    shapes = [_placed(job, i) for i in _on(job, blank)]
    return [
        piece
        for shape in shapes
        for piece in shapely.get_parts(shape)
        if piece.geom_type == "Polygon"
    ]


def asked_screws(job: Job, blank: int, practice: Practice) -> tuple[Point, ...]:
    """Return the screw spots that the job asks for on a blank, its coordinates, mm.

    The job's own distance counts, else the shop's.
    """
    asked = job.holding
    if not asked.screws:
        return ()
    away = asked.screw_distance
    return screw_spots(
        job,
        blank,
        distance=practice.screw_distance if away is None else away,
        count=asked.screws,
    )


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
    """Return how many tabs a part gets.

    By its size, three for a small part and four for others, and by its perimeter,
    one for about every `tab_spacing`, whichever is more.
    """
    if not practice.tab_width:
        return 0
    least = 3 if is_small(part, practice) else 4
    return max(least, math.ceil(part.outline.outer.length / practice.tab_spacing))


@dataclass(frozen=True, slots=True)
class _Run:
    """A straight run that takes tabs: first and last middle, along the edge, mm."""

    low: float
    high: float
    line: Line
    begin: float


def _runs(part: Part, cutter: float, width: float) -> list[_Run]:
    """Return the straight runs of the outer edge that have room for a tab."""
    found: list[_Run] = []
    clear = cutter + _OFF_CORNER + width / 2.0
    at = 0.0
    for segment in part.outline.outer.segments:
        length = segment.length()
        if isinstance(segment, Line) and length >= 2.0 * clear:
            found.append(_Run(at + clear, at + length - clear, segment, at))
        at += length
    return found


def _tab(run: _Run, middle: float, width: float) -> Tab:
    """Return the tab whose middle lies so far along the edge, mm."""
    length, along = run.line.length(), middle - run.begin
    return Tab(
        run.line.point_at((along - width / 2.0) / length),
        run.line.point_at((along + width / 2.0) / length),
    )


def tabs_for(part: Part, cutter: float, practice: Practice) -> tuple[Tab, ...]:
    """Return tabs on the straight runs of a part's outer edge.

    They are spread evenly along the edge, more than a cut width from each corner,
    and never overlap; fewer than `tab_count` when the straight runs have no room
    for more.
    """
    width = practice.tab_width
    wanted = tab_count(part, practice)
    runs = _runs(part, cutter, width)
    if not runs or not wanted:
        return ()
    total = part.outline.outer.length
    chosen: list[tuple[float, _Run]] = []
    for i in range(wanted):
        target = (i + 0.5) * total / wanted
        options = [(min(max(target, run.low), run.high), run) for run in runs]
        options.sort(key=lambda option: (abs(option[0] - target), option[0]))
        for middle, run in options:
            if all(abs(middle - other) >= width + cutter for other, _ in chosen):
                chosen.append((middle, run))
                break
    chosen.sort(key=lambda item: item[0])
    return tuple(_tab(run, middle, width) for middle, run in chosen)


def tab_at(part: Part, place: Point, cutter: float, practice: Practice) -> Tab | None:
    """Return the tab nearest to a place that keeps off corners; None without a run.

    Parameters
    ----------
    place : Point
        In the part's coordinates, mm.
    """
    width = practice.tab_width
    found: list[tuple[float, Tab]] = []
    for run in _runs(part, cutter, width) if width else ():
        (x0, y0), (x1, y1) = run.line.start, run.line.end
        length = run.line.length()
        along = ((place[0] - x0) * (x1 - x0) + (place[1] - y0) * (y1 - y0)) / length
        middle = min(max(run.begin + along, run.low), run.high)
        spot = run.line.point_at((middle - run.begin) / length)
        found.append((math.dist(spot, place), _tab(run, middle, width)))
    return min(found, key=lambda item: item[0])[1] if found else None


def tabs_of(part: Part) -> tuple[Tab, ...]:
    """Return the tabs a part holds, in the order of its list."""
    return tuple(
        Tab(mark.segments[0].start, mark.segments[-1].end)
        for mark in part.marks
        if mark.operation is Operation.TAB
    )


def with_tab_list(part: Part, tabs: Sequence[Tab]) -> Part:
    """Return the part with just these tabs, as marks after its others."""
    marks = tuple(mark for mark in part.marks if mark.operation is not Operation.TAB)
    new = tuple(Mark(Operation.TAB, (Line(t.start, t.end),), "tab") for t in tabs)
    return replace(part, marks=marks + new)


def with_tabs(part: Part, cutter: float, practice: Practice) -> Part:
    """Return the part with its tabs as marks, those it had replaced."""
    return with_tab_list(part, tabs_for(part, cutter, practice))


def wants_tabs(job: Job, part: Part, practice: Practice) -> bool:
    """Return whether a part is to be held by tabs: as it says, else as the job says."""
    if part.tabs is not None:
        return part.tabs
    rule = job.holding.tabs
    return rule is TabRule.ALL or (rule is TabRule.SMALL and is_small(part, practice))


def put_tabs(job: Job, practice: Practice, *, anew: bool = False) -> Job:
    """Return the job with tabs on the parts that want them.

    A part that holds tabs already keeps them as they are, drawn, moved or chosen.

    Parameters
    ----------
    anew : bool
        Whether all tabs are worked out again instead, and taken off parts that want
        none; for when the rule, the cutter or the practice has changed.
    """
    parts = []
    for part in job.parts:
        wanted = wants_tabs(job, part, practice)
        if anew or (wanted and not tabs_of(part)):
            tabs = tabs_for(part, job.cutting.cutter, practice) if wanted else ()
            if tabs != tabs_of(part):
                part = with_tab_list(part, tabs)
        parts.append(part)
    same = all(new is old for new, old in zip(parts, job.parts, strict=True))
    return job if same else replace(job, parts=tuple(parts))


def held(job: Job, practice: Practice) -> Job:
    """Return the job with its tabs put in and its screw distance spelled out.

    What is written so can be checked by itself, without the shop's set-up. Doing it
    again changes nothing.
    """
    asked = job.holding
    if asked.screws and asked.screw_distance is None:
        asked = replace(asked, screw_distance=practice.screw_distance)
        job = replace(job, holding=asked)
    return put_tabs(job, practice)


def advice_on_holding(job: Job, practice: Practice) -> list[Advice]:
    """Return what to say about parts that come loose.

    Small parts without tabs, unless a skin holds them, and parts that want tabs and
    have no straight run for one.
    """
    found = []
    small: list[str] = []
    for part in job.parts:
        if not part.quantity or tabs_of(part):
            continue
        wanted = wants_tabs(job, part, practice)
        if wanted and not tabs_for(part, job.cutting.cutter, practice):
            found.append(
                warning(
                    "no-room-for-tabs",
                    f"{part.name}: no straight run is long enough for a tab; hold it "
                    "with a skin, tape or vacuum",
                    part.name,
                )
            )
        elif is_small(part, practice) and not wanted and not practice.onion_skin:
            small.append(part.name)
    if small:
        names = ", ".join(small[:3])
        rest = f" and {len(small) - 3} more" if len(small) > 3 else ""
        found.append(
            note(
                "small-parts",
                f"{names}{rest}: small enough to be thrown when cut loose; hold "
                f"{'it' if len(small) == 1 else 'them'} with tabs or a skin",
                small[0] if len(small) == 1 else "",
            )
        )
    return found


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
