"""Relief of inside corners, so that a square corner fits where a cutter is round.

A dog-bone is a circle on the bisector, a T-bone one on a wall; both pass through
the corner. The geometry is elementary: with V the corner, u and w the directions
along its walls, b their bisector into the opening and r the circle's radius, the
centres are V + r b and V + r u.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import shapely

from ..model.curve import Arc, Line, Segment
from ..model.holding import ReliefKind
from ..model.job import Job
from ..model.motion import Point
from ..model.outline import Loop, Outline
from ..model.part import Mark, Operation, Part
from .advice import Advice, note
from .path import moves_of
from .pockets import is_island

ROOM = 0.05
"""A relief's radius is this much above the cutter's, mm, so that toolpaths, which run
half a cut width beside it, have a path to run (common practice)."""

_SHARP = math.radians(2.0)
"""A corner turns at least this much."""

_SQUARE = math.radians(1.0)

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
        Inside corners left as they are: walls too short, or not straight.
    """

    part: Part
    done: tuple[Point, ...]
    left: tuple[Point, ...]


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
    leave: Collection[int] = (),
) -> tuple[Loop, list[Point], list[Point]]:
    """Return a loop with its inside corners relieved, and the corners done and left.

    Parameters
    ----------
    loop : Loop
        The waste lies on its right, as with the loops of an outline.
    radius : float
        mm, at least the cutter's.
    kind : ReliefKind
        Where the relief lies. A T-bone goes on the longer wall, on the other one
        where that has no room; corners that are not square get a dog-bone.
    leave : collection of int
        Corners left as they are, by the index of the segment that ends there.
    """
    segments = list(loop.segments)
    start_cut = [0.0] * len(segments)
    end_cut = [0.0] * len(segments)
    arcs: dict[int, Arc] = {}
    done: list[Point] = []
    left: list[Point] = []
    for i, opening in inside_corners(segments):
        j = (i + 1) % len(segments)
        before, after = segments[i], segments[j]
        corner = before.end
        straight = isinstance(before, Line) and isinstance(after, Line)
        if kind is ReliefKind.NONE or i in leave or not straight:
            left.append(corner)
            continue
        assert isinstance(before, Line)
        assert isinstance(after, Line)
        room_before = before.length() - start_cut[i] - end_cut[i]
        room_after = after.length() - start_cut[j] - end_cut[j]
        for back, ahead in _ways(before, after, opening, radius, kind):
            if back < room_before and ahead < room_after:
                break
        else:
            left.append(corner)
            continue
        arcs[i] = _relief_arc(before, after, corner, radius, opening, back, ahead)
        end_cut[i] += back
        start_cut[j] += ahead
        done.append(corner)
    if not done:
        return loop, done, left
    result: list[Segment] = []
    for i, segment in enumerate(segments):
        if isinstance(segment, Line) and (start_cut[i] or end_cut[i]):
            length = segment.length()
            segment = Line(
                segment.point_at(start_cut[i] / length),
                segment.point_at(1.0 - end_cut[i] / length),
            )
        result.append(segment)
        if i in arcs:
            result.append(arcs[i])
    return Loop(tuple(result)), done, left


def _ways(
    before: Line, after: Line, opening: float, radius: float, kind: ReliefKind
) -> list[tuple[float, float]]:
    """Return how much of the walls before and after a corner a relief may take."""
    if kind is ReliefKind.T_BONE and abs(opening - math.pi / 2.0) < _SQUARE:
        ways = [(2.0 * radius, 0.0), (0.0, 2.0 * radius)]
        return ways if before.length() >= after.length() else ways[::-1]
    chord = 2.0 * radius * math.cos(opening / 2.0)
    return [(chord, chord)]


def _relief_arc(
    before: Line,
    after: Line,
    corner: Point,
    radius: float,
    opening: float,
    back: float,
    ahead: float,
) -> Arc:
    """Return the arc from `back` before the corner to `ahead` after it."""
    ux, uy = _direction(before.end, before.start)
    wx, wy = _direction(after.start, after.end)
    if back == 0.0 or ahead == 0.0:  # T-bone: the centre lies on a wall
        x, y = (wx, wy) if ahead else (ux, uy)
        sweep = -180.0
    else:
        bx, by = ux + wx, uy + wy
        length = math.hypot(bx, by)
        x, y = bx / length, by / length
        sweep = -2.0 * (180.0 - math.degrees(opening))
    centre = (corner[0] + radius * x, corner[1] + radius * y)
    first = (corner[0] + back * ux, corner[1] + back * uy)
    angle = math.degrees(math.atan2(first[1] - centre[1], first[0] - centre[0]))
    return Arc(centre, radius, angle, sweep)


def _direction(start: Point, end: Point) -> Point:
    length = math.dist(start, end)
    return (end[0] - start[0]) / length, (end[1] - start[1]) / length


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
    into another relief, its corner is left as it is.

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

    def cut(leave: Collection[tuple[int, int]]) -> Relief:
        done: list[Point] = []
        left: list[Point] = []
        new = list(loops)
        for k in range(first, len(loops)):
            here = [i for at, i in leave if at == k]
            new[k], did, did_not = relieved_loop(loops[k], radius, kind, here)
            done += did
            left += did_not
        if not done:
            return Relief(part, (), tuple(left))
        marks = list(part.marks)
        for i, loop in zip(pockets, new[count:], strict=True):
            if loop is not loops[count + pockets.index(i)]:
                marks[i] = Mark(Operation.POCKET, loop.segments, marks[i].name)
        outline = Outline(new[0], tuple(new[1:count]))
        cut_part = replace(part, outline=outline, marks=tuple(marks))
        return Relief(cut_part, tuple(done), tuple(left))

    every = cut(())
    if not every.done or _is_sound(every.part, part):
        return every
    return _one_by_one(part, loops[first:], first, cut)


def _one_by_one(
    part: Part,
    loops: Sequence[Loop],
    first: int,
    cut: Callable[[Collection[tuple[int, int]]], Relief],
) -> Relief:
    """Relieve corner after corner, leaving those that break something."""
    leave = {
        (k, i)
        for k, loop in enumerate(loops, first)
        for i, _ in inside_corners(loop.segments)
    }
    best = cut(leave)
    for corner in sorted(leave):
        tried = cut(leave - {corner})
        if len(tried.done) > len(best.done) and _is_sound(tried.part, part):
            leave, best = leave - {corner}, tried
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
    """Return what to say about corners that were to be relieved and are not."""
    found = []
    for part in job.parts:
        if not part.quantity or relief_of(job, part) is ReliefKind.NONE:
            continue
        left = len(as_cut(job, part).left)
        if left:
            found.append(
                note(
                    "relief-left-out",
                    f"{part.name}: {left} inside corner{'s' if left > 1 else ''} could "
                    "not be relieved: walls are curved, too short or too thin there",
                    part.name,
                )
            )
    return found
