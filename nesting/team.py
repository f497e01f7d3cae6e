"""Improvement by several workers, through any `concurrent.futures.Executor`.

Work goes out in rounds: every seat gets the best arrangements so far, a seed of its own
and a number of passes; what comes back is checked here and taken in the order of the
seats. So the same job, seed, workers and passes give the same layout whatever runs the
work: threads, processes, or the machines of a cluster. A request is small, carries no
state, and can be done again: work that an executor loses is done here.
"""

from __future__ import annotations

import contextlib
import hashlib
import pickle
import threading
import time
import uuid
from collections import OrderedDict
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from .bound import Bound
from .construct import Interrupted
from .model.job import Job
from .rooms import Arrangement, Precision, Problem, problems
from .stop import Progress, StopReason

if TYPE_CHECKING:
    from .solve import Improver, Search

ROUNDS = (1, 2, 3, 4, 6, 8)
"""Passes of one request, by round; the last number goes on."""

PRESSED = 3
"""Rounds at least, the last of them without use, before a met bound ends a search."""

LOOK = 0.02
"""Seconds between two looks whether to stop."""

GRACE = 0.3
"""Seconds that work under way may take to hand in what it has when time is up."""

KEPT = 3
"""Prepared jobs kept by a worker."""


@dataclass(frozen=True)
class Request:
    """What one seat is asked to do in one round.

    Attributes
    ----------
    key : str
        Names the job and how it is prepared; workers keep prepared jobs by it.
    job : bytes
        The job and the precision, pickled.
    bound : Bound
        What no layout can beat.
    states : tuple of Arrangement
        Where to begin.
    seed : int
    passes : int
        How much to do.
    improve : Improver
        A function that can be pickled.
    token : str
        Names the search; see `_running`.
    """

    key: str
    job: bytes
    bound: Bound
    states: tuple[Arrangement, ...]
    seed: int
    passes: int
    improve: Improver
    token: str


@dataclass(frozen=True)
class Reply:
    """What one seat found.

    Attributes
    ----------
    better : tuple of (int, Arrangement)
        Problems and arrangements of them that are better than those given.
    passes : int
        Passes done.
    done : bool
        Whether the improver found nothing left to try.
    rows : tuple of (float, int, int)
        For each pass the seconds since the work began, the arrangements offered and
        how many were better.
    """

    better: tuple[tuple[int, Arrangement], ...]
    passes: int
    done: bool
    rows: tuple[tuple[float, int, int], ...] = field(default=(), compare=False)


# ------------------------------------------------------------------- the worker's side

_prepared: OrderedDict[str, tuple[Job, list[Problem]]] = OrderedDict()
_lock = threading.Lock()
_running: dict[str, threading.Event] = {}
"""Searches of this process; their event is set when they no longer want anything."""


def packed(job: Job, precision: Precision) -> tuple[str, bytes]:
    """Return a job as it is sent, and its key."""
    data = pickle.dumps((job, precision), protocol=5)
    return hashlib.sha256(data).hexdigest(), data


def prepared(request: Request) -> tuple[Job, list[Problem]]:
    """Return the job of a request and its problems; kept for the next request."""
    with _lock:
        found = _prepared.get(request.key)
        if found is None:
            job, precision = pickle.loads(request.job)
            found = _prepared[request.key] = job, problems(job, precision)
            while len(_prepared) > KEPT:
                _prepared.popitem(last=False)
        else:
            _prepared.move_to_end(request.key)
    return found


def work(request: Request) -> Reply:
    """Do what a request asks; the same request gives the same reply anywhere."""
    from .solve import Search

    event = _running.get(request.token)

    def stop(progress: Progress) -> bool:
        # One more, so that a pass that has begun is done.
        return progress.passes > request.passes or (
            event is not None and event.is_set()
        )

    job, parts = prepared(request)
    search = Search(job, stop, request.seed, None, 1, None)
    search.collect_stats = True
    search.problems = parts
    search.bound = request.bound
    search.settled = True
    search.begin([*request.states])
    done = False
    if search.layout is not None and not search.stopped():
        with contextlib.suppress(Interrupted):
            request.improve(search)
            done = not search.stopped()
    better = tuple(
        (k, found)
        for k, (found, given) in enumerate(
            zip(search.best, request.states, strict=True)
        )
        if found is not given
    )
    passes = min(search.passes, request.passes)
    search.tick()  # a pass is counted where it begins: the last one ends here
    rows = [(r.seconds, r.offered, r.better) for r in search.statistics[1:]]
    return Reply(better, passes, done, tuple(rows[:passes]))


# ------------------------------------------------------------------- this side


class Team:
    """The seats of one search and the executor behind them.

    Parameters
    ----------
    search : Search
        Offered what the seats find.
    improve : Improver
    precision : Precision
        How the job is prepared, as in `rooms.problems`.
    """

    def __init__(self, search: Search, improve: Improver, precision: Precision) -> None:
        self._search = search
        self._improve = improve
        self._key, self._job = packed(without_layout(search.job), precision)
        with _lock:  # workers in this process need not prepare it again
            _prepared[self._key] = search.job, search.problems
        self._token = uuid.uuid4().hex
        self.lost = 0
        """Requests that the executor lost and that were done here."""

    def run(self) -> None:
        """Go on, round by round, until stopped or until no seat has a use for more."""
        search = self._search
        with self._executor() as executor:
            number = 0
            hasty = search.settled
            while not search.stopped():
                requests = self._requests(number)
                number += 1
                replies = self._round(executor, requests)
                if replies is None:
                    return
                better = False
                for reply in replies:
                    better |= bool(reply.better)
                if not better and all(reply.done for reply in replies):
                    return
                search.settled = hasty or (number >= PRESSED and not better)

    @contextlib.contextmanager
    def _executor(self) -> Iterator[Executor]:
        event = _running[self._token] = threading.Event()
        own = None
        try:
            if self._search.executor is not None:
                yield self._search.executor
            else:
                # The kernels let go of the interpreter, so that threads will do.
                own = ThreadPoolExecutor(self._search.workers, "nesting")
                yield own
        finally:
            event.set()
            del _running[self._token]
            if own is not None:
                own.shutdown(wait=False, cancel_futures=True)

    def _requests(self, number: int) -> list[Request]:
        search = self._search
        seats = max(search.workers, 1)
        passes = ROUNDS[min(number, len(ROUNDS) - 1)]
        left = search.passes_left
        if left is not None:
            passes = max(min(passes, -(-left // seats)), 1)
        return [
            Request(
                self._key,
                self._job,
                search.bound,
                tuple(search.best),
                search.seed + 7919 * (number * seats + seat),
                passes,
                self._improve,
                self._token,
            )
            for seat in range(seats)
        ]

    def _round(self, executor: Executor, requests: list[Request]) -> list[Reply] | None:
        """Send requests, take replies in order; None when stopped before the last."""
        search = self._search
        began = search.seconds
        pending: list[Future[Reply] | None] = []
        for request in requests:
            try:
                pending.append(executor.submit(work, request))
            except Exception:  # it is broken or shut down
                pending.append(None)
                self.lost += 1
        replies: list[Reply] = []
        for request, future in zip(requests, pending, strict=True):
            reply = self._wait(future, request)
            if reply is None:
                for left in pending:
                    if left is not None:
                        left.cancel()
                return None
            replies.append(reply)
            self._take(reply)
        # Passes count once all are in, so that none of the round is left out.
        for reply, request in zip(replies, requests, strict=True):
            rows = [(began + s, offered, better) for s, offered, better in reply.rows]
            for k in range(max(min(reply.passes, request.passes), 1)):
                search.tick(rows[k] if k < len(rows) else None)
        return replies

    def _wait(self, future: Future[Reply] | None, request: Request) -> Reply | None:
        """Return a reply; None once the search is stopped."""
        search = self._search
        if search.stopped() and search.reason is not StopReason.TIME:
            return None  # by what an earlier seat found: the same on every run
        if future is not None:
            while not wait([future], timeout=LOOK).done:
                if search.stopped():
                    return self._late(future)
            try:
                return future.result()
            except Exception:  # a worker was killed, a line was cut: do it here
                self.lost += 1
        if search.stopped():
            return None
        return self._here(request)

    def _here(self, request: Request) -> Reply | None:
        """Do a request on this thread, which also asks whether to stop."""
        reply: list[Reply] = []
        fault: list[BaseException] = []

        def run() -> None:
            try:
                reply.append(work(request))
            except BaseException as error:
                fault.append(error)

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        while thread.is_alive():
            thread.join(LOOK)
            if self._search.stopped():
                return None
        if fault:
            raise fault[0]
        return reply[0]

    def _late(self, future: Future[Reply]) -> Reply | None:
        """Wait a little for what work under way has found, unless cancelled."""
        _running[self._token].set()
        if self._search.reason is StopReason.CANCELLED:
            return None
        end = time.monotonic() + GRACE
        while time.monotonic() < end:
            if wait([future], timeout=LOOK).done:
                try:
                    return future.result()
                except Exception:
                    return None
        return None

    def _take(self, reply: Reply) -> None:
        """Offer what a seat found; the search checks it before it goes any further."""
        search = self._search
        for number, state in reply.better:
            if 0 <= number < len(search.problems) and is_sound(
                search.problems[number], state
            ):
                search.offer(number, state)
            else:
                search.unusable += 1


def is_sound(problem: Problem, state: Arrangement) -> bool:
    """Return whether an arrangement from elsewhere speaks of this problem at all.

    Kinds, variants, rooms and counts; whether the copies keep apart is for the check.
    """
    counts = [len(kind.copies) for kind in problem.kinds]
    held = []
    for board in state.boards:
        if not 0 <= board.room < len(problem.rooms):
            return False
        if not len(board.kind) == len(board.variant) == len(board.x) == len(board.y):
            return False
        if board.held >= 0:
            held.append(board.held)
        if not {*board.turned} <= {*range(len(board.kind))}:
            return False
        for i, (kind, variant) in enumerate(
            zip(board.kind, board.variant, strict=True)
        ):
            if not 0 <= kind < len(counts):
                return False
            if i in board.turned and not problem.turns_freely(kind, board.room):
                return False
            if variant not in problem.kinds[kind].variants[board.room]:
                return False
            counts[kind] -= 1
    for kind, (count, _) in state.left.items():
        if not 0 <= kind < len(counts) or count < 0:
            return False
        counts[kind] -= count
    return not any(counts) and sorted(held) == list(range(len(problem.held)))


def without_layout(job: Job) -> Job:
    """Return a job without the copies that are not locked, which say nothing."""
    kept = tuple(p for p in job.layout.placements if p.locked)
    return replace(job, layout=replace(job.layout, placements=kept, unplaced=()))
