"""Colours of the bench, light and dark; eight fills after Okabe and Ito.

The fills are the palette of Okabe and Ito (2008) without black and with a lightened
grey; every one comes with a hatch of its own and an ink that can be read on it, so that
colour is never the only sign.
"""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPalette

FILLS: tuple[tuple[str, str, Qt.BrushStyle], ...] = (
    ("#56B4E9", "#111111", Qt.BrushStyle.BDiagPattern),
    ("#E69F00", "#111111", Qt.BrushStyle.NoBrush),
    ("#009E73", "#111111", Qt.BrushStyle.FDiagPattern),
    ("#CC79A7", "#111111", Qt.BrushStyle.DiagCrossPattern),
    ("#F0E442", "#111111", Qt.BrushStyle.HorPattern),
    ("#0072B2", "#FFFFFF", Qt.BrushStyle.VerPattern),
    ("#D55E00", "#111111", Qt.BrushStyle.CrossPattern),
    ("#CCCCCC", "#111111", Qt.BrushStyle.Dense6Pattern),
)
"""Fill, label ink, and hatch; parts take them in the order's order, round and round."""


@dataclass(frozen=True)
class Theme:
    """What the bench is painted with.

    Attributes
    ----------
    dark : bool
        Whether the palette is a dark one.
    """

    dark: bool
    bench: QColor
    board: QColor
    board_edge: QColor
    grain: QColor
    channel: QColor
    outline: QColor
    ink: QColor
    faint: QColor
    accent: QColor
    halo: QColor
    problem: QColor
    keep_out: QColor
    plate: QColor
    plate_ink: QColor
    good: QColor

    @classmethod
    def of(cls, palette: QPalette) -> Theme:
        """Return the theme that goes with a palette."""
        window = palette.color(QPalette.ColorRole.Window)
        dark = window.lightnessF() < 0.5
        return DARK if dark else LIGHT

    def part_fill(self, index: int) -> tuple[QColor, QColor, Qt.BrushStyle]:
        """Return fill, label ink and hatch of the part at this place in the order."""
        fill, ink, hatch = FILLS[index % len(FILLS)]
        return QColor(fill), QColor(ink), hatch


LIGHT = Theme(
    dark=False,
    bench=QColor("#D9D8D2"),
    board=QColor("#FBF6EA"),
    board_edge=QColor("#8A7656"),
    grain=QColor("#EADFC7"),
    channel=QColor("#C9B48C"),
    outline=QColor("#111111"),
    ink=QColor("#2A2722"),
    faint=QColor("#5C564B"),
    accent=QColor("#0B4F8A"),
    halo=QColor("#FFFFFF"),
    problem=QColor("#A3161A"),
    keep_out=QColor("#7A4A00"),
    plate=QColor("#1F1D1A"),
    plate_ink=QColor("#FFFFFF"),
    good=QColor("#00664B"),
)

DARK = Theme(
    dark=True,
    bench=QColor("#101112"),
    board=QColor("#1F1D1A"),
    board_edge=QColor("#8F8168"),
    grain=QColor("#2C2822"),
    channel=QColor("#4A4030"),
    outline=QColor("#111111"),
    ink=QColor("#E8E4DB"),
    faint=QColor("#A79F90"),
    accent=QColor("#FFFFFF"),
    halo=QColor("#0B0B0B"),
    problem=QColor("#FF9A8F"),
    keep_out=QColor("#F2B84B"),
    plate=QColor("#F4F0E6"),
    plate_ink=QColor("#111111"),
    good=QColor("#5FD3A8"),
)


def mixed(a: QColor, b: QColor, share: float) -> QColor:
    """Return `a` with a share (0 to 1) of `b` in it."""
    return QColor.fromRgbF(
        a.redF() + (b.redF() - a.redF()) * share,
        a.greenF() + (b.greenF() - a.greenF()) * share,
        a.blueF() + (b.blueF() - a.blueF()) * share,
    )
