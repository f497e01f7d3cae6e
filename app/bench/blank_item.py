"""One blank on the bench with all that lies on it, painted from a picture kept of it.

A sharp picture is painted bit by bit, so that nothing else has to wait for it; until it
is ready the blank shows an older picture at another zoom, or its parts in the plainest
way. Blanks much larger on screen than the bench keep a picture of what is seen only.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from PySide6.QtCore import QRect, QRectF, Qt
from PySide6.QtGui import QFont, QPainter, QPainterPath, QPixmap, QTransform
from PySide6.QtWidgets import QGraphicsItem, QStyleOptionGraphicsItem, QWidget

from ...nesting.model.job import Job
from ...nesting.model.motion import Point
from .colours import Theme
from .copies import Key, key_of
from .painting import (
    Look,
    cosmetic,
    grain_lines,
    looks_of,
    paint_board,
    paint_channels,
    paint_keep_outs,
    paint_parts,
    paint_plainly,
    paint_screws,
    pixels,
    plain_paths,
)
from .sound import sound
from .words import TIMES

Paint = Callable[[QPainter], None]

LARGEST_PICTURE = 6e6
"""Of blanks larger on screen than this, in pixels, only what is seen is kept."""

COARSEST = 2.5
"""Pictures are not shown at more than this many times their own size."""

SLICE = 6
"""So many parts are painted in one go."""

FEW = 12
"""Where more has changed, and most of what lies there, a blank is painted anew."""

ROOM = 30.0
"""Kept free round a blank for channels and lines, mm."""


class Picture:
    """A picture of an area of a blank, painted bit by bit.

    Parameters
    ----------
    area : QRectF
        What it shows, in the blank's coordinates, mm.
    scale : float
        Logical pixels a millimetre.
    ratio : float
        Device pixels a logical one.
    font : QFont
        What it is written with.
    steps : sequence of callable of QPainter
        Paint it, one after another.
    """

    def __init__(
        self,
        area: QRectF,
        scale: float,
        ratio: float,
        font: QFont,
        steps: Sequence[Paint],
    ) -> None:
        self.area = area
        self.scale = scale
        self.ratio = ratio
        self._font = font
        self._steps = list(steps)
        wide, high = area.width() * scale * ratio, area.height() * scale * ratio
        self.pixmap = QPixmap(max(math.ceil(wide), 1), max(math.ceil(high), 1))
        self.pixmap.setDevicePixelRatio(ratio)
        self.pixmap.fill(Qt.GlobalColor.transparent)

    @property
    def finished(self) -> bool:
        """Whether nothing is left to paint."""
        return not self._steps

    def fits(self, scale: float, ratio: float, area: QRectF) -> bool:
        """Return whether it is right for a zoom and shows all of an area."""
        same = self.scale == scale and self.ratio == ratio
        return same and self.area.adjusted(-1e-6, -1e-6, 1e-6, 1e-6).contains(area)

    def run(self, until: float) -> bool:
        """Paint on until a time (`time.perf_counter`); return whether it is finished.

        At least one step is done, so that it ends some time.
        """
        if self._steps:
            painter = QPainter(self.pixmap)
            self.place(painter)
            while True:
                self._steps.pop(0)(painter)
                if not self._steps or time.perf_counter() >= until:
                    break
            painter.end()
        return self.finished

    def place(self, painter: QPainter) -> None:
        """Let a painter count in the blank's millimetres."""
        s, area = self.scale, self.area
        painter.setTransform(
            QTransform(s, 0, 0, -s, -area.left() * s, area.bottom() * s)
        )
        painter.setFont(self._font)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)

    def mend(self, boxes: Sequence[QRectF], paint: Callable[..., None]) -> None:
        """Paint some boxes anew.

        Parameters
        ----------
        paint : callable of QPainter and QRectF
            Paints what a box shows.
        """
        painter = QPainter(self.pixmap)
        for box in boxes:
            self.place(painter)
            # Whole pixels, or a seam would show where the old and the new meet.
            dirty = box.intersected(self.area)
            pixel = painter.worldTransform().mapRect(dirty).toAlignedRect()
            inverse, _ = painter.worldTransform().inverted()
            painter.save()
            painter.resetTransform()
            painter.setClipRect(pixel)
            clear = QPainter.CompositionMode.CompositionMode_Clear
            painter.setCompositionMode(clear)
            painter.fillRect(pixel, Qt.GlobalColor.transparent)
            over = QPainter.CompositionMode.CompositionMode_SourceOver
            painter.setCompositionMode(over)
            self.place(painter)
            paint(painter, inverse.mapRect(QRectF(pixel)))
            painter.restore()
        painter.end()


@dataclass(frozen=True, eq=False)
class _Rough:
    """Plain paths, and what they were made of."""

    looks: list[Look]
    lifted: frozenset[Key]
    level: int
    paths: list[tuple[int, QPainterPath]]


class BlankItem(QGraphicsItem):
    """One blank with everything on it but what is in the hand.

    Parameters
    ----------
    index : int
        Its place in the layout.
    unfinished : callable
        Called when a sharp picture is still wanted.
    """

    def __init__(
        self,
        index: int,
        theme: Theme,
        font: QFont,
        unfinished: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__()
        self.index = index
        self.theme = theme
        self.font = font
        self.looks: list[Look] = []
        self.lifted: frozenset[Key] = frozenset()
        self.chosen_keep_out = -1
        self.titles: tuple[str, ...] = ("",)
        self.screws: tuple[Point, ...] = ()
        self.hurried = False
        self.until = math.inf
        self._unfinished = unfinished
        self._job: Job | None = None
        self._grain = QPainterPath()
        self._known: tuple[Any, ...] = ()
        self._room = QRectF()
        self._picture: Picture | None = None
        self._coming: Picture | None = None
        self._dirty: list[QRectF] = []
        self._rough: _Rough | None = None
        self._rough_seen = False
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)
        self.setFlag(QGraphicsItem.GraphicsItemFlag.ItemUsesExtendedStyleOption)

    # ------------------------------------------------------------ what it shows

    def show_job(self, job: Job, names: dict[Key, str]) -> None:
        """Take over what lies on the blank; repaint only if something changed."""
        stock = job.stock_of(self.index)
        placements = job.layout.on(self.index)
        parts = tuple(id(job.part(p.part_id)) for p in placements)
        cutting = (job.cutting, job.bed, job.units, job.relief)
        known = (id(stock), placements, parts, cutting)
        if known == self._known:
            self._job = job
            return
        fresh = self._known[:1] != known[:1]
        if fresh:
            self._grain = grain_lines(stock, 7 + self.index)
        fresh = fresh or self._known[3:] != known[3:]
        self._known = known
        self._job = job
        old = {_identity(look): look for look in self.looks}
        self.looks = looks_of(job, self.index, names)
        self._name(job)
        room = self._covers(job)
        if room != self._room:
            self.prepareGeometryChange()
            self._room = room
            fresh = True
        if fresh:
            self.repaint_all()
            return
        new = {_identity(look): look for look in self.looks}
        changed = old.keys() ^ new.keys()
        if len(changed) > FEW and len(changed) > len(new):
            self.repaint_all()
            return
        for key in changed:
            self._repaint(old.get(key) or new[key])

    def _name(self, job: Job) -> None:
        stock = job.stock_of(self.index)
        area = sum(look.part.area for look in self.looks)
        width, height = stock.outline.size
        factor, unit = (1 / 25.4, "in") if job.units == "in" else (1.0, "mm")
        thick = f"{round(stock.thickness * factor, 3):g} {unit}"
        thick = thick if stock.thickness else ""
        number, share = str(self.index + 1), f"{100.0 * area / stock.area:.0f} %"
        wide, high = round(width * factor, 2), round(height * factor, 2)
        size = f"{wide:g} {TIMES} {high:g} {unit}"
        name = stock.name if thick in stock.name else f"{stock.name} {thick}"
        # Each leaves more out; none is cut off in the middle of a word.
        chosen = (
            (number, name, size, share),
            (number, name, share),
            (number, size, share),
            (number, thick, share),
            (number, share),
            (number,),
        )
        self.titles = tuple("   ".join(filter(None, words)) for words in chosen)

    def _covers(self, job: Job) -> QRectF:
        """Return the board with some room, and whatever hangs over its edge."""
        x0, y0, x1, y1 = job.stock_of(self.index).outline.bounds
        room = ROOM + job.cutting.cutter
        covers = QRectF(x0, y0, x1 - x0, y1 - y0).adjusted(-room, -room, room, room)
        for look in self.looks:
            a, b, c, d = look.box
            box = QRectF(a, b, c - a, d - b)
            # Only what really sticks out may change it: that costs a new picture.
            if not covers.contains(box):
                covers = covers.united(box.adjusted(-room, -room, room, room))
        if job.bed is not None:
            covers = covers.united(self._bed().adjusted(-2, -2, 2, 2))
        return covers

    def _bed(self) -> QRectF:
        assert self._job is not None and self._job.bed is not None
        x0, y0, _, _ = self._job.stock_of(self.index).outline.bounds
        return QRectF(x0, y0, *self._job.bed)

    def repaint_all(self) -> None:
        """Forget the picture kept of the blank."""
        self._picture = self._coming = None
        self._dirty = []
        self.update()

    def _repaint(self, look: Look) -> None:
        x0, y0, x1, y1 = look.box
        room = 4.0 + (self._job.cutting.gap if self._job else 0.0)
        box = QRectF(x0, y0, x1 - x0, y1 - y0)
        box = box.adjusted(-room, -room, room, room)
        self._dirty.append(box)
        self._coming = None
        self.update(box)

    def lift(self, keys: Iterable[Key]) -> None:
        """Leave copies out, because they are in the hand."""
        lifted = frozenset(keys)
        if lifted != self.lifted:
            changed = lifted ^ self.lifted
            self.lifted = lifted
            for look in self.looks:
                if key_of(look.placement) in changed:
                    self._repaint(look)

    @sound
    def boundingRect(self) -> QRectF:
        """Return what it covers, mm."""
        return self._room

    # ------------------------------------------------------------ painting

    @sound
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
        scale, ratio = pixels(painter), painter.device().devicePixelRatioF()
        exposed = option.exposedRect.intersected(self._room)
        self._mend()
        picture = self._picture
        if picture is None or (picture.scale, picture.ratio) != (scale, ratio):
            picture = self._now(scale, ratio, exposed, painter)
        if picture is None:
            self._paint_roughly(painter, exposed)
            return
        self._paint_picture(painter, picture, exposed)
        if self._rough_seen:
            # Only what was exposed is sharp now; the rest would stay as it is.
            self._unfinished()
        for rest in _outside(exposed, picture.area):
            self._paint(painter, rest)

    def _now(
        self, scale: float, ratio: float, exposed: QRectF, painter: QPainter
    ) -> Picture | None:
        """Return a picture for this zoom if there is time for it now."""
        if self.hurried or time.perf_counter() >= self.until:
            self._unfinished()
            return None
        area = self._wanted(scale, ratio, _seen(painter).intersected(self._room))
        if self._coming is None or not self._coming.fits(scale, ratio, area):
            self._coming = self._begun(area, scale, ratio)
        if not self._coming.run(self.until):
            self._unfinished()
            return None
        self._picture, self._coming = self._coming, None
        return self._picture

    def _wanted(self, scale: float, ratio: float, seen: QRectF) -> QRectF:
        """Return the area a picture should show: all of it, or what is seen."""
        box = self._room
        if box.width() * box.height() * (scale * ratio) ** 2 <= LARGEST_PICTURE:
            return QRectF(box)
        return seen

    def _begun(self, area: QRectF, scale: float, ratio: float) -> Picture:
        return Picture(area, scale, ratio, self.font, self._steps(area, scale))

    def is_blurred(self, scale: float, ratio: float, seen: QRectF) -> bool:
        """Return whether a sharp picture of what is seen has still to be painted."""
        self._mend()
        area = self._wanted(scale, ratio, seen.intersected(self._room))
        fits = self._picture is not None and self._picture.fits(scale, ratio, area)
        return self._rough_seen or not fits

    def sharpen(self, scale: float, ratio: float, seen: QRectF, until: float) -> None:
        """Go on painting a sharp picture of what is seen, until a time."""
        area = self._wanted(scale, ratio, seen.intersected(self._room))
        if area.isEmpty():
            return
        if self._picture is not None and self._picture.fits(scale, ratio, area):
            self._rough_seen = False
            self.update()
            return
        if self._coming is None or not self._coming.fits(scale, ratio, area):
            self._coming = self._begun(area, scale, ratio)
        if self._coming.run(until):
            self._picture, self._coming = self._coming, None
            self._rough_seen = False
            self.update()

    def _mend(self) -> None:
        """Paint what changed into the picture kept."""
        if not self._dirty:
            return
        boxes, self._dirty = self._dirty, []
        if self._picture is None:
            return
        whole = _union(boxes).intersected(self._picture.area)
        size = self._picture.area
        if whole.width() * whole.height() > 0.5 * size.width() * size.height() and (
            len(boxes) > 6
        ):
            self._picture = None
            return
        self._picture.mend([whole] if len(boxes) > 12 else boxes, self._paint)

    def _paint_picture(
        self, painter: QPainter, picture: Picture, exposed: QRectF
    ) -> None:
        """Paint what of a picture is to be painted now; large pictures are slow."""
        world, ratio = painter.worldTransform(), picture.ratio
        target = world.mapRect(picture.area)
        left, top = round(target.left()), round(target.top())
        piece = world.mapRect(exposed.intersected(picture.area)).toAlignedRect()
        piece.adjust(-1, -1, 1, 1)
        piece = piece.intersected(
            QRect(left, top, *picture.pixmap.deviceIndependentSize().toSize().toTuple())
        )
        source = QRectF(piece.translated(-left, -top))
        source = QRectF(source.topLeft() * ratio, source.size() * ratio)
        painter.save()
        painter.resetTransform()
        painter.drawPixmap(QRectF(piece), picture.pixmap, source)
        painter.restore()

    def _paint_roughly(self, painter: QPainter, exposed: QRectF) -> None:
        """Paint an older picture scaled, and parts in the plainest way beside it."""
        job = self._job
        assert job is not None
        self._rough_seen = True
        picture = self._picture
        if picture is not None and pixels(painter) > COARSEST * picture.scale:
            picture = None
        rest = _outside(exposed, picture.area) if picture is not None else [exposed]
        for box in rest:
            painter.save()
            painter.setClipRect(box, Qt.ClipOperation.IntersectClip)
            stock = job.stock_of(self.index)
            paint_plainly(painter, stock, self._plain(pixels(painter)), self.theme)
            painter.restore()
        if picture is not None:
            target = painter.worldTransform().mapRect(picture.area)
            painter.save()
            painter.resetTransform()
            whole = QRectF(picture.pixmap.rect())
            painter.drawPixmap(target, picture.pixmap, whole)
            painter.restore()

    def _plain(self, scale: float) -> list[tuple[int, QPainterPath]]:
        """Return the plain paths for about this zoom, from memory if nothing moved."""
        level = math.floor(math.log2(scale))
        known = self._rough
        if (
            known is None
            or known.looks is not self.looks
            or (known.lifted, known.level) != (self.lifted, level)
        ):
            shown = [
                look for look in self.looks if key_of(look.placement) not in self.lifted
            ]
            paths, whole = plain_paths(shown, 0.5**level, self.until)
            known = _Rough(self.looks, self.lifted, level, paths)
            self._rough = known if whole else None
        return known.paths

    def _looks_in(self, box: QRectF, scale: float) -> list[Look]:
        room = (self._job.cutting.gap if self._job else 0.0) + 2.0 / scale
        left, right = box.left() - room, box.right() + room
        low, high = box.top() - room, box.bottom() + room
        return [
            look
            for look in self.looks
            if look.box[0] < right
            and look.box[2] > left
            and look.box[1] < high
            and look.box[3] > low
            and key_of(look.placement) not in self.lifted
        ]

    def _steps(self, area: QRectF, scale: float) -> list[Paint]:
        """Return what paints an area, from the board up, in small bits."""
        job = self._job
        assert job is not None
        stock, theme, font = job.stock_of(self.index), self.theme, self.font
        cutter = job.cutting.cutter
        looks = self._looks_in(area, scale)
        bits = [looks[k : k + SLICE] for k in range(0, len(looks), SLICE)]
        steps: list[Paint] = [
            lambda p: paint_board(p, stock, job.cutting, theme, self._grain)
        ]
        for bit in bits:
            steps.append(partial(paint_channels, looks=bit, cutter=cutter, theme=theme))
        steps.append(
            lambda p: paint_keep_outs(p, stock, theme, font, self.chosen_keep_out)
        )
        for bit in bits:
            steps.append(partial(paint_parts, looks=bit, theme=theme, font=font))
        if job.bed is not None:
            steps.append(self._paint_bed)
        if self.screws:
            steps.append(partial(paint_screws, spots=self.screws, theme=theme))
        return steps

    def show_screws(self, spots: Sequence[Point]) -> None:
        """Show where screws may go."""
        if tuple(spots) != self.screws:
            self.screws = tuple(spots)
            self.repaint_all()

    def _paint(self, painter: QPainter, area: QRectF) -> None:
        """Paint an area at once."""
        painter.save()
        painter.setClipRect(area, Qt.ClipOperation.IntersectClip)
        painter.setFont(self.font)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        for step in self._steps(area, pixels(painter)):
            step(painter)
        painter.restore()

    def _paint_bed(self, painter: QPainter) -> None:
        painter.setPen(cosmetic(self.theme.accent, 1.2, Qt.PenStyle.DashDotLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(self._bed())


def _seen(painter: QPainter) -> QRectF:
    """Return what of the blank a painter's device can show, mm."""
    device = painter.device()
    inverse, _ = painter.worldTransform().inverted()
    return inverse.mapRect(QRectF(0, 0, device.width(), device.height()))


def _outside(box: QRectF, area: QRectF) -> list[QRectF]:
    """Return what of a box lies outside an area, as at most four boxes."""
    inner = box.intersected(area)
    if inner.isEmpty():
        return [] if box.isEmpty() else [box]
    found = [
        QRectF(box.left(), box.top(), box.width(), inner.top() - box.top()),
        QRectF(box.left(), inner.bottom(), box.width(), box.bottom() - inner.bottom()),
        QRectF(box.left(), inner.top(), inner.left() - box.left(), inner.height()),
        QRectF(inner.right(), inner.top(), box.right() - inner.right(), inner.height()),
    ]
    return [b for b in found if b.width() > 1e-6 and b.height() > 1e-6]


def _union(boxes: Sequence[QRectF]) -> QRectF:
    """Return the box round some boxes."""
    whole = QRectF()
    for box in boxes:
        whole = whole.united(box)
    return whole


def _identity(look: Look) -> tuple[Any, ...]:
    """Return what tells two looks apart; parts by identity, which is quick."""
    return look.placement, look.colour, look.name, id(look.part)
