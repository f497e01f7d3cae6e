"""How large is it? Asked about drawings whose unit is unknown or doubtful."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QCheckBox,
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QGridLayout,
    QLabel,
    QLineEdit,
    QRadioButton,
    QVBoxLayout,
    QWidget,
)

from ...io.known_size import (
    WHOLE,
    KnownSize,
    SizedReading,
    from_known_size,
    sized_readings,
)
from ...io.read_drawing import ReadDrawing
from ...io.units import MM_PER, format_length, parse_length
from ...nesting.model.errors import InputError
from ..window.look import part_icon, sign
from .boxes import tint

PICTURE = 150
"""Side of the picture of the largest part, pixels."""

MOST_LETTERS = 36
"""Longer names of parts are cut in their middle."""

TIMES = "\N{MULTIPLICATION SIGN}"


class UnitsDialog(QDialog):
    """Asks about one drawing after another.

    Parameters
    ----------
    drawings : sequence of ReadDrawing
        Those that are doubted; each holds a part.
    unit : str
        The job's unit: how sizes are shown and typed.

    Signals
    -------
    decided(object)
        For each drawing's path the unit to read it in, as `look_at` understands it;
        empty for as it was read, None to leave the drawing out.
    """

    decided = Signal(object)

    def __init__(
        self,
        drawings: Sequence[ReadDrawing],
        unit: str,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._drawings = list(drawings)
        self._unit = unit
        self._at = 0
        self._answers: dict[str, str | None] = {}
        self._readings: tuple[SizedReading, ...] = ()
        self._known = ""
        self.setWindowTitle(self.tr("How large is it?"))
        self.setModal(True)
        self.question = QLabel(self)
        self.question.setWordWrap(True)
        self.question.setTextFormat(Qt.TextFormat.PlainText)
        font = self.question.font()
        font.setBold(True)
        self.question.setFont(font)
        self.picture = QLabel(self)
        self.picture.setFixedSize(QSize(PICTURE, PICTURE))
        self.picture.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.choices = QButtonGroup(self)
        self.choices.idToggled.connect(self._chosen)
        self._list = QVBoxLayout()
        self._list.setSpacing(6)
        self.own = QRadioButton(self.tr("I &know a size of it:"), self)
        self.own.setMinimumHeight(28)
        self.part = QComboBox(self)
        self.part.setAccessibleName(self.tr("Whose size"))
        # Long names are cut in their middle: how they begin and end tells them apart.
        self.part.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.part.setMinimumContentsLength(16)
        self.part.view().setTextElideMode(Qt.TextElideMode.ElideMiddle)
        self.way = QComboBox(self)
        self.way.addItems([self.tr("across (x)"), self.tr("up (y)")])
        self.way.setAccessibleName(self.tr("Which way it was measured"))
        self.typed = QLineEdit(self)
        self.typed.setAccessibleName(self.tr("The size you know"))
        self.typed.setPlaceholderText(
            self.tr("such as {example}").format(
                example='6-1/2"' if unit == "in" else "165 mm"
            )
        )
        for box in (self.part, self.way, self.typed):
            box.setMinimumHeight(28)
        self.typed.setMinimumWidth(130)
        self.told = QLabel(self)
        self.told.setWordWrap(True)
        self.told.setTextFormat(Qt.TextFormat.PlainText)
        self.same = QCheckBox(self)
        self.same.setMinimumHeight(28)
        self.buttons = QDialogButtonBox(self)
        role = QDialogButtonBox.ButtonRole
        self.use = self.buttons.addButton(self.tr("&Use this size"), role.AcceptRole)
        self.skip = self.buttons.addButton(
            self.tr("&Leave it out"), role.DestructiveRole
        )
        self.give_up = self.buttons.addButton(self.tr("Add &nothing"), role.RejectRole)
        for button in (self.use, self.skip, self.give_up):
            button.setMinimumHeight(32)
            button.setAutoDefault(button is self.use)
        self.use.clicked.connect(self._use)
        self.skip.clicked.connect(lambda: self._answer(None))
        self.give_up.clicked.connect(self.reject)
        known = QGridLayout()
        known.setContentsMargins(24, 0, 0, 0)
        known.setSpacing(8)
        known.addWidget(self.part, 0, 0, 1, 2)
        known.addWidget(self.way, 1, 0)
        known.addWidget(self.typed, 1, 1)
        known.addWidget(self.told, 2, 0, 1, 2)
        known.setColumnStretch(1, 1)
        right = QVBoxLayout()
        right.addLayout(self._list)
        right.addWidget(self.own)
        right.addLayout(known)
        right.addStretch(1)
        grid = QGridLayout(self)
        grid.setContentsMargins(18, 16, 18, 14)
        grid.setHorizontalSpacing(18)
        grid.setVerticalSpacing(12)
        grid.addWidget(self.question, 0, 0, 1, 2)
        grid.addWidget(self.picture, 1, 0, Qt.AlignmentFlag.AlignTop)
        grid.addLayout(right, 1, 1)
        grid.addWidget(self.same, 2, 1)
        grid.addWidget(self.buttons, 3, 0, 1, 2)
        grid.setColumnStretch(1, 1)
        self.typed.textEdited.connect(self._typed)
        self.part.currentIndexChanged.connect(self._reckon)
        self.part.currentIndexChanged.connect(self._tip_part)
        self.way.currentIndexChanged.connect(self._reckon)
        self.setMinimumWidth(620)
        self._show()

    @property
    def drawing(self) -> ReadDrawing:
        """The drawing that is asked about now."""
        return self._drawings[self._at]

    # ------------------------------------------------------------ showing

    def _show(self) -> None:
        drawing = self.drawing
        name = Path(drawing.file).name
        words = (
            self.tr("{name} does not say what its numbers mean. How large is it?")
            if drawing.units.basis == "guess"
            else self.tr("{name} says its unit, but then its size looks odd. Is it so?")
        )
        self.question.setText(words.format(name=name))
        largest = max(drawing.parts, key=lambda part: max(part.outline.size))
        icon = part_icon(largest.outline, 1, self.palette(), PICTURE)
        self.picture.setPixmap(icon.pixmap(PICTURE, PICTURE))
        self.picture.setAccessibleName(
            self.tr("Picture of {name}").format(name=largest.name)
        )
        self.choices.blockSignals(True)
        for button in self.choices.buttons():
            self.choices.removeButton(button)
            if button is not self.own:
                button.deleteLater()
        self._readings = sized_readings(drawing)
        for number, reading in enumerate(self._readings):
            button = QRadioButton(self._words_of(reading), self)
            button.setMinimumHeight(28)
            self._list.addWidget(button)
            self.choices.addButton(button, number)
            button.setChecked(number == 0)
        self.choices.addButton(self.own, len(self._readings))
        self.choices.blockSignals(False)
        self.part.clear()
        self._offer(self.tr("the largest part, {name}"), largest.name, "")
        for number, part in enumerate(drawing.parts[:30]):
            if part is not largest:
                self._offer("{name}", part.name, number + 1)
        self.part.addItem(self.tr("everything drawn"), WHOLE)
        self.typed.clear()
        left = len(self._drawings) - self._at - 1
        one = self.tr("&The same unit for the other drawing that is asked about")
        many = self.tr("&The same unit for the {n} other drawings that are asked about")
        self.same.setText(one if left == 1 else many.format(n=left))
        self.same.setVisible(left > 0)
        self.skip.setVisible(len(self._drawings) > 1)
        self._reckon()

    def _offer(self, words: str, name: str, number: object) -> None:
        """Offer a part to measure; its whole name is in the tip."""
        metrics = self.part.fontMetrics()
        shown = metrics.elidedText(
            name,
            Qt.TextElideMode.ElideMiddle,
            metrics.averageCharWidth() * MOST_LETTERS,
        )
        self.part.addItem(words.format(name=shown), number)
        at = self.part.count() - 1
        self.part.setItemData(at, words.format(name=name), Qt.ItemDataRole.ToolTipRole)

    def _length(self, mm: float) -> str:
        rounded = round(mm, 3 if mm < 1000 else 1)
        return format_length(rounded, self._unit)

    def _words_of(self, reading: SizedReading) -> str:
        names = {
            "mm": self.tr("in millimetres"),
            "in": self.tr("in inches"),
            "cm": self.tr("in centimetres"),
            "m": self.tr("in metres"),
            "ft": self.tr("in feet"),
        }
        name = names.get(reading.units)
        if name is None:
            if reading.units in MM_PER:
                name = self.tr("in {unit}").format(unit=reading.units)
            else:
                name = self.tr("one unit is {length}").format(length=reading.units)
        words = self.tr("{unit}: the largest part is {width} {times} {height}")
        return words.format(
            unit=name,
            width=self._length(reading.width),
            times=TIMES,
            height=self._length(reading.height),
        )

    # ------------------------------------------------------------ choosing

    def _chosen(self, number: int, on: bool) -> None:
        if on:
            if number == len(self._readings) and self.isVisible():
                self.typed.setFocus()
            self._reckon()

    def _tip_part(self) -> None:
        tip = self.part.currentData(Qt.ItemDataRole.ToolTipRole)
        self.part.setToolTip(tip or self.part.currentText())

    def _typed(self) -> None:
        self.own.setChecked(True)
        self._reckon()

    def _reckon(self) -> None:
        """Say what a typed size leads to."""
        own = self.own.isChecked()
        self.told.setVisible(own)
        self._known = ""
        if not own:
            self.use.setEnabled(True)
            return
        text = self.typed.text().strip()
        level, words = "info", self.tr("Type the size as you measured it.")
        if text:
            try:
                mm = parse_length(text, self._unit)
                across = self.way.currentIndex() == 0
                known = KnownSize(
                    mm if across else None,
                    None if across else mm,
                    self.part.currentData() or "",
                )
                reading = from_known_size(self.drawing, known)
            except InputError as error:
                level = "error"
                words = f"{error.what}; {error.cure}" if error.cure else error.what
            else:
                self._known = reading.units
                level = "ok"
                words = self.tr("{unit}; it is then {width} {times} {height}").format(
                    unit=self._unit_words(reading.unit, reading.factor),
                    width=self._length(reading.width),
                    times=TIMES,
                    height=self._length(reading.height),
                )
        together = words.replace(" mm", "\N{NO-BREAK SPACE}mm")
        self.told.setText(f"{sign(level)}  {together}")
        tint(self.told, level)
        self.use.setEnabled(bool(self._known))

    def _unit_words(self, unit: str, factor: float) -> str:
        if unit:
            return self.tr("That fits {unit}").format(unit=unit)
        return self.tr("No usual unit fits; one unit is {factor} mm").format(
            factor=f"{factor:.6g}"
        )

    def _use(self) -> None:
        if self.own.isChecked():
            self._answer(self._known)
            return
        number = max(self.choices.checkedId(), 0)
        self._answer(self._readings[number].units if number else "")

    def _answer(self, units: str | None) -> None:
        self._answers[self.drawing.file] = units
        if self.same.isVisible() and self.same.isChecked() and units is not None:
            taken = units or self._readings[0].units
            for other in self._drawings[self._at + 1 :]:
                self._answers[other.file] = taken
            self._at = len(self._drawings) - 1
        self._at += 1
        if self._at < len(self._drawings):
            self._show()
            return
        self.decided.emit(dict(self._answers))
        self.accept()
