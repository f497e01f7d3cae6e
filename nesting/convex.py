"""Rings into convex pieces, and holes joined to their outer ring by slits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from .kernels import FloatArray


def is_convex(ring: FloatArray) -> bool:
    """Whether the counter-clockwise ring never turns right."""
    edges = np.roll(ring, -1, axis=0) - ring
    after = np.roll(edges, -1, axis=0)
    cross = edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0]
    scale = np.abs(edges).max() ** 2 if len(edges) else 0.0
    return bool((cross >= -1e-12 * scale).all())


def convex_pieces(rings: Sequence[FloatArray]) -> list[FloatArray]:
    """Split a polygon with holes into convex polygons that cover it exactly.

    A constrained Delaunay triangulation whose triangles are merged across their longest
    shared edges as long as the union stays convex (Hertel & Mehlhorn 1983,
    doi:10.1007/3-540-12689-9_105).

    Parameters
    ----------
    rings : sequence of float64 (n, 2)
        The outer ring and its holes, in either direction, not closed.

    Returns
    -------
    list of float64 (k, 2)
        Counter-clockwise convex polygons on the polygon's own vertices.
    """
    outer = np.asarray(rings[0], dtype=np.float64)
    if len(rings) == 1 and is_convex(outer):
        return [outer.copy()]
    points: list[tuple[float, float]] = []
    index: dict[tuple[float, float], int] = {}
    pieces: list[list[int] | None] = []
    polygon = shapely.Polygon(outer, list(rings[1:]))
    for triangle in shapely.constrained_delaunay_triangles(polygon).geoms:
        corners = shapely.get_coordinates(triangle)[:3]
        (ax, ay), (bx, by), (cx, cy) = corners
        if (bx - ax) * (cy - ay) < (by - ay) * (cx - ax):
            corners = corners[::-1]
        row = []
        for x, y in corners.tolist():
            if (x, y) not in index:
                index[x, y] = len(points)
                points.append((x, y))
            row.append(index[x, y])
        pieces.append(row)
    _merge(points, pieces)
    table = np.array(points)
    return [table[piece] for piece in pieces if piece is not None]


def _merge(points: list[tuple[float, float]], pieces: list[list[int] | None]) -> None:
    """Merge neighbouring pieces in place while the union stays convex."""
    owner: dict[tuple[int, int], int] = {}
    for number, piece in enumerate(pieces):
        if piece is not None:
            for a, b in zip(piece, piece[1:] + piece[:1], strict=True):
                owner[a, b] = number

    def length(edge: tuple[int, int]) -> float:
        (ax, ay), (bx, by) = points[edge[0]], points[edge[1]]
        return (ax - bx) ** 2 + (ay - by) ** 2

    shared = [edge for edge in owner if edge[0] < edge[1] and edge[::-1] in owner]
    shared.sort(key=lambda edge: (-length(edge), edge))
    for a, b in shared:
        left, right = owner[a, b], owner[b, a]
        one, two = pieces[left], pieces[right]
        if left == right or one is None or two is None:
            continue
        # one runs ... a b ...; two runs ... b a ...: splice two's path from a to b.
        i, j = one.index(b), two.index(a)
        path = two[j:] + two[:j]  # a ... b
        joined = one[i:] + one[:i] + path[1:-1]  # b ... a, then two's inner corners
        if _all_left(points, joined):
            pieces[left] = joined
            pieces[right] = None
            for p, q in zip(joined, joined[1:] + joined[:1], strict=True):
                owner[p, q] = left


def _all_left(points: list[tuple[float, float]], piece: list[int]) -> bool:
    n = len(piece)
    for k in range(n):
        ax, ay = points[piece[k - 2]]
        bx, by = points[piece[k - 1]]
        cx, cy = points[piece[k]]
        if (bx - ax) * (cy - by) < (by - ay) * (cx - bx):
            return False
    return True


def join_holes(rings: Sequence[FloatArray]) -> FloatArray:
    """Join each hole to the outer ring by a slit of no width; return the one ring.

    Parameters
    ----------
    rings : sequence of float64 (n, 2)
        The outer ring counter-clockwise and its holes clockwise, not closed.

    Returns
    -------
    float64 (m, 2)
        A weakly simple counter-clockwise ring with the same inside.
    """
    ring = np.asarray(rings[0], dtype=np.float64)
    # A slit runs from the hole's rightmost point along the shortest free line; holes
    # farther right go first, so that a later slit may end on an earlier hole.
    holes = sorted(rings[1:], key=lambda hole: -float(hole[:, 0].max()))
    for hole in holes:
        start = int(np.argmax(hole[:, 0]))
        point = hole[start]
        turned = np.roll(hole, -start, axis=0)
        at = _visible_corner(ring, point)
        ring = np.concatenate([ring[: at + 1], turned, point[None], ring[at:]])
    return ring


def _visible_corner(ring: FloatArray, point: FloatArray) -> int:
    """Index of a ring corner that sees the point, to the point's right.

    Cast a ray to the right; the end of the hit edge that lies farther right sees the
    point unless reflex corners lie in the triangle between, in which case the one of
    least angle to the ray does (Eberly's account of the classic bridge search).
    """
    px, py = float(point[0]), float(point[1])
    n = len(ring)
    best_x, hit = np.inf, -1
    for i in range(n):
        (ax, ay), (bx, by) = ring[i], ring[(i + 1) % n]
        if (ay > py) == (by > py):
            continue
        x = ax + (bx - ax) * (py - ay) / (by - ay)
        # A slit is walked both ways; the one that rises has the inside to its left.
        if px <= x and (x < best_x or (x == best_x and by > ay)):
            best_x, hit = x, i
    if hit < 0:
        raise ValueError("a hole lies outside its outer ring")
    a, b = hit, (hit + 1) % n
    candidate = a if ring[a, 0] > ring[b, 0] else b
    cx, cy = float(ring[candidate, 0]), float(ring[candidate, 1])
    best, key = candidate, None
    for i in range(n):
        x, y = float(ring[i, 0]), float(ring[i, 1])
        if x < px or i == candidate:
            continue
        if not _in_triangle(x, y, px, py, best_x, py, cx, cy):
            continue
        if not _cone_holds(ring, i, px, py):
            continue
        rank = (abs(y - py) / max(x - px, 1e-300), x - px)
        if key is None or rank < key:
            best, key = i, rank
    if key is None and not _cone_holds(ring, candidate, px, py):
        for i in range(n):  # the same point may occur twice, once per side of a slit
            same = ring[i, 0] == cx and ring[i, 1] == cy
            if same and _cone_holds(ring, i, px, py):
                return i
    return best


def _in_triangle(
    x: float,
    y: float,
    ax: float,
    ay: float,
    bx: float,
    by: float,
    cx: float,
    cy: float,
) -> bool:
    d1 = (bx - ax) * (y - ay) - (by - ay) * (x - ax)
    d2 = (cx - bx) * (y - by) - (cy - by) * (x - bx)
    d3 = (ax - cx) * (y - cy) - (ay - cy) * (x - cx)
    return (d1 >= 0 and d2 >= 0 and d3 >= 0) or (d1 <= 0 and d2 <= 0 and d3 <= 0)


def _cone_holds(ring: FloatArray, i: int, px: float, py: float) -> bool:
    """Whether the direction from corner `i` to the point starts inside the ring."""
    n = len(ring)
    ax, ay = ring[i - 1]
    bx, by = ring[i]
    cx, cy = ring[(i + 1) % n]
    left_in = (bx - ax) * (py - by) - (by - ay) * (px - bx) > 0
    left_out = (cx - bx) * (py - by) - (cy - by) * (px - bx) > 0
    if (bx - ax) * (cy - by) - (by - ay) * (cx - bx) >= 0:
        return bool(left_in and left_out)
    return bool(left_in or left_out)
