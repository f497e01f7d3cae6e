"""``drystone window``: open the window."""

from __future__ import annotations

import argparse

SUMMARY = "open the window, with a job if one is named"
EXAMPLES = """\
  drystone window
  drystone window boxes.drystone"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument("job", nargs="?", metavar="JOB", help="job file to open")


def run(args: argparse.Namespace) -> int:
    """Open the window and wait until it closes; return the exit status."""
    from ..window.application import open_window

    return open_window(args.job)
