"""A ring round whatever has the keyboard's focus, plain on light and on dark ground.

Styles show the focus by a thin line of a colour that differs little from before, and
lists do not show it at all while nothing is chosen in them. The ring is seen once the
focus has moved by a key, and not while the mouse alone is used.
"""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QPoint, QRect, Qt, QTimer
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import (
    QAbstractScrollArea,
    QApplication,
    QMainWindow,
    QTabBar,
    QWidget,
)
from shiboken6 import isValid

from ..bench.sound import sound
from .look import ink, is_dark

WIDTH = 2
"""Of the ring, pixels; beside it runs a line in the colour of the ground."""

ROOM = WIDTH + 1

MOVES = frozenset(
    (
        QEvent.Type.UpdateRequest,  # whatever moves or scrolls is painted anew
        QEvent.Type.Resize,
        QEvent.Type.Show,
    )
)


class _Ring(QWidget):
    """The ring in one window."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.hide()

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the ring, and a line inside it that parts it from what it surrounds."""
        palette = self.palette()
        painter = QPainter(self)
        box = self.rect()
        accent = QColor(ink("info", palette))
        ground = QColor("#1E1E1E" if is_dark(palette) else "#FFFFFF")
        for colour, width in ((accent, WIDTH), (ground, 1)):
            for side in _sides(box, width):
                painter.fillRect(side, colour)
            box = box.adjusted(width, width, -width, -width)
        painter.end()


def _sides(box: QRect, width: int) -> tuple[QRect, ...]:
    """Return the four sides of a frame inside a box."""
    inner = box.height() - 2 * width
    return (
        QRect(box.left(), box.top(), box.width(), width),
        QRect(box.left(), box.bottom() - width + 1, box.width(), width),
        QRect(box.left(), box.top() + width, width, inner),
        QRect(box.right() - width + 1, box.top() + width, width, inner),
    )


class FocusRing(QObject):
    """Shows where the keyboard's focus is, in a window and the dialogs above it.

    Parameters
    ----------
    window : QMainWindow
        Whose focus is shown.
    """

    def __init__(self, window: QMainWindow) -> None:
        super().__init__(window)
        self._window = window
        self._rings: dict[QWidget, _Ring] = {}
        self._focus: QWidget | None = None
        # Layouts settle first; one move of the ring is enough for all of that.
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(0)
        self._later.timeout.connect(self._follow)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._changed)

    def _changed(self, old: QWidget | None, new: QWidget | None) -> None:
        ours = new is not None and self._is_ours(new.window())
        self._focus = new if ours else None
        self._follow()

    def _is_ours(self, window: QWidget) -> bool:
        above: QWidget | None = window
        while above is not None and above is not self._window:
            above = above.parentWidget()
        popup = window.windowType() in (Qt.WindowType.Popup, Qt.WindowType.ToolTip)
        return above is not None and not popup

    @sound
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Go along with what has the focus when a window is painted anew."""
        if event.type() in MOVES:
            self._later.start()
        return False

    def _follow(self) -> None:
        """Bring the ring to where the focus is now."""
        focus = self._focus
        if focus is not None and not isValid(focus):
            focus = self._focus = None
        window = None if focus is None else focus.window()
        self._rings = {w: r for w, r in self._rings.items() if isValid(r)}
        for owner, ring in self._rings.items():
            if owner is not window:
                ring.hide()
        if focus is None or window is None:
            return
        box = self._seen(focus, window)
        by_key = window.testAttribute(Qt.WidgetAttribute.WA_KeyboardFocusChange)
        shown = by_key and focus.isVisible() and not box.isEmpty()
        if window not in self._rings:
            if not shown:
                return
            self._rings[window] = _Ring(window)
            # Filters on all that lies between would be asked while it is taken down.
            window.installEventFilter(self)
        ring = self._rings[window]
        if (ring.isVisible(), ring.geometry()) != (shown, box):
            ring.setGeometry(box)
            ring.setVisible(shown)
            ring.raise_()

    @property
    def box(self) -> QRect | None:
        """Where the ring is in its window, pixels; None while there is none."""
        for ring in self._rings.values():
            if isValid(ring) and ring.isVisible():
                return ring.geometry()
        return None

    def _seen(self, focus: QWidget, window: QWidget) -> QRect:
        """Return where the ring is, in the window's pixels, within all that clips."""
        box = focus.rect()
        if isinstance(focus, QTabBar):
            box = focus.tabRect(focus.currentIndex())
        box = box.adjusted(-ROOM, -ROOM, ROOM, ROOM)
        box.translate(focus.mapTo(window, QPoint(0, 0)))
        here = focus.parentWidget()
        while here is not None and here is not window:
            above = here.parentWidget()
            if isinstance(above, QAbstractScrollArea) and here is above.viewport():
                clip = QRect(here.mapTo(window, QPoint(0, 0)), here.size())
                box = box.intersected(clip)
            here = above
        return box.intersected(window.rect())
