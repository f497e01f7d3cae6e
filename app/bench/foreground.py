"""What stands in front of everything: the turning handle, figures, first words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QFont, QPainter, QPen

from ...nesting.model.motion import Point
from ...nesting.model.placement import Placement
from . import arrange
from .words import tr

if TYPE_CHECKING:
    from .view import BenchView


class Foreground:
    """Paints what has a screen size and covers the bench.

    Parameters
    ----------
    view : BenchView
        The bench.
    """

    def __init__(self, view: BenchView) -> None:
        self._view = view
        self._handle_area = QRect()

    def handle_placements(self) -> list[Placement]:
        """Return what the handle would turn: what is selected on one blank."""
        parts = [
            p
            for p in self._view.document.placements(self._view.document.selection)
            if not p.locked
        ]
        return parts if len({p.blank for p in parts}) == 1 else []

    def handle_at(self) -> QPointF | None:
        """Return where the turning handle stands in the viewport, or None."""
        parts = self.handle_placements()
        if (
            not parts
            or self._view.document.shown_layout is not self._view.document.job.layout
        ):
            return None
        box = arrange.box_round(
            [arrange.box_of(self._view.document.job, p) for p in parts]
        )
        ox, oy = self._view.plan.origins[parts[0].blank]
        top = QPointF((box[0] + box[2]) / 2 + ox, box[3] + oy)
        return self._view.viewportTransform().map(top) + QPointF(0.0, -30.0)

    def update_handle(self) -> None:
        """Have the handle painted anew, where it was and where it is."""
        at = self.handle_at()
        area = QRect()
        if at is not None:
            area = QRectF(at.x() - 20, at.y() - 20, 40, 70).toAlignedRect()
        for place in (self._handle_area, area):
            if not place.isEmpty():
                self._view.viewport().update(place)
        self._handle_area = area

    def figures_area(self) -> Any:
        """Return what the figures beside the pointer may cover in the viewport."""
        size = self._figures_size()
        reach_x, reach_y = size.width() + 40, size.height() + 32
        return QRectF(
            self._view.pointer.place.x() - reach_x,
            self._view.pointer.place.y() - reach_y,
            2 * reach_x,
            2 * reach_y,
        ).toAlignedRect()

    def draw(self, painter: QPainter, rect: QRectF | QRect) -> None:
        """Draw the turning handle and the figures beside the pointer."""
        painter.save()
        painter.resetTransform()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        at = self.handle_at() if self._view.gesture is None else None
        if at is not None:
            for colour, width in (
                (self._view.theme.halo, 4.0),
                (self._view.theme.accent, 1.6),
            ):
                painter.setPen(QPen(colour, width))
                painter.drawLine(at + QPointF(0, 8), at + QPointF(0, 28))
            painter.setPen(QPen(self._view.theme.halo, 2.0))
            painter.setBrush(self._view.theme.accent)
            painter.drawEllipse(at, 9.5, 9.5)
            painter.setPen(QPen(self._view.theme.halo, 1.6))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawArc(QRectF(at.x() - 5, at.y() - 5, 10, 10), 0, 270 * 16)
            # The arc ends in a tip that points the way positive turns go.
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(self._view.theme.halo)
            tip = (QPointF(4.5, 5.0), QPointF(-0.5, 1.6), QPointF(-0.5, 8.4))
            painter.drawPolygon([at + corner for corner in tip])
        if self._view.figures and self._view.gesture is not None:
            self._draw_figures(painter)
        painter.restore()
        if not self._view.plan.boxes:
            self._draw_empty(painter)

    def unless_near(self, line: tuple[Point, Point] | None, text: str) -> str:
        """Return a line's text, or none where the pointer's figures would cover it."""
        if line is None:
            return ""
        (ax, ay), (bx, by) = line
        middle = QPointF((ax + bx) / 2, (ay + by) / 2)
        off = self._view.viewportTransform().map(middle) - QPointF(
            self._view.pointer.place
        )
        size = self._figures_size()
        covered = (
            abs(off.x()) < size.width() + 120 and abs(off.y()) < size.height() + 50
        )
        return "" if covered else text

    def _figures_size(self) -> QRect:
        """Return what the figures take, in pixels; they may have several lines."""
        return self._view.fontMetrics().boundingRect(
            QRect(0, 0, 9999, 9999), 0, self._view.figures or " "
        )

    def _draw_figures(self, painter: QPainter) -> None:
        size = self._figures_size()
        box = QRectF(0, 0, size.width() + 18, size.height() + 10)
        view = self._view.viewport().rect()
        x, y = self._view.pointer.place.x() + 16.0, self._view.pointer.place.y() + 16.0
        if x + box.width() > view.width():
            x = self._view.pointer.place.x() - 16.0 - box.width()
        if y + box.height() > view.height():
            y = self._view.pointer.place.y() - 16.0 - box.height()
        box.moveTo(x, y)
        painter.setPen(QPen(self._view.theme.halo, 1.0))
        painter.setBrush(self._view.theme.plate)
        painter.drawRoundedRect(box, 5, 5)
        painter.setPen(self._view.theme.plate_ink)
        painter.setFont(self._view.font())
        painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), self._view.figures)

    def _empty_words(self) -> str:
        """Say what to do first."""
        job = self._view.document.job
        if not job.parts:
            return tr("Drop drawings, an order or a job here.")
        if not job.stock:
            return tr("Nothing to cut from yet.\nAdd a sheet under Stock.")
        return tr(
            "Nothing lies on the bench yet.\n"
            "Nest, or choose a part in the tray and place it."
        )

    def _draw_empty(self, painter: QPainter) -> None:
        painter.save()
        painter.resetTransform()
        painter.setPen(self._view.theme.faint)
        font = QFont(self._view.font())
        font.setPointSizeF(font.pointSizeF() * 1.25)
        painter.setFont(font)
        painter.drawText(
            self._view.viewport().rect().adjusted(12, 8, -12, -8),
            int(Qt.AlignmentFlag.AlignCenter) | int(Qt.TextFlag.TextWordWrap),
            self._empty_words(),
        )
        painter.restore()
