"""The rack as the window holds it: what stands there, read and changed by threads."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Signal

from ...io.rack import Rack, RackBoard, RackJob, rack_path
from ...nesting.model.errors import DrystoneError
from ...nesting.model.job import Job
from ..window.task import Task

Work = Callable[[Rack], str]
"""Does something to the rack; returns a sentence about it, or nothing."""


class RackKeeper(QObject):
    """Reads and changes the rack; another window may do so at the same time.

    Every piece of work opens the database anew on a thread of its own, one after the
    other, and reads what stands on the rack afterwards.

    Parameters
    ----------
    path : Path, optional
        The database; this user's when left out.

    Signals
    -------
    changed()
        `boards` and `jobs` were read again.
    done(str)
        Something was changed; a sentence about it.
    failed(str)
        Something could not be done, and why; nothing was changed then.
    """

    changed = Signal()
    done = Signal(str)
    failed = Signal(str)

    def __init__(self, path: Path | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.path = path
        self.boards: tuple[RackBoard, ...] = ()
        self.jobs: tuple[RackJob, ...] = ()
        self.looked = False
        self._lock = threading.Lock()
        self._tasks: list[Task] = []

    @property
    def busy(self) -> bool:
        """Whether something is being read or changed."""
        return bool(self._tasks)

    def look(self) -> None:
        """Read what stands on the rack; looking makes no rack where there is none."""
        if (self.path or rack_path()).exists():
            self._start(lambda rack: "")
        else:
            self.boards, self.jobs, self.looked = (), (), True
            self.changed.emit()

    def add(self, board: RackBoard) -> None:
        """Put a board on the rack."""

        def work(rack: Rack) -> str:
            number = rack.add(board)
            return self.tr("Put on the rack as number {n}.").format(n=number)

        self._start(work)

    def change(self, board: RackBoard) -> None:
        """Say something else about a board."""

        def work(rack: Rack) -> str:
            rack.change(board)
            return ""

        self._start(work)

    def remove(self, numbers: Sequence[int]) -> None:
        """Take boards off the rack for good."""

        def work(rack: Rack) -> str:
            for number in numbers:
                rack.remove(number)
            return self.tr("Taken off the rack.")

        self._start(work)

    def book_out(
        self, job: Job, keep: Sequence[RackBoard], *, again: bool = False
    ) -> None:
        """Take a job's boards and keep its leftovers; once, or once more."""

        def work(rack: Rack) -> str:
            from ..racking import boards_taken, book_out

            number = book_out(rack, job, keep, again=again)
            return self.tr(
                "Booked out as number {n}: {taken} boards taken, {kept} leftovers kept."
            ).format(n=number, taken=len(boards_taken(job)), kept=len(keep))

        self._start(work)

    def take_back(self, number: int) -> None:
        """Undo a booking."""

        def work(rack: Rack) -> str:
            rack.undo(number)
            return self.tr("Booking {n} was taken back.").format(n=number)

        self._start(work)

    def _start(self, work: Work) -> None:
        def run(stopped: Callable[[], bool]) -> Any:
            with self._lock, Rack(self.path) as rack:
                words, error = "", ""
                try:
                    words = work(rack)
                except DrystoneError as trouble:
                    error = str(trouble)
                return words, error, rack.boards(), rack.jobs()

        task = Task(run, self)
        self._tasks.append(task)
        task.done.connect(lambda answer, t=task: self._read(t, answer))
        task.failed.connect(lambda error, t=task: self._broke(t, error))
        task.start()

    def _read(self, task: Task, answer: Any) -> None:
        words, error, self.boards, self.jobs = answer
        self.looked = True
        self._tasks.remove(task)
        self.changed.emit()
        if error:
            self.failed.emit(error)
        elif words:
            self.done.emit(words)

    def _broke(self, task: Task, error: Exception) -> None:
        self._tasks.remove(task)
        self.failed.emit(str(error))

    def close(self) -> None:
        """Wait for what runs."""
        for task in self._tasks:
            task.close()
