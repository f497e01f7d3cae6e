"""Jobs and files: new, open, save, and the questions about unsaved work."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject, QSettings, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from ...io.job_file import SUFFIX, write_job
from ...io.names import file_stem
from ...nesting.model.errors import DrystoneError
from ...nesting.model.job import Job
from .document import Document
from .new_job import empty_job
from .reader import Opened, Reader
from .recovery import Lost, Recovery
from .task import in_background
from .watch import Watch

RECENT = 10
"""So many jobs are remembered."""


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
        reader: Reader,
    ) -> None:
        super().__init__(window)
        self.document = document
        self.window = window
        self.settings = settings
        self.recovery = recovery
        self.reader = reader
        self._saved_at = time.time()
        document.opened.connect(self._begin_anew)
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
        box.setInformativeText(self._what_is_lost())
        save = box.addButton(self.tr("Save"), QMessageBox.ButtonRole.AcceptRole)
        box.addButton(self.tr("Don't save"), QMessageBox.ButtonRole.DestructiveRole)
        cancel = box.addButton(self.tr("Cancel"), QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(save)
        box.setEscapeButton(cancel)
        return box

    def _begin_anew(self) -> None:
        self._saved_at = time.time()

    def _what_is_lost(self) -> str:
        minutes = round((time.time() - self._saved_at) / 60.0)
        if minutes < 1:
            return self.tr("If you don't save, what was done just now is lost.")
        if minutes == 1:
            return self.tr("If you don't save, the last minute's work is lost.")
        return self.tr("If you don't save, the last {n} minutes are lost.").format(
            n=minutes
        )

    def foreign_question(self, path: Path) -> QMessageBox:
        """Return the question about a file that another program has changed."""
        box = QMessageBox(self.window)
        box.setWindowTitle(self.tr("The file has changed"))
        box.setIcon(QMessageBox.Icon.Warning)
        box.setText(
            self.tr(
                "Another program has changed {name} since it was opened or saved here."
            ).format(name=path.name)
        )
        box.setInformativeText(
            self.tr("Replacing it loses what the other program wrote.")
        )
        accept = QMessageBox.ButtonRole.AcceptRole
        copy = box.addButton(self.tr("Save a copy…"), accept)
        destructive = QMessageBox.ButtonRole.DestructiveRole
        box.addButton(self.tr("Replace it"), destructive)
        cancel = box.addButton(self.tr("Cancel"), QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(copy)
        box.setEscapeButton(cancel)
        return box

    def ask_foreign(self, path: Path) -> str:
        """Ask what to do with a file that has changed: "copy", "replace" or "stay"."""
        box = self.foreign_question(path)
        box.exec()
        role = box.buttonRole(box.clickedButton())
        box.deleteLater()
        if role == QMessageBox.ButtonRole.AcceptRole:
            return "copy"
        if role == QMessageBox.ButtonRole.DestructiveRole:
            return "replace"
        return "stay"

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
        self.document.open(empty_job(self.settings, self.tr("New job")))
        return True

    def open(self, path: Path) -> bool:
        """Begin to open a job file; whether it can be read is said later.

        Returns
        -------
        bool
            False when the user would rather stay with the job there is.
        """
        if not self.may_go():
            return False

        before = self.document.job

        def done(opened: Opened) -> None:
            # Whoever went on working while a large job was read is asked again.
            if self.document.job is before or self.may_go():
                self._put(opened, path)
                self.remember(path)

        self.reader.read_job(path, done)
        return True

    def _put(self, opened: Opened, path: Path | None) -> None:
        self.document.open(opened.job, path, opened.conflicts)

    def take(self, job: Job) -> None:
        """Open a job that no file holds yet, such as an order."""
        self.document.open(job)
        self.document.mark_unsaved()

    def save(self) -> bool:
        """Save to the job's file; ask for one if it has none."""
        path = self.document.path
        if path is None:
            return self.save_as()
        if self.watch.foreign():
            answer = self.ask_foreign(path)
            if answer == "copy":
                return self.save_as()
            if answer == "stay":
                return False
        return self._write(path)

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
        job = self.document.job
        try:
            in_background(lambda: write_job(path, job))
        except (DrystoneError, OSError) as error:
            self.document.say("error", str(error))
            return False
        self.document.mark_saved(path)
        self._saved_at = time.time()
        self.watch.know()
        self.recovery.forget()
        self.remember(path)
        self.document.say("info", self.tr("Saved {name}.").format(name=path.name))
        return True

    def reload(self, path: Path, then: Callable[[], object] = lambda: None) -> None:
        """Take the file as another program has left it; what was unsaved is gone."""

        def done(opened: Opened) -> None:
            self.recovery.forget()
            self._put(opened, path)
            then()

        self.reader.read_job(path, done)

    def recover(self, lost: Lost) -> bool:
        """Open work that was lost; it is unsaved until the user saves it."""
        if not self.may_go():
            return False

        def done(opened: Opened) -> None:
            self._put(opened, lost.path)
            self.document.mark_unsaved()
            if self.recovery.keep():
                self.recovery.discard(lost)

        self.reader.read_job(lost.copy, done)
        return True

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
