"""Strip instances: density after a given time, beside the published figures.

The published column is from memory of the papers: the best of Elkeran 2013
(doi:10.1016/j.ejor.2013.06.020). For the other arguments see ``--help``.
"""

from __future__ import annotations

import statistics
import sys
from pathlib import Path
from typing import TYPE_CHECKING

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.benchmarks.instances import arguments, heading, instances, pool, runs
else:  # beside this file; the benchmarks are no package when they run
    from instances import arguments, heading, instances, pool, runs

REMEMBERED_BEST = {
    "albano": 89.58,
    "dagli": 89.51,
    "dighe1": 100.00,
    "fu": 92.41,
    "jakobs1": 89.10,
    "shapes0": 68.79,
    "shapes1": 76.73,
    "shirts": 88.96,
    "swim": 75.94,
}


def main() -> None:
    args = arguments(__doc__)
    print(heading(args) + "\n")
    print("| instance | median % | lowest % | highest % | published (remembered) |")
    print("|---|---|---|---|---|")
    found, known = [], []
    with pool(args) as executor:
        for path, instance in instances(args):
            density = [100.0 * run["density"] for run in runs(instance, args, executor)]
            median = statistics.median(density)
            best = REMEMBERED_BEST.get(path.stem)
            if best is not None:
                found.append(median)
                known.append(best)
            print(
                f"| {path.stem} | {median:.2f} | {min(density):.2f} "
                f"| {max(density):.2f} | {'' if best is None else f'{best:.2f}'} |",
                flush=True,
            )
    if found:
        print(
            f"| mean of the published | {statistics.mean(found):.2f} | | "
            f"| {statistics.mean(known):.2f} |"
        )


if __name__ == "__main__":
    main()
