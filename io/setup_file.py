"""The shop's set-up file: machines, cutters, boards, saw, practice, prices.

It is TOML in the user's configuration folder, written with all defaults spelled
out so that they can be seen and changed by hand.
"""

from __future__ import annotations

import dataclasses
import difflib
import json
import tomllib
from pathlib import Path
from typing import Any

import msgspec
import platformdirs

from ..nesting.model.errors import InputError
from ..nesting.model.machine import (
    Board,
    Cutter,
    Machine,
    Practice,
    Prices,
    Saw,
    ShopSetup,
)
from .atomic import write_atomically

FORMAT = 1
_LISTS: dict[str, Any] = {"machines": Machine, "cutters": Cutter, "boards": Board}
_TABLES: dict[str, Any] = {"saw": Saw, "practice": Practice, "prices": Prices}
_MOST = 1_000_000

_HEAD = """\
# The shop's set-up. Lengths are mm, feeds mm/min, densities kg/m3, times as their
# names say. All numbers are common practice to begin with: change them to yours.
# The first machine is used. A cutter's cut_width of 0 means its diameter.
"""


def setup_path() -> Path:
    """Return where the set-up of this user lies."""
    return (
        Path(platformdirs.user_config_path("drystone", appauthor=False)) / "shop.toml"
    )


def read_setup(path: Path | None = None) -> ShopSetup:
    """Return the set-up in a file, or the defaults when there is no file.

    What the file does not say keeps its default; a list it gives replaces the
    default list.

    Raises
    ------
    InputError
        If the file cannot be read or says something impossible: where, and what
        to write instead.
    """
    path = path or setup_path()
    try:
        if path.stat().st_size > _MOST:
            raise InputError(str(path), "is too large for a set-up", "look at it")
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return ShopSetup()
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(
            str(path), f"cannot be read: {error}", "mend or remove it"
        ) from error
    return parse_setup(text, str(path))


def parse_setup(text: str, where: str = "") -> ShopSetup:
    """Return the set-up in the text of a set-up file; see `read_setup`."""
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(where, f"is not TOML: {error}", "mend that line") from error
    version = table.pop("format", FORMAT)
    if version != FORMAT:
        raise InputError(
            where,
            f"has format {version!r}, newer than this program",
            "take a newer program",
        )
    _refuse_unknown(table, {**_LISTS, **_TABLES}, where)
    for key, kind in _LISTS.items():
        entries = table.get(key, [])
        if not isinstance(entries, list):
            raise InputError(where, f"{key} is no list", f"write [[{key}]] tables")
        for i, entry in enumerate(entries, 1):
            if isinstance(entry, dict):
                _refuse_unknown(entry, _names(kind), f"{where}: {key} {i}")
    for key, kind in _TABLES.items():
        entry = table.get(key, {})
        if isinstance(entry, dict):
            _refuse_unknown(entry, _names(kind), f"{where}: [{key}]")
    try:
        return msgspec.convert(table, ShopSetup)
    except msgspec.ValidationError as error:
        text = str(error).replace("`", "").replace("$.", "")
        raise InputError(where, text[:1].lower() + text[1:], "mend it") from error


def _names(kind: Any) -> dict[str, object]:
    return {entry.name: None for entry in dataclasses.fields(kind)}


def _refuse_unknown(table: dict[str, Any], known: dict[str, Any], where: str) -> None:
    for key in table:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=1)
            cure = f"did you mean {near[0]!r}?" if near else f"use {', '.join(known)}"
            raise InputError(where, f"unknown key {key!r}", cure)


def setup_text(setup: ShopSetup) -> str:
    """Return a set-up as the text of a set-up file, every number spelled out."""
    lines = [_HEAD, f"format = {FORMAT}"]
    for key in _LISTS:
        for entry in getattr(setup, key):
            lines += ["", f"[[{key}]]", *_entries(entry)]
    for key in _TABLES:
        lines += ["", f"[{key}]", *_entries(getattr(setup, key))]
    return "\n".join(lines) + "\n"


def _entries(record: Any) -> list[str]:
    return [
        f"{entry.name} = {_value(getattr(record, entry.name))}"
        for entry in dataclasses.fields(record)
    ]


def _value(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, tuple):
        return f"[{', '.join(_value(item) for item in value)}]"
    if isinstance(value, str):  # JSON's escapes are all TOML's too
        return json.dumps(str(value), ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, float) and value == int(value) and abs(value) < 1e15:
        return str(int(value))
    return repr(value)


def write_setup(setup: ShopSetup, path: Path | None = None) -> Path:
    """Write a set-up whole or not at all; return where.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    path = path or setup_path()
    if not path.parent.exists():
        path.parent.mkdir(parents=True, exist_ok=True)
    write_atomically(path, setup_text(setup).encode())
    return path
