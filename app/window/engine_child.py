"""What runs in the engine's own process, and the messages between it and the window.

Nothing here knows Qt, so that the other process starts quickly.
"""

from __future__ import annotations

import contextlib
import importlib
import multiprocessing
import os
import pickle
import signal
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from typing import Any, Protocol

from ...nesting.model.errors import DrystoneError
from ...nesting.model.job import Job
from ...nesting.model.placement import Layout

STOP = b"stop"
"""Sent to ask for the end."""


@dataclass(frozen=True)
class Request:
    """One piece of work for the engine.

    Attributes
    ----------
    id : int
        Counts up; answers carry it back.
    job : Job
        What is wanted; locked placements of its layout stay.
    seconds : float
        How long the engine may search.
    seed : int
        The same seed and the same limit give the same layout.
    workers : int
        Processor cores to use.
    keep : str
        "locked" keeps locked placements, "all" keeps every placement and fills round
        them.
    blank : int or None
        The one blank to lay out anew; None for the whole job.
    options : dict
        Whatever else the work understands.
    """

    id: int
    job: Job
    seconds: float = 30.0
    seed: int = 0
    workers: int = 1
    keep: str = "locked"
    blank: int | None = None
    options: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Found:
    """A better layout, or another result.

    Attributes
    ----------
    id : int
        The request's.
    layout : Layout
        The layout.
    seconds : float
        When it was found, counted from the start of the search.
    figures : dict
        Numbers to show, such as the yield and the bound.
    """

    id: int
    layout: Layout
    seconds: float
    figures: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Going:
    """How far the work is.

    Attributes
    ----------
    id : int
        The request's.
    share : float
        0 to 1; below 0 where nobody can say.
    words : str
        What is being done.
    """

    id: int
    share: float
    words: str


@dataclass(frozen=True)
class Ended:
    """The work is over.

    Attributes
    ----------
    id : int
        The request's.
    reason : str
        "done", "stopped", "failed" or "died".
    words : str
        One sentence for "failed" and "died".
    """

    id: int
    reason: str
    words: str = ""


BEHIND = 5
"""By so much work here makes way for the window, on the system's scale from 0 to 19."""


class Show(Protocol):
    """How work tells what it has found, and how far it is."""

    def __call__(self, layout: Layout, seconds: float, figures: dict[str, Any]) -> None:
        """Hand a layout over."""

    def progress(self, share: float, words: str) -> None:
        """Say how far the work is; see `Going`."""


Work = Callable[[Request, Show, Callable[[], bool]], None]


class _Teller:
    """Sends what is found to the window."""

    def __init__(self, pipe: Connection, number: int) -> None:
        self._pipe = pipe
        self._number = number
        self._lock = threading.Lock()

    def send(self, answer: Found | Going | Ended) -> None:
        """Send one message; a window that is gone does not hear it."""
        with self._lock, contextlib.suppress(OSError):
            self._pipe.send(answer)

    def __call__(self, layout: Layout, seconds: float, figures: dict[str, Any]) -> None:
        self.send(Found(self._number, layout, seconds, figures))

    def progress(self, share: float, words: str) -> None:
        self.send(Going(self._number, share, words))


def serve(pipe: Connection, work: str) -> None:
    """Take a request from the pipe, do the work, send what is found.

    Parameters
    ----------
    pipe : Connection
        To the window.
    work : str
        ``package.module:function``.
    """
    if hasattr(os, "setpgid"):
        with contextlib.suppress(OSError):
            os.setpgid(0, 0)
    if hasattr(os, "nice"):  # the window goes first when both want the processor
        with contextlib.suppress(OSError):
            os.nice(BEHIND)
    signal.signal(signal.SIGTERM, end_quickly)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        request: Request = pickle.loads(pipe.recv_bytes())
    except (EOFError, OSError):
        return
    stop = threading.Event()
    show = _Teller(pipe, request.id)

    def listen() -> None:
        try:
            while pipe.recv_bytes() != STOP:
                pass
            stop.set()
        except (EOFError, OSError):
            # The window is gone, however it went: do not outlive it.
            end_quickly(0, None)

    threading.Thread(target=listen, daemon=True).start()
    try:
        module, name = work.split(":")
        function: Work = getattr(importlib.import_module(module), name)
        function(request, show, stop.is_set)
    except (DrystoneError, OSError) as error:
        show.send(Ended(request.id, "failed", str(error)))
    except Exception as error:  # a fault of the program: whoever mends it needs it all
        traceback.print_exc()
        kind = type(error).__name__
        words = f"A fault in the program ended this work ({kind}: {error})."
        show.send(Ended(request.id, "failed", words))
    else:
        show.send(Ended(request.id, "stopped" if stop.is_set() else "done"))


def end_quickly(number: int, frame: Any) -> None:
    """Leave at once, and take own workers along."""
    for child in multiprocessing.active_children():
        child.kill()
    os._exit(0)
