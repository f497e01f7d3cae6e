"""Reading a drawing in a process of its own: it can be stopped, whatever it does."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path

from ..nesting.model.errors import InputError
from .classify import DRILL_UP_TO
from .collector import collector_paused
from .known_size import KnownSize
from .limits import Cancelled, Limits, TooLarge, too_large
from .operations import Told
from .read_drawing import ReadDrawing, Tell, look_at

_START_UP = 15.0
"""Seconds granted on top of the limit for starting a process."""

_PATIENCE = 2.0
"""The limit counts the processor's time; on a busy computer it takes so much longer
at most before the process is ended."""


class _OutOfMemory(TooLarge):
    """The process that read has run out of memory and is of no more use."""


class GuardedReader:
    """Reads drawings in another process, one after another.

    A reader that hangs or swallows memory is ended and becomes an `InputError`; the
    next drawing gets a fresh process. The process starts with the first drawing,
    which takes about a second, and ends with `close` or the ``with`` block.

    Parameters
    ----------
    limits : Limits, optional
        What reading one drawing may cost.
    """

    def __init__(self, limits: Limits | None = None) -> None:
        self._limits = limits or Limits()
        self._process: SpawnProcess | None = None
        self._connection: Connection | None = None

    def __enter__(self) -> GuardedReader:
        """Return the reader."""
        return self

    def __exit__(self, *_: object) -> None:
        """End the process."""
        self.close()

    def look_at(
        self,
        path: Path | str,
        units: str | None = None,
        *,
        known: KnownSize | None = None,
        layers: Told | None = None,
        drill_up_to: float = DRILL_UP_TO,
        join: float | None = None,
        cancelled: Callable[[], bool] | None = None,
        tell: Tell | None = None,
    ) -> ReadDrawing:
        """Return what a drawing holds; blocks until it is read.

        Parameters
        ----------
        path, units, known, layers, drill_up_to, join, tell
            As for `read_drawing.look_at`.
        cancelled : callable, optional
            Asked 20 times a second; True ends the process and raises `Cancelled`.

        Raises
        ------
        InputError
            As `look_at`, and if the process died or did not end in time.
        Cancelled
            If the caller wished so.
        """
        connection = self._started()
        connection.send((str(path), units, known, layers, drill_up_to, join))
        end = time.monotonic() + _PATIENCE * self._limits.seconds + _START_UP
        try:
            while True:
                if cancelled is not None and cancelled():
                    raise Cancelled
                if connection.poll(0.05):
                    answer = connection.recv()
                    if isinstance(answer, Exception | ReadDrawing):
                        break
                    if tell is not None:
                        tell(*answer)
                if time.monotonic() > end:
                    raise too_large(
                        str(path),
                        "not read: reading took longer than "
                        f"{self._limits.seconds:g} seconds",
                        self._limits,
                    )
        except (EOFError, OSError):
            self.close()
            raise too_large(
                str(path),
                "not read: the reader broke down or ran out of memory",
                self._limits,
            ) from None
        except BaseException:
            self.close()
            raise
        if isinstance(answer, _OutOfMemory):
            self.close()
        if isinstance(answer, Exception):
            raise answer
        return answer

    def close(self) -> None:
        """End the process, whatever it does."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None
        process, self._process = self._process, None
        if process is None:
            return
        process.join(0.2)
        if process.is_alive():
            process.kill()
        process.join()
        process.close()

    def _started(self) -> Connection:
        if self._connection is None or self._process is None:
            context = multiprocessing.get_context("spawn")
            self._connection, theirs = context.Pipe()
            self._process = context.Process(
                target=_child, args=(theirs, self._limits), daemon=True
            )
            with _few_threads():
                self._process.start()
            theirs.close()
        return self._connection


def read_guarded(
    path: Path | str,
    units: str | None = None,
    *,
    known: KnownSize | None = None,
    layers: Told | None = None,
    drill_up_to: float = DRILL_UP_TO,
    join: float | None = None,
    limits: Limits | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> ReadDrawing:
    """Return what one drawing holds, read by another process.

    For several drawings a `GuardedReader` is quicker. Arguments and errors are those
    of `GuardedReader.look_at`.
    """
    with GuardedReader(limits) as reader:
        return reader.look_at(
            path,
            units,
            known=known,
            layers=layers,
            drill_up_to=drill_up_to,
            join=join,
            cancelled=cancelled,
        )


@contextlib.contextmanager
def _few_threads() -> Iterator[None]:
    """Let processes begin without a thread of linear algebra for each processor.

    Each reserves some 8 MB, which counts against the limit.
    """
    name = "OPENBLAS_NUM_THREADS"
    before = os.environ.get(name)
    os.environ[name] = "1"
    try:
        yield
    finally:
        if before is None:
            del os.environ[name]
        else:
            os.environ[name] = before


def hold_memory(limits: Limits) -> None:
    """Let this process take no more memory than limits say, where that can be had."""
    if sys.platform != "win32":
        import resource

        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_DATA, (limits.memory, limits.memory))


def _child(connection: Connection, limits: Limits) -> None:
    # Who stops the program stops this process through the connection.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    hold_memory(limits)

    def tell(share: float, words: str) -> None:
        connection.send((share, words))

    while True:
        try:
            request = connection.recv()
        except (EOFError, OSError):  # nobody asks any more
            return
        connection.send(_answer(tell, limits, *request))


def _answer(
    tell: Tell,
    limits: Limits,
    path: str,
    units: str | None,
    known: KnownSize | None,
    layers: Told | None,
    drill_up_to: float,
    join: float | None,
) -> ReadDrawing | Exception:
    try:
        with collector_paused():
            return look_at(
                path,
                units,
                known=known,
                layers=layers,
                drill_up_to=drill_up_to,
                join=join,
                limits=limits,
                tell=tell,
            )
    except InputError as error:
        return error
    except (MemoryError, RecursionError):
        large = too_large(path, "not read: it needs too much memory", limits)
        return _OutOfMemory(large.where, large.what, large.times)
    except Exception as error:
        return InputError(
            path,
            f"not read: the reader stumbled ({type(error).__name__})",
            "save the drawing anew; please report it",
        )
