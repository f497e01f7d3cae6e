"""Long work, told on the strip: what is done, how far it is, and `Stop`."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QPushButton, QWidget

LATE = 700
"""Nothing tells of work that takes less than this, milliseconds."""


class WorkBar(QWidget):
    """A line of words, a bar and a button; hidden while nothing is done.

    Signals
    -------
    stopped()
        The button was pressed.
    """

    stopped = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._stop: Callable[[], object] | None = None
        self.words = QLabel(self)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.bar = QProgressBar(self)
        self.bar.setFixedWidth(140)
        self.bar.setRange(0, 0)
        self.bar.setFormat(self.tr("%p %"))
        self.bar.setAccessibleName(self.tr("How far the work is"))
        self.stop = QPushButton(self.tr("S&top"), self)
        self.stop.setMinimumHeight(32)
        self.stop.setToolTip(self.tr("End this; everything stays as it was before"))
        self.stop.clicked.connect(self._press)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(10)
        row.addWidget(self.words)
        row.addWidget(self.bar)
        row.addWidget(self.stop)
        self._late = QTimer(self)
        self._late.setSingleShot(True)
        self._late.setInterval(LATE)
        self._late.timeout.connect(self.show)
        self.hide()

    @property
    def busy(self) -> bool:
        """Whether work is going on, shown or not."""
        return self._stop is not None

    def begin(self, words: str, stop: Callable[[], object]) -> None:
        """Work begins; it is shown once it turns out to be long.

        Parameters
        ----------
        words : str
            What is done.
        stop : callable
            Ends it.
        """
        self._stop = stop
        self.words.setText(words)
        self.bar.setRange(0, 0)
        self.stop.setEnabled(True)
        self._late.start()

    def progress(self, share: float, words: str = "") -> None:
        """Say how far the work is: 0 to 1, or less where nobody can say."""
        if words:
            self.words.setText(words)
        if share < 0.0:
            self.bar.setRange(0, 0)
        else:
            self.bar.setRange(0, 100)
            self.bar.setValue(round(100 * min(share, 1.0)))

    def end(self) -> None:
        """Hide: the work is over."""
        self._stop = None
        self._late.stop()
        self.hide()

    def _press(self) -> None:
        self.stop.setEnabled(False)
        if self._stop is not None:
            self._stop()
        self.stopped.emit()
