"""Irregular bins with known optimum: sheets needed after a given time.

Run as ``python tests/benchmarks/bench_bins.py FOLDER [SECONDS] [SEED] [WORKERS]`` with
a folder of instances in the benchmark's open form.
"""

from __future__ import annotations

import json
import platform
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from drystone.nesting.benchmark import run_instance


def main(arguments: list[str]) -> None:
    folder = Path(arguments[0])
    seconds = float(arguments[1]) if len(arguments) > 1 else 60.0
    seed = int(arguments[2]) if len(arguments) > 2 else 1
    workers = int(arguments[3]) if len(arguments) > 3 else 2
    print(f"{platform.machine()}, Python {platform.python_version()}")
    print(f"{seconds:g} s, {workers} workers, seed {seed}\n")
    print("| instance | sheets | optimum |")
    print("|---|---|---|")
    total = optimum = solved = 0
    with ProcessPoolExecutor(workers) as pool:
        for path in sorted(folder.glob("*.json")):
            instance = json.loads(path.read_text(encoding="utf-8"))
            run = run_instance(instance, seconds, seed, workers, pool)
            known = instance["known_optimum"]["bins"]
            total += run["bins"]
            optimum += known
            solved += run["bins"] == known
            print(f"| {path.stem} | {run['bins']} | {known} |", flush=True)
    print(f"\n{total} sheets, optima {optimum}, solved to the optimum {solved}")


if __name__ == "__main__":
    main(sys.argv[1:])
