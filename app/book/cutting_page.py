"""The cutting set-up: cut width, gap, margin, datum, bed, and how to search."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFormLayout,
    QLabel,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.job import Cutting, Datum, Job, Objective
from ..window.document import Document
from . import words
from .length_field import LengthField


class _Choice(QComboBox):
    """A list to choose from that the wheel changes only when it has the focus."""

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to the page."""
        if self.hasFocus():
            super().wheelEvent(event)
        else:
            event.ignore()


class CuttingPage(QWidget):
    """The page of the cutting set-up."""

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self._showing = False
        inner = QWidget(self)
        form = QFormLayout(inner)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        form.setVerticalSpacing(10)
        form.setContentsMargins(12, 12, 12, 12)

        def lengths(label: str, tip: str) -> LengthField:
            name = label.replace("&", "")
            field = LengthField(name, lambda: document.job, inner)
            field.line.setToolTip(tip)
            head = QLabel(label, inner)
            head.setBuddy(field.line)
            form.addRow(head, field)
            return field

        self.cutter = lengths(
            self.tr("C&utter's cut width"),
            self.tr("How wide a slot it really cuts; measure one. 1/4 in is 6.35 mm"),
        )
        self.allowance = lengths(
            self.tr("&Allowance"),
            self.tr("Wood left between two slots, so that no sliver breaks loose"),
        )
        self.gap = QLabel(inner)
        form.addRow(self.tr("Gap between parts"), self.gap)
        self.margin = lengths(
            self.tr("&Margin"),
            self.tr("Least distance from a part to the edge of the blank"),
        )
        self.cutter.entered.connect(lambda v: self._cutting("cutter", v))
        self.allowance.entered.connect(lambda v: self._cutting("allowance", v))
        self.margin.entered.connect(lambda v: self._cutting("margin", v))
        self.holes = QCheckBox(self.tr("Lay parts in the &holes of others"), inner)
        self.holes.setToolTip(self.tr("The hole's waste is used for smaller parts"))
        self.holes.clicked.connect(lambda on: self._cutting("use_holes", on))
        form.addRow("", self.holes)
        self.datum = self._choice(
            inner,
            form,
            self.tr("&Datum"),
            [
                (self.tr("Lower left corner"), Datum.LOWER_LEFT),
                (self.tr("Lower right corner"), Datum.LOWER_RIGHT),
                (self.tr("Upper left corner"), Datum.UPPER_LEFT),
                (self.tr("Upper right corner"), Datum.UPPER_RIGHT),
                (self.tr("Centre"), Datum.CENTRE),
            ],
            self.tr("The point of the blank that exported coordinates count from"),
        )
        self.datum.activated.connect(
            lambda: self._cutting("datum", Datum(self.datum.currentData()))
        )
        self.bed_x = lengths(
            self.tr("&Bed along x"),
            self.tr("What the router reaches; drawn on the bench. 0 for none"),
        )
        self.bed_y = lengths(
            self.tr("B&ed along y"),
            self.tr("What the router reaches; drawn on the bench. 0 for none"),
        )
        self.bed_x.entered.connect(lambda v: self._bed(0, v))
        self.bed_y.entered.connect(lambda v: self._bed(1, v))
        self.objective = self._choice(
            inner,
            form,
            self.tr("&Better is"),
            [
                (self.tr("Fewest sheets"), Objective.FEWEST_SHEETS),
                (self.tr("Least cost"), Objective.LEAST_COST),
            ],
            self.tr("What makes one layout better than another"),
        )
        self.objective.activated.connect(self._objective)
        self.units = self._choice(
            inner,
            form,
            self.tr("Show &lengths in"),
            [(self.tr("Millimetres"), "mm"), (self.tr("Inches"), "in")],
            self.tr("Changes what is shown, never what is stored"),
        )
        self.units.activated.connect(self._units)
        self.seconds = QSpinBox(inner)
        self.seconds.setRange(1, 3600)
        self.seconds.setValue(30)
        self.seconds.setSuffix(self.tr(" s"))
        self.seconds.setMinimumHeight(28)
        self.seconds.setMaximumWidth(140)
        self.seconds.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.seconds.setAccessibleName(self.tr("Nest for at most"))
        self.seconds.setToolTip(
            self.tr("The search ends sooner when nothing can be better")
        )
        head = QLabel(self.tr("Nest f&or at most"), inner)
        head.setBuddy(self.seconds)
        form.addRow(head, self.seconds)
        self.seconds.wheelEvent = lambda event: event.ignore()  # type: ignore[method-assign]
        area = QScrollArea(self)
        area.setWidget(inner)
        area.setWidgetResizable(True)
        area.setFrameShape(QScrollArea.Shape.NoFrame)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(area)
        document.changed.connect(self.refresh)
        self.refresh()

    def _choice(
        self,
        inner: QWidget,
        form: QFormLayout,
        label: str,
        entries: list[tuple[str, object]],
        tip: str,
    ) -> QComboBox:
        box = _Choice(inner)
        for text, value in entries:
            box.addItem(text, str(value))
        box.setAccessibleName(label.replace("&", ""))
        box.view().setAccessibleName(box.accessibleName())
        box.setToolTip(tip)
        box.setMinimumHeight(28)
        box.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        head = QLabel(label, inner)
        head.setBuddy(box)
        form.addRow(head, box)
        return box

    # ------------------------------------------------------------ showing

    def refresh(self) -> None:
        """Show what the document holds."""
        job = self.document.job
        cutting = job.cutting
        self.cutter.show_length(cutting.cutter)
        self.allowance.show_length(cutting.allowance)
        self.margin.show_length(cutting.margin)
        self.gap.setText(f"{words.shown(cutting.gap, job)} {job.units}")
        self.holes.setChecked(cutting.use_holes)
        bed = job.bed or (0.0, 0.0)
        self.bed_x.show_length(bed[0])
        self.bed_y.show_length(bed[1])
        for box, value in (
            (self.datum, str(cutting.datum)),
            (self.objective, str(job.objective)),
            (self.units, job.units),
        ):
            box.setCurrentIndex(box.findData(value))

    # ------------------------------------------------------------ changing

    def _cutting(self, name: str, value: object) -> None:
        job = self.document.job
        cutting: Cutting = replace(job.cutting, **{name: value})  # type: ignore[arg-type]
        labels = {
            "cutter": self.tr("Change the cut width"),
            "allowance": self.tr("Change the allowance"),
            "margin": self.tr("Change the margin"),
            "datum": self.tr("Change the datum"),
            "use_holes": self.tr("Change the use of holes"),
        }
        self.document.change(labels[name], replace(job, cutting=cutting))

    def _bed(self, axis: int, value: float) -> None:
        job = self.document.job
        sides = list(job.bed or (0.0, 0.0))
        sides[axis] = value
        if not sides[1 - axis]:
            sides[1 - axis] = value
        bed = (sides[0], sides[1]) if value else None
        done: Job = replace(job, bed=bed)
        self.document.change(self.tr("Change the bed"), done)

    def _objective(self) -> None:
        value = Objective(self.objective.currentData())
        job = replace(self.document.job, objective=value)
        self.document.change(self.tr("Change what is better"), job)

    def _units(self) -> None:
        job = replace(self.document.job, units=str(self.units.currentData()))
        self.document.change(self.tr("Change the unit"), job)
