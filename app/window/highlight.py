"""What is chosen in lists and texts, in colours that can be read."""

from __future__ import annotations

from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QApplication

LEAST = 4.5
"""Contrast of words with their ground (WCAG 2.2, 1.4.3)."""


STEPS = 50
"""From a colour to black or white."""


def make_highlight_readable() -> None:
    """Give what is chosen a ground on which its words can be read, if it has none.

    Some styles bring one that is too faint. All other colours stay the system's.
    """
    palette = QApplication.palette()
    ground = palette.color(QPalette.ColorRole.Highlight)
    words = palette.color(QPalette.ColorRole.HighlightedText)
    readable = readable_ground(ground, words)
    if readable == ground:
        return
    own = QPalette()
    for group in (QPalette.ColorGroup.Active, QPalette.ColorGroup.Inactive):
        own.setColor(group, QPalette.ColorRole.Highlight, readable)
    QApplication.setPalette(own)


def readable_ground(ground: QColor, words: QColor) -> QColor:
    """Return the nearest shade of a ground on which words can be read."""
    far = 0 if _luminance(words) > 0.18 else 255  # as far from white as from black
    found = ground
    for step in range(1, STEPS + 1):
        if _contrast(found, words) >= LEAST:
            break
        share = step / STEPS
        found = QColor(
            *(
                round(value + share * (far - value))
                for value in (ground.red(), ground.green(), ground.blue())
            )
        )
    return found


def _contrast(one: QColor, two: QColor) -> float:
    low, high = sorted((_luminance(one), _luminance(two)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: QColor) -> float:
    """Return the relative luminance, as WCAG 2.2 defines it."""

    def linear(c: float) -> float:
        return c / 12.92 if c <= 0.04045 else float(((c + 0.055) / 1.055) ** 2.4)

    red, green, blue = (
        linear(c) for c in (colour.redF(), colour.greenF(), colour.blueF())
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
