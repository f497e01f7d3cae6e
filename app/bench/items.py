"""What lies on the bench: blanks with their parts, and what floats above them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFont,
    QPainter,
    QPainterPath,
    QPen,
    QPixmap,
    QTransform,
)
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from ...nesting.model.job import Job
from ...nesting.model.motion import Motion, Point
from ...nesting.model.outline import Outline
from ...nesting.model.placement import Placement
from .arrange import box_of
from .colours import Theme
from .painting import (
    STORE,
    Look,
    cosmetic,
    grain_lines,
    looks_of,
    paint_board,
    paint_channels,
    paint_datum,
    paint_keep_outs,
    paint_parts,
    paint_rulers,
    pixels,
    text_on_screen,
    transform_of,
)
from .paths import polygon_of
from .words import TIMES

Key = tuple[str, int]


LARGEST_PICTURE = 6e6
"""Blanks larger on screen than this, in pixels, are painted afresh each time."""

MANY = 60
"""More selected parts than this are outlined in a plainer way."""


class BlankItem(QGraphicsItem):
    """One blank with everything on it but what is in the hand.

    Parameters
    ----------
    index : int
        Its place in the layout.
    """

    def __init__(self, index: int, theme: Theme, font: QFont) -> None:
        super().__init__()
        self.index = index
        self.theme = theme
        self.font = font
        self.looks: list[Look] = []
        self.lifted: frozenset[Key] = frozenset()
        self.chosen_keep_out = -1
        self._job: Job | None = None
        self._title = ""
        self._grain = QPainterPath()
        self._known: tuple[Any, ...] = ()
        self._picture: QPixmap | None = None
        self._picture_scale = 0.0
        self._dirty: list[QRectF] = []
        self.hurried = False
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemUsesExtendedStyleOption)

    def show_job(self, job: Job, names: dict[Key, str]) -> None:
        """Take over what lies on the blank; repaint only if something changed."""
        stock = job.stock_of(self.index)
        placements = job.layout.on(self.index)
        parts = tuple(id(job.part(p.part_id)) for p in placements)
        cutting = (job.cutting, job.bed, job.units)
        known = (id(stock), placements, parts, cutting)
        if known == self._known:
            self._job = job
            return
        fresh = self._known[:1] != known[:1]
        if fresh:
            self.prepareGeometryChange()
            self._grain = grain_lines(stock, 7 + self.index)
        fresh = fresh or self._known[3:] != known[3:]
        self._known = known
        self._job = job
        old = {_identity(look): look for look in self.looks}
        self.looks = looks_of(job, self.index, names)
        area = sum(look.part.area for look in self.looks)
        width, height = stock.outline.size
        factor, unit = (1 / 25.4, "in") if job.units == "in" else (1.0, "mm")
        board = " ".join(
            word
            for word in (
                stock.name,
                f"{stock.thickness * factor:g} {unit}" if stock.thickness else "",
            )
            if word
        )
        self._title = "   ".join(
            (
                str(self.index + 1),
                board,
                f"{width * factor:g} {TIMES} {height * factor:g} {unit}",
                f"{100.0 * area / stock.area:.0f} %",
            )
        )
        if fresh:
            self.repaint_all()
            return
        new = {_identity(look): look for look in self.looks}
        for key in old.keys() ^ new.keys():
            self._repaint(old.get(key) or new[key])
        # The title stands above the board and tells the yield.
        x0, _, x1, y1 = stock.outline.bounds
        top = self.boundingRect().bottom()
        self._soil(QRectF(x0 - 20.0, y1 + 1.0, x1 - x0, top - y1))

    def repaint_all(self) -> None:
        """Forget the picture kept of the blank."""
        self._picture = None
        self.update()

    def _repaint(self, look: Look) -> None:
        x0, y0, x1, y1 = look.box
        room = 4.0 + (self._job.cutting.gap if self._job else 0.0)
        box = QRectF(x0, y0, x1 - x0, y1 - y0)
        self._soil(box.adjusted(-room, -room, room, room))

    def _soil(self, box: QRectF) -> None:
        """Have a box of the blank painted anew."""
        self._dirty.append(box)
        self.update(box)

    def lift(self, keys: Iterable[Key]) -> None:
        """Leave copies out, because they are in the hand."""
        lifted = frozenset(keys)
        if lifted != self.lifted:
            changed = lifted ^ self.lifted
            self.lifted = lifted
            for look in self.looks:
                if (look.placement.part_id, look.placement.copy) in changed:
                    self._repaint(look)

    def boundingRect(self) -> QRectF:
        """Return what it covers, with room for rulers and its title."""
        if self._job is None:
            return QRectF()
        x0, y0, x1, y1 = self._job.stock_of(self.index).outline.bounds
        reach_x, below = 0.055 * (x1 - x0) + 22.0, 0.055 * (y1 - y0) + 26.0
        above = 0.12 * (y1 - y0) + 70.0
        room = QRectF(x0, y0, x1 - x0, y1 - y0).adjusted(
            -reach_x, -below, reach_x, above
        )
        if self._job.bed is not None:
            room = room.united(self._bed().adjusted(-2, -2, 2, 2))
        return room

    def _bed(self) -> QRectF:
        assert self._job is not None and self._job.bed is not None
        x0, y0, _, _ = self._job.stock_of(self.index).outline.bounds
        return QRectF(x0, y0, *self._job.bed)

    def paint(
        self,
        painter: QPainter,
        option: QStyleOptionGraphicsItem,
        widget: QWidget | None = None,
    ) -> None:
        """Paint it, from the picture kept of it where that will do."""
        job = self._job
        if job is None or self.index >= len(job.layout.blanks):
            return
        scale = pixels(painter)
        ratio = painter.device().devicePixelRatioF()
        box = self.boundingRect()
        if box.width() * box.height() * (scale * ratio) ** 2 > LARGEST_PICTURE:
            self._picture = None
            self._paint(painter, option.exposedRect)
            return
        right = self._picture is not None and self._picture_scale == scale * ratio
        if not right and self.hurried and self._picture is None:
            painter.fillRect(
                QRectF(*_sides(job.stock_of(self.index).outline.bounds)),
                self.theme.board,
            )
            return
        if not right and not self.hurried:
            self._picture = self._drawn(box, scale, ratio)
            self._picture_scale = scale * ratio
        elif right and self._dirty:
            self._redraw(box, scale)
        picture = self._picture
        assert picture is not None
        target = painter.worldTransform().mapRect(box)
        painter.save()
        painter.resetTransform()
        if right or not self.hurried:
            painter.drawPixmap(
                QPointF(round(target.left()), round(target.top())), picture
            )
        else:
            painter.drawPixmap(target, picture, QRectF(picture.rect()))
        painter.restore()

    def is_blurred(self, scale: float) -> bool:
        """Return whether the picture kept was made for another zoom."""
        box = self.boundingRect()
        small = box.width() * box.height() * scale**2 <= LARGEST_PICTURE
        return small and (self._picture is None or self._picture_scale != scale)

    def refine(self, scale: float, ratio: float) -> None:
        """Make the picture anew for a zoom."""
        box = self.boundingRect()
        if box.width() * box.height() * (scale * ratio) ** 2 <= LARGEST_PICTURE:
            self._picture = self._drawn(box, scale, ratio)
            self._picture_scale = scale * ratio
        self.update()

    def _drawn(self, box: QRectF, scale: float, ratio: float) -> QPixmap:
        wide, high = box.width() * scale * ratio, box.height() * scale * ratio
        picture = QPixmap(max(math.ceil(wide), 1), max(math.ceil(high), 1))
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        self._place(painter, box, scale)
        self._paint(painter, box)
        painter.end()
        self._dirty = []
        return picture

    def _redraw(self, box: QRectF, scale: float) -> None:
        """Paint only what changed into the picture kept."""
        assert self._picture is not None
        pieces, self._dirty = self._dirty, []
        if len(pieces) > 12:
            pieces = [_union(pieces)]
        painter = QPainter(self._picture)
        for piece in pieces:
            self._place(painter, box, scale)
            # Whole pixels, or a seam would show where the old and the new meet.
            dirty = piece.intersected(box)
            area = painter.worldTransform().mapRect(dirty).toAlignedRect()
            inverse, _ = painter.worldTransform().inverted()
            painter.save()
            painter.resetTransform()
            painter.setClipRect(area)
            clear = QPainter.CompositionMode.CompositionMode_Clear
            painter.setCompositionMode(clear)
            painter.fillRect(area, Qt.GlobalColor.transparent)
            over = QPainter.CompositionMode.CompositionMode_SourceOver
            painter.setCompositionMode(over)
            self._place(painter, box, scale)
            self._paint(painter, inverse.mapRect(QRectF(area)))
            painter.restore()
        painter.end()

    def _place(self, painter: QPainter, box: QRectF, scale: float) -> None:
        painter.setTransform(
            QTransform(scale, 0, 0, -scale, -box.left() * scale, box.bottom() * scale)
        )
        painter.setFont(self.font)

    def _paint(self, painter: QPainter, exposed: QRectF) -> None:
        job = self._job
        assert job is not None
        stock = job.stock_of(self.index)
        scale = pixels(painter)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        paint_board(painter, stock, job.cutting, self.theme, self._grain)
        room = job.cutting.gap + 2.0 / scale
        left, right = exposed.left() - room, exposed.right() + room
        low, high = exposed.top() - room, exposed.bottom() + room
        looks = [
            look
            for look in self.looks
            if look.box[0] < right
            and look.box[2] > left
            and look.box[1] < high
            and look.box[3] > low
            and (look.placement.part_id, look.placement.copy) not in self.lifted
        ]
        paint_channels(painter, looks, job.cutting.cutter, self.theme)
        paint_keep_outs(painter, stock, self.theme, self.font, self.chosen_keep_out)
        paint_parts(painter, looks, self.theme, self.font)
        if job.bed is not None:
            painter.setPen(cosmetic(self.theme.accent, 1.2, Qt.PenStyle.DashDotLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self._bed())
        width = (stock.outline.size[0]) * scale
        if width > 120:
            x0, y0, _, y1 = stock.outline.bounds
            if (
                exposed.bottom() > y1 or exposed.top() < y0 or exposed.left() < x0
            ):  # only where the rim shows
                paint_rulers(painter, stock, self.theme, self.font, job.units)
                title = QFont(self.font)
                title.setBold(True)
                text_on_screen(
                    painter,
                    (x0, y1),
                    self._title if width > 260 else str(self.index + 1),
                    title,
                    self.theme.ink,
                    Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignBottom,
                    offset=(-3, -4),
                )
            paint_datum(painter, stock, job.cutting.datum, self.theme)


class SelectionItem(QGraphicsItem):
    """Outlines of what is selected, of the copy the keys are at, and of conflicts."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.theme = theme
        self.paths: list[QPainterPath] = []
        self.crowd: list[tuple[Outline, Motion]] = []
        self.current: QPainterPath | None = None
        self.problems: list[QPainterPath] = []
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
    ) -> None:
        """Show these outlines, in the bench's coordinates.

        Parameters
        ----------
        crowd : sequence of tuple of Outline and Motion
            Selected parts that are too many to be outlined one by one.
        crowd_box : QRectF or None
            What they cover.
        """
        old = (self.paths, self.problems, self.current, self.crowd)
        if not (selected or problems or crowd or current or any(old)):
            return
        self.prepareGeometryChange()
        self.crowd = list(crowd)
        self.paths, self.current, self.problems = selected, current, problems
        box = QRectF() if crowd_box is None else QRectF(crowd_box)
        for path in (*selected, *problems, *([current] if current else [])):
            box = box.united(path.controlPointRect())
        self._box = box
        self.update()

    def boundingRect(self) -> QRectF:
        """Return what it covers, with room for wide lines at a small zoom."""
        room = 60.0
        return self._box.adjusted(-room, -room, room, room)

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
        for outline, motion in self.crowd:
            ring = motion.points(STORE.coarse(outline, 2.0 * pixel)[0])
            x, y = ring[0]
            size = 2.0 * float(abs(ring - ring[0]).max())
            if clip.adjusted(-size, -size, size, size).contains(x, y):
                painter.drawPolygon(polygon_of(ring))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setBrush(Qt.BrushStyle.NoBrush)


def _sides(box: tuple[float, float, float, float]) -> tuple[float, ...]:
    """Return a box as x, y, width and height."""
    return box[0], box[1], box[2] - box[0], box[3] - box[1]


def _union(boxes: Sequence[QRectF]) -> QRectF:
    """Return the box round some boxes."""
    whole = QRectF()
    for box in boxes:
        whole = whole.united(box)
    return whole


def _identity(look: Look) -> tuple[Any, ...]:
    """Return what tells two looks apart; parts by identity, which is quick."""
    return look.placement, look.colour, look.name, id(look.part)


def paint_problem(painter: QPainter, path: QPainterPath, theme: Theme) -> None:
    """Paint a conflict: hatching and a dashed edge."""
    painter.setBrush(QBrush(theme.problem, Qt.BrushStyle.BDiagPattern))
    painter.setPen(cosmetic(theme.problem, 2.5, Qt.PenStyle.DashLine))
    painter.drawPath(path)


def paint_warning(painter: QPainter, path: QPainterPath, theme: Theme) -> None:
    """Paint a warning sign at the upper edge of an outline."""
    box = path.controlPointRect()
    at = painter.worldTransform().map(QPointF(box.center().x(), box.bottom()))
    painter.save()
    painter.resetTransform()
    sign = QPainterPath(QPointF(at.x(), at.y() - 11))
    sign.lineTo(at.x() + 12, at.y() + 10)
    sign.lineTo(at.x() - 12, at.y() + 10)
    sign.closeSubpath()
    pen = QPen(theme.problem, 2.5)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    painter.setPen(pen)
    painter.setBrush(theme.halo)
    painter.drawPath(sign)
    painter.setPen(QPen(theme.problem, 2.2))
    painter.drawLine(QPointF(at.x(), at.y() - 3), QPointF(at.x(), at.y() + 3))
    painter.drawPoint(QPointF(at.x(), at.y() + 7))
    painter.restore()


class HandItem(QGraphicsItem):
    """What is in the hand: parts at their place, the wish, the distance, figures."""

    def __init__(self, theme: Theme, font: QFont) -> None:
        super().__init__()
        self.theme = theme
        self.font = font
        self.looks: list[Look] = []
        self.cutter = 0.0
        self.origin: Point = (0.0, 0.0)
        self.wish: QPainterPath | None = None
        self.line: tuple[Point, Point] | None = None
        self.line_text = ""
        self.bad: list[QPainterPath] = []
        self._box = QRectF()
        self.setZValue(20)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.hide()

    def show_hand(
        self,
        looks: Sequence[Look],
        origin: Point,
        cutter: float,
        wish: QPainterPath | None = None,
        line: tuple[Point, Point] | None = None,
        line_text: str = "",
        bad: Sequence[QPainterPath] = (),
    ) -> None:
        """Show parts on the blank whose (0, 0) lies at `origin` on the bench."""
        self.prepareGeometryChange()
        self.looks = list(looks)
        self.origin = origin
        self.cutter = cutter
        self.wish = wish
        self.line = line
        self.line_text = line_text
        self.bad = list(bad)
        box = QRectF()
        for look in self.looks:
            x0, y0, x1, y1 = look.box
            box = box.united(QRectF(x0, y0, x1 - x0, y1 - y0))
        box.translate(*origin)
        if wish is not None:
            box = box.united(wish.controlPointRect())
        for path in self.bad:
            box = box.united(path.controlPointRect())
        if line is not None:
            (ax, ay), (bx, by) = line
            box = box.united(QRectF(QPointF(ax, ay), QPointF(bx, by)).normalized())
        self._box = box
        self.show()
        self.update()

    def boundingRect(self) -> QRectF:
        """Return what it covers, with room for figures beside it."""
        scale = 1.0
        for view in self.scene().views():
            scale = view.transform().m11()
        room, side = 24.0 / scale + self.cutter, 130.0 / scale
        return self._box.adjusted(-side, -room, side, room)

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
        for path in self.bad:
            paint_problem(painter, path, self.theme)
            paint_warning(painter, path, self.theme)
        if self.wish is not None:
            painter.setPen(cosmetic(self.theme.accent, 1.3, Qt.PenStyle.DotLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPath(self.wish)
        if self.line is not None:
            paint_distance(painter, self.line, self.line_text, self.theme, self.font)


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

    def boundingRect(self) -> QRectF:
        """Return what it covers."""
        return self._box

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
    )
