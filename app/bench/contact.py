"""Moving a part among others so that it never comes closer than it may.

Words used here. Moving a part by ``t`` (mm) keeps its shape, so where it may go is a
question about the point ``t`` alone. Two edges that do not cross are as close as an end
of one is to the other; so "end of a moving edge nearer than the reach to a wall", and
the reverse, are the only ways to be too close, and each is the point ``t`` lying in a
**capsule**: all points nearer than the reach to a line segment, the capsule's spine.
That is the configuration space of robot motion planning (Lozano-Pérez 1983,
doi:10.1109/TC.1983.1676196), bounded by rounded edges because the reach is a distance.

A point that starts outside every capsule and moves on straight lines only has to stop
where it first enters one. There it slides: its wish is projected on the directions that
lead out of all the capsules it touches. Nothing is worked out beforehand and every
figure is exact for the flattened outlines, at any turn.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from ...nesting.model.motion import Motion, Point, Points
from ...nesting.model.outline import Outline
from .shapes import flat, ring_edges
from .walls import Walls

TOUCH = 2e-6
"""Nearer than its reach plus this, mm, a wall is being touched."""

SKIN = 1e-5
"""Kept on top of the reach so that rounding never eats into it, mm."""

CLEAR = 1e-6
"""A place the hand wishes for is free if no distance is short by more, mm."""

LEGAL = 4.5e-3
"""The last look before a place is shown: within the check's own tolerance, mm."""

WAY_OUT = 4
"""How far round a wish a part picked up in a conflict looks for room, in rings of a
third of its size."""

STRIDE = 12.0
"""How far one look at the surroundings is good for, mm."""


@dataclass(frozen=True)
class Step:
    """Where a wish led to.

    Attributes
    ----------
    x, y : float
        The move from where the parts lay, mm.
    touched : tuple of int
        Owners (indices into the walls' owners, first group) that are touched.
    held : bool
        Whether the place differs from the one wished for.
    """

    x: float
    y: float
    touched: tuple[int, ...]
    held: bool


class Group:
    """Parts that move together on one blank, and what is in their way there.

    Parameters
    ----------
    walls : Walls
        What is in the way.
    shapes : sequence of tuple of Outline and Motion
        The moving parts, each where it lies at the start, in the blank's coordinates.
    """

    def __init__(self, walls: Walls, shapes: Sequence[tuple[Outline, Motion]]) -> None:
        self.walls = walls
        self.error = 0.0
        self.rings: list[tuple[Points, ...]] = []
        self._shapes = [(flat(outline), motion) for outline, motion in shapes]
        for outline, motion in shapes:
            shape = flat(outline)
            rings = shape.moved(motion)
            if motion.flipped:
                rings = tuple(ring[::-1] for ring in rings)
            self.rings.append(rings)
            self.error = max(self.error, shape.error)
        self.edges = np.concatenate(
            [ring_edges(ring) for rings in self.rings for ring in rings]
        )
        low = np.minimum(self.edges[:, :2], self.edges[:, 2:])
        high = np.maximum(self.edges[:, :2], self.edges[:, 2:])
        self.low, self.high = low, high
        self.box = (*low.min(axis=0), *high.max(axis=0))
        self._hulls = [
            np.asarray(shapely.convex_hull(shapely.multipoints(r[0])).exterior.coords)
            for r in self.rings
        ]

    def polygons(self, t: Points) -> list[Any]:
        """Return the moving parts as polygons, moved by `t`."""
        moved: list[Any] = list(shapely.transform(self._polygons, lambda p: p + t))
        return moved

    def clear(self, t: Points, tolerance: float) -> bool:
        """Return whether everything keeps its distance after a move by `t`."""
        return self.walls.clear(self.polygons(t), tolerance)

    def hopeless(self, t: Points, near: float) -> bool:
        """Return whether no place nearer than `near` (mm) to a move `t` can be free.

        A quick yes: some point of a part would lie too deep in a neighbour, or some
        part too far over the edge. A no says nothing.
        """
        x0, y0, x1, y1 = self.walls.board.bounds
        if (
            self.box[0] + t[0] < x0 - near
            or self.box[1] + t[1] < y0 - near
            or self.box[2] + t[0] > x1 + near
            or self.box[3] + t[1] > y1 + near
        ):
            return True
        if not len(self.walls.solids):
            return False
        points = shapely.points(self.probes + t)
        i, j = self.walls.solid_tree.query(points, predicate="within")
        if not len(i):
            return False
        depth = shapely.distance(points[i], self.walls.solid_rims[j])
        return bool((depth > near).any())

    @cached_property
    def _polygons(self) -> NDArray[Any]:
        """The moving parts as polygons, where they lie at the start."""
        return np.array(
            [shapely.Polygon(rings[0], list(rings[1:])) for rings in self.rings],
            dtype=object,
        )

    @cached_property
    def _tree(self) -> Any:
        """A tree of the moving edges' boxes, where they lie at the start."""
        return shapely.STRtree(shapely.linestrings(self.edges.reshape(-1, 2, 2)))

    def _pairs(self, t: Points, grow: float) -> tuple[Any, Any]:
        """Return which moving edges and which walls come near after a move by `t`.

        Boxes are made of whichever are fewer: of one part among many walls its own
        edges, of a whole blank's parts the blank's few edges.
        """
        if len(self.walls.edges) < len(self.edges):
            low, high = self.walls.boxes
            low, high = low - (t + grow), high - (t - grow)
            boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
            theirs, mine = self._tree.query(boxes)
            return mine, theirs
        low, high = self.low + (t - grow), self.high + (t + grow)
        boxes = shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1])
        mine, theirs = self.walls.tree.query(boxes)
        return mine, theirs

    @cached_property
    def probes(self) -> Points:
        """Some points well inside the parts, shape (n, 2), mm."""
        found = []
        for shape, motion in self._shapes:
            middle = np.array(motion.point(shape.label_point))
            ring = motion.points(shape.rings[0])
            ring = ring[:: max(len(ring) // 12, 1)]
            inner = np.concatenate([middle[None], middle + 0.8 * (ring - middle)])
            polygon = shape.moved_polygon(motion)
            found.append(inner[shapely.contains_xy(polygon, inner)])
        return np.concatenate(found)

    def open_way(self, a: Points, b: Points) -> bool:
        """Return whether nothing at all lies along a straight move from a to b."""
        sweeps = [
            shapely.convex_hull(shapely.multipoints(np.concatenate([h + a, h + b])))
            for h in self._hulls
        ]
        # Only for a quick yes: holes and hollows are not looked into.
        return self.walls.clear(sweeps, -self.error - SKIN)

    def capsules(self, t: Points, far: float) -> Capsules:
        """Return the capsules that a move of up to `far` mm from `t` could enter."""
        grow = self.walls.greatest_reach + self.error + SKIN + far
        mine, theirs = self._pairs(t, grow)
        a, b = self.edges[mine], self.walls.edges[theirs]
        reach = self.walls.reach[theirs] + (self.error + SKIN)
        owner = self.walls.owner[theirs]
        # End of a moving edge against a wall, then a moving edge against a wall's end.
        starts = np.concatenate([b[:, :2] - a[:, :2], b[:, :2] - a[:, :2]])
        ends = np.concatenate([b[:, 2:] - a[:, :2], b[:, :2] - a[:, 2:]])
        return Capsules(
            starts, ends, np.concatenate([reach, reach]), np.concatenate([owner, owner])
        ).near(t, far)


class Capsules:
    """Many capsules at once, in the plane of moves.

    Parameters
    ----------
    start, end : ndarray of float64, shape (n, 2), mm
        Ends of the spines.
    reach : ndarray of float64, shape (n,), mm
        Their radii.
    owner : ndarray of int64, shape (n,)
        Whose they are.
    """

    def __init__(
        self, start: Points, end: Points, reach: Points, owner: NDArray[np.int64]
    ) -> None:
        self.start = start
        self.end = end
        self.reach = reach
        self.owner = owner
        along = end - start
        self.length: Points = np.hypot(along[:, 0], along[:, 1])
        # Single rows of numbers are much quicker to reckon with than pairs.
        least = np.maximum(self.length, 1e-300)
        self._ux, self._uy = along[:, 0] / least, along[:, 1] / least
        self._sx, self._sy = start[:, 0].copy(), start[:, 1].copy()
        self._ex, self._ey = end[:, 0].copy(), end[:, 1].copy()

    def __len__(self) -> int:
        return len(self.reach)

    @classmethod
    def joined(cls, several: Sequence[Capsules]) -> Capsules:
        """Return all capsules of several groups."""
        if len(several) == 1:
            return several[0]
        return cls(
            np.concatenate([c.start for c in several]),
            np.concatenate([c.end for c in several]),
            np.concatenate([c.reach for c in several]),
            np.concatenate([c.owner for c in several]),
        )

    def near(self, t: Points, far: float) -> Capsules:
        """Return those that a move of up to `far` from `t` could enter."""
        distance, _ = self.distance(t)
        keep = distance <= self.reach + far
        return Capsules(
            self.start[keep], self.end[keep], self.reach[keep], self.owner[keep]
        )

    def distance(self, t: Points) -> tuple[Points, Points]:
        """Return each spine's distance from `t`, and the vectors to `t` from it."""
        wx, wy = t[0] - self._sx, t[1] - self._sy
        s = np.minimum(np.maximum(wx * self._ux + wy * self._uy, 0.0), self.length)
        wx -= s * self._ux
        wy -= s * self._uy
        return np.sqrt(wx * wx + wy * wy), np.stack([wx, wy], axis=1)

    def first_hit(self, t: Points, way: Points, far: float, skip: Any) -> float:
        """Return how far `t` can go along a unit vector before it enters one.

        Parameters
        ----------
        far : float
            How far it wants to go, mm.
        skip : ndarray of bool, shape (n,)
            Capsules it touches and is known to leave or graze.
        """
        wx, wy = t[0] - self._sx, t[1] - self._sy
        across = self._ux * wy - self._uy * wx
        speed = self._ux * way[1] - self._uy * way[0]
        along = wx * self._ux + wy * self._uy
        drift = self._ux * way[0] + self._uy * way[1]
        hits = np.full(len(self), np.inf)
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            s = (np.copysign(self.reach, across) - across) / speed
            at = along + s * drift
            flat_hit = (np.abs(across) >= self.reach) & (s >= 0.0) & (at >= 0.0)
            flat_hit &= at <= self.length
        hits[flat_hit] = s[flat_hit]
        for px, py in ((wx, wy), (t[0] - self._ex, t[1] - self._ey)):
            towards = px * way[0] + py * way[1]
            root = towards * towards - px * px - py * py + self.reach * self.reach
            cap = (towards < 0.0) & (root >= 0.0)
            reach = -towards[cap] - np.sqrt(root[cap])
            hits[cap] = np.minimum(hits[cap], np.maximum(reach, 0.0))
        hits[skip] = np.inf
        return min(float(hits.min(initial=np.inf)), far)


class Hand:
    """Holds parts and moves them as the pointer wishes, snug against their neighbours.

    Parameters
    ----------
    groups : sequence of Group
        What moves, blank by blank; all by the same distance.
    at : tuple of float
        The move so far, mm; (0, 0) leaves the parts where they were picked up.
    """

    def __init__(self, groups: Sequence[Group], at: Point = (0.0, 0.0)) -> None:
        self.groups = list(groups)
        self.at: Points = np.array(at, dtype=np.float64)
        self._touched: tuple[int, ...] = ()

    def clear(self, t: Points, tolerance: float = CLEAR) -> bool:
        """Return whether all parts keep their distance after a move by `t`."""
        return all(group.clear(t, tolerance) for group in self.groups)

    def move(
        self, x: float, y: float, *, drop: float = 0.0, starts: Sequence[Point] = ()
    ) -> Step:
        """Go as near to a wished move as the neighbours allow.

        Parameters
        ----------
        x, y : float
            The move wished for, mm, counted from where the parts were picked up.
        drop : float
            A free place this near to the wish is taken even where no free way leads,
            mm: so a part drops into a hole or behind a neighbour.
        starts : sequence of tuple of float
            Moves worth trying to start from, such as the middle of a hole under the
            pointer.
        """
        wish = np.array((x, y), dtype=np.float64)
        if self.clear(wish):
            self.at = wish
            self._touched = self._touching(wish)
            return Step(x, y, self._touched, False)
        if not self.clear(self.at, LEGAL) and not self.enter((x, y), rings=WAY_OUT):
            # It was picked up in a conflict and there is no way out near the wish.
            self._touched = self._touching(self.at)
            return Step(float(self.at[0]), float(self.at[1]), self._touched, True)
        best = self._slide(self.at, wish)
        left = math.dist(best, wish)
        if left > drop * 0.25:
            for start in self._beginnings(wish, drop, starts):
                there = self._slide(start, wish)
                # A jump must be worth it, or the part would tremble between two ways.
                if math.dist(there, wish) < left * 0.7 - 0.01 and self.clear(
                    there, LEGAL
                ):
                    best, left = there, math.dist(there, wish)
        if self.clear(best, LEGAL):
            self.at = best
        self._touched = self._touching(self.at)
        return Step(float(self.at[0]), float(self.at[1]), self._touched, True)

    def push(self, way: Point, far: float = 5000.0) -> Point:
        """Go straight along until something is touched.

        Parameters
        ----------
        way : tuple of float
            Unit vector.
        far : float
            How far at most, mm.

        Returns
        -------
        tuple of float
            The move that led there, mm.
        """
        d = np.array(way, dtype=np.float64)
        t, left = self.at, far
        while left > 0.0:
            capsules = self._around(t, STRIDE)
            go = min(STRIDE, left)
            if len(capsules):
                distance, away = capsules.distance(t)
                touching = distance <= capsules.reach + TOUCH
                if (away[touching] @ d < -1e-9 * distance[touching]).any():
                    break
                hit = capsules.first_hit(t, d, go, touching)
            else:
                hit = go
            t = t + hit * d
            left -= hit
            if hit < go:
                break
        if self.clear(t, LEGAL):
            self.at = t
        return float(self.at[0]), float(self.at[1])

    def enter(self, wish: Point, rings: int = 6) -> bool:
        """Come to a blank from elsewhere: find a free place near a wish.

        Parameters
        ----------
        wish : tuple of float
            The move wished for, mm.
        rings : int
            How far to look round it, in thirds of the parts' own size.
        """
        middle = np.array(wish, dtype=np.float64)
        box = self.groups[0].box
        size = max(box[2] - box[0], box[3] - box[1]) / 3.0
        for ring in range(rings + 1):
            for k in range(max(6 * ring, 1)):
                angle = 2.0 * math.pi * k / max(6 * ring, 1)
                place = middle + ring * size * np.array(
                    (math.cos(angle), math.sin(angle))
                )
                if self.clear(place):
                    self.at = place
                    return True
        return False

    def _beginnings(
        self, wish: Points, drop: float, starts: Sequence[Point]
    ) -> list[Points]:
        """Return free places to come to the wish from, nearest first."""
        found = [np.array(s, dtype=np.float64) for s in starts]
        found = [s for s in found if self.clear(s)]
        if drop <= 0.0 or any(g.hopeless(wish, drop) for g in self.groups):
            return found
        capsules = self._around(wish, drop)
        ring = [
            wish + radius * np.array((math.cos(a), math.sin(a)))
            for radius in (drop * 0.5, drop)
            for a in np.arange(12) * (math.pi / 6.0)
        ]
        open_ones = [
            p for p in ring if bool(np.all(capsules.distance(p)[0] >= capsules.reach))
        ]
        # Outside every capsule may still be deep inside a neighbour: look properly.
        for p in open_ones[:6]:
            if self.clear(p):
                found.append(p)
                break
        return found

    def _around(self, t: Points, far: float) -> Capsules:
        return Capsules.joined([group.capsules(t, far) for group in self.groups])

    def _touching(self, t: Points) -> tuple[int, ...]:
        capsules = self.groups[0].capsules(t, 0.01)
        if not len(capsules):
            return ()
        distance, _ = capsules.distance(t)
        close = distance <= capsules.reach + 0.005
        return tuple(int(o) for o in np.unique(capsules.owner[close]))

    def _slide(self, start: Points, wish: Points) -> Points:
        """Move from a place towards a wish, along whatever is in the way."""
        t = start
        free = not self._touched
        for _ in range(12):
            d = wish - t
            left = math.hypot(*d)
            if left < 1e-9:
                return t
            if left > STRIDE and free:
                t, flew = self._fly(t, d, left)
                if flew:
                    continue
            before = t
            t, ended, free = self._creep(t, wish)
            if ended or math.dist(before, t) < 1e-6:
                break
        return self._pressed(t, wish)

    def _pressed(self, t: Points, wish: Points) -> Points:
        """Close the sliver that a last step along the tangent of an arc left open."""
        d = wish - t
        left = math.hypot(*d)
        if left < 1e-9:
            return t
        capsules = self._around(t, 1.0)
        if not len(capsules):
            return t
        distance, _ = capsules.distance(t)
        if (distance <= capsules.reach + TOUCH).any():
            return t
        return t + capsules.first_hit(
            t, d / left, min(left, 1.0), np.zeros(len(capsules), dtype=bool)
        ) * (d / left)

    def _fly(self, t: Points, d: Points, left: float) -> tuple[Points, bool]:
        """Cover free ground in few steps: try all of it, then half, then a quarter."""
        share = 1.0
        while share * left > STRIDE and share > 0.1:
            if all(group.open_way(t, t + share * d) for group in self.groups):
                return t + share * d, True
            share /= 2.0
        return t, False

    def _creep(self, t: Points, wish: Points) -> tuple[Points, bool, bool]:
        """Slide within one stride.

        Returns
        -------
        place : ndarray of float64, shape (2,)
            Where that led to.
        ended : bool
            Whether there is nothing more to gain.
        free : bool
            Whether nothing is touched there.
        """
        begin = t
        capsules = self._around(t, STRIDE)
        nearest = math.dist(t, wish)
        stale = 0
        for _ in range(40):
            d = wish - t
            left = math.hypot(*d)
            if left < 1e-9:
                return t, True, False
            if len(capsules):
                distance, away = capsules.distance(t)
                touching = distance <= capsules.reach + TOUCH
            else:
                touching = np.zeros(0, dtype=bool)
            if touching.any():
                normals = (
                    away[touching] / np.maximum(distance[touching], 1e-12)[:, None]
                )
                way = _allowed(d, normals)
            else:
                way = d
            length = math.hypot(*way)
            if length < 1e-7:
                return t, True, False
            room = STRIDE - math.dist(t, begin)
            if room < 1e-3:
                return t, False, not touching.any()
            unit = way / length
            far = min(length, room)
            go = capsules.first_hit(t, unit, far, touching) if len(capsules) else far
            t = t + go * unit
            now = math.dist(t, wish)
            stale = stale + 1 if now > nearest - 1e-5 else 0
            nearest = min(nearest, now)
            if stale >= 3:
                return t, True, False
        return t, True, False


def _allowed(d: Points, normals: Points) -> Points:
    """Return the part of a wish that leads into none of the touched capsules.

    Parameters
    ----------
    d : ndarray of float64, shape (2,)
        The wish.
    normals : ndarray of float64, shape (n, 2)
        Unit vectors that lead straight out of each.
    """
    inward = normals @ d
    slack = 1e-9 * math.hypot(*d)
    if inward.min() >= -slack:
        return d
    best = np.zeros(2)
    length = 0.0
    for i in np.flatnonzero(inward < -slack):
        along = d - inward[i] * normals[i]
        size = math.hypot(*along)
        if size > length and (normals @ along).min() >= -1e-7 * size:
            best, length = along, size
    return best
