"""Strip instances: density after a given time, beside the published figures.

Run as ``python tests/benchmarks/bench_strip.py FOLDER [SECONDS] [SEEDS] [WORKERS]``
with a folder of instances in the benchmark's open form. The published column is from
memory of the papers: the best of Elkeran 2013 (doi:10.1016/j.ejor.2013.06.020).
"""

from __future__ import annotations

import json
import platform
import statistics
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from drystone.nesting.benchmark import run_instance

REMEMBERED_BEST = {
    "albano": 89.58,
    "dagli": 89.51,
    "fu": 92.41,
    "jakobs1": 89.10,
    "shapes0": 68.79,
    "shapes1": 76.73,
    "shirts": 88.96,
    "swim": 75.94,
    "dighe1": 100.00,
}


def main(arguments: list[str]) -> None:
    folder = Path(arguments[0])
    seconds = float(arguments[1]) if len(arguments) > 1 else 60.0
    seeds = int(arguments[2]) if len(arguments) > 2 else 3
    workers = int(arguments[3]) if len(arguments) > 3 else 2
    print(f"{platform.machine()}, Python {platform.python_version()}")
    print(f"{seconds:g} s, {workers} workers, {seeds} seeds\n")
    print("| instance | median % | best % | published (remembered) | moves/s |")
    print("|---|---|---|---|---|")
    with ProcessPoolExecutor(workers) as pool:
        for path in sorted(folder.glob("*.json")):
            instance = json.loads(path.read_text(encoding="utf-8"))
            runs = [
                run_instance(instance, seconds, seed, workers, pool)
                for seed in range(1, seeds + 1)
            ]
            density = [100.0 * run["density"] for run in runs]
            moves = statistics.median(run["moves_per_second"] for run in runs)
            published = REMEMBERED_BEST.get(path.stem, "")
            print(
                f"| {path.stem} | {statistics.median(density):.2f} "
                f"| {max(density):.2f} | {published} | {moves:.0f} |",
                flush=True,
            )


if __name__ == "__main__":
    main(sys.argv[1:])
