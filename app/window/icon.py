"""The program's sign: stones laid dry, so that they need no mortar."""

from __future__ import annotations

from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QImage, QPainter, QPen, QPixmap

STONES = (
    (0.04, 0.66, 0.42, 0.28, "#7C8B8F"),
    (0.50, 0.66, 0.46, 0.28, "#9AA7A4"),
    (0.04, 0.36, 0.26, 0.26, "#B3A48A"),
    (0.34, 0.36, 0.62, 0.26, "#6B7C80"),
    (0.12, 0.08, 0.50, 0.24, "#A5B0AC"),
    (0.66, 0.08, 0.24, 0.24, "#C2B393"),
)
"""Left, top, width, height as shares of the picture's side, and a colour."""

EDGE = "#2E3638"
ROUND = 0.07
"""Radius of the stones' corners as a share of the picture's side."""


def icon_image(size: int) -> QImage:
    """Return the sign, so many pixels wide and high."""
    image = QImage(size, size, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    for left, top, width, height, colour in STONES:
        painter.setPen(QPen(QColor(EDGE), max(size / 48.0, 0.8)))
        painter.setBrush(QColor(colour))
        box = QRectF(left * size, top * size, width * size, height * size)
        painter.drawRoundedRect(box, size * ROUND, size * ROUND)
    painter.end()
    return image


def icon_png(size: int) -> bytes:
    """Return the sign as a PNG file; needs no running application."""
    data = QByteArray()
    buffer = QBuffer(data)
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    icon_image(size).save(buffer, "PNG")  # type: ignore[call-overload]
    buffer.close()
    return bytes(data.data())


def icon_svg() -> str:
    """Return the sign as an SVG file."""
    stones = "\n".join(
        f'  <rect x="{100 * left:g}" y="{100 * top:g}" width="{100 * width:g}" '
        f'height="{100 * height:g}" rx="{100 * ROUND:g}" fill="{colour}"/>'
        for left, top, width, height, colour in STONES
    )
    return (
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 100 100" '
        f'width="128" height="128" stroke="{EDGE}" stroke-width="2">\n'
        f"{stones}\n</svg>\n"
    )


def program_icon() -> QIcon:
    """Return the sign in the sizes that desktops ask for."""
    icon = QIcon()
    for size in (16, 24, 32, 48, 64, 128, 256):
        icon.addPixmap(QPixmap.fromImage(icon_image(size)))
    return icon
