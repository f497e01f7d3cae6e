"""A search for a layout, seen from the window: start, show, keep, discard."""

from __future__ import annotations

import os
import time

from PySide6.QtCore import QObject, QTimer, Signal

from .document import Document
from .engine_process import Ended, EngineProcess, Found, Going
from .kept import KeptLayouts
from .proving import Proving
from .verdict_strip import VerdictStrip

WORK = "drystone.app.window.engine_work:nest"
SLOWLY = 250
"""Least time between two layouts shown while nesting, milliseconds."""


class Nesting(QObject):
    """Runs the engine for a document and shows on the strip how far it is.

    Signals
    -------
    running_changed(bool)
        A search began, or is over.
    died(Found, str)
        The engine died after it had found a layout; words about it.
    """

    running_changed = Signal(bool)
    died = Signal(object, str)

    def __init__(
        self,
        document: Document,
        strip: VerdictStrip,
        kept: KeptLayouts,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.strip = strip
        self.kept = kept
        self.engine = EngineProcess(WORK, self)
        self._began = 0.0
        self._limit = 30.0
        self._late: Found | None = None
        self._text = ""
        self._number = 0
        self._bound_known = False
        self.proving = Proving(document, self)
        self.proving.proven.connect(strip.set_bound)
        self._tick = QTimer(self)
        self._tick.setInterval(SLOWLY)
        self._tick.timeout.connect(self._pass_time)
        self.engine.found.connect(self._found)
        self.engine.ended.connect(self._ended)
        self.engine.going.connect(self._going)
        document.changed.connect(self._job_changed)

    @property
    def running(self) -> bool:
        """Whether a search is on."""
        return self.engine.running

    def start(self, seconds: float, keep: str, blank: int | None) -> None:
        """Search for at most so many seconds; see `Request` for what is kept."""
        self._limit = seconds
        self._late = None
        self._bound_known = False
        self.proving.drop()
        if blank is not None:
            words = self.tr("Nest blank {n} anew")
            self._text = words.format(n=blank + 1)
        elif keep == "all":
            self._text = self.tr("Fill around what is there")
        else:
            self._text = self.tr("Nest")
        workers = max(1, min(4, (os.cpu_count() or 2) - 1))
        try:
            self.engine.start(
                self.document.job,
                seconds=seconds,
                workers=workers,
                keep=keep,
                blank=blank,
            )
        except OSError as error:
            words = self.tr("The engine could not be started: {why}")
            self.document.say("error", words.format(why=error))
            return
        self._began = time.monotonic()
        self.strip.set_running(True)
        self._tick.start()
        self.running_changed.emit(True)

    def keep(self) -> None:
        """End the search and take its best layout."""
        self.engine.stop()

    def discard(self) -> None:
        """End the search and leave the layout as it was."""
        if not self.running:
            return
        self.engine.drop()
        self._rest()
        self.document.show_trial(None)
        self.strip.set_running(False)
        self.running_changed.emit(False)

    def close(self) -> None:
        """End the engine's process, without a word."""
        self.engine.close()
        self.proving.close()
        self._rest()

    def _job_changed(self) -> None:
        if self.running:
            self.discard()
            self.document.say(
                "info", self.tr("The search was ended, because the job has changed.")
            )

    def _going(self, going: Going) -> None:
        if going.words:
            self.document.say("info", going.words)

    def _rest(self) -> None:
        self._tick.stop()
        self._late = None

    def _pass_time(self) -> None:
        self.strip.show_time(time.monotonic() - self._began, self._limit)
        if self._late is not None:
            self._show(self._late)

    def _found(self, found: Found) -> None:
        if not self._bound_known and "bound" in found.figures:
            self._bound_known = True
            self.strip.set_bound(int(found.figures["bound"]), str(found.figures["why"]))
        trial = self.document.shown_layout is not self.document.job.layout
        if self._late is not None or trial:
            self._late = found  # the clock shows it: not too many a second
        else:
            self._show(found)

    def _show(self, found: Found) -> None:
        self._late = None
        self.document.show_trial(found.layout, found.figures.get("stock"))
        seconds = time.monotonic() - self._began
        self.strip.plot.add(seconds, float(found.figures.get("yield", 0.0)))

    def _adopt(self, found: Found) -> None:
        """Take a layout, and keep it and the one before for comparing."""
        self.kept.keep(self.document.job.layout, self.tr("Before that, by hand"))
        stock = found.figures.get("stock")
        if self.document.adopt(found.layout, self._text, stock):
            self._number += 1
            name = f"{self._text} ({self._number})"
            self.kept.keep(self.document.job.layout, name)
        else:
            self.document.say("info", self.tr("No better layout was found."))

    def _ended(self, ended: Ended) -> None:
        best = self.engine.best
        self._rest()
        if best is not None and ended.reason in ("done", "stopped"):
            self._adopt(best)
        else:
            self.document.show_trial(None)
        self.strip.set_running(False)
        if best is not None and "bound" in best.figures:
            self.strip.set_bound(int(best.figures["bound"]), str(best.figures["why"]))
        elif best is not None and not self.document.job.layout.unplaced:
            self.proving.begin()
        self.running_changed.emit(False)
        if ended.reason in ("died", "failed") and best is not None:
            self.died.emit(best, ended.words)
        elif ended.words:
            self.document.say("error", ended.words)
        elif best is None:
            self.document.say("info", self.tr("Stopped before a layout was found."))
