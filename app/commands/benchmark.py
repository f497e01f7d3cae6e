"""``drystone benchmark``: the engine on an open benchmark instance."""

from __future__ import annotations

import argparse
import json
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
    from ...nesting.model.errors import InputError, OutputError

    path = Path(args.instance)
    instance = _read(path)
    if not args.seconds > 0.0:
        raise InputError("--seconds", f"{args.seconds} is no time", "give more than 0")
    if args.workers < 1:
        raise InputError("--workers", f"{args.workers} is too few", "give 1 or more")
    from ...nesting.benchmark import run_instance

    try:
        clock = time.process_time if args.processor_time else time.perf_counter
        solution = run_instance(
            instance, args.seconds, args.seed, args.workers, clock=clock
        )
    except RuntimeError as error:
        print(f"{path}: {error}")
        return 1
    except (ValueError, KeyError, TypeError) as error:
        raise InputError(
            str(path), f"not a usable instance ({error})", "see the form with --help"
        ) from None
    if args.solution:
        target = Path(args.solution)
        try:
            target.write_text(json.dumps(solution, indent=1) + "\n", encoding="utf-8")
        except OSError as error:
            raise OutputError(str(target), str(error.strerror or error)) from None
    if args.json:
        shown = {key: value for key, value in solution.items() if key != "placements"}
        print(json.dumps(shown, indent=1))
    elif not args.quiet:
        print(_words(instance, solution))
    return 0


def _read(path: Path) -> dict[str, Any]:
    from ...nesting.model.errors import InputError

    try:
        instance = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise InputError(str(path), str(error.strerror or error)) from None
    except ValueError as error:
        raise InputError(str(path), f"not JSON ({error})") from None
    if not isinstance(instance, dict) or not instance.get("pieces"):
        raise InputError(str(path), "not an instance: it has no pieces")
    return instance


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
