"""What jobs really took: the user's own record, which corrects estimates."""

from __future__ import annotations

import statistics
from dataclasses import replace

from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from ...nesting.model.errors import InputError
from ...nesting.model.machine import Machine
from ...nesting.shop.time import spoken
from . import words
from .fields import TextField
from .shop import Shop

MOST = 20
"""The newest so many times count."""


class TimeRecord(QWidget):
    """How long this job really ran, to be written into the machine's record."""

    def __init__(self, shop: Shop, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.shop = shop
        self._estimated = 0.0
        self.state = QLabel(self)
        self.state.setWordWrap(True)
        self.minutes = TextField(
            self.tr("Minutes this job really ran"),
            self._read,
            lambda value: words.shown_number(value) if value else "",
            lambda: self.tr("min"),
            self,
        )
        self.minutes.line.setToolTip(
            self.tr("Machine time of the whole layout, without handling")
        )
        self.minutes.show_value(0.0)
        label = QLabel(self.tr("This job really ra&n"), self)
        label.setBuddy(self.minutes.line)
        self.record = QPushButton(self.tr("Record it"), self)
        self.record.setMinimumHeight(28)
        self.record.setToolTip(self.tr("Estimates are corrected by what is recorded"))
        self.record.clicked.connect(self._record)
        self.forget = QPushButton(self.tr("Forget the record"), self)
        self.forget.setMinimumHeight(28)
        self.forget.setToolTip(self.tr("After a change to the machine, for example"))
        self.forget.clicked.connect(lambda: self._put(()))
        row = QHBoxLayout()
        row.addWidget(label)
        row.addWidget(self.minutes)
        row.addWidget(self.record)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 6, 0, 0)
        column.addWidget(self.state)
        column.addLayout(row)
        column.addWidget(self.forget)
        self.minutes.entered.connect(lambda _: self.refresh())
        self.refresh()

    def _read(self, text: str) -> float:
        if not text.strip():
            return 0.0
        value = words.number(text, 0.1, 100_000.0, self.tr("min"))
        if self._estimated and not 0.1 <= value / self._estimated <= 10.0:
            raise InputError(
                "",
                self.tr("that is far from the estimate"),
                self.tr("give minutes of the whole layout"),
            )
        return value

    def show_estimate(self, minutes: float) -> None:
        """Take the estimate of this job, uncorrected; 0 without a layout."""
        self._estimated = minutes
        self.refresh()

    def refresh(self) -> None:
        """Show what is recorded."""
        ratios = self.shop.setup.machine.actual_over_estimated
        said = []
        if self._estimated:
            estimate = spoken(60.0 * self._estimated)
            said.append(self.tr("Estimated for this job: {t}.").format(t=estimate))
        if ratios:
            said.append(
                self.tr(
                    "{n} recorded: jobs really take {r} times the estimate."
                ).format(
                    n=len(ratios),
                    r=words.shown_number(statistics.median(ratios), 2),
                )
            )
        else:
            said.append(self.tr("No real times are recorded; estimates are wide."))
        self.state.setText(" ".join(said))
        self.record.setEnabled(bool(self._estimated and self.minutes.value))
        self.minutes.setEnabled(bool(self._estimated))
        self.forget.setVisible(bool(ratios))

    def _record(self) -> None:
        ratio = round(self.minutes.value / self._estimated, 4)
        machine = self.shop.setup.machine
        self.minutes.show_value(0.0)
        self._put((*machine.actual_over_estimated, ratio)[-MOST:])

    def _put(self, ratios: tuple[float, ...]) -> None:
        setup = self.shop.setup
        machine: Machine = replace(setup.machine, actual_over_estimated=ratios)
        self.shop.put(replace(setup, machines=(machine, *setup.machines[1:])))
