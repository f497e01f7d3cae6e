"""What the window must say of its own accord: outside changes, lost work, conflicts."""

from __future__ import annotations

import time
from pathlib import Path

from PySide6.QtCore import QObject

from ..bench.conflicts import Conflict
from ..bench.copies import Key
from ..bench.words import reason_text
from .banner import Banner
from .document import Document, Notice
from .engine_process import Found
from .files import Files
from .recovery import Lost, Recovery


class Notices(QObject):
    """Puts sentences and their buttons on the banner."""

    def __init__(
        self,
        document: Document,
        files: Files,
        recovery: Recovery,
        banner: Banner,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.files = files
        self.recovery = recovery
        self.banner = banner
        document.said.connect(self._said)
        files.watch.changed.connect(self._changed_outside)

    def _said(self, notice: Notice) -> None:
        self.banner.say(notice.level, notice.text)

    def _changed_outside(self, path: Path) -> None:
        self.banner.say(
            "warn",
            self.tr("Another program has changed {name}.").format(name=path.name),
            [
                (self.tr("Load it anew"), lambda: self.files.reload(path)),
                (self.tr("Keep mine"), self.document.mark_unsaved),
                (self.tr("Save a copy…"), self.files.save_as),
            ],
        )

    def offer_lost(self) -> None:
        """Offer work that was lost, the newest first."""
        lost = self.recovery.lost()
        if not lost:
            return
        newest = lost[0]
        at = time.strftime("%a %H:%M", time.localtime(newest.at))
        words = self.tr("Unsaved work on “{name}” from {at} is still here.").format(
            name=newest.name, at=at
        )
        if len(lost) > 1:
            more = self.tr("There is older work too ({n}).").format(n=len(lost) - 1)
            words = f"{words} {more}"
        self.banner.say(
            "warn",
            words,
            [
                (self.tr("Open it"), lambda: self.files.recover(newest)),
                (self.tr("Discard it"), lambda: self._discard(newest)),
            ],
        )

    def _discard(self, lost: Lost) -> None:
        self.recovery.discard(lost)
        self.offer_lost()

    def offer_best(self, best: Found, words: str) -> None:
        """Offer the best layout of an engine that has died."""
        nest = self.tr("Nest")
        self.banner.say(
            "error",
            words,
            [
                (
                    self.tr("Keep the best so far"),
                    lambda: self.document.adopt(
                        best.layout, nest, best.figures.get("stock")
                    ),
                ),
                (self.tr("Leave it"), lambda: None),
            ],
        )

    def explain(self, key: Key) -> None:
        """Say what is wrong with where a copy lies, and what to do."""
        conflict = self.document.conflicts().get(key)
        if conflict is not None:
            self.banner.say("error", self._problem_words(key, conflict))

    def _problem_words(self, key: Key, conflict: Conflict) -> str:
        told: list[str] = []
        for reason in conflict.reasons:
            words = reason_text(reason, self.document.name_of, self.document.job.units)
            if words not in told:
                told.append(words)
        return self.tr(
            "{name}: {what}. Move it, press S to settle it where there is room, "
            "or Del to put it in the tray."
        ).format(name=self.document.name_of(key), what="; ".join(told))
