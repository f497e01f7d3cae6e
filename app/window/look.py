"""Colours of words in the window, by the palette, and small pictures of parts."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFont, QIcon, QPainter, QPalette, QPen, QPixmap
from PySide6.QtWidgets import QFormLayout, QLabel

from ...nesting.model.outline import Outline
from ..bench.colours import Theme
from ..bench.paths import outline_path

WORDS = {
    "ok": ("#00664B", "#5FD3A8", "✓"),
    "warn": ("#7A4A00", "#F2B84B", "!"),
    "error": ("#A3161A", "#FF9A8F", "✕"),
    "info": ("#00528A", "#7CC4F5", "i"),
}
"""Ink on a light and on a dark ground, and the sign that goes with it."""


def is_dark(palette: QPalette) -> bool:
    """Return whether a palette is a dark one."""
    return palette.color(QPalette.ColorRole.Window).lightnessF() < 0.5


def ink(level: str, palette: QPalette) -> str:
    """Return the colour of words of a level: ok, warn, error or info."""
    light, dark, _ = WORDS[level]
    return dark if is_dark(palette) else light


def sign(level: str) -> str:
    """Return the sign that stands before words of a level."""
    return WORDS[level][2]


def sign_icon(level: str, palette: QPalette, size: int = 18) -> QIcon:
    """Return the sign of a level in a ring."""
    icon = QIcon(_ringed(sign(level), QColor(ink(level, palette)), size))
    chosen = palette.color(QPalette.ColorRole.HighlightedText)
    selected = _ringed(sign(level), chosen, size)
    icon.addPixmap(selected, QIcon.Mode.Selected)
    return icon


def _ringed(words: str, colour: QColor, size: int) -> QPixmap:
    picture = QPixmap(QSize(size, size) * 2)
    picture.setDevicePixelRatio(2.0)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setPen(QPen(colour, 1.5))
    painter.drawEllipse(QRectF(1.5, 1.5, size - 3, size - 3))
    font = painter.font()
    font.setPixelSize(round(size * 0.62))
    font.setBold(True)
    painter.setFont(font)
    centre = int(Qt.AlignmentFlag.AlignCenter)
    painter.drawText(QRectF(0, 0, size, size), centre, words)
    painter.end()
    return picture


def part_icon(outline: Outline, index: int, palette: QPalette, size: int) -> QIcon:
    """Return a small picture of a part in its colour."""
    theme = Theme.of(palette)
    fill, _, _ = theme.part_fill(index)
    edge = theme.outline if not theme.dark else QColor("#E8E4DB")
    return outline_icon(outline, fill, edge, 1.0, size)


def outline_icon(
    outline: Outline, fill: QColor, edge: QColor, width: float, size: int
) -> QIcon:
    """Return a small picture of an outline; `width` is that of its edge in pixels."""
    picture = QPixmap(QSize(size, size) * 2)
    picture.setDevicePixelRatio(2.0)
    picture.fill(Qt.GlobalColor.transparent)
    x0, y0, x1, y1 = outline.bounds
    scale = (size - 4) / max(x1 - x0, y1 - y0, 1e-9)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.translate(QPointF(size / 2, size / 2))
    painter.scale(scale, -scale)
    painter.translate(QPointF(-(x0 + x1) / 2, -(y0 + y1) / 2))
    pen = QPen(edge, width)
    pen.setCosmetic(True)
    painter.setPen(pen)
    painter.setBrush(fill)
    painter.drawPath(outline_path(outline))
    painter.end()
    return QIcon(picture)


def main_button_style(palette: QPalette, font: QFont) -> str:
    """Return the style sheet of the one button that should stand out."""
    dark = is_dark(palette)
    ground, words = ("#7CC4F5", "#111111") if dark else ("#00528A", "#FFFFFF")
    ring = "#FFFFFF" if dark else "#111111"
    return (
        f"QPushButton {{ background: {ground}; color: {words}; border-radius: 4px;"
        " padding: 4px 18px; font-weight: bold; border: 2px solid transparent;"
        # A widget with a style of its own does not follow the window's font.
        f" font-size: {font.pointSizeF()}pt; }}"
        f"QPushButton:focus {{ border: 2px solid {ring}; }}"
        "QPushButton:disabled { background: transparent; color: palette(mid);"
        " border: 1px solid palette(mid); }"
    )


FIELD = 28
"""Least height of what takes typing, pixels."""


def level_labels(form: QFormLayout) -> None:
    """Let the labels of a form stand level with the words in its fields."""
    for row in range(form.rowCount()):
        item = form.itemAt(row, QFormLayout.ItemRole.LabelRole)
        label = None if item is None else item.widget()
        if isinstance(label, QLabel):
            label.setMinimumHeight(FIELD)
