"""Relief of inside corners, so that a square corner fits where a cutter is round.

A dog-bone is a circle on the bisector, a T-bone one on a wall; both pass through the
corner. `relief_corner` has the geometry of one corner, this the parts and jobs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import islice

import shapely

from ..model.curve import Segment
from ..model.holding import ReliefKind
from ..model.job import Job
from ..model.motion import Point
from ..model.outline import Loop, Outline
from ..model.part import Mark, Operation, Part
from ..model.pieces import piece
from .advice import Advice, note
from .path import moves_of
from .pockets import is_island
from .relief_corner import CornerRelief, corner_reliefs, wanted_at

ROOM = 0.05
"""A relief's radius is this much above the cutter's, mm, so that toolpaths, which run
half a cut width beside it, have a path to run (common practice)."""

_SHARP = math.radians(2.0)
"""A corner turns at least this much."""

_LEAST_WALL = 1e-9
"""Share of a wall that stays between the reliefs at its two ends."""

_WAYS = 3
"""So many reliefs are tried at a corner: the bisector, and either wall."""

_CHORD = 0.02


@dataclass(frozen=True)
class Relief:
    """What relieving did.

    Parameters
    ----------
    part : Part
        The part with its corners relieved.
    done : tuple of Point
        Corners relieved, in the part's coordinates, mm.
    left : tuple of Point
        Inside corners left as they are: no relief finds room there.
    other : tuple of Point
        Those of `done` that got the other kind of relief, since the one asked for
        finds no room there.
    """

    part: Part
    done: tuple[Point, ...]
    left: tuple[Point, ...]
    other: tuple[Point, ...] = ()


@dataclass(frozen=True)
class RelievedLoop:
    """A loop with its inside corners relieved; see `Relief` for the points."""

    loop: Loop
    done: tuple[Point, ...]
    left: tuple[Point, ...]
    other: tuple[Point, ...]


LEAVE = 99
"""As the first relief to try of a corner: none, it is left as it is."""


def inside_corners(segments: Sequence[Segment]) -> list[tuple[int, float]]:
    """Return the corners a cutter on the right of a closed chain cannot clear.

    Each is the index of the segment that ends there, and its opening angle in
    radians, 0 to pi.
    """
    found = []
    for i, segment in enumerate(segments):
        after = segments[(i + 1) % len(segments)]
        before_moves, after_moves = moves_of([segment]), moves_of([after])
        if not before_moves or not after_moves:
            continue
        turn = math.remainder(
            after_moves[0].start - before_moves[-1].end, 2.0 * math.pi
        )
        if turn < -_SHARP:
            found.append((i, math.pi + turn))
    return found


def relieved_loop(
    loop: Loop,
    radius: float,
    kind: ReliefKind = ReliefKind.DOG_BONE,
    first: Mapping[int, int] | None = None,
) -> RelievedLoop:
    """Return a loop with its inside corners relieved, and the corners done and left.

    Parameters
    ----------
    loop : Loop
        The waste lies on its right, as with the loops of an outline.
    radius : float
        mm, at least the cutter's.
    kind : ReliefKind
        What is asked for; see `corner_reliefs` for what is tried where it finds no
        room.
    first : mapping of int to int, optional
        Which of those to begin with, by the index of the segment that ends in the
        corner; `LEAVE` leaves the corner as it is.
    """
    first = first or {}
    segments = list(loop.segments)
    start_cut = [0.0] * len(segments)
    end_cut = [0.0] * len(segments)
    edges: dict[int, tuple[Segment, ...]] = {}
    done: list[Point] = []
    left: list[Point] = []
    other: list[Point] = []
    for i, opening in inside_corners(segments):
        j = (i + 1) % len(segments)
        before, after = segments[i], segments[j]
        ways: Iterable[CornerRelief] = ()
        if kind is not ReliefKind.NONE and i != j:
            ways = corner_reliefs(before, after, radius, kind)
        for way in islice(ways, first.get(i, 0), None):
            room = 1.0 - _LEAST_WALL
            if (
                start_cut[i] + end_cut[i] + way.back < room
                and start_cut[j] + end_cut[j] + way.ahead < room
            ):
                edges[i] = way.edge
                end_cut[i] += way.back
                start_cut[j] += way.ahead
                done.append(before.end)
                if way.kind is not wanted_at(kind, opening):
                    other.append(before.end)
                break
        else:
            left.append(before.end)
    if not done:
        return RelievedLoop(loop, (), tuple(left), ())
    result: list[Segment] = []
    for i, segment in enumerate(segments):
        result.append(piece(segment, start_cut[i], 1.0 - end_cut[i]))
        result += edges.get(i, ())
    return RelievedLoop(Loop(tuple(result)), tuple(done), tuple(left), tuple(other))


def relieve(
    part: Part,
    cutter: float,
    kind: ReliefKind = ReliefKind.DOG_BONE,
    *,
    outside: bool = True,
    room: float = 0.0,
) -> Relief:
    """Return a part with relief at its inside corners, as true arcs.

    Inside corners are those of holes and pockets, of islands in pockets, and of
    notches in the outer edge. Where a relief would break through to another edge, or
    into another relief, the other kind is tried, and where none has room the corner is
    left as it is.

    Parameters
    ----------
    cutter : float
        Cut width, mm; the relief's radius is half of it.
    outside : bool
        Whether inside corners of the outer edge are relieved too, not only those
        of holes and pockets.
    room : float
        Added to the radius, mm.
    """
    radius = cutter / 2.0 + room
    loops: list[Loop] = list(part.outline.loops)
    pockets = [
        i
        for i, mark in enumerate(part.marks)
        if mark.operation is Operation.POCKET and mark.closed
    ]
    for i in pockets:
        # The waste lies on the right: outside an island, inside a pocket.
        waste_outside = is_island(part, i)
        loops.append(Loop(part.marks[i].segments).oriented(waste_outside))
    first = 0 if outside else 1
    count = len(part.outline.loops)

    def cut(begin: Mapping[Corner, int]) -> Relief:
        found: list[RelievedLoop] = []
        new = list(loops)
        for k in range(first, len(loops)):
            here = {i: way for (at, i), way in begin.items() if at == k}
            relieved = relieved_loop(loops[k], radius, kind, here)
            new[k] = relieved.loop
            found.append(relieved)
        done = tuple(point for one in found for point in one.done)
        left = tuple(point for one in found for point in one.left)
        other = tuple(point for one in found for point in one.other)
        if not done:
            return Relief(part, (), left)
        marks = list(part.marks)
        for n, i in enumerate(pockets):
            if new[count + n] is not loops[count + n]:
                segments = new[count + n].segments
                marks[i] = Mark(Operation.POCKET, segments, marks[i].name)
        outline = Outline(new[0], tuple(new[1:count]))
        cut_part = replace(part, outline=outline, marks=tuple(marks))
        return Relief(cut_part, done, left, other)

    every = cut({})
    if not every.done or _is_sound(every.part, part):
        return every
    return _one_by_one(part, loops[first:], first, cut)


Corner = tuple[int, int]
"""A loop, and the segment of it that ends in the corner."""


def _one_by_one(
    part: Part,
    loops: Sequence[Loop],
    first: int,
    cut: Callable[[Mapping[Corner, int]], Relief],
) -> Relief:
    """Relieve corner after corner, each by the first way that breaks nothing."""
    begin = {
        (k, i): LEAVE
        for k, loop in enumerate(loops, first)
        for i, _ in inside_corners(loop.segments)
    }
    best = cut(begin)
    for corner in sorted(begin):
        for way in range(_WAYS):
            tried = cut({**begin, corner: way})
            if len(tried.done) > len(best.done) and _is_sound(tried.part, part):
                begin[corner], best = way, tried
                break
    return best


def _is_sound(part: Part, drawn: Part) -> bool:
    """Return whether a part's edges still keep apart, each loop by itself."""
    flat = part.outline.flatten(_CHORD)
    region = shapely.Polygon(flat.outer, flat.holes)
    if not region.is_valid:
        return False
    pockets = [m for m in part.marks if m.operation is Operation.POCKET and m.closed]
    rings = [shapely.Polygon(Loop(m.segments).flatten(_CHORD)) for m in pockets]
    if not all(ring.is_valid for ring in rings):
        return False
    before = [
        shapely.Polygon(Loop(m.segments).flatten(_CHORD))
        for m in drawn.marks
        if m.operation is Operation.POCKET and m.closed
    ]
    for i, a in enumerate(rings):
        for j in range(i):  # pockets that were apart stay apart
            apart = not before[i].boundary.intersects(before[j].boundary)
            if apart and a.boundary.intersects(rings[j].boundary):
                return False
    return True


def relief_of(job: Job, part: Part) -> ReliefKind:
    """Return how a part's inside corners are cut: as it says, else as the job says."""
    return job.relief if part.relief is None else part.relief


@lru_cache(maxsize=1024)
def _as_cut(part: Part, cutter: float, kind: ReliefKind) -> Relief:
    return relieve(part, cutter, kind, room=ROOM)


def as_cut(job: Job, part: Part) -> Relief:
    """Return a part of the job as it is cut, with the relief that is asked for.

    What is asked for is `relief_of`. The part that comes back is the same object when
    nothing is asked for or nothing needs it. It is for drawing, exporting and timing;
    jobs and layouts keep the part as drawn.
    """
    kind = relief_of(job, part)
    if kind is ReliefKind.NONE or not job.cutting.cutter:
        return Relief(part, (), ())
    found = _as_cut(part, job.cutting.cutter, kind)
    # The memory may hold an equal part that is another object.
    return found if found.done else replace(found, part=part)


def job_as_cut(job: Job) -> Job:
    """Return the job with every part as it is cut; the same job without relief.

    Relief takes material off a part and adds none, so a layout that keeps its
    distances keeps them.
    """
    parts = tuple(as_cut(job, part).part for part in job.parts)
    same = all(new is old for new, old in zip(parts, job.parts, strict=True))
    return job if same else replace(job, parts=parts)


def advice_on_relief(job: Job) -> list[Advice]:
    """Return what to say about corners that are not relieved as they were to be."""
    found = []
    for part in job.parts:
        kind = relief_of(job, part)
        if not part.quantity or kind is ReliefKind.NONE:
            continue
        cut = as_cut(job, part)
        left, other = len(cut.left), len(cut.other)
        if other:
            instead = _OTHER[kind]
            found.append(
                note(
                    "relief-other-kind",
                    f"{part.name}: {other} inside corner{'s' if other > 1 else ''} "
                    f"{'have' if other > 1 else 'has'} no room for a {kind.value} and "
                    f"got a {instead.value}",
                    part.name,
                )
            )
        if left:
            found.append(
                note(
                    "relief-left-out",
                    f"{part.name}: {left} inside corner{'s' if left > 1 else ''} could "
                    "not be relieved: too sharp, or no room for a dog-bone or a T-bone",
                    part.name,
                )
            )
    return found


_OTHER = {
    ReliefKind.DOG_BONE: ReliefKind.T_BONE,
    ReliefKind.T_BONE: ReliefKind.DOG_BONE,
}
