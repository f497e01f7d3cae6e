"""Run the engine for a person: with a bar, and with holes left empty to compare."""

from __future__ import annotations

import time
from concurrent.futures import Executor
from dataclasses import dataclass, replace

from ..nesting.improve import improve
from ..nesting.model.job import Job
from ..nesting.model.machine import ShopSetup
from ..nesting.objective import Measures
from ..nesting.result import Record, Result
from ..nesting.shop.breakdown import SawnStock
from ..nesting.solve import Params, solve
from ..nesting.stop import (
    AnyOf,
    BoundMet,
    Cancelled,
    MaxPasses,
    MaxTime,
    OnceComplete,
    Progress,
    Stop,
    StopReason,
)
from .ending_early import EndEarly
from .progress import Bar
from .quoting import (
    break_downs,
    on_blanks,
    on_fewest_sheets,
    seconds_for,
    whole_sheets_bound,
    with_blanks,
)
from .verdict import Verdict, copies_in_holes, make_verdict, proofs_in_words

COMPARISON_SHARE = 0.3
"""Time for the comparison layout, as a share of the time for the layout itself."""


@dataclass(frozen=True)
class LaidOut:
    """A job with its layout, the verdict on it and how the search went."""

    job: Job
    verdict: Verdict
    result: Result


class _Watched:
    """Tells the bar how far the time is; never stops anything itself."""

    def __init__(self, bar: Bar, seconds: float) -> None:
        self.words = "preparing"
        self._bar = bar
        self._seconds = max(seconds, 1e-9)
        self._start = time.monotonic()
        self._next = 0.0

    def __call__(self, progress: Progress) -> bool:
        """Redraw now and then; always return False."""
        now = time.monotonic()
        if now >= self._next:  # twenty times a second is enough for the eye
            self._next = now + 0.05
            self._bar.update((now - self._start) / self._seconds, self.words)
        return False


def _in_short(measures: Measures) -> str:
    sheets = measures.sheets + measures.offcuts
    words = f"{sheets} blank{'' if sheets == 1 else 's'}"
    words += f", yield {100 * measures.yield_:.1f} %"
    return words + (f", {measures.unplaced} left over" if measures.unplaced else "")


def lay_out(
    job: Job,
    bar: Bar,
    *,
    seconds: float,
    passes: int | None = None,
    seed: int = 0,
    workers: int = 1,
    executor: Executor | None = None,
    statistics: bool = False,
    early: EndEarly | None = None,
) -> LaidOut:
    """Lay a job out and judge the layout.

    Parameters
    ----------
    job : Job
        What is wanted.
    bar : Bar
        Told how far the search is.
    seconds : float
        Time for the search; a first complete layout may take longer.
    passes : int, optional
        End after this many passes, which gives the same layout on every run.
    seed : int
        For what the search draws at random.
    workers : int
        Pieces of work that go on side by side.
    executor : Executor, optional
        Where to send them; by default they are done here.
    statistics : bool
        Whether to keep a record of every pass.
    early : EndEarly, optional
        Ends the search with the best layout so far; told once there is one.

    Raises
    ------
    InputError
        If locked copies are in each other's way.
    CheckError
        If the check refused every layout.
    """
    return _with_bound(
        _searched(
            job,
            bar,
            seconds=seconds,
            passes=passes,
            seed=seed,
            workers=workers,
            executor=executor,
            statistics=statistics,
            early=early or EndEarly(),
        )
    )


def _with_bound(done: LaidOut) -> LaidOut:
    """Return a layout with what can be proven about fewer sheets."""
    found = done.result
    # The time of a search may end before all is looked at that proves something.
    all_known = found.proven or not found.complete or found.bound.thorough
    proven = whole_sheets_bound(done.job, found.bound if all_known else None)
    if proven is None:
        return done
    why = proofs_in_words(proven)
    return replace(
        done, verdict=replace(done.verdict, bound=proven.sheets, why_bound=why)
    )


def _searched(
    job: Job,
    bar: Bar,
    *,
    seconds: float,
    passes: int | None,
    seed: int,
    workers: int,
    executor: Executor | None,
    statistics: bool,
    early: EndEarly,
) -> LaidOut:
    """Lay a job out; the verdict says nothing about a bound yet."""
    watched = _Watched(bar, seconds)

    def better(layout: object, record: Record) -> None:
        watched.words = _in_short(record.measures)
        early.found = True

    rules: list[Stop] = [Cancelled(early.wanted), watched, BoundMet()]
    if passes is None:
        rules.append(OnceComplete(MaxTime(seconds)))
    else:
        rules.append(MaxPasses(passes))
    params = Params(improve=improve)
    result = solve(
        job,
        AnyOf(*rules),
        seed,
        better,
        workers,
        executor,
        params,
        collect_stats=statistics,
    )
    done = replace(job, layout=result.layout)
    without = None
    if job.cutting.use_holes and copies_in_holes(done) and not early.asked:
        bar.update(1.0, "comparing with holes left empty")
        without = _without_holes(
            job,
            result.passes,
            # Who counts passes gets the same numbers on every run.
            seconds=None if passes is not None else COMPARISON_SHARE * seconds,
            seed=seed,
            workers=workers,
            early=early,
        )
    return LaidOut(done, make_verdict(done, without_holes=without), result)


def lay_out_on_bed(
    job: Job,
    setup: ShopSetup,
    bar: Bar,
    *,
    seconds: float,
    passes: int | None = None,
    seed: int = 0,
    workers: int = 1,
    executor: Executor | None = None,
    statistics: bool = False,
    early: EndEarly | None = None,
) -> LaidOut:
    """Lay a job out on blanks that fit its bed; see `lay_out`.

    Sheets larger than the bed are sawn first. The order is laid out on the blanks of
    several break-downs, and the one that places most on the cheapest whole sheets wins.
    """
    ending = early or EndEarly()
    choices = list(break_downs(job, setup))
    best: tuple[tuple[float, ...], LaidOut] | None = None
    for sawn in choices:
        if best is not None and ending.asked:
            break

        def lay(blanks: tuple[SawnStock, ...]) -> LaidOut:
            return _searched(
                on_blanks(job, blanks),
                bar,
                seconds=seconds_for(blanks, seconds, choices),
                passes=passes,
                seed=seed,
                workers=workers,
                executor=executor,
                statistics=statistics,
                early=ending,
            )

        done = on_fewest_sheets(sawn, lay, lambda laid: laid.job)
        if sawn:
            stock = with_blanks(job, sawn)
            done = replace(done, job=replace(done.job, stock=stock))
            without = done.verdict.without_holes
            verdict = make_verdict(done.job, without_holes=without)
            done = replace(done, verdict=verdict)
        measures, verdict = done.result.measures, done.verdict
        rank = (
            measures.missing_area,
            verdict.cost,
            float(verdict.sheets),
            float(len(done.job.layout.blanks)),
        )
        if best is None or rank < best[0]:
            best = (rank, done)
    assert best is not None, "there is always one choice"
    return _with_bound(best[1])


def _without_holes(
    job: Job,
    passes: int,
    *,
    seconds: float | None,
    seed: int,
    workers: int,
    early: EndEarly,
) -> Measures | None:
    """Return the numbers of a layout of as many passes that leaves holes empty.

    None when it was to end early: what was found until then says nothing.
    """
    closed = replace(job, cutting=replace(job.cutting, use_holes=False))
    rules: list[Stop] = [Cancelled(early.wanted), MaxPasses(max(passes, 1))]
    if seconds is not None:
        rules.append(OnceComplete(MaxTime(seconds)))
    params = Params(improve=improve)
    result = solve(closed, AnyOf(*rules), seed, None, workers, params=params)
    return None if result.reason is StopReason.CANCELLED else result.measures
