"""The program's sign: stones laid dry, so that they need no mortar."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPen, QPixmap

STONES = (
    (0.04, 0.66, 0.42, 0.28, "#7C8B8F"),
    (0.50, 0.66, 0.46, 0.28, "#9AA7A4"),
    (0.04, 0.36, 0.26, 0.26, "#B3A48A"),
    (0.34, 0.36, 0.62, 0.26, "#6B7C80"),
    (0.12, 0.08, 0.50, 0.24, "#A5B0AC"),
    (0.66, 0.08, 0.24, 0.24, "#C2B393"),
)
"""Left, top, width, height as shares of the picture's side, and a colour."""


def program_icon() -> QIcon:
    """Return the sign in the sizes that desktops ask for."""
    icon = QIcon()
    for size in (16, 24, 32, 48, 64, 128, 256):
        picture = QPixmap(size, size)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        for left, top, width, height, colour in STONES:
            painter.setPen(QPen(QColor("#2E3638"), max(size / 48.0, 0.8)))
            painter.setBrush(QColor(colour))
            box = QRectF(left * size, top * size, width * size, height * size)
            painter.drawRoundedRect(box, size * 0.07, size * 0.07)
        painter.end()
        icon.addPixmap(picture)
    return icon
