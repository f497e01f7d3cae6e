"""``drystone check``: prove a layout, or the files exported from it."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

SUMMARY = "check a job's layout, or a folder of exported files, independently"
EXAMPLES = """\
  drystone check boxes.drystone        the layout in a job file
  drystone check cut                   a folder of exported files and their job file
  drystone check cut --json            the same for a program

Proved are counts, sizes curve by curve, gap, margin, keep-outs, turns, faces and
boards. The files are read back through code of their own.
exit status: 0 all correct; 1 something is wrong; 2 nothing to check"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "path", metavar="JOB|DIR", help="a job file, or a folder of exported files"
    )


def run(args: argparse.Namespace) -> int:
    """Check, print what was found; return 1 when something is wrong."""
    from ..checking import check

    report = check(Path(args.path))
    if args.json:
        print(json.dumps(report.as_dict(), indent=1, allow_nan=False))
    elif args.quiet:
        for failure in report.failures:
            print(failure)
    else:
        print("\n".join(report.lines()))
    return 0 if report.ok else 1
