"""What letting go of files over the window would do, said in large words over it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QPainter, QPaintEvent, QPalette, QPen
from PySide6.QtWidgets import QWidget

from ..bench.sound import sound
from ..book.importing import DRAWINGS, WHOLE
from .look import ink, sign

ROOM = 18.0
"""From the window's edge to the dashed frame, pixels."""


class DropOverlay(QWidget):
    """Covers a widget while files are held over it; it takes no events itself."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self._below = parent
        self.words = ""
        self.level = "info"
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAccessibleName(self.tr("What letting go would do"))
        parent.installEventFilter(self)
        self.hide()

    def offer(self, paths: Sequence[Path]) -> bool:
        """Say what letting go would do; return whether the files can be taken."""
        self.level, self.words = self._meant(paths)
        self.setAccessibleDescription(self.words)
        self.setGeometry(self._below.rect())
        self.raise_()
        self.show()
        self.update()
        return self.level == "info"

    def _meant(self, paths: Sequence[Path]) -> tuple[str, str]:
        endings = [path.suffix.lower() for path in paths]
        drawings = sum(ending in DRAWINGS for ending in endings)
        if paths and drawings == len(paths):
            if drawings == 1:
                words = self.tr("Let go to add the parts of {name}")
                return "info", words.format(name=paths[0].name)
            words = self.tr("Let go to add the parts of {n} drawings")
            return "info", words.format(n=drawings)
        if len(paths) == 1 and endings[0] in WHOLE:
            words = (
                self.tr("Let go to open the job {name}")
                if endings[0] == WHOLE[-1]
                else self.tr("Let go to open the order {name}")
            )
            return "info", words.format(name=paths[0].name)
        return "error", self.tr(
            "Only DXF or SVG drawings, or one order or job, can be taken in"
        )

    @sound
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Stay as large as what is covered."""
        if event.type() == QEvent.Type.Resize:
            self.setGeometry(self._below.rect())
        return False

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint a veil, a dashed frame and the words."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        veil = QColor(self.palette().color(QPalette.ColorRole.Base))
        veil.setAlphaF(0.93)
        painter.fillRect(self.rect(), veil)
        colour = QColor(ink(self.level, self.palette()))
        painter.setPen(QPen(colour, 3.0, Qt.PenStyle.DashLine))
        frame = QRectF(self.rect()).adjusted(ROOM, ROOM, -ROOM, -ROOM)
        painter.drawRoundedRect(frame, 10, 10)
        font = QFont(self.font())
        font.setPointSizeF(font.pointSizeF() * 1.6)
        font.setBold(True)
        painter.setFont(font)
        flags = int(Qt.AlignmentFlag.AlignCenter) | int(Qt.TextFlag.TextWordWrap)
        inner = frame.adjusted(ROOM, ROOM, -ROOM, -ROOM)
        painter.drawText(inner, flags, f"{sign(self.level)}  {self.words}")
        painter.end()
