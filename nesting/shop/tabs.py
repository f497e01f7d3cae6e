"""Tabs: short stretches of an edge that are not cut through, and hold a part.

Numbers behind it (one tab for about every 200 mm, three at least; parts under 75 mm or
100 cm² held specially) are common practice and part of the shop's set-up. Outer edges
take tabs on straight runs only; the edge of a hole, where they hold the piece that
would fall out, on curved ones too where it has no straight one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..model.curve import Cubic, Line, Segment
from ..model.holding import TabRule
from ..model.job import Job
from ..model.machine import Practice
from ..model.motion import Point
from ..model.outline import Loop
from ..model.part import Mark, Operation, Part
from ..model.pieces import piece
from .relief import ROOM, inside_corners
from .relief_corner import SHARPEST

_CHORD = 0.02

LEAST_PIECE = 100.0
"""Pieces of waste below this are chips, not pieces to be held, mm²."""

_LEAST_HOLE_TABS = 2
"""What falls out is waste: it must not turn over, and need not be true."""


@dataclass(frozen=True, slots=True)
class Tab:
    """A tab: a short stretch of an edge that is not cut through.

    Parameters
    ----------
    along : Segment
        The stretch, in the part's coordinates, mm.
    """

    along: Segment

    @property
    def start(self) -> Point:
        """Where it begins, mm."""
        return self.along.start

    @property
    def end(self) -> Point:
        """Where it ends, mm."""
        return self.along.end

    @property
    def middle(self) -> Point:
        """Its middle, mm."""
        return self.along.point_at(0.5)


@dataclass(frozen=True, slots=True)
class _Run:
    """A run that takes tabs: first and last middle along the edge, mm."""

    low: float
    high: float
    segment: Segment
    begin: float


def is_small(part: Part, practice: Practice) -> bool:
    """Return whether a part is small enough to need tabs or a skin."""
    return (
        min(part.outline.size) < practice.small_part
        or part.outline.area < practice.small_area
    )


def tab_count(part: Part, practice: Practice) -> int:
    """Return how many tabs a part gets on its outer edge.

    By its size, three for a small part and four for others, and by its perimeter,
    one for about every `tab_spacing`, whichever is more.
    """
    if not practice.tab_width:
        return 0
    least = 3 if is_small(part, practice) else 4
    return max(least, math.ceil(part.outline.outer.length / practice.tab_spacing))


def tabs_for(part: Part, cutter: float, practice: Practice) -> tuple[Tab, ...]:
    """Return tabs on the straight runs of a part's outer edge.

    They are spread evenly along the edge, more than a cut width from each corner,
    and never overlap; fewer than `tab_count` when the straight runs have no room
    for more.
    """
    runs = _runs(part.outline.outer, cutter, practice)
    return _spread(
        part.outline.outer, runs, tab_count(part, practice), cutter, practice.tab_width
    )


def hole_tabs(part: Part, cutter: float, practice: Practice) -> tuple[Tab, ...]:
    """Return tabs for the pieces that fall out of a part's holes, on their edges.

    As many as the perimeter asks for, two at least for each piece; none on holes whose
    waste is nothing but chips.
    """
    width = practice.tab_width
    found: list[Tab] = []
    for hole in part.outline.holes if width else ():
        pieces = falling_pieces(hole, cutter)
        if not pieces:
            continue
        wanted = max(
            _LEAST_HOLE_TABS * len(pieces),
            math.ceil(hole.length / practice.tab_spacing),
        )
        runs = _hole_runs(hole, cutter, practice)
        found += _spread(hole, runs, wanted, cutter, width)
    return tuple(found)


def falling_pieces(hole: Loop, cutter: float) -> list[shapely.Polygon]:
    """Return the pieces that fall out of a hole when it is cut along its edge.

    The slot is one cut width wide inside the hole; what lies within it comes loose.
    """
    region = shapely.Polygon(hole.flatten(_CHORD))
    inner = shapely.make_valid(region).buffer(-cutter)
    return [p for p in shapely.get_parts(inner) if p.area > LEAST_PIECE]


def _runs(
    loop: Loop, cutter: float, practice: Practice, curved: bool = False
) -> list[_Run]:
    """Return the runs of an edge that have room for a tab, straight or else curved.

    They keep off corners, and off what relief may take of sharp inside ones: the lane
    of a cutter ends half a cut width over the sine of half the angle from the corner.
    """
    width = practice.tab_width
    sharp = dict(inside_corners(loop.segments))

    def clear(corner: int) -> float:
        if loop.is_circle:  # it has no corner
            return 0.0
        opening = min(sharp.get(corner, math.pi), math.pi / 2.0)
        lane = (cutter / 2.0 + ROOM) / math.sin(max(opening, SHARPEST) / 2.0)
        return max(cutter, lane) + practice.tab_corner + width / 2.0

    found: list[_Run] = []
    at = 0.0
    for i, segment in enumerate(loop.segments):
        length = segment.length()
        before, after = clear((i - 1) % len(loop.segments)), clear(i)
        fits = length >= max(before + after, width)
        if isinstance(segment, Line) is not curved and fits:
            found.append(_Run(at + before, at + length - after, segment, at))
        at += length
    return found if width else []


def _hole_runs(hole: Loop, cutter: float, practice: Practice) -> list[_Run]:
    straight = _runs(hole, cutter, practice)
    return straight or _runs(hole, cutter, practice, curved=True)


def _spread(
    loop: Loop, runs: Sequence[_Run], wanted: int, cutter: float, width: float
) -> tuple[Tab, ...]:
    """Return up to so many tabs, spread evenly along an edge."""
    if not runs or not wanted:
        return ()
    total = loop.length
    chosen: list[tuple[float, _Run]] = []
    for i in range(wanted):
        target = (i + 0.5) * total / wanted
        options = [(min(max(target, run.low), run.high), run) for run in runs]
        options.sort(key=lambda option: (abs(option[0] - target), option[0]))
        for middle, run in options:
            if all(
                _apart(middle, other, loop, total) >= width + cutter
                for other, _ in chosen
            ):
                chosen.append((middle, run))
                break
    chosen.sort(key=lambda item: item[0])
    return tuple(_tab(run, middle, width) for middle, run in chosen)


def _apart(a: float, b: float, loop: Loop, total: float) -> float:
    """Return how far two places are from each other along a closed edge, mm."""
    away = abs(a - b)
    return min(away, total - away)


def _tab(run: _Run, middle: float, width: float) -> Tab:
    """Return the tab whose middle lies so far along the edge, mm."""
    along = middle - run.begin
    first = _parameter(run.segment, along - width / 2.0)
    last = _parameter(run.segment, along + width / 2.0)
    return Tab(piece(run.segment, first, last))


def _parameter(segment: Segment, along: float) -> float:
    """Return the parameter so far along a curve, mm."""
    length = segment.length()
    if not isinstance(segment, Cubic):
        return min(max(along / length, 0.0), 1.0)
    points = segment.flatten(_CHORD / 10.0)
    steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    share = np.linspace(0.0, 1.0, len(points))
    return float(np.interp(along * steps[-1] / length, steps, share))


def tab_at(part: Part, place: Point, cutter: float, practice: Practice) -> Tab | None:
    """Return the tab nearest to a place that keeps off corners; None without a run.

    Parameters
    ----------
    place : Point
        In the part's coordinates, mm; the outer edge or that of a hole, whichever is
        nearer.
    """
    width = practice.tab_width
    found: list[tuple[float, Tab]] = []
    outer = part.outline.outer
    runs = _runs(outer, cutter, practice)
    for hole in part.outline.holes:
        runs += _hole_runs(hole, cutter, practice)
    for run in runs:
        points = run.segment.flatten(_CHORD)
        line = shapely.LineString(points)
        share = line.project(shapely.Point(place)) / line.length
        along = run.begin + share * run.segment.length()
        tab = _tab(run, min(max(along, run.low), run.high), width)
        found.append((math.dist(tab.middle, place), tab))
    return min(found, key=lambda item: item[0])[1] if found else None


def tabs_of(part: Part) -> tuple[Tab, ...]:
    """Return the tabs a part holds, in the order of its list."""
    found = []
    for mark in part.marks:
        if mark.operation is Operation.TAB:
            one = mark.segments[0]
            whole = len(mark.segments) == 1
            found.append(Tab(one if whole else Line(one.start, mark.segments[-1].end)))
    return tuple(found)


def in_hole(part: Part, tab: Tab) -> bool:
    """Return whether a tab stands on the edge of a hole, not on the outer edge."""
    at = shapely.Point(tab.middle)

    def away(loop: Loop) -> float:
        return float(shapely.LinearRing(loop.flatten(_CHORD)).distance(at))

    outer = away(part.outline.outer)
    return any(away(hole) < outer for hole in part.outline.holes)


def with_tab_list(part: Part, tabs: Sequence[Tab]) -> Part:
    """Return the part with just these tabs, as marks after its others."""
    marks = tuple(mark for mark in part.marks if mark.operation is not Operation.TAB)
    new = tuple(Mark(Operation.TAB, (tab.along,), "tab") for tab in tabs)
    return replace(part, marks=marks + new)


def with_tabs(part: Part, cutter: float, practice: Practice) -> Part:
    """Return the part with tabs on its outer edge as marks, those it had replaced."""
    return with_tab_list(part, tabs_for(part, cutter, practice))


def wants_tabs(job: Job, part: Part, practice: Practice) -> bool:
    """Return whether a part is to be held by tabs: as it says, else as the job says."""
    if part.tabs is not None:
        return part.tabs
    rule = job.holding.tabs
    return rule is TabRule.ALL or (rule is TabRule.SMALL and is_small(part, practice))


def wants_hole_tabs(job: Job, part: Part) -> bool:
    """Return whether what falls out of a part's holes is to be held by tabs."""
    return job.holding.drop_outs and part.tabs is not False


def put_tabs(job: Job, practice: Practice, *, anew: bool = False) -> Job:
    """Return the job with tabs on the parts that want them.

    A part that holds tabs on its outer edge keeps them as they are, drawn, moved or
    chosen, and so does one that holds some in its holes.

    Parameters
    ----------
    anew : bool
        Whether all tabs are worked out again instead, and taken off parts that want
        none; for when the rule, the cutter or the practice has changed.
    """
    cutter = job.cutting.cutter
    parts = []
    for part in job.parts:
        has = tabs_of(part)
        inner = tuple(tab for tab in has if in_hole(part, tab))
        outer = tuple(tab for tab in has if tab not in inner)
        if anew or not outer:
            wanted = wants_tabs(job, part, practice)
            outer = tabs_for(part, cutter, practice) if wanted else ()
        if anew or not inner:
            wanted = wants_hole_tabs(job, part)
            inner = hole_tabs(part, cutter, practice) if wanted else ()
        if set(has) != {*outer, *inner}:
            part = with_tab_list(part, (*outer, *inner))
        parts.append(part)
    same = all(new is old for new, old in zip(parts, job.parts, strict=True))
    return job if same else replace(job, parts=tuple(parts))
