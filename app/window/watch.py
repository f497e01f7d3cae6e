"""Notice when another program changes the job's file."""

from __future__ import annotations

import hashlib
from pathlib import Path

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal

from .document import Document

CALM = 300
"""A file is looked at when it has been left alone this long, milliseconds."""


class Watch(QObject):
    """Watches the file of a document.

    Replacing a file ends the watch on it, so that its folder is watched too, and what
    counts is whether the content differs from what was last read or written.

    Signals
    -------
    changed(Path)
        The file holds something else now.
    """

    changed = Signal(object)

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self._known = b""
        self._ours = b""
        self._watcher = QFileSystemWatcher(self)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(CALM)
        self._timer.timeout.connect(self._look)
        self._watcher.fileChanged.connect(lambda _: self._timer.start())
        self._watcher.directoryChanged.connect(lambda _: self._timer.start())
        document.path_changed.connect(self.know)
        document.opened.connect(self.know)

    def know(self) -> None:
        """Take the file as it is now for known: it was just read or written."""
        old = [*self._watcher.files(), *self._watcher.directories()]
        if old:
            self._watcher.removePaths(old)
        self._timer.stop()
        path = self.document.path
        self._known = self._ours = _digest(path) if path else b""
        if path is not None and path.exists():
            self._watcher.addPaths([str(path), str(path.parent)])

    def close(self) -> None:
        """End watching."""
        self._timer.stop()
        old = [*self._watcher.files(), *self._watcher.directories()]
        if old:
            self._watcher.removePaths(old)

    def foreign(self) -> bool:
        """Return whether the file holds what this program neither read nor wrote."""
        path = self.document.path
        now = _digest(path) if path else b""
        return bool(now) and now != self._ours

    def _look(self) -> None:
        path = self.document.path
        if path is None:
            return
        now = _digest(path)
        if not now or now == self._known:
            return
        self._known = now
        if str(path) not in self._watcher.files():
            self._watcher.addPath(str(path))
        self.changed.emit(path)


def _digest(path: Path) -> bytes:
    try:
        return hashlib.sha256(path.read_bytes()).digest()
    except OSError:
        return b""
