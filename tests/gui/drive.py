"""Drive a real window on an X11 screen from start to written files, with pictures.

::

    xvfb-run -a -s "-screen 0 1600x1000x24" python tests/gui/drive.py DIR

All input goes through the X server. The program ends with status 0 when each step had
the effect it should have.
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable
from functools import partial
from pathlib import Path

if __name__ == "__main__":
    os.environ["QT_QPA_PLATFORM"] = "xcb"

from PySide6.QtCore import QObject, QPoint, QPointF, QSettings, Qt, Signal
from PySide6.QtWidgets import (
    QApplication,
    QFileDialog,
    QScrollArea,
    QTableView,
    QWidget,
)

from drystone.app.bench.copies import Key, key_of
from drystone.app.bench.shapes import flat
from drystone.app.book.importing import SAMPLE
from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow
from drystone.io.job_file import read_job
from drystone.nesting.model.placement import Placement
from drystone.nesting.verify import verify

sys.path.append(str(Path(__file__).resolve().parents[2]))  # when run by itself

from tests.gui.x_person import XPerson

PATIENCE = 5.0
"""A machine that is busy with other things is granted so many times the time."""


class Drive(QObject):
    """One drive through the window.

    The one who drives is another thread: a dialog that waits for an answer holds the
    window's own up. What must happen in the window's thread goes through `ask`.
    """

    asked = Signal(object)

    def __init__(self, application: QApplication, folder: Path, rest: Path) -> None:
        super().__init__()
        self.application = application
        self.asked.connect(self._do, Qt.ConnectionType.BlockingQueuedConnection)
        self.folder = folder
        self.rest = rest
        settings = QSettings(str(rest / "window.ini"), QSettings.Format.IniFormat)
        self.window = MainWindow(Document(), settings, rest / "recovery")
        self.document = self.window.document
        self.person = XPerson()
        self.count = 0

    # ------------------------------------------------------------ means

    def _do(self, what: Callable[[], object]) -> None:
        what()

    def ask(self, what: Callable[[], object]) -> None:
        """Have the window's thread do something."""
        self.asked.emit(what)

    def wait(self, seconds: float) -> None:
        """Let the window work."""
        self.until(lambda: False, seconds, needed=False)

    def until(
        self, done: Callable[[], bool], seconds: float, needed: bool = True
    ) -> None:
        """Let the window work until something is so."""
        end = time.monotonic() + (seconds * PATIENCE if needed else seconds)
        while time.monotonic() < end:
            if done():
                return
            time.sleep(0.02)
        if needed:
            self.picture("stuck")
            raise AssertionError("what should happen did not happen")

    def picture(self, name: str) -> None:
        """Take a picture of the screen, with all that is on it."""
        self.wait(0.5)
        self.count += 1
        path = self.folder / f"{self.count:02d}-{name}.png"
        screen = self.application.primaryScreen()
        self.ask(lambda: screen.grabWindow(0).save(str(path)))
        print(path, flush=True)

    def keys(self, *names: str) -> None:
        """Press keys together."""
        self.person.press(*names)
        self.wait(0.15)

    def type(self, text: str) -> None:
        """Type text."""
        self.person.type(text)
        self.wait(0.3)

    def point(self, widget: QWidget, place: QPoint | None = None) -> QPoint:
        """Move the pointer onto a widget."""
        at = widget.mapToGlobal(widget.rect().center() if place is None else place)
        self.person.move(at.x(), at.y())
        self.wait(0.05)
        return at

    def bring(self, widget: QWidget) -> None:
        """Scroll to a widget, as a wheel would."""
        around = widget.parentWidget()
        while around is not None:
            if isinstance(around, QScrollArea):
                self.ask(partial(around.ensureWidgetVisible, widget))
            around = around.parentWidget()
        self.wait(0.2)

    def click(self, widget: QWidget, place: QPoint | None = None) -> None:
        """Click on a widget."""
        self.bring(widget)
        self.point(widget, place)
        self.person.button(True)
        self.person.button(False)
        self.wait(0.2)

    def cell(self, table: QTableView, row: int, column: int, text: str) -> None:
        """Type into a cell."""
        self.wait(0.5)  # columns are fitted to what has come in just now
        box = table.visualRect(table.model().index(row, column))
        self.click(table.viewport(), box.center())
        self.keys("F2")
        self.type(text + "\n")

    def file(self, name: str) -> None:
        """Type a name into the file dialog that is open."""
        self.until(self.dialog_is_open, 30)
        self.wait(0.3)
        self.type(name + "\n")
        for _ in range(3):  # the first Return may only end a list of proposals
            self.wait(1.0)
            if self.dialog_is_open():
                self.keys("Return")
        self.until(lambda: not self.dialog_is_open(), 30)

    def dialog_is_open(self) -> bool:
        """Return whether a file dialog waits."""
        return isinstance(self.application.activeModalWidget(), QFileDialog)

    def nest(self, name: str) -> None:
        """Search, and wait until that is over."""
        self.until(lambda: bool(self.document.shown_layout.placements), 180)
        self.wait(1.5)  # what belongs to a search shows once it turns out to be long
        self.picture(name)
        self.until(lambda: not self.window.nesting.running, 300)

    def grip(self, placement: Placement) -> QPoint:
        """Return where on the bench a finger finds wood of a copy."""
        bench = self.window.bench
        part = self.document.job.part(placement.part_id)
        at = placement.motion.point(flat(part.outline).label_point)
        return bench.mapFromScene(QPointF(*bench.plan.on_bench(placement.blank, at)))

    def drag(self, start: QPoint, end: QPoint, name: str = "") -> None:
        """Drag on the bench, as slowly as a hand."""
        view = self.window.bench.viewport()
        self.point(view, start)
        self.person.button(True)
        for k in range(1, 25):
            step = start + (end - start) * (k / 24.0)
            at = view.mapToGlobal(step)
            self.person.move(at.x(), at.y())
            self.wait(0.02)
        if name:
            self.picture(name)
        self.person.button(False)
        self.wait(0.3)

    def placed(self, key: Key) -> Placement:
        """Return where a copy lies."""
        found = self.document.placement(key)
        assert found is not None
        return found

    # ------------------------------------------------------------ the way

    def go(self) -> None:
        """Go the whole way."""
        window, document = self.window, self.document
        self.ask(lambda: window.setGeometry(0, 0, 1600, 1000))
        self.ask(window.show)
        self.ask(window.activateWindow)
        self.wait(1.0)
        self.picture("empty")
        self.drawings()
        self.sample()
        self.by_hand()
        self.ask(window.bench.fit)
        self.wait(0.5)
        self.click(window.strip.nest)
        self.until(lambda: window.nesting.running, 30)
        self.nest("nesting-round-what-is-locked")
        self.until(lambda: not document.tray(), 20)
        assert verify(document.job, document.job.layout).ok
        self.keys("Control_L", "Shift_L", "k")
        self.until(lambda: window.comparing is not None, 20)
        assert window.comparing is not None
        self.until(window.comparing.isVisible, 20)
        self.wait(4.0)
        self.picture("compare")
        self.ask(window.comparing.close)
        self.ask(window.activateWindow)
        self.hand_over()
        self.keys("F1")
        self.until(lambda: window.guide is not None and window.guide.isVisible(), 20)
        self.picture("guide")
        assert window.guide is not None
        self.ask(window.guide.close)
        self.ask(window.activateWindow)
        self.wait(0.3)
        self.save()
        # Where no window manager runs, nobody gives the keys back after a dialog.
        self.ask(window.activateWindow)
        self.wait(0.3)
        self.keys("Control_L", "q")
        self.until(lambda: not window.isVisible(), 30)

    def drawings(self) -> None:
        """Add two drawings by dialog, want more of them, undo all."""
        window, document = self.window, self.document
        self.keys("Control_L", "i")
        names = " ".join(f'"{SAMPLE.parent / n}"' for n in ("side.dxf", "foot.svg"))
        self.file(names)
        self.until(lambda: len(document.job.parts) == 2, 30)
        self.cell(window.book.parts.table, 0, 1, "3")
        self.cell(window.book.parts.table, 1, 1, "4")
        self.until(lambda: [p.quantity for p in document.job.parts] == [3, 4], 20)
        self.picture("two-drawings")
        for _ in range(3):
            self.keys("Control_L", "z")
        self.until(lambda: not (document.job.parts or document.modified), 20)

    def sample(self) -> None:
        """Open the sample order and nest it."""
        window, document = self.window, self.document
        self.click(window.book.parts.sample)
        self.until(lambda: bool(document.job.parts), 30)
        self.picture("sample")
        self.ask(lambda: window.book.cutting.seconds.setValue(20))
        self.click(window.strip.nest)
        self.until(lambda: window.nesting.running, 30)
        self.nest("nesting")
        self.until(lambda: not document.tray(), 20)
        self.picture("nested")

    def by_hand(self) -> None:
        """Drag a part against its neighbours, turn it, lock it."""
        window, document = self.window, self.document
        layout = document.job.layout
        blanks = range(len(layout.blanks))
        blank = min(
            (b for b in blanks if len(layout.on(b)) >= 5),
            key=lambda b: sum(document.job.part(p.part_id).area for p in layout.on(b)),
        )
        self.ask(lambda: window.bench.fit_blank(blank))
        self.wait(0.5)
        parts = layout.on(blank)
        moved = min(parts, key=lambda p: document.job.part(p.part_id).area)
        key = key_of(moved)
        before = self.placed(key)
        steps = document.undo.count()
        start = self.grip(before)
        self.drag(start, start + QPoint(140, -160), "dragging")
        self.until(lambda: document.undo.count() == steps + 1, 20)
        assert not document.conflicts(), "snug: never left in conflict"
        assert document.selection == {key}
        self.keys("l")
        self.until(lambda: self.placed(key).locked, 20)
        self.picture("locked")

    def hand_over(self) -> None:
        """Write the files."""
        window = self.window
        page = window.book.hand_over
        self.keys("Alt_L", "4")
        self.until(page.isVisible, 20)
        for _ in range(5):  # the page may still move while the quote is worked out
            self.wait(2.0)
            self.click(page.folder)
            if page.folder.hasFocus():
                break
        self.keys("Control_L", "a")
        self.type(str(self.rest / "cut"))
        self.until(lambda: page.folder.text() == str(self.rest / "cut"), 20)
        self.click(page.write)
        self.until(lambda: window.handing.running or page.check.isVisible(), 30)
        self.until(lambda: not window.handing.running, 180)
        self.until(page.check.isVisible, 30)
        self.picture("handed-over")
        written = sorted(p.name for p in (self.rest / "cut").iterdir())
        assert "report.json" in written and len(written) > 10, written

    def save(self) -> None:
        """Save the job, and read it back."""
        self.keys("Control_L", "s")
        path = self.rest / "boxes.drystone"
        self.until(self.dialog_is_open, 30)
        self.keys("Control_L", "a")
        self.file(str(path))
        self.until(path.exists, 20)
        self.until(lambda: not self.document.modified, 20)
        assert read_job(path) == self.document.job


def main(words: list[str]) -> int:
    """Drive; return the exit status."""
    if len(words) != 1:
        print("usage: python tests/gui/drive.py DIR", file=sys.stderr)
        return 2
    folder = Path(words[0])
    folder.mkdir(parents=True, exist_ok=True)
    application = QApplication(sys.argv[:1])
    application.setQuitOnLastWindowClosed(False)
    faults: list[BaseException] = []
    with tempfile.TemporaryDirectory() as rest:
        drive = Drive(application, folder, Path(rest))

        def go() -> None:
            try:
                drive.go()
            except BaseException as fault:
                traceback.print_exc()
                faults.append(fault)
                drive.ask(drive.window.document.undo.setClean)
                drive.ask(drive.window.shut_down)
            drive.ask(application.quit)

        threading.Thread(target=go, daemon=True).start()
        application.exec()
    if not faults:
        print("driven from start to written files")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
