"""What all tours of the window share: waiting, and taking pictures."""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication, QWidget

from drystone.app.bench.view import BenchView
from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow


@contextmanager
def own_window() -> Iterator[tuple[QApplication, MainWindow, Path]]:
    """Give a window that leaves the user's settings alone, and where it keeps its own.

    Yields
    ------
    tuple of QApplication, MainWindow and Path
        The folder goes once the tour is over.
    """
    with tempfile.TemporaryDirectory() as name:
        rest = Path(name)
        for kind in ("XDG_CONFIG_HOME", "XDG_DATA_HOME"):
            os.environ[kind] = str(rest / kind.lower())
        application = QApplication(sys.argv[:1])
        settings = QSettings(str(rest / "window.ini"), QSettings.Format.IniFormat)
        window = MainWindow(Document(), settings, rest / "recovery")
        yield application, window, rest
        window.document.undo.setClean()
        window.shut_down()


class Walk:
    """Someone who uses the window and takes pictures.

    Parameters
    ----------
    window : MainWindow
    folder : Path
        Where the pictures go.
    kind : str
        Begin of their names.
    """

    def __init__(
        self,
        application: QApplication,
        window: MainWindow,
        folder: Path,
        kind: str = "",
    ) -> None:
        self.application = application
        self.window = window
        self.folder = folder
        self.kind = kind
        self.count = 0

    def wait(self, done: Callable[[], bool], seconds: float) -> None:
        """Let the window work until something is so, or the time is up."""
        end = time.monotonic() + seconds
        while not done() and time.monotonic() < end:
            self.application.processEvents()
            time.sleep(0.01)

    def picture(self, name: str, widget: QWidget | None = None) -> None:
        """Take a picture of the window, or of another widget, as it is."""
        self.wait(lambda: False, 0.7)
        # However busy the machine is, pictures are of what it shows at rest.
        for bench in self.application.allWidgets():
            if isinstance(bench, BenchView) and bench.isVisible():
                bench.camera.sharpen_all()
        self.count += 1
        path = self.folder / f"{self.kind}{self.count:02d}-{name}.png"
        (widget or self.window).grab().save(str(path))
        print(path)
