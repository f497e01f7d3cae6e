"""What eyes need: contrast of colours, targets to hit, a palette of the evening."""

from __future__ import annotations

from PySide6.QtGui import QColor, QPalette

LEAST_TARGET = 24
"""WCAG 2.2, 2.5.8: least side of what is pressed, pixels."""


def luminance(colour: QColor) -> float:
    """Return the relative luminance of a colour, as WCAG 2.2 defines it."""

    def linear(c: float) -> float:
        return c / 12.92 if c <= 0.04045 else float(((c + 0.055) / 1.055) ** 2.4)

    parts = (colour.redF(), colour.greenF(), colour.blueF())
    r, g, b = (linear(part) for part in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def contrast(one: QColor, two: QColor) -> float:
    """Return the contrast ratio of two colours (WCAG 2.2, "contrast ratio")."""
    low, high = sorted((luminance(one), luminance(two)))
    return (high + 0.05) / (low + 0.05)


def dark_palette() -> QPalette:
    """Return a dark palette such as a system in the evening has."""
    role = QPalette.ColorRole
    palette = QPalette()
    for which, colour in (
        (role.Window, "#2B2B2B"),
        (role.WindowText, "#E8E4DB"),
        (role.Base, "#1E1E1E"),
        (role.AlternateBase, "#262626"),
        (role.Text, "#E8E4DB"),
        (role.Button, "#3A3A3A"),
        (role.ButtonText, "#E8E4DB"),
        (role.Mid, "#6A6A6A"),
        (role.Dark, "#1A1A1A"),
        (role.Light, "#4A4A4A"),
        (role.Midlight, "#404040"),
        (role.Shadow, "#000000"),
        (role.Highlight, "#7CC4F5"),
        (role.HighlightedText, "#111111"),
        (role.ToolTipBase, "#1E1E1E"),
        (role.ToolTipText, "#E8E4DB"),
        (role.PlaceholderText, "#A79F90"),
    ):
        palette.setColor(which, QColor(colour))
    for which in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, QColor("#8A8A8A"))
    return palette
