"""The quote: what the job comes to, line by line, and saving it for the customer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtCore import QEvent, Qt, QTimer, Signal
from PySide6.QtGui import QFont, QShowEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QVBoxLayout,
    QWidget,
)

from ...io.names import file_stem
from ...nesting.model.job import Job
from ..bench.sound import sound
from ..window.document import Document
from ..window.engine_process import Ended, EngineProcess, Found
from ..window.task import Task
from .buttons import push_button
from .fold import Remarks
from .sawing_picture import SawingPicture, cuts_in_words
from .shop import Shop

WORK = "drystone.app.book.book_work:quote"
WAIT = 800
"""After an edit, the quote is worked out this much later, milliseconds."""

SECONDS = 8.0
"""For a quick layout where nothing is laid out yet."""


class QuoteSection(QWidget):
    """What the job comes to; worked out in another process while it is looked at.

    Signals
    -------
    summary_changed()
        What stands in the quote is different.
    """

    summary_changed = Signal()

    def __init__(
        self,
        document: Document,
        shop: Shop,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.shop = shop
        self.told: dict[str, Any] = {}
        self._for: Job | None = None
        self._asked: Job | None = None
        self._task: Task | None = None
        self.engine = EngineProcess(WORK, self)
        self.engine.found.connect(self._found)
        self.engine.ended.connect(self._ended)
        self.state = QLabel(self)
        self.state.setWordWrap(True)
        self.bar = QProgressBar(self)
        self.bar.setRange(0, 0)
        self.bar.setMaximumWidth(160)
        self.bar.setAccessibleName(self.tr("The quote is worked out"))
        self.work = push_button(
            self,
            self.tr("&Work it out"),
            self.tr("Lay the order out quickly and quote that layout"),
            self.begin,
        )
        top = QHBoxLayout()
        top.addWidget(self.state, 1)
        top.addWidget(self.bar)
        top.addWidget(self.work)
        self.grid = QGridLayout()
        self.grid.setHorizontalSpacing(12)
        self.grid.setVerticalSpacing(4)
        self._cells: list[QLabel] = []
        self.remarks = Remarks(self)
        self.saved = Remarks(self)
        self._pictures = QVBoxLayout()
        self._drawn: list[QWidget] = []
        self.pdf = push_button(
            self,
            self.tr("Save as &PDF…"),
            self.tr("A page for the customer"),
            lambda: self._choose("pdf"),
        )
        self.csv = push_button(
            self,
            self.tr("Save as CS&V…"),
            self.tr("Rows for a spreadsheet"),
            lambda: self._choose("csv"),
        )
        below = QHBoxLayout()
        below.addWidget(self.pdf)
        below.addWidget(self.csv)
        below.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top)
        column.addLayout(self.grid)
        column.addWidget(self.remarks)
        column.addLayout(self._pictures)
        column.addLayout(below)
        column.addWidget(self.saved)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(WAIT)
        self._timer.timeout.connect(self._by_itself)
        document.changed.connect(self._changed)
        shop.changed.connect(self._changed)
        self._show()

    # ------------------------------------------------------------ working out

    @property
    def is_current(self) -> bool:
        """Whether the quote shown is about the job as it is."""
        return bool(self.told) and self._for is self.document.job

    def _changed(self) -> None:
        self._for = None
        if self.engine.running:
            self.engine.drop()
        self.saved.say([])
        self._show()
        if self.isVisible():
            self._timer.start()

    @sound
    def showEvent(self, event: QShowEvent) -> None:
        """Work the quote out when it is looked at."""
        super().showEvent(event)
        if not self.is_current:
            self._timer.start()

    def _by_itself(self) -> None:
        """Quote a layout that is there; a layout is made only when asked for."""
        if self.isVisible() and self.document.job.layout.placements:
            self.begin()

    def begin(self) -> None:
        """Work the quote out, in a process of its own."""
        job = self.document.job
        if self.engine.running or not (job.parts and job.stock):
            return
        self._asked = job
        try:
            self.engine.start(
                job,
                seconds=SECONDS,
                options={"setup": self.shop.setup},
            )
        except OSError as error:
            self.remarks.say([("error", str(error))])
        self._show()

    def _found(self, found: Found) -> None:
        self.told, self._for = found.figures, self._asked
        self._show()

    def _ended(self, ended: Ended) -> None:
        self._show()
        if ended.reason in ("failed", "died"):
            self.remarks.say([("error", ended.words)])

    # ------------------------------------------------------------ showing

    def _show(self) -> None:
        job, running = self.document.job, self.engine.running
        laid = bool(job.layout.placements)
        ready = bool(job.parts and job.stock)
        current = self.is_current
        if running:
            text = self.tr("Working it out…")
        elif not ready:
            text = self.tr("Add parts and stock first.")
        elif current and self.told.get("quick"):
            text = self.tr("From a quick layout; nest for a better one.")
        elif current:
            text = self.tr("For the layout on the bench.")
        elif laid:
            text = self.tr("The job has changed since the quote.") if self.told else ""
        else:
            text = self.tr("Nothing is laid out yet.")
        self.state.setText(text)
        self.bar.setVisible(running)
        self.work.setVisible(ready and not running and not current)
        for button in (self.pdf, self.csv):
            button.setEnabled(current)
        self._fill(self.told if current or running else {})
        self.summary_changed.emit()

    def _fill(self, told: dict[str, Any]) -> None:
        for cell in self._cells:
            self.grid.removeWidget(cell)
            cell.hide()
            cell.deleteLater()
        self._cells = []
        row = 0
        for label, value in told.get("facts", []):
            self._cell(row, 0, label)
            self._cell(row, 1, value, span=2)
            row += 1
        for lines in told.get("boards", []):
            more = "; ".join(line.strip() for line in lines[1:])
            self._cell(row, 0, lines[0], span=3)
            self._cell(row + 1, 0, more, span=3)
            row += 2
        if told:
            self.grid.setRowMinimumHeight(row, 8)
            row += 1
        for item, count, amount in told.get("rows", []):
            self._cell(row, 0, item)
            self._cell(row, 1, count)
            self._cell(row, 2, amount, right=True)
            row += 1
        if told:
            self._cell(row, 0, told["total"][0], bold=True)
            self._cell(row, 2, told["total"][1], right=True, bold=True)
            self._cell(row + 1, 0, self.tr("included above: board that ends as waste"))
            self._cell(row + 1, 2, told["waste"], right=True)
        self.grid.setColumnStretch(0, 3)
        self.grid.setColumnStretch(1, 2)
        said = [("info", text) for text in told.get("lifts", [])]
        said += told.get("graded", [])
        self.remarks.say(said)
        for widget in self._drawn:
            self._pictures.removeWidget(widget)
            widget.hide()
            widget.deleteLater()
        self._drawn = []
        for name, sheets, plan in told.get("sawing", []):
            words = self.tr("{n} × {name} sawn into {pieces}").format(
                n=sheets, name=name, pieces=cuts_in_words(plan, self.document.job)
            )
            label = QLabel(words, self)
            label.setWordWrap(True)
            picture = SawingPicture(self)
            picture.show_plan(plan, self.document.job)
            for widget in (label, picture):
                self._pictures.addWidget(widget)
                self._drawn.append(widget)

    def _cell(
        self,
        row: int,
        column: int,
        text: str,
        *,
        right: bool = False,
        bold: bool = False,
        span: int = 1,
    ) -> None:
        label = QLabel(text, self)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setWordWrap(not right)
        side = Qt.AlignmentFlag.AlignRight if right else Qt.AlignmentFlag.AlignLeft
        label.setAlignment(side | Qt.AlignmentFlag.AlignTop)
        if bold:
            font = QFont(self.font())
            font.setBold(True)
            label.setFont(font)
        self.grid.addWidget(label, row, column, 1, span)
        self._cells.append(label)

    def summary(self) -> str:
        """Return the quote in a few words."""
        if not self.is_current:
            return self.state.text()
        facts = dict(self.told["facts"])
        return f"{facts.get('Sheets', '')} · {self.told['total'][1]}"

    # ------------------------------------------------------------ saving

    def _choose(self, kind: str) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self,
            self.tr("Save the quote"),
            f"{file_stem(self.document.job.name)}-quote.{kind}",
            f"{kind.upper()} (*.{kind})",
        )
        if name:
            self.save(Path(name))

    def save(self, path: Path) -> None:
        """Write the quote as PDF or CSV, by the file's ending, on another thread."""
        if not self.is_current:
            return
        told, job = self.told, self.document.job

        def work(stopped: Callable[[], bool]) -> str:
            from ...io.atomic import write_atomically
            from ...io.quote_sheet import quote_csv, quote_pdf

            if path.suffix.lower() == ".csv":
                rows = [("item", "quantity", "amount"), *told["rows"]]
                data = quote_csv([*rows, (told["total"][0], "", told["total"][1])])
            else:
                data = quote_pdf(
                    job.name,
                    told["facts"],
                    told["rows"],
                    told["total"],
                    told["remarks"],
                    job.units,
                    parts=told["parts"],
                )
            write_atomically(path, data)
            return path.name

        self._task = Task(work, self)
        self._task.done.connect(
            lambda name: self.saved.say(
                [("ok", self.tr("{name} was written.").format(name=name))]
            )
        )
        self._task.failed.connect(lambda error: self.saved.say([("error", str(error))]))
        self._task.start()

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the font."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "_drawn"):
            self._show()

    def close_down(self) -> None:
        """End what runs."""
        self._timer.stop()
        self.engine.close()
        if self._task is not None:
            self._task.close()
