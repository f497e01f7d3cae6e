"""What a search hands back."""

from __future__ import annotations

from dataclasses import dataclass

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
    statistics : tuple of Record
        The best layout's numbers at the beginning of every pass; empty unless asked
        for.
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
    statistics: tuple[Record, ...] = ()

    @property
    def complete(self) -> bool:
        """Whether every copy has a place."""
        return not self.layout.unplaced

    @property
    def proven(self) -> bool:
        """Whether no layout of all copies can use fewer sheets."""
        return self.complete and self.measures.sheets <= self.bound.sheets
