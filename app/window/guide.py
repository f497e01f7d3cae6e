"""The guide: topics at the left, the page at the right, and words to search for."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QKeySequence, QShortcut, QTextCursor, QTextDocument
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from .guide_text import Topic, topics


class Guide(QDialog):
    """The built-in guide; stays open beside the window."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setWindowTitle(self.tr("Guide"))
        self._pages: dict[str, str] = {}
        self._topics = topics()
        self.search = QLineEdit(self)
        self.search.setMinimumHeight(30)
        self.search.setClearButtonEnabled(True)
        self.search.setPlaceholderText(self.tr("such as margin"))
        self.search.setAccessibleName(self.tr("Search the guide"))
        label = QLabel(self.tr("&Search"), self)
        label.setBuddy(self.search)
        self.list = QListWidget(self)
        self.list.setAccessibleName(self.tr("Topics"))
        longest = max(
            self.fontMetrics().horizontalAdvance(topic.title) for topic in self._topics
        )
        self.list.setFixedWidth(max(longest + 40, 200))
        self.list.setSpacing(3)
        self.page = QTextBrowser(self)
        self.page.setAccessibleName(self.tr("Page of the guide"))
        self.page.setOpenLinks(False)
        self.page.document().setDocumentMargin(16)
        self.count = QLabel(self)
        side = QVBoxLayout()
        side.addWidget(label)
        side.addWidget(self.search)
        side.addWidget(self.list, 1)
        side.addWidget(self.count)
        row = QHBoxLayout(self)
        row.setContentsMargins(12, 12, 12, 12)
        row.addLayout(side)
        row.addWidget(self.page, 1)
        self.search.textChanged.connect(self._look_for)
        self.search.returnPressed.connect(self._next)
        self.list.currentItemChanged.connect(self._show)
        find = QShortcut(QKeySequence(QKeySequence.StandardKey.Find), self)
        find.activated.connect(self.search.setFocus)
        room = self.screen().availableSize()
        self.resize(min(900, room.width()), min(640, room.height()))
        self._look_for("")

    def open_at(self, name: str = "") -> None:
        """Show the guide, at a topic."""
        if name:
            self.search.clear()
            for row in range(self.list.count()):
                topic: Topic = self.list.item(row).data(Qt.ItemDataRole.UserRole)
                if topic.name == name:
                    self.list.setCurrentRow(row)
        self.show()
        self.raise_()
        self.activateWindow()
        self.list.setFocus()

    def _text(self, topic: Topic) -> str:
        if topic.name not in self._pages:
            self._pages[topic.name] = topic.text()
        return self._pages[topic.name]

    def _look_for(self, words: str) -> None:
        """List the topics that hold some words."""
        wanted = words.strip().casefold()
        current = self.list.currentItem()
        name = ""
        if current is not None:
            name = current.data(Qt.ItemDataRole.UserRole).name
        self.list.blockSignals(True)
        self.list.clear()
        for topic in self._topics:
            if not wanted or wanted in self._text(topic).casefold():
                item = QListWidgetItem(topic.title)
                item.setData(Qt.ItemDataRole.UserRole, topic)
                item.setSizeHint(QSize(0, self.fontMetrics().height() + 12))
                self.list.addItem(item)
                if topic.name == name:
                    self.list.setCurrentItem(item)
        self.list.blockSignals(False)
        number = self.list.count()
        self.count.setText("" if not wanted else self.tr("{n} topics").format(n=number))
        if number and self.list.currentRow() < 0:
            self.list.setCurrentRow(0)
        self._show()

    def _show(self) -> None:
        item = self.list.currentItem()
        if item is None:
            self.page.setMarkdown(self.tr("Nothing in the guide holds these words."))
            return
        self.page.setMarkdown(self._text(item.data(Qt.ItemDataRole.UserRole)))
        self._space_headings()
        self._space_tables()
        self.page.moveCursor(QTextCursor.MoveOperation.Start)
        if self.search.text().strip():
            self._next()

    def _space_headings(self) -> None:
        """Part sections: Markdown leaves no more room above a heading than anywhere."""
        block = self.page.document().begin()
        while block.isValid():
            form = block.blockFormat()
            if form.headingLevel() > 1:
                form.setTopMargin(1.2 * self.fontMetrics().height())
                QTextCursor(block).setBlockFormat(form)
            block = block.next()

    def _space_tables(self) -> None:
        """Give tables room: Markdown says nothing about it."""
        from PySide6.QtGui import QTextFrame, QTextLength, QTextTable

        frame: QTextFrame = self.page.document().rootFrame()
        for child in frame.childFrames():
            if isinstance(child, QTextTable):
                form = child.format()
                form.setCellPadding(5)
                form.setCellSpacing(0)
                form.setBorder(0.5)
                form.setWidth(QTextLength(QTextLength.Type.PercentageLength, 100))
                child.setFormat(form)

    def _next(self) -> None:
        """Go to the next place that holds the words."""
        words = self.search.text().strip()
        if words and not self.page.find(words, QTextDocument.FindFlag(0)):
            self.page.moveCursor(QTextCursor.MoveOperation.Start)
            self.page.find(words)
