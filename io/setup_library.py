"""The library of set-ups: one file for each, beside the one in use.

``shop.toml`` in the user's configuration folder is the set-up in use. The folder
``set-ups`` beside it holds those that are kept under a name, and one line in
``in-use.txt`` says which of them the one in use began as.
"""

from __future__ import annotations

import re
from pathlib import Path

from ..nesting.model.errors import InputError, OutputError
from ..nesting.model.machine import ShopSetup
from .atomic import write_atomically
from .setup_file import read_setup, setup_path, write_setup

_NAME = re.compile(r"[\w][\w ().,+-]{0,59}")
_IN_USE = "in-use.txt"


class SetupLibrary:
    """The set-ups in one configuration folder.

    Parameters
    ----------
    folder : Path, optional
        The configuration folder; this user's when left out. It need not exist.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self.in_use = folder / "shop.toml" if folder else setup_path()
        self.folder = self.in_use.parent / "set-ups"

    def names(self) -> tuple[str, ...]:
        """Return the names of the set-ups that are kept, in the alphabet's order."""
        found = (path.stem for path in self.folder.glob("*.toml"))
        return tuple(sorted(found, key=str.casefold))

    def began_as(self) -> str:
        """Return the name that the set-up in use began as; empty for the defaults."""
        try:
            name = (self.folder / _IN_USE).read_text(encoding="utf-8").strip()
        except (OSError, UnicodeDecodeError):
            return ""
        return name if name in self.names() else ""

    def read(self, name: str) -> ShopSetup:
        """Return a kept set-up; the program's defaults for an empty name.

        Raises
        ------
        InputError
            If it is not there or cannot be read.
        """
        if not name:
            return ShopSetup()
        path = self._path(name)
        if not path.exists():
            raise InputError(str(path), "is gone", "choose another set-up")
        return read_setup(path)

    def keep(self, name: str, setup: ShopSetup) -> None:
        """Keep a set-up under a name, in place of one that has it.

        Raises
        ------
        InputError
            If the name cannot be that of a file.
        OutputError
            If it cannot be written.
        """
        write_setup(setup, self._path(name))

    def remove(self, name: str) -> None:
        """Remove a kept set-up.

        Raises
        ------
        OutputError
            If it cannot be removed.
        """
        try:
            self._path(name).unlink(missing_ok=True)
        except OSError as error:
            raise OutputError(
                str(self._path(name)),
                f"cannot be removed: {error}",
                "mend the permissions of its folder",
            ) from error

    def use(self, name: str, setup: ShopSetup) -> None:
        """Write the set-up in use, and which kept one it began as.

        Raises
        ------
        OutputError
            If it cannot be written.
        """
        write_setup(setup, self.in_use)
        if name or self.folder.exists():
            self.folder.mkdir(parents=True, exist_ok=True)
            write_atomically(self.folder / _IN_USE, f"{name}\n".encode())

    def _path(self, name: str) -> Path:
        if not _NAME.fullmatch(name):
            raise InputError(
                "set-up",
                f"{name!r} cannot be the name of a file",
                "use letters, digits, spaces and dashes",
            )
        return self.folder / f"{name}.toml"
