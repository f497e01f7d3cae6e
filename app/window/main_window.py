"""The window: verdict strip, job book, bench and tray, and how they work together."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QMimeData, QPoint, QSettings, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDragLeaveEvent, QDropEvent
from PySide6.QtWidgets import (
    QLabel,
    QMainWindow,
    QSizePolicy,
    QSplitter,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ...io.known_size import scale_text
from ...nesting.model.rules import same_board
from ..bench.copies import Key
from ..bench.sound import sound
from ..bench.view import BenchView
from ..book.book import JobBook
from ..book.importing import Read
from ..book.placed_table import PlacedTable
from .banner import Banner
from .breath import Breath
from .compare import Compare
from .cut_time import CutTime
from .document import Document
from .drop_overlay import DropOverlay
from .edges import Edges
from .files import Files
from .focus_ring import FocusRing
from .guide import Guide
from .handing import HandingOver
from .importer import Importer
from .kept import KeptLayouts
from .menus import Menus
from .nesting import Nesting
from .new_job import UNIT
from .notices import Notices
from .reader import Reader
from .recovery import Recovery, recovery_folder
from .regions import Region, hop
from .tray import Tray
from .verdict_strip import VerdictStrip


class MainWindow(QMainWindow):
    """The window.

    Parameters
    ----------
    document : Document
        The job it shows.
    settings : QSettings
        What is remembered from one start to the next.
    recovery : Path, optional
        Where recovery copies are.
    """

    def __init__(
        self,
        document: Document,
        settings: QSettings,
        recovery: Path | None = None,
    ) -> None:
        super().__init__()
        self.document = document
        self.settings = settings
        self._shut = False
        self._breath = Breath(self, document.changed, document.trial_changed)
        self.guide: Guide | None = None
        self.comparing: Compare | None = None
        self.strip = VerdictStrip(document, self)
        self.banner = Banner(self)
        self.book = JobBook(document, self)
        self.bench = BenchView(document)
        self.placed = PlacedTable(document, self)
        self.tray = Tray(document, self)
        self.reader = Reader(document, self.strip.work, self)
        self.recovery = Recovery(document, recovery or recovery_folder(), self)
        self.files = Files(document, self, settings, self.recovery, self.reader)
        self.importer = Importer(document, self, self.files, self.reader)
        self.kept = KeptLayouts(document, self)
        self.nesting = Nesting(document, self.strip, self.kept, self)
        page = self.book.hand_over
        self.handing = HandingOver(document, page, self.strip.work, self)
        self.cut_time = CutTime(document, self)
        self.notices = Notices(document, self.files, self.recovery, self.banner, self)
        self._build()
        self.menus = Menus(self)
        self.ring = FocusRing(self)
        self.edges = Edges(self)
        self._connect()
        self._breath.listen_last()
        self.setAcceptDrops(True)
        self._title()
        self.notices.offer_lost()

    # ------------------------------------------------------------ building

    def _build(self) -> None:
        across = QSplitter(Qt.Orientation.Horizontal, self)
        across.addWidget(self.book)
        across.addWidget(self.bench)
        across.setStretchFactor(0, 0)
        across.setStretchFactor(1, 1)
        across.addWidget(self.placed)
        across.setStretchFactor(2, 0)
        across.setCollapsible(1, False)
        # Twice as large words want twice as wide a book.
        book = max(470, 66 * self.fontMetrics().averageCharWidth())
        across.setSizes([book, 810, 0])
        self.placed.hide()
        across.setHandleWidth(6)
        self.across = across
        centre = QWidget(self)
        column = QVBoxLayout(centre)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(self.strip)
        column.addWidget(self.banner)
        column.addWidget(across, 1)
        column.addWidget(self.tray)
        self.setCentralWidget(centre)
        self.overlay = DropOverlay(centre)
        self.bench.setMinimumSize(240, 160)
        self.hint = QLabel(self)
        # Long words are cut off rather than asking for a wider window.
        ignored, preferred = QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred
        self.hint.setSizePolicy(ignored, preferred)
        self.zoom = QLabel(self)
        self.fit = QToolButton(self)
        self.fit.setText(self.tr("Fit"))
        self.fit.setToolTip(self.tr("Show all blanks (Ctrl+0)"))
        self.fit.setMinimumHeight(24)
        self.fit.clicked.connect(self.bench.fit)
        bar = self.statusBar()
        bar.addWidget(self.hint, 1)
        bar.addPermanentWidget(self.zoom)
        bar.addPermanentWidget(self.fit)
        room = self.screen().availableGeometry()
        self.resize(max(min(book + 810, room.width()), 1280), 800)
        geometry = self.settings.value("geometry")
        if geometry:
            self.restoreGeometry(geometry)
        book = int(str(self.settings.value("book", 0)))
        if book > 0:  # as wide as it was left
            across.setSizes([book, max(self.width() - book, 240), 0])

    def _connect(self) -> None:
        document = self.document
        document.path_changed.connect(self._title)
        document.changed.connect(self._title)
        document.undo.cleanChanged.connect(self._title)
        document.opened.connect(self._opened)
        self.bench.said.connect(self.hint.setText)
        self.bench.zoomed.connect(self._zoomed)
        self.bench.dropped_outside.connect(self._dropped_outside)
        self.bench.tool_changed.connect(self._tool_changed)
        self.tray.place_wanted.connect(self.place)
        self.strip.nest_wanted.connect(self.start_nest)
        self.strip.keep_wanted.connect(self.nesting.keep)
        self.strip.discard_wanted.connect(self.nesting.discard)
        self.strip.problem_wanted.connect(self._show_problem)
        self.book.parts.drawings_wanted.connect(self.importer.add_drawings)
        self.book.parts.order_wanted.connect(self.importer.choose)
        self.book.parts.sample_wanted.connect(self.importer.open_sample)
        self.book.stock.tool_wanted.connect(self.use_tool)
        self.book.parts.layers.again_wanted.connect(self.importer.read_again)
        self.importer.taken.connect(self._taken)
        self.reader.busy_changed.connect(self._enable)
        self.nesting.running_changed.connect(self._enable)
        self.nesting.died.connect(self.notices.offer_best)
        self.cut_time.told.connect(self.strip.set_time)
        self.book.shop.changed.connect(self.cut_time.work_out_again)
        self.book.shop.changed.connect(self._use_practice)
        self.book.cutting.units_chosen.connect(
            lambda unit: self.settings.setValue(UNIT, unit)
        )
        self._use_practice()
        self._enable()
        self._zoomed(self.bench.scale_now())

    # ------------------------------------------------------------ words

    def _title(self) -> None:
        self.setWindowTitle(f"{self.document.job.name}[*] - Drystone")
        self.setWindowModified(self.document.modified)

    def _zoomed(self, scale: float) -> None:
        # 96 logical pixels are one inch: 100 % is true size on an average screen.
        self.zoom.setText(self.tr("{n} %").format(n=round(scale * 25.4 / 96 * 100)))

    def _use_practice(self) -> None:
        self.bench.spots.use(self.book.shop.setup.practice)

    def _tool_changed(self, tool: str) -> None:
        words = {
            "select": "",
            "measure": self.tr("Measure: drag from one edge to another. Esc ends."),
            "circle": self.tr("Keep-out: drag from the centre outwards. Esc ends."),
            "rectangle": self.tr("Keep-out: drag from corner to corner. Esc ends."),
        }
        self.hint.setText(words.get(tool, ""))

    def _opened(self) -> None:
        self.nesting.discard()
        self.banner.hide()
        self._title()

    # ------------------------------------------------------------ regions

    def show_page(self, number: int) -> None:
        """Show a page of the job book and go there."""
        self.book.setCurrentIndex(number)
        self.book.tabBar().setFocus()

    def show_placed(self, shown: bool) -> None:
        """Show or hide the table of placed copies beside the bench."""
        self.placed.setVisible(shown)
        if shown:
            book, bench, _ = self.across.sizes()
            self.across.setSizes([book, max(bench - 340, 240), 340])
            self.placed.table.fit_columns()
            self.placed.table.setFocus()

    def hop(self, way: int) -> None:
        """Go to the next region: strip, book, bench, tray."""
        strip, book = self.strip, self.book
        regions = [
            Region(strip, lambda: strip.nest if strip.nest.isVisible() else strip.keep),
            Region(book, book.tabBar),
            Region(self.bench, lambda: self.bench),
            Region(self.tray, lambda: self.tray.stop),
        ]
        if self.placed.isVisible():
            regions.insert(3, Region(self.placed, lambda: self.placed.table))
        hop(regions, way)

    def use_tool(self, tool: str) -> None:
        """Choose what dragging on the bench does."""
        self.bench.set_tool(tool)
        self.bench.setFocus()

    def _show_problem(self, key: Key) -> None:
        self.bench.show_copy(key)
        self.bench.setFocus()
        self.notices.explain(key)

    # ------------------------------------------------------------ tray

    def place(self, part_id: str) -> None:
        """Put one copy of a part on the bench, where there is room."""
        if self.nesting.running:
            return
        job = self.document.job
        if not job.layout.blanks:
            board = job.part(part_id)
            fit = [
                s
                for s in job.stock
                if same_board(s.material, s.thickness, board.material, board.thickness)
            ] or list(job.stock)
            if not fit:
                self.document.say("info", self.tr("Add a sheet under Stock first."))
                return
            self.document.add_blank(fit[0].id)
        if self.bench.lay(part_id):
            self.banner.hide()

    def _dropped_outside(self, keys: object, place: QPoint) -> None:
        if self.tray.rect().contains(self.tray.mapFromGlobal(place)):
            self.document.to_tray(keys)  # type: ignore[arg-type]

    # ------------------------------------------------------------ nesting

    def _enable(self) -> None:
        running, reading = self.nesting.running, self.reader.busy
        self.menus.enable(running, reading)
        self.strip.set_ready(not reading)
        # What is searched must not change under the search.
        self.book.setEnabled(not running)
        self.placed.setEnabled(not running)
        words = ""
        if reading:
            words = self.tr("Reading…")
        elif running:
            words = self.tr("Looking for a layout…")
        self.hint.setText(words)

    def nest_blank(self) -> None:
        """Lay out anew what lies on the blank of the current part."""
        current = self.document.current
        found = None if current is None else self.document.placement(current)
        if found is None:
            self.document.say("info", self.tr("Select a part on that blank first."))
            return
        self.start_nest(blank=found.blank)

    def start_nest(self, keep: str = "locked", blank: int | None = None) -> None:
        """Search for a layout, in a process of its own."""
        job = self.document.job
        if self.nesting.running:
            return
        if not job.parts or not job.stock:
            words = (
                self.tr("Add a sheet under Stock first.")
                if job.parts
                else self.tr("Add parts first.")
            )
            self.document.say("info", words)
            return
        self.bench.cancel()
        self.banner.hide()
        self.nesting.start(float(self.book.cutting.seconds.value()), keep, blank)

    def keep_layout(self) -> None:
        """Set the layout on the bench aside for comparing."""
        kept = self.kept.keep(self.document.job.layout)
        words = (
            self.tr("There is no layout to keep, or it is kept already.")
            if kept is None
            else self.tr("Kept as “{name}”; compare with Ctrl+Shift+K.").format(
                name=kept.name
            )
        )
        self.document.say("info", words)

    def compare(self) -> None:
        """Show two kept layouts side by side, this one among them."""
        self.kept.keep(self.document.job.layout, self.tr("On the bench"))
        if not self.kept.all:
            self.document.say("info", self.tr("There is no layout yet: nest first."))
            return
        if self.comparing is None:
            self.comparing = Compare(self.kept, lambda: not self.nesting.running, self)
        self.comparing.refresh()
        self.comparing.show()
        self.comparing.raise_()

    def show_guide(self, topic: str = "") -> None:
        """Show the guide, at a topic."""
        if self.guide is None:
            self.guide = Guide(self)
        self.guide.open_at(topic)

    # ------------------------------------------------------------ importing

    def open_files(self, paths: list[Path]) -> None:
        """Open a job or an order, or add the parts of drawings."""
        if self.nesting.running:
            self.document.say("info", self.tr("Stop the search first."))
        else:
            self.importer.take(paths)

    def _taken(self, read: Read) -> None:
        units = {d.file: scale_text(d.units.factor) for d in read.drawings}
        self.book.parts.show_findings(read.findings, units)
        self.book.parts.layers.show_drawings(read.drawings)
        self.book.setCurrentWidget(self.book.parts)

    @sound
    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()
            self.overlay.offer(_local(event.mimeData()))
            self.hint.setText(self.overlay.words)

    @sound
    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        """Say no longer what letting go would do."""
        self.overlay.hide()
        self.hint.setText("")

    @sound
    def dropEvent(self, event: QDropEvent) -> None:
        """Open what was dropped."""
        paths = _local(event.mimeData())
        self.overlay.hide()
        self.hint.setText("")
        if paths:
            event.acceptProposedAction()
            self.open_files(paths)

    # ------------------------------------------------------------ files

    @sound
    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask about unsaved work, then end what runs."""
        if not self.files.may_go():
            event.ignore()
            return
        for other in (self.guide, self.comparing):
            if other is not None:
                other.close()
        self.shut_down()
        self.settings.setValue("geometry", self.saveGeometry())
        self.settings.setValue("book", self.across.sizes()[0])
        event.accept()

    def shut_down(self) -> None:
        """End all processes and threads that belong to the window."""
        if self._shut:
            return
        self._shut = True
        self.nesting.close()
        self.handing.close()
        self.cut_time.close()
        self.reader.close()
        self.book.parts.found.close_down()
        self.book.shut_down()
        self.recovery.forget()
        self.files.watch.close()
        self.recovery.close()
        # A dying undo stack still tells that it is clean; nobody is there to hear.
        self.document.undo.cleanChanged.disconnect(self._title)


def _local(data: QMimeData) -> list[Path]:
    """Return the files of this computer among what is dragged."""
    return [Path(url.toLocalFile()) for url in data.urls() if url.isLocalFile()]
