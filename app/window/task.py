"""Work on another thread, with an answer by signal and a way to stop it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal


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

    def __init__(
        self, work: Callable[[Callable[[], bool]], Any], parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._work = work
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

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
            answer = self._work(self._stop.is_set)
        except Exception as error:
            if not self._stop.is_set():
                self.failed.emit(error)
        else:
            if not self._stop.is_set():
                self.done.emit(answer)
