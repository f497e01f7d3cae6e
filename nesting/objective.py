"""How two layouts are compared, and the numbers shown for one.

A leftover is worth keeping as an offcut if it holds a rectangle that is large enough
and has no side too short; the job's cutting set-up says how large and how short. What
it begins with, 300 mm by 300 mm in area and 150 mm, is common practice, no source.
Parts are kept a gap away from it, since that is where the cutter runs.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from .kernels_free import fill_cells, largest_rectangle
from .model.job import Cutting, Job, Objective
from .model.motion import Motion
from .model.outline import Outline
from .model.placement import Layout, Placement
from .model.stock import Stock
from .verify import blank_key

CHORD = 0.05

CELLS = 60_000
"""Cells that a blank is looked at in; a leftover is a whole number of them."""


@dataclass(frozen=True, slots=True)
class Leftover:
    """The largest rectangle left on a blank that is worth keeping.

    Attributes
    ----------
    blank : int
        Index of the blank.
    x, y : float
        Its least corner, mm.
    width, height : float
        Along x and y, mm.
    """

    blank: int
    x: float
    y: float
    width: float
    height: float

    @property
    def area(self) -> float:
        """mm²."""
        return self.width * self.height


@dataclass(frozen=True)
class Measures:
    """The numbers of a layout.

    Attributes
    ----------
    sheets : int
        Whole sheets used.
    offcuts : int
        Offcuts from the rack used.
    cost : float
        Price of all blanks used, in the user's currency.
    part_area : float
        Area of the placed parts without their holes, mm².
    blank_area : float
        Area of all blanks used, mm².
    unplaced : int
        Copies that found no place.
    missing_area : float
        Their area, mm².
    leftovers : tuple of Leftover
        What is worth keeping, at most one per blank.
    length : float
        Length used along x, of all blanks together, mm; worked out only where the
        objective is the shortest length.
    """

    sheets: int
    offcuts: int
    cost: float
    part_area: float
    blank_area: float
    unplaced: int
    missing_area: float
    leftovers: tuple[Leftover, ...]
    length: float = 0.0

    @property
    def kept_area(self) -> float:
        """Area of all kept leftovers, mm²."""
        return math.fsum(piece.area for piece in self.leftovers)

    @property
    def largest_kept(self) -> float:
        """Area of the largest kept leftover, mm²."""
        return max((piece.area for piece in self.leftovers), default=0.0)

    @property
    def yield_(self) -> float:
        """Area of the parts over the area of the blanks used; 0 for no blank."""
        return self.part_area / self.blank_area if self.blank_area else 0.0

    @property
    def yield_with_kept(self) -> float:
        """The same with kept leftovers taken off the blanks' area."""
        used = self.blank_area - self.kept_area
        return self.part_area / used if used > 0.0 else 0.0

    def rank(self, objective: Objective) -> tuple[float, ...]:
        """Return the layout's rank: smaller is better.

        Copies without a place count first. Then sheets, the cost, and the largest
        leftover kept; or, for the least cost, the cost before the sheets.
        """
        kept = round(self.largest_kept, 1)
        total = round(self.kept_area, 1)
        return (*self.first_rank(objective), -kept, -total)

    def first_rank(self, objective: Objective) -> tuple[float, ...]:
        """Return the part of the rank that does not look at leftovers."""
        cost = round(self.cost, 6)
        sheets = float(self.sheets)
        missing = round(self.missing_area, 3)
        if objective is Objective.LEAST_COST:
            return (missing, cost, sheets, float(self.offcuts))
        if objective is Objective.SHORTEST_LENGTH:
            length = round(self.length, 2)
            return (missing, sheets, length, cost, float(self.offcuts))
        return (missing, sheets, cost, float(self.offcuts))


Known = dict[tuple[object, ...], tuple[float, float, float, float] | None]
"""The leftover, if any, of blanks by what lies on them and where."""


def measure(
    job: Job,
    layout: Layout | None = None,
    *,
    with_leftovers: bool = True,
    poll: Callable[[], None] | None = None,
    known: Known | None = None,
) -> Measures:
    """Return the numbers of a layout; by default of the job's own.

    Looking for leftovers takes most of the time, and can be left out; `poll` is called
    before each blank is looked at, and what it raises ends the work. Blanks of the same
    job that are `known` are not looked at again, and new ones are added.
    """
    layout = job.layout if layout is None else layout
    stock = [job.stock_by_id(blank.stock_id) for blank in layout.blanks]
    missing = [(job.part(u.part_id).area, u.count) for u in layout.unplaced]
    return Measures(
        sheets=sum(not entry.offcut for entry in stock),
        offcuts=sum(entry.offcut for entry in stock),
        cost=math.fsum(entry.price for entry in stock),
        part_area=math.fsum(job.part(p.part_id).area for p in layout.placements),
        blank_area=math.fsum(entry.area for entry in stock),
        unplaced=sum(count for _, count in missing),
        missing_area=math.fsum(area * count for area, count in missing),
        leftovers=leftovers(job, layout, poll, known) if with_leftovers else (),
        length=used_length(job, layout)
        if job.objective is Objective.SHORTEST_LENGTH
        else 0.0,
    )


def used_length(job: Job, layout: Layout) -> float:
    """Return how far along x parts reach on each blank, added up, mm."""
    reach: dict[tuple[str, float, bool], float] = {}
    ends: dict[int, float] = {}
    for p in layout.placements:
        key = (p.part_id, p.turn, p.flipped)
        if key not in reach:
            outer = job.part(p.part_id).outline.outer
            reach[key] = outer.moved(Motion(0.0, 0.0, p.turn, p.flipped)).bounds[2]
        ends[p.blank] = max(ends.get(p.blank, 0.0), p.x + reach[key])
    return math.fsum(ends.values())


def leftovers(
    job: Job,
    layout: Layout | None = None,
    poll: Callable[[], None] | None = None,
    known: Known | None = None,
) -> tuple[Leftover, ...]:
    """Return the largest rectangle worth keeping on each blank that has one.

    See `measure` for `poll` and `known`.
    """
    layout = job.layout if layout is None else layout
    known = {} if known is None else known
    on: dict[int, list[Placement]] = defaultdict(list)
    for placement in layout.placements:
        on[placement.blank].append(placement)
    keys = [blank_key(layout, b, on[b]) for b in range(len(layout.blanks))]
    flat: dict[str, list[np.ndarray]] = {}
    laid: dict[int, list[list[np.ndarray]]] = defaultdict(list)
    for placement in layout.placements:
        if not 0 <= placement.blank < len(keys) or keys[placement.blank] in known:
            continue
        if placement.part_id not in flat:
            outline = job.part(placement.part_id).outline.flatten(CHORD)
            # A leftover in a hole of a part is no offcut: the outer ring is enough.
            grown = shapely.Polygon(outline.outer).buffer(
                job.cutting.gap + CHORD, join_style="mitre", mitre_limit=1.1
            )
            flat[placement.part_id] = [np.array(grown.exterior.coords)[:-1]]
        motion: Motion = placement.motion
        laid[placement.blank].append(
            [motion.points(ring) for ring in flat[placement.part_id]]
        )
    found = []
    for blank, entry in enumerate(layout.blanks):
        if poll is not None:
            poll()
        if keys[blank] not in known:
            stock = job.stock_by_id(entry.stock_id)
            known[keys[blank]] = _leftover(stock, job.cutting, laid[blank])
        piece = known[keys[blank]]
        if piece is not None:
            found.append(Leftover(blank, *piece))
    return tuple(found)


def rectangle_in(
    outline: Outline, cutting: Cutting
) -> tuple[float, float, float, float] | None:
    """Return the largest rectangle worth keeping in an outline; None without one.

    Parameters
    ----------
    outline : Outline
        What is left of a blank, wherever it lies.
    cutting : Cutting
        Says what is worth keeping.

    Returns
    -------
    tuple of float or None
        Least corner in the outline's coordinates, width and height, mm.
    """
    x, y, _, _ = outline.bounds
    board = Stock("", "", outline.moved(Motion(-x, -y)))
    found = _leftover(board, cutting, [])
    return found and (found[0] + x, found[1] + y, found[2], found[3])


def _leftover(
    stock: Stock, cutting: Cutting, laid: list[list[np.ndarray]]
) -> tuple[float, float, float, float] | None:
    width, height = stock.outline.size
    cell = max(math.sqrt(width * height / CELLS), 1.0)
    columns, rows = math.ceil(width / cell), math.ceil(height / cell)
    side = np.array([width / columns, height / rows])
    taken = np.zeros((rows, columns), dtype=np.bool_)
    obstacles = list(laid)
    for keep_out in stock.keep_outs:
        obstacles.append([keep_out.loop.flatten(CHORD)])
    if not stock.is_rectangle:
        frame = shapely.box(-1.0, -1.0, width + 1.0, height + 1.0)
        outline = stock.outline.flatten(CHORD)
        blank = shapely.Polygon(outline.outer, outline.holes)
        for piece in shapely.get_parts(frame.difference(blank)):
            rings = [piece.exterior, *piece.interiors]
            obstacles.append([np.array(ring.coords)[:-1] for ring in rings])
    for rings in obstacles:
        starts = np.cumsum([0, *map(len, rings)]).astype(np.int64)
        corners = np.ascontiguousarray(np.concatenate(rings) / side)
        fill_cells(taken, corners, starts)
    across, along = (
        max(math.ceil(cutting.keep_side / s - 1e-9), 1) for s in side.tolist()
    )
    row, column, tall, wide = largest_rectangle(taken, along, across)
    x0, y0 = column * side[0], row * side[1]
    x1, y1 = (column + wide) * side[0], (row + tall) * side[1]
    area = (x1 - x0) * (y1 - y0)
    if not area or area < cutting.keep_square**2 - 1e-6:
        return None
    return float(x0), float(y0), float(x1 - x0), float(y1 - y0)
