"""Irregular bins with known optimum: sheets needed after a given time.

For the arguments see ``--help``.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.benchmarks.instances import arguments, heading, instances, pool, runs
else:  # beside this file; the benchmarks are no package when they run
    from instances import arguments, heading, instances, pool, runs


def main() -> None:
    args = arguments(__doc__)
    print(heading(args) + "\n")
    print("| instance | sheets | worst | optimum | seconds, all seeds |")
    print("|---|---|---|---|---|")
    total = optimum = solved = over = count = 0
    with pool(args) as executor:
        for path, instance in instances(args):
            start = time.perf_counter()
            sheets = [int(run["bins"]) for run in runs(instance, args, executor)]
            seconds = time.perf_counter() - start
            median = int(statistics.median_low(sheets))
            known = (instance.get("known_optimum") or {}).get("bins")
            print(
                f"| {path.stem} | {median} | {max(sheets)} "
                f"| {'-' if known is None else known} | {seconds:.1f} |",
                flush=True,
            )
            if known is None:
                continue
            count += 1
            total += median
            optimum += known
            solved += median == known
            over += known <= 8 and median > known + 1
    if not count:
        return
    print(
        f"\n{total} sheets, optima {optimum} "
        f"({100.0 * (total / optimum - 1.0):.1f} % above); at the optimum {solved} of "
        f"{count}; more than one above an optimum up to 8: {over}"
    )


if __name__ == "__main__":
    main()
