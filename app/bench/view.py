"""The bench: the blanks of a layout, seen, touched and changed.

`BenchView` shows a `Document` and asks it for every change. Besides the mouse it knows
these keys while it has the focus: arrows nudge (Shift ten steps, Ctrl a tenth), R and
Shift+R turn, F flips, L locks, Del puts in the tray, comma and full stop go from part
to part, PgUp and PgDn from blank to blank, Esc cancels or clears, M measures.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QDragEnterEvent,
    QDragLeaveEvent,
    QDragMoveEvent,
    QDropEvent,
    QFont,
    QGuiApplication,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPainterPath,
    QPalette,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import (
    QGraphicsScene,
    QGraphicsView,
    QMenu,
    QToolTip,
    QWidget,
)

from ...nesting.model.job import Job
from ...nesting.model.motion import Motion, Point
from ...nesting.model.placement import Placement
from ..window.document import Document
from ..window.edits import Difference, Key, key_of
from . import arrange
from .colours import Theme
from .contact import Group, Hand
from .fill import fill_hole
from .gestures import (
    CTRL,
    SHIFT,
    BandGesture,
    Gesture,
    KeepOutGesture,
    MeasureGesture,
    MoveGesture,
    TurnGesture,
    owner_text,
)
from .items import (
    MANY,
    BlankItem,
    HandItem,
    ScreenItem,
    SelectionItem,
    look_at,
    placed_path,
)
from .overview import Overview
from .plan import Plan, plan
from .shapes import flat
from .walls import Owner, walls_on
from .words import length_text, size_text

COPIES_MIME = "application/x-drystone-part"
"""Carries the id of the part (UTF-8) whose copy is dragged from the tray."""

ZOOM_STEP = 1.2
REST = 90
"""Sharp pictures are made when zooming has rested this long, milliseconds."""

FEW = 4
"""Up to this many blanks are painted at once, more one after another."""

HANDLE = 12.0
"""Half the side of the area in which the turning handle takes a press, pixels."""


class BenchView(QGraphicsView):
    """The bench.

    Parameters
    ----------
    document : Document
        What it shows and asks.

    Signals
    -------
    said(str)
        What is under the pointer or going on, for the status line.
    zoomed(float)
        The zoom changed; 1.0 is one pixel a millimetre.
    hole_filled(str, int, int)
        A hole was filled from the tray: part id, copy, copies laid in it.
    dropped_outside(object, QPoint)
        Parts were let go outside the bench: their keys and the place on the screen.
        A tray there takes them with `Document.to_tray`.
    tool_changed(str)
        "select", "measure", "circle" or "rectangle".
    """

    said = Signal(str)
    zoomed = Signal(float)
    hole_filled = Signal(str, int, int)
    dropped_outside = Signal(object, QPoint)
    tool_changed = Signal(str)

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self.theme = Theme.of(self.palette())
        self.plan = Plan((), ())
        self.names: dict[Key, str] = {}
        self.nudge_step = 1.0
        self.turn_step = 15.0
        self.wheel_zooms = False
        self.tool = "select"
        self.figures = ""
        self.gesture: Gesture | None = None
        self._armed: tuple[str, QPoint, Point, Any] | None = None
        self._pan: QPoint | None = None
        self._space = False
        self.blank_items: list[BlankItem] = []
        self._tree: Any = None
        self._tree_keys: list[Key] = []
        self._measure: ScreenItem | None = None
        self._chosen_keep_out: tuple[int, int] | None = None
        self._fitted = True
        self._wheel = 0.0
        self._pointer = QPoint()
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.timeout.connect(self._sharpen)
        scene = QGraphicsScene(self)
        scene.setItemIndexMethod(QGraphicsScene.ItemIndexMethod.NoIndex)
        self.setScene(scene)
        self._selected = SelectionItem(self.theme)
        self._hand = HandItem(self.theme, self.font())
        scene.addItem(self._selected)
        scene.addItem(self._hand)
        self.overview = Overview(self)
        self.scale(1.0, -1.0)
        self.setTransformationAnchor(QGraphicsView.ViewportAnchor.NoAnchor)
        self.setViewportUpdateMode(
            QGraphicsView.ViewportUpdateMode.MinimalViewportUpdate
        )
        self.setOptimizationFlag(
            QGraphicsView.OptimizationFlag.DontSavePainterState, True
        )
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.viewport().setMouseTracking(True)
        self.setAcceptDrops(True)
        self.setAccessibleName(self.tr("Bench"))
        self.setBackgroundBrush(self.theme.bench)
        self.setFrameShape(QGraphicsView.Shape.NoFrame)
        document.changed.connect(self._changed)
        document.opened.connect(self.fit)
        document.trial_changed.connect(self.refresh)
        document.selection_changed.connect(self._show_selection)
        self.refresh()
        self.fit()

    # ------------------------------------------------------------ showing

    def _changed(self, difference: Difference) -> None:
        self.refresh()
        moved = difference.moved()
        if moved and self.gesture is None:
            self.bring_into_view(moved)

    def refresh(self) -> None:
        """Show what the document holds now."""
        job = self.document.shown_job
        wanted = {p.id: p for p in job.parts}
        self.names = {
            key_of(p): (
                f"{wanted[p.part_id].name} {p.copy}"
                if wanted[p.part_id].quantity > 1
                else wanted[p.part_id].name
            )
            for p in job.layout.placements
            if p.part_id in wanted
        }
        self.plan = plan(job)
        scene = self.scene()
        while len(self.blank_items) > len(job.layout.blanks):
            scene.removeItem(self.blank_items.pop())
        while len(self.blank_items) < len(job.layout.blanks):
            item = BlankItem(len(self.blank_items), self.theme, self._small_font())
            self.blank_items.append(item)
            scene.addItem(item)
        for item, origin in zip(self.blank_items, self.plan.origins, strict=True):
            item.show_job(job, self.names)
            item.setPos(*origin)
        x0, y0, x1, y1 = self.plan.box
        room = 0.5 * max(x1 - x0, y1 - y0, 100.0)
        scene.setSceneRect(
            QRectF(x0 - room, y0 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room)
        )
        self._tree = None
        self._show_selection()
        self.overview.refresh()
        if self._fitted:
            self.fit()

    def _small_font(self) -> QFont:
        font = QFont(self.font())
        font.setPointSizeF(max(font.pointSizeF() * 0.95, 9.0))
        return font

    def _show_selection(self) -> None:
        job = self.document.shown_job
        if self.document.shown_layout is not self.document.job.layout:
            self._selected.show_outlines([], None, [])
            return
        origins = self.plan.origins
        hand = self._hand_keys()

        def path(key: Key) -> QPainterPath | None:
            p = self.document.placement(key)
            if p is None or key in hand or p.blank >= len(origins):
                return None
            return placed_path(job, p, origins[p.blank])

        chosen = self.document.selection - hand
        many = len(chosen) > MANY
        selected = [] if many else [q for k in chosen if (q := path(k)) is not None]
        crowd = []
        if many:
            for p in self.document.placements(chosen):
                ox, oy = origins[p.blank]
                there = Motion(p.x + ox, p.y + oy, p.turn, p.flipped)
                crowd.append((job.part(p.part_id).outline, there))
        current = self.document.current
        here = path(current) if current is not None and self.hasFocus() else None
        problems = [q for k in self.document.conflicts() if (q := path(k)) is not None]
        x0, y0, x1, y1 = self.plan.box
        everything = QRectF(x0, y0, x1 - x0, y1 - y0)
        self._selected.show_outlines(
            selected, here, problems, crowd, everything if many else None
        )
        self.viewport().update(self._handle_area())
        bad = len(self.document.conflicts())
        self.setAccessibleDescription(
            self.tr("{blanks} blanks, {parts} parts, {bad} problems").format(
                blanks=len(origins), parts=len(job.layout.placements), bad=bad
            )
        )

    def _hand_keys(self) -> frozenset[Key]:
        keys = getattr(self.gesture, "keys", ())
        return frozenset(keys) if self._hand.isVisible() else frozenset()

    def lift(self, keys: list[Key]) -> None:
        """Take copies off their blanks into the hand."""
        for item in self.blank_items:
            item.lift(keys)

    def show_hand(
        self,
        placements: list[Placement],
        wish: QPainterPath | None,
        line: tuple[Point, Point] | None,
        text: str,
        bad: list[QPainterPath],
    ) -> None:
        """Show what is in the hand."""
        job = self.document.job
        first = self.plan.origins[placements[0].blank]
        looks = []
        for p in placements:
            origin = self.plan.origins[p.blank]
            dx, dy = origin[0] - first[0], origin[1] - first[1]
            name = self.names.get(key_of(p), job.part(p.part_id).name)
            shifted = Placement(
                p.part_id, p.copy, p.blank, p.x + dx, p.y + dy, p.turn, p.flipped
            )
            looks.append(look_at(job, shifted, name))
        fresh = not self._hand.isVisible()
        self._hand.show_hand(looks, first, job.cutting.cutter, wish, line, text, bad)
        if fresh:
            self._show_selection()

    def drop_hand(self) -> None:
        """Put what is in the hand back on its blanks."""
        self._hand.hide()
        for item in self.blank_items:
            item.lift(())
        self._show_selection()

    def owner_name(self, owner: Owner) -> str:
        """Return how people call what a distance is measured to."""
        return owner_text(owner, self.names)

    def keep_measure(self, item: ScreenItem | None) -> None:
        """Keep one measure on the bench, and take the last one away."""
        if self._measure is not None:
            self.scene().removeItem(self._measure)
        self._measure = item

    # ------------------------------------------------------------ zoom and pan

    def scale_now(self) -> float:
        """Return how many pixels a millimetre takes."""
        return self.transform().m11()

    def zoom_by(self, factor: float, at: QPointF | None = None) -> None:
        """Zoom, keeping what is under a point of the viewport where it is."""
        scale = min(max(self.scale_now() * factor, 0.005), 400.0)
        place = QPointF(self.viewport().rect().center()) if at is None else at
        there = self._scene_at(place)
        self.resetTransform()
        self.scale(scale, -scale)
        self._fitted = False
        self._hurry()
        moved = self.mapFromScene(there)
        bars = self.horizontalScrollBar(), self.verticalScrollBar()
        bars[0].setValue(bars[0].value() + moved.x() - round(place.x()))
        bars[1].setValue(bars[1].value() + moved.y() - round(place.y()))
        self._selected.prepareGeometryChange()
        self.overview.follow()
        self.zoomed.emit(scale)

    def _hurry(self) -> None:
        """Show scaled pictures while zooming; make sharp ones when that rests."""
        for item in self.blank_items:
            item.hurried = True
        self._rest.start(REST)

    def _sharpen(self) -> None:
        """Make one picture sharp, the nearest to the middle first; then the next."""
        ratio = self.devicePixelRatioF()
        scale = self.scale_now()
        view = self.mapToScene(self.viewport().rect()).boundingRect()
        blurred = [
            item
            for item in self.blank_items
            if item.is_blurred(scale * ratio)
            and item.sceneBoundingRect().intersects(view)
        ]
        if blurred:
            middle = view.center()
            item = min(
                blurred,
                key=lambda b: (
                    b.sceneBoundingRect().center() - middle
                ).manhattanLength(),
            )
            item.refine(scale, ratio)
            self._rest.start(0)
            return
        for item in self.blank_items:
            item.hurried = False

    def _scene_at(self, place: QPointF) -> QPointF:
        inverse, _ = self.viewportTransform().inverted()
        return inverse.map(place)

    def fit(self) -> None:
        """Show all blanks as large as possible."""
        self.fit_box(self.plan.box)
        self._fitted = True

    def fit_blank(self, blank: int) -> None:
        """Show one blank as large as possible."""
        if 0 <= blank < len(self.plan.boxes):
            self.fit_box(self.plan.boxes[blank])

    def fit_box(self, box: tuple[float, float, float, float]) -> None:
        """Show a box of the bench as large as possible."""
        x0, y0, x1, y1 = box
        if x1 <= x0 or y1 <= y0:
            return
        view = self.viewport().rect()
        side, ends = 52.0, 40.0
        scale = min(
            max(view.width() - 2 * side, 40) / (x1 - x0),
            max(view.height() - 2 * ends, 40) / (y1 - y0),
        )
        if len(self.blank_items) > FEW:
            self._hurry()
        self.resetTransform()
        self.scale(scale, -scale)
        self.centerOn((x0 + x1) / 2, (y0 + y1) / 2)
        self._fitted = False
        self.overview.follow()
        self.zoomed.emit(scale)

    def bring_into_view(self, keys: frozenset[Key]) -> None:
        """Scroll so that changed copies can be seen, if they cannot."""
        boxes = []
        job = self.document.job
        for p in self.document.placements(keys):
            ox, oy = self.plan.origins[p.blank]
            x0, y0, x1, y1 = arrange.box_of(job, p)
            boxes.append((x0 + ox, y0 + oy, x1 + ox, y1 + oy))
        if not boxes:
            return
        x0, y0, x1, y1 = arrange.box_round(boxes)
        view = self.mapToScene(self.viewport().rect()).boundingRect()
        if not view.intersects(QRectF(x0, y0, x1 - x0, y1 - y0)):
            self.centerOn((x0 + x1) / 2, (y0 + y1) / 2)

    def show_copy(self, key: Key) -> None:
        """Select a copy and bring it to the middle, as for a problem in a list."""
        p = self.document.placement(key)
        if p is None:
            return
        self.document.select([key])
        x0, y0, x1, y1 = arrange.box_of(self.document.job, p)
        ox, oy = self.plan.origins[p.blank]
        self.centerOn((x0 + x1) / 2 + ox, (y0 + y1) / 2 + oy)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep everything in view if it was."""
        super().resizeEvent(event)
        self.overview.place()
        if self._fitted:
            self.fit()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Scroll; with Ctrl, or if so set, zoom at the pointer."""
        zoom = bool(event.modifiers() & CTRL) != self.wheel_zooms
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
            self._scroll(-move.x(), -move.y())
        event.accept()

    def _scroll(self, dx: int, dy: int) -> None:
        self._fitted = False
        if len(self.blank_items) > FEW and not self._rest.isActive():
            self._hurry()
        for bar, by in (
            (self.horizontalScrollBar(), dx),
            (self.verticalScrollBar(), dy),
        ):
            bar.setValue(bar.value() + by)
        self.overview.follow()

    def viewportEvent(self, event: QEvent) -> bool:
        """Zoom by pinching, and show words about what is hovered."""
        if isinstance(event, QNativeGestureEvent):
            if event.gestureType() == Qt.NativeGestureType.ZoomNativeGesture:
                self.zoom_by(1.0 + event.value(), event.position())
                return True
        if event.type() == QEvent.Type.ToolTip:
            words = self.hover_words(event.pos())  # type: ignore[attr-defined]
            if words:
                QToolTip.showText(event.globalPos(), words, self)  # type: ignore[attr-defined]
            else:
                QToolTip.hideText()
            return True
        return super().viewportEvent(event)

    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette."""
        super().changeEvent(event)
        kinds = (QEvent.Type.PaletteChange, QEvent.Type.FontChange)
        if event.type() in kinds and hasattr(self, "overview"):
            self.set_palette(self.palette())

    def set_palette(self, palette: QPalette) -> None:
        """Take the colours that go with a palette."""
        self.theme = Theme.of(palette)
        self.setBackgroundBrush(self.theme.bench)
        self._selected.theme = self.theme
        self._hand.theme = self.theme
        for blank in self.blank_items:
            blank.theme = self.theme
            blank.font = self._small_font()
            blank.repaint_all()
        self.viewport().update()
        self.overview.refresh()

    # ------------------------------------------------------------ finding

    def _boxes(self) -> Any:
        if self._tree is None:
            boxes, keys = [], []
            for item, (ox, oy) in zip(self.blank_items, self.plan.origins, strict=True):
                for look in item.looks:
                    x0, y0, x1, y1 = look.box
                    boxes.append((x0 + ox, y0 + oy, x1 + ox, y1 + oy))
                    keys.append(key_of(look.placement))
            array = np.array(boxes).reshape(-1, 4)
            self._tree = shapely.STRtree(shapely.box(*array.T))
            self._tree_keys = keys
        return self._tree

    def _polygon(self, key: Key) -> Any:
        p = self.document.placement(key)
        if p is None:
            return None
        shape = flat(self.document.job.part(p.part_id).outline)
        ox, oy = self.plan.origins[p.blank]
        shift = np.array((ox, oy))
        rings = [ring + shift for ring in shape.moved(p.motion)]
        return shapely.Polygon(rings[0], rings[1:])

    def copy_at(self, at: Point, pixels: float = 3.0) -> Key | None:
        """Return the copy under a point of the bench, or very near to it."""
        point = shapely.Point(at)
        reach = pixels / self.scale_now()
        found = self._boxes().query(point.buffer(reach))
        best: tuple[float, Key] | None = None
        for k in found:
            polygon = self._polygon(self._tree_keys[int(k)])
            if polygon is None:
                continue
            distance = float(shapely.distance(polygon, point))
            if distance <= reach and (best is None or distance < best[0]):
                best = (distance, self._tree_keys[int(k)])
        return None if best is None else best[1]

    def copies_in(self, box: QRectF) -> frozenset[Key]:
        """Return the copies a box of the bench touches."""
        area = shapely.box(box.left(), box.top(), box.right(), box.bottom())
        found = []
        for k in self._boxes().query(area):
            polygon = self._polygon(self._tree_keys[int(k)])
            if polygon is not None and shapely.intersects(polygon, area):
                found.append(self._tree_keys[int(k)])
        return frozenset(found)

    def edge_near(self, at: Point, pixels: float = 14.0) -> Any:
        """Return the straight edge nearest to a point of the bench, or None."""
        blank = self.plan.blank_at(at)
        if blank is None:
            return None
        walls = walls_on(self.document.job, blank)
        point = shapely.Point(self.plan.on_blank(blank, at))
        k = int(walls.tree.nearest(point))
        x0, y0, x1, y1 = walls.edges[k]
        ox, oy = self.plan.origins[blank]
        line = shapely.LineString([(x0 + ox, y0 + oy), (x1 + ox, y1 + oy)])
        near = shapely.distance(line, shapely.Point(at)) <= pixels / self.scale_now()
        return line if near else None

    def hole_at(self, at: Point) -> tuple[Key, int] | None:
        """Return the part and the hole of it that lie under a point, smallest first."""
        best: tuple[float, Key, int] | None = None
        point = shapely.Point(at)
        for k in self._boxes().query(point):
            key = self._tree_keys[int(k)]
            polygon = self._polygon(key)
            for i, ring in enumerate(polygon.interiors if polygon is not None else ()):
                hole = shapely.Polygon(ring)
                if shapely.contains(hole, point) and (
                    best is None or hole.area < best[0]
                ):
                    best = (float(hole.area), key, i)
        return None if best is None else (best[1], best[2])

    def hover_words(self, place: QPoint) -> str:
        """Return what the part under a place of the viewport is, in a few lines."""
        at = self._scene_at(QPointF(place))
        key = self.copy_at((at.x(), at.y()))
        placement = None if key is None else self.document.placement(key)
        if key is None or placement is None:
            return ""
        job = self.document.job
        part = job.part(key[0])
        shape = flat(part.outline)
        walls = walls_on(job, placement.blank, [key])
        distance, owner, _ = walls.nearest([shape.moved_polygon(placement.motion)])
        lines = [
            self.document.name_of(key),
            size_text(*part.outline.size, job.units),
            self.tr("{distance} to {name}").format(
                distance=length_text(distance, job.units),
                name=self.owner_name(walls.owners[owner]),
            ),
        ]
        kinds = sorted({str(mark.operation.value).lower() for mark in part.marks})
        if part.outline.holes:
            lines.append(self.tr("holes: {n}").format(n=len(part.outline.holes)))
        if kinds:
            lines.append(self.tr("marks: {kinds}").format(kinds=", ".join(kinds)))
        conflict = self.document.conflicts().get(key)
        if conflict is not None:
            lines += [f"\N{WARNING SIGN} {r.kind.value}" for r in conflict.reasons]
        if placement.locked:
            lines.append(self.tr("locked"))
        return "\n".join(lines)

    # ------------------------------------------------------------ the handle

    def _handle_placements(self) -> list[Placement]:
        parts = [
            p for p in self.document.placements(self.document.selection) if not p.locked
        ]
        return parts if len({p.blank for p in parts}) == 1 else []

    def handle_at(self) -> QPointF | None:
        """Return where the turning handle stands in the viewport, or None."""
        parts = self._handle_placements()
        if not parts or self.document.shown_layout is not self.document.job.layout:
            return None
        box = arrange.box_round([arrange.box_of(self.document.job, p) for p in parts])
        ox, oy = self.plan.origins[parts[0].blank]
        top = QPointF((box[0] + box[2]) / 2 + ox, box[3] + oy)
        return self.viewportTransform().map(top) + QPointF(0.0, -30.0)

    def _handle_area(self) -> Any:
        at = self.handle_at()
        if at is None:
            return self.viewport().rect()
        return QRectF(at.x() - 20, at.y() - 20, 40, 70).toAlignedRect()

    def drawForeground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        """Draw the turning handle and the figures beside the pointer."""
        painter.save()
        painter.resetTransform()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        at = self.handle_at() if self.gesture is None else None
        if at is not None:
            for colour, width in ((self.theme.halo, 4.0), (self.theme.accent, 1.6)):
                painter.setPen(QPen(colour, width))
                painter.drawLine(at + QPointF(0, 8), at + QPointF(0, 28))
            painter.setPen(QPen(self.theme.halo, 2.0))
            painter.setBrush(self.theme.accent)
            painter.drawEllipse(at, 8.0, 8.0)
            painter.setPen(QPen(self.theme.halo, 1.6))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            ring = QRectF(at.x() - 4, at.y() - 4, 8, 8)
            painter.drawArc(ring, 40 * 16, 280 * 16)
        if self.figures and self.gesture is not None:
            self._draw_figures(painter)
        painter.restore()
        if not self.plan.boxes:
            self._draw_empty(painter)

    def _draw_figures(self, painter: QPainter) -> None:
        metrics = self.fontMetrics()
        size = metrics.boundingRect(self.figures)
        box = QRectF(0, 0, size.width() + 18, size.height() + 10)
        view = self.viewport().rect()
        x, y = self._pointer.x() + 16.0, self._pointer.y() + 16.0
        if x + box.width() > view.width():
            x = self._pointer.x() - 16.0 - box.width()
        if y + box.height() > view.height():
            y = self._pointer.y() - 16.0 - box.height()
        box.moveTo(x, y)
        painter.setPen(QPen(self.theme.halo, 1.0))
        painter.setBrush(self.theme.plate)
        painter.drawRoundedRect(box, 5, 5)
        painter.setPen(self.theme.plate_ink)
        painter.setFont(self.font())
        painter.drawText(box, int(Qt.AlignmentFlag.AlignCenter), self.figures)

    def _draw_empty(self, painter: QPainter) -> None:
        painter.save()
        painter.resetTransform()
        painter.setPen(self.theme.faint)
        font = QFont(self.font())
        font.setPointSizeF(font.pointSizeF() * 1.25)
        painter.setFont(font)
        painter.drawText(
            self.viewport().rect(),
            int(Qt.AlignmentFlag.AlignCenter),
            self.tr("Nothing lies on the bench yet.\nDrop drawings here, or nest."),
        )
        painter.restore()

    # ------------------------------------------------------------ mouse

    def set_tool(self, tool: str) -> None:
        """Choose what dragging does: select, measure, circle or rectangle."""
        if tool != self.tool:
            self.tool = tool
            if tool != "measure":
                self.keep_measure(None)
            cross = Qt.CursorShape.CrossCursor
            arrow = Qt.CursorShape.ArrowCursor
            self.viewport().setCursor(arrow if tool == "select" else cross)
            self.tool_changed.emit(tool)

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Begin: select, or get ready to drag, turn, band, measure or pan."""
        place = event.position().toPoint()
        self._pointer = place
        middle = event.button() == Qt.MouseButton.MiddleButton
        if middle or (self._space and event.button() == Qt.MouseButton.LeftButton):
            self._pan = place
            self.viewport().setCursor(Qt.CursorShape.ClosedHandCursor)
            return
        if event.button() == Qt.MouseButton.RightButton and self.gesture is not None:
            self.cancel()
            return
        if event.button() != Qt.MouseButton.LeftButton or self.gesture is not None:
            return
        at = self._point(place)
        if self.tool == "measure":
            self._armed = ("measure", place, at, None)
            return
        blank = self.plan.blank_at(at)
        if self.tool in ("circle", "rectangle"):
            if blank is not None:
                self._armed = (self.tool, place, at, blank)
            return
        handle = self.handle_at()
        if handle is not None:
            off = QPointF(place) - handle
            if max(abs(off.x()), abs(off.y())) <= HANDLE:
                self._armed = ("turn", place, at, None)
                return
        key = self.copy_at(at)
        toggle = bool(event.modifiers() & CTRL)
        add = bool(event.modifiers() & SHIFT)
        if key is None:
            if blank is not None and self._arm_keep_out(place, at, blank):
                return
            self._choose_keep_out(None)
            self._armed = ("band", place, at, toggle or add)
            return
        self._choose_keep_out(None)
        selection = self.document.selection
        if key in selection:
            # A press on what is selected drags all of it; a click decides on release.
            self._armed = ("move", place, at, ("toggle" if toggle else "only", key))
        else:
            new = selection | {key} if toggle or add else frozenset({key})
            self.document.select(new, key)
            self._armed = ("move", place, at, ("", key))

    def _arm_keep_out(self, place: QPoint, at: Point, blank: int) -> bool:
        stock = self.document.job.stock_of(blank)
        point = shapely.Point(self.plan.on_blank(blank, at))
        for i, keep_out in enumerate(stock.keep_outs):
            shape = shapely.Polygon(keep_out.loop.flatten(0.01))
            rim = 6.0 / self.scale_now()
            if shapely.distance(shape, point) > rim:
                continue
            on_rim = shapely.distance(shape.boundary, point) <= rim
            chosen = self._chosen_keep_out == (blank, i)
            self._choose_keep_out((blank, i))
            how = "size" if on_rim and chosen else "move"
            self._armed = ("keep-out", place, at, (blank, i, how))
            return True
        return False

    def _choose_keep_out(self, chosen: tuple[int, int] | None) -> None:
        if chosen == self._chosen_keep_out:
            return
        self._chosen_keep_out = chosen
        for item in self.blank_items:
            here = chosen is not None and chosen[0] == item.index
            item.chosen_keep_out = chosen[1] if here and chosen else -1
            item.repaint_all()
        if chosen is not None:
            self.document.select(())

    def _point(self, place: QPoint | QPointF) -> Point:
        at = self._scene_at(QPointF(place))
        return at.x(), at.y()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go on with what the press began, once the pointer has moved enough."""
        place = event.position().toPoint()
        if self._pan is not None:
            by = place - self._pan
            self._pan = place
            self._scroll(-by.x(), -by.y())
            return
        at = self._point(event.position())
        if self._armed is not None and self.gesture is None:
            moved = (place - self._armed[1]).manhattanLength()
            if moved >= QGuiApplication.styleHints().startDragDistance():
                self._begin()
        if self.gesture is not None:
            self.follow(place, event.modifiers())
        else:
            self._pointer = place
            key = self.copy_at(at) if self._armed is None else None
            self.said.emit("" if key is None else self.document.name_of(key))

    def _begin(self) -> None:
        assert self._armed is not None
        kind, _, at, more = self._armed
        self._armed = None
        if kind == "move":
            parts = self.document.movable(self.document.selection)
            pressed = self.document.placement(more[1])
            if not parts or pressed is None or pressed.locked:
                if pressed is not None and pressed.locked:
                    self.document.movable([more[1]])
                self.viewport().setCursor(Qt.CursorShape.ForbiddenCursor)
                return
            self.gesture = MoveGesture(self, at, parts, pressed.blank)
            self.viewport().setCursor(Qt.CursorShape.SizeAllCursor)
        elif kind == "turn":
            self.gesture = TurnGesture(self, at, self._handle_placements())
        elif kind == "band":
            self.gesture = BandGesture(self, at, more)
            self.viewport().setCursor(Qt.CursorShape.CrossCursor)
        elif kind == "measure":
            self.gesture = MeasureGesture(self, at)
        elif kind == "keep-out":
            self.gesture = KeepOutGesture(self, at, more[0], more[2], more[1])
        else:
            self.gesture = KeepOutGesture(self, at, more, kind)

    def follow(self, place: QPoint, keys: Qt.KeyboardModifier) -> None:
        """Let the gesture follow the pointer, and show its figures."""
        if self.gesture is None:
            return
        old = self._figures_area()
        self._pointer = place
        self.figures = self.gesture.move(self._point(place), keys)
        self.said.emit(f"{self.figures}   {self.gesture.hint}".strip())
        self.viewport().update(old)
        self.viewport().update(self._figures_area())

    def _figures_area(self) -> Any:
        size = self.fontMetrics().boundingRect(self.figures or " ")
        reach_x, reach_y = size.width() + 40, size.height() + 32
        return QRectF(
            self._pointer.x() - reach_x,
            self._pointer.y() - reach_y,
            2 * reach_x,
            2 * reach_y,
        ).toAlignedRect()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Do what the gesture shows, or what a click means."""
        if self._pan is not None:
            self._pan = None
            self.viewport().setCursor(
                Qt.CursorShape.OpenHandCursor
                if self._space
                else Qt.CursorShape.ArrowCursor
            )
            return
        if event.button() != Qt.MouseButton.LeftButton:
            return
        armed, self._armed = self._armed, None
        gesture = self.gesture
        if self.tool == "select":
            self.viewport().setCursor(Qt.CursorShape.ArrowCursor)
        if gesture is None:
            if armed is not None:
                self._click(armed)
            return
        place = event.position().toPoint()
        outside = not self.viewport().rect().contains(place)
        if outside and isinstance(gesture, MoveGesture):
            keys = gesture.keys
            self.cancel()
            self.dropped_outside.emit(keys, event.globalPosition().toPoint())
            return
        gesture.finish()
        self.gesture = None
        self.figures = ""
        self._after_gesture()

    def _after_gesture(self) -> None:
        self._show_selection()
        self.viewport().update()
        self.said.emit("")

    def _click(self, armed: tuple[str, QPoint, Point, Any]) -> None:
        kind, _, _, more = armed
        if kind == "band" and not more:
            self.document.select(())
        elif kind == "move" and more[0] == "only":
            self.document.select([more[1]])
        elif kind == "move" and more[0] == "toggle":
            self.document.select(self.document.selection - {more[1]})

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Ask for a hole to be filled, or select all copies of a part."""
        if event.button() != Qt.MouseButton.LeftButton:
            return
        at = self._point(event.position())
        key = self.copy_at(at)
        if key is not None:
            self.document.select_part(key[0])
            return
        hole = self.hole_at(at)
        if hole is not None:
            self.fill_hole(*hole)

    def fill_hole(self, key: Key, hole: int) -> int:
        """Fill a hole of a placed copy from the tray, as one step.

        Returns
        -------
        int
            How many copies found room.
        """
        document = self.document
        name = document.name_of(key)
        if not document.job.cutting.use_holes:
            document.say("info", self.tr("Holes are not to be used (Cutting)."))
            return 0
        placed = fill_hole(document.job, key, hole)
        if not placed:
            document.say(
                "info",
                self.tr("Nothing in the tray fits in this hole of {name}.").format(
                    name=name
                ),
            )
            return 0
        document.place(placed, self.tr("Fill a hole of {name}").format(name=name))
        self.hole_filled.emit(key[0], key[1], len(placed))
        return len(placed)

    def duplicate(self) -> bool:
        """Want one more of the current part and lay it near, where there is room."""
        current = self.document.current
        placement = None if current is None else self.document.placement(current)
        if placement is None:
            return False
        job = self.document.job
        outline = job.part(placement.part_id).outline
        group = Group(walls_on(job, placement.blank), [(outline, placement.motion)])
        hand = Hand([group])
        if not hand.enter((0.0, 0.0), rings=12):
            self.document.say("warn", self.tr("There is no room for one more here."))
            return False
        x, y = hand.at
        return self.document.duplicate(
            replace(placement, x=placement.x + float(x), y=placement.y + float(y))
        )

    def cancel(self) -> None:
        """Put everything back as it was before the gesture began."""
        gesture, self.gesture = self.gesture, None
        self._armed = None
        self.figures = ""
        if gesture is not None:
            gesture.cancel()
            self._after_gesture()
        self.viewport().setCursor(Qt.CursorShape.ArrowCursor)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Open the menu at the part: under the pointer, or the keys' own."""
        if self.gesture is not None:
            return
        if event.reason() == QContextMenuEvent.Reason.Mouse:
            key = self.copy_at(self._point(event.pos()))
            if key is not None and key not in self.document.selection:
                self.document.select([key])
            place = event.globalPos()
        else:
            handle = self.handle_at() or QPointF(self.viewport().rect().center())
            place = self.viewport().mapToGlobal(handle.toPoint())
        menu = self.menu()
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.popup(place)

    def menu(self) -> QMenu:
        """Return the menu of what can be done with the selection."""
        document = self.document
        menu = QMenu(self)
        keys = document.selection
        some, two, three = bool(keys), len(keys) >= 2, len(keys) >= 3
        locked = some and all(p.locked for p in document.placements(keys))

        def add(words: str, do: Any, enabled: bool = True) -> None:
            action = menu.addAction(words)
            action.triggered.connect(lambda: do())
            action.setEnabled(enabled)

        add(self.tr("Turn left\tR"), lambda: document.turn_by(keys, 90), some)
        add(self.tr("Flip\tF"), lambda: document.flip(keys), some)
        words = self.tr("Unlock\tL") if locked else self.tr("Lock\tL")
        add(words, lambda: document.set_locked(keys, not locked), some)
        add(self.tr("Put in the tray\tDel"), lambda: document.to_tray(keys), some)
        menu.addSeparator()
        for edge, words in (
            (arrange.Edge.LEFT, self.tr("Align left edges")),
            (arrange.Edge.RIGHT, self.tr("Align right edges")),
            (arrange.Edge.BOTTOM, self.tr("Align lower edges")),
            (arrange.Edge.TOP, self.tr("Align upper edges")),
        ):
            add(words, lambda e=edge: document.align(keys, e), two)
        add(
            self.tr("Distribute across"), lambda: document.distribute(keys, True), three
        )
        add(self.tr("Distribute up"), lambda: document.distribute(keys, False), three)
        add(self.tr("Swap places"), lambda: document.swap(keys), len(keys) == 2)
        menu.addSeparator()
        add(self.tr("Duplicate\tCtrl+D"), self.duplicate, some)
        current = document.current
        if current is not None:
            add(self.tr("Select all copies"), lambda: document.select_part(current[0]))
            add(self.tr("Want one more"), lambda: document.want_more(current[0]))
        return menu

    # ------------------------------------------------------------ keys

    def focusInEvent(self, event: Any) -> None:
        """Show which part the keys are at."""
        super().focusInEvent(event)
        self._show_selection()

    def focusOutEvent(self, event: Any) -> None:
        """Hide which part the keys are at."""
        super().focusOutEvent(event)
        self._space = False
        self._show_selection()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Nudge, turn, lock, walk from part to part, zoom."""
        key, mods = event.key(), event.modifiers()
        if key == Qt.Key.Key_Escape:
            self._escape()
        elif self.gesture is not None:
            if key in (Qt.Key.Key_Control, Qt.Key.Key_Shift):
                self.follow(self._pointer, mods)
        elif key == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = True
            self.viewport().setCursor(Qt.CursorShape.OpenHandCursor)
        elif not (self._zoom_key(key, mods) or self._part_key(key, mods)):
            event.ignore()

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """End panning; let a gesture notice that Ctrl or Shift was let go."""
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = False
            self.viewport().setCursor(Qt.CursorShape.ArrowCursor)
        elif self.gesture is not None:
            self.follow(self._pointer, event.modifiers())
        else:
            event.ignore()

    def _escape(self) -> None:
        if self.gesture is not None or self._armed is not None:
            self.cancel()
        elif self.tool != "select":
            self.set_tool("select")
        elif self._chosen_keep_out is not None:
            self._choose_keep_out(None)
        else:
            self.document.select(())

    def _zoom_key(self, key: int, mods: Qt.KeyboardModifier) -> bool:
        if not mods & CTRL:
            return False
        if key in (Qt.Key.Key_Plus, Qt.Key.Key_Equal):
            self.zoom_by(ZOOM_STEP)
        elif key == Qt.Key.Key_Minus:
            self.zoom_by(1.0 / ZOOM_STEP)
        elif key == Qt.Key.Key_0:
            self.fit()
        else:
            return False
        return True

    def _part_key(self, key: int, mods: Qt.KeyboardModifier) -> bool:
        document = self.document
        chosen = document.selection
        arrows = {
            int(Qt.Key.Key_Left): (-1, 0),
            int(Qt.Key.Key_Right): (1, 0),
            int(Qt.Key.Key_Up): (0, 1),
            int(Qt.Key.Key_Down): (0, -1),
        }
        if int(key) in arrows and chosen:
            dx, dy = arrows[int(key)]
            step = self.nudge_step * (10 if mods & SHIFT else 0.1 if mods & CTRL else 1)
            document.nudge(chosen, dx * step, dy * step)
        elif key == Qt.Key.Key_A and mods & CTRL:
            self._select_all()
        elif key == Qt.Key.Key_D and mods & CTRL:
            self.duplicate()
        elif mods & CTRL:
            return False
        elif key == Qt.Key.Key_R:
            document.turn_by(
                chosen, -self.turn_step if mods & SHIFT else self.turn_step
            )
        elif key == Qt.Key.Key_F:
            document.flip(chosen)
        elif key == Qt.Key.Key_L:
            locked = all(p.locked for p in document.placements(chosen))
            document.set_locked(chosen, not locked)
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._delete()
        elif key in (Qt.Key.Key_Period, Qt.Key.Key_Comma):
            self._walk(1 if key == Qt.Key.Key_Period else -1)
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            self._walk_blanks(1 if key == Qt.Key.Key_PageDown else -1)
        elif key == Qt.Key.Key_M:
            self.set_tool("select" if self.tool == "measure" else "measure")
        else:
            return False
        return True

    def _select_all(self) -> None:
        """All on the blank being worked on; a second time, all there are."""
        document = self.document
        current = document.current
        here = None if current is None else document.placement(current)
        keys = frozenset(
            key_of(p)
            for p in document.job.layout.placements
            if here is not None and p.blank == here.blank
        )
        if here is None or keys <= document.selection:
            document.select_all()
        else:
            document.select(keys)

    def _delete(self) -> None:
        if self._chosen_keep_out is None:
            self.document.to_tray(self.document.selection)
            return
        blank, index = self._chosen_keep_out
        stock = self.document.job.stock_of(blank)
        left = [k for i, k in enumerate(stock.keep_outs) if i != index]
        self._choose_keep_out(None)
        self.document.set_keep_outs(stock.id, left, self.tr("Remove a keep-out"))

    def _walk(self, way: int) -> None:
        """Go to the next copy in reading order: blank by blank, top to bottom."""
        job = self.document.job

        def place(p: Placement) -> tuple[int, int, float]:
            x, y = arrange.centre_of(job, p)
            return p.blank, -round(y / 20.0), x

        order = [key_of(p) for p in sorted(job.layout.placements, key=place)]
        if not order:
            return
        current = self.document.current
        at = order.index(current) + way if current in order else 0 if way > 0 else -1
        key = order[at % len(order)]
        self.document.select([key], key)
        self.bring_into_view(frozenset({key}))

    def _walk_blanks(self, way: int) -> None:
        if not self.plan.boxes:
            return
        near = self._blank_in_view()
        self.fit_blank(min(max(near + way, 0), len(self.plan.boxes) - 1))

    def _blank_in_view(self) -> int:
        """Return the blank nearest to the middle of the view."""
        middle = self._scene_at(QPointF(self.viewport().rect().center()))
        return min(
            range(len(self.plan.boxes)),
            key=lambda i: math.dist(
                arrange.middle(self.plan.boxes[i]), (middle.x(), middle.y())
            ),
        )

    # ------------------------------------------------------------ from the tray

    def carry(self, part_id: str, place: QPoint) -> bool:
        """Take a copy from the tray into the hand, at a place of the viewport."""
        job: Job = self.document.job
        free = arrange.free_copies(job, part_id)
        at = self._point(place)
        blank = self.plan.blank_at(at)
        if not free or blank is None:
            return False
        part = job.part(part_id)
        grain = self.document.grain_at(blank)
        turn = arrange.nearest_allowed(part.turn, grain, 0.0)
        placed = Placement(part_id, free[0], blank, 0.0, 0.0, turn)
        cx, cy = placed.motion.point(flat(part.outline).centre)
        x, y = self.plan.on_blank(blank, at)
        placed = Placement(part_id, free[0], blank, x - cx, y - cy, turn)
        gesture = MoveGesture(self, at, [placed], blank)
        if not gesture.hand(blank).enter((0.0, 0.0)):
            gesture.cancel()
            self.document.say(
                "warn",
                self.tr("There is no room for {name} here.").format(name=part.name),
            )
            return False
        self.gesture = gesture
        self.follow(place, Qt.KeyboardModifier.NoModifier)
        return True

    def lay(self, part_id: str) -> bool:
        """Lay a copy from the tray where there is room: the way without dragging.

        The blank in the middle of the view is tried first, then the others.
        """
        job = self.document.job
        free = arrange.free_copies(job, part_id)
        if not free or not self.plan.boxes:
            return False
        part = job.part(part_id)
        here = self._blank_in_view()
        order = sorted(range(len(self.plan.boxes)), key=lambda b: (b != here, b))
        for blank in order:
            stock = job.stock_of(blank)
            turn = arrange.nearest_allowed(part.turn, stock.grain, 0.0)
            start = Placement(part_id, free[0], blank, 0.0, 0.0, turn)
            group = Group(walls_on(job, blank), [(part.outline, start.motion)])
            x0, y0, x1, y1 = stock.outline.bounds
            wide, high = group.box[2] - group.box[0], group.box[3] - group.box[1]
            for y in np.arange(y0 + job.cutting.margin, y1 - high, max(high / 3, 10.0)):
                for x in np.arange(
                    x0 + job.cutting.margin, x1 - wide, max(wide / 3, 10.0)
                ):
                    at = np.array((x - group.box[0] + 0.01, y - group.box[1] + 0.01))
                    if not group.clear(at, 1e-6):
                        continue
                    hand = Hand([group], (float(at[0]), float(at[1])))
                    step = hand.move(x0 - group.box[0] - 1.0, float(at[1]))
                    return self.document.place([replace(start, x=step.x, y=step.y)])
        self.document.say(
            "warn",
            self.tr("There is no room for {name} on any blank.").format(name=part.name),
        )
        return False

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take copies from the tray; leave files to the window."""
        if event.mimeData().hasFormat(COPIES_MIME):
            event.acceptProposedAction()
        else:
            event.ignore()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        """Show the copy where it would lie."""
        if not event.mimeData().hasFormat(COPIES_MIME):
            event.ignore()
            return
        place = event.position().toPoint()
        if self.gesture is None:
            part_id = bytes(event.mimeData().data(COPIES_MIME).data()).decode()
            if not self.carry(part_id, place):
                event.ignore()
                return
        self.follow(place, event.modifiers())
        event.acceptProposedAction()

    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        """Give the copy back."""
        self.cancel()

    def dropEvent(self, event: QDropEvent) -> None:
        """Lay the copy down."""
        if self.gesture is None:
            event.ignore()
            return
        self.gesture.finish()
        self.gesture = None
        self.figures = ""
        self._after_gesture()
        event.acceptProposedAction()
