"""A field for a length, with what is wrong said beside it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QVBoxLayout, QWidget

from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ..window.look import ink, sign
from . import words


class _Line(QLineEdit):
    """A line that Esc sets back."""

    reverted = Signal()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Set back with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.reverted.emit()
            return
        super().keyPressEvent(event)


class LengthField(QWidget):
    """A length in the job's unit; typed units win.

    Parameters
    ----------
    name : str
        What it is, for its accessible name.
    job : callable
        Returns the job, whose unit counts.

    Signals
    -------
    entered(float)
        A usable length, mm, was typed and differs from the one shown.
    """

    entered = Signal(float)

    def __init__(
        self, name: str, job: Callable[[], Job], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._job = job
        self._value = 0.0
        self._name = name
        self.line = _Line(self)
        self.line.setAccessibleName(name)
        self.line.setMaximumWidth(140)
        self.line.setMinimumHeight(28)
        self.line.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.unit = QLabel(self)
        self.error = QLabel(self)
        self.error.setWordWrap(True)
        self.error.setTextFormat(Qt.TextFormat.PlainText)
        self.error.hide()
        row = QHBoxLayout()
        row.addWidget(self.line)
        row.addWidget(self.unit)
        row.addStretch(1)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        column.addLayout(row)
        column.addWidget(self.error)
        self.setFocusProxy(self.line)
        self.line.editingFinished.connect(self._finished)
        self.line.textEdited.connect(self._edited)
        self.line.reverted.connect(lambda: self.show_length(self._value))

    def show_length(self, mm: float) -> None:
        """Show a length."""
        self._value = mm
        text = words.shown(mm, self._job())
        self.unit.setText(self._job().units)
        if self.line.text() != text:
            self.line.setText(text)
        self._complain("")

    def _read(self) -> float | None:
        try:
            return words.length(self.line.text(), self._job())
        except InputError as error:
            what = f"{error.what}; {error.cure}" if error.cure else error.what
            self._complain(what)
            return None

    def _finished(self) -> None:
        if self.line.text() == words.shown(self._value, self._job()):
            self._complain("")
            return
        value = self._read()
        if value is not None:
            self._complain("")
            if value != self._value:
                self.entered.emit(value)
            self.show_length(value)

    def _edited(self) -> None:
        if not self.error.isHidden():  # once wrong, told again at every key
            self._complain("")
            self._read()

    def _complain(self, what: str) -> None:
        self.error.setVisible(bool(what))
        self.error.setText(f"{sign('error')} {what}" if what else "")
        colour = ink("error", self.palette())
        self.error.setStyleSheet(f"color: {colour}")
        self.line.setStyleSheet(f"border: 2px solid {colour}" if what else "")
        self.line.setAccessibleDescription(what)

    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "error"):
            self.error.setStyleSheet(f"color: {ink('error', self.palette())}")
