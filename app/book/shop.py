"""The shop's set-up as the window holds it: in use, as kept, and written to disk."""

from __future__ import annotations

import threading
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from ...io.setup_file import read_setup
from ...io.setup_library import SetupLibrary
from ...nesting.model.errors import DrystoneError, InputError
from ...nesting.model.machine import ShopSetup


class Shop(QObject):
    """The set-up in use, and the shop's defaults it is compared with.

    Changes are written by another thread, the newest last: a slow disk holds nobody
    up. A set-up file that cannot be read is left alone until the user sets it aside.

    Parameters
    ----------
    folder : Path, optional
        The configuration folder; this user's when left out.

    Signals
    -------
    changed()
        The set-up in use or the shop's defaults are different.
    failed(str)
        It could not be written.
    """

    changed = Signal()
    failed = Signal(str)

    def __init__(
        self, folder: Path | None = None, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.library = SetupLibrary(folder)
        self.trouble = ""
        self.name = ""
        self.setup = ShopSetup()
        self.default = ShopSetup()
        self._lock = threading.Lock()
        self._newest = 0
        self._threads: list[threading.Thread] = []
        self.read_again()

    def read_again(self) -> None:
        """Take what the files say."""
        self.trouble = ""
        try:
            self.name = self.library.began_as()
            self.default = self.library.read(self.name)
            self.setup = read_setup(self.library.in_use)
        except InputError as error:
            self.trouble = str(error)
        self.changed.emit()

    @property
    def differs(self) -> bool:
        """Whether something in use is not the shop's default."""
        return self.setup != self.default

    def names(self) -> tuple[str, ...]:
        """Return the names of the set-ups to choose from; the first is empty."""
        return ("", *self.library.names())

    def put(self, setup: ShopSetup) -> None:
        """Use another set-up from now on."""
        if setup == self.setup or self.trouble:
            return
        self.setup = setup
        self._write()
        self.changed.emit()

    def choose(self, name: str) -> None:
        """Begin again with a kept set-up, or with the program's defaults."""
        try:
            self.default = self.library.read(name)
        except InputError as error:
            self.failed.emit(str(error))
            return
        self.name, self.setup = name, self.default
        self._write()
        self.changed.emit()

    def keep(self, name: str) -> bool:
        """Keep what is in use as the shop's default, under a name."""
        try:
            self.library.keep(name, self.setup)
        except DrystoneError as error:
            self.failed.emit(str(error))
            return False
        self.name, self.default = name, self.setup
        self._write()
        self.changed.emit()
        return True

    def remove(self) -> None:
        """Remove the kept set-up that is in use; its values stay in use."""
        if not self.name:
            return
        try:
            self.library.remove(self.name)
        except DrystoneError as error:
            self.failed.emit(str(error))
            return
        self.name, self.default = "", ShopSetup()
        self._write()
        self.changed.emit()

    def set_aside(self) -> None:
        """Move a set-up file that cannot be read out of the way."""
        path = self.library.in_use
        try:
            if path.exists():
                path.replace(path.with_suffix(".toml.unreadable"))
        except OSError as error:
            self.failed.emit(str(error))
            return
        self.setup = self.default
        self.read_again()

    def _write(self) -> None:
        self._newest += 1
        turn, name, setup = self._newest, self.name, self.setup

        def work() -> None:
            with self._lock:
                if turn != self._newest:
                    return  # a newer one follows
                try:
                    self.library.use(name, setup)
                except DrystoneError as error:
                    self.failed.emit(str(error))

        thread = threading.Thread(target=work, daemon=False)
        self._threads = [t for t in self._threads if t.is_alive()]
        self._threads.append(thread)
        thread.start()

    def close(self) -> None:
        """Wait until everything is written."""
        for thread in self._threads:
            thread.join(5.0)
