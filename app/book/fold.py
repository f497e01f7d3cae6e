"""Sections of a page that fold, with a summary of what they hold when shut."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from PySide6.QtCore import QEvent, QObject, QPoint, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QFont, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QLabel,
    QScrollArea,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ...nesting.shop.advice import Advice, Weight
from ..bench.sound import sound
from ..window.look import sign
from .boxes import tint

LEVELS = {Weight.NOTE: "info", Weight.WARNING: "warn", Weight.REFUSAL: "error"}


class Remarks(QWidget):
    """Sentences, each with the sign and the colour of its weight."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._said: tuple[tuple[str, str], ...] = ()
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(4)
        self.labels: list[QLabel] = []
        self.hide()

    @property
    def said(self) -> tuple[tuple[str, str], ...]:
        """Level and sentence of each."""
        return self._said

    def say(self, said: Sequence[tuple[str, str]]) -> None:
        """Show sentences: level and words."""
        if tuple(said) == self._said:
            return
        self._said = tuple(said)
        for label in self.labels:
            self._column.removeWidget(label)
            label.hide()
            label.deleteLater()
        self.labels = []
        for _level, words in self._said:
            label = QLabel(self)
            label.setWordWrap(True)
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setText(words)
            self._column.addWidget(label)
            self.labels.append(label)
        self._colour()
        self.setVisible(bool(self._said))

    def advise(self, advice: Sequence[Advice]) -> None:
        """Show advice, the gravest first."""
        order = [Weight.REFUSAL, Weight.WARNING, Weight.NOTE]
        graded = sorted(advice, key=lambda a: order.index(a.weight))
        self.say([(LEVELS[a.weight], sentence(a)) for a in graded])

    def _colour(self) -> None:
        for (level, words), label in zip(self._said, self.labels, strict=True):
            label.setText(f"{sign(level)}  {words}")
            tint(label, level)

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "labels"):
            self._colour()


def sentence(advice: Advice) -> str:
    """Return advice as a sentence, with what it is about."""
    text = advice.message
    if advice.about and not text.startswith(advice.about):
        text = f"{advice.about}: {text}"
    return f"{text[:1].upper()}{text[1:]}."


class Fold(QFrame):
    """A section with a heading that opens and shuts it.

    Remarks stand under the heading, open or shut: they are never folded away.

    Parameters
    ----------
    title : str
        The heading.
    body : QWidget
        What is shown when it is open.

    Signals
    -------
    opened()
        It was opened.
    """

    opened = Signal()

    def __init__(
        self, title: str, body: QWidget, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.title = title
        self.head = QToolButton(self)
        self.head.setText(title)
        self.head.setCheckable(True)
        self.head.setAutoRaise(True)
        self.head.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.head.setSizePolicy(
            QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred
        )
        self.head.setMinimumHeight(30)
        self.head.setIconSize(QSize(12, 12))
        self.head.toggled.connect(self._toggled)
        # A press shows at once, also on one that is open and looks pressed anyway.
        self.head.pressed.connect(lambda: self._point(not self.is_open))
        self.head.released.connect(lambda: self._point(self.is_open))
        self.summary = QLabel(self)
        self.summary.setWordWrap(True)
        self.summary.setTextFormat(Qt.TextFormat.PlainText)
        self.summary.setIndent(26)
        self.remarks = Remarks(self)
        self.remarks.setContentsMargins(26, 0, 4, 0)
        self.body = body
        body.setParent(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 8)
        column.setSpacing(4)
        column.addWidget(self.head)
        column.addWidget(self.summary)
        column.addWidget(self.remarks)
        inner = QVBoxLayout()
        inner.setContentsMargins(26, 0, 4, 0)
        inner.addWidget(body)
        column.addLayout(inner)
        self._heading()
        self.set_open(False)
        self._toggled(False)

    @property
    def is_open(self) -> bool:
        """Whether the body is shown."""
        return self.head.isChecked()

    def set_open(self, is_open: bool) -> None:
        """Open or shut it."""
        self.head.setChecked(is_open)

    def summarise(self, words: str) -> None:
        """Say what it holds, for when it is shut."""
        self.summary.setText(words)
        self.summary.setVisible(bool(words) and not self.is_open)
        self._name()

    def _point(self, down: bool) -> None:
        arrow = Qt.ArrowType.DownArrow if down else Qt.ArrowType.RightArrow
        self.head.setArrowType(arrow)

    def _toggled(self, on: bool) -> None:
        self._point(on)
        self.body.setVisible(on)
        self.summary.setVisible(bool(self.summary.text()) and not on)
        self._name()
        if on:
            self.opened.emit()

    def _name(self) -> None:
        state = self.tr("open") if self.is_open else self.tr("shut")
        self.head.setAccessibleName(f"{self.title}, {state}")
        self.head.setAccessibleDescription(self.summary.text())

    def _heading(self) -> None:
        font = QFont(self.font())
        font.setBold(True)
        self.head.setFont(font)

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the font."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "head"):
            self._heading()


SETTLING = 1000
"""So long a page is laid out at most once something on it has grown, milliseconds."""


class _Anchor(NamedTuple):
    """The field with the focus, and where it is seen on its page."""

    widget: QWidget
    top: int
    """Below the page's upper edge, pixels."""


class PageColumn(QScrollArea):
    """A page's sections one under the other; it scrolls up and down only.

    What is worked out late comes in above or below; the field that has the focus
    stays where it was seen meanwhile.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.inner = QWidget(self)
        self.sections = QVBoxLayout(self.inner)
        self.sections.setContentsMargins(10, 10, 10, 10)
        self.sections.setSpacing(4)
        self.setWidget(self.inner)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self._anchor: _Anchor | None = None
        # Layouts settle first; one step of the page is enough for all of that.
        self._later = QTimer(self)
        self._later.setSingleShot(True)
        self._later.setInterval(0)
        self._later.timeout.connect(self._hold)
        self._wanted: QWidget | None = None
        self._tabbed: QWidget | None = None
        self._settled = QTimer(self)
        self._settled.setSingleShot(True)
        self._settled.setInterval(SETTLING)
        self._settled.timeout.connect(self._forget)
        self.inner.installEventFilter(self)
        self._value = self._high = 0
        self.verticalScrollBar().valueChanged.connect(self._moved)
        application = QApplication.instance()
        assert isinstance(application, QApplication)
        application.focusChanged.connect(self._focused)

    @sound
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Hold the field with the focus in its place when the page is laid out."""
        kind = event.type()
        if kind in (QEvent.Type.LayoutRequest, QEvent.Type.Resize):
            self._later.start()
        return super().eventFilter(watched, event)

    @sound
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Keep the field with the focus in view when the page gets lower."""
        super().resizeEvent(event)
        self._later.start()

    def _moved(self, value: int) -> None:
        """Let the field be seen elsewhere once the page is scrolled."""
        if self._anchor is not None:
            held = self._anchor
            self._anchor = held._replace(top=held.top + self._value - value)
        self._value = value

    def _focused(self) -> None:
        """Note what has the focus; follow it until all is laid out, if by a key."""
        self._note()
        by_key = Qt.WidgetAttribute.WA_KeyboardFocusChange
        if self._anchor is not None and self.window().testAttribute(by_key):
            self._tabbed = self._anchor.widget
            self._settled.start()
            self._later.start()

    def _note(self) -> None:
        """Note which field has the focus now, and where it is seen."""
        self._anchor = self._focus()
        self._high = self.viewport().height()

    def _focus(self) -> _Anchor | None:
        """Return what has the focus on the page, and where it is seen."""
        focus = QApplication.focusWidget()
        if focus is None or not self.inner.isAncestorOf(focus):
            return None
        top = focus.mapTo(self.viewport(), QPoint(0, 0)).y()
        return _Anchor(focus, top)

    def _hold(self) -> None:
        """Bring the field with the focus back to where it was seen."""
        was, now = self._anchor, self._focus()
        if was is not None and now is not None and was.widget is now.widget:
            seen = -now.widget.height() < was.top < self._high
            if seen:
                bar = self.verticalScrollBar()
                bar.setValue(bar.value() + now.top - was.top)
            fits = now.widget.height() < self.viewport().height()
            if fits and (seen or now.widget is self._tabbed):
                self.ensureWidgetVisible(now.widget, 0, 4)
        if self._wanted is not None and not self._wanted.isHidden():
            self.ensureWidgetVisible(self._wanted, 0, 8)
        self._note()

    def show_whole(self, widget: QWidget) -> None:
        """Scroll to a widget of the page that has just come in or grown.

        Layouts within layouts make room one after the other, and later still where the
        machine is busy: the page follows until it has settled.
        """
        self._forget()
        self._wanted = widget
        widget.destroyed.connect(self._forget)
        self._settled.start()
        self._later.start()

    def _forget(self) -> None:
        self._tabbed = None
        if self._wanted is not None:
            self._wanted.destroyed.disconnect(self._forget)
            self._wanted = None

    def add(self, widget: QWidget) -> None:
        """Add a section at the end."""
        self.sections.addWidget(widget)

    def finish(self) -> None:
        """Push all sections to the top."""
        self.sections.addStretch(1)
