"""The document: the job, what is selected, the undo stack, and signals.

It knows no widgets. Views show what it holds, listen to its signals and ask it for
every change; they never keep a truth of their own. All of its methods are cheap and
belong to the GUI thread.

How to build on it
------------------
- Read `Document.job` (immutable) and `Document.shown_layout` (the layout to draw: a
  trial while nesting, else the job's own).
- Change the job with `Document.change(text, job)`: one call, one undo step, whatever
  it touched. `Document.act` does the same with a function from job to job. For
  placements there are ready gestures (`place`, `to_tray`, `nudge`, `turn_by`, …).
- Listen to `changed` (a `Difference` that says what is new), `selection_changed`,
  `trial_changed`, `path_changed`, `said`, and to `undo.cleanChanged`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoStack

from ...nesting.model.job import Job
from ...nesting.model.placement import Blank, Layout, Placement, Reason
from ...nesting.model.rules import Grain
from ...nesting.model.stock import KeepOut, Stock
from ..bench import arrange
from ..bench.conflicts import Conflict, Conflicts
from ..bench.copies import Key, key_of
from .edits import Difference, Edit, settled, with_placements

MERGE_NUDGE = 1
"""Merge numbers of edits that grow into one step while the user keeps going."""
MERGE_TURN = 2


@dataclass(frozen=True)
class Notice:
    """Something the user should read: not an error, never a dialog.

    Parameters
    ----------
    level : str
        "info", "warn" or "error".
    text : str
        One sentence.
    """

    level: str
    text: str


class Document(QObject):
    """One open job.

    Attributes
    ----------
    undo : QUndoStack
        All changes since the job was opened. `undo.isClean()` says whether it is
        saved; call `mark_saved` after writing.

    Signals
    -------
    changed(Difference)
        The job was replaced: by an edit, undo, redo, or opening another one.
    opened()
        Another job was opened or begun; views start afresh.
    selection_changed()
        `selection` or `current` is different.
    trial_changed()
        `shown_layout` changed while nesting, without the job changing.
    path_changed()
        The job got another file.
    said(Notice)
        A sentence for the user.
    """

    changed = Signal(object)
    opened = Signal()
    selection_changed = Signal()
    trial_changed = Signal()
    path_changed = Signal()
    said = Signal(object)

    def __init__(self, job: Job | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.undo = QUndoStack(self)
        self._job = settled(job) if job else Job(self.tr("New job"))
        self._path: Path | None = None
        self._selection: frozenset[Key] = frozenset()
        self._current: Key | None = None
        self._trial: Layout | None = None
        self._trial_stock: tuple[Stock, ...] | None = None
        self._conflicts = Conflicts()
        self._index: dict[Key, Placement] = {}
        self._index_of: Layout | None = None

    # ------------------------------------------------------------ the job

    @property
    def job(self) -> Job:
        """The job as it is now."""
        return self._job

    @property
    def path(self) -> Path | None:
        """The file it was read from or last saved to."""
        return self._path

    @path.setter
    def path(self, path: Path | None) -> None:
        if path != self._path:
            self._path = path
            self.path_changed.emit()

    @property
    def modified(self) -> bool:
        """Whether there is something to save."""
        return not self.undo.isClean()

    def open(
        self,
        job: Job,
        path: Path | None = None,
        conflicts: Conflicts | None = None,
    ) -> None:
        """Begin afresh with a job; the undo stack is emptied.

        Parameters
        ----------
        conflicts : Conflicts, optional
            What lies wrongly in it, where that was looked for already.
        """
        before = self._job
        self._trial = None
        self._selection = frozenset()
        self._current = None
        self.undo.clear()
        self.undo.setClean()
        self._job = settled(job)
        self._conflicts = conflicts or Conflicts()
        self._path = path
        self.path_changed.emit()
        self.changed.emit(Difference(before, self._job))
        self.opened.emit()
        self.selection_changed.emit()

    def mark_saved(self, path: Path) -> None:
        """Say that the job as it is now stands in this file."""
        self.path = path
        self.undo.setClean()

    def mark_unsaved(self) -> None:
        """Say that no file holds the job as it is now, as after a recovery."""
        self.undo.resetClean()

    def put(self, job: Job) -> None:
        """Replace the job without an undo step; for `Edit` only."""
        before = self._job
        self._job = job
        self._trial = None
        keys = {key_of(p) for p in job.layout.placements}
        lost = self._selection - keys
        self.changed.emit(Difference(before, job))
        if lost:
            self.select(self._selection - lost)

    def change(self, text: str, job: Job, merge: int = -1) -> bool:
        """Make one undoable step of replacing the job.

        Parameters
        ----------
        text : str
            What the user did, as "Undo …" will say it.
        job : Job
            The job afterwards; its layout is made to fit its order and stock.
        merge : int
            Kind of edit that merges with the next of its kind; -1 for none.

        Returns
        -------
        bool
            False when nothing would change; then there is no step either.
        """
        after = settled(job)
        if after == self._job:
            return False
        self.undo.push(Edit(self, text, self._job, after, merge))
        return True

    def act(self, text: str, function: Callable[[Job], Job]) -> bool:
        """Make one undoable step of what a function makes of the job."""
        return self.change(text, function(self._job))

    # ------------------------------------------------------------ layouts

    @property
    def shown_layout(self) -> Layout:
        """The layout to draw: the best so far while nesting, else the job's own."""
        return self._job.layout if self._trial is None else self._trial

    @property
    def shown_job(self) -> Job:
        """The job with the layout to draw."""
        if self._trial is None:
            return self._job
        stock = self._job.stock if self._trial_stock is None else self._trial_stock
        return replace(self._job, layout=self._trial, stock=stock)

    def show_trial(
        self, layout: Layout | None, stock: tuple[Stock, ...] | None = None
    ) -> None:
        """Show a layout that is not the job's (yet); None shows the job's again.

        Parameters
        ----------
        stock : tuple of Stock, optional
            What it lies on, where that is not the job's stock.
        """
        if layout is not self._trial:
            self._trial, self._trial_stock = layout, stock
            self.trial_changed.emit()

    def adopt(
        self, layout: Layout, text: str, stock: tuple[Stock, ...] | None = None
    ) -> bool:
        """Make a layout the job's own, as one undoable step.

        Parameters
        ----------
        stock : tuple of Stock, optional
            What it lies on, where that is not the job's stock.
        """
        self._trial = None
        stock = self._job.stock if stock is None else stock
        done = self.change(text, replace(self._job, layout=layout, stock=stock))
        self.trial_changed.emit()
        return done

    def placement(self, key: Key) -> Placement | None:
        """Return where a copy lies, or None when it is in the tray."""
        if self._index_of is not self._job.layout:
            self._index = {key_of(p): p for p in self._job.layout.placements}
            self._index_of = self._job.layout
        return self._index.get(key)

    def placements(self, keys: Iterable[Key]) -> list[Placement]:
        """Return where copies lie, in the layout's order; tray copies are left out."""
        wanted = frozenset(keys)
        return [p for p in self._job.layout.placements if key_of(p) in wanted]

    def tray(self) -> dict[str, int]:
        """Return how many copies of each part lie in the tray."""
        return dict(arrange.tray_counts(self._job))

    def grain_at(self, blank: int) -> Grain:
        """Return the grain of a blank's stock."""
        return self._job.stock_of(blank).grain

    def conflicts(self) -> dict[Key, Conflict]:
        """Return the copies that lie wrongly, each with the reason.

        Only blanks whose content changed are looked at again.
        """
        return self._conflicts.of(self._job)

    # ------------------------------------------------------------ selection

    @property
    def selection(self) -> frozenset[Key]:
        """The selected copies, all of them placed."""
        return self._selection

    @property
    def current(self) -> Key | None:
        """The copy the keyboard is at."""
        return self._current

    def select(self, keys: Iterable[Key], current: Key | None = None) -> None:
        """Select exactly these copies."""
        selection = frozenset(keys)
        if current is None and self._current in selection:
            current = self._current
        if current is None and selection:
            current = min(selection)
        if (selection, current) != (self._selection, self._current):
            self._selection = selection
            self._current = current
            self.selection_changed.emit()

    def select_all(self, blank: int | None = None) -> None:
        """Select every placed copy, or every one on a blank."""
        self.select(
            key_of(p)
            for p in self._job.layout.placements
            if blank is None or p.blank == blank
        )

    def select_part(self, part_id: str) -> None:
        """Select every placed copy of a part."""
        self.select(
            key_of(p) for p in self._job.layout.placements if p.part_id == part_id
        )

    def say(self, level: str, text: str) -> None:
        """Tell the user something, without a dialog."""
        self.said.emit(Notice(level, text))

    # ------------------------------------------------------------ words

    def name_of(self, key: Key) -> str:
        """Return how people call a copy: its part's name and its number."""
        part = self._job.part(key[0])
        return f"{part.name} {key[1]}" if part.quantity > 1 else part.name

    def gesture_text(self, one: str, many: str, keys: Sequence[Key]) -> str:
        """Return what a gesture is called for one named copy or for several.

        Parameters
        ----------
        one, many : str
            Translated; `one` holds ``{name}``, `many` holds ``{count}``.
        """
        if len(keys) == 1:
            return one.format(name=self.name_of(keys[0]))
        return many.format(count=len(keys))

    # ------------------------------------------------------------ gestures

    def replace_placements(
        self, text: str, placements: Iterable[Placement], merge: int = -1
    ) -> bool:
        """Put copies where these placements say, as one step."""
        return self.change(text, with_placements(self._job, placements), merge)

    def movable(self, keys: Iterable[Key]) -> list[Placement]:
        """Return the placements that are not locked; says why when none is left."""
        found = self.placements(keys)
        free = [p for p in found if not p.locked]
        if found and not free:
            name = self.name_of(key_of(found[0]))
            text = (
                self.tr("{name} is locked; unlock it first (L).").format(name=name)
                if len(found) == 1
                else self.tr("All selected parts are locked; unlock them first (L).")
            )
            self.say("warn", text)
        return free

    def move_by(self, keys: Iterable[Key], dx: float, dy: float) -> bool:
        """Move copies by a distance, mm, as one step; locked ones stay."""
        parts = self.movable(keys)
        text = self.gesture_text(
            self.tr("Move {name}"),
            self.tr("Move {count} parts"),
            [key_of(p) for p in parts],
        )
        moved = [replace(p, x=p.x + dx, y=p.y + dy) for p in parts]
        return bool(parts) and self.replace_placements(text, moved)

    def nudge(self, keys: Iterable[Key], dx: float, dy: float) -> bool:
        """Move copies a little; nudges in quick succession become one step."""
        parts = self.movable(keys)
        text = self.gesture_text(
            self.tr("Nudge {name}"),
            self.tr("Nudge {count} parts"),
            [key_of(p) for p in parts],
        )
        moved = [replace(p, x=p.x + dx, y=p.y + dy) for p in parts]
        return bool(parts) and self.replace_placements(text, moved, MERGE_NUDGE)

    def turn_by(self, keys: Iterable[Key], degrees: float) -> bool:
        """Turn copies; each about its own middle, and only as its rule allows.

        With a rule that lists turns, the step goes to the next one allowed in the
        step's direction.
        """
        out = []
        held: list[Placement] = []
        parts = self.movable(keys)
        for p in parts:
            rule = self._job.part(p.part_id).turn
            turn = arrange.next_allowed(rule, self.grain_at(p.blank), p.turn, degrees)
            if turn == p.turn:
                held.append(p)
            else:
                out.append(arrange.turned_to(self._job, p, turn))
        if held:
            self.explain_turn(key_of(held[0]))
        text = self.gesture_text(
            self.tr("Turn {name}"),
            self.tr("Turn {count} parts"),
            [key_of(p) for p in out],
        )
        return bool(out) and self.replace_placements(text, out, MERGE_TURN)

    def turn_to(self, keys: Iterable[Key], degrees: float) -> bool:
        """Turn copies to an angle; those whose rule forbids it stay, with a word."""
        out = []
        for p in self.movable(keys):
            rule = self._job.part(p.part_id).turn
            if rule.allows(degrees, self.grain_at(p.blank)):
                out.append(arrange.turned_to(self._job, p, degrees))
            else:
                self.explain_turn(key_of(p))
        text = self.gesture_text(
            self.tr("Turn {name}"),
            self.tr("Turn {count} parts"),
            [key_of(p) for p in out],
        )
        return bool(out) and self.replace_placements(text, out)

    def explain_turn(self, key: Key) -> None:
        """Say which turns a placed copy may take, and why."""
        self.say("warn", self.turn_words(key))

    def turn_words(self, key: Key) -> str:
        """Return one sentence about which turns a placed copy may take."""
        placement = self.placement(key)
        part = self._job.part(key[0])
        name = self.name_of(key)
        grain = Grain.NONE if placement is None else self.grain_at(placement.blank)
        turns = part.turn.turns(grain)
        if turns is None:
            return self.tr("{name} may lie at any angle.").format(name=name)
        listed = ", ".join(f"{angle:g}°" for angle in turns)
        if part.turn.kind == "grain":
            return self.tr(
                "{name} must lie with the grain: only {angles} here. Its turn rule "
                "is set in Parts."
            ).format(name=name, angles=listed)
        return self.tr(
            "{name} may only lie at {angles}. Its turn rule is set in Parts."
        ).format(name=name, angles=listed)

    def flip(self, keys: Iterable[Key]) -> bool:
        """Lay copies on their other face, where their part allows it."""
        parts = self.movable(keys)
        allowed = [p for p in parts if self._job.part(p.part_id).flip]
        if len(allowed) < len(parts):
            part = next(p for p in parts if p not in allowed)
            name = self.name_of(key_of(part))
            self.say(
                "warn",
                self.tr(
                    "{name} may not be laid face down; allow it in Parts first."
                ).format(name=name),
            )
        out = []
        for p in arrange.flipped(self._job, allowed):
            rule = self._job.part(p.part_id).turn
            grain = self.grain_at(p.blank)
            turn = arrange.nearest_allowed(rule, grain, p.turn)
            out.append(arrange.turned_to(self._job, p, turn) if turn != p.turn else p)
        text = self.gesture_text(
            self.tr("Flip {name}"),
            self.tr("Flip {count} parts"),
            [key_of(p) for p in out],
        )
        return bool(out) and self.replace_placements(text, out)

    def set_locked(self, keys: Iterable[Key], locked: bool) -> bool:
        """Lock copies where they lie, or unlock them."""
        parts = [p for p in self.placements(keys) if p.locked != locked]
        names = [key_of(p) for p in parts]
        text = (
            self.gesture_text(
                self.tr("Lock {name}"), self.tr("Lock {count} parts"), names
            )
            if locked
            else self.gesture_text(
                self.tr("Unlock {name}"), self.tr("Unlock {count} parts"), names
            )
        )
        changed = [replace(p, locked=locked) for p in parts]
        return bool(parts) and self.replace_placements(text, changed)

    def to_tray(self, keys: Iterable[Key]) -> bool:
        """Take copies off the bench; locked ones stay."""
        parts = [key_of(p) for p in self.movable(keys)]
        text = self.gesture_text(
            self.tr("Put {name} in the tray"),
            self.tr("Put {count} parts in the tray"),
            parts,
        )
        return bool(parts) and self.change(
            text, with_placements(self._job, removed=parts)
        )

    def place(self, placements: Sequence[Placement], text: str = "") -> bool:
        """Lay copies from the tray on blanks, as one step, and select them."""
        keys = [key_of(p) for p in placements]
        if not text:
            text = self.gesture_text(
                self.tr("Place {name}"), self.tr("Place {count} parts"), keys
            )
        done = self.replace_placements(text, placements)
        if done:
            self.select(keys)
        return done

    def align(self, keys: Iterable[Key], edge: arrange.Edge) -> bool:
        """Line copies up."""
        parts = self.movable(keys)
        if len(parts) < 2:
            return False
        text = self.tr("Align {count} parts").format(count=len(parts))
        return self.replace_placements(text, arrange.aligned(self._job, parts, edge))

    def distribute(self, keys: Iterable[Key], along_x: bool) -> bool:
        """Leave equal room between copies."""
        parts = self.movable(keys)
        if len(parts) < 3:
            return False
        text = self.tr("Distribute {count} parts").format(count=len(parts))
        return self.replace_placements(
            text, arrange.distributed(self._job, parts, along_x)
        )

    def swap(self, keys: Iterable[Key]) -> bool:
        """Let two copies change places."""
        parts = self.movable(keys)
        if len(parts) != 2:
            self.say("info", self.tr("Select exactly two unlocked parts to swap."))
            return False
        text = self.tr("Swap {one} and {two}").format(
            one=self.name_of(key_of(parts[0])), two=self.name_of(key_of(parts[1]))
        )
        return self.replace_placements(text, arrange.swapped(self._job, *parts))

    def want_more(self, part_id: str, count: int = 1) -> bool:
        """Ask for more copies of a part; they appear in the tray."""
        part = self._job.part(part_id)
        more = replace(part, quantity=part.quantity + count)
        parts = tuple(more if p is part else p for p in self._job.parts)
        text = self.tr("Want {count} more of {name}").format(
            count=count, name=part.name
        )
        return self.change(text, replace(self._job, parts=parts))

    def duplicate(self, placement: Placement) -> bool:
        """Want one more copy of a part and lay it where the placement says."""
        part = self._job.part(placement.part_id)
        more = replace(part, quantity=part.quantity + 1)
        parts = tuple(more if p is part else p for p in self._job.parts)
        placed = replace(placement, copy=more.quantity, locked=False)
        job = with_placements(replace(self._job, parts=parts), [placed])
        text = self.tr("Duplicate {name}").format(name=part.name)
        done = self.change(text, job)
        if done:
            self.select([key_of(placed)])
        return done

    # ------------------------------------------------------------ blanks

    def add_blank(self, stock_id: str) -> bool:
        """Put one more blank of a kind of stock on the bench."""
        stock = self._job.stock_by_id(stock_id)
        used = sum(b.stock_id == stock_id for b in self._job.layout.blanks)
        if stock.count is not None and used >= stock.count:
            self.say(
                "warn",
                self.tr("All {count} of {name} are on the bench already.").format(
                    count=stock.count, name=stock.name
                ),
            )
            return False
        layout = replace(
            self._job.layout, blanks=(*self._job.layout.blanks, Blank(stock_id))
        )
        text = self.tr("Add {name}").format(name=stock.name)
        return self.change(text, replace(self._job, layout=layout))

    def remove_blank(self, blank: int) -> bool:
        """Take a blank off the bench; what lay on it goes to the tray.

        Not one with locked copies, which stay where they are.
        """
        old = self._job.layout
        if any(p.locked for p in old.on(blank)):
            self.say(
                "warn",
                self.tr(
                    "Blank {number} carries locked parts; unlock them first."
                ).format(number=blank + 1),
            )
            return False
        blanks = (*old.blanks[:blank], *old.blanks[blank + 1 :])
        placements = tuple(
            replace(p, blank=p.blank - 1) if p.blank > blank else p
            for p in old.placements
            if p.blank != blank
        )
        layout = replace(old, blanks=blanks, placements=placements)
        text = self.tr("Take blank {number} off").format(number=blank + 1)
        after = settled(replace(self._job, layout=layout), Reason.BY_HAND)
        return self.change(text, after)

    def clear_bench(self) -> bool:
        """Put all that is not locked in the tray, and take empty blanks away."""
        old = self._job.layout
        locked = tuple(p for p in old.placements if p.locked)
        used = sorted({p.blank for p in locked})
        place = {before: now for now, before in enumerate(used)}
        layout = replace(
            old,
            blanks=tuple(old.blanks[i] for i in used),
            placements=tuple(replace(p, blank=place[p.blank]) for p in locked),
        )
        after = settled(replace(self._job, layout=layout), Reason.BY_HAND)
        return self.change(self.tr("Clear the bench"), after)

    def set_keep_outs(
        self, stock_id: str, keep_outs: Sequence[KeepOut], text: str
    ) -> bool:
        """Give a kind of stock other keep-outs, on every blank of it."""
        stock = self._job.stock_by_id(stock_id)
        changed = replace(stock, keep_outs=tuple(keep_outs))
        everything = tuple(changed if s is stock else s for s in self._job.stock)
        return self.change(text, replace(self._job, stock=everything))
