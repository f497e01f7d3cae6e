"""Files read without holding the window up: whole or not at all, with `Stop`."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Signal

from ...io.job_file import read_job
from ...nesting.model.job import Job
from ..bench.arrange import box_of
from ..bench.conflicts import Conflicts
from ..bench.shapes import flat
from ..book.importing import Read
from .document import Document
from .edits import settled
from .engine_process import Ended, EngineProcess, Found, Going
from .task import Task
from .work_bar import WorkBar

WORK = "drystone.app.window.reading:read"


@dataclass(frozen=True)
class Opened:
    """A job that was read, made ready to be shown.

    Attributes
    ----------
    job : Job
        The job.
    conflicts : Conflicts
        What lies wrongly in it, already looked for.
    """

    job: Job
    conflicts: Conflicts


def made_ready(job: Job) -> Opened:
    """Do ahead, on another thread, what showing a job would have to wait for."""
    job = settled(job)
    for part in job.parts:
        _ = flat(part.outline).box, part.outline.bounds
    for p in job.layout.placements:
        box_of(job, p)
    conflicts = Conflicts()
    conflicts.of(job)
    return Opened(job, conflicts)


class Reader(QObject):
    """Reads one thing at a time; what is begun later drops what was begun before.

    Signals
    -------
    busy_changed(bool)
        Reading began, or is over.
    """

    busy_changed = Signal(bool)

    def __init__(
        self, document: Document, bar: WorkBar, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.bar = bar
        self._process = EngineProcess(WORK, self)
        self._process.found.connect(self._arrived)
        self._process.going.connect(self._tell)
        self._process.ended.connect(self._ended)
        self._task: Task | None = None
        self._then: Callable[[Read], object] | None = None
        self._busy = False

    @property
    def busy(self) -> bool:
        """Whether something is being read."""
        return self._busy

    def read_job(self, path: Path, then: Callable[[Opened], object]) -> None:
        """Read a job file, then call a function with it."""
        self._begin(self.tr("Opening {name}").format(name=path.name))
        self._run(lambda: made_ready(read_job(path)), then)

    def read_files(
        self,
        paths: Sequence[Path],
        whole: bool,
        units: Mapping[str, str],
        then: Callable[[Read], object],
        times: int = 1,
        layers: tuple[tuple[str, str], ...] | None = None,
    ) -> None:
        """Read drawings, or one order, then call a function with what they hold.

        What the document's job says of layers and colours counts for drawings.

        Parameters
        ----------
        whole : bool
            Whether it is one order.
        units : mapping
            What the user said about the units of drawings, by path.
        times : int
            How many times larger than usual drawings may be.
        layers : tuple, optional
            What is said of layers and colours, instead of what the job says.
        """
        self._begin(self.tr("Reading {name}").format(name=paths[0].name))
        options: dict[str, Any] = {
            "paths": [str(path) for path in paths],
            "whole": whole,
            "units": dict(units),
            "times": times,
            "layers": self.document.job.layers if layers is None else layers,
        }
        self._start(options, then)

    def _start(self, options: dict[str, Any], then: Callable[[Read], object]) -> None:
        """Read in a fresh process, and in another what that could not go on with."""

        def arrived(read: Read) -> None:
            if not read.left:
                then(read)
                return
            left = [str(path) for path in read.left]
            self._begin(self.tr("Reading {name}").format(name=read.left[0].name))
            self._start(
                {**options, "paths": left}, lambda more: then(read.and_then(more))
            )

        self._then = arrived
        try:
            self._process.start(Job(""), options=options)
        except OSError as error:
            self._fail(self.tr("Reading cannot begin: {why}").format(why=error))

    def stop(self) -> None:
        """End reading; nothing comes of it."""
        if self._busy:
            self._drop()
            self._end()
            self.document.say("info", self.tr("Stopped; nothing was taken in."))

    def close(self) -> None:
        """End reading, and wait for that."""
        self._process.close()
        if self._task is not None:
            self._task.close()
            self._task = None

    def _drop(self) -> None:
        self._process.drop()
        if self._task is not None:
            self._task.stop()
            self._task = None

    def _begin(self, words: str) -> None:
        self._drop()
        self.bar.begin(words, self.stop)
        if not self._busy:
            self._busy = True
            self.busy_changed.emit(True)

    def _end(self) -> None:
        self.bar.end()
        if self._busy:
            self._busy = False
            self.busy_changed.emit(False)

    def _fail(self, words: str) -> None:
        self._end()
        self.document.say("error", words)

    def _run(self, work: Callable[[], object], then: Callable[..., object]) -> None:
        def done(answer: object) -> None:
            self._task = None
            self._end()
            then(answer)

        def failed(error: Exception) -> None:
            self._task = None
            self._fail(str(error))

        self._task = Task(lambda stopped: work(), self)
        self._task.done.connect(done)
        self._task.failed.connect(failed)
        self._task.start_soon()

    def _tell(self, going: Going) -> None:
        self.bar.progress(
            going.share, self.tr("Reading {name}").format(name=going.words)
        )

    def _arrived(self, found: Found) -> None:
        then = self._then
        assert then is not None
        data = found.figures["read"]

        def unpack() -> Read:
            from ...io import svg_paint  # the page of parts asks for its colours next
            from .reading import unpacked

            _ = svg_paint
            read = unpacked(data)
            for part in read.parts:
                _ = flat(part.outline).box, part.outline.bounds
            return read

        self._run(unpack, then)

    def _ended(self, ended: Ended) -> None:
        if ended.reason == "died":
            words = self.tr(
                "The reader broke down or ran out of memory. Nothing was taken in; "
                "split or simplify the drawing."
            )
            self._fail(words)
        elif ended.reason == "failed":
            self._fail(ended.words)
