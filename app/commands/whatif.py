"""``drystone whatif``: one order with other cutters, gaps, margins, sheets, turns."""

from __future__ import annotations

import argparse
import json
import math
from pathlib import Path
from typing import TYPE_CHECKING

from ..reading_words import add_limits_argument, limits_said

if TYPE_CHECKING:
    from ...io.whatif_plot import Bars
    from ...nesting.model.job import Job
    from ..trying import Change, Outcome

SUMMARY = "the same order with other cutters, gaps, margins, sheets and turns"
EXAMPLES = """\
  drystone whatif order.toml --cutter 3.175 6 6.35
  drystone whatif order.toml --cutter 3.175 --margin 10 15 --every --workers 2
  drystone whatif order.toml --sheet 2440x1220 2500x1250 --plot whatif.svg whatif.pdf"""

_LENGTHS = ("cutter", "allowance", "margin")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    from .quote import add_search

    parser.add_argument("file", metavar="ORDER|JOB", help="an order or a job file")
    for name in _LENGTHS:
        parser.add_argument(f"--{name}", nargs="+", default=[], metavar="LENGTH")
    parser.add_argument("--sheet", nargs="+", default=[], metavar="LxW")
    parser.add_argument("--turn", nargs="+", default=[], metavar="RULE")
    parser.add_argument(
        "--times", nargs="+", type=float, default=[], metavar="N", help="N orders"
    )
    parser.add_argument(
        "--every", action="store_true", help="all combinations, not one at a time"
    )
    parser.add_argument(
        "--plot", nargs="+", default=[], metavar="FILE", help="write .svg or .pdf"
    )
    add_limits_argument(parser)
    parser.add_argument("--setup", metavar="FILE", help="the shop's set-up file")
    add_search(parser)


def _options(args: argparse.Namespace) -> list[list[Change]]:
    """Return the changes asked for, by kind.

    Raises
    ------
    InputError
        If one cannot be read.
    """
    from ...io.units import parse_length
    from ...nesting.model.errors import InputError
    from ...nesting.model.rules import TurnRule
    from ..opening import sheet_size
    from ..trying import Change

    options: list[list[Change]] = []
    for kind in _LENGTHS:
        found = []
        for text in getattr(args, kind):
            length = parse_length(text)
            if not 0.0 <= length < 1000.0:
                raise InputError(f"--{kind}", f"{text!r}", "give 0 or more")
            found.append(Change(kind, length, f"{kind} {length:g}"))
        options.append(found)
    options.append(
        [Change("sheet", sheet_size(text), f"sheet {text}") for text in args.sheet]
    )
    for text in args.turn:
        TurnRule.parse(text)
    options.append([Change("turn", text, f"turn {text}") for text in args.turn])
    for count in args.times:
        if not 0.0 < count <= 1000.0:
            raise InputError("--times", f"{count:g}", "give a number above 0")
    options.append([Change("times", n, f"{n:g} times") for n in args.times])
    if not any(options):
        raise InputError(
            "whatif", "nothing is to be different", "add --cutter 3.175 6, for example"
        )
    return options


def run(args: argparse.Namespace) -> int:
    """Try the variants, print the table; return the exit status."""
    from ...io.setup_file import read_setup
    from ...nesting.model.errors import InputError
    from .. import kernel_cache
    from ..opening import Wishes, open_job
    from ..progress import progress
    from ..trying import try_all, variants

    options = _options(args)
    for name in args.plot:
        if Path(name).suffix.lower() not in (".svg", ".pdf"):
            raise InputError(name, "is neither .svg nor .pdf", "name one of these")
    setup = read_setup(Path(args.setup) if args.setup else None)
    wishes = Wishes(limits=limits_said(args))
    usual = setup.practice.cutting()
    job = open_job([Path(args.file)], wishes, args.quiet, usual).job
    wanted = variants(options, args.every)
    kernel_cache.warm(kernel_cache.saying(args.quiet))
    with progress(args.quiet) as bar:
        found = try_all(
            job,
            setup,
            wanted,
            seconds=args.seconds,
            passes=args.passes,
            seed=args.seed,
            workers=args.workers,
            on_done=lambda n: bar.update(n / len(wanted), f"{n} of {len(wanted)} done"),
        )
    _plot(args.plot, job, found)
    if args.json:
        rows = [outcome.as_dict() for outcome in found]
        head = {"drystone": "whatif", "version": 1, "units": "mm", "job": job.name}
        print(json.dumps({**head, "variants": rows}, indent=1))
    else:
        _table(job.name, found)
    return 1 if any(o.trouble or o.missing for o in found) else 0


def _sheets(outcome: Outcome) -> str:
    if outcome.trouble:
        return "none"
    text = str(outcome.sheets)
    if outcome.missing:
        return f"{text} ({outcome.missing} left)"
    return f"{text} fewest" if outcome.sheets <= outcome.bound else text


def _table(name: str, found: list[Outcome]) -> None:
    from ...nesting.shop.time import spoken

    print(name)
    head = ("variant", "sheets", "yield", "price", "runs")
    print(f"  {head[0]:<34}{head[1]:>14}{head[2]:>8}{head[3]:>10}{head[4]:>10}")
    for o in found:
        if o.trouble:
            print(f"  {o.variant.name:<34}{o.trouble}")
            continue
        print(
            f"  {o.variant.name:<34}{_sheets(o):>14}{o.share:>8.1%}{o.cost:>10.2f}"
            f"{spoken(o.seconds):>10}"
        )


def panels(found: list[Outcome]) -> list[Bars]:
    """Return the outcomes as panels of bars."""
    from ...io.whatif_plot import Bars
    from ...nesting.shop.time import spoken

    def shown(value: float, text: str) -> str:
        return text if math.isfinite(value) else "none"

    sheets = tuple(math.nan if o.trouble else float(o.sheets) for o in found)
    return [
        Bars("sheets", sheets, tuple(_sheets(o) for o in found)),
        Bars(
            "price",
            tuple(o.cost for o in found),
            tuple(shown(o.cost, f"{o.cost:.2f}") for o in found),
        ),
        Bars(
            "machine runs",
            tuple(o.seconds for o in found),
            tuple(
                spoken(o.seconds) if math.isfinite(o.seconds) else "none" for o in found
            ),
        ),
    ]


def _plot(files: list[str], job: Job, found: list[Outcome]) -> None:
    from ...io.atomic import write_atomically
    from ...io.whatif_plot import plot_pdf, plot_svg

    names = [outcome.variant.name for outcome in found]
    for file in files:
        if file.lower().endswith(".svg"):
            data = plot_svg(job.name, names, panels(found))
        else:
            data = plot_pdf(job.name, names, panels(found), units=job.units)
        write_atomically(Path(file), data)
