"""``drystone rack``: the boards in the shop."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from ..reading_words import add_limits_argument, limits_said, naming_limits

if TYPE_CHECKING:
    from ...io.rack import Rack, RackBoard

SUMMARY = "boards on the rack: list, add, remove, commit a job, undo"
EXAMPLES = """\
  drystone rack list
  drystone rack add 600x300 --material "birch plywood" --thickness 12 --place wall
  drystone rack add offcut.svg --material mdf --thickness 9
  drystone rack commit boxes.drystone     take its boards, keep its leftovers
  drystone rack commit boxes.drystone --again    it was cut once more
  drystone rack undo 3"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "action", choices=("list", "add", "remove", "commit", "undo", "jobs")
    )
    parser.add_argument(
        "what", nargs="?", help="LENGTHxWIDTH or a drawing, a job file, or a number"
    )
    parser.add_argument("--rack", metavar="FILE", help="another rack than yours")
    parser.add_argument(
        "--again",
        action="store_true",
        help="for commit: the job was cut once more, book it once more",
    )
    board = parser.add_argument_group("for add")
    board.add_argument("--material", default="")
    board.add_argument("--thickness", default="0", metavar="LENGTH")
    board.add_argument("--grain", choices=("length", "width", "none"), default="none")
    board.add_argument("--name", default="offcut")
    board.add_argument("--place", default="")
    board.add_argument("--value", type=float, default=0.0)
    add_limits_argument(board)


def run(args: argparse.Namespace) -> int:
    """Do what was asked; return the exit status."""
    from ...io.rack import Rack
    from ...nesting.model.errors import InputError

    if args.action not in ("list", "jobs") and not args.what:
        cure = {
            "add": "give a size such as 600x300 or a drawing",
            "commit": "give a job file",
        }.get(args.action, "give a number of drystone rack list or jobs")
        raise InputError(f"rack {args.action}", "what is missing", cure)
    with Rack(Path(args.rack) if args.rack else None) as rack:
        if args.action == "add":
            _say(args, "added", rack.add(_board(args)))
        elif args.action == "remove":
            rack.remove(_number(args.what))
            _say(args, "removed", _number(args.what))
        elif args.action == "undo":
            rack.undo(_number(args.what))
            _say(args, "undone", _number(args.what))
        elif args.action == "commit":
            _say(args, "committed", _commit(rack, Path(args.what), args.again))
        elif args.action == "jobs":
            _jobs(args, rack)
        else:
            _list(args, rack.boards())
    return 0


def _say(args: argparse.Namespace, what: str, number: int) -> None:
    if args.json:
        print(json.dumps({"drystone": "rack", "version": 1, what: number}))
    elif not args.quiet:
        print(f"{what} {number}")


def _number(text: str) -> int:
    from ...nesting.model.errors import InputError

    if not text.isdecimal():
        raise InputError("rack", f"{text!r} is no number", "see drystone rack list")
    return int(text)


def _board(args: argparse.Namespace) -> RackBoard:
    """Return the board that the command line describes."""
    from ...io.rack import RackBoard
    from ...io.units import parse_length
    from ...nesting.model.errors import InputError
    from ...nesting.model.outline import Loop, Outline
    from ...nesting.model.rules import Grain
    from ..opening import sheet_size

    path = Path(args.what)
    if path.suffix.lower() in (".dxf", ".svg"):
        from ..racking import outline_from_drawing

        limits = limits_said(args)
        with naming_limits():
            outline = outline_from_drawing(path, limits=limits)
    else:
        outline = Outline(Loop.rectangle(*sheet_size(args.what, "rack add")))
    thickness = parse_length(args.thickness)
    if thickness < 0.0 or not 0.0 <= args.value < 1e12:
        raise InputError("rack add", "a negative number", "give 0 or more")
    return RackBoard(
        outline,
        args.material,
        thickness,
        Grain(args.grain),
        args.name,
        args.place,
        value=args.value,
    )


def _commit(rack: Rack, path: Path, again: bool) -> int:
    """Take a job's boards from the rack and put its leftovers there."""
    from ...io.job_file import read_job
    from ...nesting.model.errors import InputError
    from ..racking import book_out, leftover_boards

    job = read_job(path)
    if not job.layout.placements:
        raise InputError(str(path), "has no layout", "lay it out first")
    return book_out(rack, job, leftover_boards(job), again=again)


def _list(args: argparse.Namespace, boards: tuple[RackBoard, ...]) -> None:
    rows = [
        {
            "id": b.id,
            "name": b.name,
            "material": b.material,
            "thickness": b.thickness,
            "grain": b.grain.value,
            "width": b.outline.size[0],
            "height": b.outline.size[1],
            "area": b.outline.area,
            "place": b.place,
            "date": b.date,
            "value": b.value,
        }
        for b in boards
    ]
    if args.json:
        document = {"drystone": "rack", "version": 1, "units": "mm", "boards": rows}
        print(json.dumps(document, indent=1))
        return
    if not boards:
        print("the rack is empty")
    for b in boards:
        width, height = b.outline.size
        told = f"{b.id:>4}  {width:.0f} × {height:.0f}  {b.material} {b.thickness:g} mm"
        print("  ".join(text for text in (told, b.name, b.place, b.date) if text))


def _jobs(args: argparse.Namespace, rack: Rack) -> None:
    from dataclasses import asdict

    jobs = rack.jobs()
    if args.json:
        rows = [asdict(job) for job in jobs]
        print(json.dumps({"drystone": "rack", "version": 1, "jobs": rows}, indent=1))
        return
    for job in jobs:
        print(
            f"{job.id:>4}  {job.date}  {job.name}{'  (undone)' if job.undone else ''}"
        )
