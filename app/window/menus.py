"""The menus of the window, and their keys."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QMenu

from ..bench.menu import fill
from ..book.importing import SAMPLE
from .help import about, show_logs

if TYPE_CHECKING:
    from .main_window import MainWindow


OVERVIEW = "bench/overview"
"""Under this name it is remembered whether the overview is wanted."""


class Menus(QObject):
    """Fills a window's menu bar, and keeps the actions that change with its state."""

    def __init__(self, window: MainWindow) -> None:
        super().__init__(window)
        self._window = window
        standard = QKeySequence.StandardKey
        bar = window.menuBar()
        files, document, importer = window.files, window.document, window.importer
        menu = bar.addMenu(self.tr("&Job"))
        self._action(menu, self.tr("&New"), files.new, standard.New)
        self._action(menu, self.tr("&Open…"), importer.choose, standard.Open)
        self.recent = menu.addMenu(self.tr("Open &recent"))
        self.recent.aboutToShow.connect(self.fill_recent)
        if SAMPLE.exists():
            self._action(menu, self.tr("Open the sample order"), importer.open_sample)
        menu.addSeparator()
        self._action(menu, self.tr("&Save"), files.save, standard.Save)
        self._action(menu, self.tr("Save &as…"), files.save_as, "Ctrl+Shift+S")
        menu.addSeparator()
        self._action(menu, self.tr("Add &drawings…"), importer.add_drawings, "Ctrl+I")
        menu.addSeparator()
        self._action(menu, self.tr("&Quit"), window.close, "Ctrl+Q")
        menu = bar.addMenu(self.tr("&Edit"))
        undo = document.undo.createUndoAction(window, self.tr("Undo"))
        undo.setShortcut(QKeySequence(standard.Undo))
        redo = document.undo.createRedoAction(window, self.tr("Redo"))
        redo.setShortcuts([QKeySequence("Ctrl+Shift+Z"), QKeySequence("Ctrl+Y")])
        menu.addAction(undo)
        menu.addAction(redo)
        self.undo_action, self.redo_action = undo, redo
        menu.addSeparator()
        self._action(
            menu,
            self.tr("Select everything on the bench"),
            document.select_all,
        )
        self._action(menu, self.tr("Clear the bench"), document.clear_bench)
        # All that the bench's own menu offers, for whoever does not look there.
        self.arrange = bar.addMenu(self.tr("&Arrange"))
        self.arrange.aboutToShow.connect(self.fill_arrange)
        menu = bar.addMenu(self.tr("&Layout"))
        self.nest_action = self._action(
            menu,
            self.tr("&Nest"),
            window.start_nest,
            "Ctrl+Return",
            self.tr("Lay out everything that is not locked"),
        )
        self.fill_action = self._action(
            menu,
            self.tr("&Fill around what is there"),
            lambda: window.start_nest("all"),
            "Ctrl+Shift+Return",
            self.tr("Leave all that lies on the bench; place only what is in the tray"),
        )
        self.again_action = self._action(
            menu,
            self.tr("Nest the &blank of the selected part anew"),
            window.nest_blank,
            tip=self.tr("All other blanks stay; locked parts stay too"),
        )
        self.keep_action = self._action(
            menu, self.tr("Stop and &keep"), window.nesting.keep, "Ctrl+."
        )
        self.discard_action = self._action(
            menu, self.tr("&Discard the search"), window.nesting.discard
        )
        menu.addSeparator()
        self._action(
            menu,
            self.tr("Keep this layout for c&omparing"),
            window.keep_layout,
            "Ctrl+K",
            self.tr("Set the layout on the bench aside, until another job is opened"),
        )
        self._action(
            menu,
            self.tr("Com&pare layouts…"),
            window.compare,
            "Ctrl+Shift+K",
            self.tr("See two kept layouts side by side, and take one"),
        )
        menu.addSeparator()
        for tool, words in (
            ("select", self.tr("&Select and move")),
            ("measure", self.tr("&Measure")),
            ("circle", self.tr("Draw a &round keep-out")),
            ("rectangle", self.tr("Draw a re&ctangular keep-out")),
        ):
            self._action(menu, words, partial(window.use_tool, tool))
        menu = bar.addMenu(self.tr("&View"))
        zoom_in = self._action(
            menu, self.tr("Zoom &in"), lambda: window.bench.zoom_by(1.2)
        )
        zoom_in.setShortcuts([QKeySequence("Ctrl++"), QKeySequence("Ctrl+=")])
        self._action(
            menu, self.tr("Zoom &out"), lambda: window.bench.zoom_by(1 / 1.2), "Ctrl+-"
        )
        self._action(menu, self.tr("&Fit all"), window.bench.fit, "Ctrl+0")
        menu.addSeparator()
        for number in range(window.book.count()):
            self._action(
                menu,
                window.book.tabText(number),
                partial(window.show_page, number),
                f"Alt+{number + 1}",
            )
        menu.addSeparator()
        self.placed_action = QAction(self.tr("&Table of placed copies"), window)
        self.placed_action.setCheckable(True)
        self.placed_action.setShortcut(QKeySequence("Alt+6"))
        self.placed_action.toggled.connect(window.show_placed)
        menu.addAction(self.placed_action)
        overview = QAction(self.tr("O&verview of all blanks"), window)
        overview.setCheckable(True)
        overview.setChecked(bool(window.settings.value(OVERVIEW, True, type=bool)))
        overview.toggled.connect(partial(self._want_overview, window))
        window.bench.overview.want(overview.isChecked())
        menu.addAction(overview)
        menu.addSeparator()
        self._action(menu, self.tr("Next &region"), lambda: window.hop(1), "F6")
        self._action(
            menu, self.tr("&Previous region"), lambda: window.hop(-1), "Shift+F6"
        )
        menu = bar.addMenu(self.tr("&Help"))
        self._action(menu, self.tr("&Guide"), window.show_guide, "F1")
        self._action(
            menu, self.tr("&Keys"), partial(window.show_guide, "keys"), "Shift+F1"
        )
        self._action(menu, self.tr("Show the &log folder"), show_logs)
        self._action(menu, self.tr("&About Drystone"), partial(about, window))

    def _action(
        self,
        menu: QMenu,
        words: str,
        do: Callable[[], object],
        keys: QKeySequence.StandardKey | str | None = None,
        tip: str = "",
    ) -> QAction:
        action = QAction(words, self._window)
        action.triggered.connect(lambda: do())
        if keys is not None:
            action.setShortcut(QKeySequence(keys))
        if tip:
            action.setStatusTip(tip)
        menu.addAction(action)
        return action

    @staticmethod
    def _want_overview(window: MainWindow, wanted: bool) -> None:
        window.bench.overview.want(wanted)
        window.settings.setValue(OVERVIEW, wanted)

    def enable(self, running: bool, reading: bool) -> None:
        """Allow what is possible while a search runs, or files are read."""
        for action in (self.nest_action, self.fill_action, self.again_action):
            action.setEnabled(not (running or reading))
        self.keep_action.setEnabled(running)
        self.discard_action.setEnabled(running)

    def fill_arrange(self) -> None:
        """List what can be done with the selection."""
        self.arrange.clear()
        fill(self.arrange, self._window.bench)

    def fill_recent(self) -> None:
        """List the jobs used last."""
        files = self._window.files
        self.recent.clear()
        paths = files.recent()
        for path in paths:
            action = self.recent.addAction(path.name)
            action.setStatusTip(str(path))
            action.setEnabled(path.exists())
            action.triggered.connect(lambda _=False, p=path: files.open(p))
        if paths:
            self.recent.addSeparator()
            clear = self.recent.addAction(self.tr("Clear list"))
            clear.triggered.connect(files.clear_recent)
        else:
            self.recent.addAction(self.tr("Nothing yet")).setEnabled(False)
