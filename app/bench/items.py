"""What floats above the blanks: selection, what is in the hand, bands and measures."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QPainter,
    QPainterPath,
    QPen,
)
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from ...nesting.model.job import Job
from ...nesting.model.motion import Motion, Point
from ...nesting.model.outline import Outline
from ...nesting.model.placement import Placement
from .aligning import Guide
from .arrange import box_of
from .colours import Theme
from .painting import (
    STORE,
    Look,
    coarse_path,
    cosmetic,
    cut_outline,
    paint_channels,
    paint_names,
    paint_parts,
    pixels,
    text_on_screen,
    transform_of,
)
from .sound import sound

MANY = 60
"""More selected parts than this are outlined in a plainer way."""


class SelectionItem(QGraphicsItem):
    """Outlines of what is selected, of the copy the keys are at, and of conflicts."""

    def __init__(self, theme: Theme, font: QFont) -> None:
        super().__init__()
        self.theme = theme
        self.font = font
        self.paths: list[QPainterPath] = []
        self.crowd: list[tuple[Outline, Motion]] = []
        self.current: QPainterPath | None = None
        self.problems: list[QPainterPath] = []
        self.named: list[Look] = []
        self._box = QRectF()
        self.setZValue(10)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def show_outlines(
        self,
        selected: list[QPainterPath],
        current: QPainterPath | None,
        problems: list[QPainterPath],
        crowd: Sequence[tuple[Outline, Motion]] = (),
        crowd_box: QRectF | None = None,
        named: Sequence[Look] = (),
    ) -> None:
        """Show these outlines, in the bench's coordinates.

        Parameters
        ----------
        crowd : sequence of tuple of Outline and Motion
            Selected parts that are too many to be outlined one by one.
        crowd_box : QRectF or None
            What they cover.
        named : sequence of Look
            What lies wrongly, placed on the bench: names stand above the hatching.
        """
        old = (self.paths, self.problems, self.current, self.crowd)
        if not (selected or problems or crowd or current or any(old)):
            return
        self.prepareGeometryChange()
        self.crowd = list(crowd)
        self.named = list(named)
        self.paths, self.current, self.problems = selected, current, problems
        box = QRectF() if crowd_box is None else QRectF(crowd_box)
        for path in (*selected, *problems, *([current] if current else [])):
            box = box.united(path.controlPointRect())
        self._box = box
        self.update()

    @sound
    def boundingRect(self) -> QRectF:
        """Return what it covers, with room for wide lines at a small zoom."""
        room = 60.0
        return self._box.adjusted(-room, -room, room, room)

    @sound
    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Paint halo and line for what is selected, dashes and a sign for conflicts."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        for path in self.problems:
            paint_problem(painter, path, self.theme)
        paint_names(painter, self.named, self.theme, self.font)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        self._paint_crowd(painter)
        for pen in (cosmetic(self.theme.halo, 5.0), cosmetic(self.theme.accent, 2.5)):
            painter.setPen(pen)
            for path in self.paths:
                painter.drawPath(path)
        for path in self.problems:
            paint_warning(painter, path, self.theme)
        if self.current is not None:
            painter.setPen(cosmetic(self.theme.accent, 1.2, Qt.PenStyle.DashLine))
            box = self.current.controlPointRect()
            room = 5.0 / pixels(painter)
            painter.drawRect(box.adjusted(-room, -room, room, room))

    def _paint_crowd(self, painter: QPainter) -> None:
        if not self.crowd:
            return
        pixel = 1.0 / pixels(painter)
        clip = (
            painter.worldTransform()
            .inverted()[0]
            .mapRect(QRectF(0, 0, painter.device().width(), painter.device().height()))
        )
        wash = QColor(self.theme.accent)
        wash.setAlphaF(0.35)
        painter.setBrush(wash)
        painter.setPen(cosmetic(self.theme.accent, 1.0))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        base = painter.worldTransform()
        for outline, motion in self.crowd:
            path = coarse_path(outline, 2.0 * pixel)
            there = transform_of(motion)
            if there.mapRect(path.controlPointRect()).intersects(clip):
                painter.setTransform(there * base)
                painter.drawPath(path)
        painter.setTransform(base)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setBrush(Qt.BrushStyle.NoBrush)


def paint_problem(painter: QPainter, path: QPainterPath, theme: Theme) -> None:
    """Paint a conflict: hatching and a dashed edge."""
    painter.setBrush(QBrush(theme.problem, Qt.BrushStyle.BDiagPattern))
    painter.setPen(cosmetic(theme.problem, 2.5, Qt.PenStyle.DashLine))
    painter.drawPath(path)


def paint_warning(painter: QPainter, path: QPainterPath, theme: Theme) -> None:
    """Paint a warning sign at the upper left of an outline.

    There it hides neither the name in the middle nor the handle above it.
    """
    box = path.controlPointRect()
    at = painter.worldTransform().map(QPointF(box.left(), box.bottom()))
    # Far away the signs of small parts would hide everything.
    least = min(box.width(), box.height()) * pixels(painter)
    size = min(max(least / 26.0, 0.42), 1.0)
    painter.save()
    painter.resetTransform()
    painter.translate(at + QPointF(13.0, 3.0) * size)
    painter.scale(size, size)
    sign = QPainterPath(QPointF(0, -11))
    sign.lineTo(12, 10)
    sign.lineTo(-12, 10)
    sign.closeSubpath()
    pen = QPen(theme.problem, 2.5)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    painter.setBrush(theme.halo)
    painter.drawPath(sign)
    painter.setPen(QPen(theme.problem, 2.2))
    painter.drawLine(QPointF(0, -3), QPointF(0, 3))
    painter.drawPoint(QPointF(0, 7))
    painter.restore()


@dataclass(frozen=True)
class InHand:
    """What is shown with the parts in the hand; all places on the bench, mm.

    Attributes
    ----------
    wish : QPainterPath or None
        Where the pointer would have the parts.
    line : tuple of tuple of float, or None
        The shortest line to what is nearest.
    line_text : str
        How long that is, and whom to.
    guides : sequence of Guide
        What is in line with what.
    bad : sequence of QPainterPath
        Parts that would lie wrongly.
    """

    wish: QPainterPath | None = None
    line: tuple[Point, Point] | None = None
    line_text: str = ""
    guides: Sequence[Guide] = ()
    bad: Sequence[QPainterPath] = ()


class HandItem(QGraphicsItem):
    """What is in the hand: parts at their place, the wish, the distance, figures."""

    def __init__(self, theme: Theme, font: QFont) -> None:
        super().__init__()
        self.theme = theme
        self.font = font
        self.looks: list[Look] = []
        self.cutter = 0.0
        self.origin: Point = (0.0, 0.0)
        self.shown = InHand()
        self._box = QRectF()
        self.setZValue(20)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.hide()

    def show_hand(
        self, looks: Sequence[Look], origin: Point, cutter: float, shown: InHand
    ) -> None:
        """Show parts on the blank whose (0, 0) lies at `origin` on the bench."""
        self.prepareGeometryChange()
        self.looks = list(looks)
        self.origin = origin
        self.cutter = cutter
        self.shown = shown
        box = QRectF()
        for look in self.looks:
            x0, y0, x1, y1 = look.box
            box = box.united(QRectF(x0, y0, x1 - x0, y1 - y0))
        box.translate(*origin)
        for path in (*shown.bad, *([shown.wish] if shown.wish is not None else [])):
            box = box.united(path.controlPointRect())
        lines = [guide.line for guide in shown.guides]
        for a, b in [*lines, *([shown.line] if shown.line is not None else [])]:
            box = box.united(QRectF(QPointF(*a), QPointF(*b)).normalized())
        self._box = box
        self.show()
        self.update()

    @sound
    def boundingRect(self) -> QRectF:
        """Return what it covers, with room for figures beside it."""
        scale = 1.0
        for view in self.scene().views():
            scale = view.transform().m11()
        room, side = 24.0 / scale + self.cutter, 130.0 / scale
        return self._box.adjusted(-side, -room, side, room)

    @sound
    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Paint the wish below, the parts above, and the distance on top."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.save()
        painter.translate(*self.origin)
        paint_channels(painter, self.looks, self.cutter, self.theme)
        paint_parts(painter, self.looks, self.theme, self.font)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for pen in (cosmetic(self.theme.halo, 5.0), cosmetic(self.theme.accent, 2.5)):
            painter.setPen(pen)
            for look in self.looks:
                painter.drawPath(
                    transform_of(look.placement.motion).map(
                        STORE.exact(look.part.outline)
                    )
                )
        painter.restore()
        for path in self.shown.bad:
            paint_problem(painter, path, self.theme)
        if self.shown.bad:
            painter.save()
            painter.translate(*self.origin)
            paint_names(painter, self.looks, self.theme, self.font)
            painter.restore()
        for path in self.shown.bad:
            paint_warning(painter, path, self.theme)
        if self.shown.wish is not None:
            painter.setPen(cosmetic(self.theme.accent, 1.3, Qt.PenStyle.DotLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPath(self.shown.wish)
        for guide in self.shown.guides:
            paint_guide(painter, guide, self.theme)
        if self.shown.line is not None:
            paint_distance(
                painter, self.shown.line, self.shown.line_text, self.theme, self.font
            )


def paint_guide(painter: QPainter, guide: Guide, theme: Theme) -> None:
    """Paint the line along which things are in line, past both its ends."""
    (ax, ay), (bx, by) = guide.line
    length = max(math.hypot(bx - ax, by - ay), 1e-9)
    more = 14.0 / pixels(painter) / length
    a = QPointF(ax - (bx - ax) * more, ay - (by - ay) * more)
    b = QPointF(bx + (bx - ax) * more, by + (by - ay) * more)
    painter.setPen(cosmetic(theme.halo, 4.0))
    painter.drawLine(a, b)
    painter.setPen(cosmetic(theme.accent, 1.6, Qt.PenStyle.DashDotLine))
    painter.drawLine(a, b)


def paint_distance(
    painter: QPainter,
    line: tuple[Point, Point],
    text: str,
    theme: Theme,
    font: QFont,
) -> None:
    """Paint a shortest line with its ends and its length on a plate."""
    a, b = QPointF(*line[0]), QPointF(*line[1])
    painter.setPen(cosmetic(theme.halo, 5.0))
    painter.drawLine(a, b)
    painter.setPen(cosmetic(theme.accent, 2.0))
    painter.drawLine(a, b)
    for end in (a, b):
        here = painter.worldTransform().map(end)
        painter.save()
        painter.resetTransform()
        painter.setPen(QPen(theme.halo, 1.5))
        painter.setBrush(theme.accent)
        painter.drawEllipse(here, 4, 4)
        painter.restore()
    if not text:
        return
    middle = ((line[0][0] + line[1][0]) / 2, (line[0][1] + line[1][1]) / 2)
    text_on_screen(
        painter,
        middle,
        text,
        font,
        theme.plate_ink,
        Qt.AlignmentFlag.AlignLeft,
        theme.plate,
        offset=(12, -14),
    )


class ScreenItem(QGraphicsItem):
    """Something drawn by a function in the bench's coordinates: bands, measures.

    Parameters
    ----------
    draw : callable of QPainter
        Draws it.
    """

    def __init__(self, draw: Callable[[QPainter], None]) -> None:
        super().__init__()
        self._draw = draw
        self._box = QRectF()
        self.setZValue(30)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def cover(self, box: QRectF) -> None:
        """Say what it covers now, mm, with room for what has a screen size."""
        self.prepareGeometryChange()
        self._box = box
        self.update()

    @sound
    def boundingRect(self) -> QRectF:
        """Return what it covers."""
        return self._box

    @sound
    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Draw it."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._draw(painter)


def placed_path(job: Job, placement: Placement, origin: Point) -> QPainterPath:
    """Return the exact outline of a placed copy in the bench's coordinates."""
    path = STORE.exact(job.part(placement.part_id).outline)
    placed = transform_of(placement.motion).map(path)
    return placed.translated(*origin)


def look_at(job: Job, placement: Placement, name: str) -> Look:
    """Return how one copy is to be drawn."""
    ids = [part.id for part in job.parts]
    return Look(
        placement,
        job.part(placement.part_id),
        ids.index(placement.part_id),
        name,
        box_of(job, placement),
        cut_outline(job, job.part(placement.part_id)),
    )
