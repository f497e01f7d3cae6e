"""The buttons of the job book."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtWidgets import QPushButton, QWidget


def push_button(
    parent: QWidget, text: str, tip: str, do: Callable[[], object]
) -> QPushButton:
    """Return a button as high as a pointer needs, with a tooltip that teaches."""
    button = QPushButton(text, parent)
    button.setMinimumHeight(28)
    button.setToolTip(tip)
    button.clicked.connect(lambda: do())
    return button
