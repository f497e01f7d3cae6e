"""Forms for the shop's own records: what a machine, a cutter, a board … is made of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFormLayout, QLabel, QWidget

from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from . import words
from .fields import ChoiceField, Field, FlagField, TextField, form_layout
from .length_field import LengthField


class Kind(StrEnum):
    """How a value is typed and shown."""

    LENGTH = "length"
    LENGTHS = "lengths"
    SPEED = "speed"
    ACCELERATION = "acceleration"
    AREA = "area"
    NUMBER = "number"
    WHOLE = "whole"
    SHARE = "share"
    TEXT = "text"
    FREE = "free text"
    WORDS = "words"
    FLAG = "flag"
    CHOICE = "choice"


_POWERS = {Kind.ACCELERATION: (1, "/s²"), Kind.AREA: (2, "²")}
"""Power of the unit of length in a unit, and what follows the length's name."""


@dataclass(frozen=True)
class Setting:
    """One value of a record.

    Parameters
    ----------
    key : str
        The attribute; ``bed.0`` is the first of two.
    label : str
        What stands beside it; may hold an access key.
    tip : str
        What it is for, one sentence.
    kind : Kind
        How it is typed.
    least, most : float
        What is usable; mm, mm/min or the unit.
    unit : str
        Of a number.
    choices : tuple of (object, str)
        Values to choose from.
    """

    key: str
    label: str
    tip: str = ""
    kind: Kind = Kind.LENGTH
    least: float = 0.0
    most: float = 100_000.0
    unit: str = ""
    choices: tuple[tuple[Any, str], ...] = ()


def value_of(record: Any, key: str) -> Any:
    """Return a value of a record by its key."""
    name, _, place = key.partition(".")
    value = getattr(record, name)
    return value[int(place)] if place else value


def with_value(record: Any, key: str, value: Any) -> Any:
    """Return the record with another value.

    Raises
    ------
    InputError
        If the record refuses it.
    """
    name, _, place = key.partition(".")
    if place:
        values = list(getattr(record, name))
        values[int(place)] = value
        value = tuple(values)
    return replace(record, **{name: value})


class RecordForm(QWidget):
    """All values of one record, each with its default.

    Parameters
    ----------
    settings : sequence of Setting
        From top to bottom.
    job : callable
        Returns the job, whose unit counts.
    form : QFormLayout, optional
        Where the fields go, in line with others; else they stand in the form itself.

    Signals
    -------
    put(object, str)
        The record with a value changed, and what that value is called.
    """

    put = Signal(object, str)

    def __init__(
        self,
        settings: Sequence[Setting],
        job: Callable[[], Job],
        parent: QWidget | None = None,
        form: QFormLayout | None = None,
    ) -> None:
        super().__init__(parent)
        self._settings = tuple(settings)
        self._job = job
        self._record: Any = None
        self.fields: dict[str, Field] = {}
        if form is not None:
            self.form = form
            self.hide()
            for setting in self._settings:
                self._add(setting)
            return
        form = form_layout(self)
        self.form = form
        for setting in self._settings:
            self._add(setting)

    def _add(self, setting: Setting) -> None:
        field = self._field(setting)
        field.focus_widget().setToolTip(setting.tip)
        if isinstance(field, FlagField):
            self.form.addRow(field)
        else:
            head = QLabel(setting.label, self)
            head.setBuddy(field.focus_widget())
            head.setToolTip(setting.tip)
            self.form.addRow(head, field)
        field.entered.connect(lambda value, s=setting: self._entered(s, value))
        self.fields[setting.key] = field

    def _field(self, setting: Setting) -> Field:
        name = setting.label.replace("&", "")
        job, least, most, unit = self._job, setting.least, setting.most, setting.unit
        if setting.kind is Kind.LENGTH:
            return LengthField(name, job, self, least, most)
        if setting.kind is Kind.FLAG:
            return FlagField(setting.label, self)
        if setting.kind is Kind.CHOICE:
            return ChoiceField(name, setting.choices, self)
        if setting.kind is Kind.LENGTHS:
            return TextField(
                name,
                lambda text: words.lengths(text, job()),
                lambda values: words.shown_lengths(values, job()),
                lambda: job().units,
                self,
                20,
            )
        if setting.kind is Kind.SPEED:
            return TextField(
                name,
                lambda text: words.speed(text, job(), least, most),
                lambda speed: words.shown_speed(speed, job()),
                lambda: words.speed_unit(job()),
                self,
            )
        if setting.kind in _POWERS:
            power, suffix = _POWERS[setting.kind]

            def factor() -> float:
                return 25.4**power if job().units == "in" else 1.0

            return TextField(
                name,
                lambda text: (
                    words.number(text, least / factor(), most / factor()) * factor()
                ),
                lambda value: words.shown_number(value / factor(), 4),
                lambda: f"{job().units}{suffix}",
                self,
            )
        if setting.kind is Kind.SHARE:
            return TextField(
                name,
                lambda text: words.number(text, least, most, "%") / 100.0,
                lambda share: words.shown_number(100.0 * share, 2),
                lambda: "%",
                self,
            )
        if setting.kind is Kind.WHOLE:
            return TextField(
                name,
                lambda text: words.whole(text, int(least), int(most)),
                str,
                lambda: unit,
                self,
            )
        if setting.kind is Kind.NUMBER:
            return TextField(
                name,
                lambda text: words.number(text, least, most, unit),
                words.shown_number,
                lambda: unit,
                self,
            )
        if setting.kind is Kind.WORDS:
            return TextField(
                name,
                lambda text: tuple(w.strip() for w in text.split(";") if w.strip()),
                "; ".join,
                parent=self,
                letters=26,
            )
        if setting.kind is Kind.FREE:
            return TextField(name, str.strip, str, parent=self, letters=26)
        return TextField(name, _named, str, parent=self, letters=26)

    def show_record(self, record: Any, default: Any = None) -> None:
        """Show a record, and mark what differs from the default, if there is one."""
        self._record = record
        for key, field in self.fields.items():
            field.show_value(value_of(record, key))
            if default is None:
                field.forget_default()
            else:
                field.set_default(value_of(default, key))

    def changes(self) -> int:
        """Return how many values are marked."""
        return sum(field.differs for field in self.fields.values())

    def _entered(self, setting: Setting, value: Any) -> None:
        try:
            record = with_value(self._record, setting.key, value)
        except InputError as error:
            field = self.fields[setting.key]
            field.show_value(value_of(self._record, setting.key))
            if isinstance(field, TextField):
                field.complain(f"{error.what}; {error.cure}")
            return
        self._record = record
        self.put.emit(record, setting.label.replace("&", ""))


def _named(text: str) -> str:
    name = text.strip()
    if not name:
        raise InputError("", "it needs a name", "type one")
    return name
