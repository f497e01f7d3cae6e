"""Where screws may go, worked out blank by blank while nothing else is to be done."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QTimer

from ...nesting.model.machine import Practice
from ...nesting.shop.holddown import asked_screws

if TYPE_CHECKING:
    from .view import BenchView

REST = 300
"""Spots are worked out when the layout has rested this long, milliseconds."""


class ScrewSpots:
    """Shows the screw spots that the job asks for.

    Parameters
    ----------
    view : BenchView
        The bench.

    Attributes
    ----------
    practice : Practice
        How the shop holds down: its distance counts where the job names none.
    """

    def __init__(self, view: BenchView) -> None:
        self._view = view
        self.practice = Practice()
        self._known: dict[int, Any] = {}
        self._timer = QTimer(view)
        self._timer.setSingleShot(True)
        self._timer.timeout.connect(self._work)

    def use(self, practice: Practice) -> None:
        """Go by another practice from now on."""
        if practice != self.practice:
            self.practice = practice
            self.refresh()

    def refresh(self) -> None:
        """Work out what changed, after a rest."""
        if self._view.document.job.holding.screws:
            self._timer.start(REST)
            return
        self._known.clear()
        for item in self._view.blank_items:
            item.show_screws(())

    def _work(self) -> None:
        """Do one blank, then let the window breathe."""
        view = self._view
        job = view.document.job
        if view.gesture is not None or view.document.shown_layout is not job.layout:
            self._timer.start(REST)
            return
        for item in view.blank_items:
            asked = (
                job.stock_of(item.index),
                job.cutting,
                job.holding,
                job.layout.on(item.index),
                self.practice,
            )
            if self._known.get(item.index) != asked:
                self._known[item.index] = asked
                item.show_screws(asked_screws(job, item.index, self.practice))
                self._timer.start(0)
                return
