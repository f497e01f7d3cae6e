"""The bytes of an SVG file to text: unpacking, encoding, what the file is not."""

from __future__ import annotations

import codecs
import re
import zlib

from ..nesting.model.errors import InputError
from .limits import Budget
from .notes import Notes

_GZIP = b"\x1f\x8b"
_CHUNK = 1 << 20
_OTHER_KINDS = (
    (b"\x89PNG", "a PNG picture, which is a bitmap"),
    (b"\xff\xd8\xff", "a JPEG picture, which is a bitmap"),
    (b"GIF8", "a GIF picture, which is a bitmap"),
    (b"BM", "a BMP picture, which is a bitmap"),
    (b"RIFF", "a WebP picture, which is a bitmap"),
    (b"II*\x00", "a TIFF picture, which is a bitmap"),
    (b"MM\x00*", "a TIFF picture, which is a bitmap"),
    (b"%PDF", "a PDF"),
    (b"%!PS", "PostScript"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"AutoCAD Binary DXF", "a DXF drawing"),
    (b"AC10", "a DWG drawing"),
)
_DECLARED = re.compile(
    rb"""<\?xml\s[^>]{0,200}?\bencoding\s*=\s*["']([A-Za-z][A-Za-z0-9._:-]{0,40})["']"""
)
_BOMS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
# Only plain character sets: Python also lists codecs that unpack or run for long.
_CHARACTER_SET = re.compile(
    r"(utf[-_]?(8|16|32).*|(us-?)?ascii|latin.*|iso.*|windows.*|cp.*|koi8.*|mac.*|"
    r"shift.?jis|sjis|euc.*|gb.*|big5.*|ansi.*|l\d+|hz|johab)",
    re.IGNORECASE,
)
_CONTROL = re.compile("[\x01-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff\ud800-\udfff]")
_DECLARATION = re.compile(r"\s*+<\?xml\s[^>]*\?>")


def read_text(data: bytes, budget: Budget, notes: Notes) -> str:
    """Return the text of an SVG file without its XML declaration.

    Parameters
    ----------
    data : bytes
        The file as it is, packed with gzip or not.
    budget : Budget
        Limits on size and on how much unpacking may add.
    notes : Notes
        Where to note what was mended.

    Raises
    ------
    InputError
        If it is empty, damaged, too large or another kind of file.
    """
    budget.bytes(len(data))
    if data.startswith(_GZIP):
        data = _unpacked(data, budget)
    _refuse_other_kinds(data, budget.file)
    text = _decoded(data, notes)
    if "\x00" in text:
        raise InputError(
            budget.file, "it is binary, not an SVG drawing", "save it again as SVG"
        )
    text, count = _CONTROL.subn("", text)
    notes.add("svg-control-characters", count=count)
    # A replacement keeps line numbers right in later messages.
    found = _DECLARATION.match(text)
    if found is None:
        return text
    return "\n" * found[0].count("\n") + text[found.end() :]


def _unpacked(data: bytes, budget: Budget) -> bytes:
    """Return the contents of a gzip file, never holding more than the limits allow."""
    pieces: list[bytes] = []
    total = 0
    rest = data
    while rest.startswith(_GZIP):
        stream = zlib.decompressobj(wbits=31)
        while not stream.eof:
            try:
                piece = stream.decompress(rest, _CHUNK)
            except zlib.error:
                raise _damaged(budget.file) from None
            if not piece and not stream.unconsumed_tail and not stream.eof:
                raise _damaged(budget.file)
            total += len(piece)
            budget.bytes(total, packed=max(len(data), 1024))
            budget.check()
            pieces.append(piece)
            rest = stream.unconsumed_tail
        rest = stream.unused_data
    return b"".join(pieces)


def _damaged(file: str) -> InputError:
    return InputError(
        file, "the compressed file is damaged or cut short", "save or copy it again"
    )


def _refuse_other_kinds(data: bytes, file: str) -> None:
    if not data.strip():
        raise InputError(file, "the file is empty", "save the drawing again")
    if data.startswith(_GZIP):
        raise InputError(file, "it is compressed more than once", "unpack it first")
    for magic, name in _OTHER_KINDS:
        if data.startswith(magic):
            raise InputError(file, f"it is {name}, not SVG", "export it as SVG or DXF")
    if _is_dxf(data[:4000]):
        raise InputError(file, "it is a DXF drawing, not SVG", "name it .dxf")


def _is_dxf(head: bytes) -> bool:
    lines = [line.strip() for line in head.strip().splitlines()]
    while lines[:1] == [b"999"]:  # comments
        del lines[:2]
    return lines[:2] == [b"0", b"SECTION"]


def _decoded(data: bytes, notes: Notes) -> str:
    declared = _DECLARED.search(data[:400])
    name = declared[1].decode("ascii") if declared else "utf-8"
    for bom, encoding in _BOMS:
        if data.startswith(bom):
            return _decode(data[len(bom) :], encoding, notes)
    head = data[:8]
    if head.startswith(b"<\x00") and not head.startswith(b"<\x00\x00"):
        return _decode(data, "utf-16-le", notes)
    if head.startswith(b"\x00<"):
        return _decode(data, "utf-16-be", notes)
    if name.lower().replace("_", "-").startswith(("utf-16", "utf-32", "utf16")):
        # The declaration could be read byte by byte, so it is not true.
        notes.add("svg-encoding-mended", detail=f"{name} declared, read as UTF-8")
        name = "utf-8"
    if not _CHARACTER_SET.fullmatch(name) or not _known(name):
        notes.add("svg-encoding-mended", detail=f"{name} is unknown, read as UTF-8")
        name = "utf-8"
    return _decode(data, name, notes)


def _known(name: str) -> bool:
    try:
        b"<svg/>".decode(name)
    except (LookupError, ValueError):
        return False
    return True


def _decode(data: bytes, encoding: str, notes: Notes) -> str:
    try:
        return data.decode(encoding)
    except ValueError:
        pass
    if encoding.startswith(("utf-16", "utf-32")):
        notes.add("svg-encoding-mended", detail=f"damaged {encoding.upper()}")
        return data.decode(encoding, errors="replace")
    notes.add(
        "svg-encoding-mended", detail=f"not {encoding.upper()}, read as Windows-1252"
    )
    return data.decode("cp1252", errors="replace")
