"""Edges in line: where a dragged part would stand flush with something near it.

A **line-up** is a line of the moving parts (a side or the middle of their box, or a
long straight edge) and a parallel line of something else. The wish of a drag is changed
by some pixels so that the two fall together; the guide that is drawn names whom with.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ...nesting.model.motion import Point, Points
from .contact import Group
from .walls import Owner
from .words import tr

LONG = 0.2
"""Edges count from this share of their shape's larger side on."""

PARALLEL = 0.01
"""Edges nearer than this to one direction are parallel, degrees."""

NEAR = 0.75
"""Only things nearer than this, in the moving parts' larger side, are lined up with."""

HOLDS = 2e-3
"""A line-up that is off by no more is kept, mm."""


@dataclass(frozen=True)
class Guide:
    """A line-up that holds.

    Attributes
    ----------
    line : tuple of tuple of float
        Both ends, in the blank's coordinates, mm.
    text : str
        What is in line with whom.
    """

    line: tuple[Point, Point]
    text: str

    def moved(self, by: Point) -> Guide:
        """Return it where it lies after a move, mm."""
        (ax, ay), (bx, by_) = self.line
        return Guide(((ax + by[0], ay + by[1]), (bx + by[0], by_ + by[1])), self.text)


@dataclass(frozen=True)
class _Slant:
    """Pairs of parallel long edges, the moving parts' and others', not upright ones.

    Attributes
    ----------
    normals : ndarray of float64, shape (n, 2)
        Across the other's edge.
    offsets : ndarray of float64, shape (n,), mm
        How far apart the two lines are along the normal.
    lines : ndarray of float64, shape (n,), mm
        Where the other's line lies along it.
    owners : ndarray of int64, shape (n,)
        Whose edge it is.
    """

    normals: Points
    offsets: Points
    lines: Points
    owners: NDArray[np.int64]


class Aligner:
    """Finds line-ups for parts that move together over one blank.

    Parameters
    ----------
    group : Group
        What moves, and what stands on the blank.
    name : callable of Owner
        Returns how people call what something belongs to.
    """

    def __init__(self, group: Group, name: Callable[[Owner], str]) -> None:
        walls = group.walls
        self._name = name
        self._owners = walls.owners
        starts = np.searchsorted(walls.owner, np.arange(len(walls.owners)))
        low = np.minimum(walls.edges[:, :2], walls.edges[:, 2:])
        high = np.maximum(walls.edges[:, :2], walls.edges[:, 2:])
        self._boxes: Points = np.hstack(
            [
                np.minimum.reduceat(low, starts, axis=0),
                np.maximum.reduceat(high, starts, axis=0),
            ]
        )
        self._box: Points = np.array(group.box)
        self._reach = max(
            NEAR * float(max(self._box[2] - self._box[0], self._box[3] - self._box[1])),
            2.0 * walls.gap + 10.0,
        )
        normals: list[Points] = []
        offsets: list[Points] = []
        lines: list[Points] = []
        owners: list[NDArray[np.int64]] = []
        kinds: list[NDArray[np.int64]] = []
        theirs = self._boxes.copy()
        m = walls.margin
        theirs[0] += (m, m, -m, -m)  # nearer than the margin nothing comes anyway
        everyone = np.arange(len(theirs))
        for axis in (0, 1):
            normal = np.zeros((len(theirs), 2))
            normal[:, axis] = 1.0
            for k, (a, b) in enumerate(((1.0, 0.0), (0.5, 0.5), (0.0, 1.0))):
                mine = a * self._box[axis] + b * self._box[axis + 2]
                normals.append(normal)
                offsets.append(a * theirs[:, axis] + b * theirs[:, axis + 2] - mine)
                lines.append(a * theirs[:, axis] + b * theirs[:, axis + 2])
                owners.append(everyone)
                kinds.append(np.full(len(theirs), 3 * axis + k))
        slant = _slanted(group, self._boxes)
        normals.append(slant.normals)
        offsets.append(slant.offsets)
        lines.append(slant.lines)
        owners.append(slant.owners)
        kinds.append(np.full(len(slant.offsets), 6))
        self._normals: Points = np.concatenate(normals)
        self._offsets: Points = np.concatenate(offsets)
        self._lines: Points = np.concatenate(lines)
        self._owner = np.concatenate(owners)
        self._kinds = np.concatenate(kinds)

    def snap(
        self, wish: Point, tolerance: float, axis: int | None = None
    ) -> tuple[Point, list[int]]:
        """Return the wish changed so that something falls in line.

        Parameters
        ----------
        wish : tuple of float
            The move wished for, mm.
        tolerance : float
            How far it may be changed, mm.
        axis : int or None
            0 or 1 when only x or y may change.

        Returns
        -------
        wish : tuple of float
            The same or another wish.
        found : list of int
            The line-ups it should reach, for `guides`.
        """
        t = np.array(wish)
        off = self._offsets - self._normals @ t
        good = (np.abs(off) <= tolerance) & self._is_near(t)[self._owner]
        if axis is not None:
            good &= np.abs(self._normals[:, 1 - axis]) < 1e-9
        places = np.flatnonzero(good)
        if not len(places):
            return wish, []
        places = places[np.argsort(np.abs(off[places]), kind="stable")]
        first = int(places[0])
        move = off[first] * self._normals[first]
        n = self._normals[first]
        across = n[0] * self._normals[places, 1] - n[1] * self._normals[places, 0]
        rest = places[np.abs(across) > 0.3]
        for second in rest[:4]:
            both = np.stack([n, self._normals[second]])
            together = np.linalg.solve(both, (off[first], off[second]))
            if np.hypot(*together) <= 1.5 * tolerance:
                move = together
                found = [first, int(second)]
                break
        else:
            found = [first]
        t = t + move
        return (float(t[0]), float(t[1])), found

    def _is_near(self, t: Points) -> NDArray[np.bool_]:
        x0, y0, x1, y1 = self._box + np.tile(t, 2)
        b = self._boxes
        dx = np.maximum(np.maximum(b[:, 0] - x1, x0 - b[:, 2]), 0.0)
        dy = np.maximum(np.maximum(b[:, 1] - y1, y0 - b[:, 3]), 0.0)
        near: NDArray[np.bool_] = np.hypot(dx, dy) <= self._reach
        return near

    def guides(self, found: list[int], t: Point) -> list[Guide]:
        """Return those of some line-ups that hold after a move, one a line."""
        place = np.array(t)
        out = []
        for k in found:
            if abs(self._offsets[k] - self._normals[k] @ place) <= HOLDS:
                out.append(Guide(self._line(k, place), self._words(k)))
        return out

    def _line(self, k: int, t: Points) -> tuple[Point, Point]:
        """Return the line along which two things are in line, over both of them."""
        nx, ny = self._normals[k]
        mine = self._box + np.tile(t, 2)
        theirs = self._boxes[self._owner[k]]
        both = np.array(
            [(b[i], b[j]) for b in (mine, theirs) for i in (0, 2) for j in (1, 3)]
        )
        along = both @ np.array((-ny, nx))
        offset = self._lines[k]
        a, b = float(along.min()), float(along.max())
        return (
            (float(nx * offset - ny * a), float(ny * offset + nx * a)),
            (float(nx * offset - ny * b), float(ny * offset + nx * b)),
        )

    def _words(self, k: int) -> str:
        owner = self._owners[self._owner[k]]
        kind = int(self._kinds[k])
        if owner.kind == "edge" and kind in (1, 4):
            return tr("in the middle of the blank")
        words = (
            tr("left sides in line with {name}"),
            tr("middles in line with {name}"),
            tr("right sides in line with {name}"),
            tr("lower sides in line with {name}"),
            tr("middles in line with {name}"),
            tr("upper sides in line with {name}"),
            tr("edges in line with {name}"),
        )[kind]
        if owner.kind == "edge":
            words = tr("at the margin of {name}")
        return words.format(name=self._name(owner))


def _slanted(group: Group, boxes: Points) -> _Slant:
    walls = group.walls
    x0, y0, x1, y1 = group.box
    mine = _long(group.edges, np.full(len(group.edges), max(x1 - x0, y1 - y0)))
    sizes = np.maximum(boxes[:, 2] - boxes[:, 0], boxes[:, 3] - boxes[:, 1])
    theirs = _long(walls.edges, sizes[walls.owner])
    a, b = group.edges[mine], walls.edges[theirs]
    off = np.abs(_angles(a)[:, None] - _angles(b)[None, :])
    i, j = np.nonzero(np.minimum(off, 180.0 - off) <= PARALLEL)
    along = b[j, 2:] - b[j, :2]
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    normals = np.stack([-along[:, 1], along[:, 0]], axis=1)
    lines = (normals * b[j, :2]).sum(axis=1)
    middles = (a[i, :2] + a[i, 2:]) / 2.0
    offsets = lines - (normals * middles).sum(axis=1)
    return _Slant(normals, offsets, lines, walls.owner[theirs[j]])


def _angles(edges: Points) -> Points:
    angles: Points = np.degrees(
        np.arctan2(edges[:, 3] - edges[:, 1], edges[:, 2] - edges[:, 0])
    )
    return angles % 180.0


def _long(edges: Points, sizes: Points) -> NDArray[np.int64]:
    """Return which edges are long for their shapes and neither upright nor level."""
    along = np.abs(edges[:, 2:] - edges[:, :2])
    length = np.hypot(along[:, 0], along[:, 1])
    slanted = along.min(axis=1) > np.radians(PARALLEL) * length
    return np.flatnonzero((length >= LONG * sizes) & slanted)
