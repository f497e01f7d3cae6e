"""The order: parts, how many of each, and how they may lie."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from PySide6.QtCore import QEvent, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QIcon, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from ...io.findings import Finding
from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ...nesting.model.outline import Loop, Outline
from ...nesting.model.part import Part
from ...nesting.model.rules import TurnRule
from ..bench.copies import key_of
from ..bench.sound import sound
from ..window.document import Document
from ..window.look import main_button_style, part_icon
from . import words
from .findings_box import FindingsBox
from .fold import Fold
from .importing import free_id
from .layers_box import LayersBox
from .pasting import panels_of, rows_of
from .table import BookTable, Column, RowsModel

ICON = 24
LEAST_TABLE = 112
"""So high the table of parts stays beside a finding's picture, pixels: three rows."""


def is_panel(part: Part) -> bool:
    """Return whether a part is a plain panel, whose size can be typed."""
    outline = part.outline
    width, height = outline.size
    return (
        not part.source
        and not part.marks
        and not outline.holes
        and len(outline.outer.segments) == 4
        and outline.outer.is_straight
        and abs(outline.area - width * height) < 1e-6 * outline.area
    )


class PartsPage(QWidget):
    """The page of parts.

    Signals
    -------
    drawings_wanted(), order_wanted(), sample_wanted()
        A button was pressed.
    """

    drawings_wanted = Signal()
    order_wanted = Signal()
    sample_wanted = Signal()

    def __init__(
        self, document: Document, sample: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.document = document
        self._placed: dict[str, int] = {}
        self._icons: dict[tuple[int, int], tuple[Outline, QIcon]] = {}
        self.name = QLineEdit(self)
        self.name.setAccessibleName(self.tr("Name of the job"))
        self.name.setToolTip(self.tr("Stands on the shop sheets and in file names"))
        self.name.editingFinished.connect(self._rename)
        label = QLabel(self.tr("&Job"), self)
        label.setBuddy(self.name)
        top = QHBoxLayout()
        top.addWidget(label)
        top.addWidget(self.name, 1)
        self.model = RowsModel(
            document,
            self._columns(),
            lambda job: job.parts,
            _put_part,
            lambda part: part.name,
        )
        self.table = BookTable(self.model, self.tr("Parts"), self)
        self.table.setIconSize(QSize(ICON, ICON))
        self.table.selectionModel().selectionChanged.connect(self._mirror)
        self.add = QPushButton(self.tr("Add &drawings…"), self)
        self.add.setToolTip(self.tr("Read DXF or SVG files (Ctrl+I); or drop them"))
        self.add.clicked.connect(self.drawings_wanted)
        self.panel = QPushButton(self.tr("Add &panel"), self)
        self.panel.setToolTip(
            self.tr("Add a plain rectangle; then type its name, size and number")
        )
        self.panel.clicked.connect(self.add_panel)
        self.remove = QPushButton(self.tr("&Remove"), self)
        self.remove.setToolTip(self.tr("Take the selected parts out of the order"))
        self.remove.clicked.connect(self.remove_chosen)
        buttons = QHBoxLayout()
        for button in (self.add, self.panel, self.remove):
            button.setMinimumHeight(28)
            buttons.addWidget(button)
        buttons.addStretch(1)
        self.found = FindingsBox(self)
        self.found.cleared.connect(self.refresh)
        self.findings = self.found.list
        self.findings.currentRowChanged.connect(self._make_room)
        self.empty = self._empty(sample)
        split = QSplitter(Qt.Orientation.Vertical, self)
        split.addWidget(self.table)
        # On a low screen findings scroll, instead of asking for more height.
        self._below = QScrollArea(self)
        self._below.setWidgetResizable(True)
        self._below.setFrameShape(QScrollArea.Shape.NoFrame)
        self._below.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._below.setMinimumHeight(96)
        self._below.setWidget(self.found)
        split.addWidget(self._below)
        split.setStretchFactor(0, 1)
        split.setStretchFactor(1, 1)
        split.setSizes([1000, 1000])  # half and half, whatever the height
        split.setChildrenCollapsible(False)
        layout = QVBoxLayout(self)
        layout.addLayout(top)
        layout.addLayout(buttons)
        layout.addWidget(self.empty)
        layout.addWidget(split, 1)
        self.layers = LayersBox(document, self)
        self.layers_fold = Fold(self.tr("Layers and colours"), self.layers, self)
        self.layers.told.connect(self._tell_layers)
        layout.addWidget(self.layers_fold)
        self._split = split
        paste = QShortcut(QKeySequence(QKeySequence.StandardKey.Paste), self.table)
        paste.setContext(Qt.ShortcutContext.WidgetShortcut)
        paste.activated.connect(self.paste)
        copy = QShortcut(QKeySequence(QKeySequence.StandardKey.Copy), self.table)
        copy.setContext(Qt.ShortcutContext.WidgetShortcut)
        copy.activated.connect(self.copy)
        delete = QShortcut(QKeySequence(QKeySequence.StandardKey.Delete), self.table)
        delete.setContext(Qt.ShortcutContext.WidgetShortcut)
        delete.activated.connect(self.remove_chosen)
        document.changed.connect(self.refresh)
        document.trial_changed.connect(self._count)
        document.opened.connect(self._opened)
        self.refresh()

    def _empty(self, sample: bool) -> QWidget:
        """Return what a first-time user sees instead of an empty table."""
        box = QWidget(self)
        column = QVBoxLayout(box)
        column.setContentsMargins(8, 24, 8, 24)
        column.setSpacing(12)
        title = QLabel(self.tr("What is to be cut?"), box)
        font = title.font()
        font.setPointSizeF(font.pointSizeF() * 1.3)
        font.setBold(True)
        title.setFont(font)
        text = QLabel(
            self.tr(
                "Drop DXF or SVG drawings or an order file anywhere on this window, "
                "add plain panels, or paste rows from a spreadsheet: name, quantity, "
                "length, width."
            ),
            box,
        )
        text.setWordWrap(True)
        column.addWidget(title)
        column.addWidget(text)
        self.order = QPushButton(self.tr("Open an &order…"), box)
        self.order.clicked.connect(self.order_wanted)
        self.sample = QPushButton(self.tr("Try the &sample order"), box)
        self.sample.setToolTip(
            self.tr("Bird boxes and planters for a school garden: look around with it")
        )
        self.sample.clicked.connect(self.sample_wanted)
        self.sample.setVisible(sample)
        for button in (self.sample, self.order):
            button.setMinimumHeight(34)
            column.addWidget(button)
        column.addStretch(1)
        self._dress()
        return box

    def _dress(self) -> None:
        """Let what a first-time user should press stand out."""
        style = main_button_style(self.palette(), self.font())
        if self.sample.styleSheet() != style:
            self.sample.setStyleSheet(style)

    # ------------------------------------------------------------ columns

    def _columns(self) -> list[Column[Part]]:
        return [
            Column(
                self.tr("Part"),
                lambda job, part: part.name,
                _put_name,
                self.tr("What people call it"),
                icon=self._icon,
            ),
            Column(
                self.tr("Wanted"),
                lambda job, part: str(part.quantity),
                lambda job, part, text: replace(part, quantity=words.whole(text)),
                self.tr("How many copies are wanted"),
                number=True,
            ),
            Column(
                self.tr("Placed"),
                lambda job, part: str(self._placed.get(part.id, 0)),
                tip=self.tr("How many copies lie on the bench"),
                number=True,
            ),
            Column(
                self.tr("Size"),
                _size,
                _put_size,
                self.tr("Length by width; a panel's can be typed"),
                number=True,
                editable=is_panel,
                unit=True,
                hides=2,
            ),
            Column(
                self.tr("Turn"),
                lambda job, part: str(part.turn),
                lambda job, part, text: replace(part, turn=TurnRule.parse(text)),
                self.tr(
                    "Which turns it may take: any, quarter turns (90), half turns "
                    "(180), its x or y with the grain, fixed, or degrees with commas"
                ),
                choices=("any", "90", "180", "grain", "grain y", "fixed"),
                hides=1,
            ),
            Column(
                self.tr("Flip"),
                lambda job, part: self.tr("yes") if part.flip else self.tr("no"),
                lambda job, part, text: replace(part, flip=text == "yes"),
                self.tr("Whether it may be laid face down"),
                hides=3,
                ticked=lambda part: part.flip,
            ),
            Column(
                self.tr("Material"),
                lambda job, part: part.material,
                lambda job, part, text: replace(part, material=text),
                self.tr("The board it is cut from; must be that of some stock"),
                hides=4,
            ),
            Column(
                self.tr("Thickness"),
                lambda job, part: words.shown(part.thickness, job),
                lambda job, part, text: replace(
                    part, thickness=words.length(text, job)
                ),
                self.tr("Of the board; 0 when nobody said"),
                number=True,
                unit=True,
                hides=5,
            ),
            Column(
                self.tr("First"),
                lambda job, part: str(part.priority),
                lambda job, part, text: replace(
                    part, priority=words.whole(text, -1000, 1000)
                ),
                self.tr("Higher numbers are placed first when not everything fits"),
                number=True,
                hides=6,
            ),
        ]

    def _icon(self, number: int, part: Part) -> QIcon:
        key = (id(part.outline), number)
        found = self._icons.get(key)
        if found is None or found[0] is not part.outline:
            icon = part_icon(part.outline, number, self.palette(), ICON)
            found = (part.outline, icon)
            self._icons[key] = found
        return found[1]

    # ------------------------------------------------------------ showing

    def refresh(self) -> None:
        """Show what the document holds."""
        job = self.document.job
        if self.name.text() != job.name:
            self.name.setText(job.name)
            self.name.setCursorPosition(0)
        some = bool(job.parts)
        self.empty.setVisible(not some)
        self.table.setVisible(some)
        self.remove.setEnabled(some)
        self.layers_fold.setVisible(some or bool(job.layers))
        self._tell_layers()
        self._split.setVisible(some or self.findings.count() > 0)
        self._below.setVisible(self.findings.count() > 0)
        self._count()

    def _count(self) -> None:
        self._placed = {}
        for p in self.document.shown_layout.placements:
            self._placed[p.part_id] = self._placed.get(p.part_id, 0) + 1
        self.model.repaint_all()

    def _make_room(self) -> None:
        """Let the picture of a finding be seen whole, if the table can spare that."""
        table, below = self._split.sizes()
        wanted = self.found.minimumSizeHint().height()
        more = min(wanted - below, table - LEAST_TABLE)
        if self._below.isVisible() and more > 0:
            self._split.setSizes([table - more, below + more])
        QTimer.singleShot(0, self.findings, self._show_chosen)

    def _show_chosen(self) -> None:
        """Keep the chosen finding in sight when the list has become smaller."""
        item = self.findings.currentItem()
        if item is not None:
            self.findings.scrollToItem(item)

    def _opened(self) -> None:
        self._icons.clear()
        if self.findings.count():  # they are about another job's drawings
            self.show_findings(())
        # Once the bench has been painted: all in one go would be felt.
        self.table.fit_soon(30)

    def _tell_layers(self) -> None:
        self.layers_fold.summarise(self.layers.summary())

    def show_findings(
        self, findings: Sequence[Finding], units: Mapping[str, str] | None = None
    ) -> None:
        """List what was found in files; see `FindingsBox`."""
        self.found.show_findings(findings, units)
        self.refresh()

    def _mirror(self) -> None:
        """Select on the bench what is selected here."""
        keys = []
        rows = {self.model.row(n).id for n in self.table.chosen_rows()}
        for p in self.document.job.layout.placements:
            if p.part_id in rows:
                keys.append(key_of(p))
        if rows:
            self.document.select(keys)

    # ------------------------------------------------------------ changing

    def _rename(self) -> None:
        name = self.name.text().strip()
        if name and name != self.document.job.name:
            job = replace(self.document.job, name=name)
            self.document.change(self.tr("Rename the job"), job)
        else:
            self.name.setText(self.document.job.name)

    def add_panel(self) -> None:
        """Add a plain panel, and begin to type its name."""
        job = self.document.job
        part_id = free_id("part", {part.id for part in job.parts})
        number = 1 + sum(is_panel(part) for part in job.parts)
        board = job.stock[0] if job.stock else None
        part = Part(
            part_id,
            self.tr("panel {n}").format(n=number),
            Outline(Loop.rectangle(300.0, 180.0)),
            material=board.material if board else "",
            thickness=board.thickness if board else 0.0,
            turn=TurnRule.parse("90"),
        )
        done = replace(job, parts=(*job.parts, part))
        if self.document.change(self.tr("Add a panel"), done):
            index = self.model.index(len(done.parts) - 1, 0)
            self.table.setCurrentIndex(index)
            self.table.setFocus()

    def remove_chosen(self) -> None:
        """Take the selected parts out of the order."""
        rows = set(self.table.chosen_rows())
        if not rows:
            self.document.say("info", self.tr("Select the parts to remove first."))
            return
        job = self.document.job
        gone = [part.name for i, part in enumerate(job.parts) if i in rows]
        left = tuple(part for i, part in enumerate(job.parts) if i not in rows)
        text = (
            self.tr("Remove {name}").format(name=gone[0])
            if len(gone) == 1
            else self.tr("Remove {n} parts").format(n=len(gone))
        )
        self.document.change(text, replace(job, parts=left))

    def paste(self) -> None:
        """Add panels from rows of a spreadsheet, as one step."""
        from PySide6.QtGui import QGuiApplication

        text = QGuiApplication.clipboard().text()
        job = self.document.job
        taken = {part.id for part in job.parts}
        parts, troubles = panels_of(text, job, taken)
        if parts:
            words_ = (
                self.tr("Paste {name}").format(name=parts[0].name)
                if len(parts) == 1
                else self.tr("Paste {n} panels").format(n=len(parts))
            )
            self.document.change(words_, replace(job, parts=(*job.parts, *parts)))
        self.show_findings(troubles)
        if parts or troubles:
            self.document.say(
                "warn" if troubles else "info",
                _pasted_words(self, len(parts), len(troubles)),
            )

    def copy(self) -> None:
        """Put the selected rows on the clipboard, for a spreadsheet."""
        from PySide6.QtGui import QGuiApplication

        job = self.document.job
        rows = self.table.chosen_rows() or range(len(job.parts))
        text = rows_of([job.parts[n] for n in rows], job)
        QGuiApplication.clipboard().setText(text)

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "found"):
            self._icons.clear()
        kinds = (QEvent.Type.PaletteChange, QEvent.Type.FontChange)
        if event.type() in kinds and hasattr(self, "sample"):
            self._dress()


def _pasted_words(page: PartsPage, added: int, bad: int) -> str:
    """Say what came of pasting rows."""
    one = added == 1
    rows = page.tr("1 row added") if one else page.tr("{n} rows added").format(n=added)
    if not bad:
        return f"{rows}."
    wrong = (
        page.tr("1 needs attention")
        if bad == 1
        else page.tr("{n} need attention").format(n=bad)
    )
    return f"{rows}, {wrong}."


def _put_part(job: Job, number: int, part: Part) -> Job:
    parts = (*job.parts[:number], part, *job.parts[number + 1 :])
    return replace(job, parts=parts)


def _put_name(job: Job, part: Part, text: str) -> Part:
    if not text:
        raise InputError("", "a part needs a name", "type one")
    return replace(part, name=text)


def _size(job: Job, part: Part) -> str:
    """Return a part's size; where it is not typed, two decimals are enough."""
    wide, high = part.outline.size
    if job.units == "mm" and not is_panel(part):
        wide, high = round(wide, 2), round(high, 2)
    return words.shown_size((wide, high), job)


def _put_size(job: Job, part: Part, text: str) -> Part:
    return replace(part, outline=Outline(Loop.rectangle(*words.size(text, job))))
