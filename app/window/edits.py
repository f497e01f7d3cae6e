"""The one undoable edit: a job before, a job after, and what the user did.

Jobs never change, so an edit is two references and costs nothing to keep; undoing it
restores the old job to the last bit.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from PySide6.QtGui import QUndoCommand

from ...nesting.model.job import Job
from ...nesting.model.placement import Layout, Placement, Reason, Unplaced
from ..bench.copies import Key, key_of

if TYPE_CHECKING:
    from .document import Document

REST = 1.0
"""Nudges further apart than this, in seconds, are undone one by one."""


@dataclass(frozen=True)
class Difference:
    """What an edit, an undo or a redo turned into what."""

    before: Job
    after: Job

    @property
    def order(self) -> bool:
        """Whether any part changed."""
        return self.before.parts is not self.after.parts

    @property
    def stock(self) -> bool:
        """Whether any stock changed."""
        return self.before.stock is not self.after.stock

    @property
    def cutting(self) -> bool:
        """Whether the cutting set-up, the bed or the units changed."""
        a, b = self.before, self.after
        return (a.cutting, a.bed, a.units) != (b.cutting, b.bed, b.units)

    @property
    def layout(self) -> bool:
        """Whether anything lies elsewhere."""
        return self.before.layout is not self.after.layout

    def moved(self) -> frozenset[Key]:
        """Return the copies that lie elsewhere, or came, or went."""
        old = {key_of(p): p for p in self.before.layout.placements}
        new = {key_of(p): p for p in self.after.layout.placements}
        return frozenset(
            key for key in old.keys() | new.keys() if old.get(key) != new.get(key)
        )


class Edit(QUndoCommand):
    """One gesture, however many parts it touched.

    Parameters
    ----------
    document : Document
        Where it happens.
    text : str
        What the user did, as the undo menu says it.
    before, after : Job
        The job without and with it.
    merge : int
        Edits in a row with the same `merge` (0 and up) within `REST` seconds become
        one step; -1 for never.
    """

    def __init__(
        self, document: Document, text: str, before: Job, after: Job, merge: int = -1
    ) -> None:
        super().__init__(text)
        self._document = document
        self._before = before
        self._after = after
        self._merge = merge
        self._at = time.monotonic()

    def redo(self) -> None:
        """Put the job after the edit in place."""
        self._document.put(self._after)

    def undo(self) -> None:
        """Put the job before the edit back."""
        self._document.put(self._before)

    def id(self) -> int:
        """Return the kind of edit that may be merged with this one."""
        return self._merge

    def mergeWith(self, other: QUndoCommand) -> bool:
        """Take a following edit of the same kind in, if it came soon enough."""
        if not isinstance(other, Edit) or other._at - self._at > REST:
            return False
        self._after = other._after
        self._at = other._at
        self.setText(other.text())
        if self._after == self._before:
            self.setObsolete(True)
        return True


def with_placements(
    job: Job, changed: Iterable[Placement] = (), removed: Iterable[Key] = ()
) -> Job:
    """Return the job with placements changed or added, and others taken away.

    Changed ones keep their place in the layout's list; the tray is counted anew.
    """
    new = {key_of(p): p for p in changed}
    gone = frozenset(removed)
    kept = [
        new.pop(key_of(p), p) for p in job.layout.placements if key_of(p) not in gone
    ]
    return settled(
        replace(job, layout=replace(job.layout, placements=(*kept, *new.values()))),
        Reason.BY_HAND if gone else Reason.WAITING,
    )


def settled(job: Job, reason: Reason = Reason.WAITING) -> Job:
    """Return the job with a layout that fits its order and stock.

    Copies nobody wants any more leave the layout, the last ones first and locked ones
    last; blanks of stock that is gone leave with all that lay on them; the tray holds
    exactly what is wanted and not placed, with the reason where one was known.

    Parameters
    ----------
    reason : Reason
        Why copies are in the tray that were not there before.
    """
    stock = {s.id for s in job.stock}
    blanks = job.layout.blanks
    kept = [i for i, blank in enumerate(blanks) if blank.stock_id in stock]
    place = {old: new for new, old in enumerate(kept)}
    quantity = {part.id: part.quantity for part in job.parts}
    groups: dict[str, list[Placement]] = {}
    for p in job.layout.placements:
        if p.part_id in quantity and p.blank in place:
            groups.setdefault(p.part_id, []).append(p)
    dropped: set[Key] = set()
    renamed: dict[Key, int] = {}
    for part_id, group in groups.items():
        surplus = len(group) - quantity[part_id]
        if surplus > 0:
            order = sorted(group, key=lambda p: (p.locked, -p.copy))
            dropped.update(key_of(p) for p in order[:surplus])
        rest = [p for p in group if key_of(p) not in dropped]
        high = [p for p in rest if p.copy > quantity[part_id]]
        if high:
            taken = {p.copy for p in rest}
            free = (n for n in range(1, quantity[part_id] + 1) if n not in taken)
            renamed.update((key_of(p), n) for p, n in zip(high, free, strict=False))
    placements = tuple(
        p
        if place[p.blank] == p.blank and key_of(p) not in renamed
        else replace(p, blank=place[p.blank], copy=renamed.get(key_of(p), p.copy))
        for p in job.layout.placements
        if p.part_id in quantity and p.blank in place and key_of(p) not in dropped
    )
    unplaced = _tray(job, placements, reason)
    layout = Layout(tuple(blanks[i] for i in kept), placements, unplaced)
    return job if layout == job.layout else replace(job, layout=layout)


def _tray(
    job: Job, placements: Iterable[Placement], reason: Reason
) -> tuple[Unplaced, ...]:
    """Return what is wanted and not placed, each copy with why."""
    counts: dict[str, int] = {}
    for p in placements:
        counts[p.part_id] = counts.get(p.part_id, 0) + 1
    known: dict[str, list[Unplaced]] = {}
    for entry in job.layout.unplaced:
        known.setdefault(entry.part_id, []).append(entry)
    tray: list[Unplaced] = []
    for part in job.parts:
        left = part.quantity - counts.get(part.id, 0)
        for entry in known.get(part.id, ()):
            count = min(entry.count, left)
            if count > 0:
                tray.append(
                    entry if count == entry.count else replace(entry, count=count)
                )
                left -= count
        if left > 0:
            last = tray[-1] if tray else None
            if last is not None and (last.part_id, last.reason) == (part.id, reason):
                tray[-1] = replace(last, count=last.count + left)
            else:
                tray.append(Unplaced(part.id, left, reason))
    return tuple(tray)
