"""Outlines made ready for the engine: grown, simplified outward, centred.

The engine knows a part as a `Shape`: straight-edged rings about a centre of their own.
The shape always **contains** the true outline grown by half the gap, so whatever is
free of overlap between shapes keeps the gap between parts; `Shape.error` states by how
much the shape exceeds the grown outline at most.

A copy of the shape at angle ``a`` and place ``(x, y)`` is the ring points turned by
``a`` about (0, 0) and moved by ``(x, y)``. In terms of the drawing's own coordinates
``p`` (mirrored first where the shape is the flipped one) that is
``R(a) (p - origin) + (x, y)``; `drawing_place` gives the translation.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from .kernels import FloatArray
from .kernels_prepare import farthest

ROUND = 32
"""Segments to a quarter of the rounds by which grown outlines are measured."""

ROUNDING = 1e-9
"""Distance in mm that is put down to rounding."""


@dataclass(frozen=True, eq=False)
class Shape:
    """A polygon with holes about its own centre, as the engine nests it.

    Attributes
    ----------
    rings : tuple of float64 (n, 2), mm
        Outer ring counter-clockwise, then holes clockwise; not closed.
    origin : float64 (2,), mm
        The drawing's point that lies at (0, 0) of the rings.
    area : float, mm²
        Area of the outline as drawn, neither grown nor simplified.
    error : float, mm
        Greatest distance by which the rings exceed the grown outline.
    mirrored : bool
        Whether the drawing was mirrored (x to -x) first.
    """

    rings: tuple[FloatArray, ...]
    origin: FloatArray
    area: float
    error: float = 0.0
    mirrored: bool = False

    @property
    def polygon(self) -> shapely.Polygon:
        """The rings as a shapely polygon."""
        return shapely.Polygon(self.rings[0], list(self.rings[1:]))


def prepare_shape(
    rings: Sequence[FloatArray],
    *,
    grow: float = 0.0,
    slack: float = 0.0,
    max_vertices: int = 40,
    tolerance: float | None = None,
    mirrored: bool = False,
) -> Shape:
    """Make an outline ready: mirror, grow, simplify outward, centre, slacken.

    Parameters
    ----------
    rings : sequence of float64 (n, 2), mm
        Outer ring and holes of a valid polygon, in any direction, not closed. Curves
        must have been flattened outward already.
    grow : float, mm
        Distance to grow by, half the gap as a rule; negative shrinks. Corners are cut
        outside the true round, so the grown outline contains it.
    slack : float, mm
        Distance every edge is drawn back at the end, so that pieces which fit exactly
        have room to be found; far below any tolerance that matters.
    max_vertices : int
        Simplify until no more vertices are left than this, or `tolerance` is reached.
    tolerance : float or None, mm
        Greatest error a simplification may make; by default 0.2 % of the diameter.
    mirrored : bool
        Mirror x to -x first.

    Returns
    -------
    Shape

    Raises
    ------
    ValueError
        If the outline is not a valid polygon or vanishes.
    """
    loops = [np.array(ring, dtype=np.float64) for ring in rings]
    if mirrored:
        loops = [ring * np.array([-1.0, 1.0]) for ring in loops]
    polygon = shapely.Polygon(loops[0], loops[1:])
    if not polygon.is_valid or polygon.area <= 0.0:
        raise ValueError("the outline crosses itself or has no area")
    area = float(polygon.area)
    lack = 0.0
    if grow != 0.0:
        grown, lack = _grown(polygon, grow)
        if grown.geom_type != "Polygon" or grown.is_empty:
            raise ValueError("the outline falls apart when it is shrunk by the gap")
        loops = _loops(grown)
    loops = _oriented(loops)
    low, high = loops[0].min(axis=0), loops[0].max(axis=0)
    if tolerance is None:
        tolerance = 0.002 * float(np.hypot(*(high - low)))
    loops, error = simplify_outward(loops, max_vertices, tolerance)
    error += lack
    centre = np.array(shapely.Polygon(loops[0], loops[1:]).centroid.coords[0])
    loops = [ring - centre for ring in loops]
    if slack > 0.0:
        loops = [_drawn_back(ring, slack) for ring in loops]
    for ring in loops:
        ring.setflags(write=False)
    return Shape(tuple(loops), centre, area, error, mirrored)


def _grown(polygon: shapely.Polygon, grow: float) -> tuple[shapely.Geometry, float]:
    """Grow a polygon, corners cut outside the true round; tell by how much too far.

    Where edges meet nearly straight, GEOS takes one end of two offset edges for both
    and falls short by some micrometres. What it lacks is measured and added; nothing is
    lacking, and nothing added, where corners are plain, as between right angles.
    """
    added = 0.0
    while True:
        grown = polygon.buffer(grow + added, join_style="mitre", mitre_limit=1.05)
        if grow < 0.0 or grown.geom_type != "Polygon":
            return grown, added
        short = polygon.buffer(grow, quad_segs=ROUND).difference(grown)
        if short.is_empty:
            return grown, added
        corners = shapely.points(shapely.get_coordinates(short))
        lack = float(shapely.distance(corners, grown).max())
        if lack <= ROUNDING or added > 0.01 * grow:
            return grown, added
        added += 1.1 * lack


def _loops(polygon: shapely.Polygon) -> list[FloatArray]:
    rings = [polygon.exterior, *polygon.interiors]
    return [np.array(ring.coords)[:-1] for ring in rings]


def _signed_area(ring: FloatArray) -> float:
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _oriented(rings: Sequence[FloatArray]) -> list[FloatArray]:
    """Outer ring counter-clockwise, holes clockwise: material always to the left."""
    out = []
    for k, ring in enumerate(rings):
        ccw = _signed_area(ring) > 0.0
        out.append(ring if ccw == (k == 0) else ring[::-1].copy())
    return out


def _drawn_back(ring: FloatArray, distance: float) -> FloatArray:
    """Move every edge by the tiny distance towards the material on its left."""
    ahead = np.roll(ring, -1, axis=0) - ring
    length = np.hypot(ahead[:, 0], ahead[:, 1])
    normal = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1) / length[:, None]
    before = np.roll(normal, 1, axis=0)
    along = 1.0 + (normal * before).sum(axis=1)
    shift = (normal + before) / np.maximum(along, 0.02)[:, None]
    moved: FloatArray = ring + distance * shift
    return moved


# ---------------------------------------------------------------- simplification


def simplify_outward(
    rings: Sequence[FloatArray], max_vertices: int, tolerance: float
) -> tuple[list[FloatArray], float]:
    """Drop vertices so that the polygon only grows, and state by how much.

    Two moves: a reflex corner is cut off, which fills it; an edge between two convex
    corners is dropped and its neighbours are prolonged until they meet. The cheapest
    move over all rings goes first. Straight-through vertices always go.

    Parameters
    ----------
    rings : sequence of float64 (n, 2)
        Outer ring counter-clockwise, holes clockwise.
    max_vertices : int
        Stop once all rings together have no more vertices.
    tolerance : float, mm
        Never exceed the given outline by more.

    Returns
    -------
    rings : list of float64 (m, 2)
    error : float, mm
        Greatest distance a move took the outline outward.
    """
    limit = tolerance
    edges = np.concatenate([_edges(ring) for ring in rings])
    while True:
        loops, moved = _simplified(rings, max_vertices, limit)
        if not moved:
            return loops, 0.0
        polygon = shapely.Polygon(loops[0], loops[1:])
        if polygon.is_valid:
            # The rings do not enter the outline, so it is as far away as its edges.
            accuracy = 0.1 * limit
            error = max(farthest(ring, edges, accuracy) for ring in loops)
            if error <= tolerance:
                return loops, error
        limit = 0.5 * limit if limit > 1e-3 * tolerance else 0.0


def _edges(ring: FloatArray) -> FloatArray:
    ahead = np.roll(ring, -1, axis=0) - ring
    square = np.maximum((ahead**2).sum(axis=1), 1e-300)
    return np.column_stack([ring, ahead, 1.0 / square])


def _simplified(
    rings: Sequence[FloatArray], max_vertices: int, limit: float
) -> tuple[list[FloatArray], bool]:
    """Apply the cheapest moves up to the limit; tell whether any was not free."""
    loops = [ring.copy() for ring in rings]
    size = float(np.abs(loops[0]).max()) + 1e-300
    moves = [_cheapest_move(ring) for ring in loops]
    moved = False
    while True:
        k = min(range(len(loops)), key=lambda i: moves[i][0])
        cost, at, corner = moves[k]
        if cost > 1e-12 * size:
            if cost > limit or sum(len(ring) for ring in loops) <= max_vertices:
                return loops, moved
            moved = True
        loops[k] = _apply(loops[k], at, corner)
        moves[k] = _cheapest_move(loops[k])


def _cheapest_move(ring: FloatArray) -> tuple[float, int, FloatArray | None]:
    """Cost, vertex, and new corner (None to cut the vertex off) of the best move."""
    if len(ring) <= 3:
        return math.inf, 0, None
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    e_in, e_out = ring - before, after - ring
    cross = e_in[:, 0] * e_out[:, 1] - e_in[:, 1] * e_out[:, 0]
    chord = after - before
    span = np.hypot(chord[:, 0], chord[:, 1])
    height = np.abs(cross) / np.maximum(span, 1e-300)
    ahead = (e_in * e_out).sum(axis=1) > 0.0
    scale = np.hypot(e_in[:, 0], e_in[:, 1]) * np.hypot(e_out[:, 0], e_out[:, 1])
    straight = ahead & (np.abs(cross) <= 1e-12 * scale)
    cut = np.where((cross < 0.0) | straight, height, np.inf)
    # Dropping edge i -> i+1: prolong e_in of i and e_out of i+1 to their meeting point.
    e_next = np.roll(e_out, -1, axis=0)
    turn = e_in[:, 0] * e_next[:, 1] - e_in[:, 1] * e_next[:, 0]
    good = (cross > 0.0) & (np.roll(cross, -1) > 0.0) & (turn > 1e-9 * np.abs(cross))
    good &= turn > 0.0
    t = np.divide(
        e_out[:, 0] * e_next[:, 1] - e_out[:, 1] * e_next[:, 0],
        turn,
        out=np.full(len(ring), np.inf),
        where=good,
    )
    with np.errstate(invalid="ignore", over="ignore"):
        tip = ring + t[:, None] * e_in
        foot = ((tip - ring) * e_out).sum(axis=1) / (e_out**2).sum(axis=1)
        nearest = ring + np.clip(foot, 0.0, 1.0)[:, None] * e_out
        far = np.hypot(*(tip - nearest).T)
    reach = np.where(good & np.isfinite(far), far, np.inf)
    i, j = int(np.argmin(cut)), int(np.argmin(reach))
    if cut[i] <= reach[j]:
        return float(cut[i]), i, None
    return float(reach[j]), j, tip[j]


def _apply(ring: FloatArray, at: int, corner: FloatArray | None) -> FloatArray:
    if corner is None:
        return np.delete(ring, at, axis=0)
    ring = ring.copy()
    ring[at] = corner
    return np.delete(ring, (at + 1) % len(ring), axis=0)


# ---------------------------------------------------------------- turning


def cos_sin(angle: float) -> tuple[float, float]:
    """Cosine and sine of an angle in degrees, exact at quarter turns."""
    quarter = angle / 90.0
    if quarter == round(quarter):
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[round(quarter) % 4]
    return math.cos(math.radians(angle)), math.sin(math.radians(angle))


def turned(rings: Sequence[FloatArray], angle: float) -> list[FloatArray]:
    """Turn the rings counter-clockwise about (0, 0); exact at quarter turns."""
    c, s = cos_sin(angle)
    matrix = np.array([[c, s], [-s, c]])
    return [ring @ matrix for ring in rings]


def aligning_turns(ring: FloatArray, most: int) -> list[float]:
    """Return the turns that lay an edge along an axis, those of the longest first.

    Parameters
    ----------
    ring : float64 (n, 2), mm
    most : int
        How many at most.

    Returns
    -------
    list of float
        Degrees in ``[0, 360)``; the four quarters of a direction stand together.
    """
    edge = np.diff(ring, axis=0, append=ring[:1])
    length = np.hypot(edge[:, 0], edge[:, 1])
    towards = np.round(np.degrees(np.arctan2(edge[:, 1], edge[:, 0])) % 90.0, 9)
    towards[towards >= 90.0 - 1e-9] = 0.0
    directions = np.unique(towards)
    total = [(-float(length[towards == d].sum()), float(d)) for d in directions]
    turns = [
        (90.0 * quarter - d) % 360.0 for _, d in sorted(total) for quarter in range(4)
    ]
    return turns[:most]


def least_box_turn(ring: FloatArray) -> float:
    """Return the turn that brings the least bounding box of some points upright.

    Parameters
    ----------
    ring : float64 (n, 2), mm

    Returns
    -------
    float
        Degrees in ``[0, 180)``; 0 where the box as drawn is nearly as small.
    """
    hull = shapely.MultiPoint(ring).convex_hull
    if hull.geom_type != "Polygon":
        return 0.0
    corners = np.array(shapely.minimum_rotated_rectangle(hull).exterior.coords)
    sides = np.diff(corners[:3], axis=0)
    lengths = np.hypot(sides[:, 0], sides[:, 1])
    width, height = np.ptp(ring, axis=0)
    if lengths.prod() > 0.98 * width * height:
        return 0.0
    dx, dy = sides[int(np.argmax(lengths))]
    return -math.degrees(math.atan2(dy, dx)) % 180.0


def share_along_axes(ring: FloatArray) -> float:
    """Return the share of a ring's length that runs along the axes, 0 to 1."""
    edge = np.abs(np.diff(ring, axis=0, append=ring[:1]))
    length = np.hypot(edge[:, 0], edge[:, 1])
    straight = edge.min(axis=1) <= 1e-9 * np.abs(ring).max()
    return float(length[straight].sum() / length.sum())


def distinct_angles(shape: Shape, angles: Sequence[float]) -> list[float]:
    """Drop the angles at which the shape looks like at an earlier one."""
    size = float(np.abs(shape.rings[0]).max())
    kept: list[float] = []
    seen: list[list[FloatArray]] = []
    for angle in angles:
        rings = turned(shape.rings, angle)
        if any(_same(rings, other, 1e-7 * size) for other in seen):
            continue
        kept.append(float(angle))
        seen.append(rings)
    return kept


def _same(one: list[FloatArray], two: list[FloatArray], tolerance: float) -> bool:
    """Whether the rings coincide, up to the order of holes and the first vertices."""
    left = list(two)
    for ring in one:
        for k, other in enumerate(left):
            if len(ring) == len(other) and _same_ring(ring, other, tolerance):
                del left[k]
                break
        else:
            return False
    return True


def _same_ring(one: FloatArray, two: FloatArray, tolerance: float) -> bool:
    starts = np.flatnonzero(np.abs(two - one[0]).max(axis=1) <= tolerance)
    return any(
        np.abs(np.roll(two, -int(start), axis=0) - one).max() <= tolerance
        for start in starts
    )


def drawing_place(
    shape: Shape, angle: float, x: float, y: float
) -> tuple[float, float]:
    """Return the drawing's own translation for a copy of the shape at the place."""
    c, s = cos_sin(angle)
    ox, oy = float(shape.origin[0]), float(shape.origin[1])
    return x - (c * ox - s * oy), y - (s * ox + c * oy)


# ---------------------------------------------------------------- rooms


@dataclass(frozen=True, eq=False)
class RoomOutline:
    """Where parts may lie: a rectangle, less what the walls fill of it.

    Attributes
    ----------
    rectangle : tuple of four floats, mm
        ``x0, y0, x1, y1``; a copy's bounding box must lie within it.
    walls : tuple of Shape
        Fixed shapes, each at the place `Shape.origin` with angle 0, that no copy may
        overlap: the outside of a room that is no rectangle, and keep-outs.
    """

    rectangle: tuple[float, float, float, float]
    walls: tuple[Shape, ...]


def prepare_room(
    usable: shapely.Polygon | shapely.MultiPolygon,
    *,
    slack: float = 0.0,
    max_vertices: int = 120,
    tolerance: float | None = None,
) -> RoomOutline:
    """Turn a usable area into a rectangle and the walls that fill the rest of it.

    Grown shapes are laid out in it: for parts grown by half the gap, the usable area is
    the blank inset by the margin, less the keep-outs with their clearance, then grown
    by half the gap.

    Raises
    ------
    ValueError
        If the area is empty.
    """
    if usable.is_empty or usable.area <= 0.0:
        raise ValueError("the usable area is empty")
    x0, y0, x1, y1 = usable.bounds
    rectangle = (x0 - slack, y0 - slack, x1 + slack, y1 + slack)
    box = shapely.box(x0, y0, x1, y1)
    if box.difference(usable).area <= 1e-12 * box.area:
        return RoomOutline(rectangle, ())
    # The outside reaches far enough that the way out of it always leads into the room.
    reach = math.hypot(x1 - x0, y1 - y0)
    frame = shapely.box(x0 - reach, y0 - reach, x1 + reach, y1 + reach)
    outside = frame.difference(usable)
    if tolerance is None:
        tolerance = 0.0005 * reach
    walls = []
    for piece in shapely.get_parts(outside):
        if piece.area <= 1e-12 * box.area:
            continue
        walls.append(
            prepare_shape(
                _loops(piece),
                slack=slack,
                max_vertices=max_vertices,
                tolerance=tolerance,
            )
        )
    # A frame around a full rectangle says no more than the rectangle does.
    return RoomOutline(rectangle, tuple(w for w in walls if not _is_frame(w, box)))


def _is_frame(wall: Shape, box: shapely.Polygon) -> bool:
    if len(wall.rings) != 2:
        return False
    inner = shapely.Polygon(wall.rings[1] + wall.origin)
    return bool(inner.symmetric_difference(box).area <= 1e-9 * box.area)
