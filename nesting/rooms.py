"""A job as the engine sees it: shapes, the turns they may take, and rooms to lie in.

A job falls into **problems** that have nothing to do with each other, one for each
board (material and thickness). Within a problem

- a **kind** is a part with the copies of it that are to be placed;
- a **variant** is a shape at an angle, a plain number (see `nofit.RegionStore`);
- a **room** is a kind of stock: a rectangle, and walls at fixed places;
- a **held** board is one that already carries locked copies, which are walls too.

Everything is grown by half the gap, walls included, so that free of overlap means a gap
apart. Parts in the holes of other parts need no word of their own: a hole is room that
the shape does not fill.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely

from .kernels import FloatArray
from .model.errors import InputError
from .model.job import Cutting, Job
from .model.motion import Motion
from .model.outline import Outline
from .model.part import Part
from .model.placement import Blank, Layout, Placement, Reason, Unplaced
from .model.rules import (
    ANGLE_TOLERANCE,
    Grain,
    TurnKind,
    angle_between,
    material_key,
    same_board,
)
from .model.stock import Stock
from .nofit import RegionStore
from .prepare import (
    Shape,
    distinct_angles,
    drawing_place,
    least_box_turn,
    prepare_room,
    prepare_shape,
)

SLACK = 1e-4
"""Every edge is drawn back this far, mm, so that what fits exactly can be found."""

QUARTERS = (0.0, 90.0, 180.0, 270.0)

Rectangle = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Precision:
    """How closely the engine's shapes follow the true outlines.

    Parameters
    ----------
    chord : float
        Chords stray at most this share of a part's diameter, within 0.02 to 0.15 mm.
    max_vertices : int
        Shapes are simplified, outward only, to about this many vertices ...
    simplify : float
        ... as long as they exceed the true outline by no more than this share of the
        diameter.
    free_turns : int
        Angles tried for parts that may be turned freely, evenly round the circle.
    """

    chord: float = 4e-4
    max_vertices: int = 40
    simplify: float = 1.2e-3
    free_turns: int = 4


@dataclass(frozen=True, slots=True)
class Face:
    """A part's outline as one shape: face up or face down, perhaps pre-turned.

    Attributes
    ----------
    shape : int
        Index of the shape in the store.
    flipped : bool
        Whether it lies face down.
    ahead : float
        Degrees by which the outline was turned before it became the shape, so that
        parts drawn aslant lie along the axes at the shape's angle 0.
    """

    shape: int
    flipped: bool
    ahead: float


@dataclass(frozen=True, eq=False)
class Kind:
    """A part and its copies to be placed.

    Attributes
    ----------
    part : Part
        The part.
    copies : tuple of int
        Numbers of the copies to place, from 1.
    variants : tuple of tuple of int
        For each room the variants allowed there; empty if none is.
    """

    part: Part
    copies: tuple[int, ...]
    variants: tuple[tuple[int, ...], ...]


@dataclass(frozen=True, eq=False)
class Room:
    """A kind of stock as a place for grown shapes.

    Attributes
    ----------
    stock : Stock
        The stock.
    rectangle : tuple of float
        ``x0, y0, x1, y1``: bounding boxes of copies lie within it; mm.
    walls : tuple of (int, float, float)
        Variants at fixed places that copies must not overlap.
    area : float
        Usable area, mm².
    left : int or None
        How many there are beyond the held ones; None for as many as needed.
    """

    stock: Stock
    rectangle: Rectangle
    walls: tuple[tuple[int, float, float], ...]
    area: float
    left: int | None


@dataclass(frozen=True, eq=False)
class Held:
    """A board that carries locked copies.

    Attributes
    ----------
    blank : int
        Its index in the job's layout.
    room : int
        The room it is one of.
    walls : tuple of (int, float, float)
        The locked copies, as walls.
    placements : tuple of Placement
        The same as they stand in the layout.
    """

    blank: int
    room: int
    walls: tuple[tuple[int, float, float], ...]
    placements: tuple[Placement, ...]


@dataclass(frozen=True, eq=False)
class Problem:
    """All that concerns one board.

    Attributes
    ----------
    job : Job
        The job it comes from.
    kinds : tuple of Kind
        What is to be placed.
    rooms : tuple of Room
        Where; empty if there is no such board.
    held : tuple of Held
        Boards that are in use from the start.
    store : RegionStore
        Shapes, variants and their no-fit regions.
    faces : tuple of Face or None
        By variant: what it shows of its part; None for walls.
    """

    job: Job
    kinds: tuple[Kind, ...]
    rooms: tuple[Room, ...]
    held: tuple[Held, ...]
    store: RegionStore
    faces: tuple[Face | None, ...]

    def turns_freely(self, kind: int, room: int) -> bool:
        """Whether copies of a kind may lie at any angle in a room."""
        rule = self.kinds[kind].part.turn
        return rule.turns(self.rooms[room].stock.grain) is None

    def placement(
        self,
        kind: int,
        copy: int,
        blank: int,
        variant: int,
        x: float,
        y: float,
        angle: float | None = None,
    ) -> Placement:
        """Return the placement that a variant at a place stands for.

        `angle`, degrees, is that of a copy that lies at another than the variant's.
        """
        face = self.faces[variant]
        assert face is not None, "a wall is no copy of a part"
        if angle is None:
            angle = self.store.angles[variant]
        px, py = drawing_place(self.store.shapes[face.shape], angle, x, y)
        turn = (angle + face.ahead) % 360.0
        part = self.kinds[kind].part
        return Placement(part.id, copy, blank, px, py, turn, face.flipped)


@dataclass
class Board:
    """One board with what lies on it, as the engine knows it.

    Attributes
    ----------
    room : int
        Which room it is one of.
    held : int
        Index of the held board it is, or -1.
    kind, variant : list of int
        Of each movable copy.
    x, y : list of float
        Place of each, mm.
    turned : dict of int to float
        By index: the angle, degrees, of a copy that lies at none of the variants';
        its variant tells the face only.
    """

    room: int
    held: int = -1
    kind: list[int] = field(default_factory=list)
    variant: list[int] = field(default_factory=list)
    x: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    turned: dict[int, float] = field(default_factory=dict)

    def add(
        self, kind: int, variant: int, x: float, y: float, angle: float | None = None
    ) -> None:
        """Lay a copy down; `angle` if it is not the variant's."""
        if angle is not None:
            self.turned[len(self.kind)] = angle
        self.kind.append(kind)
        self.variant.append(variant)
        self.x.append(x)
        self.y.append(y)

    def copied(self) -> Board:
        """Return a copy that shares nothing."""
        return Board(
            self.room,
            self.held,
            list(self.kind),
            list(self.variant),
            list(self.x),
            list(self.y),
            dict(self.turned),
        )


@dataclass
class Arrangement:
    """A state of one problem: boards, and copies without a place.

    Attributes
    ----------
    boards : list of Board
        In the order they were opened; held ones first.
    left : dict of int to (int, Reason)
        By kind: how many copies found no place, and why.
    """

    boards: list[Board]
    left: dict[int, tuple[int, Reason]] = field(default_factory=dict)


# ------------------------------------------------------------------- from a job


def problems(
    job: Job,
    precision: Precision | None = None,
    poll: Callable[[], None] = lambda: None,
) -> list[Problem]:
    """Split a job into problems, one for each board that parts or locked copies need.

    Parameters
    ----------
    job : Job
        What is to be laid out.
    precision : Precision, optional
        How closely shapes follow the outlines.
    poll : callable
        Called between parts and locked copies; what it raises ends the work.

    Raises
    ------
    InputError
        If a part's outline crosses itself, or a locked copy is unknown.
    """
    precision = precision or Precision()
    groups: list[list[Part]] = []
    for part in job.parts:
        for group in groups:
            if _same_board(part, group[0]):
                group.append(part)
                break
        else:
            groups.append([part])
    return [_problem(job, tuple(group), precision, poll) for group in groups]


def _same_board(one: Part, two: Part) -> bool:
    # Exactly equal thicknesses, so that "same board" is transitive among parts.
    return one.thickness == two.thickness and material_key(
        one.material
    ) == material_key(two.material)


class _Catalogue:
    """Shapes as they are collected, with the angles each may take."""

    def __init__(self, cutting: Cutting, precision: Precision) -> None:
        self.cutting = cutting
        self.precision = precision
        self.shapes: list[Shape] = []
        self.angles: list[list[float]] = []
        self.faces: list[Face | None] = []

    def add(self, shape: Shape, angles: Iterable[float], face: Face | None) -> int:
        self.shapes.append(shape)
        self.angles.append([angle % 360.0 for angle in angles])
        self.faces.append(face)
        return len(self.shapes) - 1

    def rings(self, part: Part, keep_holes: Iterable[bool]) -> list[FloatArray]:
        """Return the flattened outer ring and the wanted holes."""
        keep = [*keep_holes]
        flat = part.outline.flatten(self.chord(part.outline))
        holes = [h for h, wanted in zip(flat.holes, keep, strict=True) if wanted]
        return [flat.outer, *holes]

    def chord(self, outline: Outline) -> float:
        wanted = self.precision.chord * math.hypot(*outline.size)
        return min(max(wanted, 0.02), 0.15)

    def shape(self, part: Part, rings: Sequence[FloatArray]) -> Shape:
        straight = all(loop.is_straight for loop in part.outline.loops)
        error = 0.0 if straight else self.chord(part.outline)
        size = math.hypot(*part.outline.size)
        try:
            return prepare_shape(
                rings,
                grow=self.cutting.gap / 2.0 + error,
                slack=SLACK,
                max_vertices=self.precision.max_vertices,
                tolerance=self.precision.simplify * size,
            )
        except ValueError as error_found:
            raise InputError(
                part.name, str(error_found), "redraw the outline without crossings"
            ) from None


def _turned(
    rings: Sequence[FloatArray], turn: float, flipped: bool
) -> list[FloatArray]:
    motion = Motion(0.0, 0.0, turn, flipped)
    return [motion.points(ring) for ring in rings]


def _problem(
    job: Job,
    parts: tuple[Part, ...],
    precision: Precision,
    poll: Callable[[], None],
) -> Problem:
    first = parts[0]
    stock = [
        entry
        for entry in job.stock
        if same_board(first.material, first.thickness, entry.material, entry.thickness)
    ]
    catalogue = _Catalogue(job.cutting, precision)
    locked = [p for p in job.layout.placements if p.locked]
    mine = {part.id for part in parts}
    held_by_blank: dict[int, list[Placement]] = defaultdict(list)
    for placement in locked:
        if placement.part_id in mine:
            held_by_blank[placement.blank].append(placement)
    usable = [usable_area(entry, job.cutting) for entry in stock]
    open_stock = [k for k, area in enumerate(usable) if not area.is_empty]
    outlines = [
        prepare_room(usable[k], slack=SLACK, tolerance=0.02) for k in open_stock
    ]
    narrow = _narrowest(parts)
    kept = {part.id: _useful_holes(part, job.cutting, narrow) for part in parts}
    taken: Counter[int] = Counter()
    kinds_plan: list[tuple[Part, tuple[int, ...], list[list[tuple[int, float]]]]] = []
    for part in parts:
        poll()
        used = {p.copy for p in locked if p.part_id == part.id}
        copies = tuple(c for c in range(1, part.quantity + 1) if c not in used)
        plan = _plan_variants(
            part,
            kept[part.id],
            [stock[k].grain for k in open_stock],
            [outline.rectangle for outline in outlines],
            catalogue,
        )
        kinds_plan.append((part, copies, plan))
    walls_plan: list[list[tuple[int, float, float]]] = []
    for outline in outlines:
        row = []
        for wall in outline.walls:
            index = catalogue.add(wall, (0.0,), None)
            row.append((index, float(wall.origin[0]), float(wall.origin[1])))
        walls_plan.append(row)
    held_plan = []
    locked_shapes: dict[tuple[str, float, bool], int] = {}
    for blank in sorted(held_by_blank):
        room = _room_of_blank(job, blank, [stock[k] for k in open_stock])
        taken[room] += 1
        row = []
        for placement in held_by_blank[blank]:
            poll()
            key = (placement.part_id, placement.turn, placement.flipped)
            if key not in locked_shapes:
                part = job.part(placement.part_id)
                rings = catalogue.rings(part, kept[part.id])
                shape = catalogue.shape(
                    part, _turned(rings, placement.turn, placement.flipped)
                )
                locked_shapes[key] = catalogue.add(shape, (0.0,), None)
            index = locked_shapes[key]
            ox, oy = catalogue.shapes[index].origin.tolist()
            row.append((index, ox + placement.x, oy + placement.y))
        held_plan.append((blank, room, row, tuple(held_by_blank[blank])))
    store = RegionStore(catalogue.shapes, catalogue.angles)
    faces = tuple(catalogue.faces[store.shape_of(v)] for v in range(len(store)))

    def number(shape: int, angle: float) -> int:
        return store.variants(shape)[catalogue.angles[shape].index(angle % 360.0)]

    def fixed(
        rows: list[tuple[int, float, float]],
    ) -> tuple[tuple[int, float, float], ...]:
        return tuple((store.variants(shape)[0], x, y) for shape, x, y in rows)

    rooms = tuple(
        Room(
            stock[k],
            outline.rectangle,
            fixed(walls),
            float(usable[k].area),
            _count_left(stock[k], taken[room]),
        )
        for room, (k, outline, walls) in enumerate(
            zip(open_stock, outlines, walls_plan, strict=True)
        )
    )
    kinds = tuple(
        Kind(
            part,
            copies,
            tuple(tuple(number(s, a) for s, a in allowed) for allowed in plan),
        )
        for part, copies, plan in kinds_plan
    )
    held = tuple(
        Held(blank, room, fixed(row), placements)
        for blank, room, row, placements in held_plan
    )
    return Problem(job, kinds, rooms, held, store, faces)


def _count_left(stock: Stock, taken: int) -> int | None:
    return None if stock.count is None else max(stock.count - taken, 0)


def _room_of_blank(job: Job, blank: int, stock: Sequence[Stock]) -> int:
    stock_id = ""
    if 0 <= blank < len(job.layout.blanks):
        stock_id = job.layout.blanks[blank].stock_id
    for room, entry in enumerate(stock):
        if entry.id == stock_id:
            return room
    raise InputError(
        f"blank {blank + 1}",
        "locked copies lie on stock that is not there for them",
        "unlock or move them",
    )


# ------------------------------------------------------------------- holes


def _short_side(ring: FloatArray) -> float:
    """Short side of the least bounding box of some points, mm."""
    hull = shapely.MultiPoint(ring).convex_hull
    if hull.geom_type != "Polygon":
        return 0.0
    corners = np.array(shapely.minimum_rotated_rectangle(hull).exterior.coords)
    sides = np.diff(corners[:3], axis=0)
    return float(np.hypot(sides[:, 0], sides[:, 1]).min())


def _narrowest(parts: Sequence[Part]) -> float:
    wanted = [part for part in parts if part.quantity > 0]
    sides = [_short_side(part.outline.outer.flatten(0.1)) for part in wanted]
    return min(sides, default=math.inf)


def _useful_holes(part: Part, cutting: Cutting, narrowest: float) -> list[bool]:
    """Which holes of a part could hold another part at all."""
    room = narrowest + 2.0 * cutting.gap - 1.0  # 1 mm for what flattening hides
    return [
        cutting.use_holes and _short_side(hole.flatten(0.1)) >= room
        for hole in part.outline.holes
    ]


# ------------------------------------------------------------------- turns


def _plan_variants(
    part: Part,
    keep_holes: Sequence[bool],
    grains: Sequence[Grain],
    rectangles: Sequence[Rectangle],
    catalogue: _Catalogue,
) -> list[list[tuple[int, float]]]:
    """Add a part's shapes; return (shape, angle) pairs allowed in each room."""
    rules = {grain: part.turn.turns(grain) for grain in grains}
    free = any(turns is None for turns in rules.values())
    rings = catalogue.rings(part, keep_holes)
    ahead = 0.0
    if free and part.turn.kind is TurnKind.ANY:
        ahead = least_box_turn(rings[0])
    plan: list[list[tuple[int, float]]] = [[] for _ in grains]
    seen: list[tuple[Shape, list[float]]] = []
    for flipped in (False, True) if part.flip else (False,):
        turn = -ahead if flipped else ahead
        shape = catalogue.shape(part, _turned(rings, turn, flipped))
        angles: list[float] = []
        per_room: list[list[float]] = []
        for grain, rectangle in zip(grains, rectangles, strict=True):
            rule = rules[grain]
            if rule is not None:
                wanted = list(rule)
            else:
                wanted = _free_angles(shape, rectangle, catalogue.precision.free_turns)
            if part.outline.outer.is_circle and len(rings) == 1:
                wanted = wanted[:1]
            distinct = distinct_angles(shape, wanted)
            per_room.append(distinct)
            angles += [angle for angle in distinct if angle not in angles]
        if not angles:
            continue
        if flipped and _looks_the_same(seen[0][0], seen[0][1], shape, angles):
            continue  # a part that mirrors into itself gains nothing from a flip
        seen.append((shape, angles))
        index = len(catalogue.shapes)
        catalogue.add(shape, angles, Face(index, flipped, turn % 360.0))
        for row, distinct in zip(plan, per_room, strict=True):
            row += [(index, angle % 360.0) for angle in distinct]
    return plan


def _free_angles(shape: Shape, rectangle: Rectangle, count: int) -> list[float]:
    """Angles to try where every angle is allowed; finer ones only if none fits."""
    angles: list[float] = []
    for steps in (count, 24, 120):
        angles = [k * 360.0 / steps for k in range(steps)]
        if any(fits_box(shape, angle, rectangle) for angle in angles):
            break
    else:
        return list(QUARTERS)
    if steps == count:
        return angles
    fitting = [angle for angle in angles if fits_box(shape, angle, rectangle)]
    return fitting[:: max(len(fitting) // 12, 1)]


def fits_box(shape: Shape, angle: float, rectangle: Rectangle) -> bool:
    """Whether the bounding box of a turned shape is no larger than a rectangle."""
    ring = Motion(0.0, 0.0, angle).points(shape.rings[0])
    width, height = np.ptp(ring, axis=0)
    x0, y0, x1, y1 = rectangle
    return bool(width <= x1 - x0 and height <= y1 - y0)


def _looks_the_same(
    one: Shape, angles_one: Sequence[float], two: Shape, angles_two: Sequence[float]
) -> bool:
    """Whether each turned form of `two` is one of the turned forms of `one`."""
    if len(angles_one) != len(angles_two):
        return False
    forms = [_polygon(one, angle) for angle in angles_one]
    limit = 1e-3 * one.area
    return all(
        any(
            shapely.symmetric_difference(_polygon(two, angle), form).area < limit
            for form in forms
        )
        for angle in angles_two
    )


def _polygon(shape: Shape, angle: float) -> shapely.Polygon:
    motion = Motion(0.0, 0.0, angle)
    rings = [motion.points(ring) for ring in shape.rings]
    return shapely.Polygon(rings[0], rings[1:])


# ------------------------------------------------------------------- usable area


def usable_area(
    stock: Stock, cutting: Cutting
) -> shapely.Polygon | shapely.MultiPolygon:
    """Return where parts grown by half the gap may lie on a blank of a kind of stock.

    That is the blank inset by the margin less half the gap (or extended, when the
    margin is the smaller), without the keep-outs, each grown by half the gap. Where
    there is a choice the area is a little too small, never too large.
    """
    half = cutting.gap / 2.0
    inset = cutting.margin - half
    chord = 0.01
    flat = stock.outline.flatten(chord)
    area = shapely.Polygon(flat.outer, flat.holes)
    error = flat.error
    if inset + error > 0.0:
        area = _offset(area, -(inset + error))
    elif stock.is_rectangle:
        x0, y0, x1, y1 = stock.outline.bounds
        area = shapely.box(x0 + inset, y0 + inset, x1 - inset, y1 - inset)
    else:
        wider = _offset(area, -(inset + error))
        # Extending the edge must not close a notch that the check will still see.
        back = _offset(wider, inset + error)
        if back.symmetric_difference(area).area <= 1e-9 * area.area:
            area = wider
    for keep_out in stock.keep_outs:
        loop = keep_out.loop
        grow = half if loop.is_straight else half + chord
        area = area.difference(_offset(shapely.Polygon(loop.flatten(chord)), grow))
    return area


def _offset(area: shapely.Polygon, distance: float) -> shapely.Polygon:
    """Offset with corners cut outside the true round: never too large inward."""
    if distance == 0.0:
        return area
    return area.buffer(distance, join_style="mitre", mitre_limit=1.05)


# ------------------------------------------------------------------- to a layout


def to_layout(states: Sequence[tuple[Problem, Arrangement]]) -> Layout:
    """Return the layout that the arrangements of all problems make together.

    Boards with locked copies keep their index where that can be; the others fill the
    places between them in order.
    """
    boards: list[tuple[Problem, Board]] = []
    for problem, arrangement in states:
        boards += [(problem, b) for b in arrangement.boards if b.kind or b.held >= 0]
    held = {
        problem.held[board.held].blank: k
        for k, (problem, board) in enumerate(boards)
        if board.held >= 0
    }
    order: list[int] = []
    free = [k for k, (_, board) in enumerate(boards) if board.held < 0]
    late = sorted(held)
    while free or late:
        here = len(order)
        if late and (late[0] <= here or not free):
            order.append(held[late.pop(0)])
        else:
            order.append(free.pop(0))
    next_copy: dict[str, list[int]] = {
        kind.part.id: list(kind.copies)[::-1]
        for problem, _ in states
        for kind in problem.kinds
    }
    blanks, placements = [], []
    for blank, k in enumerate(order):
        problem, board = boards[k]
        blanks.append(Blank(problem.rooms[board.room].stock.id))
        if board.held >= 0:
            for placement in problem.held[board.held].placements:
                placements.append(_on_blank(placement, blank))
        rows = zip(board.kind, board.variant, board.x, board.y, strict=True)
        for i, (kind, variant, x, y) in enumerate(rows):
            copy = next_copy[problem.kinds[kind].part.id].pop()
            angle = board.turned.get(i)
            placements.append(
                problem.placement(kind, copy, blank, variant, x, y, angle)
            )
    unplaced = [
        Unplaced(problem.kinds[kind].part.id, count, reason)
        for problem, arrangement in states
        for kind, (count, reason) in sorted(arrangement.left.items())
        if count
    ]
    return Layout(tuple(blanks), tuple(placements), tuple(unplaced))


def arrangement_of(problem: Problem, layout: Layout) -> Arrangement | None:
    """Return the part of a layout that concerns a problem as an arrangement.

    Parameters
    ----------
    problem : Problem
    layout : Layout
        A layout that the check has accepted.

    Returns
    -------
    Arrangement or None
        None if a copy lies as none of its part's variants does and may not turn freely,
        or a locked copy is not where the job has it.
    """
    kinds = {kind.part.id: k for k, kind in enumerate(problem.kinds)}
    rooms = {room.stock.id: r for r, room in enumerate(problem.rooms)}
    fixed = {p: h for h, held in enumerate(problem.held) for p in held.placements}
    fixed_copies = {(p.part_id, p.copy): p for p in fixed}
    boards: dict[int, Board] = {}
    for placement in layout.placements:
        if placement.part_id not in kinds:
            continue
        kind = kinds[placement.part_id]
        room = rooms.get(layout.blanks[placement.blank].stock_id)
        if room is None:
            return None
        board = boards.setdefault(placement.blank, Board(room))
        locked = fixed_copies.get((placement.part_id, placement.copy))
        if locked is not None:
            held = fixed[locked]
            same = replace(locked, blank=placement.blank) == replace(
                placement, locked=True
            )
            if not same or problem.held[held].room != room:
                return None
            if board.held not in (-1, held):
                return None
            board.held = held
            continue
        found = _variant_at(problem, kind, room, placement)
        if found is None:
            return None
        board.add(kind, *found)
    used = {board.held for board in boards.values()}
    if any(held not in used for held in range(len(problem.held))):
        return None
    left = {
        kinds[entry.part_id]: (entry.count, entry.reason)
        for entry in layout.unplaced
        if entry.part_id in kinds and entry.count
    }
    ordered = sorted(boards.items(), key=lambda row: (row[1].held < 0, row[0]))
    return Arrangement([board for _, board in ordered], left)


def _variant_at(
    problem: Problem, kind: int, room: int, placement: Placement
) -> tuple[int, float, float, float | None] | None:
    """Return variant, place and angle of a copy, as `Board.add` takes them.

    None if it lies as no variant does and may not turn freely.
    """
    outline = problem.kinds[kind].part.outline
    round_ = outline.outer.is_circle and not outline.holes
    alike: tuple[int, float, float, float | None] | None = None
    turned: tuple[int, float, float, float | None] | None = None
    for variant in problem.kinds[kind].variants[room]:
        face = problem.faces[variant]
        assert face is not None, "a wall is no copy of a part"
        if face.flipped != placement.flipped:
            continue
        shape = problem.store.shapes[face.shape]
        angle = placement.turn - face.ahead
        dx, dy = drawing_place(shape, angle, 0.0, 0.0)
        x, y = placement.x - dx, placement.y - dy
        there = problem.store.angles[variant]
        if angle_between(there, angle) <= ANGLE_TOLERANCE:
            return variant, x, y, None
        if turned is None and problem.turns_freely(kind, room):
            turned = variant, x, y, angle % 360.0
        # Of turns at which a shape looks the same, only one is a variant.
        if alike is None and (
            round_ or len(distinct_angles(shape, (there, angle))) < 2
        ):
            alike = variant, x, y, None
    return alike or turned


def _on_blank(placement: Placement, blank: int) -> Placement:
    if placement.blank == blank:
        return placement
    return Placement(
        placement.part_id,
        placement.copy,
        blank,
        placement.x,
        placement.y,
        placement.turn,
        placement.flipped,
        placement.locked,
    )
