"""Proofs of bounds gone through again: shapely alone, none of the engine.

Areas are measured on polygons flattened and buffered more finely than the proof's own.
That two copies cannot share a blank is shown by a union of sums of triangles in place
of no-fit regions. The weights of rectangles are worked out one by one. The fewest
sheets that meet the needs are found by a solver for whole-number programs.

A part that lies in a proof as "cannot lie on this stock" is measured anew as well. What
the proof leaves to the reader's trust are the theorems named in `bound`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np
import shapely
import shapely.affinity
from numpy.typing import NDArray

from .bound import Bound, Crowd, Need, Proof
from .feasible import Function
from .model.job import Job
from .model.outline import Outline
from .model.part import Part
from .model.rules import same_board
from .model.stock import Stock

FINE = 0.002
"""Chord error, mm."""

ARCS = 12
"""Arcs that half a circle is cut into where a part may take every turn ..."""

HALVINGS = 4
"""... and how often each may be halved."""


def recheck(proof: Proof, job: Job) -> bool:
    """Return whether a proof holds, worked out again from the job."""
    if not proof.parts:
        return proof.count == 0
    known = {part.id: part for part in job.parts}
    if any(
        name not in known or not 0 < count <= known[name].quantity
        for name, count, _ in proof.parts
    ):
        return False
    return _Recheck(proof, job).holds()


def recheck_all(bound: Bound, job: Job) -> bool:
    """Return whether every proof holds and they come to the bound."""
    total = sum(proof.count for proof in bound.proofs)
    cost = math.fsum(proof.cost for proof in bound.proofs)
    boards = [proof.parts[0][0] for proof in bound.proofs if proof.parts]
    for k, one in enumerate(boards):
        for two in boards[:k]:
            a, b = job.part(one), job.part(two)
            if a.thickness == b.thickness and same_board(a.material, 0, b.material, 0):
                return False  # one board counted twice
    return (
        all(recheck(proof, job) for proof in bound.proofs)
        and bound.sheets <= total
        and bound.cost <= cost + 1e-9
    )


class _Recheck:
    def __init__(self, proof: Proof, job: Job) -> None:
        self.proof = proof
        self.job = job
        self.gap = job.cutting.gap
        self.half = self.gap / 2.0
        self.parts = {name: job.part(name) for name, _, _ in proof.parts}
        first = next(iter(self.parts.values()))
        self.stock = {
            entry.id: entry
            for entry in job.stock
            if same_board(
                first.material, first.thickness, entry.material, entry.thickness
            )
            and entry.count != 0
        }
        self.bodies = {name: self._body(part) for name, part in self.parts.items()}

    def holds(self) -> bool:
        proof = self.proof
        rows = {row.id: row for row in proof.stock}
        if set(rows) != set(self.stock):
            return False  # some stock was left out
        for name, row in rows.items():
            entry = self.stock[name]
            if (row.there, row.price, row.offcut) != (
                entry.count,
                entry.price,
                entry.offcut,
            ):
                return False
            if row.area < self._room(entry).area * (1.0 - 1e-7) - 1e-6:
                return False
        for name, _, area in proof.parts:
            if area > self._grown(self.parts[name]) * (1.0 + 1e-7) + 1e-6:
                return False
        return all(self._need_holds(need) for need in proof.needs) and self._covers()

    # ------------------------------------------------------------ measuring

    def _polygon(self, part: Part) -> shapely.Polygon:
        outline = part.outline
        if not self.job.cutting.use_holes:
            outline = Outline(outline.outer)
        flat = outline.flatten(FINE)
        return shapely.Polygon(flat.outer, flat.holes)

    def _grown(self, part: Part) -> float:
        return float(self._polygon(part).buffer(self.half + FINE, quad_segs=180).area)

    def _body(self, part: Part) -> shapely.Polygon:
        """Return what a grown copy fills, less half of what is tolerated."""
        polygon = self._polygon(part)
        reach = self.half - self.proof.slack
        error = 0.0 if all(loop.is_straight for loop in part.outline.loops) else FINE
        if reach == error:
            return polygon
        return polygon.buffer(reach - error, quad_segs=12)

    def _room(self, entry: Stock) -> shapely.Polygon:
        flat = entry.outline.flatten(FINE)
        polygon = shapely.Polygon(flat.outer, flat.holes)
        inner = polygon.buffer(-self.job.cutting.margin, quad_segs=180)
        for keep_out in entry.keep_outs:
            wall = shapely.Polygon(keep_out.loop.flatten(FINE))
            inner = inner.difference(wall.buffer(self.gap, quad_segs=180))
        return inner.buffer(self.half, quad_segs=180)

    def _box(self, entry: Stock) -> tuple[float, float]:
        x0, y0, x1, y1 = entry.outline.bounds
        extra = self.gap - 2.0 * self.job.cutting.margin + 2.0 * self.proof.slack
        return max(x1 - x0 + extra, 0.0), max(y1 - y0 + extra, 0.0)

    # ------------------------------------------------------------ needs

    def _need_holds(self, need: Need) -> bool:
        listed = {name: (count, area) for name, count, area in self.proof.parts}
        if set(need.parts) - set(listed) or set(need.stock) - set(self.stock):
            return False
        total = math.fsum(listed[n][0] * listed[n][1] for n in need.parts)
        if need.area > total * (1.0 + 1e-9):
            return False
        for name in need.parts:
            for other in set(self.stock) - set(need.stock):
                if not self._never_on(name, self.stock[other]):
                    return False
        return self._crowd_holds(need.crowd, need)

    def _never_on(self, name: str, entry: Stock) -> bool:
        width, height = self._box(entry)
        body = self.bodies[name]
        # The box is convex: it holds the body only if it holds its hull, holes filled.
        if body.convex_hull.buffer(-min(width, height) / 2.0).area > 0.0:
            return True
        turns = self.parts[name].turn.turns(entry.grain)
        if turns is None:
            return bool(body.convex_hull.area > width * height * (1.0 + 1e-9))
        for form in _forms(self.parts[name], body):
            for turn in turns:
                x0, y0, x1, y1 = shapely.affinity.rotate(form, turn).bounds
                if x1 - x0 <= width - 1e-9 and y1 - y0 <= height - 1e-9:
                    return False
        return True

    def _crowd_holds(self, crowd: Crowd, need: Need) -> bool:
        if not crowd.count:
            return True
        stock = [self.stock[name] for name in need.stock]
        alone, rest = dict(crowd.alone), dict(crowd.rest)
        counts = {name: count for name, count, _ in self.proof.parts}
        for name in {*alone, *rest}:
            if name not in need.parts:
                return False
            if alone.get(name, 0) + rest.get(name, 0) > counts[name]:
                return False
        names = sorted(alone)
        for k, one in enumerate(names):
            for two in names[: k + 1]:
                if one == two and alone[one] < 2:
                    continue
                if not self._never_together(one, two, stock):
                    return False
        for host in set(alone) - set(crowd.beside):
            if any(not self._never_together(host, guest, stock) for guest in rest):
                return False
        size = dict(crowd.size)
        if crowd.measure is None:
            areas = {name: area for name, _, area in self.proof.parts}
            if any(size[name] > areas[name] * (1.0 + 1e-9) for name in {*alone, *rest}):
                return False
            rows = {row.id: row.area for row in self.proof.stock}
            if crowd.full < max(rows[name] for name in need.stock) * (1.0 - 1e-9):
                return False
        else:
            sides = [self._box(entry) for entry in stock]
            if crowd.full != 1.0 or any(
                width > crowd.box[0] + 1e-9 or height > crowd.box[1] + 1e-9
                for width, height in sides
            ):
                return False
            if any(
                size[name] > self._weight(name, crowd, stock) + 1e-9
                for name in {*alone, *rest}
            ):
                return False
        beside = sum(
            alone[name] * max(0.0, crowd.full - size[name]) for name in crowd.beside
        )
        over = sum(count * size[name] for name, count in rest.items()) - beside
        blanks = sum(alone.values()) + max(0, math.ceil(over / crowd.full))
        return crowd.count <= blanks

    def _weight(self, name: str, crowd: Crowd, stock: Sequence[Stock]) -> float:
        """Weight of a part by its largest disc, or by itself where it is upright."""
        assert crowd.measure is not None
        across, along = crowd.measure
        body = self.bodies[name]
        disc = shapely.maximum_inscribed_circle(body, tolerance=0.005)
        radius = float(shapely.distance(body.boundary, shapely.get_point(disc, 0)))
        turns: set[float] = set()
        free = False
        for entry in stock:
            listed = self.parts[name].turn.turns(entry.grain)
            free |= listed is None
            turns |= {0.0} if listed is None else {turn % 180.0 for turn in listed}
        least = math.inf
        for turn in turns:
            ways = [(radius * math.sin(a), radius * math.cos(a)) for a in _CORNERS]
            ways = [(2.0 * w, 2.0 * h) for w, h in ways]
            if not free and turn in (0.0, 90.0):
                upright = shapely.affinity.rotate(body, turn)
                ways += _boxes_in(upright)
            values = [
                _value(across, w / crowd.box[0]) * _value(along, h / crowd.box[1])
                for w, h in ways
            ]
            least = min(least, max(values))
        return least

    # ------------------------------------------------------------ pairs

    def _never_together(self, one: str, two: str, stock: Sequence[Stock]) -> bool:
        return all(self._apart_on(one, two, entry) for entry in stock)

    def _apart_on(self, one: str, two: str, entry: Stock) -> bool:
        """Whether no two places on a blank keep the copies from overlapping."""
        width, height = self._box(entry)
        if self._discs_meet(one, two, width, height):
            return True
        a, b = self.bodies[one], self.bodies[two]
        if a.area + b.area > self._room(entry).area * (1.0 + 1e-6) + 4 * (
            self.proof.slack * (width + height)
        ):
            return True
        arcs_a, arcs_b = self._arcs(one, entry), self._arcs(two, entry)
        if all(h for _, _, h in arcs_a) and all(h for _, _, h in arcs_b):
            arcs_a = [arc for arc in arcs_a if arc[1] < 180.0]
        todo = [(p, q, 0) for p in arcs_a for q in arcs_b]
        while todo:
            p, q, depth = todo.pop()
            if self._overlap(p, q, width, height):
                continue
            if depth == 2 * HALVINGS or (p[2] == 0.0 and q[2] == 0.0):
                return False
            # The further reaching one of the two arcs is halved.
            if p[2] * _reach(p[0]) >= q[2] * _reach(q[0]):
                todo += [(half, q, depth + 1) for half in _halved(p)]
            else:
                todo += [(p, half, depth + 1) for half in _halved(q)]
        return True

    def _discs_meet(self, one: str, two: str, width: float, height: float) -> bool:
        radii = []
        for name in (one, two):
            line = shapely.maximum_inscribed_circle(self.bodies[name], tolerance=0.01)
            at = shapely.get_point(line, 0)
            radii.append(float(shapely.distance(self.bodies[name].boundary, at)))
        across = width - sum(radii)
        along = height - sum(radii)
        return math.hypot(max(across, 0.0), max(along, 0.0)) < sum(radii)

    def _arcs(self, name: str, entry: Stock) -> list[_Arc]:
        part, body = self.parts[name], self.bodies[name]
        centred = _about_centre(body)
        forms = _forms(part, _thinned(centred))
        turns = part.turn.turns(entry.grain)
        if all(loop.is_circle for loop in part.outline.loops) and _is_ring(centred):
            turns = (0.0,)  # circles round one centre look the same at every turn
        if turns is not None:
            return [(form, turn, 0.0) for form in forms for turn in turns]
        step = 180.0 / ARCS
        return [
            (form, (k + 0.5) * step, step / 2.0)
            for form in forms
            for k in range(2 * ARCS)
        ]

    def _overlap(self, p: _Arc, q: _Arc, width: float, height: float) -> bool:
        """Whether the shapes overlap at all turns of two arcs, wherever they lie."""
        one, two = _common(*p), _common(*q)
        if one.is_empty or two.is_empty:
            return False
        a0, b0, a1, b1 = one.bounds
        c0, d0, c1, d1 = two.bounds
        if max(a1 - a0, c1 - c0) > width or max(b1 - b0, d1 - d0) > height:
            return True
        offsets = shapely.box(
            -c0 - (width - a1), -d0 - (height - b1), width - c1 + a0, height - d1 + b0
        )
        sums = _sums(one, two)
        grown = sums.buffer(1e-6, join_style="mitre")
        inner = grown.buffer(-2e-6 - 1e-5, join_style="mitre")
        return bool(inner.covers(offsets))

    # ------------------------------------------------------------ counting

    def _covers(self) -> bool:
        """Whether no choice of stock with fewer sheets, or cheaper, meets the needs."""
        from scipy.optimize import Bounds, LinearConstraint, milp

        proof = self.proof
        rows = [row for row in proof.stock if row.area > 0.0]
        if not rows or not proof.needs:
            return proof.count == 0 and proof.cost == 0.0
        wants = []
        for need in proof.needs:
            mine = [row.id in need.stock for row in rows]
            unit = max(row.area for row in rows)
            area = [
                row.area / unit if m else 0.0 for row, m in zip(rows, mine, strict=True)
            ]
            wants.append((area, need.area / unit * (1.0 - 2e-9)))
            wants.append(([float(m) for m in mine], float(need.crowd.count)))
        most = [np.inf if row.there is None else row.there for row in rows]
        rules = LinearConstraint(
            np.array([want for want, _ in wants]), np.array([n for _, n in wants])
        )
        for cost, claim in (
            ([0.0 if row.offcut else 1.0 for row in rows], float(proof.count)),
            ([row.price for row in rows], proof.cost),
        ):
            found = milp(
                cost,
                constraints=rules,
                bounds=Bounds(0, most),
                integrality=np.ones(len(rows)),
                options={"mip_rel_gap": 0.0},
            )
            if found.status == 2:  # not everything can be placed on what there is
                limited = sum(int(row.there or 0) for row in rows if not row.offcut)
                if proof.count > limited or proof.cost > 0.0:
                    return False
                continue
            if found.status != 0 or claim > found.mip_dual_bound * (1 + 1e-7) + 1e-6:
                return False
        return True


# ------------------------------------------------------------------- forms and sums

FloatArray = NDArray[np.float64]

_Arc = tuple[shapely.Polygon, float, float]
"""A form about its centre, the middle of an arc of turns, and half its width."""

_CORNERS = (math.pi / 8.0, math.pi / 4.0, 3.0 * math.pi / 8.0)


def _forms(part: Part, body: shapely.Polygon) -> list[shapely.Polygon]:
    """Return the body face up, and face down where that is allowed."""
    if not part.flip:
        return [body]
    return [body, shapely.affinity.scale(body, -1.0, 1.0, origin=(0.0, 0.0))]


def _about_centre(body: shapely.Polygon) -> shapely.Polygon:
    centre = shapely.minimum_bounding_circle(body).centroid
    return shapely.affinity.translate(body, -centre.x, -centre.y)


def _is_ring(form: shapely.Polygon) -> bool:
    """Whether every edge of a form runs round (0, 0) at one distance."""
    return all(
        np.ptp(np.hypot(*shapely.get_coordinates(ring).T)) < 1e-6
        for ring in (form.exterior, *form.interiors)
    )


def _reach(form: shapely.Polygon) -> float:
    points = shapely.get_coordinates(form)
    return float(np.sqrt((points**2).sum(axis=1).max()))


def _halved(arc: _Arc) -> list[_Arc]:
    form, turn, half = arc
    return [
        (form, turn - half / 2.0, half / 2.0),
        (form, turn + half / 2.0, half / 2.0),
    ]


def _common(form: shapely.Polygon, turn: float, half: float) -> shapely.Polygon:
    """Return what a form covers at every turn of an arc, at least."""
    if half:
        form = form.buffer(-2.0 * _reach(form) * math.sin(math.radians(half / 2.0)))
        if form.is_empty:
            return form
        form = _thinned(form)
    return shapely.affinity.rotate(form, turn, origin=(0.0, 0.0))


def _thinned(form: shapely.Polygon) -> shapely.Polygon:
    """Return a polygon inside a form with some sixty corners at most, if there is one.

    Sums of triangles grow with the square of their number.
    """
    for share in (3e-4, 1e-3, 3e-3):
        if shapely.get_num_coordinates(form) <= 64:
            break
        step = share * _reach(form)
        fewer = form.buffer(-step, quad_segs=4).simplify(step)
        if fewer.geom_type == "Polygon" and fewer.is_valid and form.covers(fewer):
            form = fewer
    return form


def _sums(one: shapely.Polygon, two: shapely.Polygon) -> shapely.Polygon:
    """All offsets of the second polygon at which it meets the first.

    What is not convex is cut into triangles; the sum of two convex pieces is the hull
    of the sums of their corners.
    """
    left, right = _pieces(one), -_pieces(two)
    corners = left[:, None, :, None, :] + right[None, :, None, :, :]
    points = corners.reshape(len(left) * len(right), -1, 2)
    return shapely.union_all(shapely.convex_hull(shapely.multipoints(points)))


@lru_cache(maxsize=256)
def _pieces_of(wkb: bytes) -> FloatArray:
    polygon = shapely.from_wkb(wkb)
    hull = polygon.convex_hull
    if polygon.area >= hull.area * (1.0 - 1e-12):
        return np.array([shapely.get_coordinates(hull)[:-1]])
    cut = shapely.constrained_delaunay_triangles(polygon)
    parts = shapely.get_parts(cut)
    return np.array([shapely.get_coordinates(part)[:3] for part in parts])


def _pieces(polygon: shapely.Polygon) -> FloatArray:
    """Return the corners of convex pieces, (pieces, corners, 2)."""
    return _pieces_of(shapely.to_wkb(polygon))


def _boxes_in(polygon: shapely.Polygon) -> list[tuple[float, float]]:
    """Sides of upright rectangles about the middle of the polygon's box, inside it."""
    x0, y0, x1, y1 = polygon.bounds
    cx, cy = (x0 + x1) / 2.0, (y0 + y1) / 2.0
    found = []
    for width_first in (True, False):
        for share in np.linspace(0.0, 1.0, 9).tolist():
            # One side as given, the other as long as it will go.
            whole = (x1 - x0) if width_first else (y1 - y0)
            least = whole - 2.0 * _rounding(polygon)
            fixed = least + share * (whole - least)
            low, high = 0.0, (y1 - y0) if width_first else (x1 - x0)
            for _ in range(40):
                middle = high if low == 0.0 else 0.5 * (low + high)
                w, h = (fixed, middle) if width_first else (middle, fixed)
                box = shapely.box(cx - w / 2, cy - h / 2, cx + w / 2, cy + h / 2)
                if polygon.buffer(1e-7, join_style="mitre").covers(box):
                    low = middle
                    if middle == high:
                        break
                elif low == 0.0:
                    low = 1e-9
                else:
                    high = middle
            found.append((fixed, low) if width_first else (low, fixed))
    return found


def _rounding(polygon: shapely.Polygon) -> float:
    """How far the corners of a rounded rectangle are cut back from its box."""
    x0, _, _, y1 = polygon.bounds
    points = shapely.get_coordinates(polygon)
    top = points[np.abs(points[:, 1] - y1) < 1e-9]
    return float(max(top[:, 0].min() - x0, 0.0)) if len(top) else 0.0


def _value(function: Function, x: float) -> float:
    """Return a dual feasible function of one number, by its definition."""
    x = min(max(x, 0.0), 1.0)
    e = function.level
    if function.kind == "ends":
        return 1.0 if x > 1.0 - e else (x if x >= e else 0.0)
    if function.kind == "share":
        if x > 0.5:
            return 1.0 - math.floor((1.0 - x) / e + 1e-12) / math.floor(1.0 / e + 1e-12)
        return 1.0 / math.floor(1.0 / e + 1e-12) if x >= e else 0.0
    if function.kind == "floor":
        scaled = (e + 1.0) * x
        if abs(scaled - round(scaled)) <= 1e-9:
            return x
        return math.floor(scaled) / e
    return x
