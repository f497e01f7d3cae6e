"""What a file is, told from its first bytes and not from its name."""

from __future__ import annotations

import re
from pathlib import Path

from ..nesting.model.errors import InputError
from .atomic import system_words

_REFUSED: tuple[tuple[bytes, str], ...] = (
    (b"\x89PNG", "a PNG picture"),
    (b"\xff\xd8\xff", "a JPEG picture"),
    (b"GIF8", "a GIF picture"),
    (b"BM", "a BMP picture"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"RIFF", "a picture or a recording"),
    (b"%PDF", "a PDF document"),
    (b"%!PS", "a PostScript file"),
    (b"\xc5\xd0\xd3\xc6", "a PostScript file"),
    (b"PK\x03\x04", "a ZIP archive"),
    (b"7z\xbc\xaf", "a packed archive"),
    (b"Rar!", "a packed archive"),
    (b"\xd0\xcf\x11\xe0", "an office document"),
    (b"ISO-10303", "a STEP model"),
    (b"solid ", "an STL model"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
)

_PICTURE = "draw or trace the outlines; pictures made of dots have none"
_OTHER = "export the drawing as DXF or SVG"


def sniff(path: Path) -> str:
    """Return ``dxf`` or ``svg``.

    Raises
    ------
    InputError
        If the file cannot be opened, or is something else: says what.
    """
    name = str(path)
    try:
        if path.is_dir():
            raise InputError(name, "is a directory", "name a drawing in it")
        with open(path, "rb") as stream:
            head = stream.read(65536)
    except InputError:  # which is a ValueError, too
        raise
    except FileNotFoundError as error:
        raise InputError(name, "there is no such file", "check the name") from error
    except PermissionError as error:
        raise InputError(
            name, "may not be read", "mend the permissions or copy it"
        ) from error
    except OSError as error:
        raise InputError(name, f"cannot be read: {system_words(error)}") from error
    except ValueError as error:  # a null byte in the name
        raise InputError(repr(name), "is not a file name") from error
    if not head.strip():
        raise InputError(name, "is empty", "save the drawing again")
    if head.startswith(b"AutoCAD Binary DXF\r\n\x1a\x00"):
        return "dxf"
    if head.startswith(b"\x1f\x8b"):
        return "svg"
    if re.match(rb"AC10\d\d", head):
        raise InputError(name, "is a DWG drawing", "save it as DXF")
    for magic, words in _REFUSED:
        if head.startswith(magic):
            cure = _PICTURE if "picture" in words else _OTHER
            raise InputError(name, f"is {words}, not a DXF or SVG drawing", cure)
    return _text_kind(name, head)


def _text_kind(name: str, head: bytes) -> str:
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = head.decode("utf-16", "replace")
    else:
        text = head.decode("utf-8", "replace")
    text = text.removeprefix("\ufeff").lstrip()
    if re.match(r"(999\s*\n[^\n]*\n\s*)*0\s*\n\s*(SECTION|EOF)\b", text):
        return "dxf"
    if re.search(r"<(\w+:)?svg[\s>/]", text):
        return "svg"
    if text.startswith(("<<<<<<<", ">>>>>>>")):
        raise InputError(
            name, "begins with the marks of an unfinished merge", "finish the merge"
        )
    if re.match(r"<(\?xml|!doctype|html|\w+)", text, re.IGNORECASE):
        if name.lower().endswith((".svg", ".svgz")):
            return "svg"  # its reader says what is wrong with it
        raise InputError(name, "is an XML or HTML file without a drawing", _OTHER)
    if re.search(r"^\s*(SECTION|ENTITIES)\s*$", text, re.MULTILINE):
        return "dxf"
    if b"\x00" in head:
        raise InputError(name, "is a binary file, not a DXF or SVG drawing", _OTHER)
    raise InputError(name, "is neither a DXF nor an SVG drawing", _OTHER)
