"""A small plate on the bench for typing where parts lie, or how large a keep-out is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QDialogButtonBox,
    QFormLayout,
    QFrame,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from ...io.units import parse_length
from ...nesting.model.curve import Box
from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.outline import Loop
from ...nesting.model.placement import Placement
from ..window.look import ink, level_labels
from . import arrange
from .copies import key_of
from .sound import sound
from .words import angle_text, length_text, shortened, tr

if TYPE_CHECKING:
    from .view import BenchView


@dataclass(frozen=True)
class Entry:
    """One field: what it is called, what stands in it, and whether it is a length."""

    label: str
    text: str
    is_length: bool = True


class NumbersPlate(QFrame):
    """Fields, and a word about what is wrong with them.

    Parameters
    ----------
    parent : QWidget
        What it lies on.
    title : str
        Whom it is about.
    entries : list of Entry
        The fields; an empty text stands for several values.
    apply : callable of dict
        Takes what was changed, by place in the list: lengths as mm, other texts as
        they are. Raises `InputError` when something does not do.
    """

    def __init__(
        self,
        parent: QWidget,
        title: str,
        entries: list[Entry],
        units: str,
        apply: Callable[[dict[int, float | str]], None],
        done: Callable[[], None],
    ) -> None:
        super().__init__(parent)
        self._entries = entries
        self._units = units
        self._apply = apply
        self._done = done
        self.setFrameShape(QFrame.Shape.StyledPanel)
        self.setAutoFillBackground(True)
        self.setAccessibleName(title)
        column = QVBoxLayout(self)
        heading = QLabel(shortened(title), self)
        font = heading.font()
        font.setBold(True)
        heading.setFont(font)
        column.addWidget(heading)
        form = QFormLayout()
        self.fields: list[QLineEdit] = []
        for entry in entries:
            field = QLineEdit(entry.text, self)
            field.setMinimumHeight(28)
            field.setAccessibleName(entry.label)
            if not entry.text:
                field.setPlaceholderText(tr("several"))
            field.returnPressed.connect(self.accept)
            form.addRow(entry.label, field)
            self.fields.append(field)
        column.addLayout(form)
        level_labels(form)
        self.wrong = QLabel(self)
        self.wrong.setWordWrap(True)
        self.wrong.setStyleSheet(f"color: {ink('error', self.palette())}")
        self.wrong.hide()
        column.addWidget(self.wrong)
        roles = QDialogButtonBox.StandardButton
        self.buttons = QDialogButtonBox(roles.Apply | roles.Cancel, self)
        self.buttons.button(roles.Apply).clicked.connect(self.accept)
        self.buttons.button(roles.Cancel).clicked.connect(self.reject)
        column.addWidget(self.buttons)
        self.adjustSize()

    def accept(self) -> None:
        """Do what the fields say, or tell what is wrong with them."""
        changed: dict[int, float | str] = {}
        try:
            for k, (entry, field) in enumerate(
                zip(self._entries, self.fields, strict=True)
            ):
                text = field.text().strip()
                if text == entry.text:
                    continue
                changed[k] = (
                    parse_length(text, self._units) if entry.is_length else text
                )
            if changed:
                self._apply(changed)
        except InputError as mistake:
            words = str(mistake)
            self.wrong.setText(f"✕ {words}")
            self.wrong.setAccessibleName(words)
            self.wrong.show()
            self.adjustSize()
            return
        self.reject()

    def reject(self) -> None:
        """Go away."""
        self.hide()
        self.deleteLater()
        self._done()

    def keep_inside(self) -> None:
        """Move so that all of it can be seen, as far as there is room."""
        parent = self.parentWidget()
        assert parent is not None
        room = parent.rect()
        x = min(self.x(), room.width() - self.width())
        y = min(self.y(), room.height() - self.height())
        self.move(max(x, 0), max(y, 0))

    @sound
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Grow where there is room, as with words about what is wrong."""
        super().resizeEvent(event)
        self.keep_inside()

    @sound
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go away with Esc; keep every other key from the bench."""
        if event.key() == Qt.Key.Key_Escape:
            self.reject()
        event.accept()


def open_plate(view: BenchView) -> NumbersPlate | None:
    """Open a plate for what is chosen on the bench: parts, or a keep-out."""
    chosen = view.pointer.chosen_keep_out
    if chosen is not None:
        plate = _for_keep_out(view, *chosen)
    else:
        parts = view.document.movable(view.document.selection)
        if not parts:
            return None
        plate = _for_parts(view, parts)
    place = view.handle_at()
    at = view.viewport().rect().center() if place is None else place.toPoint()
    plate.move(at + QPoint(30, 0))
    plate.show()
    plate.keep_inside()
    plate.fields[0].setFocus(Qt.FocusReason.ShortcutFocusReason)
    plate.fields[0].selectAll()
    return plate


def _plate(
    view: BenchView,
    title: str,
    entries: list[Entry],
    apply: Callable[[dict[int, float | str]], None],
) -> NumbersPlate:
    units = view.document.job.units
    return NumbersPlate(view.viewport(), title, entries, units, apply, view.setFocus)


def _for_parts(view: BenchView, parts: list[Placement]) -> NumbersPlate:
    document = view.document
    job = document.job
    keys = [key_of(p) for p in parts]

    def common(texts: list[str]) -> str:
        return texts[0] if len(set(texts)) == 1 else ""

    boxes = [_true_box(job, p) for p in parts]
    entries = [
        Entry("X", common([length_text(b[0], job.units, 3) for b in boxes])),
        Entry("Y", common([length_text(b[1], job.units, 3) for b in boxes])),
        Entry(tr("Turn"), common([angle_text(p.turn) for p in parts]), False),
    ]

    def apply(changed: dict[int, float | str]) -> None:
        out = []
        for p in parts:
            if 2 in changed:
                p = _turned(view, p, str(changed[2]))
            x, y, _, _ = _true_box(job, p)
            to_x, to_y = changed.get(0, x), changed.get(1, y)
            out.append(arrange.moved(p, float(to_x) - x, float(to_y) - y))
        text = document.gesture_text(
            tr("Place {name} by numbers"), tr("Place {count} parts by numbers"), keys
        )
        document.replace_placements(text, out)

    return _plate(
        view,
        document.gesture_text("{name}", tr("{count} parts"), keys),
        entries,
        apply,
    )


def _true_box(job: Job, p: Placement) -> Box:
    """Return the box round a placed copy, of the true curves, mm."""
    return job.part(p.part_id).outline.moved(p.motion).bounds


def _turned(view: BenchView, p: Placement, text: str) -> Placement:
    job = view.document.job
    try:
        degrees = float(text.rstrip("° ").replace(",", "."))
    except ValueError:
        raise InputError(
            "", tr("{text} is no angle").format(text=repr(text)), tr("give degrees")
        ) from None
    if not job.part(p.part_id).turn.allows(degrees, job.stock_of(p.blank).grain):
        raise InputError("", view.document.turn_words(key_of(p)).rstrip("."))
    return arrange.turned_to(job, p, degrees)


def _for_keep_out(view: BenchView, blank: int, index: int) -> NumbersPlate:
    job = view.document.job
    stock = job.stock_of(blank)
    keep_out = stock.keep_outs[index]
    x0, y0, x1, y1 = keep_out.loop.bounds
    units = job.units
    round_one = keep_out.loop.is_circle
    if round_one:
        values = [(x0 + x1) / 2, (y0 + y1) / 2, x1 - x0]
        labels = [tr("Middle X"), tr("Middle Y"), tr("Diameter")]
    else:
        values = [x0, y0, x1 - x0, y1 - y0]
        labels = ["X", "Y", tr("Width"), tr("Height")]
    entries = [
        Entry(label, length_text(value, units, 3))
        for label, value in zip(labels, values, strict=True)
    ]
    entries.append(Entry(tr("Name"), keep_out.label, False))

    def apply(changed: dict[int, float | str]) -> None:
        new = [float(changed.get(k, value)) for k, value in enumerate(values)]
        if min(new[2:]) <= 0.0:
            raise InputError("", tr("the size must be above 0"))
        if round_one:
            loop = Loop.circle(new[0], new[1], new[2] / 2)
        else:
            loop = Loop.rectangle(new[2], new[3], new[0], new[1])
        label = str(changed.get(len(values), keep_out.label))
        keep_outs = list(stock.keep_outs)
        keep_outs[index] = replace(
            keep_out,
            loop=loop if set(changed) - {len(values)} else keep_out.loop,
            label=label,
        )
        view.document.set_keep_outs(stock.id, keep_outs, tr("Change a keep-out"))

    return _plate(view, keep_out.label or tr("Keep-out"), entries, apply)
