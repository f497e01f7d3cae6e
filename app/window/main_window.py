"""The window: verdict strip, job book, bench and tray, and the menus."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QPoint, QSettings, Qt, QTimer
from PySide6.QtGui import (
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QGuiApplication,
)
from PySide6.QtWidgets import (
    QFileDialog,
    QLabel,
    QMainWindow,
    QSplitter,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ...io.job_file import SUFFIX
from ...io.setup_file import read_setup
from ...nesting.model.rules import same_board
from ..bench.conflicts import Conflict
from ..bench.view import BenchView
from ..book.book import JobBook
from ..book.importing import (
    DRAWINGS,
    SAMPLE,
    WHOLE,
    Read,
    read_drawings,
    read_whole,
    with_parts,
)
from ..book.placed_table import PlacedTable
from .banner import Banner
from .document import Document, Notice
from .edits import Key
from .engine_process import Ended, EngineProcess, Found
from .files import Files, Recovery, recovery_folder
from .menus import Menus
from .nesting import Nesting
from .task import Task
from .tray import Tray
from .verdict_strip import VerdictStrip

HAND_OVER = "drystone.app.window.engine_work:hand_over"


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
        self.recovery = Recovery(document, recovery or recovery_folder(), self)
        self.files = Files(document, self, settings, self.recovery)
        self.writer = EngineProcess(HAND_OVER, self)
        self._shut = False
        self._task: Task | None = None
        self._time_task: Task | None = None
        self.strip = VerdictStrip(document, self)
        self.nesting = Nesting(document, self.strip, self)
        self.banner = Banner(self)
        self.book = JobBook(document, self)
        self.bench = BenchView(document)
        self.placed = PlacedTable(document, self)
        self.tray = Tray(document, self)
        self._build()
        self.menus = Menus(self)
        self._connect()
        self.setAcceptDrops(True)
        self._title()
        self._offer_lost()

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
        across.setSizes([470, 810, 0])
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
        self.bench.setMinimumSize(240, 160)
        self.hint = QLabel(self)
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
        self.resize(1280, 800)
        geometry = self.settings.value("geometry")
        if geometry:
            self.restoreGeometry(geometry)

    def _connect(self) -> None:
        document = self.document
        document.said.connect(self._said)
        document.path_changed.connect(self._title)
        document.changed.connect(self._title)
        document.undo.cleanChanged.connect(self._title)
        document.opened.connect(self._opened)
        self.files.watch.changed.connect(self._changed_outside)
        self.bench.said.connect(self.hint.setText)
        self.bench.zoomed.connect(self._zoomed)
        self.bench.dropped_outside.connect(self._dropped_outside)
        self.bench.tool_changed.connect(self._tool_changed)
        self.tray.place_wanted.connect(self.place)
        self.strip.nest_wanted.connect(lambda: self.start_nest())
        self.strip.keep_wanted.connect(self.nesting.keep)
        self.strip.discard_wanted.connect(self.nesting.discard)
        self.strip.problem_wanted.connect(self._show_problem)
        self.book.parts.drawings_wanted.connect(self.add_drawings)
        self.book.parts.order_wanted.connect(self.choose)
        self.book.parts.sample_wanted.connect(self.open_sample)
        self.book.stock.tool_wanted.connect(self.use_tool)
        self.book.hand_over.write_wanted.connect(self.write)
        self.nesting.running_changed.connect(self._enable)
        self.nesting.died.connect(self._offer_best)
        self.writer.found.connect(self._written)
        self.writer.ended.connect(self._writer_ended)
        self._figures = QTimer(self)
        self._figures.setSingleShot(True)
        self._figures.setInterval(400)
        self._figures.timeout.connect(self._work_out_time)
        document.changed.connect(self._stale_time)
        self._enable()
        self._zoomed(self.bench.scale_now())
        self._figures.start()

    # ------------------------------------------------------------ words

    def _title(self) -> None:
        self.setWindowTitle(f"{self.document.job.name}[*] - Drystone")
        self.setWindowModified(self.document.modified)

    def _said(self, notice: Notice) -> None:
        self.banner.say(notice.level, notice.text)

    def _zoomed(self, scale: float) -> None:
        # 96 logical pixels are one inch: 100 % is true size on an average screen.
        self.zoom.setText(self.tr("{n} %").format(n=round(scale * 25.4 / 96 * 100)))

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
        self._title()
        for table in (self.book.parts.table, self.book.stock.table):
            table.fit_columns()

    def _stale_time(self) -> None:
        if self.nesting.running:
            self.nesting.discard()
            self.document.say(
                "info", self.tr("The search was ended, because the job has changed.")
            )
        self.strip.time_words = ""
        self._figures.start()

    def _work_out_time(self) -> None:
        """Work out how long the layout cuts, on another thread."""
        job = self.document.job
        if self._time_task is not None:
            self._time_task.stop()
            self._time_task = None
        if not job.layout.placements:
            return

        def work(stopped: Callable[[], bool]) -> tuple[Any, str]:
            from ...nesting.shop.time import job_time

            return job, job_time(job, read_setup()).running.text

        task = Task(work, self)
        task.done.connect(self._show_cut_time)
        self._time_task = task
        task.start()

    def _show_cut_time(self, answer: tuple[Any, str]) -> None:
        job, words = answer
        if job is self.document.job:
            self.strip.time_words = words
            self.strip.refresh()

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
        stops = [
            self.strip.nest if self.strip.nest.isVisible() else self.strip.keep,
            self.book.tabBar(),
            self.bench,
            self.tray.copies,
        ]
        regions: list[QWidget] = [self.strip, self.book, self.bench, self.tray]
        focus = QGuiApplication.focusObject()
        at = -1 if way > 0 else 0
        for number, region in enumerate(regions):
            if isinstance(focus, QWidget) and (
                region is focus or region.isAncestorOf(focus)
            ):
                at = number
        for step in range(1, 5):
            stop = stops[(at + way * step) % 4]
            if stop.isVisible() and stop.isEnabled():
                stop.setFocus(Qt.FocusReason.ShortcutFocusReason)
                return

    def use_tool(self, tool: str) -> None:
        """Choose what dragging on the bench does."""
        self.bench.set_tool(tool)
        self.bench.setFocus()

    def _show_problem(self, key: Key) -> None:
        self.bench.show_copy(key)
        self.bench.setFocus()
        conflict = self.document.conflicts().get(key)
        if conflict is not None:
            self.banner.say("error", self._problem_words(key, conflict))

    def _problem_words(self, key: Key, conflict: Conflict) -> str:
        told = []
        for reason in conflict.reasons:
            words = reason.kind.value
            if reason.other is not None:
                words += f" ({self.document.name_of(reason.other)})"
            elif reason.label:
                words += f" ({reason.label})"
            if words not in told:
                told.append(words)
        return self.tr(
            "{name}: {what}. Move it, or press Del to put it in the tray."
        ).format(name=self.document.name_of(key), what="; ".join(told))

    # ------------------------------------------------------------ tray

    def place(self, part_id: str) -> None:
        """Put one copy of a part on the bench, as near the middle as there is room."""
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
        view = self.bench
        spots = [view.viewport().rect().center()]
        for x0, y0, x1, y1 in view.plan.boxes:
            spots.append(view.mapFromScene((x0 + x1) / 2, (y0 + y1) / 2))
        for spot in spots:
            if view.carry(part_id, spot) and view.gesture is not None:
                view.gesture.finish()
                view.gesture = None
                view.figures = ""
                view.drop_hand()
                self.banner.hide()
                return

    def _dropped_outside(self, keys: object, place: QPoint) -> None:
        if self.tray.rect().contains(self.tray.mapFromGlobal(place)):
            self.document.to_tray(keys)  # type: ignore[arg-type]

    def clear_bench(self) -> None:
        """Put everything that is not locked in the tray, and take empty blanks away."""
        job = self.document.job
        locked = tuple(p for p in job.layout.placements if p.locked)
        used = sorted({p.blank for p in locked})
        place = {old: new for new, old in enumerate(used)}
        layout = replace(
            job.layout,
            blanks=tuple(job.layout.blanks[i] for i in used),
            placements=tuple(replace(p, blank=place[p.blank]) for p in locked),
        )
        self.document.change(self.tr("Clear the bench"), replace(job, layout=layout))

    # ------------------------------------------------------------ nesting

    def _enable(self) -> None:
        running = self.nesting.running
        self.menus.nest_action.setEnabled(not running)
        self.menus.fill_action.setEnabled(not running)
        self.menus.again_action.setEnabled(not running)
        self.menus.keep_action.setEnabled(running)
        self.menus.discard_action.setEnabled(running)
        # What is searched must not change under the search.
        self.book.setEnabled(not running)
        self.placed.setEnabled(not running)
        self.hint.setText(self.tr("Looking for a layout…") if running else "")

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

    def _offer_best(self, best: Found, words: str) -> None:
        take = self.tr("Keep the best so far")
        self.banner.say(
            "error",
            words,
            [
                (take, lambda: self.document.adopt(best.layout, self.tr("Nest"))),
                (self.tr("Leave it"), lambda: None),
            ],
        )

    # ------------------------------------------------------------ handing over

    def write(self, folder: str, force: bool) -> None:
        """Write the job's files, in a process of its own."""
        if self.writer.running:
            return
        self.book.hand_over.begin()
        self.writer.start(self.document.job, options={"folder": folder, "force": force})

    def _written(self, found: Found) -> None:
        self.book.hand_over.done(found.figures)

    def _writer_ended(self, ended: Ended) -> None:
        if ended.reason != "done":
            words = ended.words or self.tr("Nothing was written.")
            self.book.hand_over.failed(words)

    # ------------------------------------------------------------ importing

    def choose(self) -> None:
        """Ask for a job or an order and open it."""
        name, _ = QFileDialog.getOpenFileName(
            self,
            self.tr("Open a job or an order"),
            str(self.document.path.parent if self.document.path else Path.home()),
            self.tr("Jobs and orders (*{suffix} *.toml)").format(suffix=SUFFIX),
        )
        if name:
            self.open_files([Path(name)])

    def add_drawings(self) -> None:
        """Ask for drawings and add their parts."""
        names, _ = QFileDialog.getOpenFileNames(
            self,
            self.tr("Add drawings"),
            str(self.document.path.parent if self.document.path else Path.home()),
            self.tr("Drawings (*.dxf *.svg *.DXF *.SVG)"),
        )
        if names:
            self.open_files([Path(name) for name in names])

    def open_sample(self) -> None:
        """Open the sample order."""
        self.open_files([SAMPLE])

    def open_files(self, paths: list[Path]) -> None:
        """Open a job or an order, or add the parts of drawings."""
        whole = [p for p in paths if p.suffix.lower() in WHOLE]
        drawings = [p for p in paths if p.suffix.lower() in DRAWINGS]
        strange = [p for p in paths if p not in whole and p not in drawings]
        if self.nesting.running:
            self.document.say("info", self.tr("Stop the search first."))
            return
        if strange or len(whole) > 1 or (whole and drawings):
            name = (strange or whole)[0].name
            self.document.say(
                "error",
                self.tr(
                    "{name} cannot be taken in here: drop DXF or SVG drawings, or one "
                    "order (.toml) or job ({suffix}). A picture has to be traced in a "
                    "drawing program first."
                ).format(name=name, suffix=SUFFIX),
            )
            return
        if whole and whole[0].suffix.lower() == SUFFIX:
            self.files.open(whole[0])
            return
        if whole and not self.files.may_go():
            return
        if self._task is not None:
            self._task.stop()
        self.hint.setText(self.tr("Reading…"))
        if whole:
            path = whole[0]
            self._task = Task(lambda stopped: read_whole(path), self)
        else:
            self._task = Task(lambda stopped: read_drawings(drawings, stopped), self)
        self._task.done.connect(self._read)
        self._task.failed.connect(self._unreadable)
        self._task.start()

    def _read(self, read: Read) -> None:
        self._task = None
        self.hint.setText("")
        if read.job is not None:
            self.files.take(read.job)
            self.banner.hide()
        elif read.parts:
            first = not self.document.job.parts
            text = self.tr("Add {n} parts").format(n=len(read.parts))
            if len(read.parts) == 1:
                text = self.tr("Add {name}").format(name=read.parts[0].name)
            self.document.change(text, with_parts(self.document.job, read.parts))
            if first:
                self.book.parts.table.fit_columns()
        else:
            self.document.say(
                "error", self.tr("No part came out of this; the findings say why.")
            )
        self.book.parts.show_findings(read.findings)
        self.book.setCurrentWidget(self.book.parts)

    def _unreadable(self, error: Exception) -> None:
        self._task = None
        self.hint.setText("")
        self.document.say("error", str(error))

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take files."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()
            self.hint.setText(
                self.tr("Let go to add drawings, or to open an order or a job")
            )

    def dropEvent(self, event: QDropEvent) -> None:
        """Open what was dropped."""
        paths = [
            Path(url.toLocalFile())
            for url in event.mimeData().urls()
            if url.isLocalFile()
        ]
        self.hint.setText("")
        if paths:
            event.acceptProposedAction()
            self.open_files(paths)

    # ------------------------------------------------------------ files

    def _changed_outside(self, path: Path) -> None:
        self.banner.say(
            "warn",
            self.tr("Another program has changed {name}.").format(name=path.name),
            [
                (self.tr("Load it anew"), lambda: self.files.reload(path)),
                (self.tr("Keep mine"), self.document.mark_unsaved),
            ],
        )

    def _offer_lost(self) -> None:
        lost = self.recovery.lost()
        if not lost:
            return
        newest = lost[0]
        at = time.strftime("%a %H:%M", time.localtime(newest.at))
        self.banner.say(
            "warn",
            self.tr("Unsaved work on “{name}” from {at} is still here.").format(
                name=newest.name, at=at
            ),
            [
                (self.tr("Open it"), lambda: self.files.recover(newest)),
                (self.tr("Discard it"), lambda: self.files.discard(newest)),
            ],
        )

    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask about unsaved work, then end what runs."""
        if not self.files.may_go():
            event.ignore()
            return
        self.shut_down()
        self.settings.setValue("geometry", self.saveGeometry())
        event.accept()

    def shut_down(self) -> None:
        """End all processes and threads that belong to the window."""
        if self._shut:
            return
        self._shut = True
        self.nesting.close()
        self.writer.close()
        self._figures.stop()
        for task in (self._task, self._time_task):
            if task is not None:
                task.close()
        self.recovery.forget()
        self.files.watch.close()
        self.recovery.close()
        # A dying undo stack still tells that it is clean; nobody is there to hear.
        self.document.undo.cleanChanged.disconnect(self._title)
