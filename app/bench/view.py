"""The bench: the blanks of a layout, seen, touched and changed.

`BenchView` shows a `Document` and asks it for every change. It is the widget only: what
is seen is `camera`'s, what lies where is `finder`'s, the mouse is `pointer`'s, keys are
`keys`', and copies that come from the tray are `laying`'s.
"""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QDragEnterEvent,
    QDragLeaveEvent,
    QDragMoveEvent,
    QDropEvent,
    QFont,
    QKeyEvent,
    QMouseEvent,
    QNativeGestureEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPalette,
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

from ...nesting.model.motion import Motion, Point
from ...nesting.model.placement import Placement
from ..window.document import Document
from ..window.edits import Difference
from . import accessible, arrange
from .blank_item import BlankItem
from .camera import EDGES, Camera
from .colours import Theme
from .copies import Key, key_of
from .crowd_item import CROWD, CrowdItem
from .finding import Finder
from .foreground import Foreground
from .frame_item import FrameItem
from .gestures import Gesture, owner_text
from .hover import hover_words
from .items import (
    MANY,
    HandItem,
    InHand,
    ScreenItem,
    SelectionItem,
    look_at,
    placed_path,
)
from .keys import Keys
from .laying import Laying
from .menu import menu_of
from .overview import Overview
from .plan import SHAPE, Plan, plan
from .pointer import Pointer
from .sound import sound
from .spots import ScrewSpots
from .walls import Owner

COPIES_MIME = "application/x-drystone-part"
"""Carries the id of the part (UTF-8) whose copy is dragged from the tray."""


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

    scrolls = True
    """Whether scroll bars show where a part of the bench is seen only."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self.theme = Theme.of(self.palette())
        self.plan = Plan((), ())
        self.names: dict[Key, str] = {}
        self.nudge_step = 1.0
        self.turn_step = 15.0
        self.wheel_zooms = False
        self.lines_up = True
        self.shape = SHAPE
        self.edges = EDGES
        self.tool = "select"
        self.figures = ""
        self.gesture: Gesture | None = None
        self.blank_items: list[BlankItem] = []
        self.frame_items: list[FrameItem] = []
        self._measure: ScreenItem | None = None
        self.camera = Camera(self)
        self.finder = Finder(self)
        self.foreground = Foreground(self)
        self.pointer = Pointer(self)
        self.keys = Keys(self)
        self.laying = Laying(self)
        self.spots = ScrewSpots(self)
        scene = QGraphicsScene(self)
        scene.setItemIndexMethod(QGraphicsScene.ItemIndexMethod.NoIndex)
        self.setScene(scene)
        self._selected = SelectionItem(self.theme, self._small_font())
        self._hand = HandItem(self.theme, self.font())
        scene.addItem(self._selected)
        self._crowd = CrowdItem(self.theme)
        scene.addItem(self._hand)
        scene.addItem(self._crowd)
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
        accessible.install()
        self.setBackgroundBrush(self.theme.bench)
        self.setFrameShape(QGraphicsView.Shape.NoFrame)
        document.changed.connect(self._changed)
        document.opened.connect(self.fit)
        document.trial_changed.connect(self.refresh)
        document.selection_changed.connect(self._selection_changed)
        self.refresh()
        self.fit()

    def _changed(self, difference: Difference) -> None:
        self.refresh()
        moved = difference.moved()
        if moved and self.gesture is None:
            self.bring_into_view(moved)
        accessible.announce(self, moved)

    def _selection_changed(self) -> None:
        self.show_selection()
        accessible.tell_focus(self)

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
        before = self.plan.box
        self.plan = plan(job, self.shape)
        scene = self.scene()
        while len(self.blank_items) > len(job.layout.blanks):
            scene.removeItem(self.blank_items.pop())
            scene.removeItem(self.frame_items.pop())
        while len(self.blank_items) < len(job.layout.blanks):
            self._add_blank()
        for item, frame, origin, free, left, below in zip(
            self.blank_items,
            self.frame_items,
            self.plan.origins,
            self.plan.widths,
            self.plan.lefts,
            self.plan.belows,
            strict=True,
        ):
            item.show_job(job, self.names)
            item.setPos(*origin)
            frame.show_job(job, item.titles, free, left, below)
            frame.setPos(*origin)
        x0, y0, x1, y1 = self.plan.box
        room = 0.5 * max(x1 - x0, y1 - y0, 100.0)
        scene.setSceneRect(
            QRectF(x0 - room, y0 - room, x1 - x0 + 2 * room, y1 - y0 + 2 * room)
        )
        self.finder.reset()
        self.show_selection()
        self.overview.refresh()
        self.spots.refresh()
        if self.camera.fitted and self.plan.box != before:
            self.fit()

    def _add_blank(self) -> None:
        index, font = len(self.blank_items), self._small_font()
        item = BlankItem(index, self.theme, font, self.camera.sharpen_soon)
        frame = FrameItem(index, self.theme, font)
        frame.set_scale(self.scale_now())
        self.blank_items.append(item)
        self.frame_items.append(frame)
        self.scene().addItem(item)
        self.scene().addItem(frame)

    def _small_font(self) -> QFont:
        font = QFont(self.font())
        font.setPointSizeF(max(font.pointSizeF() * 0.95, 9.0))
        return font

    def show_selection(self) -> None:
        """Outline what is selected, and what lies wrongly."""
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
        wrong = [k for k in self.document.conflicts() if k not in hand]
        problems = [q for k in wrong if (q := path(k)) is not None]
        named = [
            look_at(
                job,
                arrange.moved(p, *origins[p.blank]),
                self.names.get(key_of(p), job.part(p.part_id).name),
            )
            for p in self.document.placements(wrong)
            if p.blank < len(origins)
        ]
        x0, y0, x1, y1 = self.plan.box
        everything = QRectF(x0, y0, x1 - x0, y1 - y0)
        self._selected.show_outlines(
            selected, here, problems, crowd, everything if many else None, named
        )
        self.foreground.update_handle()
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

    def show_hand(self, placements: list[Placement], shown: InHand) -> None:
        """Show what is in the hand."""
        job = self.document.job
        first = self.plan.origins[placements[0].blank]
        crowd = len(placements) > CROWD
        looks = (
            [
                look_at(
                    job,
                    arrange.moved(p, ox - first[0], oy - first[1]),
                    self.names.get(key_of(p), job.part(p.part_id).name),
                )
                for p, (ox, oy) in ((p, self.plan.origins[p.blank]) for p in placements)
            ]
            if not crowd
            else []
        )
        if crowd:
            on_bench = [
                look_at(job, arrange.moved(p, *self.plan.origins[p.blank]), "")
                for p in placements
            ]
            self._crowd.show_crowd(on_bench, self.scale_now())
        fresh = not self._hand.isVisible()
        self._hand.show_hand(looks, first, job.cutting.cutter, shown)
        if fresh:
            self.show_selection()

    def drop_hand(self) -> None:
        """Put what is in the hand back on its blanks."""
        self._hand.hide()
        self._crowd.hide()
        for item in self.blank_items:
            item.lift(())
        self.show_selection()

    def owner_name(self, owner: Owner) -> str:
        """Return how people call what a distance is measured to."""
        return owner_text(owner, self.names)

    def keep_measure(self, item: ScreenItem | None) -> None:
        """Keep one measure on the bench, and take the last one away."""
        if self._measure is not None:
            self.scene().removeItem(self._measure)
        self._measure = item

    def say(self, words: str) -> None:
        """Show words in the status line."""
        self.said.emit(words)

    def set_lines_up(self, lines_up: bool) -> None:
        """Choose whether dragged parts line up with what is near them."""
        self.lines_up = lines_up
        self.say(
            self.tr("Dragged parts line up with what is near (G ends that).")
            if lines_up
            else self.tr("Dragged parts do not line up with what is near (G).")
        )

    # ------------------------------------------------------------ what is seen

    def scale_now(self) -> float:
        """Return how many pixels a millimetre takes."""
        return self.camera.scale_now()

    def zoom_by(self, factor: float, at: QPointF | None = None) -> None:
        """Zoom, keeping what is under a point of the viewport where it is."""
        self.camera.zoom_by(factor, at)

    def fit(self) -> None:
        """Show all blanks as large as possible."""
        self.camera.fit()

    def fit_blank(self, blank: int) -> None:
        """Show one blank as large as possible."""
        self.camera.fit_blank(blank)

    def bring_into_view(self, keys: frozenset[Key]) -> None:
        """Scroll so that changed copies can be seen, if they cannot."""
        self.camera.bring_into_view(keys)

    def show_copy(self, key: Key) -> None:
        """Select a copy and bring it to the middle, as for a problem in a list."""
        self.camera.show_copy(key)

    @sound
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep everything in view if it was."""
        super().resizeEvent(event)
        self.overview.place()
        if self.camera.fitted:
            self.fit()

    @sound
    def wheelEvent(self, event: QWheelEvent) -> None:
        """Scroll; with Ctrl, or if so set, zoom at the pointer."""
        self.camera.wheel(event)

    @sound
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

    @sound
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
        self._selected.font = self._small_font()
        self._hand.theme = self._crowd.theme = self.theme
        for blank in self.blank_items:
            blank.theme = self.theme
            blank.font = self._small_font()
            blank.repaint_all()
        for frame in self.frame_items:
            frame.theme = self.theme
            frame.font = self._small_font()
            frame.prepareGeometryChange()
        self.viewport().update()
        self.overview.refresh()

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint, leaving for later what would take too long now."""
        self.camera.begin_frame()
        super().paintEvent(event)

    @sound
    def drawForeground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        """Draw the turning handle and the figures beside the pointer."""
        self.foreground.draw(painter, rect)

    # ------------------------------------------------------------ what lies where

    def copy_at(self, at: Point, pixels: float = 3.0) -> Key | None:
        """Return the copy under a point of the bench, or very near to it."""
        return self.finder.copy_at(at, pixels)

    def hole_at(self, at: Point) -> tuple[Key, int] | None:
        """Return the part and the hole of it that lie under a point, smallest first."""
        return self.finder.hole_at(at)

    def hover_words(self, place: QPoint) -> str:
        """Return what the part under a place of the viewport is, in a few lines."""
        return hover_words(self, place)

    def handle_at(self) -> QPointF | None:
        """Return where the turning handle stands in the viewport, or None."""
        return self.foreground.handle_at()

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

    @sound
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Begin: select, or get ready to drag, turn, band, measure or pan."""
        self.pointer.press(event)

    @sound
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go on with what the press began, once the pointer has moved enough."""
        self.pointer.move(event)

    @sound
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Do what the gesture shows, or what a click means."""
        self.pointer.release(event)

    @sound
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Ask for a hole to be filled, or select all copies of a part."""
        self.pointer.double_click(event)

    def follow(self, place: QPoint, keys: Qt.KeyboardModifier) -> None:
        """Let the gesture follow the pointer, and show its figures."""
        self.pointer.follow(place, keys)

    def cancel(self) -> None:
        """Put everything back as it was before the gesture began."""
        self.pointer.cancel()

    def after_gesture(self) -> None:
        """Show what a gesture left behind, and end its figures."""
        self.show_selection()
        self.viewport().update()
        self.figures = ""
        self.overview.follow()
        self.said.emit("")

    @sound
    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Open the menu at the part: under the pointer, or the keys' own."""
        if self.gesture is not None:
            return
        if event.reason() == QContextMenuEvent.Reason.Mouse:
            key = self.copy_at(self.camera.point(event.pos()))
            if key is not None and key not in self.document.selection:
                self.document.select([key])
            self.open_menu(event.globalPos())
        else:
            self.open_menu()

    def open_menu(self, place: QPoint | None = None) -> None:
        """Open the menu at a place of the screen, or else at the selected part.

        Without a selection it opens at the part the keys are at, or in the middle.
        """
        if place is None:
            if self.document.current is not None:
                self.bring_into_view(frozenset({self.document.current}))
            at = (self.handle_at() or self._selected_at()).toPoint()
            seen = self.viewport().rect()
            x = min(max(at.x(), seen.left()), seen.right())
            y = min(max(at.y(), seen.top()), seen.bottom())
            place = self.viewport().mapToGlobal(QPoint(x, y))
        menu = self.menu()
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.popup(place)

    def _selected_at(self) -> QPointF:
        """Return the middle of the current copy in the viewport, or of the viewport."""
        current = self.document.current
        p = None if current is None else self.document.placement(current)
        if p is None:
            return QPointF(self.viewport().rect().center())
        at = self.plan.on_bench(p.blank, arrange.centre_of(self.document.job, p))
        return QPointF(self.mapFromScene(QPointF(*at)))

    def menu(self) -> QMenu:
        """Return the menu of what can be done with the selection."""
        return menu_of(self)

    # ------------------------------------------------------------ keys

    @sound
    def focusInEvent(self, event: Any) -> None:
        """Show which part the keys are at."""
        super().focusInEvent(event)
        self.show_selection()

    @sound
    def focusOutEvent(self, event: Any) -> None:
        """Hide which part the keys are at."""
        super().focusOutEvent(event)
        self.pointer.space = False
        self.show_selection()

    @sound
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Nudge, turn, lock, walk from part to part, zoom."""
        self.keys.press(event)

    @sound
    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        """End panning; let a gesture notice that Ctrl or Shift was let go."""
        self.keys.release(event)

    # ------------------------------------------------------------ from the tray

    def carry(self, part_id: str, place: QPoint) -> bool:
        """Take a copy from the tray into the hand, at a place of the viewport."""
        return self.laying.carry(part_id, place)

    def lay(self, part_id: str) -> bool:
        """Lay a copy from the tray where there is room: the way without dragging."""
        return self.laying.lay(part_id)

    def fill_hole(self, key: Key, hole: int) -> int:
        """Fill a hole of a placed copy from the tray; return how many found room."""
        return self.laying.fill_hole(key, hole)

    def fill_holes(self, key: Key) -> int:
        """Fill every hole of a placed copy from the tray; return how many found room.

        The way without a double click; one step for each hole that took something.
        """
        holes = len(self.document.job.part(key[0]).outline.holes)
        return sum(self.fill_hole(key, hole) for hole in range(holes))

    def duplicate(self) -> bool:
        """Want one more of the current part and lay it near, where there is room."""
        return self.laying.duplicate()

    @sound
    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take copies from the tray; leave files to the window."""
        if event.mimeData().hasFormat(COPIES_MIME):
            event.acceptProposedAction()
        else:
            event.ignore()

    @sound
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

    @sound
    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        """Give the copy back."""
        self.cancel()

    @sound
    def dropEvent(self, event: QDropEvent) -> None:
        """Lay the copy down."""
        if self.gesture is None:
            event.ignore()
            return
        self.gesture.finish()
        self.gesture = None
        self.figures = ""
        self.after_gesture()
        event.acceptProposedAction()
