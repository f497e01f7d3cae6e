"""Writing that happens whole or not at all: one file, or a folder of files."""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path

from ..nesting.model.errors import OutputError


def system_words(error: OSError) -> str:
    """Return what the system says is wrong, in lower case, without its number."""
    return (error.strerror or str(error)).lower()


def write_atomically(path: Path, data: bytes) -> None:
    """Write a file so that a crash leaves the old one or the new one, never a part.

    The data goes to a temporary file beside `path`, is forced to the disk and is
    then renamed. A link keeps pointing where it did; an existing file keeps its
    permissions.

    Raises
    ------
    OutputError
        If the file cannot be written; nothing is left behind then.
    """
    target = Path(os.path.realpath(path))
    try:
        if target.is_dir():
            raise IsADirectoryError(0, "it is a directory")
        temporary = target.with_name(f".{target.name[:40]}.{secrets.token_hex(4)}.part")
        try:
            with open(temporary, "xb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            with contextlib.suppress(FileNotFoundError):
                shutil.copymode(target, temporary)
            os.replace(temporary, target)
        finally:
            temporary.unlink(missing_ok=True)
        _sync_folder(target.parent)
    except OSError as error:
        raise OutputError(
            str(path),
            f"cannot be written: {system_words(error)}",
            "choose another place or mend the permissions",
        ) from error


def refuse_unwritable(path: Path, option: str = "") -> None:
    """Raise now where `write_atomically` could not write after all the work.

    Parameters
    ----------
    path : Path
    option : str
        What named the file, to be said instead of the file.

    Raises
    ------
    OutputError
        If the file is a folder, or its folder is missing or may not be written to.
    """
    where, it = (option, str(path)) if option else (str(path), "it")
    folder = path.parent
    if path.is_dir():
        raise OutputError(where, f"{it} is a folder", "give a file's name")
    if not folder.is_dir():
        raise OutputError(
            where, f"there is no folder {folder}", "make it, or choose another"
        )
    if not os.access(folder, os.W_OK | os.X_OK):
        raise OutputError(
            where,
            f"{folder} cannot be written to: permission denied",
            "choose another place or mend the permissions",
        )


def _sync_folder(folder: Path) -> None:
    """Force a folder's entries to the disk, where the system can do that."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextlib.contextmanager
def folder_atomically(
    target: Path, *, force: bool = False, replaces: Iterable[str] = ()
) -> Iterator[Path]:
    """Hand out an empty folder; move its files into `target` when all went well.

    Parameters
    ----------
    target : Path
        Where the files end up. It is made, or may exist with other files in it.
    force : bool
        Whether files of the same name may be replaced.
    replaces : iterable of str
        Names of files in `target` that the new ones make out of date; with
        `force` they go, so that nobody cuts from an old one.

    Yields
    ------
    Path
        The temporary folder.

    Raises
    ------
    OutputError
        If something cannot be written, or a file would be replaced without leave.
        `target` is then as it was before, whatever was raised inside.
    """
    target = Path(os.path.realpath(target))
    if target.exists() and not target.is_dir():
        raise OutputError(str(target), "is a file, not a folder", "name a folder")
    made = _make_parents(target.parent)
    try:
        try:
            temporary = _temporary_folder(target)
        except OSError as error:
            raise _folder_error(target, error) from error
        try:
            yield temporary
            try:
                _move_in(temporary, target, force, set(replaces))
            except OSError as error:
                raise _folder_error(target, error) from error
        finally:
            shutil.rmtree(temporary, ignore_errors=True)
    except BaseException:
        for folder in made:
            with contextlib.suppress(OSError):  # only while they are empty
                folder.rmdir()
        raise


def _temporary_folder(target: Path) -> Path:
    """Return a new hidden folder that files can be renamed from into `target`.

    It is in `target` where that exists: a memory stick is another file system than
    the folder it appears in, and that folder may not be writable.
    """
    place = target if target.is_dir() else target.parent
    return Path(tempfile.mkdtemp(prefix=".drystone-", dir=place))


def _folder_error(target: Path, error: OSError) -> OutputError:
    return OutputError(
        str(target),
        f"cannot be written: {system_words(error)}",
        "choose another place or mend the permissions",
    )


def _make_parents(folder: Path) -> list[Path]:
    """Make a folder and return those that were missing, the innermost first."""
    missing = [p for p in (folder, *folder.parents) if not p.exists()]
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise _folder_error(folder, error) from error
    return missing


def _move_in(source: Path, target: Path, force: bool, replaces: set[str]) -> None:
    """Move every file from `source` into `target`, or leave `target` unchanged."""
    names = sorted(entry.name for entry in source.iterdir())
    in_the_way = [name for name in names if (target / name).exists()]
    folders = [name for name in in_the_way if (target / name).is_dir()]
    if folders:
        raise OutputError(
            str(target), f"{folders[0]} is a folder in it", "choose another folder"
        )
    if in_the_way and not force:
        raise OutputError(
            str(target),
            f"{in_the_way[0]} is already there"
            + (f", and {len(in_the_way) - 1} more" if len(in_the_way) > 1 else ""),
            "choose an empty folder, or allow replacing with --force",
        )
    old = {name for name in replaces if (target / name).is_file()} if force else set()
    aside = _temporary_folder(target)
    made = not target.exists()
    set_aside: list[str] = []
    moved: list[str] = []
    try:
        target.mkdir(exist_ok=True)
        for name in sorted({*in_the_way, *old}):
            os.rename(target / name, aside / name)
            set_aside.append(name)
        for name in names:
            os.rename(source / name, target / name)
            moved.append(name)
    except BaseException:
        for name in moved:
            os.rename(target / name, source / name)
        for name in set_aside:
            os.rename(aside / name, target / name)
        if made and target.is_dir():
            target.rmdir()
        aside.rmdir()  # empty again; were it not, old files would be in it
        raise
    shutil.rmtree(aside, ignore_errors=True)
    _sync_folder(target)
