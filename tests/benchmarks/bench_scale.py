"""How the engine grows with the order: first layout, stop, moves, memory, yield.

``python tests/benchmarks/bench_scale.py first|cancel|moves|curve [COUNT ...]`` prints a
Markdown table; ``curve`` takes ``--seconds``. The orders are those of
``bench_construct.py``: 20 shapes of arcs on 1525 x 1525 sheets. Seconds of ``curve``
are the processor's, for a machine busy otherwise.
"""

from __future__ import annotations

import argparse
import importlib
import math
import resource
import sys
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from drystone.app import kernel_cache

kernel_cache.set_up()

from drystone.nesting import kernels_separate as kernel  # noqa: E402
from drystone.nesting.bound import bound  # noqa: E402
from drystone.nesting.improve import improve  # noqa: E402
from drystone.nesting.model.job import Job  # noqa: E402
from drystone.nesting.model.placement import Layout  # noqa: E402
from drystone.nesting.overlap import Task  # noqa: E402
from drystone.nesting.result import Record  # noqa: E402
from drystone.nesting.rooms import problems  # noqa: E402
from drystone.nesting.separate import Separation, Settings  # noqa: E402
from drystone.nesting.sheets import scattered  # noqa: E402
from drystone.nesting.solve import Params, solve  # noqa: E402
from drystone.nesting.stop import (  # noqa: E402
    OnceComplete,
    Progress,
    StopReason,
)
from drystone.nesting.verify import verify  # noqa: E402
from drystone.nesting.warmup import warm_up  # noqa: E402

sys.path.insert(0, str(Path(__file__).parent))
bench_construct: Any = importlib.import_module("bench_construct")
heading_of: Any = importlib.import_module("heading").heading
SHEET: float = bench_construct.SHEET


def order(count: int) -> Job:
    """Return the job of `count` copies of the 20 parts."""
    job: Job = bench_construct.order(count)
    return job


LIMITS = {
    "first": "up to the first layout, one run each, seed 0; order from seed 5",
    "cancel": "cancelled up to the first layout, seed 0; order from seed 5",
    "moves": "1,500,000 evaluations each, seeds from 1 on; order from seed 5",
    "curve": "{seconds:g} s of processor time after the first layout, seed 1; "
    "order from seed 5",
}

FILL = 0.6
"""Share of the sheets that the scattered copies of `moves` come to."""

EVALUATIONS = 1_500_000


def print_table(rows: list[dict[str, float]]) -> None:
    """Print rows as Markdown."""
    keys = list(rows[0])
    print("| " + " | ".join(keys) + " |\n|" + "---|" * len(keys))
    for row in rows:
        print("| " + " | ".join(f"{row[key]:.4g}" for key in keys) + " |", flush=True)


def memory() -> float:
    """Return the most memory this process ever held, MiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def first(counts: list[int]) -> None:
    """Print how long `solve` takes to hand out a first complete layout."""
    rows = []
    for count in counts:
        job = order(count)
        seen: list[tuple[float, float]] = []
        start = time.process_time()

        def better(
            layout: Layout,
            record: Record,
            seen: list[tuple[float, float]] = seen,
            start: float = start,
        ) -> None:
            seen.append((record.seconds, time.process_time() - start))

        result = solve(job, OnceComplete(lambda progress: True), on_better=better)
        assert result.complete
        rows.append(
            {
                "copies": count,
                "seconds": seen[0][0],
                "processor seconds": seen[0][1],
                "sheets": result.measures.sheets,
                "bound": bound(job, pairs=False).sheets,
                "MiB": memory(),
            }
        )
    print_table(rows)


class Asked:
    """Cancels at one of the questions whether to stop; sees how far apart they are."""

    reason = StopReason.CANCELLED

    def __init__(self, number: int | None) -> None:
        self.number = number
        self.count = 0
        self.longest = 0.0
        self.cancelled: tuple[float, float] | None = None
        self._before: float | None = None

    def __call__(self, progress: Progress) -> bool:
        now = time.thread_time()
        if self._before is not None:
            self.longest = max(self.longest, now - self._before)
        self._before = now
        self.count += 1
        due = progress.better > 0 if self.number is None else self.count >= self.number
        if due and self.cancelled is None:
            self.cancelled = time.thread_time(), time.monotonic()
        return self.cancelled is not None


def cancel(counts: list[int]) -> None:
    """Print how late a search answers that is cancelled up to its first layout.

    Longest wait between two questions, and from the question that cancels to the
    answer; processor time, beside the clock's for a quiet machine.
    """
    rows = []
    params = Params(improve=improve)
    for count in counts:
        whole = Asked(None)
        solve(order(count), whole, params=params)
        for share in (0.01, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.95, 0.97, 0.99, 1.0):
            asked = Asked(max(int(whole.count * share), 1))
            result = solve(order(count), asked, params=params)
            now = time.thread_time(), time.monotonic()
            assert asked.cancelled is not None
            rows.append(
                {
                    "copies": count,
                    "after": share,
                    "between ms": 1000.0 * asked.longest,
                    "late ms": 1000.0 * (now[0] - asked.cancelled[0]),
                    "by the clock": 1000.0 * (now[1] - asked.cancelled[1]),
                    "placed": len(result.layout.placements),
                }
            )
    print_table(rows)


def moves(counts: list[int]) -> None:
    """Print moves per second of separation, copies scattered over sheets."""
    rows = []
    for count in counts:
        job = order(count)
        (problem,) = problems(job)
        menus = [
            [kind.variants[0]]
            for kind in problem.kinds
            for _ in range(len(kind.copies))
        ]
        task = Task.with_menus(problem.store, menus, [True] * len(menus))
        sheets = max(math.ceil(float(task.area.sum()) / (FILL * SHEET**2)), 1)
        rooms = np.array([problem.rooms[0].rectangle] * sheets)
        share = np.full(sheets, SHEET**2)
        places = scattered(task, rooms, share, 1)
        separation = Separation(task, places, rooms, Settings(), 2)
        shapes = range(len(problem.store.shapes))
        problem.store.ensure_all(shapes, shapes)
        separation.run(lambda: False, 20_000)
        begin = time.process_time()
        before = separation.counters.copy()
        seed = 1
        while separation.counters[kernel.EVALUATIONS] < EVALUATIONS:
            if separation.run(lambda: False, EVALUATIONS) != kernel.RUNNING:
                seed += 1  # done, or stuck: once more from elsewhere
                separation.places.assign(scattered(task, rooms, share, seed))
                separation.restart()
        seconds = time.process_time() - begin
        done = separation.counters - before
        rows.append(
            {
                "copies": count,
                "sheets": sheets,
                "moves/s": done[kernel.MOVES] / seconds,
                "evaluations/s": done[kernel.EVALUATIONS] / seconds,
                "MiB": memory(),
            }
        )
    print_table(rows)
    print()
    for one, two in pairwise(rows):
        power = math.log(two["moves/s"] / one["moves/s"]) / math.log(
            two["copies"] / one["copies"]
        )
        print(f"{one['copies']} to {two['copies']}: moves/s as n^{power:.2f}")


def curve(counts: list[int], seconds: float) -> None:
    """Print what the search has at growing times, in processor seconds."""
    for count in counts:
        job = order(count)
        rows: list[dict[str, float]] = []
        start = time.process_time()

        def used_up(progress: Progress, start: float = start) -> bool:
            return time.process_time() - start >= seconds

        def better(
            layout: Layout,
            record: Record,
            rows: list[dict[str, float]] = rows,
            start: float = start,
        ) -> None:
            m = record.measures
            row = {
                "seconds": time.process_time() - start,
                "passes": record.passes,
                "sheets": m.sheets,
                "yield %": 100.0 * m.yield_,
                "yield with kept %": 100.0 * m.yield_with_kept,
            }
            rows.append(row)

        limit = OnceComplete(used_up)
        result = solve(job, limit, 1, better, params=Params(improve=improve))
        assert verify(job, result.layout).ok
        print(f"{count} copies, bound {result.bound.sheets}, {memory():.0f} MiB\n")
        print_table(rows)


def main() -> None:
    """Run what was asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("what", choices=("first", "cancel", "moves", "curve"))
    parser.add_argument("counts", type=int, nargs="*")
    parser.add_argument("--seconds", type=float, default=60.0)
    args = parser.parse_args()
    warm_up()
    print(heading_of(LIMITS[args.what].format(seconds=args.seconds)) + "\n")
    if args.what == "first":
        first(args.counts or [100, 1000])
    elif args.what == "cancel":
        cancel(args.counts or [1000])
    elif args.what == "moves":
        moves(args.counts or [100, 1000, 5000])
    else:
        curve(args.counts or [1000], args.seconds)


if __name__ == "__main__":
    main()
