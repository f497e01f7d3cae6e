"""Handing over: what will be written, where to, and what the check says."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import QEvent, QTimer, QUrl, Signal
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QCheckBox,
    QFileDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ...io.names import file_stem
from ...nesting.model.job import Job
from ..bench.sound import sound
from ..export_names import file_names
from ..window.document import Document
from ..window.look import sign, sign_icon
from .boxes import tint, visible_edge
from .fold import Fold, PageColumn
from .late_page import LatePage
from .order_section import OrderSection
from .quote_section import QuoteSection
from .shop import Shop

PAPER = "shop-sheets.pdf"
"""What is written besides the drawings, the lists and the job."""

TRUE_SIZE = "all-blanks.pdf"
"""All blanks on pages as large as they are, where it is wanted."""


class HandOverPage(LatePage):
    """The page that writes files.

    Signals
    -------
    write_wanted(str, bool)
        Write to this folder; whether files there may be replaced. `combined` and `pdf`
        say what else to write.
    """

    write_wanted = Signal(str, bool)

    def __init__(
        self,
        document: Document,
        shop: Shop,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.document = document
        self._busy = False
        self._typed = False
        self._replaces = False
        self.state = QLabel(self)
        self.state.setWordWrap(True)
        self.folder = QLineEdit(self)
        visible_edge(self.folder)
        self.folder.setMinimumHeight(28)
        self.folder.setAccessibleName(self.tr("Folder to write to"))
        self.folder.textEdited.connect(self._folder_typed)
        label = QLabel(self.tr("&Folder"), self)
        label.setBuddy(self.folder)
        self.choose = QPushButton(self.tr("&Choose…"), self)
        self.choose.setMinimumHeight(28)
        self.choose.clicked.connect(self._choose)
        where = QHBoxLayout()
        where.addWidget(label)
        where.addWidget(self.folder, 1)
        where.addWidget(self.choose)
        self.with_dxf = QCheckBox(self.tr("One D&XF of all blanks as well"), self)
        self.with_dxf.setToolTip(self.tr("All blanks side by side in one drawing"))
        self.with_pdf = QCheckBox(self.tr("PDF of all b&lanks as well"), self)
        self.with_pdf.setToolTip(
            self.tr("A page for each blank, as large as the blank: true to scale")
        )
        for box in (self.with_dxf, self.with_pdf):
            box.setMinimumHeight(28)
            visible_edge(box)
            box.toggled.connect(self.refresh)
        self.files = QListWidget(self)
        self.files.setAccessibleName(self.tr("Files to be written"))
        self.write = QPushButton(self)
        self.write.setMinimumHeight(34)
        self.write.clicked.connect(self._write)
        self.result = QLabel(self)
        self.result.setWordWrap(True)
        self.result.setTextFormat(self.result.textFormat().PlainText)
        self.check = QListWidget(self)
        self.check.setAccessibleName(self.tr("What the check says"))
        self.check.setWordWrap(True)
        self.show_folder = QPushButton(self.tr("Sho&w the folder"), self)
        self.show_folder.setMinimumHeight(28)
        self.show_folder.clicked.connect(self._show_folder)
        files = QWidget(self)
        column = QVBoxLayout(files)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(where)
        column.addWidget(self.with_dxf)
        column.addWidget(self.with_pdf)
        column.addWidget(self.files)
        column.addWidget(self.write)
        column.addWidget(self.result)
        column.addWidget(self.check)
        column.addWidget(self.show_folder)
        page = self._page = PageColumn(self)
        self.quote = QuoteSection(document, shop, page.inner)
        self.quote_fold = Fold(self.tr("Quote"), self.quote, page.inner)
        self.files_fold = Fold(self.tr("Files and check"), files, page.inner)
        self.order = OrderSection(document, page.inner)
        self.order_fold = Fold(self.tr("Cut order"), self.order, page.inner)
        self.folds = [self.quote_fold, self.files_fold, self.order_fold]
        page.add(self.state)
        for fold in self.folds:
            page.add(fold)
        page.finish()
        self.files_fold.set_open(True)
        self.quote_fold.set_open(True)
        self.quote.summary_changed.connect(
            lambda: self.quote_fold.summarise(self.quote.summary())
        )
        self.order_fold.summarise(
            self.tr("drilled first, holes next, edges last; nothing loose is cut")
        )
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.addWidget(page)
        self._level = ""
        self._words = ""
        self._lines: list[str] = []
        self._done_for: Job | None = None
        self.forget()
        document.changed.connect(self.refresh)
        document.trial_changed.connect(self.refresh)
        document.path_changed.connect(self._propose)
        document.opened.connect(self.forget)
        self._propose()
        self.fill()

    # ------------------------------------------------------------ showing

    def _propose(self) -> None:
        """Propose a folder beside the job, unless one was typed."""
        if self._typed:
            return
        path = self.document.path
        base = path.parent if path else Path.home()
        name = f"{file_stem(self.document.job.name)}-cutting"
        self.folder.setText(str(base / name))

    def _folder_typed(self) -> None:
        self._typed = True
        self.refresh()

    def fill(self) -> None:
        """Show what would be written."""
        self._propose()
        job = self.document.job
        placed = len(job.layout.placements)
        wanted = sum(part.quantity for part in job.parts)
        bad = len(self.document.conflicts()) if placed else 0
        trial = self.document.shown_layout is not job.layout
        extras = [PAPER, TRUE_SIZE] if self.pdf else [PAPER]
        names = file_names(job, extras, combined=self.combined) if placed else []
        if not placed:
            level, text = "info", self.tr("Nothing lies on the bench yet: nest first.")
        elif bad:
            level = "error"
            text = self.tr(
                "{n} parts lie wrongly (hatched red on the bench): mend that first."
            ).format(n=bad)
        elif placed < wanted:
            level = "warn"
            text = self.tr("{left} of {wanted} copies will be missing.").format(
                left=wanted - placed, wanted=wanted
            )
        else:
            level = "ok"
            told = (
                self.tr("{copies} on {blanks}, written and checked.")
                if self._lines and self._done_for is job
                else self.tr("{copies} on {blanks}, ready to write.")
            )
            number = len(job.layout.blanks)
            blanks = self.tr("1 blank") if number == 1 else self.tr("{n} blanks")
            copies = self.tr("1 copy") if wanted == 1 else self.tr("All {n} copies")
            text = told.format(
                copies=copies.format(n=wanted), blanks=blanks.format(n=number)
            )
        self.state.setText(f"{sign(level)}  {text}")
        tint(self.state, level)
        folder = self._folder()
        there = [n for n in names if folder is not None and (folder / n).exists()]
        if [self.files.item(i).text() for i in range(self.files.count())] != names:
            self.files.clear()
            self.files.addItems(names)
        self._replaces = bool(there)
        line = self.files.fontMetrics().height() + 2
        self.files.setFixedHeight(min(max(len(names), 3), 12) * line + 8)
        self.files_fold.summarise(
            self.tr("{n} files").format(n=len(names)) if names else ""
        )
        self.files.setVisible(bool(names))
        if not names:
            words = self.tr("&Write files")
        elif there:
            words = self.tr("&Replace {n} files").format(n=len(there))
        else:
            words = self.tr("&Write {n} files").format(n=len(names))
        self.write.setText(self.tr("Writing and checking…") if self._busy else words)
        ready = bool(names) and not bad and not trial and folder is not None
        self.write.setEnabled(ready and not self._busy)
        if self._lines and self._done_for is not job:
            self.result.setText(
                self.tr("The job has changed since the files were written.")
            )
            tint(self.result, "warn")

    @property
    def combined(self) -> bool:
        """Whether one DXF with all blanks is wanted."""
        return self.with_dxf.isChecked()

    @property
    def pdf(self) -> bool:
        """Whether a PDF with all blanks is wanted."""
        return self.with_pdf.isChecked()

    def _folder(self) -> Path | None:
        text = self.folder.text().strip()
        return Path(text).expanduser() if text else None

    def _choose(self) -> None:
        folder = QFileDialog.getExistingDirectory(
            self, self.tr("Folder to write to"), self.folder.text()
        )
        if folder:
            self.set_folder(folder)

    def set_folder(self, folder: str) -> None:
        """Choose the folder to write to."""
        self._typed = True
        self.folder.setText(folder)
        self.refresh()

    def _write(self) -> None:
        folder = self._folder()
        if folder is None:
            return
        self.write_wanted.emit(str(folder), self._replaces)

    def _show_folder(self) -> None:
        folder = self._folder()
        if folder is not None:
            QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder)))

    # ------------------------------------------------------------ results

    def begin(self) -> None:
        """Say that files are being written."""
        self._busy = True
        self._tell("", "", [])
        self.refresh()

    def done(self, figures: dict[str, Any]) -> None:
        """Say what was written, and what the check said."""
        self._busy = False
        self._done_for = self.document.job
        text = self.tr("{n} files written and checked.").format(n=len(figures["files"]))
        lines = [" ".join(str(line).split()) for line in figures["check"][1:]]
        self._tell("ok", text, lines)
        self.refresh()
        QTimer.singleShot(0, self, self._show_result)

    def _show_result(self) -> None:
        """Scroll to what was said of the files, which may be out of sight."""
        for widget in (self.show_folder, self.result):
            self._page.ensureWidgetVisible(widget, 0, 8)

    def failed(self, words: str) -> None:
        """Say why nothing was written."""
        self._busy = False
        self._tell("error", words, [])
        self.refresh()

    def forget(self) -> None:
        """Show no result."""
        self._typed = False
        self._done_for = None
        self._tell("", "", [])
        self._propose()

    def _tell(self, level: str, text: str, lines: list[str]) -> None:
        self._level, self._words, self._lines = level, text, lines
        self.result.setVisible(bool(text))
        self.check.setVisible(bool(lines))
        self.show_folder.setVisible(bool(lines))
        if text:
            self.result.setText(f"{sign(level)}  {text}")
            tint(self.result, level)
        self.check.clear()
        for line in lines:
            item = QListWidgetItem(sign_icon(level, self.palette()), line)
            self.check.addItem(item)
        if lines:
            high = max(self.check.fontMetrics().height() + 6, 26)
            self.check.setFixedHeight(min(len(lines), 8) * high + 6)

    @sound
    def changeEvent(self, event: QEvent) -> None:
        """Follow the palette."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange and hasattr(self, "_lines"):
            self._tell(self._level, self._words, self._lines)
            self.refresh()

    def close_down(self) -> None:
        """End what runs."""
        self.quote.close_down()
        self.order.close_down()
