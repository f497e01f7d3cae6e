"""The tray: copies not placed, as thumbnails with counts, to be put on the bench."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from PySide6.QtCore import (
    QByteArray,
    QCoreApplication,
    QEvent,
    QMimeData,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QIcon, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QListView,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QSizePolicy,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from ...nesting.model.part import Part
from ...nesting.model.placement import Unplaced
from ..bench.sound import sound
from ..bench.view import COPIES_MIME
from ..bench.words import shortened
from .document import Document
from .look import part_icon

ID = Qt.ItemDataRole.UserRole
SIZE = 48
"""Side of a thumbnail, pixels."""

BATCH = 200
"""So many kinds of parts are listed at once; more when one scrolls to their end."""


class _Copy(QListWidgetItem):
    """A part with copies in the tray; its picture is made when it is first seen."""

    def __init__(self, words: str, picture: Callable[[], QIcon]) -> None:
        super().__init__(words)
        self._picture = picture
        self._made: QIcon | None = None

    def data(self, role: int) -> Any:
        """Return what is known of it."""
        if role == Qt.ItemDataRole.DecorationRole:
            if self._made is None:
                self._made = self._picture()
            return self._made
        return super().data(role)


class _Copies(QListWidget):
    """The thumbnails; dragging one carries its part's id."""

    def mimeTypes(self) -> list[str]:
        """Return what is carried."""
        return [COPIES_MIME]

    def mimeData(self, items: Sequence[QListWidgetItem]) -> QMimeData:
        """Return the id of the part that is dragged."""
        data = QMimeData()
        if items:
            data.setData(COPIES_MIME, QByteArray(str(items[0].data(ID)).encode()))
        return data

    @sound
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Place with Return or Space as well."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            item = self.currentItem()
            if item is not None:
                self.itemActivated.emit(item)
                return
        super().keyPressEvent(event)


class Tray(QWidget):
    """Copies not placed.

    Signals
    -------
    place_wanted(str)
        One copy of the part with this id is to be put on the bench.
    """

    place_wanted = Signal(str)

    def __init__(self, document: Document, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self._shown: tuple[object, ...] = ()
        self._left: list[tuple[int, Part, int]] = []
        self._unplaced: tuple[Unplaced, ...] = ()
        self._wanted = BATCH
        self.copies = _Copies(self)
        self.copies.setViewMode(QListView.ViewMode.IconMode)
        self.copies.setFlow(QListView.Flow.LeftToRight)
        self.copies.setWrapping(False)
        self.copies.setResizeMode(QListView.ResizeMode.Adjust)
        self.copies.setMovement(QListView.Movement.Static)
        self.copies.setIconSize(QSize(SIZE, SIZE))
        self.copies.setSpacing(4)
        self.copies.setWordWrap(True)
        self.copies.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.copies.setDragEnabled(True)
        self.copies.setDragDropMode(QAbstractItemView.DragDropMode.DragOnly)
        self.copies.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.copies.setAccessibleName(self.tr("Tray: copies not placed"))
        self.copies.setToolTip(
            self.tr("Drag onto the bench, or press Return to place one copy there")
        )
        self.copies.itemActivated.connect(self._place)
        self.copies.currentItemChanged.connect(self._enable)
        self.copies.horizontalScrollBar().valueChanged.connect(self._scrolled)
        self.empty = QLabel(self)
        self.empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.empty.setTextFormat(Qt.TextFormat.PlainText)
        self.empty.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.title = QLabel(self)
        font = self.title.font()
        font.setBold(True)
        self.title.setFont(font)
        self.place = QPushButton(self.tr("&Place one"), self)
        self.place.setMinimumHeight(28)
        self.place.setToolTip(
            self.tr("Put one copy of the chosen part on the bench (Return)")
        )
        self.place.clicked.connect(self._place_current)
        side = QVBoxLayout()
        side.setContentsMargins(0, 0, 0, 0)
        side.addStretch(1)
        side.addWidget(self.title)
        side.addWidget(self.place)
        side.addStretch(1)
        self._stack = QStackedLayout()
        self._stack.addWidget(self.copies)
        self._stack.addWidget(self.empty)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 6, 12, 6)
        row.setSpacing(12)
        row.addLayout(side)
        row.addLayout(self._stack, 1)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        document.changed.connect(self.refresh)
        document.trial_changed.connect(self.refresh)
        document.opened.connect(self._opened)
        self.refresh()

    def _height(self) -> int:
        line = self.fontMetrics().height()
        return SIZE + 2 * line + 52

    def _width(self) -> int:
        return max(132, 19 * self.fontMetrics().averageCharWidth())

    def refresh(self) -> None:
        """Show what is not placed now."""
        job = self.document.shown_job
        placed: dict[str, int] = {}
        for p in job.layout.placements:
            placed[p.part_id] = placed.get(p.part_id, 0) + 1
        left: list[tuple[int, Part, int]] = []
        total = wanted = 0
        for index, part in enumerate(job.parts):
            wanted += part.quantity
            n = part.quantity - placed.get(part.id, 0)
            if n > 0:
                total += n
                left.append((index, part, n))
        self.title.setText(self.tr("Tray: {n}").format(n=total))
        if not wanted:
            self.empty.setText(self.tr("Copies that are not on the bench wait here."))
        else:
            self.empty.setText(self.tr("✓ All {n} copies placed").format(n=wanted))
        self._stack.setCurrentWidget(self.copies if left else self.empty)
        self.place.setVisible(bool(left))
        low = self.fontMetrics().height() + 24
        self.setFixedHeight(self._height() if left else low)
        self._left, self._unplaced = left, job.layout.unplaced
        listed = left[: self._wanted]
        reasons = self._reasons(listed)
        shown = tuple(
            (i, part.name, id(part.outline), n, tuple(reasons.get(part.id, ())))
            for i, part, n in listed
        )
        if shown == self._shown:
            return
        self._shown = shown
        row = self.copies.currentRow()
        current_id = self.copies.item(row).data(ID) if row >= 0 else None
        self.copies.clear()
        self._list_more()
        for number in range(self.copies.count()):
            if self.copies.item(number).data(ID) == current_id:
                self.copies.setCurrentRow(number)
        self._enable()

    def _reasons(self, kinds: Sequence[tuple[int, Part, int]]) -> dict[str, list[str]]:
        """Return why copies of some kinds are not placed, by part."""
        wanted = {part.id for _, part, _ in kinds}
        reasons: dict[str, list[str]] = {}
        for u in self._unplaced:
            if u.part_id in wanted:
                reason = QCoreApplication.translate("Reason", u.reason.value)
                reasons.setdefault(u.part_id, []).append(f"{u.count}: {reason}")
        return reasons

    def _list_more(self) -> None:
        """List kinds until as many are there as are wanted."""
        kinds = self._left[self.copies.count() : self._wanted]
        reasons = self._reasons(kinds)
        size = QSize(self._width(), self._height() - 34)
        for index, part, n in kinds:
            picture = partial(part_icon, part.outline, index, self.palette(), SIZE)
            name = shortened(part.name, 24)
            item = _Copy(f"{n} × {name}", picture)
            item.setData(ID, part.id)
            item.setSizeHint(size)
            words = self.tr("{n} of {name} not placed").format(n=n, name=part.name)
            if part.id in reasons:
                words = "\n".join([words, *reasons[part.id]])
            item.setToolTip(words)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, words)
            self.copies.addItem(item)

    def _scrolled(self, value: int) -> None:
        """List more kinds when the end of those listed comes near."""
        bar = self.copies.horizontalScrollBar()
        near = value > 0 and value >= bar.maximum() - bar.pageStep()
        if near and self.copies.count() < len(self._left):
            self._wanted = self.copies.count() + BATCH
            self._list_more()

    def _opened(self) -> None:
        self._wanted = BATCH

    @property
    def stop(self) -> QWidget:
        """What takes the focus when a key leads to the tray."""
        return self.copies if self.copies.isVisible() else self.empty

    def _enable(self) -> None:
        self.place.setEnabled(
            self.copies.currentRow() >= 0
            and self.document.shown_layout is self.document.job.layout
        )

    def _place(self, item: QListWidgetItem) -> None:
        self.place_wanted.emit(str(item.data(ID)))

    def _place_current(self) -> None:
        item = self.copies.currentItem()
        if item is not None:
            self._place(item)

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette and the font."""
        super().changeEvent(event)
        kinds = (QEvent.Type.PaletteChange, QEvent.Type.FontChange)
        if event.type() in kinds and hasattr(self, "_stack"):
            self._shown = ()
            self.refresh()
