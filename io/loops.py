"""From strokes to chains: joined, read once, and trimmed where lines run too far."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import shapely

from ..nesting.model.curve import Line, Segment
from ..nesting.model.motion import Point
from ..nesting.model.outline import bounds_of, flatten_chain
from .chain import ROUNDING, Chain, chain, nodes
from .crossings import MOST, cut_at_crossings, near_pairs
from .drawing import Stroke
from .limits import Budget
from .notes import Notes
from .operations import Meaning, Works
from .shape_findings import KINDS
from .split import nearest

APART = frozenset(Meaning) - {Meaning.INSIDE, Meaning.OUTSIDE}
"""Curves of these meanings are joined among themselves only."""

OVERSHOOT = 1.0
"""An end that runs past a corner by this much is trimmed in any drawing, mm ..."""

OVERSHOOT_SHARE = 0.01
"""... and so is one up to this share of the shape's size."""

_CHORD = 0.02
"""Chord error of the polygons that containment is judged on, mm."""


def find_chains(
    strokes: Sequence[Stroke],
    tolerance: float,
    works: Works,
    file: str,
    budget: Budget,
) -> tuple[list[Chain], Notes]:
    """Return the closed and open chains that strokes come to, and what was mended.

    Strokes are joined where they meet. What lies on something else is read once.
    Open ones that cross or meet are cut there, if that closes an outline.

    Parameters
    ----------
    strokes : sequence of Stroke
        What was drawn, mm.
    tolerance : float
        The widest gap that is closed, mm.
    works : Works
        Tells what is done along strokes; those of different work are never joined.
    file : str
        For the notes.
    budget : Budget
        Stops the work when it takes too long.
    """
    notes = Notes(file, KINDS)

    def kind(stroke: Stroke) -> Meaning | None:
        meaning = works.said(stroke.layer, stroke.colour, stroke.fill).meaning
        return meaning if meaning in APART else None

    chains = chain(strokes, tolerance, notes, budget, kind)
    chains = _overlaps_read_once(chains, tolerance, kind, notes, budget)
    return _trimmed(chains, tolerance, kind, notes, budget), notes


def _stroke(c: Chain) -> Stroke:
    return Stroke(c.segments, False, c.layer, c.name, c.colour, c.entity, c.fill)


Kind = Callable[[Stroke], Meaning | None]


def _overlaps_read_once(
    chains: list[Chain], tolerance: float, kind: Kind, notes: Notes, budget: Budget
) -> list[Chain]:
    """Return the chains with open ones joined anew where they lie on each other."""
    loose = [_stroke(c) for c in chains if not c.closed]
    if not loose:
        return chains
    pieces, count = cut_at_crossings(loose, budget, overlaps=True)
    if not count:
        return chains
    notes.forget("gap-left")
    again = chain(pieces, tolerance, notes, budget, kind)
    return [*(c for c in chains if c.closed), *again]


def _trimmed(
    chains: list[Chain], tolerance: float, kind: Kind, notes: Notes, budget: Budget
) -> list[Chain]:
    """Return the chains with open ones cut where they cross, if that closes them.

    Where the drawing holds closed shapes too, lines may well cross for another
    reason: then only ends that run on a little way are trimmed. Within a closed
    shape, where lines may be meant as such, what is left must not branch either.
    """
    edges = [c for c in chains if kind(_stroke(c)) is None]
    loose = [c for c in edges if not c.closed]
    if not loose or sum(len(c.segments) for c in loose) > MOST:
        return chains
    polygons = _polygons([c for c in edges if c.closed])
    outside = _outside(loose, polygons)
    known = {id(c) for c in outside}
    inside = [c for c in loose if id(c) not in known]
    for some, within in ((outside, False), (inside, True)):
        if some:
            new = _cut(some, polygons, within, tolerance, notes, budget)
            if new is not None:
                gone = {id(c) for c in some}
                chains = [*(c for c in chains if id(c) not in gone), *new]
    return chains


def _cut(
    loose: list[Chain],
    polygons: list[shapely.Geometry],
    within: bool,
    tolerance: float,
    notes: Notes,
    budget: Budget,
) -> list[Chain] | None:
    """Return open chains cut and joined anew; None if that closes nothing clear."""
    reached, short = _reaching([_stroke(c) for c in loose], tolerance)
    pieces, places = cut_at_crossings(reached, budget)
    if not places:
        return None
    core, ends = _core(pieces)
    again = Notes(notes.file, KINDS)
    recut = chain(core, tolerance, again, budget)
    loops = [c for c in recut if c.closed]
    if not loops:
        return None
    x0, y0, x1, y1 = bounds_of(s for c in loops for s in c.segments)
    most = max(OVERSHOOT, OVERSHOOT_SHARE * max(x1 - x0, y1 - y0))
    long = [end for end in ends if sum(s.length() for s in end.segments) > most]
    if within and (long or again.count("branch")):
        return None
    if polygons and not within and (long or _cross(_polygons(loops), polygons)):
        notes.add("lines-enclose", loops[0].entity, place=loops[0].segments[0].start)
        return None
    for place in short:
        again.add("gap-closed", detail=f"up to {tolerance:.2g} mm", place=place)
    again.add("lines-crossed", count=places, place=loops[0].segments[0].start)
    for end in ends:
        if end not in long:
            again.add("overshoot", end.entity, place=end.segments[0].start)
    rest = chain(long, tolerance, again, budget)
    notes.forget("gap-left")
    notes.take(again)
    return [*recut, *rest]


def _core(pieces: Sequence[Stroke]) -> tuple[list[Stroke], list[Stroke]]:
    """Return the pieces that may close an outline, and those that lead nowhere."""
    points = np.array([p for piece in pieces for p in _ends(piece)])
    labels = nodes(points, 2.0 * ROUNDING).reshape(-1, 2)
    at: dict[int, set[int]] = defaultdict(set)
    for i, pair in enumerate(labels.tolist()):
        for label in pair:
            at[label].add(i)
    loose = [group for group in at.values() if len(group) == 1]
    ends: set[int] = set()
    while loose:
        group = loose.pop()
        if len(group) != 1:
            continue
        (i,) = group
        ends.add(i)
        for label in labels[i].tolist():
            at[label].discard(i)
            if len(at[label]) == 1:
                loose.append(at[label])
    return (
        [piece for i, piece in enumerate(pieces) if i not in ends],
        [pieces[i] for i in sorted(ends)],
    )


def _ends(stroke: Stroke) -> tuple[Point, Point]:
    return stroke.segments[0].start, stroke.segments[-1].end


def _polygons(rings: Sequence[Chain]) -> list[shapely.Geometry]:
    flat = [flatten_chain(c.segments, _CHORD) for c in rings]
    return [shapely.Polygon(points).buffer(0.0) for points in flat if len(points) > 3]


def _outside(loose: list[Chain], polygons: list[shapely.Geometry]) -> list[Chain]:
    """Return the chains that do not lie in a closed shape: those may be edges."""
    if not polygons:
        return loose
    lines = [shapely.LineString(flatten_chain(c.segments, _CHORD)) for c in loose]
    tree = shapely.STRtree(polygons)
    inside, _ = tree.query(lines, predicate="covered_by")
    within = set(inside.tolist())
    return [c for i, c in enumerate(loose) if i not in within]


def _cross(a: list[shapely.Geometry], b: list[shapely.Geometry]) -> bool:
    """Return whether a shape crosses or fills one of others."""
    if not a or not b:
        return False
    tree = shapely.STRtree(np.array(b))
    hits, _ = tree.query(np.array(a), predicate="overlaps")
    return bool(len(hits))


def _reaching(
    strokes: Sequence[Stroke], tolerance: float
) -> tuple[list[Stroke], list[Point]]:
    """Return strokes whose free ends reach others they nearly met, and where.

    An end that stops short of the middle of another stroke by no more than the
    tolerance is led on to it.
    """
    pieces = [(i, s) for i, stroke in enumerate(strokes) for s in stroke.segments]
    flat = [segment.flatten(_CHORD) for _, segment in pieces]
    pairs = near_pairs(flat, tolerance + _CHORD)
    if pairs is None:
        return list(strokes), []
    beside: dict[int, list[Segment]] = defaultdict(list)
    for a, b in pairs.tolist():
        if pieces[a][0] != pieces[b][0]:
            beside[a].append(pieces[b][1])
    out: list[Stroke] = []
    short: list[Point] = []
    first = 0
    for stroke in strokes:
        segments: list[Segment] = list(stroke.segments)
        where = (first, first + len(segments) - 1)
        first += len(segments)
        for last in (False, True):
            end = segments[-1].end if last else segments[0].start
            feet = [
                (away, segment.point_at(t))
                for segment in beside[where[last]]
                for t, away in [nearest(segment, end)]
            ]
            away, foot = min(feet, default=(math.inf, end))
            if not ROUNDING < away <= tolerance:
                continue
            short.append(end)
            own = segments[-1] if last else segments[0]
            if isinstance(own, Line):
                ends = (own.start, foot) if last else (foot, own.end)
                segments[-1 if last else 0] = Line(*ends)
            elif last:
                segments.append(Line(end, foot))
            else:
                segments.insert(0, Line(foot, end))
        out.append(replace(stroke, segments=tuple(segments)))
    return out, short
