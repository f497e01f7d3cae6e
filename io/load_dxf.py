"""Opening a DXF file: clean, flawed or broken."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any

from ezdxf import recover
from ezdxf.filemanagement import readfile

from ..nesting.model.errors import InputError
from .limits import Budget
from .notes import Notes, tame

logging.getLogger("ezdxf").addHandler(logging.NullHandler())


def load_dxf(path: Path, notes: Notes, budget: Budget) -> Any:
    """Return the ezdxf document in a file.

    A file that breaks the rules is read once more by a reader that takes what makes
    sense; what it had to mend becomes a finding.

    Raises
    ------
    InputError
        If nothing in it can be read.
    """
    _look_at_the_end(path, notes)
    try:
        return readfile(path)
    except (OSError, MemoryError):
        raise
    except Exception:  # whatever a broken file provokes: the second reader decides
        budget.check()
    try:
        document, auditor = recover.readfile(path)
    except (OSError, MemoryError):
        raise
    except Exception as error:
        raise InputError(
            str(path), f"damaged: {_reason(path, error)}", "save the drawing anew"
        ) from error
    flaws = [*auditor.errors, *auditor.fixes]
    first = tame(flaws[0].message, 80) if flaws else "its structure is broken"
    more = f" and {len(flaws) - 1} more" if len(flaws) > 1 else ""
    notes.add("dxf-mended", detail=f"{first}{more}")
    return document


def _look_at_the_end(path: Path, notes: Notes) -> None:
    with open(path, "rb") as stream:
        head = stream.read(22)
        stream.seek(0, 2)
        stream.seek(max(stream.tell() - 512, 0))
        tail = stream.read()
    if head.startswith(b"AutoCAD Binary DXF"):
        whole = b"EOF\x00" in tail
    else:
        whole = tail.split()[-1:] == [b"EOF"] or b"\nEOF" in tail
    if not whole:
        notes.add("dxf-cut-short")


def _reason(path: Path, error: Exception) -> str:
    with open(path, "rb") as stream:
        for number, line in enumerate(stream, start=1):
            if line.startswith((b"<<<<<<<", b">>>>>>>")):
                return f"line {number} is the mark of an unfinished merge"
            if number > 1_000_000:
                break
    return tame(str(error), 100) or type(error).__name__
