"""Opening a DXF file: clean, flawed or broken."""

from __future__ import annotations

import logging
from io import BytesIO, TextIOWrapper
from pathlib import Path
from typing import Any

from ezdxf import recover
from ezdxf.filemanagement import dxf_stream_info, read, readfile

from ..nesting.model.errors import InputError
from .atomic import system_words
from .block_count import expect_blocks
from .collector import collector_paused
from .dxf_damage import in_plain_words
from .dxf_findings import LEFT_OUT, SILENT
from .limits import Budget
from .notes import Notes, tame
from .salvage_dxf import salvage

_BINARY = b"AutoCAD Binary DXF"
"""How the published reference has a binary file begin."""

logging.getLogger("ezdxf").addHandler(logging.NullHandler())


def load_dxf(path: Path, notes: Notes, budget: Budget) -> Any:
    """Return the ezdxf document in a file.

    A file that breaks the rules is read once more by a reader that takes what makes
    sense; what it had to mend becomes a finding.

    Raises
    ------
    InputError
        If nothing in it can be read, or its blocks would expand beyond a limit.
    """
    with collector_paused():
        document = _opened(path, notes, budget)
        expect_blocks(document, budget)
    return document


def _opened(path: Path, notes: Notes, budget: Budget) -> Any:
    _count(path, budget)
    whole = _is_whole(path)
    if not whole:
        notes.add("dxf-cut-short")
    try:
        return readfile(path) if whole else _strictly(_completed(path))
    except OSError as error:
        _raise_from_disk(path, error)
        budget.check()
    except MemoryError:
        raise
    except Exception:  # whatever a broken file provokes: the second reader decides
        budget.check()
    try:
        document, auditor = _recovered(path, whole)
    except MemoryError:
        raise
    except Exception as error:
        _raise_from_disk(path, error)
        return _salvaged(path, whole, notes, budget, error)
    flaws = [*auditor.errors, *auditor.fixes]
    first = in_plain_words(flaws[0].message) if flaws else "its structure is broken"
    more = f" and {len(flaws) - 1} more" if len(flaws) > 1 else ""
    if whole or auditor.errors:
        notes.add("dxf-mended", detail=f"{first}{more}")
    return document


def _count(path: Path, budget: Budget) -> None:
    """Refuse a text file that would take the library too long, before it begins.

    It cannot be stopped while it loads, and takes several times the file's size.
    """
    entities = points = vertices = pairs = 0
    with open(path, "rb") as stream:
        if stream.read(len(_BINARY)) == _BINARY:
            return
        stream.seek(0)
        for code in stream:
            value = next(stream, b"")
            pairs += 1
            code = code.strip()
            if code == b"0":
                if value.strip() == b"VERTEX":
                    vertices += 1
                else:
                    entities += 1
            elif code == b"10":
                points += 1
            if not pairs % 100_000:
                budget.check()
                _expect(budget, pairs, entities, max(vertices, points - entities))
    _expect(budget, pairs, entities, max(vertices, points - entities))


def _expect(budget: Budget, pairs: int, entities: int, vertices: int) -> None:
    budget.pairs(pairs)
    budget.expect(entities)
    budget.expect_vertices(vertices)


def _strictly(data: bytes) -> Any:
    """Return the document in a text as the strict reader understands it."""
    text = TextIOWrapper(BytesIO(data), encoding="cp1252", errors="ignore")
    encoding = dxf_stream_info(text).encoding
    return read(TextIOWrapper(BytesIO(data), encoding, errors="surrogateescape"))


def _recovered(path: Path, whole: bool) -> tuple[Any, Any]:
    """Return document and auditor of a broken file."""
    return recover.readfile(path) if whole else recover.read(BytesIO(_completed(path)))


def _salvaged(
    path: Path, whole: bool, notes: Notes, budget: Budget, error: Exception
) -> Any:
    """Return a document of the entities that are sound; tell what is not.

    Raises
    ------
    InputError
        If there are none.
    """
    budget.check()
    reason = _reason(path, error)
    try:
        saved = salvage(path.read_bytes() if whole else _completed(path), budget)
        if saved is None:
            raise InputError(str(path), f"damaged: {reason}", "save the drawing anew")
        document, _ = recover.read(BytesIO(saved.data))
    except (InputError, MemoryError):
        raise
    except Exception as worse:  # whatever a broken file provokes
        _raise_from_disk(path, worse)
        raise InputError(
            str(path), f"damaged: {reason}", "save the drawing anew"
        ) from worse
    notes.add("dxf-mended", detail=reason)
    for kind, count in saved.lost.items():
        if kind not in SILENT:
            code, word = LEFT_OUT.get(kind, ("dxf-bad-entity", tame(kind)))
            notes.add(code, tame(kind), word, count=count)
    return document


def _raise_from_disk(path: Path, error: Exception) -> None:
    """Raise what the disk refused; what ezdxf calls an OSError has no number."""
    if isinstance(error, OSError) and error.errno is not None:
        raise InputError(
            str(path), f"cannot be read: {system_words(error)}", "try to copy it"
        ) from error


def _is_whole(path: Path) -> bool:
    """Return whether the file has the mark of its end."""
    with open(path, "rb") as stream:
        head = stream.read(22)
        stream.seek(0, 2)
        stream.seek(max(stream.tell() - 512, 0))
        tail = stream.read()
    if head.startswith(_BINARY):
        return b"EOF\x00" in tail
    return tail.split()[-1:] == [b"EOF"] or b"\nEOF" in tail


def _completed(path: Path) -> bytes:
    """Return a file that was cut short, ended properly before its last entity.

    The last entity is dropped: half a polyline is another shape.
    """
    data = path.read_bytes()
    lines = data.splitlines()
    del lines[len(lines) // 2 * 2 :]
    starts = [i for i in range(0, len(lines), 2) if lines[i].strip() == b"0"]
    if data.startswith(_BINARY) or not starts:
        return data
    closing = [b"0", b"ENDSEC", b"0", b"EOF", b""]
    return b"\n".join(lines[: starts[-1]] + closing)


def _reason(path: Path, error: Exception) -> str:
    with open(path, "rb") as stream:
        for number, line in enumerate(stream, start=1):
            if line.startswith((b"<<<<<<<", b">>>>>>>")):
                return f"line {number} is the mark of an unfinished merge"
            if number > 1_000_000:
                break
    return in_plain_words(str(error))
