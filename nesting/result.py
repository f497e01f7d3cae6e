"""What a search hands back."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from .bound import Bound
from .model.placement import Layout
from .objective import Measures
from .stop import StopReason
from .verify import Report


@dataclass(frozen=True)
class Record:
    """One better layout, as it was found.

    Attributes
    ----------
    seconds : float
        Since the search began.
    passes : int
        Passes done by then.
    measures : Measures
        The numbers of the layout.
    """

    seconds: float
    passes: int
    measures: Measures


PASS_COLUMNS = (
    "pass",
    "seconds",
    "phase",
    "offered",
    "better",
    "sheets",
    "offcuts",
    "cost",
    "yield",
    "kept_area",
    "largest_kept",
    "unplaced",
)
"""What `PassRecord.as_row` tells; areas in mm²."""


class Phase(StrEnum):
    """What a search is at."""

    CONSTRUCT = "construct"
    IMPROVE = "improve"


@dataclass(frozen=True)
class PassRecord:
    """How things stood at the end of one pass.

    Passes of several workers, which ran side by side, are in the order of the workers;
    their numbers are those after all of them.

    Attributes
    ----------
    passes : int
        Passes done, this one included.
    seconds : float
        Since the search began.
    phase : Phase
    offered : int
        Arrangements offered in this pass.
    better : int
        How many of them were better.
    measures : Measures
        The numbers of the best layout.
    """

    passes: int
    seconds: float
    phase: Phase
    offered: int
    better: int
    measures: Measures

    def as_row(self) -> dict[str, str | int | float]:
        """Return the record by `PASS_COLUMNS`."""
        m = self.measures
        values = (
            self.passes,
            round(self.seconds, 4),
            self.phase.value,
            self.offered,
            self.better,
            m.sheets,
            m.offcuts,
            m.cost,
            m.yield_,
            m.kept_area,
            m.largest_kept,
            m.unplaced,
        )
        return dict(zip(PASS_COLUMNS, values, strict=True))


@dataclass(frozen=True)
class Result:
    """The best layout and how it came about.

    Attributes
    ----------
    layout : Layout
        The best layout; the independent check has accepted it.
    measures : Measures
        Its numbers.
    report : Report
        What the independent check said of it.
    bound : Bound
        What no layout can beat, with proofs.
    reason : StopReason
        Why the search ended.
    passes : int
        Units of work done.
    seconds : float
        Time it took.
    history : tuple of Record
        Every better layout; the last one is `layout`.
    refused : int
        Layouts the check refused on the way; anything but 0 is a fault of the engine.
    statistics : tuple of PassRecord
        One for every pass; empty unless asked for.
    lost : int
        Pieces of work that an executor lost and that were done over.
    """

    layout: Layout
    measures: Measures
    report: Report
    bound: Bound
    reason: StopReason
    passes: int
    seconds: float
    history: tuple[Record, ...]
    refused: int = 0
    statistics: tuple[PassRecord, ...] = ()
    lost: int = 0

    @property
    def complete(self) -> bool:
        """Whether every copy has a place."""
        return not self.layout.unplaced

    @property
    def proven(self) -> bool:
        """Whether no layout of all copies can use fewer sheets."""
        return self.complete and self.measures.sheets <= self.bound.sheets
