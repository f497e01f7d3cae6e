"""Reading a whole file, with one clear sentence when that fails."""

from __future__ import annotations

from pathlib import Path

from ..nesting.model.errors import InputError
from .atomic import system_words


def read_bytes(path: Path, limit: int) -> bytes:
    """Return a file's content.

    Parameters
    ----------
    path : Path
        The file.
    limit : int
        The most bytes that are accepted.

    Raises
    ------
    InputError
        If there is no such file, it is a directory, it may not be read, or it is
        larger than `limit`.
    """
    try:
        if path.is_dir():
            raise InputError(str(path), "is a directory", "name a file in it")
        with open(path, "rb") as stream:
            data = stream.read(limit + 1)
    except InputError:  # which is a ValueError, too
        raise
    except FileNotFoundError as error:
        raise InputError(
            str(path), "there is no such file", "check the name"
        ) from error
    except PermissionError as error:
        raise InputError(
            str(path), "may not be read", "mend the permissions or copy it"
        ) from error
    except OSError as error:
        raise InputError(str(path), f"cannot be read: {system_words(error)}") from error
    except ValueError as error:  # a null byte in the name
        raise InputError(repr(str(path)), "is not a file name") from error
    if len(data) > limit:
        raise InputError(
            str(path),
            f"is larger than {limit / 1048576:g} MiB",
            "check that it is the right file",
        )
    return data


def read_text(path: Path, limit: int) -> str:
    """Return a text file's content; UTF-8, with or without a byte order mark.

    UTF-16 is understood where a byte order mark says so.

    Raises
    ------
    InputError
        As `read_bytes`, or if the text is not UTF-8, with the line.
    """
    data = read_bytes(path, limit)
    utf_16 = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    try:
        return data.decode("utf-16" if utf_16 else "utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise InputError(
            f"{path}:{line}",
            "the text is not UTF-8",
            "save it from your editor with UTF-8 encoding",
        ) from error
