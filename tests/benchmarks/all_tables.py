"""Run all tables of the engine one after another and write them into one file.

``python tests/benchmarks/all_tables.py FOLDER`` takes most of a day on two cores;
``--quick`` gives each search a second, to see whether everything runs. The folder holds
the instances in the benchmark's open form: strips in ``strip``, irregular bins in
``bins``, rectangles in ``rect``. Lines are written as they come, so that a run that is
stopped leaves the tables that were finished, and the one it was at.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from drystone.app import kernel_cache

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Table:
    """One run of one of the scripts beside this one.

    Attributes
    ----------
    title, script : str
    words : tuple of str
        Its arguments, without the folder.
    quick : tuple of str
        Those that end soon.
    folder : str
        Instances it needs, within the benchmark's folder; empty without any.
    clocked : bool
        Whether it may count processor time instead of the clock's.
    """

    title: str
    script: str
    words: tuple[str, ...]
    quick: tuple[str, ...]
    folder: str = ""
    clocked: bool = False

    def command(self, args: argparse.Namespace) -> list[str]:
        """Return the words of its command line, Python's first."""
        words = [str(HERE / self.script), *(self.quick if args.quick else self.words)]
        if self.folder:
            words.insert(1, str(args.folder / self.folder))
            words += ["--check", str(args.check)] if args.check else []
        if self.clocked and args.processor_time:
            words.append("--processor-time")
        return [sys.executable, *words]


ONCE = ("--seconds", "1", "--seeds", "1")

TABLES = {
    "strips-60": Table(
        "Strips, 60 s", "bench_strip.py", ("--seconds", "60"), ONCE, "strip", True
    ),
    "strips-300": Table(
        "Strips, 300 s",
        "bench_strip.py",
        ("--seconds", "300"),
        ("--seconds", "2", "--seeds", "1"),
        "strip",
        True,
    ),
    "bins": Table(
        "Irregular bins", "bench_bins.py", ("--seconds", "60"), ONCE, "bins", True
    ),
    "rectangles": Table(
        "Rectangles", "bench_rectangles.py", ("--seconds", "20"), ONCE, "rect"
    ),
    "turns": Table(
        "Free turns beside quarter turns",
        "bench_turns.py",
        ("--own", "--workers", "1", "--seconds", "20"),
        ("--own", "--workers", "1", *ONCE),
        "strip",
        True,
    ),
    "first": Table(
        "First layouts", "bench_scale.py", ("first",), ("first", "50", "100")
    ),
    "cancel": Table(
        "Answers to a stop", "bench_scale.py", ("cancel",), ("cancel", "50")
    ),
    "moves": Table(
        "Moves per second", "bench_scale.py", ("moves",), ("moves", "50", "100")
    ),
    "curve": Table(
        "Yield over time",
        "bench_scale.py",
        ("curve", "--seconds", "60"),
        ("curve", "50", "--seconds", "2"),
    ),
    "construct": Table(
        "Steps of a first layout", "bench_construct.py", (), ("50", "100")
    ),
}


def arguments(words: list[str] | None = None) -> argparse.Namespace:
    """Read the arguments and refuse what would be noticed hours later only."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, help="with strip, bins and rect")
    parser.add_argument("--out", type=Path, default=Path("tables.md"))
    parser.add_argument(
        "--quick", action="store_true", help="a second or two for each search"
    )
    parser.add_argument(
        "--tables", nargs="+", choices=TABLES, default=[*TABLES], help="some of them"
    )
    parser.add_argument(
        "--processor-time",
        action="store_true",
        help="count processor time where a table can, for a machine busy otherwise",
    )
    parser.add_argument(
        "--check", type=Path, help="program run as CHECK INSTANCE SOLUTION on each"
    )
    args = parser.parse_args(words)
    for name in args.tables:
        folder = args.folder / TABLES[name].folder
        if TABLES[name].folder and not any(folder.glob("*.json")):
            parser.error(f"{name}: there are no instances in {folder}")
    if args.check and not args.check.is_file():
        parser.error(f"there is no program {args.check}")
    if not args.out.parent.is_dir():
        parser.error(f"there is no folder {args.out.parent}")
    return args


def main() -> int:
    """Run the tables; return 1 if one of them failed, 130 if stopped."""
    args = arguments()
    kernel_cache.set_up()  # the scripts inherit it
    failed = 0
    with args.out.open("w", encoding="utf-8") as file:
        try:
            for name in args.tables:
                failed += not written(TABLES[name], args, file)
        except KeyboardInterrupt:
            print("stopped", file=sys.stderr)
            return 130
    return 1 if failed else 0


def written(table: Table, args: argparse.Namespace, file: TextIO) -> bool:
    """Run a table and write it, line by line; return whether it went well."""
    command = table.command(args)
    shown = " ".join(Path(word).name if "/" in word else word for word in command[1:])
    file.write(f"## {table.title}\n\n`{shown}`\n\n")
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        assert running.stdout is not None, "asked for"
        for line in running.stdout:
            file.write(line)
            file.flush()
            print(line, end="", flush=True)
    if running.returncode:
        file.write(f"\nended with status {running.returncode}\n")
    file.write("\n")
    return running.returncode == 0


if __name__ == "__main__":
    sys.exit(main())
