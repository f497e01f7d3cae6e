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
import multiprocessing
import os
import pickle
import signal
import threading
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from ...nesting.model.job import Job
from .calm import calm
from .engine_child import STOP, Ended, Found, Going, Request, serve

__all__ = ["Ended", "EngineProcess", "Found", "Going", "Request"]

POLL = 40
"""How often the pipe is looked at, milliseconds."""

PATIENCE = 0.7
"""How long a stopped engine may take to finish by itself, seconds."""


class _Line:
    """The way to the other process: the request first, then perhaps a stop.

    Packing a large job takes longer than a frame, so that a thread does it.
    """

    def __init__(self, pipe: Connection, request: Request) -> None:
        self._pipe = pipe
        self._lock = threading.Lock()
        self._sent = self._stop = False
        self._thread = threading.Thread(target=self._run, args=(request,), daemon=True)
        self._thread.start()

    def _run(self, request: Request) -> None:
        # A pipe that is closed meanwhile has no handle: that is a TypeError.
        with contextlib.suppress(OSError, TypeError):
            with calm():
                data = pickle.dumps(request, pickle.HIGHEST_PROTOCOL)
            self._pipe.send_bytes(data)
            with self._lock:
                self._sent = True
                if self._stop:
                    self._pipe.send_bytes(STOP)

    def stop(self) -> None:
        """Ask for the end, now or as soon as the request is through."""
        with self._lock, contextlib.suppress(OSError, TypeError):
            self._stop = True
            if self._sent:
                self._pipe.send_bytes(STOP)


class EngineProcess(QObject):
    """Starts, watches and ends the engine's process.

    Parameters
    ----------
    work : str
        ``package.module:function`` of the work to be done there.
    patience : float
        How long it may take to end by itself once it is stopped, seconds.

    Signals
    -------
    found(Found)
        A better layout of the request that is running.
    going(Going)
        How far the request that is running has come.
    ended(Ended)
        The request that was running is over, whatever the reason.
    """

    found = Signal(object)
    going = Signal(object)
    ended = Signal(object)

    def __init__(
        self, work: str, parent: QObject | None = None, patience: float = PATIENCE
    ) -> None:
        super().__init__(parent)
        self._work = work
        self._patience = patience
        self._count = 0
        self._request: Request | None = None
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None
        self._line: _Line | None = None
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

    @property
    def pid(self) -> int | None:
        """The number of the process that works, for the system; None when none does."""
        return None if self._process is None else self._process.pid

    def start(self, job: Job, **more: Any) -> Request:
        """Begin with a job; whatever was running is dropped.

        Parameters
        ----------
        more
            Other fields of `Request`.

        Raises
        ------
        OSError
            If the system has no room for another process.
        """
        self.drop()
        self._count += 1
        request = Request(self._count, job, **more)
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        process = context.Process(
            target=serve, args=(theirs, self._work), name="drystone-engine"
        )
        process.start()
        theirs.close()
        self._request, self._process, self._pipe = request, process, ours
        self._line = _Line(ours, request)
        self._best = None
        self._stopping = False
        self._timer.start()
        return request

    def stop(self) -> None:
        """Ask for the end; the best layout so far stays, `ended` follows soon."""
        if self._line is None or self._stopping:
            return
        self._stopping = True
        self._line.stop()
        self._deadline.start(int(self._patience * 1000))

    def drop(self) -> None:
        """End the process without a word and without waiting for that."""
        process = self._let_go()
        if process is not None:
            threading.Thread(target=_kill, args=(process,), daemon=True).start()

    def close(self, grace: float = 0.0) -> None:
        """End the process without a word, and wait until it is gone.

        Parameters
        ----------
        grace : float
            How long it may take to end by itself first, seconds.
        """
        if grace > 0.0 and self._line is not None and self._process is not None:
            self._line.stop()
            self._process.join(grace)
        process = self._let_go()
        if process is not None:
            _kill(process)

    def _let_go(self) -> BaseProcess | None:
        self._timer.stop()
        self._deadline.stop()
        process, pipe = self._process, self._pipe
        self._request = self._process = self._pipe = self._line = None
        if pipe is not None:
            pipe.close()
        return process

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
            elif isinstance(answer, Going):
                self.going.emit(answer)
            else:
                self._finish(answer.reason, answer.words)

    def _finish(self, reason: str, words: str = "") -> None:
        request = self._request
        assert request is not None
        if self._stopping and reason == "done":
            reason = "stopped"
        if reason not in ("failed", "died"):
            words = ""
        self.drop()
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
