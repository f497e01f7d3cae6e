"""Notice when another program changes the job's file."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QFileSystemWatcher, QObject, QTimer, Signal

from .document import Document
from .task import Task

CALM = 300
"""A file is looked at when it has been left alone this long, milliseconds."""


@dataclass(frozen=True)
class _Print:
    """What a file held at some moment.

    Attributes
    ----------
    stat : tuple of int
        Which file it was, its size and when it was last written; empty without a file.
    digest : bytes
        Of the content; empty while nobody has worked it out.
    """

    stat: tuple[int, ...] = ()
    digest: bytes = b""


class Watch(QObject):
    """Watches the file of a document.

    Replacing a file ends the watch on it, so that its folder is watched too, and what
    counts is whether the content differs from what was last read or written. To read
    a large file for that takes longer than a frame: another thread does it, and until
    it has, any newer file counts as different.

    Signals
    -------
    changed(Path)
        The file holds something else now.
    """

    changed = Signal(object)

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.document = document
        self._known = _Print()
        self._ours = _Print()
        self._task: Task | None = None
        self._watcher = QFileSystemWatcher(self)
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(CALM)
        self._timer.timeout.connect(self._look)
        self._watcher.fileChanged.connect(lambda _: self._timer.start())
        self._watcher.directoryChanged.connect(lambda _: self._timer.start())
        document.path_changed.connect(self.know)  # also whenever a job is opened

    def know(self) -> None:
        """Take the file as it is now for known: it was just read or written."""
        old = [*self._watcher.files(), *self._watcher.directories()]
        if old:
            self._watcher.removePaths(old)
        self._timer.stop()
        path = self.document.path
        self._known = self._ours = _Print(_stat(path))
        self._stop()
        if path is not None and self._ours.stat:
            self._task = Task(lambda stopped: _Print(_stat(path), _digest(path)), self)
            self._task.done.connect(self._learn)
            self._task.start()
        if path is not None and path.exists():
            self._watcher.addPaths([str(path), str(path.parent)])

    def _learn(self, found: _Print) -> None:
        """Take the content of the file for known, if it is still the same file."""
        path = self.document.path
        if found.stat == self._ours.stat == _stat(path):
            if self._known == self._ours:
                self._known = found
            self._ours = found

    def _stop(self) -> None:
        if self._task is not None:
            self._task.stop()
            self._task = None

    def close(self) -> None:
        """End watching."""
        self._timer.stop()
        self._stop()
        old = [*self._watcher.files(), *self._watcher.directories()]
        if old:
            self._watcher.removePaths(old)

    def foreign(self) -> bool:
        """Return whether the file holds what this program neither read nor wrote."""
        path = self.document.path
        if path is None or _stat(path) == self._ours.stat:
            return False
        now = _digest(path)
        return bool(now) and now != self._ours.digest

    def _look(self) -> None:
        path = self.document.path
        if path is None:
            return
        stat = _stat(path)
        if not stat or stat == self._known.stat:
            return
        now = _digest(path)
        if not now or now == self._known.digest:
            return
        self._known = _Print(stat, now)
        if str(path) not in self._watcher.files():
            self._watcher.addPath(str(path))
        self.changed.emit(path)


def _stat(path: Path | None) -> tuple[int, ...]:
    if path is None:
        return ()
    try:
        found = path.stat()
    except OSError:
        return ()
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns


def _digest(path: Path) -> bytes:
    try:
        return hashlib.sha256(path.read_bytes()).digest()
    except OSError:
        return b""
