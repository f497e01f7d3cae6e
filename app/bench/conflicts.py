"""Which copies lie wrongly, and why: the independent check, blank by blank."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely

from ...nesting.model.job import Cutting, Job
from ...nesting.model.part import Part
from ...nesting.model.placement import Placement
from ...nesting.model.rules import same_board
from ...nesting.model.stock import Stock
from ...nesting.verify import Kind, check_blank
from .copies import Key, key_of
from .shapes import moved_polygons

KEPT = 4
"""So many states of a blank are remembered: undo and redo go to and fro."""


@dataclass(frozen=True)
class Reason:
    """One thing that is wrong with where a copy lies.

    Attributes
    ----------
    kind : Kind
        What is wrong.
    other : tuple of str and int, or None
        The other copy concerned.
    label : str
        The keep-out concerned; may be empty.
    measured, wanted : float
        The clearance that is there and that is wanted, mm; NaN where none applies.
    """

    kind: Kind
    other: Key | None = None
    label: str = ""
    measured: float = math.nan
    wanted: float = math.nan


@dataclass(frozen=True)
class Conflict:
    """All that is wrong with where one copy lies."""

    reasons: tuple[Reason, ...]


@dataclass(frozen=True)
class _Known:
    """What one blank held when it was last looked at, and what was found."""

    stock: Stock
    cutting: Cutting
    parts: tuple[Part, ...]
    placements: tuple[Placement, ...]
    found: dict[Key, Conflict]

    def still_holds(
        self,
        stock: Stock,
        cutting: Cutting,
        parts: tuple[Part, ...],
        placements: tuple[Placement, ...],
    ) -> bool:
        return (
            self.stock is stock
            and self.cutting == cutting
            and self.placements == placements
            and all(map(_lie_alike, self.parts, parts))
        )


def _lie_alike(a: Part, b: Part) -> bool:
    """Return whether a part lies wrongly wherever another does."""
    return a is b or (
        a.outline is b.outline
        and (a.flip, a.material, a.thickness) == (b.flip, b.material, b.thickness)
        and a.turn == b.turn
    )


class Conflicts:
    """The check's findings by copy, remembered blank by blank."""

    def __init__(self) -> None:
        self._known: dict[int, list[_Known]] = {}
        self._job: Job | None = None
        self._all: dict[Key, Conflict] = {}

    def of(self, job: Job) -> dict[Key, Conflict]:
        """Return every copy of the job's layout that lies wrongly."""
        if job is self._job:
            return self._all
        by_blank: dict[int, list[Placement]] = {
            i: [] for i in range(len(job.layout.blanks))
        }
        for p in job.layout.placements:
            by_blank[p.blank].append(p)
        self._known = {i: k for i, k in self._known.items() if i in by_blank}
        found: dict[Key, Conflict] = {}
        for blank, listed in by_blank.items():
            placements = tuple(listed)
            stock = job.stock_of(blank)
            parts = tuple(job.part(p.part_id) for p in placements)
            asked = stock, job.cutting, parts, placements
            states = self._known.get(blank, [])
            known = next((k for k in states if k.still_holds(*asked)), None)
            if known is None:
                known = _Known(*asked, conflicts_on(*asked))
            others = [k for k in states if k is not known]
            self._known[blank] = [known, *others][:KEPT]
            found.update(known.found)
        self._job = job
        self._all = found
        return found


def conflicts_on(
    stock: Stock,
    cutting: Cutting,
    parts: Sequence[Part],
    placements: Sequence[Placement],
) -> dict[Key, Conflict]:
    """Return what lies wrongly on one blank, each copy with its reasons.

    Parameters
    ----------
    stock : Stock
        What the blank is made of.
    cutting : Cutting
        The gap and the margin.
    parts : sequence of Part
        The part of each placement.
    placements : sequence of Placement
        What lies on the blank.
    """
    keys = [key_of(p) for p in placements]
    found: dict[Key, list[Reason]] = {}
    for key, part, p in zip(keys, parts, placements, strict=True):
        for reason in _against_rules(part, p, stock):
            found.setdefault(key, []).append(reason)
    polygons = moved_polygons(
        [part.outline for part in parts], [p.motion for p in placements]
    )
    # An outline that crosses itself cannot be measured; it is a conflict by itself.
    sound = [i for i, valid in enumerate(shapely.is_valid(polygons)) if valid]
    for i in set(range(len(polygons))) - set(sound):
        found.setdefault(keys[i], []).append(Reason(Kind.OUTLINE))
    for clash in check_blank([polygons[i] for i in sound], stock, cutting):
        one = keys[sound[clash.index]]
        two = keys[sound[clash.other]] if clash.other >= 0 else None
        found.setdefault(one, []).append(
            Reason(clash.kind, two, clash.label, clash.measured, clash.wanted)
        )
        if two is not None:
            found.setdefault(two, []).append(
                Reason(clash.kind, one, "", clash.measured, clash.wanted)
            )
    return {key: Conflict(tuple(reasons)) for key, reasons in found.items()}


def _against_rules(part: Part, p: Placement, stock: Stock) -> list[Reason]:
    out = []
    if p.flipped and not part.flip:
        out.append(Reason(Kind.FLIP))
    if not same_board(part.material, part.thickness, stock.material, stock.thickness):
        out.append(Reason(Kind.WRONG_BOARD))
    if not part.turn.allows(p.turn, stock.grain):
        out.append(Reason(Kind.TURN, measured=p.turn))
    return out
