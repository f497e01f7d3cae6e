"""Tables that show rows of the job and change them through the document."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, Generic, TypeVar

from PySide6.QtCore import (
    QAbstractItemModel,
    QAbstractTableModel,
    QEvent,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QPoint,
    QSize,
    Qt,
    QTimer,
)
from PySide6.QtGui import QContextMenuEvent, QIcon, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QMenu,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QToolButton,
    QWidget,
)

from ...nesting.model.errors import InputError
from ...nesting.model.job import Job
from ..bench.sound import sound
from ..window.document import Document
from ..window.edits import Difference
from .boxes import edge_palette
from .column_room import ColumnRoom, share

Row = TypeVar("Row")
Index = QModelIndex | QPersistentModelIndex

LOOKED_AT = 40
"""Columns are made as wide as what so many rows hold."""

LETTERS = 16, 10
"""So many letters of a name, and of another text, are to be seen before columns make
way for them."""

BUTTON = 28
"""Width of the button that tells of hidden columns, pixels."""


@dataclass(frozen=True)
class Column(Generic[Row]):
    """One column.

    Parameters
    ----------
    title : str
        What stands above it.
    text : callable
        What a cell shows, from job and row.
    put : callable or None
        The row with what was typed, from job, row and text; raises InputError. None
        for a column that cannot be edited.
    tip : str
        What it is about, one sentence.
    number : bool
        Whether cells are numbers, which are set to the right.
    choices : tuple of str
        Words to choose from; others may be typed.
    ticked : callable or None
        Whether a cell's box is ticked, for yes and no.
    icon : callable or None
        A picture, from the row's number and the row.
    editable : callable or None
        Whether this row's cell can be edited; None for all.
    unit : bool
        Whether the job's unit of length stands in the title.
    hides : int
        In a narrow table columns with a higher number make way sooner; 0 never.
    """

    title: str
    text: Callable[[Job, Row], str]
    put: Callable[[Job, Row, str], Row] | None = None
    tip: str = ""
    number: bool = False
    choices: tuple[str, ...] = ()
    ticked: Callable[[Row], bool] | None = None
    icon: Callable[[int, Row], QIcon] | None = None
    editable: Callable[[Row], bool] | None = None
    unit: bool = False
    hides: int = 0

    @property
    def is_text(self) -> bool:
        """Whether it holds words that may be shortened in the middle."""
        return not (self.number or self.choices or self.ticked)


class RowsModel(QAbstractTableModel, Generic[Row]):
    """Rows of the job as a table.

    Parameters
    ----------
    document : Document
        What it shows and asks.
    columns : list of Column
        From left to right.
    rows : callable
        The rows of a job.
    put_row : callable
        The job with one row replaced, from job, number and row.
    name : callable
        What a row is called, for the undo menu.
    """

    def __init__(
        self,
        document: Document,
        columns: list[Column[Row]],
        rows: Callable[[Job], tuple[Row, ...]],
        put_row: Callable[[Job, int, Row], Job],
        name: Callable[[Row], str],
    ) -> None:
        super().__init__(document)
        self.document = document
        self.columns = columns
        self._rows_of = rows
        self._put_row = put_row
        self._name = name
        self._rows = rows(document.job)
        document.changed.connect(self._changed)

    def _changed(self, difference: Difference) -> None:
        if difference.before.units != difference.after.units:
            across = Qt.Orientation.Horizontal
            self.headerDataChanged.emit(across, 0, len(self.columns) - 1)
        self.take_rows(self._rows_of(self.document.job))

    def take_rows(self, rows: tuple[Row, ...]) -> None:
        """Show other rows."""
        if len(rows) != len(self._rows):
            self.beginResetModel()
            self._rows = rows
            self.endResetModel()
        else:
            self._rows = rows
            self.repaint_all()

    def repaint_all(self) -> None:
        """Say that every cell may look different."""
        if self._rows:
            last = self.index(len(self._rows) - 1, len(self.columns) - 1)
            self.dataChanged.emit(self.index(0, 0), last)

    def row(self, number: int) -> Row:
        """Return a row."""
        return self._rows[number]

    def rowCount(self, parent: Index | None = None) -> int:
        """Return how many rows there are."""
        return 0 if parent is not None and parent.isValid() else len(self._rows)

    def columnCount(self, parent: Index | None = None) -> int:
        """Return how many columns there are."""
        return 0 if parent is not None and parent.isValid() else len(self.columns)

    def headerData(
        self,
        section: int,
        orientation: Qt.Orientation,
        role: int = Qt.ItemDataRole.DisplayRole,
    ) -> Any:
        """Return what stands above a column, or beside a row."""
        if orientation == Qt.Orientation.Horizontal:
            if role == Qt.ItemDataRole.DisplayRole:
                column = self.columns[section]
                unit = f" {self.document.job.units}" if column.unit else ""
                return f"{column.title}{unit}"
            if role == Qt.ItemDataRole.ToolTipRole:
                return self.columns[section].tip
            if role == Qt.ItemDataRole.TextAlignmentRole:
                side = (
                    Qt.AlignmentFlag.AlignRight
                    if self.columns[section].number
                    else Qt.AlignmentFlag.AlignLeft
                )
                return side | Qt.AlignmentFlag.AlignVCenter
        elif role == Qt.ItemDataRole.DisplayRole:
            return section + 1
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a cell shows."""
        if not index.isValid():
            return None
        row, column = self._rows[index.row()], self.columns[index.column()]
        if column.ticked is not None:
            if role == Qt.ItemDataRole.CheckStateRole:
                on, off = Qt.CheckState.Checked, Qt.CheckState.Unchecked
                return on if column.ticked(row) else off
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return column.text(self.document.job, row)
        if role == Qt.ItemDataRole.ToolTipRole:
            return column.text(self.document.job, row) or column.tip
        if role == Qt.ItemDataRole.AccessibleTextRole:
            words = column.text(self.document.job, row)
            return f"{self._name(row)}, {column.title}: {words}"
        if role == Qt.ItemDataRole.TextAlignmentRole and column.number:
            return Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        if role == Qt.ItemDataRole.DecorationRole and column.icon is not None:
            return column.icon(index.row(), row)
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Return what can be done with a cell."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if not index.isValid():
            return flags
        column = self.columns[index.column()]
        if column.put is None:
            return flags
        if column.ticked is not None:
            return flags | Qt.ItemFlag.ItemIsUserCheckable
        row = self._rows[index.row()]
        if column.editable is None or column.editable(row):
            flags |= Qt.ItemFlag.ItemIsEditable
        return flags

    @sound
    def setData(
        self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole
    ) -> bool:
        """Change a cell, as one undoable step; say what is wrong where it cannot."""
        column = self.columns[index.column()]
        job = self.document.job
        row = self._rows[index.row()]
        if column.put is None:
            return False
        if role == Qt.ItemDataRole.CheckStateRole:
            text = "yes" if Qt.CheckState(value) == Qt.CheckState.Checked else "no"
        elif role == Qt.ItemDataRole.EditRole:
            text = str(value).strip()
            if text == column.text(job, row):
                return False
        else:
            return False
        try:
            new = column.put(job, row, text)
            after = self._put_row(job, index.row(), new)
        except InputError as error:
            where = f"{self._name(row)}, {column.title}"
            what = f"{error.what}; {error.cure}" if error.cure else error.what
            self.document.say("error", f"{where}: {what}.")
            return False
        words = self.tr("Change {column} of {name}").format(
            column=column.title, name=self._name(row)
        )
        return self.document.change(words, after)


class CellDelegate(QStyledItemDelegate):
    """Editors of cells: a line, or a list to choose from where there are choices."""

    @sound
    def initStyleOption(self, option: QStyleOptionViewItem, index: Index) -> None:
        """Let the edge of a tick box be seen."""
        super().initStyleOption(option, index)
        ticked = QStyleOptionViewItem.ViewItemFeature.HasCheckIndicator
        if option.features & ticked:
            option.palette = edge_palette(option.palette)

    @sound
    def createEditor(
        self, parent: QWidget, option: QStyleOptionViewItem, index: Index
    ) -> QWidget:
        """Return the editor of a cell."""
        model = index.model()
        assert isinstance(model, RowsModel)
        column = model.columns[index.column()]
        editor: QWidget
        if column.choices:
            box = QComboBox(parent)
            box.setEditable(True)
            box.addItems(list(column.choices))
            editor = box
        else:
            line = QLineEdit(parent)
            if column.number:
                line.setAlignment(Qt.AlignmentFlag.AlignRight)
            editor = line
        editor.setAccessibleName(column.title)
        editor.setToolTip(column.tip)
        return editor

    @sound
    def setEditorData(self, editor: QWidget, index: Index) -> None:
        """Put what the cell holds into its editor."""
        text = str(index.data(Qt.ItemDataRole.EditRole))
        if isinstance(editor, QComboBox):
            editor.setCurrentText(text)
            line = editor.lineEdit()
            if line is not None:
                line.selectAll()
        elif isinstance(editor, QLineEdit):
            editor.setText(text)

    @sound
    def setModelData(
        self, editor: QWidget, model: QAbstractItemModel, index: Index
    ) -> None:
        """Put what was typed into the cell."""
        if isinstance(editor, QComboBox):
            model.setData(index, editor.currentText())
        elif isinstance(editor, QLineEdit):
            model.setData(index, editor.text())


class BookTable(QTableView):
    """A table of the job book.

    Parameters
    ----------
    model : RowsModel
        What it shows.
    name : str
        For a screen reader.
    """

    def __init__(
        self, model: RowsModel[Any], name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._fitted = False
        self._fitting = QTimer(self)
        self._fitting.setSingleShot(True)
        self._fitting.timeout.connect(self.fit_columns)
        model.modelReset.connect(self.fit_again)
        self._columns: list[Column[Any]] = model.columns
        self._rooms: list[ColumnRoom] = []
        self._chosen: dict[int, bool] = {}  # columns that the user wants, or does not
        self._sharing = False
        self._by_hand = False
        self.setModel(model)
        self.setAccessibleName(name)
        self.setItemDelegate(CellDelegate(self))
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setAlternatingRowColors(True)
        self.setShowGrid(False)
        self.setWordWrap(False)
        # Long names often differ at their ends only.
        self.setTextElideMode(Qt.TextElideMode.ElideMiddle)
        self.setTabKeyNavigation(False)
        self.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.SelectedClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
        )
        self.verticalHeader().setVisible(False)
        self._space_rows()
        heads = self.horizontalHeader()
        heads.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        heads.setHighlightSections(False)
        # Headings show no selection; with that of the table, painting them would ask
        # each of its rows whether the whole column is selected.
        heads.setSelectionModel(QItemSelectionModel(model, heads))
        heads.setDefaultAlignment(
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        )
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        heads.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        heads.customContextMenuRequested.connect(
            lambda at: self._choose_columns(heads.mapToGlobal(at))
        )
        heads.sectionResized.connect(self._resized_by_hand)
        self.more = QToolButton(self)
        self.more.setText("…")
        self.more.setAutoRaise(True)
        self.more.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # by keys: the menu key
        self.more.clicked.connect(
            lambda: self._choose_columns(
                self.more.mapToGlobal(self.more.rect().bottomLeft())
            )
        )
        self.more.hide()
        self._make_room_for_more()

    def _make_room_for_more(self) -> None:
        """Let headings be as high as the button on them, which words make larger."""
        self._button = self.more.sizeHint().expandedTo(QSize(BUTTON, BUTTON))
        self.horizontalHeader().setMinimumHeight(self._button.height())

    def _space_rows(self) -> None:
        room = max(30, self.fontMetrics().height() + 12)
        self.verticalHeader().setDefaultSectionSize(room)

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the font."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and self.model() is not None:
            self._make_room_for_more()
            self._space_rows()
            self.fit_columns()

    @sound
    def showEvent(self, event: QShowEvent) -> None:
        """Fit the columns to what is there when the table is first seen."""
        super().showEvent(event)
        if not self._fitted:  # after what else is shown for the first time
            self.fit_soon()

    @sound
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the width anew, unless somebody has set widths by hand."""
        super().resizeEvent(event)
        if self._rooms and not self._by_hand:
            self._share()

    def fit_soon(self, milliseconds: int = 0) -> None:
        """Fit the columns in a moment, and once only, however often that is asked."""
        self._fitted = True
        self._fitting.start(milliseconds)

    def fit_again(self) -> None:
        """Fit the columns to other rows, unless somebody has set widths by hand."""
        if self._fitted and not self._by_hand:
            self.fit_soon(30)

    @sound
    def commitData(self, editor: QWidget) -> None:
        """Take what was typed, which may be longer than what stood there."""
        super().commitData(editor)
        self.fit_again()

    def fit_columns(self) -> None:
        """Make columns as wide as what they hold, within reason and the table."""
        self._fitted = True
        self._fitting.stop()
        self._by_hand = False
        heads = self.horizontalHeader()
        # Looking at each of a thousand rows would hold the window up.
        heads.setResizeContentsPrecision(LOOKED_AT)
        letter = self.fontMetrics().averageCharWidth()
        most = 22 * letter + 40
        self._rooms = []
        self._sharing = True
        for n in range(len(self._columns)):  # a hidden one does not tell its width
            self.setColumnHidden(n, False)
        self._sharing = False
        for n, column in enumerate(self._columns):
            head = heads.sectionSizeHint(n)
            wish = max(min(self.sizeHintForColumn(n), most), head)
            least = wish
            if column.is_text:
                icon = self.iconSize().width() + 4 if column.icon else 0
                letters = LETTERS[n > 0] * letter
                least = min(wish, max(letters + icon + 8, head))
            self._rooms.append(ColumnRoom(wish, least, column.hides))
        self._share()

    def _share(self) -> None:
        """Give columns their widths; the least important make way."""
        wanted = self._chosen
        rooms = [
            replace(room, hides=0) if wanted.get(n) else room
            for n, room in enumerate(self._rooms)
            if wanted.get(n, True)
        ]
        widths = iter(share(rooms, self.viewport().width(), self._button.width()))
        self._sharing = True
        gone = []
        for n, column in enumerate(self._columns):
            width = next(widths) if wanted.get(n, True) else 0
            self.setColumnHidden(n, width == 0)
            if width:
                self.setColumnWidth(n, width)
            else:
                gone.append(column.title)
        self._sharing = False
        self.more.setVisible(bool(gone))
        words = self.tr("Columns not shown: {names}").format(names=", ".join(gone))
        tip = self.tr("{words}. Press to choose, or widen the table.")
        self.more.setAccessibleName(words)
        self.more.setToolTip(tip.format(words=words))
        heads = self.horizontalHeader()
        right = heads.geometry().right() + 1
        wide = self._button.width()
        self.more.setGeometry(right - wide, heads.y(), wide, heads.height())

    def _resized_by_hand(self) -> None:
        if not self._sharing:
            self._by_hand = True

    def column_menu(self) -> QMenu:
        """Return the menu of columns that can be hidden; those shown are ticked."""
        menu = QMenu(self)
        for n, column in enumerate(self._columns):
            if column.hides:
                action = menu.addAction(column.title)
                action.setCheckable(True)
                action.setChecked(not self.isColumnHidden(n))
                action.toggled.connect(partial(self._want_column, n))
        return menu

    @sound
    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Open the menu of columns by the menu key."""
        if event.reason() is QContextMenuEvent.Reason.Keyboard:
            self._choose_columns(self.mapToGlobal(QPoint(4, self.viewport().y())))
        else:
            super().contextMenuEvent(event)

    def _choose_columns(self, at: QPoint) -> None:
        menu = self.column_menu()
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        if menu.actions():
            menu.popup(at)

    def _want_column(self, number: int, wanted: bool) -> None:
        self._chosen[number] = wanted
        self.fit_columns()

    def fit_rows(self, least: int = 2, most: int = 8) -> None:
        """Be as high as the rows need, within these numbers of them."""
        count = min(max(self.model().rowCount(), least), most)
        bar = self.horizontalScrollBar().sizeHint().height()
        row = self.verticalHeader().defaultSectionSize()
        heads = self.horizontalHeader()
        head = max(heads.sizeHint().height(), heads.minimumHeight())
        self.setFixedHeight(head + count * row + bar + 4)

    def chosen_rows(self) -> list[int]:
        """Return the numbers of the selected rows."""
        # By ranges: asking for each row of a thousand takes long.
        chosen = self.selectionModel().selection()
        ranges = [chosen.at(k) for k in range(chosen.count())]
        return sorted({n for r in ranges for n in range(r.top(), r.bottom() + 1)})
