"""The same layout whoever does the work, and nothing lost when a worker dies."""

from __future__ import annotations

import contextlib
import logging
import multiprocessing
import os
import pickle
import signal
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import replace
from functools import partial
from typing import Any

import pytest

from drystone.app import kernel_cache
from drystone.app.cluster import executor_at
from drystone.nesting.improve import improve
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Layout
from drystone.nesting.model.rules import TurnRule
from drystone.nesting.model.stock import Stock
from drystone.nesting.result import Result
from drystone.nesting.solve import PLANS, Params, solve
from drystone.nesting.stop import (
    AnyOf,
    BoundMet,
    Cancelled,
    MaxPasses,
    OnceComplete,
    StopReason,
    pass_budget,
)
from drystone.nesting.team import Reply, Request, is_sound, work
from drystone.nesting.verify import verify

brief = partial(improve, first=40_000, press=40_000)
PARAMS = Params(plans=PLANS[:2], shaken=0, improve=brief)
PASSES = 8


def order() -> Job:
    ell = [(0, 0), (210, 0), (210, 60), (70, 60), (70, 160), (0, 160)]
    kite = [(0, 0), (90, 40), (180, 0), (95, 150)]
    rule = TurnRule.parse("180")
    parts = (
        Part("ell", "ell", Outline(Loop.polygon(ell)), quantity=9, turn=rule),
        Part("kite", "kite", Outline(Loop.polygon(kite)), quantity=8, turn=rule),
    )
    stock = Stock("s", "s", Outline(Loop.rectangle(560, 420)))
    return Job("t", parts, (stock,), Cutting(cutter=4, allowance=1, margin=5))


def run(executor: Executor | None, workers: int = 2, job: Job | None = None) -> Result:
    job = order() if job is None else job
    result = solve(
        job, MaxPasses(PASSES), 5, workers=workers, executor=executor, params=PARAMS
    )
    assert result.refused == 0
    assert verify(job, result.layout).ok
    return result


@pytest.fixture(scope="module")
def wanted() -> Layout:
    """What two threads of the search's own find."""
    result = run(None)
    assert result.lost == 0
    return result.layout


class Wrapped(Executor):
    """Passes work on, after a word with a test."""

    def __init__(self, inner: Executor, meddle: Callable[[int], None]) -> None:
        self._inner = inner
        self._meddle = meddle
        self.sent = 0
        self.largest = 0

    def submit(  # type: ignore[override]
        self, function: Callable[..., Any], /, *args: Any
    ) -> Future[Any]:
        self.sent += 1
        self.largest = max(self.largest, len(pickle.dumps((function, args))))
        future = self._inner.submit(function, *args)
        self._meddle(self.sent)
        return future


def test_threads_of_any_number_find_the_same(wanted: Layout) -> None:
    with ThreadPoolExecutor(1) as pool:
        assert run(pool).layout == wanted
    with ThreadPoolExecutor(3) as pool:
        spy = Wrapped(pool, lambda number: None)
        assert run(spy).layout == wanted
    assert spy.sent >= 4
    assert spy.largest < 100_000


def test_one_worker_finds_the_same_with_and_without_an_executor() -> None:
    alone = run(None, workers=1)
    with ThreadPoolExecutor(3) as executor:
        sent = run(executor, workers=1)
    assert alone.layout == sent.layout
    assert alone.passes == sent.passes
    assert [r.measures for r in alone.history] == [r.measures for r in sent.history]


def test_other_seeds_and_seats_are_other_searches() -> None:
    one, three = run(None, 1), run(None, 3)
    assert 0 < one.passes <= PASSES
    assert three.passes > 3
    with ThreadPoolExecutor(1) as pool:
        assert run(pool, 3).layout == three.layout


class Losing(Executor):
    """Loses every second piece of work, and breaks down in the end."""

    def __init__(self, broken_after: int) -> None:
        self.sent = 0
        self._after = broken_after

    def submit(  # type: ignore[override]
        self, function: Callable[..., Any], /, *args: Any
    ) -> Future[Any]:
        self.sent += 1
        if self.sent > self._after:
            raise BrokenProcessPool("gone")
        future: Future[Any] = Future()
        if self.sent % 2:
            future.set_exception(BrokenProcessPool("a worker was killed"))
        else:
            future.set_result(function(*args))
        return future


@pytest.mark.parametrize("after", [0, 3, 99])
def test_what_an_executor_loses_is_done_here(wanted: Layout, after: int) -> None:
    executor = Losing(after)
    result = run(executor)
    assert result.layout == wanted
    assert result.lost > 0


class Forging(Executor):
    """Hands back arrangements that overlap, and ones that make no sense."""

    def __init__(self) -> None:
        self.forged = 0

    def submit(  # type: ignore[override]
        self, function: Callable[..., Any], /, *args: Any
    ) -> Future[Any]:
        (request,) = args
        assert isinstance(request, Request)
        (state,) = request.states
        boards = [board.copied() for board in state.boards]
        self.forged += 1
        if self.forged % 3 == 1:  # all on one sheet, one upon the other
            first, *others = boards
            for other in others:
                for row in zip(
                    other.kind, other.variant, other.x, other.y, strict=True
                ):
                    first.add(*row)
            boards = [first]
        elif self.forged % 3 == 2:
            boards = boards[:1]
        else:
            boards[0].variant[0] = 999
        future: Future[Any] = Future()
        forged = replace(state, boards=boards)
        future.set_result(Reply(((0, forged), (7, forged)), request.passes, False))
        return future


def test_nothing_is_believed_unchecked() -> None:
    job = order()
    result = solve(job, MaxPasses(PASSES), 5, None, 2, Forging(), PARAMS)
    plain = solve(job, MaxPasses(2), 5, None, 1, None, replace(PARAMS, improve=None))
    assert verify(job, result.layout).ok
    assert result.layout == plain.layout
    assert result.refused > 0


def test_requests_and_replies_can_be_pickled_and_done_again() -> None:
    kept: list[Request] = []

    class Keeping(Losing):
        def submit(  # type: ignore[override]
            self, function: Callable[..., Any], /, *args: Any
        ) -> Future[Any]:
            kept.append(args[0])
            return super().submit(function, *args)

    run(Keeping(99))
    request = pickle.loads(pickle.dumps(kept[0]))
    one, two = work(request), pickle.loads(pickle.dumps(work(request)))
    assert one == two
    assert one.passes == request.passes


def test_a_bound_that_is_met_ends_a_team_in_the_same_place() -> None:
    job = replace(order(), parts=tuple(replace(p, quantity=4) for p in order().parts))
    stop = AnyOf(BoundMet(), MaxPasses(40))
    result = solve(job, stop, 1, workers=2, params=PARAMS)
    assert result.reason is StopReason.BOUND
    assert result.proven


def test_cancelling_a_team_is_heard_at_once() -> None:
    event = threading.Event()
    asked: list[float] = []

    def cancel() -> None:
        asked.append(time.monotonic())
        event.set()

    long = Params(plans=PLANS[:1], shaken=0, improve=improve)
    timer = threading.Timer(0.6, cancel)
    timer.start()
    result = solve(order(), Cancelled(event.is_set), workers=2, params=long)
    late = time.monotonic() - asked[0]
    timer.join()
    assert result.reason is StopReason.CANCELLED
    assert result.report.ok
    assert late < 0.5, late  # 50 ms on a machine with nothing else to do


def test_the_pass_budget_is_found_in_any_rule() -> None:
    rule = AnyOf(BoundMet(), OnceComplete(MaxPasses(9)), MaxPasses(12))
    assert pass_budget(rule) == 9
    assert pass_budget(BoundMet()) is None
    assert pass_budget(lambda progress: False) is None


def test_arrangements_that_leave_something_out_are_not_sound() -> None:
    seen: list[bool] = []

    def look(search: Any) -> None:
        problem, state = search.problems[0], search.best[0]
        seen.append(is_sound(problem, state))
        boards = [board.copied() for board in state.boards]
        boards[0].kind.pop()
        seen.append(is_sound(problem, replace(state, boards=boards)))
        for values in (boards[0].variant, boards[0].x, boards[0].y):
            values.pop()
        seen.append(is_sound(problem, replace(state, boards=boards)))
        seen.append(is_sound(problem, replace(state, left={5: (1, None)})))
        boards = [board.copied() for board in state.boards]
        boards[0].turned[0] = 12.5  # its part keeps to the grain
        seen.append(is_sound(problem, replace(state, boards=boards)))

    solve(order(), MaxPasses(9), params=replace(PARAMS, improve=look))
    assert seen == [True, False, False, False, False]


# ------------------------------------------------------------------- processes


def test_processes_find_the_same_though_one_is_killed(wanted: Layout) -> None:
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(
        2, mp_context=context, initializer=kernel_cache.set_up
    ) as pool:

        def kill(sent: int) -> None:
            if sent == 2:
                (victim, *_) = list(pool._processes)
                os.kill(victim, signal.SIGTERM)

        killing = Wrapped(pool, kill)
        result = run(killing)
    assert result.layout == wanted
    assert result.lost > 0


@contextlib.contextmanager
def local_cluster() -> Iterator[Any]:
    distributed = pytest.importorskip("distributed")
    cluster = distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        dashboard_address=None,
        silence_logs=logging.CRITICAL,
    )
    with cluster, distributed.Client(cluster, set_as_default=False) as client:
        yield client


@pytest.mark.filterwarnings("default")
def test_a_cluster_finds_the_same_though_a_worker_is_killed(wanted: Layout) -> None:
    with (
        local_cluster() as client,
        executor_at(client.scheduler_info()["address"]) as sending,
    ):
        assert sending is not None
        pids = client.run(os.getpid)
        killed: list[int] = []

        def kill(sent: int) -> None:
            if sent != 2:
                return
            end = time.monotonic() + 20.0
            while time.monotonic() < end and not killed:
                for address, tasks in client.processing().items():
                    if tasks and address in pids:  # in the middle of its work
                        os.kill(pids[address], signal.SIGTERM)
                        killed.append(pids[address])
                        break

        result = run(Wrapped(sending, kill))
        assert killed
        assert killed[0] not in client.run(os.getpid).values()
    assert result.layout == wanted


def test_statistics_tell_what_each_pass_of_a_worker_offered() -> None:
    result = solve(order(), MaxPasses(PASSES), 5, None, 2, None, PARAMS, None, True)
    rows = [r for r in result.statistics if r.phase == "improve"]
    assert [r.passes for r in result.statistics] == [*range(1, result.passes + 1)]
    assert sum(r.offered for r in rows) > 0
    assert len({r.seconds for r in rows}) > len(rows) // 2
    assert all(0.0 < r.seconds <= result.seconds for r in rows)
