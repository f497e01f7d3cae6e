"""Closed and open chains to parts: outlines, holes and marks by containment."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from ..nesting.model.curve import Arc, Line
from ..nesting.model.errors import InputError
from ..nesting.model.motion import Motion, Point, Points
from ..nesting.model.outline import Loop, Outline, flatten_chain
from ..nesting.model.part import Mark, Operation, Part
from .chain import Chain, closed_up
from .limits import Budget
from .names import clean_text, unique_id
from .notes import Notes, tame
from .operations import Meaning, Works, meaning_of
from .untangle import untangle

CHORD = 0.02
"""Chord error of the polygons that containment is judged on, mm."""

DRILL_UP_TO = 6.35
"""Round holes up to this diameter are drilled, mm: a hole no wider than the usual
quarter-inch cutter can only be plunged, not cut round."""

SHEETS = (
    (1219.2, 2438.4),
    (1220.0, 2440.0),
    (1244.6, 2463.8),
    (1250.0, 2500.0),
    (1525.0, 1525.0),
    (1524.0, 1524.0),
    (1525.0, 3050.0),
    (2070.0, 2800.0),
)
"""Common sheet sizes, mm: a rectangle of this size round everything is the sheet."""

PAPERS = (
    (210.0, 297.0),
    (297.0, 420.0),
    (420.0, 594.0),
    (594.0, 841.0),
    (841.0, 1189.0),
)
"""Paper sizes A4 to A0 (ISO 216), mm: such a rectangle round drawn parts is a frame."""

BORDER = 40.0
"""A second rectangle this near within a frame belongs to it, mm."""

SPECK = 0.5
"""Closed shapes smaller than this are noise, mm, ..."""

SPECK_SHARE = 0.005
"""... if they are smaller than this share of the largest shape."""

THIN = 1.0
"""A part thinner than this everywhere is a drawn line that was made a shape, mm."""

_MOST_PAIRS = 5_000_000
"""So many pairs of a shape inside another are looked at, then reading stops."""

_MOST_CROSSINGS = 20_000
"""So many pairs of shapes with common boxes are tested for crossing edges."""

_MOST_CROSSED = 2_000
"""More pairs of shapes that do cross are no drawing of parts."""

_AT_ONCE = 100
"""So many lines are searched for in one go: more could fill the memory."""

_OPERATIONS = {
    Meaning.POCKET: Operation.POCKET,
    Meaning.ENGRAVE: Operation.ENGRAVE,
    Meaning.DRILL: Operation.DRILL,
    Meaning.TAB: Operation.TAB,
}


@dataclass
class _Ring:
    chain: Chain
    loop: Loop
    polygon: shapely.Polygon
    meaning: Meaning | None
    diameter: float | None
    inside: list[int] = field(default_factory=list)
    """Rings that contain it, the smallest first."""


def classify(
    chains: Sequence[Chain],
    file: str,
    notes: Notes,
    budget: Budget,
    works: Works | None = None,
    drill_up_to: float = DRILL_UP_TO,
) -> tuple[tuple[Part, ...], tuple[Point, ...]]:
    """Return the parts among chains, and where each lay in the drawing.

    A closed loop in no other is an outline, one in an outline a hole, one in a hole
    the outline of another part, and so on. What a layer or colour says comes first.
    Round holes up to `drill_up_to` are drilled; open lines in a part are engraved.
    Each part is moved so that the least corner of its outline's box is (0, 0).

    Parameters
    ----------
    chains : sequence of Chain
        Closed and open chains, mm.
    file : str
        Path of the drawing; its stem names a lone part.
    notes : Notes
        Takes what was guessed and left out.
    budget : Budget
        Stops the work when it takes too long.
    works : Works, optional
        Tells what layers and colours mean.
    drill_up_to : float
        Greatest diameter that is drilled, mm.
    """
    works = works or Works()
    wanted = []
    told: Counter[str] = Counter()
    for c in chains:
        said = works.said(c.layer, c.colour, c.fill)
        if said.meaning is Meaning.NOT_CUT:
            notes.add("not-cut", c.entity, tame(said.by))
            continue
        if said.meaning is not None:
            told[f"{tame(said.by)}: {said.meaning}"] += 1
        wanted.append((c, said.meaning))
    for detail, count in told.items():
        notes.add("layer-meaning", detail=detail, count=count)
    rings = _rings(wanted, notes, budget)
    rings = _without_specks(_without_doubles(rings, notes), notes)
    lines = [(c, m) for c, m in wanted if not c.closed]
    marks = [r for r in rings if r.meaning in _OPERATIONS]
    through = [r for r in rings if r.meaning not in _OPERATIONS]
    _nest(through, notes, budget)
    _take_out_frame(through, notes)
    _take_out_paper(through, notes)
    small = _small_circles(through, drill_up_to)
    edge = _edges(through, small)
    guessed: Counter[str] = Counter()
    holes: dict[int, list[_Ring]] = defaultdict(list)
    for i, is_edge in edge.items():
        if not is_edge:
            holes[through[i].inside[0]].append(through[i])
    bodies = [(r, holes[i]) for i, r in enumerate(through) if edge.get(i)]
    _tell_thin(bodies, notes)
    deep = sum(bool(ring.inside) for ring, _ in bodies)
    notes.add("part-in-hole", count=deep)
    owners = _Owners(bodies)
    found: dict[int, list[Mark]] = defaultdict(list)
    for i in small:
        ring = through[i]
        owner = owners.of_ring(ring)
        if owner is None:
            notes.add("stray-mark", ring.chain.entity, place=_centre(ring))
            continue
        guessed[f"{ring.diameter:.3g} mm"] += 1
        found[owner].append(_mark(Operation.DRILL, ring.chain))
    for detail, count in guessed.items():
        notes.add("drill-guessed", detail=f"{count} x {detail}", count=count)
    for ring in marks:
        assert ring.meaning is not None
        owner = owners.of_ring(ring)
        if owner is None:
            notes.add("stray-mark", ring.chain.entity, place=_centre(ring))
            continue
        found[owner].append(_mark(_OPERATIONS[ring.meaning], ring.chain))
    _lines(lines, owners, found, rings, notes, budget)
    return _parts(bodies, found, file)


# --- rings ---


def _rings(
    wanted: Sequence[tuple[Chain, Meaning | None]], notes: Notes, budget: Budget
) -> list[_Ring]:
    rings = []
    for c, meaning in wanted:
        if not c.closed:
            continue
        budget.tick()
        made = _ring(c, meaning, notes, budget)
        if isinstance(made, _Ring):
            rings.append(made)
        elif made is not None:
            for simple in made:
                again = _ring(simple, meaning, notes, budget, simple=True)
                if isinstance(again, _Ring):
                    rings.append(again)
    return rings


def _ring(
    c: Chain,
    meaning: Meaning | None,
    notes: Notes,
    budget: Budget,
    simple: bool = False,
) -> _Ring | list[Chain] | None:
    """Return a closed chain as a ring, or the simple chains it is taken apart into.

    None, with a note, if it is neither. A `simple` chain is not taken apart again.
    """
    place = c.segments[0].start
    try:
        loop = Loop(c.segments)
        points = loop.flatten(CHORD)
    except (InputError, ArithmeticError):
        notes.add("no-area", c.entity, place=place)
        return None
    budget.points(len(points))
    if len(points) < 3:
        notes.add("no-area", c.entity, place=place)
        return None
    polygon = shapely.Polygon(points)
    least = 1e-3 * loop.length * CHORD
    if not polygon.is_valid:
        if not simple:
            parts = _apart(c, notes, budget)
            if parts is not None:
                return parts
        try:
            pieces = _polygons(shapely.make_valid(polygon))
        except shapely.errors.GEOSException:  # crosses itself beyond all memory
            spot = _spot(shapely.is_valid_reason(polygon))
            notes.add("self-crossing", c.entity, place=spot or place)
            return None
        largest = max(pieces, key=lambda g: g.area, default=shapely.Polygon())
        # A sliver of self-contact is a touch; a real crossing has two lobes.
        if largest.area > least and (
            abs(largest.area - loop.area) > 1e-3 * largest.area
        ):
            spot = _spot(shapely.is_valid_reason(polygon))
            notes.add("self-crossing", c.entity, place=spot or place)
            return None
        polygon = shapely.Polygon(largest.exterior)
    if not (loop.area > least and polygon.area > 0.0):
        notes.add("no-area", c.entity, place=place)
        return None
    return _Ring(c, loop, polygon, meaning, _diameter(loop, points))


def _apart(c: Chain, notes: Notes, budget: Budget) -> list[Chain] | None:
    """Return what a chain that meets itself is taken apart into, with notes.

    None if there is nothing to take apart, or it is not clear what it encloses.
    """
    found = untangle(c.segments, budget)
    if found is None or not found.clear or not found.rings:
        return None
    if len(found.rings) == 1 and not (found.tails or found.spurs or found.doubles):
        return None
    for code, places in (
        ("tail-loop", found.tails),
        ("spur", found.spurs),
        ("loop-doubled", found.doubles),
        ("loop-split", found.meets[:1]),
    ):
        for at in places:
            notes.add(code, c.entity, place=at)
    chains = [closed_up(replace(c, segments=ring), notes) for ring in found.rings]
    return [chain for chain in chains if chain is not None]


def _polygons(shape: shapely.Geometry) -> list[shapely.Polygon]:
    parts = getattr(shape, "geoms", [shape])
    return [g for g in parts if isinstance(g, shapely.Polygon)]


def _spot(reason: str) -> Point | None:
    try:
        x, y = reason.split("[")[1].rstrip("]").split()
        return float(x), float(y)
    except (IndexError, ValueError):
        return None


def _diameter(loop: Loop, points: Points) -> float | None:
    """Return the diameter of a loop that is round, however it is drawn."""
    if any(isinstance(s, Line) for s in loop.segments):
        return None
    if loop.is_circle and isinstance(arc := loop.segments[0], Arc):
        return 2.0 * arc.radius
    x0, y0, x1, y1 = loop.bounds
    width, height = x1 - x0, y1 - y0
    if abs(width - height) > 0.002 * max(width, height) + 0.01:
        return None
    centre = np.array([(x0 + x1) / 2.0, (y0 + y1) / 2.0])
    radii = np.hypot(*(points - centre).T)
    radius = (width + height) / 4.0
    round_enough = np.all(np.abs(radii - radius) <= 0.002 * radius + 0.01)
    return 2.0 * radius if round_enough else None


def _without_doubles(rings: list[_Ring], notes: Notes) -> list[_Ring]:
    cells: dict[tuple[int, int], list[_Ring]] = defaultdict(list)
    kept: list[_Ring] = []
    for ring in rings:
        x0, y0, x1, y1 = ring.loop.bounds
        cell = (math.floor((x0 + x1) / 2.0), math.floor((y0 + y1) / 2.0))
        near = [
            other
            for dx in (-1, 0, 1)
            for dy in (-1, 0, 1)
            for other in cells[cell[0] + dx, cell[1] + dy][:50]
        ]
        work = _OPERATIONS.get(ring.meaning) if ring.meaning else None
        alike = [
            other
            for other in near
            if (_OPERATIONS.get(other.meaning) if other.meaning else None) is work
        ]
        if any(_same(ring, other) for other in alike):
            notes.add("loop-doubled", ring.chain.entity, place=_centre(ring))
        else:
            cells[cell].append(ring)
            kept.append(ring)
    return kept


def _without_specks(rings: list[_Ring], notes: Notes) -> list[_Ring]:
    """Return the rings without noise, unless a layer or colour means it."""
    sizes = [max(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (r.loop.bounds for r in rings)]
    least = min(SPECK, SPECK_SHARE * max(sizes, default=0.0))
    kept = []
    for ring, size in zip(rings, sizes, strict=True):
        if size < least and ring.meaning is None:
            notes.add("speck", ring.chain.entity, place=_centre(ring))
        else:
            kept.append(ring)
    return kept


def _tell_thin(bodies: Sequence[tuple[_Ring, list[_Ring]]], notes: Notes) -> None:
    """Note parts that are as thin as a drawn line."""
    for ring, holes in bodies:
        loops = [ring.loop, *(hole.loop for hole in holes)]
        area = loops[0].area - sum(loop.area for loop in loops[1:])
        length = sum(loop.length for loop in loops)
        width = 2.0 * area / length
        if 0.0 < width < THIN and length > 40.0 * width:
            notes.add(
                "thin-part", ring.chain.entity, f"{width:.2g} mm wide", _centre(ring)
            )


def _same(a: _Ring, b: _Ring) -> bool:
    near = 0.02
    if any(
        abs(p - q) > near for p, q in zip(a.loop.bounds, b.loop.bounds, strict=True)
    ):
        return False
    if abs(a.loop.area - b.loop.area) > near * max(a.loop.length, b.loop.length):
        return False
    apart = shapely.hausdorff_distance(a.polygon.exterior, b.polygon.exterior)
    # Vertices of the flattened loops lie elsewhere along the same curve.
    return bool(apart <= near) or bool(
        a.polygon.symmetric_difference(b.polygon).area
        <= (near + CHORD) * max(a.loop.length, b.loop.length)
    )


def _nest(rings: list[_Ring], notes: Notes, budget: Budget) -> None:
    """Fill in which rings contain which, the smallest first."""
    if not rings:
        return
    budget.check()
    polygons = np.array([r.polygon for r in rings])
    tree = shapely.STRtree(polygons)
    areas = shapely.area(polygons)
    crossing: set[tuple[int, int]] = set()
    for i, j in _candidates(polygons, tree):
        budget.tick()
        if not polygons[i].overlaps(polygons[j]):
            continue
        shared = polygons[i].intersection(polygons[j]).area
        slack = 0.1 * min(rings[i].loop.length, rings[j].loop.length)
        if shared > slack and min(areas[i], areas[j]) - shared > slack:
            crossing |= {(i, j), (j, i)}
            if len(crossing) > 2 * _MOST_CROSSED:
                raise InputError(
                    budget.file,
                    f"not read: more than {_MOST_CROSSED:,} closed shapes cross others",
                    "take apart what lies on top of each other",
                )
            meet = polygons[i].exterior.intersection(polygons[j].exterior)
            spot = shapely.get_coordinates(meet)
            place = (float(spot[0][0]), float(spot[0][1])) if len(spot) else None
            notes.add("loops-cross", rings[i].chain.entity, place=place)
    points = shapely.STRtree(shapely.point_on_surface(polygons))
    total = 0
    for first in range(0, len(polygons), 200):
        budget.check()
        outer, inner = points.query(polygons[first : first + 200], predicate="contains")
        total += len(outer)
        if total > _MOST_PAIRS:
            raise InputError(
                budget.file,
                "not read: too many closed shapes lie inside each other",
                "split or simplify the drawing",
            )
        for i, j in zip(inner.tolist(), (outer + first).tolist(), strict=True):
            if i != j and (areas[j], j) > (areas[i], i) and (i, j) not in crossing:
                rings[i].inside.append(j)
    for ring in rings:
        ring.inside.sort(key=lambda j: areas[j])


def _candidates(
    polygons: NDArray[np.object_], tree: shapely.STRtree
) -> Iterator[tuple[int, int]]:
    """Yield pairs of shapes that may cross.

    Where very many lie inside each other, only those whose boxes cross are tested.
    """
    boxes = shapely.bounds(polygons)
    count = 0
    for first in range(0, len(polygons), 200):
        a, b = tree.query(polygons[first : first + 200])
        a = a + first
        keep = a < b
        a, b = a[keep], b[keep]
        if len(a) + count > _MOST_CROSSINGS:
            p, q = boxes[a], boxes[b]
            nested = np.logical_or(
                (p[:, :2] <= q[:, :2]).all(1) & (p[:, 2:] >= q[:, 2:]).all(1),
                (q[:, :2] <= p[:, :2]).all(1) & (q[:, 2:] >= p[:, 2:]).all(1),
            )
            a, b = a[~nested], b[~nested]
        count += len(a)
        yield from zip(a.tolist(), b.tolist(), strict=True)


def _take_out_frame(rings: list[_Ring], notes: Notes) -> None:
    """Take out a sheet-sized rectangle round everything."""
    outermost = [i for i, r in enumerate(rings) if not r.inside]
    if len(outermost) != 1 or len(rings) < 2:
        return
    frame = rings[outermost[0]]
    box = frame.loop.bounds
    width, height = sorted((box[2] - box[0], box[3] - box[1]))
    rectangle = math.isclose(frame.loop.area, width * height, rel_tol=1e-9)
    if frame.meaning is Meaning.OUTSIDE or not rectangle:
        return
    sheet = any(abs(width - w) <= 3.0 and abs(height - h) <= 3.0 for w, h in SHEETS)
    inner = [r for r in rings if r is not frame]
    # Parts on a sheet hold holes of their own; a plate with holes does not.
    parts_with_holes = {r.inside[0] for r in inner if len(r.inside) == 2}
    own_layer = all(r.chain.layer != frame.chain.layer for r in inner)
    if not (sheet or (own_layer and len(parts_with_holes) >= 2)):
        return
    notes.add(
        "sheet-frame",
        frame.chain.entity,
        f"{height:.6g} x {width:.6g} mm",
        _centre(frame),
    )
    _take_out(rings, {outermost[0]})


def _take_out(rings: list[_Ring], gone: set[int]) -> None:
    """Take rings out of the list, and out of what the others lie in."""
    new = {
        old: i for i, old in enumerate(j for j in range(len(rings)) if j not in gone)
    }
    rings[:] = [ring for i, ring in enumerate(rings) if i not in gone]
    for ring in rings:
        ring.inside = [new[j] for j in ring.inside if j in new]


def _is_rectangle(ring: _Ring) -> bool:
    x0, y0, x1, y1 = ring.loop.bounds
    return math.isclose(ring.loop.area, (x1 - x0) * (y1 - y0), rel_tol=1e-9)


def _take_out_paper(rings: list[_Ring], notes: Notes) -> None:
    """Take out a drawing frame: a paper size round everything, and its border.

    A second rectangle within shows that it is one; what touches that along two
    sides is the title block, and goes with it.
    """
    outermost = [i for i, r in enumerate(rings) if not r.inside]
    if len(outermost) != 1 or rings[outermost[0]].meaning is Meaning.OUTSIDE:
        return
    frame = rings[outermost[0]]
    x0, y0, x1, y1 = frame.loop.bounds
    width, height = sorted((x1 - x0, y1 - y0))
    paper = any(abs(width - w) <= 1.0 and abs(height - h) <= 1.0 for w, h in PAPERS)
    if not paper or not _is_rectangle(frame):
        return
    borders = [
        i
        for i, r in enumerate(rings)
        if r.inside == outermost
        and _is_rectangle(r)
        and all(
            0.0 < abs(a - b) <= BORDER
            for a, b in zip(r.loop.bounds, frame.loop.bounds, strict=True)
        )
    ]
    if len(borders) != 1:
        return
    edge = rings[borders[0]].loop.bounds
    block = {
        i
        for i, r in enumerate(rings)
        if r.inside[:1] == borders
        and sum(abs(a - b) <= 0.1 for a, b in zip(r.loop.bounds, edge, strict=True))
        >= 2
    }
    within = {i for i, r in enumerate(rings) if not block.isdisjoint(r.inside)}
    gone = {outermost[0], borders[0]} | block | within
    if len(gone) == len(rings):
        return  # with nothing drawn in it, it is a part with a window
    notes.add(
        "drawing-frame",
        frame.chain.entity,
        f"{height:.6g} x {width:.6g} mm",
        _centre(frame),
    )
    _take_out(rings, gone)


def _small_circles(rings: list[_Ring], drill_up_to: float) -> set[int]:
    """Return the circles that are drilled; a drawing of nothing else keeps them."""
    small = {
        i
        for i, r in enumerate(rings)
        if r.diameter is not None
        and r.diameter <= drill_up_to + 1e-3
        and r.meaning is None
    }
    return set() if len(small) == len(rings) else small


def _edges(rings: list[_Ring], small: set[int]) -> dict[int, bool]:
    """Return for each ring but the small ones whether it is a part's outer edge.

    Every second level is an edge. A layer named for the inside or the outside
    overrules that, unless the loop around says the same.
    """
    edge: dict[int, bool] = {}
    # From the largest: what a ring lies in comes first, even where only some of what
    # lies around it was taken to hold it.
    order = sorted(
        (i for i in range(len(rings)) if i not in small),
        key=lambda i: (rings[i].polygon.area, i),
        reverse=True,
    )
    for i in order:
        ring = rings[i]
        ring.inside = [j for j in ring.inside if j not in small]
        parent = ring.inside[0] if ring.inside else None
        by_depth = parent is None or not edge[parent]
        if parent is not None and ring.meaning is not rings[parent].meaning:
            if ring.meaning is Meaning.INSIDE:
                by_depth = False
            elif ring.meaning is Meaning.OUTSIDE:
                by_depth = True
        edge[i] = by_depth
    return edge


class _Owners:
    """Tells which part's material a place lies in."""

    def __init__(self, bodies: Sequence[tuple[_Ring, list[_Ring]]]) -> None:
        self._areas = [ring.loop.area for ring, _ in bodies]
        self._polygons = [ring.polygon for ring, _ in bodies]
        self._holes = [[h.polygon for h in holes] for _, holes in bodies]
        self._tree = shapely.STRtree(self._polygons)

    def of(self, point: shapely.Point) -> int | None:
        """Return the index of the part; None in a hole or outside all."""
        hits = self._tree.query(point, predicate="intersects").tolist()
        if not hits:
            return None
        index = min(hits, key=lambda i: self._areas[i])
        if any(hole.contains(point) for hole in self._holes[index]):
            return None
        return int(index)

    def any_of(self, points: NDArray[np.object_]) -> set[int]:
        """Return which points, by index, lie in a part or one of its holes."""
        return set(self._tree.query(points, predicate="intersects")[0].tolist())

    def of_ring(self, ring: _Ring) -> int | None:
        """Return the part in whose material a closed mark lies, if only in places.

        Its edge counts: the middle of a pocket may be a hole.
        """
        edge = ring.polygon.exterior
        spots = (edge.interpolate(k / 8.0, normalized=True) for k in range(8))
        return next((i for p in spots if (i := self.of(p)) is not None), None)

    def mostly_inside(self, index: int, line: shapely.LineString) -> bool:
        """Return whether at least half of a line lies within a part's edge."""
        within = self._polygons[index].intersection(line).length
        return bool(within >= 0.5 * line.length)


def _lines(
    lines: Sequence[tuple[Chain, Meaning | None]],
    owners: _Owners,
    found: dict[int, list[Mark]],
    rings: Sequence[_Ring],
    notes: Notes,
    budget: Budget,
) -> None:
    if not lines:
        return
    edges = [r.polygon.exterior for r in rings]
    tree = shapely.STRtree(edges)
    for first in range(0, len(lines), _AT_ONCE):
        budget.check()
        some = lines[first : first + _AT_ONCE]
        drawn = [shapely.LineString(flatten_chain(c.segments, CHORD)) for c, _ in some]
        beside: dict[int, list[int]] = defaultdict(list)
        pairs = tree.query(drawn, predicate="dwithin", distance=2.0 * CHORD)
        for i, j in pairs.T.tolist():
            beside[i].append(j)
        middles = shapely.line_interpolate_point(drawn, 0.5, normalized=True)
        within = owners.any_of(middles)
        for i, (c, meaning) in enumerate(some):
            near = beside.get(i, ())
            if 0 < len(near) <= 100 and any(
                shapely.distance(shapely.points(_samples(c)), edges[j]).max()
                <= 2.0 * CHORD
                for j in near
            ):
                notes.add("line-doubled", c.entity)
                continue
            line, middle = drawn[i], middles[i]
            owner = owners.of(middle) if i in within else None
            if owner is None or not owners.mostly_inside(owner, line):
                notes.add("stray-line", c.entity, place=(middle.x, middle.y))
                continue
            operation = _OPERATIONS.get(meaning) if meaning else None
            if operation is None or operation is Operation.DRILL:
                operation = Operation.ENGRAVE
                notes.add("engrave-guessed", c.entity, place=(middle.x, middle.y))
            found[owner].append(_mark(operation, c))


def _samples(c: Chain) -> list[Point]:
    return [s.point_at(t) for s in c.segments[:200] for t in (0.0, 0.3, 0.7, 1.0)]


def _mark(operation: Operation, c: Chain) -> Mark:
    return Mark(operation, c.segments, clean_text(c.name or c.layer, 60))


def _centre(ring: _Ring) -> Point:
    x0, y0, x1, y1 = ring.loop.bounds
    return (x0 + x1) / 2.0, (y0 + y1) / 2.0


# --- parts ---


def _parts(
    bodies: Sequence[tuple[_Ring, list[_Ring]]],
    found: Mapping[int, list[Mark]],
    file: str,
) -> tuple[tuple[Part, ...], tuple[Point, ...]]:
    names = _names([ring.chain for ring, _ in bodies], Path(file).stem)
    taken: set[str] = set()
    parts, origins = [], []
    for index, ((ring, holes), name) in enumerate(zip(bodies, names, strict=True)):
        x, y = ring.loop.bounds[:2]
        to_corner = Motion(-x, -y)
        outline = Outline(ring.loop, tuple(h.loop for h in holes)).moved(to_corner)
        marks = tuple(m.moved(to_corner) for m in found.get(index, ()))
        key = unique_id(name, taken, "part")
        taken.add(key)
        parts.append(Part(key, name, outline, marks, source=file))
        origins.append((x, y))
    return tuple(parts), tuple(origins)


def _names(chains: Sequence[Chain], stem: str) -> list[str]:
    """Name a lone part after the file, several after block, id or layer."""
    stem = clean_text(stem, 60) or "part"
    if len(chains) == 1:
        return [stem]
    names = [clean_text(c.name, 60) for c in chains]
    layers = [clean_text(c.layer, 60) for c in chains]
    per_layer = Counter(layers)
    out: list[str] = []
    for name, layer in zip(names, layers, strict=True):
        if name:
            out.append(name)
        elif per_layer[layer] == 1 and layer not in ("", "0") and not meaning_of(layer):
            out.append(layer)
        else:
            out.append("")
    total = Counter(out)
    seen: Counter[str] = Counter()
    result = []
    for name in out:
        seen[name] += 1
        if not name:
            result.append(f"{stem} {seen[name]}")
        else:
            result.append(f"{name} {seen[name]}" if total[name] > 1 else name)
    return result
