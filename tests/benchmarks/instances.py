"""What the tables of benchmark instances share: arguments, heading, checked runs."""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any

from drystone.app import kernel_cache

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.benchmarks.heading import heading as heading_of
else:  # beside this file; the benchmarks are no package when they run
    from heading import heading as heading_of

Solution = dict[str, Any]


def arguments(description: str | None, **switches: str) -> argparse.Namespace:
    """Read the arguments that all tables take, and switches with their help."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("folder", type=Path, help="instances in the open form")
    parser.add_argument("--seconds", type=float, default=60.0, help="per run")
    parser.add_argument("--seeds", type=int, default=3, help="runs; medians are shown")
    parser.add_argument("--workers", type=int, default=2, help="searches per run")
    parser.add_argument("--only", nargs="*", help="names of instances")
    parser.add_argument(
        "--turns", help="other turns than the instance's: free, or degrees such as 0,90"
    )
    parser.add_argument(
        "--processor-time",
        action="store_true",
        help="count each search's processor time, for a machine busy otherwise",
    )
    parser.add_argument(
        "--check", type=Path, help="program run as CHECK INSTANCE SOLUTION on each"
    )
    for name, words in switches.items():
        parser.add_argument(f"--{name}", action="store_true", help=words)
    return parser.parse_args()


def heading(args: argparse.Namespace) -> str:
    """Machine, versions and limits in two lines."""
    clock = " of processor time" if args.processor_time else ""
    return heading_of(
        f"{args.seconds:g} s{clock}, "
        f"{args.workers} workers, median of {args.seeds} seeds (1 to {args.seeds}), "
        f"turns {args.turns or 'as published'}, "
        f"{'checked by ' + args.check.name if args.check else 'own check'}"
    )


def instances(args: argparse.Namespace) -> list[tuple[Path, dict[str, Any]]]:
    """The folder's instances, with the turns that were asked for."""
    out = []
    for path in sorted(args.folder.glob("*.json")):
        if args.only and path.stem not in args.only:
            continue
        instance = json.loads(path.read_text(encoding="utf-8"))
        if args.turns:
            free = args.turns == "free"
            turns = "free" if free else [float(a) for a in args.turns.split(",")]
            instance["rotations_deg"] = turns
            for piece in instance["pieces"]:
                piece.pop("rotations_deg", None)
        out.append((path, instance))
    return out


def runs(
    instance: dict[str, Any], args: argparse.Namespace, pool: ProcessPoolExecutor
) -> list[Solution]:
    """Run all seeds; each solution has passed the check, or the table ends here."""
    from drystone.nesting.benchmark import run_instance

    clock = time.process_time if args.processor_time else time.perf_counter
    out = []
    for seed in range(1, args.seeds + 1):
        solution = run_instance(
            instance, args.seconds, seed, args.workers, pool, clock=clock
        )
        if args.check is not None:
            _check(args.check, instance, solution)
        out.append(solution)
    return out


def _check(check: Path, instance: dict[str, Any], solution: Solution) -> None:
    with tempfile.TemporaryDirectory() as folder:
        files = [Path(folder) / "instance.json", Path(folder) / "solution.json"]
        for file, data in zip(files, (instance, solution), strict=True):
            file.write_text(json.dumps(data), encoding="utf-8")
        command = [sys.executable, str(check), *map(str, files)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode:
        sys.exit(f"{instance.get('name')}: refused: {done.stdout}{done.stderr}")


def pool(args: argparse.Namespace) -> ProcessPoolExecutor:
    """Processes that keep their kernels where the program does."""
    kernel_cache.set_up()
    return ProcessPoolExecutor(args.workers, initializer=kernel_cache.set_up)
