"""A line under the strip for what should be read; errors stay until dismissed."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QPushButton, QWidget

from ..bench.sound import sound
from ..book.boxes import edge_palette, tint
from .look import sign

SHORT = 6_000
"""How long a word that is no error stays, milliseconds."""


class Banner(QFrame):
    """One sentence, and at most two buttons."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._level = "info"
        self._text = ""
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setAccessibleName(self.tr("Message"))
        self.words = QLabel(self)
        self.words.setWordWrap(True)
        self.words.setTextFormat(Qt.TextFormat.PlainText)
        self.close_button = QPushButton(self.tr("Dismiss"), self)
        self.close_button.clicked.connect(self.hide)
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(14, 4, 12, 4)
        self._row.addWidget(self.words, 1)
        self._row.addWidget(self.close_button)
        self._buttons: list[QPushButton] = []
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(SHORT)
        self._timer.timeout.connect(self.hide)
        self.hide()

    def say(
        self,
        level: str,
        text: str,
        buttons: list[tuple[str, Callable[[], object]]] | None = None,
    ) -> None:
        """Show a sentence; errors and questions stay, others leave by themselves."""
        for button in self._buttons:
            self._row.removeWidget(button)
            button.hide()  # it is deleted only once nothing else is to be done
            button.deleteLater()
        self._buttons = []
        self._level, self._text = level, text
        self._colour()
        for words, do in buttons or []:
            button = QPushButton(words, self)
            button.setMinimumHeight(28)
            button.setPalette(edge_palette(self.palette()))
            button.clicked.connect(lambda _=False, do=do: self._press(do))
            self._row.insertWidget(self._row.count() - 1, button)
            self._buttons.append(button)
        self.close_button.setMinimumHeight(28)
        self.close_button.setVisible(not buttons)
        self.show()
        if buttons or level == "error":
            self._timer.stop()
        else:
            self._timer.start()

    @property
    def text(self) -> str:
        """The sentence shown; empty when none is."""
        return self._text if not self.isHidden() else ""

    def _press(self, do: Callable[[], object]) -> None:
        self.hide()
        do()

    def _colour(self) -> None:
        self.words.setText(f"{sign(self._level)}  {self._text}")
        tint(self.words, self._level)

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "_buttons"):
            self._colour()
