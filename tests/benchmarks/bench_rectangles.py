"""Rectangles of the open data sets: strips, bins of one size, bins of several sizes.

Run as ``python tests/benchmarks/bench_rectangles.py FOLDER``; see ``--help``. The
folder holds instances in the benchmark's open form; those of rectangles are run. Time
is processor time of each search, since other work may share the machine.
"""

from __future__ import annotations

import argparse
import json
import statistics
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.benchmarks.heading import heading
else:  # beside this file; the benchmarks are no package when they run
    from heading import heading

FAMILIES = {
    "c*": "strips: length against the known optimum",
    "class*": "one kind of sheet: sheets against the best bound",
    "vsbpp*": "several kinds of sheet: cost against the bounds",
}


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=20.0, help="per search")
    parser.add_argument("--seeds", type=int, default=3, help="runs; medians are shown")
    parser.add_argument("--workers", type=int, default=2, help="searches per run")
    parser.add_argument("--only", default="", help="names that begin so")
    parser.add_argument(
        "--check", type=Path, help="program run as CHECK INSTANCE SOLUTION on each"
    )
    return parser.parse_args()


def one_search(instance: dict[str, Any], seconds: float, seed: int) -> dict[str, Any]:
    from drystone.nesting.rectangles.instance import pieces_of, solve_rectangles

    pieces = pieces_of(instance)
    assert pieces is not None, "asked before"
    return solve_rectangles(instance, pieces, seconds, seed, time.process_time)


def value(solution: dict[str, Any]) -> float:
    for key in ("length", "cost", "bins"):
        if key in solution:
            return float(solution[key])
    raise KeyError("no value")


def area_cost(instance: dict[str, Any]) -> float:
    """Cost of the pieces' area at the best price per area."""
    area = sum(p["w"] * p["h"] * p.get("demand", 1) for p in instance["pieces"])
    return float(area * min(s["cost"] / (s["w"] * s["h"]) for s in instance["sheets"]))


def checked(check: Path, path: Path, solution: dict[str, Any]) -> bool:
    with tempfile.NamedTemporaryFile("w", suffix=".json", delete=False) as file:
        json.dump(solution, file)
    try:
        command = [sys.executable, str(check), str(path), file.name]
        done = subprocess.run(command, capture_output=True, check=False)
    finally:
        Path(file.name).unlink()
    return done.returncode == 0


def main() -> int:
    from drystone.app import kernel_cache

    kernel_cache.set_up()
    args = arguments()
    faults = 0
    with ProcessPoolExecutor(args.workers) as pool:
        for _ in pool.map(warm, range(2 * args.workers)):
            pass
        check = f"checked by {args.check.name}" if args.check else "own check"
        print(
            heading(
                f"{args.seconds:g} s of processor time, {args.workers} workers, "
                f"median of {args.seeds} seeds (0 to {args.seeds - 1}), {check}"
            )
        )
        for family, words in FAMILIES.items():
            names = [p for p in sorted(args.folder.glob(family)) if wanted(p, family)]
            names = [p for p in names if p.name.startswith(args.only)]
            if names:
                print(f"\n{family}, {words}\n")
                faults += table(args, pool, names, family)
    return 1 if faults else 0


def wanted(path: Path, family: str) -> bool:
    return path.suffix == ".json" and (
        family != "c*" or not path.name.startswith("class")
    )


def table(
    args: argparse.Namespace, pool: ProcessPoolExecutor, paths: list[Path], family: str
) -> int:
    from drystone.nesting.benchmark_check import sound

    area = family == "vsbpp*"
    print(
        f"| instance | found | worst | {'area cost | ' if area else ''}bound | ", end=""
    )
    print("above bound | seconds | proven | valid |")
    print("|---" * (9 if area else 8) + "|")
    totals = [0.0, 0.0, 0.0, 0.0]
    proven = faults = 0
    for path in paths:
        instance = json.loads(path.read_text(encoding="utf-8"))
        runs = []
        for seed in range(args.seeds):
            jobs = [
                pool.submit(one_search, instance, args.seconds, seed + 1000 * k)
                for k in range(args.workers)
            ]
            found = min((job.result() for job in jobs), key=value)
            valid = sound(instance, found) and (
                args.check is None or checked(args.check, path, found)
            )
            faults += not valid
            runs.append((value(found), found, valid))
        values = [run[0] for run in runs]
        median = statistics.median_low(values)
        bound = max(run[1]["bound"] for run in runs)
        seconds = statistics.median(run[1]["seconds"] for run in runs)
        sure = any(run[1]["proven"] for run in runs)
        proven += sure
        row = [median, max(values), area_cost(instance) if area else 0.0, bound]
        totals = [total + one for total, one in zip(totals, row, strict=True)]
        valid = all(run[2] for run in runs)
        said = "yes" if valid else "NO"
        line(path.stem, row, area, f"{seconds:.2f}", "yes" if sure else "no", said)
    line("together", totals, area, "", f"{proven} of {len(paths)}", "")
    return faults


def line(name: str, row: list[float], area: bool, *more: str) -> None:
    found, worst, area_bound, bound = row
    cells = [name, f"{found:g}", f"{worst:g}"]
    if area:
        cells.append(f"{area_bound:.0f}")
    cells += [f"{bound:g}", f"{100.0 * (found / bound - 1.0):.2f} %", *more]
    print("| " + " | ".join(cells) + " |", flush=True)


def warm(_: int) -> None:
    """Compile or load all kernels in this process."""
    for kind in ("strip", "bins"):
        room: dict[str, Any] = {"width": 10}
        if kind == "bins":
            room = {"sheets": [{"w": 10, "h": 10, "cost": 2}, {"w": 5, "h": 5}]}
        piece = {"id": "a", "demand": 5, "w": 4, "h": 3}
        one_search(
            {"kind": kind, "rotations_deg": [0], "pieces": [piece], **room}, 0.2, 0
        )
    time.sleep(0.2)  # so that every process gets one


if __name__ == "__main__":
    sys.exit(main())
