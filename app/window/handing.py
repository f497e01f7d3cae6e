"""Handing over, seen from the window: the files are written by another process."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject

from .document import Document
from .engine_process import Ended, EngineProcess, Found
from .work_bar import WorkBar

if TYPE_CHECKING:
    from ..book.hand_over_page import HandOverPage

WORK = "drystone.app.window.engine_work:hand_over"

CLEARING = 10.0
"""How long taking away what was begun may take, seconds; it is not cut short."""


class HandingOver(QObject):
    """Writes a job's files and tells the page what came of it."""

    def __init__(
        self,
        document: Document,
        page: HandOverPage,
        bar: WorkBar,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.page = page
        self.bar = bar
        self.engine = EngineProcess(WORK, self, CLEARING)
        self.engine.found.connect(self._written)
        self.engine.ended.connect(self._ended)
        page.write_wanted.connect(self.write)

    @property
    def running(self) -> bool:
        """Whether files are being written."""
        return self.engine.running

    def write(self, folder: str, force: bool) -> None:
        """Write the job's files to a folder.

        Parameters
        ----------
        folder : str
            Where to.
        force : bool
            Whether files there may be replaced.
        """
        if self.running:
            return
        self.page.begin()
        self.bar.begin(self.tr("Writing and checking the files"), self.stop)
        page = self.page
        options = {"folder": folder, "force": force}
        options |= {"combined": page.combined, "pdf": page.pdf}
        try:
            self.engine.start(self.document.job, options=options)
        except OSError as error:
            self.bar.end()
            self.page.failed(str(error))

    def stop(self) -> None:
        """Ask for the end; what was begun is taken away first."""
        words = self.tr("Stopping; what was begun is taken away")
        self.bar.progress(-1.0, words)
        self.engine.stop()

    def close(self) -> None:
        """End writing; what was begun is taken away."""
        self.engine.close(CLEARING)

    def _written(self, found: Found) -> None:
        self.page.done(found.figures)

    def _ended(self, ended: Ended) -> None:
        self.bar.end()
        if ended.reason == "stopped" and self.engine.best is None:
            self.page.failed(self.tr("Stopped. Nothing was written."))
        elif ended.reason in ("failed", "died"):
            self.page.failed(ended.words or self.tr("Nothing was written."))
