"""All placed copies as a table: what the bench does, in numbers and by keyboard."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QItemSelection, QItemSelectionModel
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from ...io.units import parse_length
from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.placement import Placement
from ..bench import arrange
from ..bench.copies import key_of
from ..bench.sound import sound
from ..bench.words import reason_text
from ..window.document import Document
from ..window.edits import with_placements
from . import words
from .table import BookTable, Column, RowsModel


class PlacedTable(QWidget):
    """The placed copies; the selection is that of the bench."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self._mirroring = False
        self.model = RowsModel(
            document,
            self._columns(),
            lambda job: job.layout.placements,
            lambda job, number, row: with_placements(job, [row]),
            lambda row: document.name_of(key_of(row)),
        )
        self.table = BookTable(self.model, self.tr("Placed copies"), self)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(self.table)
        self.setMinimumWidth(260)
        self.table.selectionModel().selectionChanged.connect(self._tell)
        document.selection_changed.connect(self._show)
        self.model.modelReset.connect(self._show)
        self.table.fit_columns()

    def _columns(self) -> list[Column[Placement]]:
        document = self.document
        return [
            Column(
                self.tr("Copy"),
                lambda job, p: document.name_of(key_of(p)),
                tip=self.tr("The part, and which of its copies"),
            ),
            Column(
                self.tr("Blank"),
                lambda job, p: str(p.blank + 1),
                self._put_blank,
                self.tr("The number of the blank it lies on"),
                number=True,
            ),
            Column(
                "X",
                lambda job, p: words.shown(arrange.box_of(job, p)[0], job),
                lambda job, p, text: self._put_corner(job, p, text, 0),
                self.tr("Least x of the copy, from the blank's lower left corner"),
                number=True,
                unit=True,
            ),
            Column(
                "Y",
                lambda job, p: words.shown(arrange.box_of(job, p)[1], job),
                lambda job, p, text: self._put_corner(job, p, text, 1),
                self.tr("Least y of the copy, from the blank's lower left corner"),
                number=True,
                unit=True,
            ),
            Column(
                self.tr("Turn °"),
                lambda job, p: f"{p.turn:.6f}".rstrip("0").rstrip("."),
                self._put_turn,
                self.tr("Degrees counter-clockwise, as its turn rule allows"),
                number=True,
            ),
            Column(
                self.tr("Locked"),
                lambda job, p: self.tr("yes") if p.locked else self.tr("no"),
                lambda job, p, text: replace(p, locked=text == "yes"),
                self.tr("Whether it must stay where it is"),
                ticked=lambda p: p.locked,
                hides=2,
            ),
            Column(
                self.tr("Verdict"),
                self._verdict,
                tip=self.tr("What is wrong with where it lies, if anything"),
                hides=1,
            ),
        ]

    def _verdict(self, job: Job, p: Placement) -> str:
        conflict = self.document.conflicts().get(key_of(p))
        if conflict is None:
            return self.tr("✓ lies well")
        told = [
            reason_text(reason, self.document.name_of, job.units)
            for reason in conflict.reasons
        ]
        return "⚠ " + "; ".join(told)

    def _free(self, p: Placement) -> None:
        if p.locked:
            raise InputError("", self.tr("it is locked"), self.tr("unlock it first"))

    def _put_blank(self, job: Job, p: Placement, text: str) -> Placement:
        self._free(p)
        number = words.whole(text, 1, len(job.layout.blanks))
        return replace(p, blank=number - 1)

    def _put_corner(self, job: Job, p: Placement, text: str, axis: int) -> Placement:
        self._free(p)
        wish = parse_length(text, job.units)
        here = arrange.box_of(job, p)[axis]
        if axis == 0:
            return replace(p, x=p.x + wish - here)
        return replace(p, y=p.y + wish - here)

    def _put_turn(self, job: Job, p: Placement, text: str) -> Placement:
        self._free(p)
        try:
            degrees = float(text.rstrip("° ").replace(",", "."))
        except ValueError:
            raise InputError(
                "", f"{text!r} is no angle", "give degrees such as 90"
            ) from None
        rule = job.part(p.part_id).turn
        if not rule.allows(degrees, self.document.grain_at(p.blank)):
            raise InputError("", self.document.turn_words(key_of(p)).rstrip("."))
        return arrange.turned_to(job, p, degrees)

    # ------------------------------------------------------------ selection

    def _tell(self) -> None:
        """Select on the bench what is selected here."""
        if self._mirroring:
            return
        rows = self.table.chosen_rows()
        self._mirroring = True
        self.document.select(key_of(self.model.row(n)) for n in rows)
        self._mirroring = False

    @sound
    def showEvent(self, event: QShowEvent) -> None:
        """Take over what was selected while nobody saw the table."""
        super().showEvent(event)
        self._show()

    def _show(self) -> None:
        """Select here what is selected on the bench."""
        if self._mirroring or not self.isVisible():
            return
        chosen = self.document.selection
        selection = QItemSelection()
        last = self.model.columnCount() - 1
        for number in range(self.model.rowCount()):
            if key_of(self.model.row(number)) in chosen:
                first = self.model.index(number, 0)
                selection.select(first, self.model.index(number, last))
        self._mirroring = True
        flag = QItemSelectionModel.SelectionFlag.ClearAndSelect
        self.table.selectionModel().select(selection, flag)
        if selection.count() and not self.table.hasFocus():
            self.table.scrollTo(selection.indexes()[0])
        self._mirroring = False
