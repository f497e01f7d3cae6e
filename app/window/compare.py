"""Two layouts side by side, with their figures; one of them can be taken."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QLocale, Qt, Signal
from PySide6.QtGui import QCloseEvent, QPalette
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.job import Job
from ..bench.sound import sound
from .cut_time import cut_time_words
from .document import Document
from .figures import figures_of
from .kept import Kept, KeptLayouts
from .look import ink
from .still_bench import StillBench
from .task import Task

SHAPE = 0.95
"""Width to height of the bench on one side."""


@dataclass(frozen=True)
class Row:
    """One figure of a layout.

    Attributes
    ----------
    text : str
        As people read it.
    value : float or None
        To compare by: less is better; None where nothing is better.
    """

    text: str
    value: float | None


class Pane(QWidget):
    """One side: what is chosen, its bench, its figures, and `Take`.

    Signals
    -------
    chosen()
        Another layout was chosen.
    take_wanted()
        The button was pressed.
    """

    chosen = Signal()
    take_wanted = Signal()

    def __init__(self, kept: KeptLayouts, side: str, parent: QWidget) -> None:
        super().__init__(parent)
        self._kept = kept
        self.shown: Kept | None = None
        self.job = Job("")
        self._time = ""
        self._task: Task | None = None
        self.document = Document(None, self)
        self.choice = QComboBox(self)
        self.choice.setMinimumHeight(30)
        self.choice.setAccessibleName(self.tr("Layout on the {side}").format(side=side))
        self.choice.currentIndexChanged.connect(self._show)
        self.bench = StillBench(self.document, SHAPE)
        self.bench.setMinimumSize(260, 120)
        self.bench.setAccessibleName(self.choice.accessibleName())
        self.figures = QGridLayout()
        self.figures.setHorizontalSpacing(16)
        self.figures.setVerticalSpacing(3)
        self.figures.setColumnStretch(1, 1)
        self._cells: list[tuple[QLabel, QLabel]] = []
        for number, words in enumerate(self._heads()):
            head, cell = QLabel(words, self), QLabel(self)
            cell.setTextFormat(Qt.TextFormat.PlainText)
            self.figures.addWidget(head, number, 0)
            self.figures.addWidget(cell, number, 1)
            self._cells.append((head, cell))
        self.take = QPushButton(self.tr("Take this one"), self)
        self.take.setMinimumHeight(32)
        self.take.setAutoDefault(False)
        self.take.setToolTip(
            self.tr("Make it the layout on the bench; one undo brings the other back")
        )
        self.take.clicked.connect(self.take_wanted)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.choice)
        column.addWidget(self.bench, 1)
        column.addLayout(self.figures)
        column.addWidget(self.take)

    def _heads(self) -> list[str]:
        return [
            self.tr("Sheets"),
            self.tr("Offcuts used"),
            self.tr("Not placed"),
            self.tr("Yield"),
            self.tr("Boards cost"),
            self.tr("Lie wrongly"),
            self.tr("Cuts"),
        ]

    def fill(self, wish: int) -> None:
        """List the layouts there are; choose the one shown, else by number."""
        old = self.shown
        self.choice.blockSignals(True)
        self.choice.clear()
        for kept in self._kept.all:
            at = time.strftime("%H:%M", time.localtime(kept.at))
            words = self.tr("{name}, {time}").format(name=kept.name, time=at)
            self.choice.addItem(words, kept)
        rows = [n for n, kept in enumerate(self._kept.all) if kept is old]
        row = rows[0] if rows else min(wish, len(self._kept.all) - 1)
        self.choice.setCurrentIndex(row)
        self.choice.blockSignals(False)
        self._show()

    def _show(self) -> None:
        kept = self.choice.currentData()
        self.shown = kept
        self.take.setEnabled(kept is not None)
        self.job = Job("") if kept is None else self._kept.job_with(kept)
        self._time = ""
        self.document.open(self.job)
        self._work_out_time()
        self.chosen.emit()

    def _work_out_time(self) -> None:
        self.close_down()
        job = self.job
        if job.layout.placements:
            self._task = Task(lambda stopped: cut_time_words(job), self)
            self._task.done.connect(self._take_time)
            self._task.start()

    def _take_time(self, words: str) -> None:
        self._time = words
        self.chosen.emit()

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "take"):
            self.chosen.emit()

    def close_down(self) -> None:
        """End what runs."""
        if self._task is not None:
            self._task.stop()
            self._task = None

    def rows(self) -> list[Row]:
        """Return the figures of the layout shown."""
        figures = figures_of(self.job)
        locale = QLocale()
        left = figures.wanted - figures.placed
        bad = len(self.document.conflicts())
        share = self.tr("{n} %").format(
            n=locale.toString(100.0 * figures.yield_, "f", 1)
        )
        cost = locale.toString(figures.cost, "f", 2)
        return [
            Row(str(figures.sheets), figures.sheets),
            Row(str(figures.offcuts), None),
            Row(str(left), left),
            Row(share, -round(figures.yield_, 4)),
            Row(cost if figures.cost else "-", figures.cost or None),
            Row(str(bad), bad),
            Row(self._time or "…", None),
        ]

    def tell(self, mine: list[Row], other: list[Row]) -> None:
        """Show the figures; better ones are bold and marked."""
        for (head, cell), row, rival in zip(self._cells, mine, other, strict=True):
            better = (
                row.value is not None
                and rival.value is not None
                and row.value < rival.value
            )
            words = self.tr("{value}  ✓ better").format(value=row.text)
            cell.setText(words if better else row.text)
            font = cell.font()
            font.setBold(better)
            cell.setFont(font)
            # A label whose colour is taken away keeps that of an earlier palette.
            plain = self.palette().color(QPalette.ColorRole.WindowText).name()
            colour = ink("ok", self.palette()) if better else plain
            cell.setStyleSheet(f"color: {colour}")
            cell.setAccessibleName(f"{head.text()}: {cell.text()}")


class Compare(QDialog):
    """The window that shows two kept layouts.

    Parameters
    ----------
    kept : KeptLayouts
        What there is to compare.
    may_take : callable
        Whether a layout can be taken now; not while a search is on.
    """

    def __init__(
        self,
        kept: KeptLayouts,
        may_take: Callable[[], bool],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.kept = kept
        self._may_take = may_take
        self.setWindowTitle(self.tr("Compare layouts"))
        self.setWindowFlag(Qt.WindowType.WindowMaximizeButtonHint, True)
        self.left = Pane(kept, self.tr("left"), self)
        self.right = Pane(kept, self.tr("right"), self)
        for pane in (self.left, self.right):
            pane.chosen.connect(self._tell)
            pane.take_wanted.connect(lambda pane=pane: self._take(pane))
        self.drop = QPushButton(self.tr("&Forget both"), self)
        self.drop.setToolTip(self.tr("Keep these two layouts no longer"))
        self.drop.clicked.connect(self._forget)
        self.done_button = QPushButton(self.tr("&Close"), self)
        self.done_button.clicked.connect(self.close)
        self._lonely = False
        self._usual_hint = self.tr(
            "Drag to move a view, Ctrl+wheel to zoom. Every nest is kept here."
        )
        self.hint = QLabel(self._usual_hint, self)
        self.hint.setWordWrap(True)
        for button in (self.drop, self.done_button):
            button.setMinimumHeight(30)
            button.setAutoDefault(False)
        foot = QHBoxLayout()
        foot.addWidget(self.hint, 1)
        foot.addWidget(self.drop)
        foot.addWidget(self.done_button)
        sides = QHBoxLayout()
        sides.setSpacing(14)
        sides.addWidget(self.left, 1)
        sides.addWidget(self.right, 1)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 12, 14, 12)
        column.addLayout(sides, 1)
        column.addLayout(foot)
        room = self.screen().availableSize()
        self.resize(min(1120, room.width()), min(720, room.height()))
        kept.changed.connect(self._changed)
        kept.document.changed.connect(self._changed)

    def _changed(self) -> None:
        if self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Show the layouts there are now."""
        if not self.kept.all:
            self.close()
            return
        self.left.fill(1)
        self.right.fill(0)
        if self.left.shown is self.right.shown and len(self.kept.all) > 1:
            # Side by side with itself was all there was; now there is another one.
            self.left.choice.setCurrentIndex(1)
            self.right.choice.setCurrentIndex(0)
        self.drop.setEnabled(len(self.kept.all) > 2)
        if len(self.kept.all) == 1:
            self.hint.setText(
                self.tr(
                    "There is only one layout yet: nest again, or move parts by hand."
                )
            )
        elif self._lonely:
            self.hint.setText(self._usual_hint)
        self._lonely = len(self.kept.all) == 1
        self._tell()

    def _tell(self) -> None:
        mine, other = self.left.rows(), self.right.rows()
        self.left.tell(mine, other)
        self.right.tell(other, mine)

    def _take(self, pane: Pane) -> None:
        if pane.shown is None:
            return
        if not self._may_take():
            words = self.tr("Stop the search first, then take a layout.")
            self.hint.setText(words)
            return
        name = pane.shown.name
        if self.kept.take(pane.shown):
            words = self.tr("“{name}” lies on the bench now; Ctrl+Z takes that back.")
        else:
            words = self.tr("“{name}” lies on the bench already.")
        self.hint.setText(words.format(name=name))

    def _forget(self) -> None:
        for kept in (self.left.shown, self.right.shown):
            if kept is not None:
                self.kept.remove(kept)

    @sound
    def showEvent(self, event: object) -> None:
        """Show each layout as large as its side is."""
        super().showEvent(event)  # type: ignore[arg-type]
        for pane in (self.left, self.right):
            pane.bench.fit()

    @sound
    def closeEvent(self, event: QCloseEvent) -> None:
        """End what runs."""
        self.left.close_down()
        self.right.close_down()
        super().closeEvent(event)
