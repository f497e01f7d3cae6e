"""``drystone desktop``: let the desktop open jobs by a double click."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from ...nesting.model.errors import InputError

SUMMARY = "put the program into the desktop's menu, and let it open jobs"
EXAMPLES = """\
  drystone desktop                    for you: menu entry, file type, icon
  drystone desktop --remove           take them away again
  drystone desktop --to pkg/usr       for a package: below pkg/usr/share"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments."""
    parser.add_argument(
        "--remove", action="store_true", help="take away what was written"
    )
    parser.add_argument(
        "--to",
        metavar="DIR",
        help="write below DIR/share, for whoever makes a package; the entry then "
        "runs 'drystone window'",
    )


def run(args: argparse.Namespace) -> int:
    """Write the files or take them away; return the exit status.

    Raises
    ------
    InputError
        On systems whose desktops do not work so.
    """
    import platformdirs

    from ..desktop_entry import (
        desktop_files,
        remove_files,
        tell_desktop,
        write_files,
    )

    if args.to is None and sys.platform in ("win32", "darwin"):
        raise InputError(
            "desktop",
            "this system has no freedesktop.org menus",
            "make a shortcut to drystone-window instead",
        )
    if args.to is None:
        folder = Path(platformdirs.user_data_path())
        files = desktop_files([sys.executable, "-m", "drystone.app", "window"])
    else:
        folder = Path(args.to) / "share"
        files = desktop_files(["drystone", "window"])
    if args.remove:
        done, word = remove_files(folder, list(files)), "removed"
    else:
        done, word = write_files(folder, files), "written"
    missing = tell_desktop(folder) if args.to is None else []
    if args.json:
        report = {word: [str(path) for path in done], "not_installed": missing}
        print(json.dumps(report, indent=2))
        return 0
    for path in done:
        print(f"{word}: {path}")
    if missing and not args.quiet:
        names = " and ".join(missing)
        print(
            f"{names} not installed; log in again if jobs do not open", file=sys.stderr
        )
    return 0
