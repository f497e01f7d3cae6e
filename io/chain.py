"""Loose ends into loops.

Words: an *end* is the first or last point of a chain; *nodes* are ends so close
that only rounding can separate them; a *gap* is wider than that but within the
tolerance; a *branch* is a node where more than two chains end.

Ends are matched with a k-d tree, so joining n segments takes n log n.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.motion import Point
from ..nesting.model.outline import JOIN_TOLERANCE, bounds_of, flatten_chain
from .drawing import Stroke
from .limits import Budget
from .notes import Notes

ROUNDING = 1e-3
"""Ends this near are one point that was written with few digits, mm."""

LEAST_TOLERANCE = 0.02
"""Gaps up to this are closed in every drawing, mm."""

GREATEST_TOLERANCE = 0.1
"""Gaps wider than this are never closed unasked, mm."""

NEARLY = 2.0
"""Ends left open are reported when another open end is this near, mm."""


@dataclass(frozen=True, slots=True)
class Chain:
    """Joined segments, closed or open, and where they came from."""

    segments: tuple[Segment, ...]
    closed: bool
    layer: str = ""
    name: str = ""
    colour: str = ""
    entity: str = ""
    fill: str = ""
    order: int = 0


def join_tolerance(strokes: Sequence[Stroke]) -> float:
    """Return the gap that may be closed in a drawing, mm: 1/10,000 of its size."""
    size = largest_shape(strokes)
    return min(max(1e-4 * size, LEAST_TOLERANCE), GREATEST_TOLERANCE)


def largest_shape(strokes: Sequence[Stroke]) -> float:
    """Return the longer side of the largest connected shape, in the strokes' unit."""
    if not strokes:
        return 0.0
    boxes = np.array([bounds_of(stroke.segments) for stroke in strokes])
    ends = np.array(
        [p for s in strokes for p in (s.segments[0].start, s.segments[-1].end)]
    )
    low, high = boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)
    extent = float((high - low).max())
    if not extent > 0.0:
        return 0.0
    labels = nodes(ends, 1e-5 * extent)
    count = int(labels.max()) + 1
    a, b = labels[0::2], labels[1::2]
    graph = coo_matrix((np.ones(len(a)), (a, b)), shape=(count, count))
    groups = connected_components(graph, directed=False)[1][a]
    n = int(groups.max()) + 1
    least = np.full((n, 2), np.inf)
    most = np.full((n, 2), -np.inf)
    np.minimum.at(least, groups, boxes[:, :2])
    np.maximum.at(most, groups, boxes[:, 2:])
    return float((most - least).max())


def nodes(points: NDArray[np.float64], tolerance: float) -> NDArray[np.intp]:
    """Return one label for each point; points within `tolerance` share it."""
    # Points are thinned to a fine grid first: thousands on one spot would make
    # pairs by the million.
    grid = np.round(points / (tolerance / 4.0))
    _, first, back = np.unique(grid, axis=0, return_index=True, return_inverse=True)
    back = back.reshape(-1)
    tree = cKDTree(points[first])
    pairs = tree.query_pairs(tolerance, output_type="ndarray")
    n = len(first)
    graph = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    labels: NDArray[np.intp] = connected_components(graph, directed=False)[1][back]
    return labels


def chain(
    strokes: Sequence[Stroke],
    tolerance: float,
    notes: Notes,
    budget: Budget,
    kind: Callable[[Stroke], Hashable] = lambda stroke: None,
) -> list[Chain]:
    """Join strokes into closed and open chains.

    Parameters
    ----------
    strokes : sequence of Stroke
        What was drawn, mm.
    tolerance : float
        The widest gap that is closed, mm.
    notes : Notes
        Takes what was mended.
    budget : Budget
        Stops the work when it takes too long.
    kind : callable, optional
        Strokes of different kinds are never joined: an edge and a construction line.

    Returns
    -------
    list of Chain
        In the order of their first stroke. Closed ones meet within the model's
        join tolerance everywhere.
    """
    rings: list[Chain] = []
    edges: dict[Hashable, list[Chain]] = {}
    for order, stroke in enumerate(strokes):
        budget.tick()
        kept = tuple(s for s in stroke.segments if not _is_dust(s))
        notes.add("dust", stroke.entity, count=len(stroke.segments) - len(kept))
        if not kept:
            continue
        gap = math.dist(kept[0].start, kept[-1].end)
        long = len(kept) > 2 or sum(s.length() for s in kept) > 4.0 * tolerance
        closed = stroke.closed or (gap <= tolerance and long)
        made = Chain(
            kept,
            closed,
            stroke.layer,
            stroke.name,
            stroke.colour,
            stroke.entity,
            stroke.fill,
            order,
        )
        (rings if closed else edges.setdefault(kind(stroke), [])).append(made)
    joined: list[Chain] = []
    for alike in edges.values():
        joined += _join(_without_twins(alike, notes), tolerance, notes, budget)
    rings += [c for c in joined if c.closed]
    whole = [closed_up(ring, notes) for ring in rings]
    rest = [_mended(c, notes) for c in joined if not c.closed]
    out = [ring for ring in whole if ring is not None] + rest
    return sorted(out, key=lambda c: c.order)


def _is_dust(segment: Segment) -> bool:
    if isinstance(segment, Line):
        return math.dist(segment.start, segment.end) <= JOIN_TOLERANCE
    if isinstance(segment, Arc):
        return segment.length() <= JOIN_TOLERANCE
    near = JOIN_TOLERANCE
    return all(
        math.dist(segment.p0, p) <= near for p in (segment.p1, segment.p2, segment.p3)
    )


def _middle(segments: Sequence[Segment]) -> Point:
    return segments[len(segments) // 2].point_at(0.5 if len(segments) % 2 else 0.0)


def _ends(chains: Sequence[Chain]) -> NDArray[np.float64]:
    return np.array(
        [p for c in chains for p in (c.segments[0].start, c.segments[-1].end)]
    ).reshape(-1, 2)


def _without_twins(edges: list[Chain], notes: Notes) -> list[Chain]:
    """Return the edges, each drawn once, whichever way round it was drawn."""
    if not edges:
        return edges
    labels = nodes(_ends(edges), ROUNDING)
    seen: dict[tuple[int, int], list[Chain]] = defaultdict(list)
    kept = []
    for i, edge in enumerate(edges):
        a, b = int(labels[2 * i]), int(labels[2 * i + 1])
        group = seen[(min(a, b), max(a, b))]
        if any(_twins(edge, other) for other in group[:50]):
            notes.add("line-doubled", edge.entity, place=_middle(edge.segments))
        else:
            group.append(edge)
            kept.append(edge)
    return kept


def _twins(a: Chain, b: Chain) -> bool:
    if len(a.segments) != len(b.segments):
        return False
    forward = math.dist(a.segments[0].start, b.segments[0].start) <= 2 * ROUNDING
    turned = math.dist(a.segments[0].start, b.segments[-1].end) <= 2 * ROUNDING
    ways = ([b.segments] if forward else []) + (
        [tuple(s.reversed() for s in reversed(b.segments))] if turned else []
    )
    return any(
        all(
            math.dist(s.point_at(t), o.point_at(t)) <= 2 * ROUNDING
            for s, o in zip(a.segments, way, strict=True)
            for t in (0.25, 0.5, 1.0)
        )
        for way in ways
    )


# --- joining ---


def _join(
    edges: list[Chain], tolerance: float, notes: Notes, budget: Budget
) -> list[Chain]:
    """Return closed and open chains made of edges."""
    if not edges:
        return []
    labels = nodes(_ends(edges), ROUNDING)
    done, runs, ends = _walk(edges, labels, budget)
    if runs:
        ends = _pair(runs, ends, tolerance, notes)
        more, runs, ends = _walk(runs, ends, budget)
        done += more
    degree = np.bincount(ends) if runs else np.zeros(0, dtype=np.intp)
    branches = int((degree > 2).sum())
    if not branches:
        return done + runs
    notes.add("branch", count=branches, place=_place(runs, ends, degree))
    loops, runs, ends = _outermost(runs, ends, budget)
    # What is left inside is an edge only where it closes without a branch.
    core = _core(ends)
    out = [*done, *loops]
    for wanted in (True, False):
        some = [i for i in range(len(runs)) if (i in core) is wanted]
        pairs = ends.reshape(-1, 2)[some].reshape(-1)
        closed, open_, _ = _walk([runs[i] for i in some], pairs, budget)
        out += [*closed, *open_]
    return out


def _core(ends: NDArray[np.intp]) -> set[int]:
    """Return which runs, by index, do not lead to a loose end."""
    pairs = ends.reshape(-1, 2).tolist()
    core = set(range(len(pairs)))
    at: dict[int, set[int]] = defaultdict(set)
    for i, pair in enumerate(pairs):
        for label in pair:
            at[label].add(i)
    # A run whose end meets no other leads nowhere, and then perhaps its neighbour.
    lonely = [label for label, group in at.items() if len(group) == 1]
    while lonely:
        for i in list(at[lonely.pop()]):
            core.discard(i)
            for label in pairs[i]:
                at[label].discard(i)
                if len(at[label]) == 1:
                    lonely.append(label)
    return core


def _place(
    runs: list[Chain], ends: NDArray[np.intp], degree: NDArray[np.intp]
) -> Point | None:
    points = _ends(runs)
    busy = np.flatnonzero(degree[ends] > 2)
    return (float(points[busy[0]][0]), float(points[busy[0]][1])) if len(busy) else None


def _walk(
    edges: list[Chain], labels: NDArray[np.intp], budget: Budget
) -> tuple[list[Chain], list[Chain], NDArray[np.intp]]:
    """Follow edges through nodes where just two meet.

    Returns
    -------
    closed : list of Chain
    runs : list of Chain
        Open chains between free ends and branches.
    ends : ndarray of int
        The node labels of the runs' ends, two for each.
    """
    at: dict[int, list[int]] = defaultdict(list)
    label_of: list[int] = labels.tolist()
    for half, label in enumerate(label_of):
        at[label].append(half)
    used = [False] * len(edges)
    closed: list[Chain] = []
    runs: list[Chain] = []
    ends: list[int] = []

    def follow(half: int) -> tuple[list[int], int]:
        """Return the halves entered from `half` on, and the last node."""
        path = []
        while True:
            budget.tick()
            used[half // 2] = True
            path.append(half)
            out = half ^ 1
            label = label_of[out]
            meeting = at[label]
            # Thousands may meet at a branch: it is never searched.
            if len(meeting) != 2:
                return path, label
            half = meeting[1] if meeting[0] == out else meeting[0]
            if used[half // 2]:
                return path, label

    # From free ends and branches first; what remains after them is closed.
    starts = [h for group in at.values() if len(group) != 2 for h in group]
    for half in sorted(starts):
        if not used[half // 2]:
            begin = label_of[half]
            path, end = follow(half)
            made = _strung(edges, path)
            runs.append(made)
            ends += [begin, end]
    for index in range(len(edges)):
        if not used[index]:
            path, _ = follow(2 * index)
            closed.append(replace(_strung(edges, path), closed=True))
    # A run that leaves a branch and comes back to it alone is closed as well.
    keep_runs, keep_ends = [], []
    for i, run in enumerate(runs):
        a, b = ends[2 * i], ends[2 * i + 1]
        if a == b and len(at[a]) != 1:
            closed.append(replace(run, closed=True))
        else:
            keep_runs.append(run)
            keep_ends += [a, b]
    return closed, keep_runs, np.array(keep_ends, dtype=np.intp)


def _strung(edges: list[Chain], path: list[int]) -> Chain:
    """Return one chain of the edges entered through the given halves."""
    if len(path) == 1 and path[0] % 2 == 0:
        edge = edges[path[0] // 2]
        return replace(edge, closed=False) if edge.closed else edge
    segments: list[Segment] = []
    for half in path:
        edge = edges[half // 2]
        if half % 2 == 0:
            segments.extend(edge.segments)
        else:
            segments.extend(s.reversed() for s in reversed(edge.segments))
    members = [edges[half // 2] for half in path]
    first = min(members, key=lambda e: e.order)
    return replace(first, segments=tuple(segments), closed=False)


def _pair(
    runs: list[Chain], ends: NDArray[np.intp], tolerance: float, notes: Notes
) -> NDArray[np.intp]:
    """Give free ends within the tolerance one label, the nearest first."""
    points = _ends(runs)
    degree = np.bincount(ends)
    free = np.flatnonzero(degree[ends] == 1)
    if len(free) < 2:
        return ends
    tree = cKDTree(points[free])
    distances, neighbours = tree.query(points[free], k=min(6, len(free)))
    candidates = sorted(
        (float(d), int(free[i]), int(free[j]))
        for i, (ds, js) in enumerate(zip(distances, neighbours, strict=True))
        for d, j in zip(ds, js, strict=True)
        if i < j < len(free) and d <= max(tolerance, NEARLY)
    )
    ends = ends.copy()
    taken: set[int] = set()
    left: list[tuple[float, Point]] = []
    for distance, a, b in candidates:
        if a in taken or b in taken:
            continue
        if a // 2 == b // 2:
            length = sum(s.length() for s in runs[a // 2].segments)
            if length < 4.0 * distance:
                continue
        if distance <= tolerance:
            ends[b] = ends[a]
        else:
            left.append((distance, (float(points[a][0]), float(points[a][1]))))
        taken.update((a, b))
    if left:
        widest = max(d for d, _ in left)
        nearest = min(d for d, _ in left)
        low, high = f"{nearest:.2g}", f"{widest:.2g}"
        width = f"{low} mm" if low == high else f"{low} to {high} mm"
        notes.add("gap-left", detail=f"{width} wide", place=left[0][1], count=len(left))
    return ends


# --- branches ---


def _outermost(
    runs: list[Chain], ends: NDArray[np.intp], budget: Budget
) -> tuple[list[Chain], list[Chain], NDArray[np.intp]]:
    """Take the outermost closed ways out of chains that branch.

    The faces of the drawing are traced, at every node to the next chain
    clockwise; the face that runs clockwise as a whole lies outside.
    """
    alive = _core(ends)
    flat = {i: flatten_chain(runs[i].segments, 0.01) for i in alive}
    leaving: dict[int, list[tuple[float, int]]] = defaultdict(list)
    for i in alive:
        for half in (2 * i, 2 * i + 1):
            points = flat[i] if half % 2 == 0 else flat[i][::-1]
            d = points[1] - points[0]
            leaving[int(ends[half])].append((math.atan2(d[1], d[0]), half))
    following: dict[int, int] = {}
    for group in leaving.values():
        group.sort()
        for k, (_, half) in enumerate(group):
            # Arriving by `half`'s twin, leave by the next one clockwise.
            following[half ^ 1] = group[k - 1][1]
    loops: list[Chain] = []
    used: set[int] = set()
    traced: set[int] = set()
    for start in sorted(following):
        if start in traced:
            continue
        face = []
        half = start
        while half not in traced:
            budget.tick()
            traced.add(half)
            face.append(half)
            half = following[half]
        area = sum(_swept(flat[h // 2], h % 2 == 1) for h in face)
        if area >= 0.0:
            continue
        once = [h for h in face if h ^ 1 not in face]
        for ring in _simple_rings(once, ends):
            loops.append(replace(_strung(runs, ring), closed=True))
            used.update(h // 2 for h in ring)
    rest = [i for i in range(len(runs)) if i not in used]
    rest_ends = [e for i in rest for e in (int(ends[2 * i]), int(ends[2 * i + 1]))]
    return loops, [runs[i] for i in rest], np.array(rest_ends, dtype=np.intp)


def _swept(points: NDArray[np.float64], turned: bool) -> float:
    a, b = points[:-1], points[1:]
    area = float((a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]).sum()) / 2.0
    return -area if turned else area


def _simple_rings(face: list[int], ends: NDArray[np.intp]) -> list[list[int]]:
    """Cut a closed walk into rings that pass each node once."""
    rings: list[list[int]] = []
    stack: list[int] = []
    for half in face:
        stack.append(half)
        end = int(ends[half ^ 1])
        for k in range(len(stack) - 1, -1, -1):
            if int(ends[stack[k]]) == end:
                rings.append(stack[k:])
                del stack[k:]
                break
    return rings


# --- mending ---


def closed_up(ring: Chain, notes: Notes) -> Chain | None:
    """Return a closed chain whose segments meet; None if nothing of it is left."""
    segments = list(ring.segments)
    if (
        len(segments) == 1
        and isinstance(segments[0], Arc)
        and not segments[0].is_circle
    ):
        arc = segments[0]
        if 360.0 - abs(arc.sweep) < 1e-3:
            sweep = math.copysign(360.0, arc.sweep)
            segments = [Arc(arc.centre, arc.radius, arc.start_angle, sweep)]
    mended = _meet(segments, True, ring.entity, notes)
    return replace(ring, segments=tuple(mended)) if mended else None


def _mended(run: Chain, notes: Notes) -> Chain:
    if len(run.segments) == 1 and not _is_dust(run.segments[0]):
        return run
    return replace(
        run, segments=tuple(_meet(list(run.segments), False, run.entity, notes))
    )


def _meet(
    segments: list[Segment], closed: bool, entity: str, notes: Notes
) -> list[Segment]:
    """Return segments that meet; lines are moved, arcs are never bent."""
    bridges: dict[int, Line] = {}
    for i in range(len(segments) if closed else len(segments) - 1):
        j = (i + 1) % len(segments)
        before, after = segments[i], segments[j]
        gap = math.dist(before.end, after.start)
        if gap <= JOIN_TOLERANCE / 10.0:
            continue
        if gap > ROUNDING:
            notes.add("gap-closed", entity, _width(gap), (before.end[0], before.end[1]))
        if i != j and isinstance(before, Line) and isinstance(after, Line):
            at = _corner(before, after, gap)
            segments[i] = Line(before.start, at)
            segments[j] = Line(at, after.end)
        elif isinstance(before, Line) and i != j:
            segments[i] = Line(before.start, after.start)
        elif isinstance(after, Line) and i != j:
            segments[j] = Line(before.end, after.end)
        elif (
            gap <= 2.0 * ROUNDING
            and i != j
            and (moved := _start_moved(after, before.end))
        ):
            segments[j] = moved
        else:
            bridges[i] = Line(before.end, after.start)
    out: list[Segment] = []
    for i, segment in enumerate(segments):
        if not _is_dust(segment):
            out.append(segment)
        if i in bridges:
            out.append(bridges[i])
    return out


def _width(gap: float) -> str:
    return f"{gap:.3f} mm" if gap >= 0.001 else f"{gap:.2g} mm"


def _corner(before: Line, after: Line, gap: float) -> Point:
    """Return where two lines meet if that is near by, else the gap's middle."""
    (x1, y1), (x2, y2) = before.start, before.end
    (x3, y3), (x4, y4) = after.start, after.end
    ux, uy, vx, vy = x2 - x1, y2 - y1, x4 - x3, y4 - y3
    cross = ux * vy - uy * vx
    if abs(cross) > 0.05 * math.hypot(ux, uy) * math.hypot(vx, vy):
        t = ((x3 - x1) * vy - (y3 - y1) * vx) / cross
        at = (x1 + t * ux, y1 + t * uy)
        if max(math.dist(at, before.end), math.dist(at, after.start)) <= 1.5 * gap:
            return at
    return (x2 + x3) / 2.0, (y2 + y3) / 2.0


def _start_moved(segment: Segment, start: Point) -> Segment | None:
    """Return a curve set to begin at a point a rounding error away.

    An arc keeps its radius and its far end; a cubic moves its first two controls.
    """
    if isinstance(segment, Cubic):
        dx, dy = start[0] - segment.p0[0], start[1] - segment.p0[1]
        p1 = (segment.p1[0] + dx, segment.p1[1] + dy)
        return Cubic(start, p1, segment.p2, segment.p3)
    if not isinstance(segment, Arc) or segment.is_circle:
        return None
    end, r = segment.end, segment.radius
    chord = math.dist(start, end)
    inside = r * r - chord * chord / 4.0
    if inside < 0.0 or chord < 1e-3 * r:
        return None
    away = math.sqrt(inside)
    nx, ny = -(end[1] - start[1]) / chord, (end[0] - start[0]) / chord
    # The centre lies left of a counter-clockwise arc's chord while it sweeps less
    # than half a turn.
    side = math.copysign(1.0, segment.sweep) * (1 if abs(segment.sweep) < 180 else -1)
    centre = (
        (start[0] + end[0]) / 2.0 + side * away * nx,
        (start[1] + end[1]) / 2.0 + side * away * ny,
    )
    if math.dist(centre, segment.centre) > 0.01 * max(r, 1.0):
        return None
    first = math.degrees(math.atan2(start[1] - centre[1], start[0] - centre[0]))
    last = math.degrees(math.atan2(end[1] - centre[1], end[0] - centre[0]))
    sweep = (last - first) % 360.0 if segment.sweep > 0 else -((first - last) % 360.0)
    if abs(sweep - segment.sweep) > 5.0:
        return None
    return Arc(centre, r, first % 360.0, sweep)
