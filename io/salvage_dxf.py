"""The last way to open a broken DXF file: keep what is whole, entity by entity.

The two ways before it give up a whole file for one bad number, one lost line or one
missing marker. Here the text is cut into its records; each is cleaned of what means
nothing for its shape, gets the markers that its kind must have, and is kept if its
numbers are numbers. What is left makes a small new file. A record that lost a line is
dropped whole: half a polyline is another shape.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from .limits import Budget

Pair = tuple[int, bytes]

_FORBIDDEN = re.compile(rb'[<>/\\":;?*|=`\x00-\x1f]')
"""Letters that the published reference forbids in names."""

MARKS = re.compile(rb"^(<{7}|>{7})( |$)", re.MULTILINE)
"""Marks of an unfinished merge: two versions mixed make neither."""

_COMMON = frozenset({8, 48, 60, 62, 67, 370, 420, 430, 440})
"""Codes that belong to every entity, before its own."""

_MARKERS: dict[bytes, tuple[tuple[bytes, frozenset[int] | None], ...]] = {
    b"LINE": ((b"AcDbLine", None),),
    b"POINT": ((b"AcDbPoint", None),),
    b"CIRCLE": ((b"AcDbCircle", None),),
    b"ARC": ((b"AcDbCircle", frozenset({39, 10, 20, 30, 40})), (b"AcDbArc", None)),
    b"ELLIPSE": ((b"AcDbEllipse", None),),
    b"SPLINE": ((b"AcDbSpline", None),),
    b"LWPOLYLINE": ((b"AcDbPolyline", None),),
    b"SOLID": ((b"AcDbTrace", None),),
    b"TRACE": ((b"AcDbTrace", None),),
    b"INSERT": ((b"AcDbBlockReference", None),),
    b"POLYLINE": ((b"AcDb2dPolyline", None),),
    b"VERTEX": ((b"AcDbVertex", frozenset()), (b"AcDb2dVertex", None)),
    b"SEQEND": (),
}
"""For each kind that is kept: its markers, and the codes behind all but the last."""

_STRUCTURE = frozenset({b"SECTION", b"ENDSEC", b"BLOCK", b"ENDBLK", b"EOF"})

_COUNTS: dict[bytes, tuple[tuple[int, int], ...]] = {
    b"LWPOLYLINE": ((90, 10),),
    b"SPLINE": ((72, 40), (73, 10), (74, 11)),
}
"""Which code says how often another must stand in an entity."""

_VARIABLES = {b"$INSUNITS": 70, b"$MEASUREMENT": 70, b"$DWGCODEPAGE": 3}


@dataclass
class Salvage:
    """What was saved.

    Parameters
    ----------
    data : bytes
        A new file.
    kept : int
        Entities in it.
    lost : dict of str to int
        How many entities of which kind were dropped.
    """

    data: bytes = b""
    kept: int = 0
    lost: dict[str, int] = field(default_factory=dict)

    def lose(self, kind: bytes) -> None:
        """Count an entity that is dropped."""
        word = kind.decode("ascii", "replace")
        self.lost[word] = self.lost.get(word, 0) + 1


@dataclass
class _Record:
    """What stands between one code 0 and the next."""

    kind: bytes
    pairs: list[Pair]
    whole: bool = True


def salvage(data: bytes, budget: Budget) -> Salvage | None:
    """Return what can be saved of a broken text file; None if that is nothing.

    Raises
    ------
    InputError
        If that takes too long.
    """
    if MARKS.search(data) or b"\x00" in data[:1000]:
        return None
    saved = Salvage()
    chain = _Chain(saved)
    header: list[Pair] = []
    layers: list[Pair] = []
    blocks: list[Pair] = []
    entities: list[Pair] = []
    section = b""
    block: list[Pair] | None = None
    for record in _records(data, budget):
        kind = record.kind
        if kind == b"SECTION":
            section = _value(record, 2).upper()
            if section == b"HEADER":
                header = _variables(record)
        elif kind == b"ENDSEC":
            section = b""
        elif section == b"TABLES" and kind == b"LAYER":
            layers += _layer(record)
        elif section == b"BLOCKS" and kind == b"BLOCK":
            block = _block(record)
        elif section == b"BLOCKS" and kind == b"ENDBLK":
            if block is not None:
                block += chain.end()
                blocks += [*block, (0, b"ENDBLK"), (100, b"AcDbEntity"), (8, b"0")]
                blocks.append((100, b"AcDbBlockEnd"))
            block = None
        elif section == b"ENTITIES":
            entities += chain.add(record)
        elif section == b"BLOCKS" and block is not None:
            block += chain.add(record)
    entities += chain.end()
    if not saved.kept:
        return None
    saved.data = _file(header, layers, blocks, entities, _is_unicode(data))
    return saved


class _Chain:
    """Keeps the vertices with their polyline: all of them, or none."""

    def __init__(self, saved: Salvage) -> None:
        self._saved = saved
        self._pairs: list[Pair] = []
        self._whole = True

    def add(self, record: _Record) -> list[Pair]:
        """Take an entity; return what is complete."""
        kind = record.kind
        if kind in (b"VERTEX", b"SEQEND"):
            if self._pairs:
                pairs = _entity(record)
                self._whole = self._whole and bool(pairs)
                self._pairs += pairs
            return self.end() if kind == b"SEQEND" else []
        done = self.end()
        pairs = _entity(record)
        if kind == b"POLYLINE":
            self._pairs = pairs or [(0, kind)]
            self._whole = bool(pairs)
        elif pairs:
            self._saved.kept += 1
            done += pairs
        elif kind.isalnum():
            self._saved.lose(kind)
        return done

    def end(self) -> list[Pair]:
        """Return the polyline that was begun, unless something of it is lost."""
        pairs, self._pairs = self._pairs, []
        if not pairs:
            return []
        if not self._whole:
            self._saved.lose(b"POLYLINE")
            return []
        self._saved.kept += 1
        return pairs


def _is_unicode(data: bytes) -> bool:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def _records(data: bytes, budget: Budget) -> Iterator[_Record]:
    """Cut a text into records; where codes and values got out of step, find back."""
    lines = data.splitlines()
    record = _Record(b"", [])
    at, end = 0, len(lines) - 1
    while at < end:
        code = _code(lines[at])
        if code is None:
            kind = lines[at].strip().upper()
            at += 1
            begins = kind in _MARKERS or kind in _STRUCTURE
            # Either its 0 was taken for the value that is missing, or is missing.
            if not begins or (record.pairs and record.pairs[-1][1].strip() == b"0"):
                record.whole = False
            if begins:
                yield record
                record = _Record(kind, [])
            continue
        value = lines[at + 1]
        at += 2
        if code != 0:
            record.pairs.append((code, value))
            continue
        kind = value.strip()
        if not kind.isalnum() or (kind[:1].isdigit() and not kind.startswith(b"3D")):
            record.whole = False  # a number 0 that stands where a code should
            at -= 1
            continue
        budget.tick()
        yield record
        record = _Record(kind.upper(), [])
    yield record


def _code(line: bytes) -> int | None:
    text = line.strip()
    if not 0 < len(text) <= 4 or not text.isdigit():
        return None
    code = int(text)
    return code if code <= 1071 else None


def _value(record: _Record, wanted: int) -> bytes:
    return next((v.strip() for code, v in record.pairs if code == wanted), b"")


def _variables(record: _Record) -> list[Pair]:
    """Return the header's lines on units and letters."""
    kept: list[Pair] = []
    name = b""
    for code, value in record.pairs:
        if code == 9:
            name = value.strip()
        elif _VARIABLES.get(name) == code and _clean(code, value):
            kept += [(9, name), (code, value.strip())]
    return kept


def _name(value: bytes) -> bytes:
    """Return a name without letters that are forbidden; a block's may begin with *."""
    star = b"*" if value.startswith(b"*") else b""
    return (star + _FORBIDDEN.sub(b"_", value[len(star) :]))[:255] or b"0"


def _layer(record: _Record) -> list[Pair]:
    kept = [
        (code, value.strip())
        for code, value in record.pairs
        if code in (62, 70) and _clean(code, value)
    ]
    name = _name(_value(record, 2))
    head: list[Pair] = [(0, b"LAYER"), (100, b"AcDbSymbolTableRecord")]
    return [*head, (100, b"AcDbLayerTableRecord"), (2, name), *kept]


def _block(record: _Record) -> list[Pair]:
    """Return a block's beginning; its flags tell what is kept in another file."""
    point = [(c, v.strip()) for c, v in record.pairs if c in (10, 20, 30, 70)]
    if not record.whole or not all(_clean(code, value) for code, value in point):
        point = [(10, b"0"), (20, b"0")]
    head: list[Pair] = [(0, b"BLOCK"), (100, b"AcDbEntity"), (8, b"0")]
    name = _name(_value(record, 2))
    return [*head, (100, b"AcDbBlockBegin"), (2, name), *point]


def _entity(record: _Record) -> list[Pair]:
    """Return a cleaned entity; nothing if it cannot be kept."""
    markers = _MARKERS.get(record.kind)
    if markers is None or not record.whole:
        return []
    common: list[Pair] = []
    own: list[Pair] = []
    for code, value in _plain(record.pairs):
        if code in (2, 8):
            value = _name(value)
        elif not _clean(code, value):
            if code in _COMMON:
                continue
            return []
        (common if code in _COMMON else own).append((code, value.strip()))
    for said, meant in _COUNTS.get(record.kind, ()):
        counts = [int(value) for code, value in own if code == said]
        if counts and counts[0] != sum(code == meant for code, _ in own):
            return []
    if record.kind == b"INSERT":  # its attributes are texts, which are left out
        own = [pair for pair in own if pair[0] != 66]
    if record.kind in (b"POLYLINE", b"VERTEX"):
        markers = _three_dimensional(record.kind, own, markers)
    pairs: list[Pair] = [(0, record.kind), (100, b"AcDbEntity"), *common]
    for marker, codes in markers:
        pairs.append((100, marker))
        pairs += [pair for pair in own if codes is None or pair[0] in codes]
        own = [pair for pair in own if codes is not None and pair[0] not in codes]
    return pairs


def _three_dimensional(
    kind: bytes,
    own: list[Pair],
    markers: tuple[tuple[bytes, frozenset[int] | None], ...],
) -> tuple[tuple[bytes, frozenset[int] | None], ...]:
    """Return the markers of a polyline in space where the flags say it is one."""
    flags = next((int(float(v)) for code, v in own if code == 70), 0)
    if kind == b"POLYLINE" and flags & 8:
        return ((b"AcDb3dPolyline", None),)
    if kind == b"VERTEX" and flags & 32:
        return ((b"AcDbVertex", frozenset()), (b"AcDb3dPolylineVertex", None))
    return markers


def _plain(pairs: Iterable[Pair]) -> Iterator[Pair]:
    """Leave out markers, handles, owners and what other programs added."""
    inside = 0
    for code, value in pairs:
        if code == 102:
            inside = max(inside + (1 if value.strip().startswith(b"{") else -1), 0)
        elif code < 1000 and not inside and code not in (5, 100, 102, 105, 999):
            if code != 6 and not 310 <= code <= 369 and not 390 <= code <= 399:
                yield code, value


def _clean(code: int, value: bytes) -> bool:
    """Return whether a value is of the type that its code asks for."""
    try:
        if 10 <= code <= 59 or 110 <= code <= 149 or 210 <= code <= 239:
            float(value)
        elif 60 <= code <= 79 or 90 <= code <= 99 or code in (370, 420, 440):
            if len(value) > 20:
                return False
            int(value)
    except ValueError:
        return False
    return True


def _file(
    header: list[Pair],
    layers: list[Pair],
    blocks: list[Pair],
    entities: list[Pair],
    unicode: bool,
) -> bytes:
    version = b"AC1021" if unicode else b"AC1015"
    head: list[Pair] = [(9, b"$ACADVER"), (1, version), *header]
    table: list[Pair] = [(0, b"TABLE"), (2, b"LAYER"), (70, b"0"), *layers]
    pairs: list[Pair] = []
    for name, body in (
        (b"HEADER", head),
        (b"TABLES", [*table, (0, b"ENDTAB")] if layers else []),
        (b"BLOCKS", blocks),
        (b"ENTITIES", entities),
    ):
        pairs += [(0, b"SECTION"), (2, name), *body, (0, b"ENDSEC")]
    pairs.append((0, b"EOF"))
    return b"".join(b"%d\n%s\n" % pair for pair in pairs)
