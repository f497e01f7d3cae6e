"""Paint the window's main pages and states into a folder, to be looked at.

Run it by itself: ``python tests/gui/tour.py DIR``.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QPoint, QSettings, Qt
from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QApplication

from drystone.app.book.importing import SAMPLE
from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow

SECONDS = 10


def dark_palette() -> QPalette:
    """Return a dark palette such as a system in the evening has."""
    role = QPalette.ColorRole
    palette = QPalette()
    for which, colour in (
        (role.Window, "#2B2B2B"),
        (role.WindowText, "#E8E4DB"),
        (role.Base, "#1E1E1E"),
        (role.AlternateBase, "#262626"),
        (role.Text, "#E8E4DB"),
        (role.Button, "#3A3A3A"),
        (role.ButtonText, "#E8E4DB"),
        (role.Mid, "#6A6A6A"),
        (role.Dark, "#1A1A1A"),
        (role.Light, "#4A4A4A"),
        (role.Midlight, "#404040"),
        (role.Shadow, "#000000"),
        (role.Highlight, "#7CC4F5"),
        (role.HighlightedText, "#111111"),
        (role.ToolTipBase, "#1E1E1E"),
        (role.ToolTipText, "#E8E4DB"),
        (role.PlaceholderText, "#A79F90"),
    ):
        palette.setColor(which, QColor(colour))
    for which in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, which, QColor("#8A8A8A"))
    return palette


class Tour:
    """Someone who walks through the window and takes pictures."""

    def __init__(self, application: QApplication, folder: Path, rest: Path) -> None:
        self.application = application
        self.folder = folder
        settings = QSettings(str(rest / "window.ini"), QSettings.Format.IniFormat)
        self.window = MainWindow(Document(), settings, rest / "recovery")
        self.rest = rest
        self.count = 0

    def wait(self, done: Callable[[], bool], seconds: float) -> None:
        """Let the window work until something is so, or the time is up."""
        end = time.monotonic() + seconds
        while not done() and time.monotonic() < end:
            self.application.processEvents()
            time.sleep(0.01)

    def picture(self, name: str) -> None:
        """Take a picture of the window as it is."""
        self.wait(lambda: False, 0.7)
        self.count += 1
        path = self.folder / f"{self.count:02d}-{name}.png"
        self.window.grab().save(str(path))
        print(path)

    def walk(self) -> None:
        """Go from the empty window to the written files."""
        window = self.window
        book = window.book
        window.show()
        self.picture("empty")
        window.open_files([self.rest / "photo.png"])
        self.picture("refused")
        window.banner.hide()
        window.open_files([SAMPLE])
        self.wait(lambda: bool(window.document.job.parts), 20)
        self.picture("imported")
        for number, name in ((1, "stock"), (2, "cutting")):
            book.setCurrentIndex(number)
            self.picture(name)
        book.cutting.margin.line.setText("a bit")
        book.cutting.margin._finished()
        self.picture("field-error")
        book.cutting.refresh()
        book.setCurrentWidget(book.hand_over)
        self.picture("hand-over-too-early")
        book.setCurrentWidget(book.parts)
        book.cutting.seconds.setValue(SECONDS)
        window.start_nest()
        self.wait(lambda: bool(window.document.shown_layout.placements), 120)
        self.wait(lambda: False, 2.0)
        self.picture("nesting")
        self.wait(lambda: not window.nesting.running, 120)
        window.document.undo.setClean()
        self.picture("nested")
        window.bench.fit_blank(0)
        first = window.document.job.layout.placements[0]
        window.document.select([(first.part_id, first.copy)])
        window.bench.setFocus()
        self.picture("one-blank")
        window.document.nudge(window.document.selection, 25.0, 0.0)
        self.picture("conflict")
        window._show_problem(next(iter(window.document.conflicts())))
        self.picture("conflict-explained")
        window.menus.placed_action.trigger()
        self.picture("placed-table")
        window.menus.placed_action.trigger()
        window.document.undo.undo()
        window.banner.hide()
        window.document.to_tray(
            {(p.part_id, p.copy) for p in window.document.job.layout.placements[:9]}
        )
        window.bench.fit()
        self.picture("some-in-the-tray")
        window.document.undo.undo()
        book.setCurrentWidget(book.hand_over)
        book.hand_over.set_folder(str(self.rest / "out"))
        window.handing.write(str(self.rest / "out"), False)
        self.wait(lambda: not window.handing.running, 120)
        self.picture("handed-over")
        window.resize(860, 560)
        book.setCurrentWidget(book.parts)
        self.picture("small")
        window.resize(1280, 800)
        light = self.application.palette()
        self.application.setPalette(dark_palette())
        self.picture("dark-parts")
        for number, name in (
            (1, "dark-stock"),
            (2, "dark-cutting"),
            (3, "dark-hand-over"),
        ):
            book.setCurrentIndex(number)
            self.picture(name)
        self.application.setPalette(light)
        font = self.application.font()
        large = self.application.font()
        large.setPointSizeF(font.pointSizeF() * 1.5)
        self.application.setFont(large)
        book.setCurrentWidget(book.parts)
        self.picture("large-text")
        self.application.setFont(font)
        window.document.want_more(window.document.job.parts[0].id)
        box = window.files.question()
        box.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
        box.show()
        self.wait(lambda: False, 0.2)
        box.grab().save(str(self.folder / "unsaved-question.png"))
        box.hide()
        box.move(QPoint(0, 0))
        window.shut_down()


def main(words: list[str]) -> int:
    """Walk; return the exit status."""
    if len(words) != 1:
        print("usage: python tests/gui/tour.py DIR", file=sys.stderr)
        return 2
    folder = Path(words[0])
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication(sys.argv[:1])
    with tempfile.TemporaryDirectory() as rest:
        Tour(application, folder, Path(rest)).walk()
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
