"""What part of the bench is seen: zoom, pan, fit, and when sharp pictures are made."""

from __future__ import annotations

import math
import time
from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, QPointF, QRectF, QSize, Qt, QTimer
from PySide6.QtGui import QTransform, QWheelEvent

from ...nesting.model.motion import Point
from . import arrange
from .copies import Key
from .gestures import CTRL, SHIFT

if TYPE_CHECKING:
    from .view import BenchView

ZOOM_STEP = 1.2
REST = 90
"""Sharp pictures are made when zooming has rested this long, milliseconds."""

EDGES = (52, 40)
"""Room beside, and above and below, what is shown as large as possible, pixels."""

USUAL_LINE = 17.0
"""Height of a line of words for which that room was measured, pixels."""

AT_ONCE = 0.012
"""Sharp pictures are painted at once while that takes no longer, seconds."""

BIT = 0.008
"""So long sharp pictures are painted on before the window may breathe, seconds."""


CROWD = 100
"""Of more copies than this their blanks are brought into view."""


class Camera:
    """Moves the view over the bench.

    Parameters
    ----------
    view : BenchView
        The bench.
    """

    def __init__(self, view: BenchView) -> None:
        self._view = view
        self._fitted = True
        self._rest = QTimer(view)
        self._rest.setSingleShot(True)
        self._rest.timeout.connect(lambda: self._sharpen())

    @property
    def fitted(self) -> bool:
        """Whether all blanks are shown as large as possible, and are to stay so.

        Where everything is seen scroll bars would say otherwise: there is room round
        the blanks to scroll into. They come with the first zoom or scroll.
        """
        return self._fitted

    @fitted.setter
    def fitted(self, fitted: bool) -> None:
        self._fitted = fitted
        wanted = self._view.scrolls and not fitted
        policy = Qt.ScrollBarPolicy.ScrollBarAlwaysOff
        if wanted:
            policy = Qt.ScrollBarPolicy.ScrollBarAsNeeded
        if self._view.horizontalScrollBarPolicy() != policy:
            self._view.setHorizontalScrollBarPolicy(policy)
            self._view.setVerticalScrollBarPolicy(policy)

    def scale_now(self) -> float:
        """Return how many pixels a millimetre takes."""
        return self._view.transform().m11()

    def zoom_by(self, factor: float, at: QPointF | None = None) -> None:
        """Zoom, keeping what is under a point of the viewport where it is."""
        scale = min(max(self.scale_now() * factor, 0.005), 400.0)
        self.fitted = False
        place = QPointF(self._view.viewport().rect().center()) if at is None else at
        there = self.scene_at(place)
        self._view.setTransform(QTransform.fromScale(scale, -scale))
        self.hurry()
        moved = self._view.mapFromScene(there)
        bars = self._view.horizontalScrollBar(), self._view.verticalScrollBar()
        bars[0].setValue(bars[0].value() + moved.x() - round(place.x()))
        bars[1].setValue(bars[1].value() + moved.y() - round(place.y()))
        self._view._selected.prepareGeometryChange()
        self._rescale(scale)

    def _rescale(self, scale: float) -> None:
        for frame in self._view.frame_items:
            frame.set_scale(scale)
        self._view.overview.follow()
        self._view.zoomed.emit(scale)

    def hurry(self) -> None:
        """Show scaled pictures while zooming; make sharp ones when that rests."""
        for item in self._view.blank_items:
            item.hurried = True
        self._rest.start(REST)

    def begin_frame(self) -> None:
        """Grant a time within which sharp pictures may be painted at once."""
        until = time.perf_counter() + AT_ONCE
        for item in self._view.blank_items:
            item.until = until

    def sharpen_soon(self) -> None:
        """Go on with sharp pictures as soon as nothing else is to be done."""
        if not self._rest.isActive():
            self._rest.start(0)

    def sharpen_all(self) -> None:
        """Paint every sharp picture now, however long it takes."""
        while self._sharpen(math.inf):
            pass

    def _sharpen(self, until: float = 0.0) -> bool:
        """Paint for a short time on sharp pictures, the nearest to the middle first.

        Returns
        -------
        bool
            Whether there is more to paint.
        """
        view = self._view
        until = until or time.perf_counter() + BIT
        ratio, scale = view.devicePixelRatioF(), self.scale_now()
        seen = self.seen()
        blurred = []
        for item in view.blank_items:
            item.hurried = False
            if item.sceneBoundingRect().intersects(seen) and item.is_blurred(
                scale, ratio, seen.translated(-item.pos())
            ):
                blurred.append(item)
        middle = seen.center()
        blurred.sort(
            key=lambda b: (b.sceneBoundingRect().center() - middle).manhattanLength()
        )
        for item in blurred:
            item.sharpen(scale, ratio, seen.translated(-item.pos()), until)
            if time.perf_counter() >= until:
                break
        if blurred:
            self._rest.start(0)
        return bool(blurred)

    def seen(self) -> QRectF:
        """Return what is seen of the bench, mm."""
        inverse, _ = self._view.viewportTransform().inverted()
        return inverse.mapRect(QRectF(self._view.viewport().rect()))

    def scene_at(self, place: QPointF) -> QPointF:
        """Return the point of the bench, mm, under a place of the viewport."""
        inverse, _ = self._view.viewportTransform().inverted()
        return inverse.map(place)

    def point(self, place: QPoint | QPointF) -> Point:
        """Return the same as x and y."""
        at = self.scene_at(QPointF(place))
        return at.x(), at.y()

    def fit(self) -> None:
        """Show all blanks as large as possible."""
        self.fitted = True
        self._show_box(self._view.plan.box)

    def fit_blank(self, blank: int) -> None:
        """Show one blank as large as possible."""
        if not 0 <= blank < len(self._view.plan.boxes):
            return
        box = self._view.plan.boxes[blank]
        self.fit_box(box)
        overview = self._view.overview
        if overview.isVisible():
            # The blank makes way for the overview, as far as there is room for that.
            right = self._view.mapFromScene(box[2], box[1]).x()
            left = self._view.mapFromScene(box[0], box[1]).x()
            bar = self._view.horizontalScrollBar()
            aside = min(right - overview.x() + 8, left - self._view.edges[0])
            bar.setValue(bar.value() + max(aside, 0))

    def _room(self) -> QSize:
        """Return the size that is free whether scroll bars show or not, pixels."""
        view = self._view
        room = view.maximumViewportSize()
        if view.horizontalScrollBarPolicy() == Qt.ScrollBarPolicy.ScrollBarAlwaysOff:
            return room
        wide = view.verticalScrollBar().sizeHint().width()
        high = view.horizontalScrollBar().sizeHint().height()
        return QSize(room.width() - wide, room.height() - high)

    def fit_box(self, box: tuple[float, float, float, float]) -> None:
        """Show a box of the bench as large as possible."""
        self.fitted = False
        self._show_box(box)

    def _show_box(self, box: tuple[float, float, float, float]) -> None:
        x0, y0, x1, y1 = box
        if x1 <= x0 or y1 <= y0:
            return
        room, (side, ends) = self._room(), self._view.edges
        # Beside and above blanks stand words; large ones want more room.
        line = max(self._view.fontMetrics().height() / USUAL_LINE, 1.0)
        scale = min(
            max(room.width() - 2 * side * line, 40) / (x1 - x0),
            max(room.height() - 2 * ends * line, 40) / (y1 - y0),
        )
        self._view.setTransform(QTransform.fromScale(scale, -scale))
        self._view.centerOn((x0 + x1) / 2, (y0 + y1) / 2)
        self._rescale(scale)

    def bring_into_view(self, keys: frozenset[Key]) -> None:
        """Scroll so that changed copies can be seen, if they cannot."""
        job, plan = self._view.document.job, self._view.plan
        placed = self._view.document.placements(keys)
        boxes = []
        if len(placed) > CROWD:  # where they lie on their blanks does not matter then
            boxes = [plan.boxes[blank] for blank in {p.blank for p in placed}]
            placed = []
        for p in placed:
            ox, oy = plan.origins[p.blank]
            x0, y0, x1, y1 = arrange.box_of(job, p)
            boxes.append((x0 + ox, y0 + oy, x1 + ox, y1 + oy))
        if not boxes:
            return
        x0, y0, x1, y1 = arrange.box_round(boxes)
        view = self._view.mapToScene(self._view.viewport().rect()).boundingRect()
        if not view.intersects(QRectF(x0, y0, x1 - x0, y1 - y0)):
            self._view.centerOn((x0 + x1) / 2, (y0 + y1) / 2)

    def show_copy(self, key: Key) -> None:
        """Select a copy and bring it to the middle, as for a problem in a list."""
        p = self._view.document.placement(key)
        if p is None:
            return
        self._view.document.select([key])
        x0, y0, x1, y1 = arrange.box_of(self._view.document.job, p)
        ox, oy = self._view.plan.origins[p.blank]
        self._view.centerOn((x0 + x1) / 2 + ox, (y0 + y1) / 2 + oy)

    def blank_in_view(self) -> int:
        """Return the blank nearest to the middle of the view."""
        middle = self.scene_at(QPointF(self._view.viewport().rect().center()))
        return min(
            range(len(self._view.plan.boxes)),
            key=lambda i: math.dist(
                arrange.middle(self._view.plan.boxes[i]), (middle.x(), middle.y())
            ),
        )

    def wheel(self, event: QWheelEvent) -> None:
        """Scroll; with Ctrl, or if so set, zoom at the pointer."""
        zoom = bool(event.modifiers() & CTRL) != self._view.wheel_zooms
        if zoom:
            delta = event.angleDelta().y() or event.angleDelta().x()
            pixel = event.pixelDelta().y()
            turns = pixel / 80.0 if pixel and not delta else delta / 120.0
            self.zoom_by(ZOOM_STEP**turns, event.position())
        else:
            move = event.pixelDelta()
            if move.isNull():
                move = event.angleDelta() / 2
            if event.modifiers() & SHIFT and not move.x():
                move = QPoint(move.y(), 0)
            self.scroll(-move.x(), -move.y())
        event.accept()

    def scroll(self, dx: int, dy: int) -> None:
        """Scroll by pixels."""
        self.fitted = False
        if self._rest.isActive():
            self.hurry()  # sharp pictures wait until scrolling rests as well
        for bar, by in (
            (self._view.horizontalScrollBar(), dx),
            (self._view.verticalScrollBar(), dy),
        ):
            bar.setValue(bar.value() + by)
        self._view.overview.follow()
