"""Nesting on blanks sawn from sheets that are larger than the bed.

Runs in the engine's process only, as `engine_work` does.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace

from ...io.setup_file import read_setup
from ...nesting.bound import bound
from ...nesting.improve import improve
from ...nesting.model.job import Job
from ...nesting.model.placement import Layout
from ...nesting.model.stock import Stock
from ...nesting.objective import Measures
from ...nesting.result import Record
from ...nesting.shop.breakdown import SawnStock, unsawn
from ...nesting.solve import Params, solve
from ...nesting.stop import AnyOf, BoundMet, Cancelled, MaxTime, OnceComplete
from ..quoting import (
    break_downs,
    on_blanks,
    on_fewest_sheets,
    seconds_for,
    with_blanks,
)
from ..verdict import proofs_in_words
from .engine_child import Request, Show
from .engine_work import PATIENCE, held_job, with_locks_of
from .figures import Figures, figures_of

Rank = tuple[float, float, int, int]


class _Stopped(Exception):
    """The user wants no more."""


class _Best:
    """Shows each layout that is better than all before, whatever it is sawn into."""

    def __init__(self, asked: Job, show: Show, proof: dict[str, object]) -> None:
        self._asked = asked
        self._show = show
        self._proof = proof
        self._start = time.monotonic()
        self._rank: Rank | None = None
        self._last: tuple[Layout, float, dict[str, object]] | None = None

    def take(self, job: Job, measures: Measures) -> None:
        """Look at a layout, on all the stock there is."""
        job = replace(job, layout=with_locks_of(self._asked, job.layout))
        figures = figures_of(job)
        rank = (
            measures.missing_area,
            figures.cost,
            figures.sheets,
            len(job.layout.blanks),
        )
        if self._rank is not None and rank >= self._rank:
            return
        self._rank = rank
        seconds = time.monotonic() - self._start
        self._last = (job.layout, seconds, _told(figures, measures, job))
        self.again()

    def again(self) -> None:
        """Show the best once more, with what has been proven meanwhile."""
        if self._last is not None:
            layout, seconds, told = self._last
            self._show(layout, seconds, told | self._proof)


def _told(figures: Figures, measures: Measures, job: Job) -> dict[str, object]:
    return {
        "sheets": figures.sheets,
        "offcuts": figures.offcuts,
        "yield": figures.yield_,
        "cost": figures.cost,
        "unplaced": measures.unplaced,
        "stock": job.stock,
    }


def nest_sawn(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Lay a job out on the blanks of several break-downs; show the best.

    The one wins that places most on the cheapest whole sheets.

    Raises
    ------
    InputError
        If a sheet cannot be sawn into blanks that fit the bed.
    """
    job = held_job(request)
    setup = read_setup()
    choices = list(break_downs(job, setup))
    proof: dict[str, object] = {}
    kerf = min(s.breakdown.kerf for sawn in choices for s in sawn)
    # A layout on the pieces of a sheet is one on the sheet only if pieces keep the gap.
    claimed = 2.0 * job.cutting.margin + kerf >= job.cutting.gap

    def prove() -> None:
        """Find the bound in whole sheets beside the search."""
        proven = bound(unsawn(replace(job, layout=Layout())))
        proof.update(bound=proven.sheets, why=proofs_in_words(proven))

    prover = threading.Thread(target=prove, daemon=True)
    if claimed:
        prover.start()
    best = _Best(request.job, show, proof)
    for sawn in choices:
        every = with_blanks(job, sawn)
        seconds = seconds_for(sawn, request.seconds, choices)

        def lay(
            blanks: tuple[SawnStock, ...],
            every: tuple[Stock, ...] = every,
            seconds: float = seconds,
        ) -> Job:
            asked = on_blanks(job, blanks)

            def better(layout: Layout, record: Record) -> None:
                best.take(replace(asked, layout=layout, stock=every), record.measures)

            rules = OnceComplete(MaxTime(seconds))
            result = solve(
                asked,
                AnyOf(Cancelled(stopped), BoundMet(), rules),
                request.seed,
                better,
                request.workers,
                params=Params(improve=improve),
            )
            best.take(
                replace(asked, layout=result.layout, stock=every), result.measures
            )
            if stopped():
                raise _Stopped
            return replace(asked, layout=result.layout)

        try:
            on_fewest_sheets(sawn, lay, lambda found: found)
        except _Stopped:
            break
    if claimed and not stopped():
        prover.join(PATIENCE)
    best.again()
