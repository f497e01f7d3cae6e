"""The one entry point: a job and a stop rule in, the best layout found out.

Anytime: a complete layout is constructed first; then other constructions are tried and
the improving engine, if there is one, takes over. Every layout that is handed out has
passed the independent check.
"""

from __future__ import annotations

import contextlib
import time
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from typing import Protocol

from .bound import Bound, bound
from .construct import Constructor, Interrupted, Plan
from .model.errors import CheckError, InputError
from .model.job import Job, Objective
from .model.placement import Layout, Placement, Reason, Unplaced
from .objective import Known, Measures, measure
from .rectangles.board import board_of, first_arrangement
from .result import PassRecord, Phase, Record, Result
from .rooms import (
    Arrangement,
    Precision,
    Problem,
    arrangement_of,
    problems,
    to_layout,
)
from .stop import Progress, Stop, StopReason, pass_budget, reason_of
from .team import Team
from .verify import Kind, Report, Sound, blank_key, verify

OnBetter = Callable[[Layout, Record], None]

PLANS = (
    Plan("area", "slant", turns=2),
    Plan("area", "slant"),
    Plan("side", "corner"),
    Plan("area", "top"),
    Plan("area", "right"),
    Plan("box", "corner"),
    Plan("area", "corner"),
    Plan("width", "slant"),
    Plan("perimeter", "slant"),
)
"""Tried in this order before any is shaken."""


class Improver(Protocol):
    """An engine that makes arrangements better until it is told to stop."""

    def __call__(self, search: Search, /) -> None:
        """Improve what `search` holds; return when there is nothing left to try."""


@dataclass(frozen=True)
class Params:
    """Choices of the search.

    Parameters
    ----------
    precision : Precision
        How closely shapes follow the outlines.
    plans : tuple of Plan
        Constructions tried in order; the first makes the first layout.
    shaken : int
        Shaken constructions tried after them before the improver is called; without an
        improver they go on until the search is stopped.
    improve : Improver or None
        What is called after construction.
    leftover : bool
        Whether to go on for a little where no layout can have fewer sheets or cost
        less: what is left of the last sheet may still be of more use.
    """

    precision: Precision = field(default_factory=Precision)
    plans: tuple[Plan, ...] = PLANS
    shaken: int = 8
    improve: Improver | None = None
    leftover: bool = True


class Search:
    """The state of one search, shared by construction and improvement.

    Attributes
    ----------
    job : Job
        What is to be laid out.
    problems : list of Problem
        Its problems, one for each board; they have nothing to do with each other.
    best : list of Arrangement
        The best arrangement of each.
    seed : int
        For whatever is drawn at random.
    workers : int
        How many processors may be used.
    executor : Executor or None
        Where to send work, if the caller has one.
    """

    def __init__(
        self,
        job: Job,
        stop: Stop,
        seed: int,
        on_better: OnBetter | None,
        workers: int,
        executor: Executor | None,
    ) -> None:
        self.job = job
        self.seed = seed
        self.workers = workers
        self.executor = executor
        self.problems: list[Problem] = []
        self.best: list[Arrangement] = []
        self.layout: Layout | None = None
        self.measures: Measures | None = None
        self.report: Report | None = None
        self.bound = Bound(0)
        self.history: list[Record] = []
        self.passes = 0
        self.refused: list[Report] = []
        self.reason: StopReason | None = None
        self.collect_stats = False
        self.statistics: list[PassRecord] = []
        self.phase = Phase.CONSTRUCT
        self.unusable = 0
        """Replies of workers that made no sense."""
        self.lost = 0
        """Pieces of work that an executor lost and that were done over."""
        self.impatient = False
        """Whether a layout in hand may be dropped when the stop rule fires."""
        self.settled = False
        """Whether enough was tried that a met bound may end the search."""
        self._stop = stop
        self._on_better = on_better
        self._start = time.monotonic()
        self._ranks: list[tuple[float, ...]] = []
        self._sound: Sound = set()
        self._known: Known = {}
        self._in_pass = [0, 0]  # offered, better

    @property
    def seconds(self) -> float:
        """Time since the search began."""
        return time.monotonic() - self._start

    @property
    def bound_met(self) -> bool:
        """Whether the best layout is as good as any can be in sheets or in cost."""
        best = self.measures
        if best is None or best.unplaced:
            return False
        if self.job.objective is Objective.LEAST_COST:
            return best.cost <= self.bound.cost * (1.0 + 1e-9) + 1e-6
        if self.job.objective is Objective.SHORTEST_LENGTH:
            return False  # nothing is proven of lengths
        return best.sheets <= self.bound.sheets

    @property
    def passes_left(self) -> int | None:
        """Passes until the stop rule fires for their number; None if it does not."""
        budget = pass_budget(self._stop)
        return None if budget is None else max(budget - self.passes, 0)

    def stopped(self) -> bool:
        """Ask the stop rule; once it has fired it stays so."""
        if self.reason is None:
            progress = Progress(
                self.passes,
                len(self.history),
                self.history[-1].passes if self.history else 0,
                self.settled and self.bound_met,
            )
            if self._stop(progress):
                self.reason = reason_of(self._stop)
        return self.reason is not None

    def poll(self) -> None:
        """Raise `Interrupted` once the stop rule has fired."""
        if self.stopped():
            raise Interrupted

    def tick(self, row: tuple[float, int, int] | None = None) -> None:
        """Count a pass, or with `row` its seconds, offers and better ones elsewhere."""
        self.passes += 1
        if self.collect_stats and self.measures is not None:
            offered, better = self._in_pass
            seconds, offered, better = row or (self.seconds, offered, better)
            self.statistics.append(
                PassRecord(
                    self.passes,
                    seconds,
                    self.phase,
                    offered,
                    better,
                    self.measures,
                )
            )
        self._in_pass = [0, 0]

    def begin(self, states: list[Arrangement]) -> bool:
        """Take the first arrangement of each problem; false if the check refuses it."""
        self.best = states
        layout = to_layout(list(zip(self.problems, states, strict=True)))
        refused = len(self.refused)
        try:
            self.poll()
            report = self._check(layout)
            if not report.ok:
                self.refused.append(report)
                return False
            self._publish_if_better(layout, report, self._numbers(layout))
            self._ranks = [
                self._measure(k, s).rank(self._goal) for k, s in enumerate(states)
            ]
        except Interrupted:  # nobody will offer anything: answer at once
            if self.layout is None:
                self.answer_at_once(layout)
        return len(self.refused) == refused

    def offer(self, problem: int, state: Arrangement) -> bool:
        """Take an arrangement if it is better and the check accepts it."""
        self._in_pass[0] += 1
        if not self._ranks:
            return False
        first = self._measure(problem, state, with_leftovers=False)
        best = self._ranks[problem]
        quick = first.first_rank(self._goal)
        if quick > best[: len(quick)]:
            return False
        measures = self._measure(problem, state)
        rank = measures.rank(self._goal)
        if rank >= best:
            return False
        states = [*self.best]
        states[problem] = state
        layout = to_layout(list(zip(self.problems, states, strict=True)))
        report = self._check(layout)
        if not report.ok:
            self.refused.append(report)
            return False
        self.best, self._ranks[problem] = states, rank
        self._in_pass[1] += 1
        whole = measures if len(states) == 1 else self._numbers(layout)
        self._publish_if_better(layout, report, whole)
        return True

    @property
    def _goal(self) -> Objective:
        return self.job.objective

    def _measure(
        self, problem: int, state: Arrangement, with_leftovers: bool = True
    ) -> Measures:
        layout = to_layout([(self.problems[problem], state)])
        return self._numbers(layout, with_leftovers)

    def _numbers(self, layout: Layout, with_leftovers: bool = True) -> Measures:
        return measure(
            self.job,
            layout,
            with_leftovers=with_leftovers,
            poll=self._poll_if_impatient,
            known=self._known,
        )

    def _check(self, layout: Layout) -> Report:
        if len(self._sound) > REMEMBERED:
            self._sound.clear()
            self._known.clear()
        return verify(self.job, layout, self._poll_if_impatient, self._sound)

    def _poll_if_impatient(self) -> None:
        # Whoever cancels waits for the answer; a clock can wait for a finished layout.
        if self.stopped() and (self.impatient or self.reason is StopReason.CANCELLED):
            raise Interrupted

    def _publish_if_better(
        self, layout: Layout, report: Report, measures: Measures
    ) -> None:
        # A layout that came from elsewhere may be better than what the search has.
        best = self.measures
        if best is None or measures.rank(self._goal) < best.rank(self._goal):
            self._publish(layout, report, measures)

    def _publish(self, layout: Layout, report: Report, measures: Measures) -> None:
        self.layout, self.report, self.measures = layout, report, measures
        record = Record(self.seconds, self.passes, self.measures)
        self.history.append(record)
        if self._on_better is not None:
            self._on_better(layout, record)

    def answer_at_once(self, layout: Layout) -> None:
        """Hand out the blanks that can be checked in no time, when cancelled."""
        end = time.monotonic() + LAST_WORDS
        patient = self.reason is not StopReason.CANCELLED

        def hurry() -> None:
            if not patient and time.monotonic() > end:
                raise Interrupted

        try:
            report = verify(self.job, layout, hurry, self._sound)
        except Interrupted:
            layout = _only_sound(self.job, layout, self._sound)
            report = verify(self.job, layout, None, self._sound)
        if not report.ok:
            self.refused.append(report)
            return
        numbers = measure(self.job, layout, with_leftovers=patient, known=self._known)
        self._publish(layout, report, numbers)

    def propose(self, layout: Layout) -> bool:
        """Hand out a whole layout that came from elsewhere, if it is better."""
        measures = self._numbers(layout)
        best = self.measures
        if best is not None and measures.rank(self._goal) >= best.rank(self._goal):
            return False
        report = self._check(layout)
        if not report.ok:
            self.refused.append(report)
            return False
        self._publish(layout, report, measures)
        return True

    def accepts(self, layout: Layout) -> bool:
        """Whether the check accepts a layout; `Interrupted` if told to stop."""
        return verify(self.job, layout, self.poll, self._sound).ok

    def keep(self, layout: Layout) -> None:
        """Hand out a layout that was accepted before: nothing worse will follow."""
        report = verify(self.job, layout, None, self._sound)
        try:
            measures = self._numbers(layout)
        except Interrupted:
            measures = measure(self.job, layout, with_leftovers=False)
        self._publish(layout, report, measures)

    def check_locked(self) -> None:
        """Raise `InputError` if locked copies are in each other's way."""
        locked = self.job.layout.locked_only()
        for problem in verify(self.job, locked, None, self._sound).problems:
            if problem.kind is not Kind.MISSING:
                raise InputError(
                    "locked copies", str(problem), "move or unlock what is in the way"
                )


REMEMBERED = 20_000
"""Blanks that were checked and are remembered."""

LAST_WORDS = 0.02
"""Seconds for the check of what there is when a search is cancelled at its start."""


def _only_sound(job: Job, layout: Layout, sound: Sound) -> Layout:
    """Return the layout without the blanks that the check did not get to."""
    lying: list[list[Placement]] = [[] for _ in layout.blanks]
    for placement in layout.placements:
        lying[placement.blank].append(placement)
    for b, placed in enumerate(lying):
        if blank_key(layout, b, placed) not in sound:
            lying[b] = [p for p in placed if p.locked]
    kept = [b for b, placed in enumerate(lying) if placed]
    placements = tuple(
        replace(p, blank=k) for k, b in enumerate(kept) for p in lying[b]
    )
    dropped = Counter(p.part_id for p in layout.placements)
    dropped.subtract(p.part_id for p in placements)
    unplaced = list(layout.unplaced)
    unplaced += [
        Unplaced(name, count, Reason.STOPPED)
        for name, count in dropped.items()
        if count
    ]
    blanks = tuple(layout.blanks[b] for b in kept)
    return Layout(blanks, placements, tuple(unplaced))


def solve(
    job: Job,
    stop: Stop,
    seed: int = 0,
    on_better: OnBetter | None = None,
    workers: int = 1,
    executor: Executor | None = None,
    params: Params | None = None,
    initial: Layout | None = None,
    collect_stats: bool = False,
) -> Result:
    """Lay a job out.

    Parameters
    ----------
    job : Job
        What is wanted. Locked placements of its layout are kept as they are; the rest
        of its layout is not looked at.
    stop : Stop
        When to end; see `stop`. Asked at least every 50 ms once kernels are compiled,
        but while locked copies are checked first, a tenth of a millisecond each.
    seed : int
        The same job, seed and number of passes give the same layout.
    on_better : callable, optional
        Called with each better layout, and the record of it, as it is found, on the
        thread that called `solve`.
    workers : int
        How many pieces of work go on side by side.
    executor : Executor, optional
        Where to send them; by default this process does them, on threads of its own,
        one for each worker. See `team`: the layout does not depend on it.
    params : Params, optional
        Choices of the search.
    initial : Layout, optional
        A layout to begin from; what comes back is no worse. One that the check does
        not accept is passed over.
    collect_stats : bool
        Whether to keep a record of every pass in the result.

    Returns
    -------
    Result
        Always, also when stopped before anything was placed: what has no place is
        listed with the reason.

    Raises
    ------
    InputError
        If locked copies are in each other's way or against the rules.
    CheckError
        If the check refused every layout: a fault of the engine.
    """
    params = params or Params()
    search = Search(job, stop, seed, on_better, workers, executor)
    search.collect_stats = collect_stats
    search.stopped()  # starts the clock
    search.check_locked()
    try:
        if initial is not None and not _usable(search, initial):
            initial = None
        if initial is not None:
            search.keep(initial)
        search.problems = problems(job, params.precision, search.poll)
    except Interrupted:
        if search.layout is None and initial is not None:
            search.answer_at_once(initial)
        if search.layout is None:
            search.answer_at_once(_nothing_placed(job))
        return _finish(search)
    builders = [Constructor(problem) for problem in search.problems]
    _begin(search, builders, params.plans, initial)
    if search.reason is not StopReason.CANCELLED:
        search.bound = bound(job, pairs=False)
    try:
        search.poll()
        search.impatient = True
        if not search.bound_met:  # or there is nothing that a better bound would end
            search.bound = bound(job, search.poll)
        for k, builder in enumerate(builders):
            _tidy(search, k, builder)
        if params.improve is None or not _all_rectangles(search):
            _construct_more(search, builders, params)
        search.impatient = False
        if params.improve is not None:
            search.settled = not params.leftover
            search.phase = Phase.IMPROVE
            if not search.stopped():
                _improve(search, params)
    except Interrupted:
        pass
    return _finish(search)


def _usable(search: Search, layout: Layout) -> bool:
    """Whether a given layout is in order and has the locked copies where they are."""
    job = search.job
    names = {part.id for part in job.parts}
    placed = {(p.part_id, p.copy): p for p in layout.placements}
    for p in job.layout.placements:
        other = placed.get((p.part_id, p.copy))
        if p.locked and (
            other is None
            or (p.x, p.y, p.turn, p.flipped)
            != (other.x, other.y, other.turn, other.flipped)
        ):
            return False
    return names >= {p.part_id for p in layout.placements} and search.accepts(layout)


def _begin(
    search: Search,
    builders: list[Constructor],
    plans: tuple[Plan, ...],
    initial: Layout | None,
) -> None:
    """Make the first layout, from what was given if that can be."""
    given: list[Arrangement | None] = [None] * len(builders)
    if initial is not None:
        given = [arrangement_of(p, initial) for p in search.problems]
    known = [state for state in given if state is not None]
    if builders and len(known) == len(builders) and search.begin(known):
        with contextlib.suppress(Interrupted):
            for k, builder in enumerate(builders):
                search.offer(k, builder.build(plans[0], search.stopped))
        return
    states = []
    for builder in builders:
        state = first_arrangement(builder.problem, search.seed, search.stopped)
        if state is None:
            state = builder.build(plans[0], search.stopped, keep_partial=True)
        states.append(state)
    accepted = search.begin(states)
    for plan in plans:
        if accepted or search.stopped():
            break
        # A fault of one method need not be one of the next.
        accepted = search.begin(
            [b.build(plan, search.stopped, keep_partial=True) for b in builders]
        )
    if search.layout is None:
        raise _refusal(search.refused[0])
    with contextlib.suppress(Interrupted):
        for k, one in enumerate(given):
            if one is not None:
                search.offer(k, one)


def _improve(search: Search, params: Params) -> None:
    assert params.improve is not None, "asked before"
    team = Team(search, params.improve, params.precision)
    try:
        team.run()
    finally:
        search.lost = team.lost


def _all_rectangles(search: Search) -> bool:
    """Whether every problem has a method of its own that begins with many orders."""
    boards = [board_of(search, k) for k in range(len(search.problems))]
    return all(board is not None and board.exact for board in boards)


def _construct_more(
    search: Search, builders: list[Constructor], params: Params
) -> None:
    """Try other orders and directions."""
    rooms = max((len(problem.rooms) for problem in search.problems), default=0)
    number = 0
    while builders and any(problem.kinds for problem in search.problems):
        number += 1
        if number < len(params.plans):
            plan = params.plans[number]
        else:
            shaken = number - len(params.plans)
            search.settled = params.improve is None or not params.leftover
            if params.improve is not None and shaken >= params.shaken:
                return
            plan = replace(
                params.plans[shaken % len(params.plans)],
                jitter=0.05 + 0.1 * (shaken % 4),
                seed=search.seed * 100_003 + shaken,
                first_room=shaken // 2 % max(rooms, 1),
            )
        search.poll()
        for k, builder in enumerate(builders):
            if search.offer(k, builder.build(plan, search.stopped)):
                _tidy(search, k, builder)
        search.tick()


TIDY = (Plan("area", "right"), Plan("area", "top"), Plan("width", "right"))
"""Ways to lay the last sheet anew, so that what is left of it is in one piece."""


def _tidy(search: Search, problem: int, builder: Constructor) -> None:
    """Exchange sheets for cheaper ones; lay the last one anew for its leftover."""
    for plan in TIDY[:2]:
        state = builder.cheaper(search.best[problem], plan, search.stopped)
        if state is not None:
            search.offer(problem, state)
    for plan in TIDY:
        state = builder.repacked(search.best[problem], plan, search.stopped)
        if state is not None:
            search.offer(problem, state)


def _finish(search: Search) -> Result:
    if search.layout is None or search.measures is None or search.report is None:
        raise _refusal(search.refused[0])
    return Result(
        search.layout,
        search.measures,
        search.report,
        search.bound,
        search.reason or StopReason.DONE,
        search.passes,
        search.seconds,
        tuple(search.history),
        len(search.refused),
        tuple(search.statistics),
        search.lost,
    )


def _refusal(report: Report) -> CheckError:
    return CheckError(
        "",
        f"the check refused the layout: {report.problems[0]}",
        "please report this with the job file",
    )


# ------------------------------------------------------------------- locked copies


def _nothing_placed(job: Job) -> Layout:
    layout = job.layout.locked_only()
    unplaced = []
    for part in job.parts:
        held = sum(p.part_id == part.id for p in layout.placements)
        if part.quantity > held:
            unplaced.append(Unplaced(part.id, part.quantity - held, Reason.STOPPED))
    return replace(layout, unplaced=tuple(unplaced))
