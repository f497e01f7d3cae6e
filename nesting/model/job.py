"""A job: one piece of work with its order, stock, cutting set-up and layout."""

from __future__ import annotations

import math
import uuid
from collections import Counter
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from .errors import InputError
from .holding import Holding, ReliefKind
from .part import Part
from .placement import Layout
from .rules import CleanFace
from .stock import Stock


class Datum(StrEnum):
    """The point of a blank that exported coordinates count from."""

    LOWER_LEFT = "lower left"
    LOWER_RIGHT = "lower right"
    UPPER_LEFT = "upper left"
    UPPER_RIGHT = "upper right"
    CENTRE = "centre"


class Objective(StrEnum):
    """What makes one layout better than another."""

    FEWEST_SHEETS = "fewest sheets"
    """Fewest sheets; of as many, the cheapest, then the fewest offcuts from the rack,
    then the largest leftover that is worth keeping."""
    LEAST_COST = "least cost"
    """Least cost, then the fewest sheets and offcuts, then the largest leftover."""
    SHORTEST_LENGTH = "shortest length"
    """Fewest sheets, then the least length used along x: for rolls and long sheets."""


@dataclass(frozen=True, slots=True)
class Cutting:
    """The cutting set-up.

    Parameters
    ----------
    cutter : float
        Cut width, mm.
    allowance : float
        What is left between two slots, mm; the gap is cutter + allowance.
    margin : float
        Least distance from a part to the blank's edge, mm.
    datum : Datum
        Where exported coordinates count from.
    use_holes : bool
        Whether parts may lie in the holes of other parts.
    clean : CleanFace
        The face that must stay free of torn fibres, which the cutter's form decides.
    offset : tuple of float
        Coordinates of the datum, mm: (0, 0) counts from the datum itself, other
        values from fixed stops on the bed that lie so far before it.
    keep_side : float
        A leftover is worth keeping if it holds a rectangle with no side under this, mm,
    keep_square : float
        and as large in area as a square of this side, mm.
    keep_neck : float
        Necks and fingers of a leftover that are narrower than this are waste, mm. They
        never count as wider than `keep_side`.
    """

    cutter: float = 6.35
    allowance: float = 1.5
    margin: float = 12.0
    datum: Datum = Datum.LOWER_LEFT
    use_holes: bool = True
    clean: CleanFace = CleanFace.NEITHER
    offset: tuple[float, float] = (0.0, 0.0)
    keep_side: float = 150.0
    keep_square: float = 300.0
    keep_neck: float = 100.0

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, self.offset)):
            raise InputError(
                "cutting", f"offset is {self.offset} mm", "give two lengths"
            )
        lengths = ("cutter", "allowance", "margin")
        for name in (*lengths, "keep_side", "keep_square", "keep_neck"):
            value = getattr(self, name)
            if not (value >= 0.0 and math.isfinite(value)):
                name = name.replace("_", " ")
                raise InputError(
                    "cutting", f"{name} is {value} mm", "give a length of 0 or more"
                )

    @property
    def gap(self) -> float:
        """Least distance between two cut edges, mm."""
        return self.cutter + self.allowance


@dataclass(frozen=True)
class Job:
    """One piece of work, saved in one file.

    Parameters
    ----------
    name : str
        What people call it.
    parts : tuple of Part
        The order.
    stock : tuple of Stock
        What can be used.
    cutting : Cutting
        The cutting set-up.
    bed : tuple of float or None
        Size of the machine's bed along x and y, mm; None when nobody said.
    units : str
        "mm" or "in": how lengths are shown. All numbers here are mm.
    objective : Objective
        What makes one layout better than another.
    layout : Layout
        What lies where so far.
    relief : ReliefKind
        How inside corners are cut, of parts that do not say it themselves. Outlines
        stay as drawn; relief is added when parts are shown as cut and exported.
    holding : Holding
        Tabs and screws.
    layers : tuple of (str, str)
        What layers and colours of its drawings mean, where the user said so: layer
        or colour, and a word such as ``pocket``. The parts here are read already;
        it counts when drawings are added or read anew.
    id : str
        What the job stays known by, however it is renamed, changed or moved. It is
        made with the job and makes no difference between jobs that are equal.

    Raises
    ------
    InputError
        If two parts or two kinds of stock share an id, or the units are unknown.
    """

    name: str
    parts: tuple[Part, ...] = ()
    stock: tuple[Stock, ...] = ()
    cutting: Cutting = field(default_factory=Cutting)
    bed: tuple[float, float] | None = None
    units: str = "mm"
    objective: Objective = Objective.FEWEST_SHEETS
    layout: Layout = field(default_factory=Layout)
    relief: ReliefKind = ReliefKind.NONE
    holding: Holding = field(default_factory=Holding)
    layers: tuple[tuple[str, str], ...] = ()
    id: str = field(default_factory=lambda: uuid.uuid4().hex, compare=False)

    def __post_init__(self) -> None:
        for kind, ids in (
            ("part", [part.id for part in self.parts]),
            ("stock", [stock.id for stock in self.stock]),
        ):
            for key, count in Counter(ids).items():
                if count > 1:
                    raise InputError(
                        self.name, f"{count} {kind} entries share the id {key!r}"
                    )
        if self.units not in ("mm", "in"):
            raise InputError(self.name, f"unknown unit {self.units!r}", "use mm or in")

    @cached_property
    def _parts_by_id(self) -> dict[str, Part]:
        return {part.id: part for part in self.parts}

    @cached_property
    def _stock_by_id(self) -> dict[str, Stock]:
        return {stock.id: stock for stock in self.stock}

    def part(self, part_id: str) -> Part:
        """Return the part with this id; KeyError when there is none."""
        return self._parts_by_id[part_id]

    def stock_of(self, blank: int) -> Stock:
        """Return the stock that a blank of the layout (index from 0) is made of."""
        return self._stock_by_id[self.layout.blanks[blank].stock_id]

    def stock_by_id(self, stock_id: str) -> Stock:
        """Return the stock with this id; KeyError when there is none."""
        return self._stock_by_id[stock_id]
