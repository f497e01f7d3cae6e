"""What tightening does while strips are searched for, one search per instance.

Of the layouts that a separation was stuck at with little overlap, how many come out
parted; by how much one that was separated gets shorter; what a program takes. For the
arguments see ``--help``; one seed, one worker.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.benchmarks.instances import arguments, heading, instances
else:  # beside this file; the benchmarks are no package when they run
    from instances import arguments, heading, instances

from drystone.app import kernel_cache


def main() -> None:
    args = arguments(__doc__)
    args.seeds = args.workers = 1
    print(heading(args) + "\n")
    kernel_cache.set_up()
    print("| instance | copies | parted of stuck | shorter % | programs | ms each | %")
    print("|---|---|---|---|---|---|---|  (last: share of the search's time)")
    for path, instance in instances(args):
        row = searched(instance, args.seconds)
        print(f"| {path.stem} | {' | '.join(row)} |", flush=True)


def searched(instance: dict[str, Any], seconds: float) -> list[str]:
    """Search for so long, processor time; return a row of the table."""
    from drystone.nesting import benchmark
    from drystone.nesting.separate import Settings
    from drystone.nesting.strip import StripSearch
    from drystone.nesting.tighten import Tightener

    width = float(instance["width"])
    task, _ = benchmark._task(instance, width)
    settings = benchmark._scaled(Settings(), width)
    benchmark._compile()
    search = StripSearch(task, width, 1, settings)
    stuck, shorter, spent = [], [], []

    class Watched(Tightener):
        def run(self, *args: Any, **options: Any) -> Any:
            begun = time.process_time()
            found = super().run(*args, **options)
            spent.append(time.process_time() - begun)
            if args[0] is search.separation.best:
                stuck.append(found is not None)
            elif found is not None:
                shorter.append(1.0 - found[0] / search.length)
            return found

    search._tightener = Watched(task, settings.tolerance)
    begun = time.process_time()

    def stop() -> bool:
        return time.process_time() - begun >= seconds

    search.begin(stop)
    search.explore(stop)
    took = time.process_time() - begun
    programs = search._tightener.programs
    return [
        str(len(task)),
        f"{sum(stuck)} of {len(stuck)}",
        f"{100.0 * statistics.median(shorter):.2f}" if shorter else "",
        str(programs),
        f"{1000.0 * sum(spent) / max(programs, 1):.1f}",
        f"{100.0 * sum(spent) / took:.0f}",
    ]


if __name__ == "__main__":
    main()
