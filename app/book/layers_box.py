"""What is done along which layer or colour of drawings: seen, said, read anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QCoreApplication, QEvent, QSize, Qt, Signal
from PySide6.QtGui import QColor, QIcon, QPainter, QPixmap
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QVBoxLayout,
    QWidget,
)

from ...io.operations import NOTHING, Meaning, colour_of, meaning_from
from ...nesting.model.job import Job
from ..bench.sound import sound
from ..window.document import Document
from ..window.look import sign
from .boxes import tint, visible_edge
from .buttons import push_button
from .reading_again import Again, sources_of
from .table import BookTable, Column, RowsModel

if TYPE_CHECKING:
    from ...io.operations import LayerUse
    from ...io.read_drawing import ReadDrawing

MOST_COLOURS = 8
"""A drawing in more colours is a picture, and its colours say nothing."""

SWATCH = 16


@dataclass(frozen=True)
class LayerRow:
    """A layer or a colour.

    Attributes
    ----------
    key : str
        The layer's name, or the colour.
    count : int
        How many curves of the drawings have it.
    taken : tuple of str
        What they were taken for; empty where their place decided.
    word : str
        What the job says, such as ``pocket``; empty for nothing yet.
    """

    key: str
    count: int = 0
    taken: tuple[str, ...] = ()
    word: str = ""

    @property
    def colour(self) -> str:
        """The colour as ``#rrggbb``; empty for what is only a layer's name."""
        return colour_of(self.key)


def _tr(text: str) -> str:
    return QCoreApplication.translate("LayersBox", text)


def rows_of(
    job: Job, uses: Sequence[LayerUse], more: Sequence[str] = ()
) -> tuple[LayerRow, ...]:
    """Return the layers, then the colours, then what else the job speaks of.

    Parameters
    ----------
    uses : sequence of LayerUse
        What the drawings hold.
    more : sequence of str
        Layers and colours that are to be listed too.
    """
    layers: dict[str, str] = {}
    for use in uses:
        if use.layer:
            layers.setdefault(use.layer.casefold(), use.layer)
    colours = {c: "" for use in uses for c in (use.colour, use.fill) if c}
    if not 2 <= len(colours) <= MOST_COLOURS:
        colours = {}
    said = dict(job.layers)
    keys = [*layers.values(), *colours]
    for key in (*said, *more):
        colour = colour_of(key)
        known = [k for k in keys if k.casefold() == key.casefold() or k == colour]
        if known:
            keys[keys.index(known[0])] = key if key in said else known[0]
        else:
            keys.append(key)
    found = []
    for key in keys:
        with_it = [use for use in uses if use.has(key)]
        taken = {str(use.meaning or "") for use in with_it}
        count = sum(use.count for use in with_it)
        found.append(LayerRow(key, count, tuple(sorted(taken)), said.get(key, "")))
    return tuple(found)


def _put_word(job: Job, row: LayerRow, text: str) -> LayerRow:
    if text in ("", _tr("not said")):
        return replace(row, word="")
    meaning = meaning_from(text)
    return replace(row, word=meaning.value if meaning else NOTHING)


def _put_row(job: Job, number: int, row: LayerRow) -> Job:
    said = dict(job.layers)
    if row.word:
        said[row.key] = row.word
    else:
        said.pop(row.key, None)
    return replace(job, layers=tuple(said.items()))


def _taken_words(job: Job, row: LayerRow) -> str:
    words = [word or _tr("by its place") for word in row.taken]
    return ", ".join(words)


def _swatch(number: int, row: LayerRow) -> QIcon:
    if not row.colour:
        return QIcon()
    picture = QPixmap(SWATCH, SWATCH)
    picture.fill(QColor(row.colour))
    painter = QPainter(picture)
    painter.setPen(QColor("#888888"))  # white is seen on white, black on black
    painter.drawRect(0, 0, SWATCH - 1, SWATCH - 1)
    painter.end()
    return QIcon(picture)


class LayersBox(QWidget):
    """A table of layers and colours; each word said there is one step to undo.

    Signals
    -------
    again_wanted(object)
        Drawings (`Again`) are to be read with what is said now.
    told()
        What it holds is different.
    """

    again_wanted = Signal(object)
    told = Signal()

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self.drawings: tuple[ReadDrawing, ...] = ()
        self._read_with: tuple[tuple[str, str], ...] = ()
        self._more: list[str] = []
        self.model = RowsModel(
            document, self._columns(), self._rows, _put_row, lambda row: row.key
        )
        self.table = BookTable(self.model, self.tr("Layers and colours"), self)
        self.table.setIconSize(QSize(SWATCH, SWATCH))
        self.line = QLineEdit(self)
        visible_edge(self.line)
        self.line.setMinimumHeight(28)
        self.line.setPlaceholderText(self.tr("Another layer or colour"))
        self.line.setAccessibleName(self.tr("Another layer or colour"))
        self.line.setToolTip(
            self.tr("The name of a layer, or a colour such as red or #ff0000")
        )
        self.line.returnPressed.connect(self.add)
        self.more = push_button(
            self,
            self.tr("List it"),
            self.tr("List it above, to say its work"),
            self.add,
        )
        self.again = push_button(
            self,
            self.tr("Read again"),
            self.tr("Read the drawings anew with what is said; their parts follow"),
            lambda: self.again_wanted.emit(
                Again(self.drawings, self.sources, self._read_with)
            ),
        )
        self.state = QLabel(self)
        self.state.setWordWrap(True)
        self.state.setTextFormat(Qt.TextFormat.PlainText)
        row = QHBoxLayout()
        row.addWidget(self.line, 1)
        row.addWidget(self.more)
        row.addWidget(self.again)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.table)
        column.addLayout(row)
        column.addWidget(self.state)
        document.changed.connect(self.refresh)
        document.opened.connect(self._opened)
        self.refresh()

    def _columns(self) -> list[Column[LayerRow]]:
        return [
            Column(
                self.tr("Layer or colour"),
                lambda job, row: row.key,
                tip=self.tr("Layers by name, then colours"),
                icon=_swatch,
            ),
            Column(
                self.tr("Work"),
                lambda job, row: row.word or _tr("not said"),
                _put_word,
                self.tr(
                    "What is done along it. Nothing: its place decides, whatever its "
                    "name is. Not said: its name decides, or its place."
                ),
                choices=(_tr("not said"), *(m.value for m in Meaning), NOTHING),
            ),
            Column(
                self.tr("Read as"),
                _taken_words,
                tip=self.tr("What its curves were taken for when they were read"),
            ),
            Column(
                self.tr("Curves"),
                lambda job, row: str(row.count) if row.count else "",
                tip=self.tr("How many curves of the drawings have it"),
                number=True,
            ),
        ]

    def _rows(self, job: Job) -> tuple[LayerRow, ...]:
        uses = [use for drawing in self.drawings for use in drawing.uses]
        return rows_of(job, uses, self._more)

    # ------------------------------------------------------------ showing

    @property
    def late(self) -> bool:
        """Whether something was said since the drawings were read."""
        read = bool(self.drawings or self.sources)
        return read and self.document.job.layers != self._read_with

    @property
    def sources(self) -> tuple[str, ...]:
        """The drawings that only parts speak of: those of a job that was opened."""
        read = {part.source for d in self.drawings for part in d.parts}
        read |= {drawing.file for drawing in self.drawings}
        return tuple(s for s in sources_of(self.document.job) if s not in read)

    def show_drawings(self, drawings: Sequence[ReadDrawing]) -> None:
        """List what more drawings hold that were read just now."""
        if not drawings:
            return
        # A drawing read before something was said is not up to date; reading it again
        # makes all of them so.
        late = self.late
        anew = {drawing.file: drawing for drawing in drawings}
        left = tuple(d for d in self.drawings if d.file not in anew)
        self.drawings = (*left, *anew.values())
        if not (late and (left or self.sources)):
            self._read_with = self.document.job.layers
        self.refresh()
        self.table.fit_columns()

    def _opened(self) -> None:
        self.drawings, self._more = (), []
        self._read_with = self.document.job.layers
        self.refresh()

    def refresh(self) -> None:
        """Show what the drawings hold and what the job says."""
        self.model.take_rows(self._rows(self.document.job))
        self.table.fit_rows(2, 4)
        self.again.setEnabled(self.late or (not self.drawings and bool(self.sources)))
        if not self.drawings and self.sources and not self.late:
            level, text = (
                "",
                self.tr(
                    "Read the drawings of this job again to see their layers and "
                    "colours; its parts stay as they are."
                ),
            )
        elif not self.drawings and not self.sources:
            level, text = (
                "",
                self.tr("What is said here counts for drawings added from now on."),
            )
        elif self.late:
            level, text = (
                "warn",
                self.tr(
                    "Drawings were read before this was said. Read them again, or it "
                    "counts only for those added from now on."
                ),
            )
        else:
            level, text = "", self.tr("The drawings were read with what is said here.")
        self.state.setText(f"{sign(level)}  {text}" if level else text)
        tint(self.state, level)
        self.told.emit()

    def summary(self) -> str:
        """Return what is said, in a few words."""
        said = [f"{key}: {word}" for key, word in self.document.job.layers]
        if not said:
            return self.tr("nothing said; names and places decide")
        words = ", ".join(said[:4]) + (", …" if len(said) > 4 else "")
        return f"{sign('warn')}  {words}" if self.late else words

    # ------------------------------------------------------------ changing

    def add(self) -> None:
        """List what was typed, and go to its work."""
        key = self.line.text().strip()
        if not key:
            self.line.setFocus()
            return
        if key not in self._more:
            self._more.append(key)
        self.line.clear()
        self.refresh()
        job, colour = self.document.job, colour_of(key)
        for number, row in enumerate(self._rows(job)):
            if row.key.casefold() == key.casefold() or (colour and row.key == colour):
                self.table.setCurrentIndex(self.model.index(number, 1))
        self.table.setFocus()

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette and the font."""
        super().changeEvent(event)
        kinds = (QEvent.Type.PaletteChange, QEvent.Type.FontChange)
        if event.type() in kinds and hasattr(self, "state"):
            self.refresh()
