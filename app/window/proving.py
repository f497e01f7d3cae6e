"""The bound, where a search ended before all was looked at that proves something."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal

from ...nesting.model.job import Job
from .document import Document
from .engine_process import EngineProcess, Found

WORK = "drystone.app.window.proving_work:prove"


class Proving(QObject):
    """Works the bound out for as long as order, stock and cutting stay as they are.

    Signals
    -------
    proven(int, str)
        The bound in whole sheets, and what proves it.
    """

    proven = Signal(int, str)

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self._job: Job | None = None
        self.engine = EngineProcess(WORK, self)
        self.engine.found.connect(self._found)
        document.changed.connect(self._changed)

    def begin(self) -> None:
        """Work it out for the document's job."""
        self.drop()
        self._job = self.document.job
        try:
            self.engine.start(self._job)
        except OSError:
            self._job = None  # the verdict stands without it

    def drop(self) -> None:
        """End it; nothing comes any more."""
        self._job = None
        self.engine.drop()

    def close(self) -> None:
        """End it, and wait for that."""
        self._job = None
        self.engine.close()

    def _changed(self) -> None:
        old, new = self._job, self.document.job
        if old is not None and not (
            old.parts is new.parts
            and old.stock is new.stock
            and old.cutting is new.cutting
        ):
            self.drop()

    def _found(self, found: Found) -> None:
        if self._job is not None:
            self._job = None
            self.proven.emit(int(found.figures["bound"]), str(found.figures["why"]))
