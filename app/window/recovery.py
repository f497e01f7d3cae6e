"""The recovery copy: unsaved work outlives the program, however it ends.

The copy lies beside the job's file, or in the user's state folder while the job has
none. A note in the state folder tells where it is, and a lock beside the note whether
the program that keeps it still runs.
"""

from __future__ import annotations

import contextlib
import json
import os
import threading
import time
import uuid
from dataclasses import dataclass
from pathlib import Path

import platformdirs
from PySide6.QtCore import QLockFile, QObject, QTimer

from ...io.atomic import write_atomically
from ...io.job_file import SUFFIX, encode_job
from ...nesting.model.errors import DrystoneError
from ...nesting.model.job import Job
from .calm import calm
from .document import Document

QUIET = 5_000
"""A recovery copy is written this long after an edit, milliseconds."""

PAUSE = 0.001
"""So long the window goes first before each part is written, seconds."""

BESIDE = ".unsaved"
"""Ends the name of a copy that lies beside its job."""


@dataclass(frozen=True)
class Lost:
    """Work that was not saved when the program ended.

    Attributes
    ----------
    note : Path
        The note about it.
    copy : Path
        The recovery copy.
    name : str
        The job's name.
    path : Path or None
        The job's own file.
    at : float
        When the copy was written, seconds since 1970.
    """

    note: Path
    copy: Path
    name: str
    path: Path | None
    at: float


def recovery_folder() -> Path:
    """Return where notes about recovery copies are kept."""
    return Path(platformdirs.user_state_path("drystone")) / "recovery"


class Recovery(QObject):
    """Keeps a copy of unsaved work, and finds what others have left behind.

    Parameters
    ----------
    document : Document
        Whose work is kept.
    folder : Path
        Where the notes are.
    """

    def __init__(
        self, document: Document, folder: Path, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.folder = folder
        self.note = folder / f"{uuid.uuid4().hex}.json"
        self._lock: QLockFile | None = None
        self._copies: set[Path] = set()
        self._kept: Job | None = None
        self._wanted = 0
        self._writing = threading.Lock()
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(QUIET)
        self._timer.timeout.connect(self.keep_soon)
        document.changed.connect(self._changed)
        document.undo.cleanChanged.connect(self._clean)

    def _changed(self) -> None:
        if self.document.modified and not self._timer.isActive():
            self._timer.start()

    def _clean(self, clean: bool) -> None:
        if clean:
            self.forget()

    def _begin(self) -> tuple[Job, Path | None, int] | None:
        """Return what is to be kept; None when nothing is."""
        job = self.document.job
        if not self.document.modified or job is self._kept:
            return None
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError:
            return None
        if self._lock is None:
            self._lock = QLockFile(str(self.note.with_suffix(".lock")))
            self._lock.tryLock(0)
        return job, self.document.path, self._wanted

    def keep(self) -> bool:
        """Write the copy now; return whether there is one afterwards."""
        begun = self._begin()
        if begun is not None:
            self._write(*begun)
        return self.document.modified and self._kept is self.document.job

    def keep_soon(self) -> None:
        """Write the copy on another thread: a large job takes longer than a frame."""
        begun = self._begin()
        if begun is not None:
            args = (*begun, PAUSE)
            threading.Thread(target=self._write, args=args, daemon=True).start()

    def _write(
        self, job: Job, path: Path | None, wanted: int, pause: float = 0.0
    ) -> None:
        # A full disk must not disturb; the next edit tries again.
        with self._writing, contextlib.suppress(OSError, DrystoneError):
            if wanted != self._wanted:
                return
            with calm():
                data = encode_job(job, lambda: time.sleep(pause))
            for copy in self._places(path):
                about = {
                    "name": job.name,
                    "path": str(path) if path else "",
                    "copy": str(copy),
                    "at": time.time(),
                }
                # The note first: a copy that no note tells of would never be found.
                write_atomically(self.note, json.dumps(about).encode())
                self._copies.add(copy)
                try:
                    write_atomically(copy, data)
                except (OSError, DrystoneError):
                    continue  # such as a folder that only others may write to
                self._kept = job
                break
            if wanted != self._wanted:  # saved or dropped meanwhile
                self._remove_copies()

    def _places(self, path: Path | None) -> list[Path]:
        """Return where a copy may lie, the best place first."""
        places = [self.note.with_suffix(SUFFIX)]
        if path is not None:
            name = f".{path.stem[:60]}-{self.note.stem[:8]}{BESIDE}"
            places.insert(0, path.parent / name)
        return places

    def forget(self) -> None:
        """Take the copy away: the work is saved, or not wanted."""
        self._timer.stop()
        self._wanted += 1
        self._kept = None
        if self._writing.acquire(blocking=False):  # else the writer takes it away
            try:
                self._remove_copies()
            finally:
                self._writing.release()
        if self._lock is not None:
            self._lock.unlock()
            self._lock = None

    def _remove_copies(self) -> None:
        for copy in self._copies:
            _remove(copy)
        self._copies = set()
        _remove(self.note)

    def close(self) -> None:
        """Stop listening; the window closes."""
        self._timer.stop()
        self.document.undo.cleanChanged.disconnect(self._clean)

    def lost(self) -> list[Lost]:
        """Return the work that no running program keeps, the newest first."""
        found = []
        for note in self.folder.glob("*.json"):
            if note == self.note:
                continue
            lock = QLockFile(str(note.with_suffix(".lock")))
            if not lock.tryLock(0):
                continue
            lock.unlock()
            try:
                about = json.loads(note.read_bytes())
                path = Path(about["path"]) if about["path"] else None
                copy = Path(about["copy"])
                if copy.is_file():
                    found.append(
                        Lost(note, copy, str(about["name"]), path, float(about["at"]))
                    )
            except (OSError, ValueError, KeyError, TypeError):
                continue
        return sorted(found, key=lambda lost: -lost.at)

    def discard(self, lost: Lost) -> None:
        """Throw lost work away."""
        _remove(lost.copy)
        _remove(lost.note)
        # What a write that was cut off has left.
        for piece in lost.copy.parent.glob(f".{lost.copy.name[:40]}.*.part"):
            _remove(piece)


def _remove(path: Path) -> None:
    with contextlib.suppress(OSError):
        os.unlink(path)
