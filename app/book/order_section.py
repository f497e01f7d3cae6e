"""The order in which a blank is cut, step by step."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.job import Job
from ..bench.copies import Key
from ..bench.sound import sound
from ..window.document import Document
from ..window.task import Task
from .fields import ChoiceField

WAIT = 300

NAMES = 3
"""Copies named in one step; the others are counted."""

Step = tuple[str, str, tuple[Key, ...]]
"""What is done, to what, and to which copies."""


class OrderSection(QWidget):
    """The cuts of one blank in order; choosing a step selects its copies."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self._task: Task | None = None
        self._steps: list[Step] = []
        self.blank = ChoiceField(self.tr("Blank"), [], self)
        self.blank.entered.connect(lambda _: self._work_out())
        label = QLabel(self.tr("&Blank"), self)
        label.setBuddy(self.blank.box)
        row = QHBoxLayout()
        row.addWidget(label)
        row.addWidget(self.blank, 1)
        self.list = QListWidget(self)
        self.list.setAccessibleName(self.tr("Cuts in their order"))
        self.list.setToolTip(self.tr("Choosing a step selects its copies on the bench"))
        self.list.setMinimumHeight(180)
        self.list.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentRowChanged.connect(self._select)
        self.note = QLabel(self)
        self.note.setWordWrap(True)
        self._shown = (label, self.blank, self.list)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(row)
        column.addWidget(self.list)
        column.addWidget(self.note)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(WAIT)
        self._timer.timeout.connect(self._work_out)
        document.changed.connect(self._changed)

    def _changed(self) -> None:
        if self.isVisible():
            self._timer.start()

    @sound
    def showEvent(self, event: QShowEvent) -> None:
        """Work the order out when it is looked at."""
        super().showEvent(event)
        self._timer.start()

    def _work_out(self) -> None:
        job = self.document.job
        blanks = job.layout.blanks
        chosen = self.blank.value
        self.blank.set_choices(
            [
                (i, f"{i + 1} · {job.stock_by_id(b.stock_id).name}")
                for i, b in enumerate(blanks)
            ]
        )
        for widget in self._shown:
            widget.setVisible(bool(blanks))
        rule = self.tr(
            "What is loose is never cut again: holes before the edge round them."
        )
        self.note.setText(rule if blanks else self.tr("Nothing lies on the bench yet."))
        at = chosen if isinstance(chosen, int) and chosen < len(blanks) else 0
        self.blank.show_value(at if blanks else None)
        if self._task is not None:
            self._task.stop()
        if not blanks:
            self._show((job, []))
            return

        def work(stopped: Callable[[], bool]) -> Any:
            return job, steps_of(job, at)

        self._task = Task(work, self)
        self._task.done.connect(self._show)
        self._task.start()

    def _show(self, answer: Any) -> None:
        job, steps = answer
        if job is not self.document.job:
            return
        self._steps = steps
        self.list.blockSignals(True)
        self.list.clear()
        for number, (what, whom, _) in enumerate(steps, 1):
            text = f"{number}.  {_words(what)}: {whom}"
            item = QListWidgetItem(text)
            item.setToolTip(text)
            self.list.addItem(item)
        self.list.blockSignals(False)

    def _select(self, row: int) -> None:
        if 0 <= row < len(self._steps):
            self.document.select(self._steps[row][2])

    def close_down(self) -> None:
        """End what runs."""
        self._timer.stop()
        if self._task is not None:
            self._task.close()


def _words(operation: str) -> str:
    return {
        "DRILL": "drill",
        "ENGRAVE": "engrave",
        "POCKET": "clear pockets",
        "TAB": "leave tabs",
        "INSIDE": "cut holes",
        "OUTSIDE": "cut free",
    }.get(operation, operation.lower())


def steps_of(job: Job, blank: int) -> list[Step]:
    """Return the cuts of a blank in order, those of one kind in a row together.

    Edges are told one by one, since each frees a copy.
    """
    from ...io.cut_order import cut_order

    groups: list[tuple[str, list[tuple[Key, str]]]] = []
    for cut in cut_order(job, blank):
        what = str(cut.operation.value)
        name = cut.part.name
        if cut.part.quantity > 1:
            name = f"{name} {cut.placement.copy}"
        one = ((cut.part.id, cut.placement.copy), name)
        if groups and groups[-1][0] == what and what != "OUTSIDE":
            groups[-1][1].append(one)
        else:
            groups.append((what, [one]))
    return [(what, _listed(cuts), _keys(cuts)) for what, cuts in groups]


def _keys(cuts: list[tuple[Key, str]]) -> tuple[Key, ...]:
    return tuple({key: None for key, _ in cuts})


def _listed(cuts: list[tuple[Key, str]]) -> str:
    names = list({name: None for _, name in cuts})
    text = ", ".join(names[:NAMES])
    if len(names) > NAMES:
        text += f" and {len(names) - NAMES} more"
    return f"{len(cuts)} in {text}" if len(cuts) > 1 else text
