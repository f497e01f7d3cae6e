"""Fields of the job book: what is wrong and what was changed stands beside each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPaintEvent, QWheelEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QSizePolicy,
    QSpinBox,
    QStyle,
    QStyleOptionComboBox,
    QStylePainter,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.errors import InputError
from ..bench.sound import sound
from ..window.look import ink, sign
from .boxes import tint, visible_edge
from .fold import PageColumn

TALL = 28
"""Least height of a field, pixels."""

LONG = 20
"""A field for so many letters and more holds names: it takes all the room there is."""

_NOTHING = object()


def form_layout(parent: QWidget | None = None) -> QFormLayout:
    """Return an empty form: labels on the left, or above what leaves them no room.

    Parameters
    ----------
    parent : QWidget or None
        Whose layout it becomes; None for a form inside another layout.
    """
    form = QFormLayout(parent) if parent is not None else QFormLayout()
    form.setContentsMargins(0, 0, 0, 0)
    form.setSpacing(6)  # the same both ways: rows of buttons in it take it over
    form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
    form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
    form.setLabelAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    return form


class Line(QLineEdit):
    """A line that Esc sets back."""

    reverted = Signal()

    @sound
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Set back with Esc."""
        if event.key() == Qt.Key.Key_Escape:
            self.reverted.emit()
            return
        super().keyPressEvent(event)


def _passes_by(field: QWidget, event: QWheelEvent) -> bool:
    """Leave the wheel to the page unless a field has the focus; return whether so."""
    if field.hasFocus():
        return False
    event.ignore()
    return True


class Choice(QComboBox):
    """A list to choose from that the wheel changes only when it has the focus.

    Words that it has no room for end in dots.
    """

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.view().setAccessibleName(name)
        self.setMinimumHeight(TALL)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.setMinimumContentsLength(12)
        if parent is not None:
            visible_edge(self)

    @sound
    def paintEvent(self, event: QPaintEvent) -> None:
        """Paint the list, its words as far as there is room."""
        option = QStyleOptionComboBox()
        self.initStyleOption(option)
        part = QStyle.SubControl.SC_ComboBoxEditField
        kind = QStyle.ComplexControl.CC_ComboBox
        room = self.style().subControlRect(kind, option, part, self).width() - 4
        option.currentText = self.fontMetrics().elidedText(
            option.currentText, Qt.TextElideMode.ElideRight, room
        )
        painter = QStylePainter(self)
        painter.drawComplexControl(kind, option)
        painter.drawControl(QStyle.ControlElement.CE_ComboBoxLabel, option)
        painter.end()

    @sound
    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to the page."""
        if not _passes_by(self, event):
            super().wheelEvent(event)


class SecondsBox(QSpinBox):
    """A number of seconds that the wheel changes only when it has the focus."""

    def __init__(self, name: str, most: int, usual: int, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAccessibleName(name)
        self.setRange(1, most)
        self.setValue(usual)
        self.setSuffix(self.tr(" s"))
        self.setMinimumHeight(TALL)
        self.setMaximumWidth(140)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        visible_edge(self)

    @sound
    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to the page."""
        if not _passes_by(self, event):
            super().wheelEvent(event)


class Field(QWidget):
    """One value, and whether it differs from the shop's default.

    Parameters
    ----------
    name : str
        What it is, for its accessible name.

    Signals
    -------
    entered(object)
        Another usable value was given.
    """

    entered = Signal(object)

    def __init__(self, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.name = name
        self._value: Any = None
        self._default: Any = _NOTHING
        self.reset = QToolButton(self)
        self.reset.setMinimumSize(TALL, TALL)
        self.reset.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.reset.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
        self.reset.setAccessibleName(
            self.tr("{name}: reset to shop default").format(name=name)
        )
        self.reset.clicked.connect(self._set_back)
        self.reset.hide()
        self.row = QHBoxLayout()
        self.row.setSpacing(6)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(2)
        self.column.addLayout(self.row)

    @property
    def value(self) -> Any:
        """The value shown."""
        return self._value

    @property
    def differs(self) -> bool:
        """Whether the value is marked as changed from the shop's default."""
        return self._default is not _NOTHING and self._default != self._value

    def words_of(self, value: Any) -> str:
        """Return a value as a person reads it, with its unit."""
        return str(value)

    def show_value(self, value: Any) -> None:
        """Show a value."""
        self._value = value
        self._mark()

    def set_default(self, value: Any) -> None:
        """Give the shop's default to compare with."""
        self._default = value
        self._mark()

    def forget_default(self) -> None:
        """Compare with no default any more."""
        self._default = _NOTHING
        self._mark()

    def _set_back(self) -> None:
        value = self._default
        self.focus_widget().setFocus()
        self.set_back()
        self.show_value(value)
        self.entered.emit(value)

    def set_back(self) -> None:
        """Show the value again, whatever was typed."""
        self.show_value(self._value)

    def focus_widget(self) -> QWidget:
        """Return the widget that takes keys."""
        return self

    def _mark(self) -> None:
        self.reset.setVisible(self.differs)
        if not self.differs:
            return
        words = self.words_of(self._default)
        metrics = self.reset.fontMetrics()
        room = metrics.averageCharWidth() * 14
        short = metrics.elidedText(words, Qt.TextElideMode.ElideRight, room)
        self.reset.setText(f"\N{ANTICLOCKWISE OPEN CIRCLE ARROW} {short}")
        self.reset.setMinimumWidth(max(TALL, self.reset.sizeHint().width()))
        text = self.tr("Changed. Reset to shop default: {value}").format(value=words)
        self.reset.setToolTip(text)
        self.reset.setAccessibleName(f"{self.name}: {text}")


class TextField(Field):
    """A value that is typed; what is wrong with it is said beside it.

    Parameters
    ----------
    name : str
        What it is, for its accessible name.
    read : callable
        The value of a text; raises InputError.
    write : callable
        The text of a value, without its unit.
    unit : callable
        The unit as it is now; may be empty.
    letters : int
        How long a value usually is; see `LONG`.
    """

    def __init__(
        self,
        name: str,
        read: Callable[[str], Any],
        write: Callable[[Any], str],
        unit: Callable[[], str] = lambda: "",
        parent: QWidget | None = None,
        letters: int = 9,
    ) -> None:
        super().__init__(name, parent)
        self._read_text, self._write, self._unit = read, write, unit
        self._letters = letters
        self._long = letters >= LONG
        self.line = Line(self)
        visible_edge(self.line)
        self.line.setAccessibleName(name)
        self.line.setMinimumHeight(TALL)
        if letters <= 12:
            self.line.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.unit_label = QLabel(self)
        self.error = QLabel(self)
        self.error.setWordWrap(True)
        self.error.setTextFormat(Qt.TextFormat.PlainText)
        self.error.hide()
        self.row.addWidget(self.line, 1 if self._long else 0)
        self.row.addWidget(self.unit_label)
        self.row.addWidget(self.reset)
        self.row.addStretch(0 if self._long else 1)
        self.column.addWidget(self.error)
        self.setFocusProxy(self.line)
        self.line.editingFinished.connect(self._finished)
        self.line.textEdited.connect(self._edited)
        self.line.reverted.connect(self.set_back)
        self._widen()

    def focus_widget(self) -> QWidget:
        """Return the line."""
        return self.line

    def words_of(self, value: Any) -> str:
        """Return a value with its unit."""
        return f"{self._write(value)} {self._unit()}".strip()

    def show_value(self, value: Any) -> None:
        """Show a value; what is half typed or wrong stays while the value does."""
        typing = self.line.hasFocus() and self.line.isModified()
        if value == self._value and (typing or not self.error.isHidden()):
            return
        self._show(value)

    def set_back(self) -> None:
        """Show the value again, whatever was typed."""
        self._show(self._value)

    def _show(self, value: Any) -> None:
        text = self._write(value)
        self.unit_label.setText(self._unit())
        self.unit_label.setVisible(bool(self._unit()))
        if self.line.text() != text:
            self.line.setText(text)
            self.line.setCursorPosition(0)
        self.complain("")
        super().show_value(value)

    def _read(self) -> Any:
        try:
            return self._read_text(self.line.text())
        except InputError as error:
            what = f"{error.what}; {error.cure}" if error.cure else error.what
            self.complain(what)
            return _NOTHING

    def _finished(self) -> None:
        self.line.setModified(False)
        if self.line.text() == self._write(self._value):
            self.complain("")
            return
        value = self._read()
        if value is not _NOTHING:
            self.complain("")
            old = self._value
            self._show(value)
            if value != old:
                self.entered.emit(value)

    def _edited(self) -> None:
        if not self.error.isHidden():  # once wrong, told again at every key
            self.complain("")
            self._read()

    def complain(self, what: str) -> None:
        """Say beside the field what is wrong with it; nothing takes that away."""
        self.error.setVisible(bool(what))
        self.error.setText(f"{sign('error')} {what}" if what else "")
        tint(self.error, "error")
        colour = ink("error", self.palette())
        self.line.setStyleSheet(f"border: 2px solid {colour}" if what else "")
        self.line.setAccessibleDescription(what)
        around = self.parentWidget() if what else None
        while around is not None and not isinstance(around, PageColumn):
            around = around.parentWidget()
        if around is not None:  # so that it can be read whole
            around.show_whole(self.error)

    def _widen(self) -> None:
        room = self.line.fontMetrics().averageCharWidth() * (self._letters + 3)
        self.line.setMinimumWidth(min(room, 90))
        if not self._long:
            self.line.setMaximumWidth(room + 12)

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette and the font."""
        super().changeEvent(event)
        if not hasattr(self, "error"):
            return
        if event.type() == QEvent.Type.FontChange:
            self._widen()
        elif event.type() == QEvent.Type.PaletteChange:
            tint(self.error, "error")


class ChoiceField(Field):
    """One of some values.

    Parameters
    ----------
    name : str
        What it is.
    choices : sequence of (object, str)
        Values and how a person reads them.
    """

    def __init__(
        self,
        name: str,
        choices: Sequence[tuple[Any, str]],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(name, parent)
        self._values: list[Any] = []
        self.box = Choice(name, self)
        self.row.addWidget(self.box, 1)
        self.row.addWidget(self.reset)
        self.setFocusProxy(self.box)
        self.set_choices(choices)
        self.box.activated.connect(self._chosen)

    def set_choices(self, choices: Sequence[tuple[Any, str]]) -> None:
        """Offer other values."""
        self.box.blockSignals(True)
        self.box.clear()
        self._values = [value for value, _ in choices]
        for _, words in choices:
            self.box.addItem(words)
        self.box.blockSignals(False)

    def focus_widget(self) -> QWidget:
        """Return the list."""
        return self.box

    def words_of(self, value: Any) -> str:
        """Return how a person reads a value."""
        if value in self._values:
            return self.box.itemText(self._values.index(value))
        return str(value)

    def show_value(self, value: Any) -> None:
        """Show a value."""
        at = self._values.index(value) if value in self._values else -1
        self.box.setCurrentIndex(at)
        super().show_value(value)

    def _chosen(self, at: int) -> None:
        value = self._values[at]
        if value != self._value:
            self.show_value(value)
            self.entered.emit(value)


class FlagField(Field):
    """Yes or no.

    Parameters
    ----------
    words : str
        What stands beside the box; may hold an access key.
    """

    def __init__(self, words: str, parent: QWidget | None = None) -> None:
        super().__init__(words.replace("&", ""), parent)
        self.box = QCheckBox(words, self)
        self.box.setMinimumHeight(TALL)
        visible_edge(self.box)
        self.row.addWidget(self.box)
        self.row.addWidget(self.reset)
        self.row.addStretch(1)
        self.setFocusProxy(self.box)
        self.box.clicked.connect(self._clicked)

    def focus_widget(self) -> QWidget:
        """Return the box."""
        return self.box

    def words_of(self, value: Any) -> str:
        """Return yes or no."""
        return self.tr("yes") if value else self.tr("no")

    def show_value(self, value: Any) -> None:
        """Show a value."""
        self.box.setChecked(bool(value))
        super().show_value(value)

    def _clicked(self, on: bool) -> None:
        self.show_value(on)
        self.entered.emit(on)
