"""The independent check of a layout: shapely on the true curves, nothing of the engine.

Words used here. The **clearance** wanted between two cut edges is the gap, between a
part and a keep-out the gap, between a part and the blank's edge the margin. All three
are one question: how far apart are two regions, and if they are not apart, how deep is
one in the other.

Accuracy. Curves are flattened with chords that stray at most `CHORD_ERROR`, and a
clearance may fall short by at most `TOLERANCE` before it is a problem. So every
clearance that is short by more than ``TOLERANCE + 2 * CHORD_ERROR`` is found, and none
that is short by less than ``TOLERANCE - 2 * CHORD_ERROR`` is reported; between straight
edges the limit is `TOLERANCE` itself.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import numpy as np
import shapely

from .model.job import Cutting, Job
from .model.motion import Motion
from .model.outline import Loop, Outline
from .model.part import Part
from .model.placement import Layout, Placement
from .model.rules import same_board
from .model.stock import Stock

CHORD_ERROR = 0.001
"""Greatest distance of a chord from the curve it stands for, mm."""

TOLERANCE = 0.005
"""A clearance may be short by this much, mm."""

CHUNK = 24
"""Copies looked at between two questions whether to go on."""

Polygon = Any
"""A shapely polygon; shapely publishes no types."""


class Kind(StrEnum):
    """What can be wrong with a layout."""

    UNKNOWN_PART = "unknown part"
    UNKNOWN_COPY = "no such copy"
    DOUBLED = "placed more than once"
    MISSING = "missing"
    TOO_MANY = "more than wanted"
    UNKNOWN_BLANK = "no such blank"
    UNKNOWN_STOCK = "unknown stock"
    STOCK_COUNT = "more blanks than there is stock"
    EMPTY_BLANK = "blank with nothing on it"
    WRONG_BOARD = "wrong material or thickness"
    TURN = "turned against its rule"
    FLIP = "flipped without leave"
    NOT_A_NUMBER = "position is not a number"
    OUTSIDE = "outside the blank"
    MARGIN = "closer to the edge than the margin"
    KEEP_OUT = "in or too close to a keep-out"
    OVERLAP = "overlap"
    GAP = "closer than the gap"
    OUTLINE = "outline crosses itself"


_UNITS = {
    Kind.TURN: "°",
    Kind.WRONG_BOARD: " mm",
    Kind.OUTSIDE: " mm",
    Kind.MARGIN: " mm",
    Kind.KEEP_OUT: " mm",
    Kind.OVERLAP: " mm",
    Kind.GAP: " mm",
}


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong.

    Attributes
    ----------
    kind : Kind
        What is wrong.
    part : str
        Id of the part; empty where none is concerned.
    copy : int
        Copy of the part, from 1; 0 where none is concerned.
    blank : int
        Index of the blank, from 0; -1 where none is concerned.
    other : str
        The other party: ``part/copy``, a keep-out's label, a stock's id; may be empty.
    measured, wanted : float
        For a clearance, mm: what is there and what is wanted; negative is how deep one
        lies in the other. For counts: what is there and what is wanted. For a turn:
        the turn, degrees, and NaN.
    """

    kind: Kind
    part: str = ""
    copy: int = 0
    blank: int = -1
    other: str = ""
    measured: float = math.nan
    wanted: float = math.nan

    def __str__(self) -> str:
        """Return one sentence."""
        words = []
        if self.part:
            words.append(f"{self.part}/{self.copy}" if self.copy else self.part)
        if self.blank >= 0:
            words.append(f"on blank {self.blank + 1}")
        place = " ".join(words)
        text = f"{place}: {self.kind.value}" if place else self.kind.value
        if self.other:
            text += f" ({self.other})"
        if not math.isnan(self.measured):
            unit = _UNITS.get(self.kind, "")
            text += f": {self.measured:.6g}{unit}"
            if not math.isnan(self.wanted):
                text += f" instead of {self.wanted:.6g}{unit}"
        return text


@dataclass(frozen=True)
class Report:
    """What the check found.

    Attributes
    ----------
    problems : tuple of Problem
        Everything that is wrong, in the order of blanks.
    placed, wanted : int
        Copies placed and copies wanted.
    tolerance : float
        By how much a clearance may be short before it counts, mm.
    """

    problems: tuple[Problem, ...]
    placed: int
    wanted: int
    tolerance: float = TOLERANCE

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong."""
        return not self.problems

    def of(self, *kinds: Kind) -> tuple[Problem, ...]:
        """Return the problems of some kinds."""
        return tuple(p for p in self.problems if p.kind in kinds)


Sound = set[tuple[object, ...]]
"""Blanks that a check found nothing wrong with, by what lies on them and where."""


def verify(
    job: Job,
    layout: Layout | None = None,
    poll: Callable[[], None] | None = None,
    sound: Sound | None = None,
) -> Report:
    """Check a layout against the order, the stock and the cutting set-up.

    Every wanted copy must be placed once or be counted as unplaced; every placed copy
    must lie on stock of its board, turned and flipped as its part allows, inside the
    blank by the margin, a gap away from every other copy and every keep-out. A copy in
    the hole of another is judged as everything else: a gap away from the hole's edge.

    Parameters
    ----------
    job : Job
        What is wanted.
    layout : Layout, optional
        What is to be checked; by default the job's own.
    poll : callable, optional
        Called every few milliseconds; what it raises ends the check.
    sound : set, optional
        Blanks of the same job that an earlier check accepted; they are not looked at
        again, and those accepted now are added.

    Returns
    -------
    Report
    """
    layout = job.layout if layout is None else layout
    problems = [*_check_counts(job, layout), *_check_stock(job, layout)]
    stock = {entry.id: entry for entry in job.stock}
    parts = {part.id: part for part in job.parts}
    cache = _Shapes()
    by_blank: dict[int, list[Placement]] = defaultdict(list)
    for placement in layout.placements:
        by_blank[placement.blank].append(placement)
    for blank in sorted(by_blank):
        if poll is not None:
            poll()
        if sound is not None:
            key = blank_key(layout, blank, by_blank[blank])
            if key in sound:
                continue
        before = len(problems)
        board = None
        if 0 <= blank < len(layout.blanks):
            board = stock.get(layout.blanks[blank].stock_id)
        laid: list[tuple[Placement, Part]] = []
        for placement in by_blank[blank]:
            part = parts.get(placement.part_id)
            if part is None:  # already counted as unknown
                continue
            wrong = list(_check_rules(placement, part, board))
            problems += wrong
            if all(p.kind is not Kind.NOT_A_NUMBER for p in wrong):
                laid.append((placement, part))
        if board is not None:
            problems += _check_room(laid, blank, board, job.cutting, cache, poll)
        if sound is not None and len(problems) == before:
            sound.add(key)
    return Report(
        tuple(problems),
        len(layout.placements),
        sum(part.quantity for part in job.parts),
    )


def blank_key(
    layout: Layout, blank: int, placements: Sequence[Placement]
) -> tuple[object, ...]:
    """Return what stock a blank is and what lies where on it, copies not told apart."""
    stock = layout.blanks[blank].stock_id if 0 <= blank < len(layout.blanks) else None
    return stock, *sorted((p.part_id, p.x, p.y, p.turn, p.flipped) for p in placements)


# ------------------------------------------------------------------- counts and rules


def _check_counts(job: Job, layout: Layout) -> Iterable[Problem]:
    known = {part.id for part in job.parts}
    copies = Counter((p.part_id, p.copy) for p in layout.placements)
    placed = Counter(p.part_id for p in layout.placements)
    tray: Counter[str] = Counter()
    for entry in layout.unplaced:
        tray[entry.part_id] += entry.count
        if entry.count < 0:
            yield Problem(Kind.MISSING, entry.part_id, measured=entry.count, wanted=0)
    for part_id in sorted((placed.keys() | tray.keys()) - known):
        yield Problem(Kind.UNKNOWN_PART, part_id, measured=placed[part_id], wanted=0)
    for (part_id, copy), count in sorted(copies.items()):
        if count > 1:
            yield Problem(Kind.DOUBLED, part_id, copy, measured=count, wanted=1)
    for part in job.parts:
        distinct = {copy for name, copy in copies if name == part.id}
        for copy in sorted(distinct):
            if not 1 <= copy <= part.quantity:
                yield Problem(
                    Kind.UNKNOWN_COPY,
                    part.id,
                    copy,
                    measured=copy,
                    wanted=part.quantity,
                )
        held = len(distinct) + tray[part.id]
        if held != part.quantity:
            kind = Kind.MISSING if held < part.quantity else Kind.TOO_MANY
            yield Problem(kind, part.id, measured=held, wanted=part.quantity)


def _check_stock(job: Job, layout: Layout) -> Iterable[Problem]:
    stock = {entry.id: entry for entry in job.stock}
    used = Counter(blank.stock_id for blank in layout.blanks)
    for stock_id, count in sorted(used.items()):
        entry = stock.get(stock_id)
        if entry is None:
            yield Problem(Kind.UNKNOWN_STOCK, other=stock_id, measured=count, wanted=0)
        elif entry.count is not None and count > entry.count:
            yield Problem(
                Kind.STOCK_COUNT, other=stock_id, measured=count, wanted=entry.count
            )
    taken = {p.blank for p in layout.placements}
    for blank in range(len(layout.blanks)):
        if blank not in taken:
            yield Problem(Kind.EMPTY_BLANK, blank=blank)


def _check_rules(
    placement: Placement, part: Part, board: Stock | None
) -> Iterable[Problem]:
    def problem(kind: Kind, **more: Any) -> Problem:
        return Problem(kind, part.id, placement.copy, placement.blank, **more)

    if not all(map(math.isfinite, (placement.x, placement.y, placement.turn))):
        yield problem(Kind.NOT_A_NUMBER)
        return
    if placement.flipped and not part.flip:
        yield problem(Kind.FLIP)
    if board is None:
        yield problem(Kind.UNKNOWN_BLANK)
        return
    if not same_board(part.material, part.thickness, board.material, board.thickness):
        yield problem(
            Kind.WRONG_BOARD,
            other=board.id,
            measured=board.thickness,
            wanted=part.thickness,
        )
    if not part.turn.allows(placement.turn, board.grain):
        yield problem(Kind.TURN, measured=placement.turn)


# ------------------------------------------------------------------- the room


def polygon_of(outline: Outline, motion: Motion | None = None) -> Polygon:
    """Return an outline as a shapely polygon, moved if a motion is given.

    Chords stray at most `CHORD_ERROR` mm from the curves; straight edges are exact.
    """
    flat = outline.flatten(CHORD_ERROR)
    rings = [flat.outer, *flat.holes]
    if motion is not None:
        rings = [motion.points(ring) for ring in rings]
    return shapely.Polygon(rings[0], rings[1:])


def polygon_of_loop(loop: Loop) -> Polygon:
    """Return the area inside a loop as a shapely polygon."""
    return shapely.Polygon(loop.flatten(CHORD_ERROR))


def short_clearance(a: Polygon, b: Polygon, wanted: float) -> float | None:
    """Return the clearance of two regions if it is short, None if it is not.

    Parameters
    ----------
    a, b : shapely polygon
        Regions with or without holes; each is material only, not its holes.
    wanted : float
        Least distance, mm; 0 lets them touch.

    Returns
    -------
    float or None
        The distance, mm, or minus the depth of one in the other.
    """
    return _short_clearance(_Region(a), _Region(b), wanted)


class _Region:
    """A region with what is worked out from it only when it is asked for."""

    __slots__ = ("_shrunk", "polygon")

    def __init__(self, polygon: Polygon) -> None:
        self.polygon = polygon
        self._shrunk: Polygon | None = None

    @property
    def shrunk(self) -> Polygon:
        """The region less a rim of half the tolerance; itself if nothing is left."""
        if self._shrunk is None:
            inner = self.polygon.buffer(-TOLERANCE / 2, join_style="mitre")
            self._shrunk = self.polygon if inner.is_empty else inner
        return self._shrunk


def _short_clearance(a: _Region, b: _Region, wanted: float) -> float | None:
    limit = wanted - TOLERANCE
    if limit > 0.0:
        if not shapely.dwithin(a.polygon, b.polygon, limit):
            return None
        distance = float(shapely.distance(a.polygon, b.polygon))
        if distance > 0.0:
            return distance if distance < limit else None
        return -_depth(a, b)
    if not shapely.intersects(a.polygon, b.polygon):
        return None
    # Where only edges touch, rounding makes slivers; they are no deeper than that.
    # Two tests, since each is blind to something: a needle's tip vanishes when it is
    # shrunk, and two bars that cross have no corner in one another.
    deep = max(_corner_depth(a.polygon, b.polygon), _corner_depth(b.polygon, a.polygon))
    if deep > TOLERANCE:
        return -deep
    if shapely.intersects(a.shrunk, b.shrunk):
        return -_depth(a, b)
    return None


def _depth(a: _Region, b: _Region) -> float:
    """How deep one overlapping region lies in the other, mm: a measure to report."""
    deep = max(_corner_depth(a.polygon, b.polygon), _corner_depth(b.polygon, a.polygon))
    if deep > TOLERANCE:
        return deep
    shared = shapely.intersection(a.polygon, b.polygon)
    if shared.area <= 0.0:
        return 0.0
    radius = shapely.length(shapely.maximum_inscribed_circle(shared, tolerance=1e-3))
    return float(max(2.0 * radius, deep))


def _corner_depth(a: Polygon, b: Polygon) -> float:
    """Greatest depth of a corner of `a` inside `b`, mm."""
    corners = shapely.get_coordinates(a)
    x0, y0, x1, y1 = b.bounds
    x, y = corners[:, 0], corners[:, 1]
    near = corners[(x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)]
    if not len(near):
        return 0.0
    shapely.prepare(b)
    inside = near[shapely.contains_xy(b, near[:, 0], near[:, 1])]
    if not len(inside):
        return 0.0
    edge = b.boundary
    shapely.prepare(edge)
    return float(shapely.distance(edge, shapely.points(inside)).max())


class _Shapes:
    """Flattened outlines by part, turn and flip, about the part's own origin."""

    def __init__(self) -> None:
        self._rings: dict[tuple[str, float, bool], list[np.ndarray]] = {}
        self._flat: dict[str, list[np.ndarray]] = {}
        self._valid: dict[str, bool] = {}

    def rings(self, part: Part, turn: float, flipped: bool) -> list[np.ndarray]:
        key = (part.id, turn, flipped)
        if key not in self._rings:
            if part.id not in self._flat:
                flat = part.outline.flatten(CHORD_ERROR)
                self._flat[part.id] = [flat.outer, *flat.holes]
            motion = Motion(0.0, 0.0, turn, flipped)
            self._rings[key] = [motion.points(ring) for ring in self._flat[part.id]]
        return self._rings[key]

    def region(self, part: Part, placement: Placement) -> _Region:
        move = np.array([placement.x, placement.y])
        rings = self.rings(part, placement.turn, placement.flipped)
        moved = [ring + move for ring in rings]
        return _Region(shapely.Polygon(moved[0], moved[1:]))

    def is_valid(self, part: Part) -> bool:
        if part.id not in self._valid:
            rings = self.rings(part, 0.0, False)
            self._valid[part.id] = shapely.Polygon(rings[0], rings[1:]).is_valid
        return self._valid[part.id]


def _check_room(
    laid: Sequence[tuple[Placement, Part]],
    blank: int,
    board: Stock,
    cutting: Cutting,
    cache: _Shapes,
    poll: Callable[[], None] | None,
) -> Iterable[Problem]:
    regions: list[_Region] = []
    sound: list[tuple[Placement, Part]] = []
    for number, (placement, part) in enumerate(laid):
        if poll is not None and number % CHUNK == 0:
            poll()
        if cache.is_valid(part):
            regions.append(cache.region(part, placement))
            sound.append((placement, part))
        else:
            yield Problem(Kind.OUTLINE, part.id, placement.copy, blank)
    names = [f"{placement.part_id}/{placement.copy}" for placement, _ in sound]
    polygons = [region.polygon for region in regions]
    for found in check_blank(polygons, board, cutting, regions, poll):
        placement = sound[found.index][0]
        yield Problem(
            found.kind,
            placement.part_id,
            placement.copy,
            blank,
            names[found.other] if found.other >= 0 else found.label,
            found.measured,
            found.wanted,
        )


@dataclass(frozen=True, slots=True)
class Clash:
    """A clearance on one blank that is short.

    Attributes
    ----------
    kind : Kind
        OUTSIDE, MARGIN, KEEP_OUT, OVERLAP or GAP.
    index : int
        Which of the polygons.
    other : int
        The other polygon, or -1.
    label : str
        The keep-out's label, if it is one.
    measured, wanted : float
        The clearance that is there (negative: a depth) and that is wanted, mm.
    """

    kind: Kind
    index: int
    other: int
    label: str
    measured: float
    wanted: float


def check_blank(
    polygons: Sequence[Polygon],
    board: Stock,
    cutting: Cutting,
    _regions: Sequence[_Region] | None = None,
    poll: Callable[[], None] | None = None,
) -> list[Clash]:
    """Return every short clearance among polygons that lie on one blank.

    For anything that has true outlines in the blank's coordinates: a layout, or what
    was read back from exported files (see `polygon_of`).

    Parameters
    ----------
    polygons : sequence of shapely polygon
        Outlines with holes, in the blank's coordinates, mm.
    board : Stock
        The blank's stock: its outline and keep-outs.
    cutting : Cutting
        The gap and the margin.
    poll : callable, optional
        Called every few milliseconds; what it raises ends the check.

    Returns
    -------
    list of Clash
        Ordered by polygon.
    """
    if not polygons:
        return []
    regions = list(_regions or (_Region(polygon) for polygon in polygons))
    found = _check_edge(regions, board, cutting.margin)
    for keep_out in board.keep_outs:
        label = keep_out.label or "keep-out"
        wall = _Region(polygon_of_loop(keep_out.loop))
        for k, clearance in _short_to(wall, regions, cutting.gap):
            found.append(Clash(Kind.KEEP_OUT, k, -1, label, clearance, cutting.gap))
    found += _check_pairs(regions, cutting.gap, poll)
    return sorted(found, key=lambda clash: (clash.index, clash.other))


def _check_edge(regions: Sequence[_Region], board: Stock, margin: float) -> list[Clash]:
    """Judge the distance to the edge as the distance to what lies beyond it."""
    blank = polygon_of(board.outline)
    shapely.prepare(blank)
    boxes = shapely.bounds([blank, *(region.polygon for region in regions)])
    reach = 1.0 + margin
    frame = shapely.box(
        boxes[:, 0].min() - reach,
        boxes[:, 1].min() - reach,
        boxes[:, 2].max() + reach,
        boxes[:, 3].max() + reach,
    )
    found = []
    for piece in shapely.get_parts(shapely.difference(frame, blank)):
        for k, clearance in _short_to(_Region(piece), regions, margin):
            kind = Kind.OUTSIDE if _overlaps(clearance, margin) else Kind.MARGIN
            found.append(Clash(kind, k, -1, "", clearance, margin))
    return found


def _short_to(
    wall: _Region, regions: Sequence[_Region], wanted: float
) -> Iterable[tuple[int, float]]:
    polygons = np.array([region.polygon for region in regions], dtype=object)
    shapely.prepare(wall.polygon)
    for k in np.flatnonzero(_near(wall.polygon, polygons, wanted)).tolist():
        clearance = _short_clearance(wall, regions[k], wanted)
        if clearance is not None:
            yield k, clearance


def _overlaps(clearance: float, wanted: float) -> bool:
    """Whether a short clearance is an overlap rather than a distance too small."""
    return clearance < (-TOLERANCE if wanted > TOLERANCE else 0.0)


def _near(a: Polygon, b: Any, wanted: float) -> Any:
    """Whether a closer look is needed."""
    if wanted > TOLERANCE:
        return shapely.dwithin(a, b, wanted - TOLERANCE)
    return shapely.intersects(a, b)


def _check_pairs(
    regions: Sequence[_Region], gap: float, poll: Callable[[], None] | None
) -> list[Clash]:
    polygons = np.array([region.polygon for region in regions], dtype=object)
    shapely.prepare(polygons)
    tree = shapely.STRtree(polygons)
    pairs: list[tuple[int, int]] = []
    for first in range(0, len(polygons), CHUNK):
        if poll is not None:
            poll()
        some = polygons[first : first + CHUNK]
        if gap > TOLERANCE:
            near = tree.query(some, predicate="dwithin", distance=gap - TOLERANCE)
        else:
            near = tree.query(some, predicate="intersects")
        pairs += [(i + first, j) for i, j in near.T.tolist() if i + first < j]
    found = []
    for i, j in sorted(pairs):
        clearance = _short_clearance(regions[i], regions[j], gap)
        if clearance is not None:
            kind = Kind.OVERLAP if _overlaps(clearance, gap) else Kind.GAP
            found.append(Clash(kind, i, j, "", clearance, gap))
    return found


def summary(report: Report, job: Job) -> list[str]:
    """Return the problems as sentences with the names people know."""
    names: Mapping[str, str] = {part.id: part.name for part in job.parts}
    lines = []
    for problem in report.problems:
        line = str(problem)
        name = names.get(problem.part, "")
        if name and name != problem.part and line.startswith(problem.part):
            line = name + line[len(problem.part) :]
        lines.append(line)
    return lines
