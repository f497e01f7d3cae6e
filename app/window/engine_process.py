"""The engine in a process of its own: a frozen request out, layouts back.

The window never waits for the engine and never shares anything with it. A request has
an id; whatever comes back for an id that is no longer wanted is dropped. If the process
dies, that is said, and the best layout so far is still there.

What the engine does is a function `work(request, show, stopped)` at the top level of a
module, given by its dotted name so that this module need not import it: the engine's
compiled kernels are loaded in its own process only.
"""

from __future__ import annotations

import contextlib
import importlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from ...nesting.model.job import Job
from ...nesting.model.placement import Layout

POLL = 40
"""How often the pipe is looked at, milliseconds."""

PATIENCE = 1.0
"""How long a stopped engine may take to finish by itself, seconds."""


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
    """A better layout.

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


Show = Callable[[Layout, float, dict[str, Any]], None]
Work = Callable[[Request, Show, Callable[[], bool]], None]


class EngineProcess(QObject):
    """Starts, watches and ends the engine's process.

    Parameters
    ----------
    work : str
        ``package.module:function`` of the work to be done there.

    Signals
    -------
    found(Found)
        A better layout of the request that is running.
    ended(Ended)
        The request that was running is over, whatever the reason.
    """

    found = Signal(object)
    ended = Signal(object)

    def __init__(self, work: str, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._work = work
        self._count = 0
        self._request: Request | None = None
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._stopping = False
        self._best: Found | None = None
        self._timer = QTimer(self)
        self._timer.setInterval(POLL)
        self._timer.timeout.connect(self._poll)
        self._deadline = QTimer(self)
        self._deadline.setSingleShot(True)
        self._deadline.timeout.connect(self._out_of_patience)

    @property
    def running(self) -> bool:
        """Whether a request is being worked on."""
        return self._request is not None

    @property
    def best(self) -> Found | None:
        """The best layout of the request that runs, or ran last."""
        return self._best

    def start(self, job: Job, **more: Any) -> Request:
        """Begin with a job; whatever was running is dropped.

        Parameters
        ----------
        more
            Other fields of `Request`.
        """
        self.close()
        self._count += 1
        request = Request(self._count, job, **more)
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(
            target=_serve, args=(theirs, self._work, request), name="drystone-engine"
        )
        process.start()
        theirs.close()
        self._request, self._process, self._pipe = request, process, ours
        self._best = None
        self._stopping = False
        self._timer.start()
        return request

    def stop(self) -> None:
        """Ask for the end; the best layout so far stays, `ended` follows soon."""
        if self._pipe is None or self._stopping:
            return
        self._stopping = True
        with contextlib.suppress(OSError):
            self._pipe.send("stop")
        self._deadline.start(int(PATIENCE * 1000))

    def close(self) -> None:
        """End the process at once, without a word; for closing the window."""
        self._timer.stop()
        self._deadline.stop()
        process, pipe = self._process, self._pipe
        self._request = self._process = self._pipe = None
        if pipe is not None:
            pipe.close()
        if process is not None:
            _kill(process)

    def _out_of_patience(self) -> None:
        self._drain()
        if self._request is not None:
            self._finish("stopped")

    def _poll(self) -> None:
        self._drain()
        process = self._process
        if self._request is None or process is None or process.is_alive():
            return
        self._drain()
        if self._request is None:
            return
        code = process.exitcode
        self._finish(
            "stopped" if self._stopping else "died",
            self.tr(
                "The engine ended unexpectedly ({code}). Your job is untouched; "
                "start it again."
            ).format(code=code),
        )

    def _drain(self) -> None:
        """Take in everything the pipe holds."""
        while self._pipe is not None and self._request is not None:
            try:
                if not self._pipe.poll():
                    return
                answer = self._pipe.recv()
            except (EOFError, OSError):
                return
            if answer.id != self._request.id:
                continue
            if isinstance(answer, Found):
                self._best = answer
                self.found.emit(answer)
            else:
                self._finish(answer.reason, answer.words)

    def _finish(self, reason: str, words: str = "") -> None:
        request = self._request
        assert request is not None
        if self._stopping and reason == "done":
            reason = "stopped"
        if reason not in ("failed", "died"):
            words = ""
        self.close()
        self.ended.emit(Ended(request.id, reason, words))


def _kill(process: BaseProcess) -> None:
    """End a process and the workers it has started."""
    if process.is_alive() and process.pid is not None:
        process.terminate()
        process.join(0.3)
    if process.is_alive() and process.pid is not None:
        _kill_group(process.pid)
        process.kill()
    process.join(1.0)
    if not process.is_alive():
        process.close()


def _kill_group(pid: int) -> None:
    if not hasattr(os, "killpg"):
        return
    with contextlib.suppress(OSError):
        # Only a group of its own: never the window's.
        if os.getpgid(pid) == pid:
            os.killpg(pid, signal.SIGKILL)


def _serve(pipe: Connection, work: str, request: Request) -> None:
    """Run in the engine's process: do the work, send what is found."""
    if hasattr(os, "setpgid"):
        with contextlib.suppress(OSError):
            os.setpgid(0, 0)
    signal.signal(signal.SIGTERM, _end_quickly)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    stop = threading.Event()
    lock = threading.Lock()

    def listen() -> None:
        try:
            while pipe.recv() != "stop":
                pass
            stop.set()
        except (EOFError, OSError):
            # The window is gone, however it went: do not outlive it.
            _end_quickly(0, None)

    def send(answer: Found | Ended) -> None:
        with lock, contextlib.suppress(OSError):
            pipe.send(answer)

    def show(layout: Layout, seconds: float, figures: dict[str, Any]) -> None:
        send(Found(request.id, layout, seconds, figures))

    threading.Thread(target=listen, daemon=True).start()
    try:
        module, name = work.split(":")
        function: Work = getattr(importlib.import_module(module), name)
        function(request, show, stop.is_set)
    except Exception as error:
        words = str(error) or type(error).__name__
        send(Ended(request.id, "failed", words))
    else:
        send(Ended(request.id, "stopped" if stop.is_set() else "done"))


def _end_quickly(number: int, frame: Any) -> None:
    """Leave at once, and take own workers along."""
    for child in multiprocessing.active_children():
        child.kill()
    os._exit(0)
