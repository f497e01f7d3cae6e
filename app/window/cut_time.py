"""How long a layout cuts, worked out on another thread when a job has come to rest."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from ...io.setup_file import read_setup
from ...nesting.model.job import Job
from .document import Document
from .task import Task

REST = 400
"""Working out begins when nothing has changed for so long, milliseconds."""


def cut_time_words(job: Job) -> str:
    """Return how long a job's layout cuts, as a range in words."""
    from ...nesting.shop.time import job_time

    return job_time(job, read_setup()).running.text


class CutTime(QObject):
    """Follows a document.

    Signals
    -------
    told(str)
        How long the document's layout cuts; empty while nobody knows.
    """

    told = Signal(str)

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self._task: Task | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(REST)
        self._timer.timeout.connect(self._begin)
        document.changed.connect(self.work_out_again)
        self._timer.start()

    def close(self) -> None:
        """End what runs."""
        self._timer.stop()
        if self._task is not None:
            self._task.close()
            self._task = None

    def work_out_again(self) -> None:
        """Forget the time and work it out when nothing has changed for a moment."""
        self.told.emit("")
        self._timer.start()

    def _begin(self) -> None:
        job = self.document.job
        if self._task is not None or not job.layout.placements:
            return  # the one that runs begins the next: two would hold the window up

        def work(stopped: Callable[[], bool]) -> tuple[Any, str]:
            return job, cut_time_words(job)

        task = Task(work, self)
        task.done.connect(self._tell)
        task.failed.connect(lambda _: self._tell((job, "")))  # such as a bad set-up
        self._task = task
        task.start()

    def _tell(self, answer: tuple[Any, str]) -> None:
        self._task = None
        job, words = answer
        if job is self.document.job:
            self.told.emit(words)
        elif not self._timer.isActive():
            self._begin()
