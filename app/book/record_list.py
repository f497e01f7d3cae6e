"""A list of the shop's records (machines, cutters, boards), and the chosen one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QListWidget,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.rules import material_key
from .buttons import push_button
from .settings import RecordForm, Setting

ROWS = 5
"""Most rows the list shows at once."""


class RecordList(QWidget):
    """Records of one kind, by name.

    Parameters
    ----------
    name : str
        What they are, for a screen reader.
    settings : sequence of Setting
        Values of one.
    job : callable
        Returns the job, whose unit counts.
    told : callable
        What a row says about a record.
    use : str
        Words of the button that uses the chosen one; empty for no such button.
    use_tip : str
        What that button does.

    Signals
    -------
    put(object)
        The tuple of records with something changed.
    used(object)
        The chosen record is to be used.
    """

    put = Signal(object)
    used = Signal(object)

    def __init__(
        self,
        name: str,
        settings: Sequence[Setting],
        job: Callable[[], Job],
        told: Callable[[Any], str],
        use: str = "",
        use_tip: str = "",
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._told = told
        self._records: tuple[Any, ...] = ()
        self._defaults: tuple[Any, ...] = ()
        self.list = QListWidget(self)
        self.list.setAccessibleName(name)
        self.list.setMinimumWidth(120)
        self.list.currentRowChanged.connect(self._show_chosen)
        self.form = RecordForm(settings, job, self)
        self.form.put.connect(self._changed)
        self.use = push_button(self, use, use_tip, self._use) if use else None
        self.add = push_button(
            self,
            self.tr("Add one like it"),
            self.tr("Add another, with the values of the chosen one to begin with"),
            self._add,
        )
        self.remove = push_button(
            self, self.tr("Remove"), self.tr("Take the chosen one away"), self._remove
        )
        buttons = QHBoxLayout()
        for button in (self.use, self.add, self.remove):
            if button is not None:
                buttons.addWidget(button)
        buttons.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.list)
        column.addLayout(buttons)
        column.addWidget(self.form)

    @property
    def chosen(self) -> Any:
        """The chosen record, or None."""
        row = self.list.currentRow()
        return self._records[row] if 0 <= row < len(self._records) else None

    def show_records(self, records: Sequence[Any], defaults: Sequence[Any]) -> None:
        """Show records; each is compared with the default of its name."""
        self._records, self._defaults = tuple(records), tuple(defaults)
        row = max(self.list.currentRow(), 0)
        words = [self._told(record) for record in self._records]
        shown = [self.list.item(i).text() for i in range(self.list.count())]
        if words != shown:
            self.list.blockSignals(True)
            self.list.clear()
            self.list.addItems(words)
            self.list.setCurrentRow(min(row, len(words) - 1))
            self.list.blockSignals(False)
            line = self.list.fontMetrics().height() + 8
            for i in range(self.list.count()):
                self.list.item(i).setSizeHint(QSize(0, line))
            self.list.setFixedHeight(min(max(len(words), 2), ROWS) * line + 6)
        self._show_chosen()

    def choose(self, row: int) -> None:
        """Choose a record by its place."""
        self.list.setCurrentRow(row)

    def _show_chosen(self) -> None:
        record = self.chosen
        self.form.setVisible(record is not None)
        self.remove.setEnabled(len(self._records) > 1 and record is not None)
        self.add.setEnabled(record is not None)
        if record is not None:
            self.form.show_record(record, self._default_of(record))

    def _default_of(self, record: Any) -> Any:
        key = material_key(record.name)
        for default in self._defaults:
            if material_key(default.name) == key:
                return default
        return None

    def _changed(self, record: Any, label: str) -> None:
        row = self.list.currentRow()
        self.put.emit((*self._records[:row], record, *self._records[row + 1 :]))

    def _add(self) -> None:
        record = self.chosen
        taken = {material_key(r.name) for r in self._records}
        number = 2
        while material_key(f"{record.name} {number}") in taken:
            number += 1
        new = replace(record, name=f"{record.name} {number}")
        self.put.emit((*self._records, new))
        self.list.setCurrentRow(self.list.count() - 1)
        field = self.form.fields["name"].focus_widget()
        field.setFocus(Qt.FocusReason.OtherFocusReason)

    def _remove(self) -> None:
        row = self.list.currentRow()
        if len(self._records) > 1 and row >= 0:
            self.put.emit((*self._records[:row], *self._records[row + 1 :]))

    def _use(self) -> None:
        if self.chosen is not None:
            self.used.emit(self.chosen)

    def refuse(self, error: InputError) -> None:
        """Say at the name what is wrong, and show what was there before."""
        self._show_chosen()
        field = self.form.fields["name"]
        field.set_back()
        complain = getattr(field, "complain", None)
        if complain is not None:
            complain(error.what)
