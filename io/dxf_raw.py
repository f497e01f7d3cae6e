"""What a DXF file literally says where its reader puts something else in its place.

ezdxf reads a block scale of 0 as 1, which would draw at full size what the file
scales to nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ezdxf.lldxf.tagger import binary_tags_loader

_BINARY = b"AutoCAD Binary DXF"
"""How the published reference has a binary file begin."""

_INSERT = re.compile(rb"^[ \t]*0[ \t]*\r?\n[ \t]*INSERT[ \t]*\r?\n", re.MULTILINE)
_NEXT = re.compile(rb"^[ \t]*0[ \t]*\r?\n[ \t]*[A-Z]", re.MULTILINE)

_WANTED = {2: "name", 5: "handle", 10: "x", 20: "y", 41: "along x", 42: "along y"}
"""Group codes of an insert, from the published reference."""

Insert = dict[str, str]


def zero_scaled(data: bytes) -> frozenset[str]:
    """Return keys of the inserts that scale a block to nothing along x or y.

    Parameters
    ----------
    data : bytes
        A DXF file, as text or binary.

    Returns
    -------
    frozenset of str
        For each the handle, or where there is none `place_key`.
    """
    if b"INSERT" not in data:
        return frozenset()
    inserts = _from_binary(data) if data.startswith(_BINARY) else _from_text(data)
    keys = set()
    for insert in inserts:
        if any(_is_zero(insert.get(way, "1")) for way in ("along x", "along y")):
            x, y = (_number(insert.get(axis, "0")) for axis in ("x", "y"))
            handle = insert.get("handle", "").upper().lstrip("0")
            keys.add(handle or place_key(insert.get("name", ""), x, y))
    return frozenset(keys)


def place_key(name: str, x: float, y: float) -> str:
    """Return a key for an insert without a handle: its block and its place."""
    return f"{name.casefold()} at {x:.9g}, {y:.9g}"


def _from_text(data: bytes) -> Iterator[Insert]:
    for found in _INSERT.finditer(data):
        after = _NEXT.search(data, found.end())
        body = data[found.end() : after.start() if after else len(data)]
        lines = body.decode("utf-8", "replace").splitlines()
        insert: Insert = {}
        for code, value in zip(lines[::2], lines[1::2], strict=False):
            word = _WANTED.get(int(code) if code.strip().isdigit() else -1)
            if word:
                insert.setdefault(word, value.strip())
        yield insert


def _from_binary(data: bytes) -> Iterator[Insert]:
    insert: Insert | None = None
    for tag in binary_tags_loader(data):
        if tag.code == 0:
            if insert is not None:
                yield insert
            insert = {} if tag.value == "INSERT" else None
        elif insert is not None and (word := _WANTED.get(tag.code)):
            insert.setdefault(word, str(tag.value))
    if insert is not None:
        yield insert


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return 0.0


def _is_zero(text: str) -> bool:
    try:
        return float(text) == 0.0
    except ValueError:
        return False
