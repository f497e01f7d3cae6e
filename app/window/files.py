"""Jobs and files: new, open, save, the unsaved question, and the recovery copy."""

from __future__ import annotations

import contextlib
import json
import os
import time
import uuid
from dataclasses import dataclass
from pathlib import Path

import platformdirs
from PySide6.QtCore import QLockFile, QObject, QSettings, QTimer, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from ...io.atomic import write_atomically
from ...io.job_file import SUFFIX, encode_job, read_job, write_job
from ...io.names import file_stem
from ...nesting.model.errors import DrystoneError
from ...nesting.model.job import Job
from .document import Document
from .watch import Watch

RECENT = 10
QUIET = 5_000
"""A recovery copy is written this long after the last edit, milliseconds."""


@dataclass(frozen=True)
class Lost:
    """Work that was not saved when the program ended.

    Attributes
    ----------
    copy : Path
        The recovery copy.
    name : str
        The job's name.
    path : Path or None
        The job's own file.
    at : float
        When the copy was written, seconds since 1970.
    """

    copy: Path
    name: str
    path: Path | None
    at: float


def recovery_folder() -> Path:
    """Return where recovery copies are kept."""
    return Path(platformdirs.user_state_path("drystone")) / "recovery"


class Recovery(QObject):
    """Keeps a copy of unsaved work, and finds what others have left behind.

    Parameters
    ----------
    document : Document
        Whose work is kept.
    folder : Path
        Where copies are.
    """

    def __init__(
        self, document: Document, folder: Path, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.document = document
        self.folder = folder
        self.copy = folder / f"{uuid.uuid4().hex}{SUFFIX}"
        self._lock: QLockFile | None = None
        self._timer = QTimer(self)
        self._timer.setSingleShot(True)
        self._timer.setInterval(QUIET)
        self._timer.timeout.connect(self.keep)
        document.changed.connect(self._changed)
        document.undo.cleanChanged.connect(self._clean)

    def _changed(self) -> None:
        if self.document.modified and not self._timer.isActive():
            self._timer.start()

    def _clean(self, clean: bool) -> None:
        if clean:
            self.forget()

    def keep(self) -> bool:
        """Write the copy now; return whether that was needed and done."""
        if not self.document.modified:
            return False
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            if self._lock is None:
                self._lock = QLockFile(str(self.copy.with_suffix(".lock")))
                self._lock.tryLock(0)
            path = self.document.path
            about = {
                "name": self.document.job.name,
                "path": str(path) if path else "",
                "at": time.time(),
            }
            write_atomically(self.copy, encode_job(self.document.job))
            write_atomically(self.copy.with_suffix(".json"), json.dumps(about).encode())
        except (OSError, DrystoneError):
            return False  # a full disk must not disturb; the next edit tries again
        return True

    def forget(self) -> None:
        """Take the copy away: the work is saved, or not wanted."""
        self._timer.stop()
        _remove(self.copy)
        if self._lock is not None:
            self._lock.unlock()
            self._lock = None

    def close(self) -> None:
        """Stop listening; the window closes."""
        self.document.undo.cleanChanged.disconnect(self._clean)

    def lost(self) -> list[Lost]:
        """Return the work that no running program keeps, the newest first."""
        found = []
        for copy in self.folder.glob(f"*{SUFFIX}"):
            if copy == self.copy:
                continue
            lock = QLockFile(str(copy.with_suffix(".lock")))
            if not lock.tryLock(0):
                continue
            lock.unlock()
            try:
                about = json.loads(copy.with_suffix(".json").read_bytes())
                path = Path(about["path"]) if about["path"] else None
                found.append(Lost(copy, str(about["name"]), path, float(about["at"])))
            except (OSError, ValueError, KeyError, TypeError):
                continue
        return sorted(found, key=lambda lost: -lost.at)


def _remove(copy: Path) -> None:
    for suffix in (SUFFIX, ".json"):
        with contextlib.suppress(OSError):
            copy.with_suffix(suffix).unlink()


class Files(QObject):
    """New, open, save and save as, with the question about unsaved work.

    Signals
    -------
    recent_changed()
        The list of recent jobs is different.
    """

    recent_changed = Signal()

    def __init__(
        self,
        document: Document,
        window: QWidget,
        settings: QSettings,
        recovery: Recovery,
    ) -> None:
        super().__init__(window)
        self.document = document
        self.window = window
        self.settings = settings
        self.recovery = recovery
        self.watch = Watch(document, self)
        self.filter = self.tr("Drystone jobs (*{suffix})").format(suffix=SUFFIX)

    # ------------------------------------------------------------ asking

    def may_go(self) -> bool:
        """Return whether the job may be put away, saving it if the user says so."""
        if not self.document.modified:
            return True
        answer = self.ask()
        if answer == "save":
            return self.save()
        if answer == "drop":
            self.recovery.forget()
            return True
        return False

    def question(self) -> QMessageBox:
        """Return the question about unsaved work."""
        box = QMessageBox(self.window)
        box.setWindowTitle(self.tr("Unsaved changes"))
        box.setIcon(QMessageBox.Icon.Question)
        box.setText(
            self.tr("Save changes to “{name}” first?").format(
                name=self.document.job.name
            )
        )
        box.setInformativeText(
            self.tr("If you don't save, what was done since the last save is lost.")
        )
        save = box.addButton(self.tr("Save"), QMessageBox.ButtonRole.AcceptRole)
        box.addButton(self.tr("Don't save"), QMessageBox.ButtonRole.DestructiveRole)
        cancel = box.addButton(self.tr("Cancel"), QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(save)
        box.setEscapeButton(cancel)
        return box

    def ask(self) -> str:
        """Ask what to do with unsaved work: "save", "drop" or "stay"."""
        box = self.question()
        box.exec()
        role = box.buttonRole(box.clickedButton())
        if role == QMessageBox.ButtonRole.AcceptRole:
            return "save"
        if role == QMessageBox.ButtonRole.DestructiveRole:
            return "drop"
        return "stay"

    # ------------------------------------------------------------ doing

    def new(self) -> bool:
        """Begin an empty job."""
        if not self.may_go():
            return False
        self.document.open(Job(self.tr("New job")))
        return True

    def choose_and_open(self) -> bool:
        """Ask for a job file and open it."""
        name, _ = QFileDialog.getOpenFileName(
            self.window, self.tr("Open a job"), self._folder(), self.filter
        )
        return bool(name) and self.open(Path(name))

    def open(self, path: Path) -> bool:
        """Open a job file; say why when it cannot be."""
        if not self.may_go():
            return False
        try:
            job = read_job(path)
        except (DrystoneError, OSError) as error:
            self.document.say("error", str(error))
            return False
        self.document.open(job, path)
        self.remember(path)
        return True

    def take(self, job: Job) -> None:
        """Open a job that no file holds yet, such as an order."""
        self.document.open(job)
        self.document.mark_unsaved()

    def save(self) -> bool:
        """Save to the job's file; ask for one if it has none."""
        if self.document.path is None:
            return self.save_as()
        return self._write(self.document.path)

    def save_as(self) -> bool:
        """Ask for a file and save to it."""
        folder = self._folder()
        proposed = os.path.join(folder, file_stem(self.document.job.name) + SUFFIX)
        name, _ = QFileDialog.getSaveFileName(
            self.window, self.tr("Save the job"), proposed, self.filter
        )
        if not name:
            return False
        path = Path(name)
        if path.suffix != SUFFIX:
            path = path.with_name(path.name + SUFFIX)
        return self._write(path)

    def _write(self, path: Path) -> bool:
        try:
            write_job(path, self.document.job)
        except (DrystoneError, OSError) as error:
            self.document.say("error", str(error))
            return False
        self.document.mark_saved(path)
        self.watch.know()
        self.recovery.forget()
        self.remember(path)
        self.document.say("info", self.tr("Saved {name}.").format(name=path.name))
        return True

    def reload(self, path: Path) -> bool:
        """Take the file as another program has left it; what was unsaved is gone."""
        try:
            job = read_job(path)
        except (DrystoneError, OSError) as error:
            self.document.say("error", str(error))
            return False
        self.recovery.forget()
        self.document.open(job, path)
        return True

    def recover(self, lost: Lost) -> bool:
        """Open work that was lost; it is unsaved until the user saves it."""
        if not self.may_go():
            return False
        try:
            job = read_job(lost.copy)
        except (DrystoneError, OSError) as error:
            self.document.say("error", str(error))
            return False
        self.document.open(job, lost.path)
        self.document.mark_unsaved()
        self.recovery.keep()
        _remove(lost.copy)
        return True

    def discard(self, lost: Lost) -> None:
        """Throw lost work away."""
        _remove(lost.copy)

    # ------------------------------------------------------------ recent

    def _folder(self) -> str:
        path = self.document.path
        return str(path.parent if path else Path.home())

    def recent(self) -> list[Path]:
        """Return the jobs used last, the latest first."""
        value = self.settings.value("recent", [])
        names = [value] if isinstance(value, str) else list(value or [])  # type: ignore[call-overload]
        return [Path(str(name)) for name in names][:RECENT]

    def remember(self, path: Path) -> None:
        """Put a job first in the list."""
        path = path.resolve()
        rest = [other for other in self.recent() if other != path]
        self._set_recent([path, *rest])

    def clear_recent(self) -> None:
        """Forget all."""
        self._set_recent([])

    def _set_recent(self, paths: list[Path]) -> None:
        self.settings.setValue("recent", [str(path) for path in paths[:RECENT]])
        self.recent_changed.emit()
