"""After cutting: book the job's boards out of the rack, and keep what is left."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtWidgets import (
    QCheckBox,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ...io.rack import RackBoard, RackJob, is_booking_of, rack_number
from ...nesting.model.job import Job
from ..window.document import Document
from ..window.task import Task
from . import words
from .board_icon import board_icon
from .boxes import edge_palette, visible_edge
from .fields import ChoiceField
from .fold import Remarks
from .rack_keeper import RackKeeper

WAIT = 500
"""After an edit, leftovers are worked out this much later, milliseconds."""


class LeftoverSection(QWidget):
    """Leftovers of the layout to tick, and the bookings to take back.

    Parameters
    ----------
    page : QWidget
        The page it is on: while that is hidden, nothing is worked out.
    """

    def __init__(
        self,
        document: Document,
        rack: RackKeeper,
        page: QWidget,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._page = page
        self._for: Job | None = None
        self._stale = True
        self.document = document
        self.rack = rack
        self._boards: tuple[RackBoard, ...] = ()
        self._task: Task | None = None
        self.words = QLabel(self)
        self.words.setWordWrap(True)
        self.list = QListWidget(self)
        self.list.setAccessibleName(self.tr("Leftovers to keep"))
        self.list.setIconSize(QSize(32, 32))
        self.list.setPalette(edge_palette(self.palette()))
        self.book = QPushButton(self.tr("&Book out of the rack"), self)
        self.book.setMinimumHeight(28)
        self.book.setToolTip(
            self.tr("Once it is cut: take the job's boards, keep the ticked leftovers")
        )
        self.book.clicked.connect(self.book_out)
        self.again = QCheckBox(self.tr("It was cut once m&ore"), self)
        self.again.setMinimumHeight(28)
        self.again.setToolTip(
            self.tr("The same job on other boards: book it out once more")
        )
        visible_edge(self.again)
        self.again.toggled.connect(self._show)
        row = QHBoxLayout()
        row.addWidget(self.again)
        row.addWidget(self.book)
        row.addStretch(1)
        self.remarks = Remarks(self)
        self.jobs = ChoiceField(self.tr("Booked jobs"), [], self)
        self.jobs.box.setToolTip(self.tr("Jobs that have taken their boards"))
        label = QLabel(self.tr("Boo&ked jobs"), self)
        label.setBuddy(self.jobs.box)
        self.back = QPushButton(self.tr("Take bac&k"), self)
        self.back.setMinimumHeight(28)
        self.back.setToolTip(
            self.tr("Its boards stand on the rack again, its leftovers do not")
        )
        self.back.clicked.connect(self.take_back)
        self._past = QWidget(self)
        past = QHBoxLayout(self._past)
        past.setContentsMargins(0, 0, 0, 0)
        past.addWidget(label)
        past.addWidget(self.jobs, 1)
        past.addWidget(self.back)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(self.words)
        column.addWidget(self.list)
        column.addLayout(row)
        column.addWidget(self.remarks)
        column.addWidget(self._past)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(WAIT)
        self._timer.timeout.connect(self._work_out)
        document.changed.connect(self._layout_changed)
        rack.changed.connect(self._show)
        rack.done.connect(lambda text: self.remarks.say([("ok", text)]))
        rack.failed.connect(lambda text: self.remarks.say([("error", text)]))
        self._show()

    # ------------------------------------------------------------ showing

    def _layout_changed(self) -> None:
        self.remarks.say([])
        self._stale = True
        self.book.setEnabled(False)  # until it is known what is left
        if self._page.isVisible():
            self._timer.start()

    def look(self) -> None:
        """Work out what is left, if that is not known: the page is looked at."""
        if self._stale:
            self._timer.start()

    def _work_out(self) -> None:
        self._stale = False
        if self._task is not None:
            self._task.stop()
            self._task = None
        job = self.document.job
        if not job.layout.placements:
            self._take((job, ()))
            return

        def work(stopped: Callable[[], bool]) -> Any:
            from ..racking import leftover_boards

            return job, leftover_boards(job)

        self._task = Task(work, self)
        self._task.done.connect(self._take)
        self._task.failed.connect(
            lambda error: self.remarks.say([("error", str(error))])
        )
        self._task.start()

    def _take(self, answer: Any) -> None:
        job, boards = answer
        if job is not self.document.job:
            return
        self._boards, self._for = boards, job
        self.list.clear()
        for board in boards:
            size = words.said_size(board.outline.size, job)
            text = f"{size} {job.units} · {board.material} · {board.value:.2f}"
            item = QListWidgetItem(board_icon(board.outline, self.palette(), 32), text)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Checked)
            self.list.addItem(item)
        line = max(self.list.fontMetrics().height() + 10, 38)
        self.list.setFixedHeight(min(max(len(boards), 1), 5) * line + 6)
        self._show()

    def booking(self) -> RackJob | None:
        """Return the last booking of this job that stands, whatever it is called."""
        key = self.document.job.id
        return next(
            (one for one in reversed(self.rack.jobs) if is_booking_of(one, key)), None
        )

    def _show(self) -> None:
        job = self.document.job
        booked = self.booking()
        some = bool(job.layout.placements)
        open_now = booked is None or self.again.isChecked()
        self.again.setVisible(booked is not None and some)
        self.list.setVisible(bool(self._boards) and open_now)
        self.book.setVisible(some and open_now)
        self.book.setText(
            self.tr("&Book out once more")
            if booked
            else self.tr("&Book out of the rack")
        )
        self.book.setEnabled(self._for is job)
        taken = len(_numbers(job))
        if booked is not None:
            text = self.tr("This job was booked out as number {n} on {date}.").format(
                n=booked.id, date=booked.date
            )
        elif not some:
            text = self.tr("Nothing lies on the bench yet.")
        elif self._boards:
            text = self.tr(
                "Takes {n} boards from the rack. Leftovers worth keeping, tick those "
                "that go on the rack:"
            ).format(n=taken)
        else:
            text = self.tr(
                "Takes {n} boards from the rack; no leftover is worth keeping."
            ).format(n=taken)
        self.words.setText(text)
        past = [job for job in reversed(self.rack.jobs) if not job.undone]
        self.jobs.set_choices(
            [(job.id, f"{job.id} · {job.date} · {job.name}") for job in past]
        )
        first = booked or (past[0] if past else None)
        self.jobs.show_value(first.id if first else None)
        self._past.setVisible(bool(past))

    def summary(self) -> str:
        """Return what the section holds, in a few words."""
        booked = self.booking()
        if booked is not None:
            return self.tr("booked out as number {n}").format(n=booked.id)
        if not self.document.job.layout.placements:
            return self.tr("nothing lies on the bench yet")
        return self.tr("{n} leftovers worth keeping").format(n=len(self._boards))

    # ------------------------------------------------------------ changing

    def ticked(self) -> list[RackBoard]:
        """Return the leftovers that go on the rack."""
        return [
            board
            for i, board in enumerate(self._boards)
            if self.list.item(i).checkState() == Qt.CheckState.Checked
        ]

    def book_out(self) -> None:
        """Book the job out, once more where it was booked before."""
        again = self.again.isChecked()
        self.again.setChecked(False)
        self.rack.book_out(self.document.job, self.ticked(), again=again)

    def take_back(self) -> None:
        """Undo the chosen booking."""
        if self.jobs.value is not None:
            self.rack.take_back(int(self.jobs.value))

    def close_down(self) -> None:
        """End what runs."""
        self._timer.stop()
        if self._task is not None:
            self._task.close()


def _numbers(job: Job) -> list[int]:
    found = (rack_number(blank.stock_id) for blank in job.layout.blanks)
    return [number for number in found if number is not None]
