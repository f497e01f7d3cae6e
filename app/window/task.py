"""Work on another thread, with an answer by signal and a way to stop it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QEventLoop, QObject, Qt, QTimer, Signal

from .calm import calm

SHOWN = 30
"""So long the window has for itself before a task that may wait, milliseconds."""


class Task(QObject):
    """One piece of work that must not hold the window up.

    Parameters
    ----------
    work : callable
        Run on another thread; gets a function that says whether to stop.

    Signals
    -------
    done(object)
        What the work returned.
    failed(object)
        The exception it raised.
    """

    done = Signal(object)
    failed = Signal(object)
    _over = Signal(bool, object)

    def __init__(
        self, work: Callable[[Callable[[], bool]], Any], parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._work = work
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        # Queued: whatever listens does so on the thread this object belongs to.
        self._over.connect(self._deliver, Qt.ConnectionType.QueuedConnection)

    def start(self) -> None:
        """Begin, unless it has been stopped already."""
        if not self._stop.is_set():
            self._thread.start()

    def start_soon(self) -> None:
        """Begin when the window has shown what goes on: alone it does that quickly."""
        QTimer.singleShot(SHOWN, self, self.start)

    def stop(self) -> None:
        """Ask the work to end; no signal comes any more."""
        self._stop.set()

    def close(self) -> None:
        """Ask the work to end and wait for that."""
        self.stop()
        if self._thread.is_alive():
            self._thread.join(5.0)

    def _run(self) -> None:
        try:
            with calm():
                answer = self._work(self._stop.is_set)
        except Exception as error:
            self._over.emit(False, error)
        else:
            self._over.emit(True, answer)

    def _deliver(self, done: bool, answer: Any) -> None:
        if not self._stop.is_set():
            (self.done if done else self.failed).emit(answer)


def in_background(work: Callable[[], Any]) -> Any:
    """Return what a function returns, run on another thread.

    The window goes on painting meanwhile, but takes no mouse or keys: for work that
    is over within a second and must be over before anything else happens.
    """
    loop = QEventLoop()
    answers: list[Any] = []
    errors: list[Exception] = []
    task = Task(lambda stopped: work())
    task.done.connect(answers.append)
    task.failed.connect(errors.append)
    task.done.connect(loop.quit)
    task.failed.connect(loop.quit)
    task.start()
    loop.exec(QEventLoop.ProcessEventsFlag.ExcludeUserInputEvents)
    if errors:
        raise errors[0]
    return answers[0]
