"""A large change is taken in first and painted after a breath.

Both in one go would hold the window up for as long as both take; between them it hears
what has been typed and clicked meanwhile.
"""

from __future__ import annotations

import time

from PySide6.QtCore import QCoreApplication, QEvent, QObject, QTimer, SignalInstance
from PySide6.QtWidgets import QWidget

from ..bench.sound import sound

LONG = 0.012
"""What has taken longer than this of the processor is painted later, seconds."""


class Breath(QObject):
    """Puts painting off when much had to be done before.

    Parameters
    ----------
    window : QWidget
        What is painted.
    signals : SignalInstance
        What makes it work. Nothing else may listen to these yet.
    """

    def __init__(self, window: QWidget, *signals: SignalInstance) -> None:
        super().__init__(window)
        self._window = window
        self._signals = signals
        self._began = 0.0
        for signal in signals:
            signal.connect(self._begin)

    def listen_last(self) -> None:
        """Take it that everything which listens to the signals does so by now."""
        for signal in self._signals:
            signal.connect(self._end)

    def _begin(self) -> None:
        self._began = time.thread_time()

    def _end(self) -> None:
        if time.thread_time() - self._began > LONG:
            self._window.installEventFilter(self)
            # Not after nothing: that is no timer, and nobody would be heard.
            QTimer.singleShot(1, self, self._paint)

    def _paint(self) -> None:
        self._window.removeEventFilter(self)
        request = QEvent(QEvent.Type.UpdateRequest)
        QCoreApplication.postEvent(self._window, request)

    @sound
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Swallow the wish to paint; what is to be painted stays known."""
        return event.type() == QEvent.Type.UpdateRequest
