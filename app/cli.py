"""The command line: finds the command, runs it, turns mistakes into one line."""

from __future__ import annotations

import argparse
import difflib
import importlib
import os
import platform
import sys
from collections.abc import Sequence
from importlib import metadata
from types import ModuleType

from ..nesting.model.errors import CheckError, DrystoneError
from . import kernel_cache

COMMANDS = (
    "window",
    "look",
    "nest",
    "quote",
    "whatif",
    "rack",
    "check",
    "benchmark",
    "desktop",
)
"""Each is a module in `commands` with SUMMARY, EXAMPLES, add_arguments and run."""

DONE, INCOMPLETE, UNUSABLE, INTERRUPTED = 0, 1, 2, 130

DESCRIPTION = """\
Lays flat parts out on sheet goods for a small CNC router: reads drawings, tells how
many sheets an order needs, lays the parts out by the cutter's width, and writes exact
geometry in cutting order."""

EPILOG = """\
examples:
  drystone look side.dxf               what a drawing really holds
  drystone nest order.toml --out cut   lay an order out and write the files
  drystone check cut                   prove the written files
  drystone                             open the window

exit status: 0 done; 1 ran, but something is wrong or incomplete;
2 the input cannot be used; 130 interrupted"""


class Parser(argparse.ArgumentParser):
    """An argument parser that says mistakes in one line."""

    def error(self, message: str) -> None:  # type: ignore[override]
        """Print one line and where to read on; leave with status 2."""
        sys.stderr.write(f"{self.prog}: {message}; see {self.prog} --help\n")
        raise SystemExit(UNUSABLE)


def version_text() -> str:
    """Return the versions that a report of a fault needs."""
    return (
        f"drystone {metadata.version('drystone')}, "
        f"Python {platform.python_version()}, {platform.platform()}"
    )


def _command(name: str) -> ModuleType:
    return importlib.import_module(f".commands.{name}", __package__)


def _add_common(parser: argparse.ArgumentParser) -> None:
    common = parser.add_argument_group("everywhere")
    common.add_argument(
        "--json", action="store_true", help="print one JSON document (lengths in mm)"
    )
    common.add_argument(
        "-q", "--quiet", action="store_true", help="print only results and errors"
    )
    common.add_argument(
        "--debug", action="store_true", help="show the traceback of a fault"
    )


def build_parser(wanted: str | None = None) -> argparse.ArgumentParser:
    """Return the parser; only the `wanted` command gets its arguments.

    The other commands give just their summary, so that no command pays for the
    imports of another.
    """
    parser = Parser(
        prog="drystone",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=version_text())
    commands = parser.add_subparsers(
        dest="command", metavar="COMMAND", title="commands", parser_class=Parser
    )
    for name in COMMANDS:
        module = _command(name)
        sub = commands.add_parser(
            name,
            help=module.SUMMARY,
            description=module.SUMMARY,
            epilog=f"examples:\n{module.EXAMPLES}",
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        if name == wanted:
            module.add_arguments(sub)
            _add_common(sub)
    return parser


def _misspelt(word: str) -> str | None:
    """Return what to say about a word that is no command, or None."""
    if word in COMMANDS or word.startswith("-"):
        return None
    near = difflib.get_close_matches(word, COMMANDS, n=1)
    guess = f"did you mean {near[0]!r}?" if near else f"know {', '.join(COMMANDS)}"
    return f"drystone: {word!r} is no command; {guess}"


def _say(line: str) -> None:
    print(line, file=sys.stderr)


def run(arguments: Sequence[str]) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str
        The words after the program's name; none opens the window.

    Returns
    -------
    int
        The exit status: 0 done, 1 incomplete, 2 unusable input, 130 interrupted.
    """
    words = list(arguments) or ["window"]
    wrong = _misspelt(words[0])
    if wrong:
        _say(wrong)
        return UNUSABLE
    debug = "--debug" in words
    try:
        args = build_parser(words[0]).parse_args(words)
        kernel_cache.set_up()  # before anything imports numba
        return int(_command(args.command).run(args))
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else UNUSABLE
    except CheckError as error:
        if debug:
            raise
        _say(f"drystone: {error}")
        return INCOMPLETE
    except DrystoneError as error:
        if debug:
            raise
        for line in str(error).splitlines():
            _say(line)
        return UNUSABLE
    except KeyboardInterrupt:
        _say("stopped")
        return INTERRUPTED
    except BrokenPipeError:
        # The reader went away (`| head`): nothing is wrong on this side.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as fault:
        if debug:
            raise
        _say(
            f"drystone: a fault of the program ({type(fault).__name__}: {fault}); "
            "nothing was changed; run again with --debug and report what it prints"
        )
        return INCOMPLETE
