"""Names that came from outside, made fit for files, marks and identifiers."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Container

_RESERVED = {"con", "prn", "aux", "nul"} | {
    f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10)
}
"""File names some systems keep for devices."""

_STEM = 40
"""Most letters of a stem; long names are unhandy on a machine's small screen."""

_ODD = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
"""Unicode categories that are neither seen nor allowed in XML and DXF text."""


def clean_text(text: str, limit: int = 200) -> str:
    """Return a text on one line, without control characters, cut to `limit`.

    Fit for a DXF text, an SVG title and a table cell; what cannot be shown becomes
    a blank.
    """
    shown = (" " if unicodedata.category(c) in _ODD else c for c in text[: 4 * limit])
    return " ".join("".join(shown).split())[:limit]


def file_stem(name: str, fallback: str = "job") -> str:
    """Return a name as it can stand in a file name on every common system.

    ASCII letters, digits and single hyphens, at most 40 of them, cut
    between words where there are some; the same name always gives the same stem.
    """
    plain = unicodedata.normalize("NFKD", name[:400]).encode("ascii", "ignore").decode()
    stem = re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-")
    if len(stem) > _STEM:
        stem = stem[: _STEM + 1].rpartition("-")[0] or stem[:_STEM]
    return f"{stem}-{fallback}" if stem.lower() in _RESERVED else stem or fallback


def unique_id(name: str, taken: Container[str], fallback: str) -> str:
    """Return an identifier made of `name` that is not `taken`, such as ``side-2``."""
    stem = file_stem(name, fallback).lower()
    key, number = stem, 1
    while key in taken:
        number += 1
        key = f"{stem}-{number}"
    return key
