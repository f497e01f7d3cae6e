"""``drystone benchmark``: the engine on an open benchmark instance."""

from __future__ import annotations

import argparse
import json
import math
import sys
import time
from pathlib import Path
from typing import Any

SUMMARY = "run the engine on a benchmark instance and write its solution"
EXAMPLES = """\
  drystone benchmark swim.json --seconds 60 --solution swim-solution.json
  drystone benchmark TA001.json --seconds 60 --seed 2 --workers 2

The instance is a JSON file with "kind" ("strip" or "bins"), "width", "sheet" or
"sheets" (with "available" and "cost", if there are several), and "pieces" with "id",
"demand" and "outer" (or "w" and "h"). Time to compile the engine does not count.
exit status: 0 solved; 1 no layout found in time; 2 not an instance"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("instance", metavar="INSTANCE.json", help="the instance")
    parser.add_argument(
        "--seconds", type=float, default=60.0, metavar="S", help="time (default: 60)"
    )
    parser.add_argument(
        "--seed", type=int, default=0, metavar="N", help="for what is drawn at random"
    )
    parser.add_argument(
        "--workers", type=int, default=1, metavar="N", help="searches side by side"
    )
    parser.add_argument(
        "--processor-time",
        action="store_true",
        help="count each worker's processor time, for a machine busy otherwise",
    )
    parser.add_argument(
        "--solution", metavar="OUT.json", help="where to write the solution"
    )


def run(args: argparse.Namespace) -> int:
    """Solve the instance, write and print what came out."""
    from ...io.atomic import refuse_unwritable, write_atomically
    from ...nesting.model.errors import InputError
    from ..benchmark_instance import read_instance

    if not 0.0 < args.seconds < math.inf:
        raise InputError("--seconds", f"{args.seconds} is no time", "give more than 0")
    if args.workers < 1:
        raise InputError("--workers", f"{args.workers} is too few", "give 1 or more")
    if not 0 <= args.seed < 2**31:
        raise InputError("--seed", f"{args.seed} is no seed", f"give 0 to {2**31 - 1}")
    path = Path(args.instance)
    instance = read_instance(path)
    target = Path(args.solution) if args.solution else None
    if target is not None:
        refuse_unwritable(target)
    # The engine compiles when it is first imported: late, and after the input is good.
    from ...nesting.benchmark import run_instance
    from .. import kernel_cache

    kernel_cache.warm(kernel_cache.saying(args.quiet))
    try:
        clock = time.process_time if args.processor_time else time.perf_counter
        solution = run_instance(
            instance, args.seconds, args.seed, args.workers, clock=clock
        )
    except RuntimeError as error:
        print(f"{path}: {error}", file=sys.stderr)
        return 1
    except ValueError as error:  # what only the method itself finds out
        raise InputError(str(path), str(error), "mend the instance") from None
    if target is not None:
        write_atomically(target, (json.dumps(solution, indent=1) + "\n").encode())
    if args.json:
        shown = {key: value for key, value in solution.items() if key != "placements"}
        print(json.dumps(shown, indent=1))
    elif not args.quiet:
        print(_words(instance, solution))
    return 0


def _words(instance: dict[str, Any], solution: dict[str, Any]) -> str:
    known = instance.get("known_optimum") or {}
    name = instance.get("name", "instance")
    density = 100.0 * float(solution["density"])
    if "length" in solution:
        text = f"{name}: length {solution['length']:.3f}, density {density:.2f} %"
        best = known.get("length")
    else:
        count = solution["bins"]
        text = f"{name}: {count} sheet{'' if count == 1 else 's'}"
        if "cost" in solution:
            text += f", cost {solution['cost']:g}"
        text += f", density {density:.2f} %"
        best = known.get("bins")
    if solution.get("proven"):
        text += ", proven best"
    elif solution.get("bound"):
        text += f", at least {solution['bound']:g}"
    return f"{text}; optimum {best:g}" if best else text
