"""Reading a drawing in a process of its own: it can be stopped, whatever it does."""

from __future__ import annotations

import contextlib
import multiprocessing
import sys
import time
from collections.abc import Callable, Mapping
from multiprocessing.connection import Connection
from pathlib import Path

from ..nesting.model.errors import InputError
from .classify import DRILL_UP_TO
from .known_size import KnownSize
from .limits import Cancelled, Limits
from .operations import Meaning
from .read_drawing import ReadDrawing, look_at

MEMORY = 2 << 30
"""The most memory the process may take, bytes; where the system can enforce it."""

_START_UP = 15.0
"""Seconds granted on top of the limit for starting a process."""


def read_guarded(
    path: Path | str,
    units: str | None = None,
    *,
    known: KnownSize | None = None,
    layers: Mapping[str, Meaning | None] | None = None,
    drill_up_to: float = DRILL_UP_TO,
    join: float | None = None,
    limits: Limits | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> ReadDrawing:
    """Return what a drawing holds, read by another process.

    A reader that hangs or swallows memory is ended and becomes an `InputError`.
    Takes about a second more than `look_at`, whose arguments it shares; blocks, so
    a window calls it from a worker thread.

    Parameters
    ----------
    path, units, known, layers, drill_up_to, join, limits
        As for `look_at`.
    cancelled : callable, optional
        Asked 20 times a second; True ends the process and raises `Cancelled`.

    Raises
    ------
    InputError
        As `look_at`, and if the process died or did not end in time.
    Cancelled
        If the caller wished so.
    """
    limits = limits or Limits()
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    arguments = (theirs, str(path), units, known, layers, drill_up_to, join, limits)
    process = context.Process(target=_child, args=arguments, daemon=True)
    process.start()
    theirs.close()
    end = time.monotonic() + limits.seconds + _START_UP
    try:
        while not ours.poll(0.05):
            if cancelled is not None and cancelled():
                raise Cancelled
            if time.monotonic() > end:
                raise InputError(
                    str(path),
                    f"not read: reading took longer than {limits.seconds:g} seconds",
                    "split or simplify the drawing",
                )
        try:
            answer = ours.recv()
        except EOFError:
            raise InputError(
                str(path),
                "not read: the reader broke down or ran out of memory",
                "split or simplify the drawing",
            ) from None
    finally:
        ours.close()
        if process.is_alive():
            process.join(0.2)
        if process.is_alive():
            process.kill()
        process.join()
        process.close()
    if isinstance(answer, Exception):
        raise answer
    assert isinstance(answer, ReadDrawing)
    return answer


def _child(
    connection: Connection,
    path: str,
    units: str | None,
    known: KnownSize | None,
    layers: Mapping[str, Meaning | None] | None,
    drill_up_to: float,
    join: float | None,
    limits: Limits,
) -> None:
    if sys.platform != "win32":
        import resource

        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_DATA, (MEMORY, MEMORY))
    answer: ReadDrawing | Exception
    try:
        answer = look_at(
            path,
            units,
            known=known,
            layers=layers,
            drill_up_to=drill_up_to,
            join=join,
            limits=limits,
        )
    except InputError as error:
        answer = error
    except (MemoryError, RecursionError):
        answer = InputError(
            path,
            "not read: it needs too much memory",
            "split or simplify the drawing",
        )
    except Exception as error:
        answer = InputError(
            path,
            f"not read: the reader stumbled ({type(error).__name__})",
            "save the drawing anew; please report it",
        )
    connection.send(answer)
    connection.close()
