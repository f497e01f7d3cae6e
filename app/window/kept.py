"""Layouts kept aside while a job is open, to be compared and taken again."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

from PySide6.QtCore import QObject, Signal

from ...nesting.model.job import Job
from ...nesting.model.placement import Layout
from ...nesting.model.stock import Stock
from .document import Document
from .edits import settled

MOST = 20
"""The oldest goes when there are more."""


@dataclass(frozen=True)
class Kept:
    """A layout kept aside.

    Attributes
    ----------
    name : str
        What people call it.
    layout : Layout
        The layout.
    at : float
        When it was kept, seconds since 1970.
    stock : tuple of Stock
        What it lies on.
    """

    name: str
    layout: Layout
    at: float
    stock: tuple[Stock, ...] = ()


class KeptLayouts(QObject):
    """The layouts kept aside for a document, the newest first.

    Signals
    -------
    changed()
        The list is different.
    """

    changed = Signal()

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self.all: tuple[Kept, ...] = ()
        self._count = 0
        document.opened.connect(self._opened)

    def _opened(self) -> None:
        self.all = ()
        self._count = 0
        self.changed.emit()

    def keep(self, layout: Layout, name: str = "") -> Kept | None:
        """Keep a layout aside.

        Returns
        -------
        Kept or None
            None when nothing lies in it, or the same one is kept already.
        """
        if not layout.placements or any(k.layout == layout for k in self.all):
            return None
        self._count += 1
        at = time.time()
        if not name:
            name = self.tr("Layout {n}").format(n=self._count)
        kept = Kept(name, layout, at, self.document.job.stock)
        self.all = (kept, *self.all)[:MOST]
        self.changed.emit()
        return kept

    def remove(self, kept: Kept) -> None:
        """Keep one no longer."""
        self.all = tuple(k for k in self.all if k is not kept)
        self.changed.emit()

    def job_with(self, kept: Kept) -> Job:
        """Return the document's job with a kept layout, as far as it still fits.

        A layout on blanks sawn from the job's sheets, or on the sheets that its blanks
        are sawn from, brings the stock it lies on along.
        """
        job = self.document.job
        there = {stock.id for stock in job.stock}
        bought = {(stock.sheet or stock).id for stock in job.stock}
        used = {blank.stock_id for blank in kept.layout.blanks}
        sawn = any(
            stock.id in used - there and (stock.sheet or stock).id in bought
            for stock in kept.stock
        )
        stock = kept.stock if sawn else job.stock
        return settled(replace(job, layout=kept.layout, stock=stock))

    def take(self, kept: Kept) -> bool:
        """Make a kept layout the job's own, as one undoable step."""
        text = self.tr("Take “{name}”").format(name=kept.name)
        job = self.job_with(kept)
        return self.document.adopt(job.layout, text, job.stock)
