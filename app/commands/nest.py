"""``drystone nest``: lay parts out and write what leaves the program."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from ...io.findings import Finding, Severity
from ...nesting.model.errors import InputError
from ..reading_words import (
    add_reading_arguments,
    known_size,
    layers_told,
    limits_said,
    units_said,
)

if TYPE_CHECKING:
    from ...nesting.model.job import Job

SUMMARY = "lay parts out on sheets and write exact geometry in cutting order"
EXAMPLES = """\
  drystone nest order.toml --out cut
  drystone nest boxes.drystone --out cut --seconds 60
  drystone nest order.toml --out cut --relief dog-bone --tabs small --screws 4
  drystone nest side.dxf floor.svg --sheet 2440x1220 --cutter 6.35 --out cut"""

OBJECTIVES = ("fewest-sheets", "least-cost", "shortest-length")
"""The words of an order, in one piece each."""

SECONDS = 6.0
"""Time for the search when nobody says."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "files",
        nargs="+",
        metavar="FILE",
        help="an order (.toml), a job (.drystone), or drawings",
    )
    parser.add_argument(
        "--out", required=True, metavar="DIR", help="folder for the files"
    )
    parser.add_argument(
        "--force", action="store_true", help="replace files of an earlier run"
    )
    parser.add_argument(
        "--combined", action="store_true", help="add one DXF with all blanks"
    )
    parser.add_argument(
        "--pdf",
        choices=("true", "fitted"),
        help="add one PDF with all blanks: at true scale, or fitted to the paper",
    )
    search = parser.add_argument_group("search")
    search.add_argument(
        "--seconds",
        type=float,
        default=SECONDS,
        metavar="S",
        help=f"time for the search (default {SECONDS:g})",
    )
    search.add_argument(
        "--passes",
        type=int,
        metavar="N",
        help="stop after N passes instead: the same layout on every run",
    )
    search.add_argument("--seed", type=int, default=0, metavar="N")
    search.add_argument(
        "--objective",
        type=_hyphened,
        choices=OBJECTIVES,
        help="what makes a layout better, whatever the order says",
    )
    search.add_argument(
        "--workers",
        type=int,
        default=1,
        metavar="N",
        help="pieces of work to do side by side (default 1)",
    )
    search.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="send the work to the workers of a dask scheduler",
    )
    search.add_argument(
        "--statistics",
        metavar="FILE",
        help="write how the search went, pass by pass (.csv or .json)",
    )
    cutting = parser.add_argument_group("cutting")
    cutting.add_argument(
        "--cutter", metavar="LENGTH", help="cut width, such as 6.35 or 1/4in"
    )
    cutting.add_argument(
        "--allowance", metavar="LENGTH", help="what stays between two slots"
    )
    cutting.add_argument(
        "--margin", metavar="LENGTH", help="distance from the blank's edge"
    )
    cutting.add_argument(
        "--no-holes", action="store_true", help="leave the holes of parts empty"
    )
    cutting.add_argument(
        "--relief",
        choices=("none", "dog-bone", "T-bone"),
        help="relieve inside corners that the cutter leaves round",
    )
    cutting.add_argument(
        "--clean",
        choices=("neither", "top", "bottom", "both"),
        help="the face that must stay free of torn fibres",
    )
    holding = parser.add_argument_group("holding down")
    holding.add_argument(
        "--tabs",
        choices=("none", "small", "all"),
        help="parts held by tabs: those of the set-up's small size, or all",
    )
    holding.add_argument(
        "--drop-outs",
        action="store_true",
        help="tabs for pieces that would fall out of holes as well",
    )
    holding.add_argument(
        "--screws", type=int, metavar="N", help="places for screws on each blank"
    )
    holding.add_argument(
        "--screw-distance",
        metavar="LENGTH",
        help="least distance of a screw from any slot",
    )
    drawings = parser.add_argument_group("for drawings without an order")
    drawings.add_argument(
        "--sheet", metavar="LxW", help="size of the sheets, such as 2440x1220"
    )
    drawings.add_argument(
        "--quantity", type=int, metavar="N", help="copies of each part"
    )
    drawings.add_argument(
        "--turn", metavar="RULE", help="any, 90, 180, grain, fixed (default any)"
    )
    add_reading_arguments(drawings)


def _hyphened(words: str) -> str:
    return words.strip().replace(" ", "-")


def _check_search(args: argparse.Namespace) -> None:
    if not 0.0 <= args.seconds <= 1e6:
        raise InputError("--seconds", f"{args.seconds:g} s", "give 0 or more")
    if args.passes is not None and args.passes < 0:
        raise InputError("--passes", f"{args.passes} passes", "give 0 or more")
    if args.workers < 1:
        raise InputError("--workers", f"{args.workers} workers", "give 1 or more")
    if args.cluster is not None:
        from ..cluster import refuse_malformed

        refuse_malformed(args.cluster)


def run(args: argparse.Namespace) -> int:
    """Lay out, export, check, and print the verdict; return the exit status."""
    from dataclasses import replace

    from ...nesting.model.job import Objective
    from ..opening import Wishes, open_job

    _check_search(args)
    wishes = Wishes(
        args.sheet,
        args.cutter,
        args.allowance,
        args.margin,
        args.quantity,
        args.turn,
        units_said(args),
        known_size(args),
        layers_told(args.layer),
        limits_said(args),
    )
    opened = open_job([Path(name) for name in args.files], wishes, args.quiet)
    job = opened.job
    if args.no_holes:
        job = replace(job, cutting=replace(job.cutting, use_holes=False))
    if args.objective:
        wanted = Objective(args.objective.replace("-", " "))
        job = replace(job, objective=wanted)
    job = _held_as_said(args, job)
    if not sum(part.quantity for part in job.parts):
        raise InputError(args.files[0], "no part is wanted", "give a quantity above 0")
    if not args.quiet:
        _tell_findings(opened.findings)

    from .. import pass_table
    from ..exporting import export_job, pdf_of_blanks, refuse_early

    refuse_early(job, Path(args.out), force=args.force)
    passes = Path(args.statistics) if args.statistics else None
    if passes is not None:
        pass_table.refuse_early(passes, Path(args.out))
    # The engine compiles when it is first imported: late, and after the input is good.
    from ...io.setup_file import read_setup
    from .. import kernel_cache
    from ..cluster import executor_at
    from ..ending_early import TOLD, ending_early
    from ..laying_out import lay_out_on_bed
    from ..progress import progress
    from ..shop_paper import paper_for

    kernel_cache.warm(kernel_cache.saying(args.quiet))
    setup = read_setup()
    with executor_at(args.cluster) as executor, progress(args.quiet) as bar:
        with ending_early() as early:
            done = lay_out_on_bed(
                job,
                setup,
                bar,
                seconds=args.seconds,
                passes=args.passes,
                seed=args.seed,
                workers=args.workers,
                executor=executor,
                statistics=passes is not None,
                early=early,
            )
        if early.asked:
            print(TOLD, file=sys.stderr)
        bar.update(1.0, "writing and checking the files")
        extras = {"shop-sheets.pdf": paper_for(setup)}
        if args.pdf and done.job.layout.blanks:
            fitted = args.pdf == "fitted"
            extras["all-blanks.pdf"] = pdf_of_blanks(setup.practice, fitted=fitted)
        export = export_job(
            done.job,
            Path(args.out),
            force=args.force,
            combined=args.combined,
            sections={"verdict": done.verdict.as_dict()},
            extras=extras,
            setup=setup,
        )
        if passes is not None:  # it may lie in the same folder
            pass_table.write_passes(passes, done.result.statistics)
    complete = done.verdict.complete
    if args.json:
        document = {
            "drystone": "nest",
            "version": 1,
            "units": "mm",
            "verdict": done.verdict.as_dict(),
            "findings": [finding.as_dict() for finding in opened.findings],
            "check": export.check.as_dict(),
            "files": [str(path) for path in export.files],
        }
        print(json.dumps(document, indent=1))
        return 0 if complete else 1
    for line in done.verdict.lines():
        print(line)
    for line in export.check.lines()[1:]:
        print(line)
    print(f"  written to {export.folder}/: {_kinds(export.files)}")
    return 0 if complete else 1


def _held_as_said(args: argparse.Namespace, job: Job) -> Job:
    """Return the job with what the command line says of relief, tabs and screws."""
    from dataclasses import replace

    from ...io.units import parse_length
    from ...nesting.model.holding import ReliefKind, TabRule
    from ...nesting.model.rules import CleanFace

    if args.relief:
        # What is said here holds for all parts, whatever the order says of some.
        parts = tuple(replace(part, relief=None) for part in job.parts)
        job = replace(job, parts=parts, relief=ReliefKind(args.relief))
    if args.clean:
        cutting = replace(job.cutting, clean=CleanFace(args.clean))
        job = replace(job, cutting=cutting)
    holding = job.holding
    if args.tabs:
        parts = tuple(replace(part, tabs=None) for part in job.parts)
        job = replace(job, parts=parts)
        holding = replace(holding, tabs=TabRule(args.tabs))
    if args.drop_outs:
        holding = replace(holding, drop_outs=True)
    if args.screws is not None:
        holding = replace(holding, screws=args.screws)
    if args.screw_distance is not None:
        try:
            away = parse_length(args.screw_distance)
        except InputError as error:
            raise InputError("--screw-distance", error.what, error.cure) from None
        holding = replace(holding, screw_distance=away)
    return replace(job, holding=holding)


def _kinds(files: tuple[Path, ...]) -> str:
    """Return what was written, counted by kind."""
    words = {".dxf": "DXF", ".svg": "SVG", "sheets.pdf": "shop sheets (PDF)"}
    words |= {"blanks.pdf": "drawing of all blanks (PDF)"}
    words |= {".drystone": "job", ".json": "report", ".csv": "cut list"}
    counted = []
    for ending, name in words.items():
        count = sum(path.name.endswith(ending) for path in files)
        if count:
            counted.append(f"{count} {name}" if count > 1 else name)
    return ", ".join(counted)


def _tell_findings(findings: tuple[Finding, ...]) -> None:
    """Say on stderr what deserves a look; `drystone look` tells all."""
    for finding in findings:
        if finding.severity is not Severity.INFO:
            print(f"{finding.file}: {finding.message}", file=sys.stderr)
