"""All kinds of findings as a table for the guide."""

from __future__ import annotations

import re

from . import dxf_findings, shape_findings, svg_findings
from .finding_causes import CAUSES
from .findings import Finding, Severity
from .notes import Kind, numbered

WINDOW: dict[str, Kind] = {
    "unreadable": Kind(
        Severity.ERROR,
        "a file could not be used at all: {detail}",
        "do what its sentence says, or get the file again",
    ),
    "pasted-row": Kind(
        Severity.ERROR,
        "a row that was pasted makes no sense: {detail}",
        "mend the row and paste it again",
    ),
}
"""What only the window finds, about whole files and about pasted text."""

_TABLES = (shape_findings.KINDS, dxf_findings.KINDS, svg_findings.KINDS, WINDOW)

_COUNTED = re.compile(r":? N( cuts| entities)?(?= |;|,|$)|^N ")
_DETAIL = re.compile(r" \((layer )?…\)")
_ENDS = re.compile(r"(: |:|)…$")
_NOTHING = "nothing to do"


def finding_rows() -> list[tuple[str, str, str, str, str]]:
    """Return code, severity, what it means, its cause and what to do, of every kind."""
    return [
        (code, kind.severity.value, _meaning(kind), CAUSES[code], _cure(kind))
        for table in _TABLES
        for code, kind in table.items()
    ]


def parted(finding: Finding) -> tuple[str, str]:
    """Return what was found, and what to do about it; the latter may be empty."""
    for table in _TABLES:
        if finding.code in table:
            kind = table[finding.code]
            cure = numbered(kind.cure, finding.count)
            if not cure:
                return finding.message, _cure(kind)
            return finding.message.removesuffix(f"; {cure}"), cure
    what, _, cure = finding.message.partition("; ")
    return what, cure


def _meaning(kind: Kind) -> str:
    words = numbered(kind.message, 2).format(n="N", detail="…")
    words = words.replace("at N ", "at some ").replace(" by …", "")
    words = _COUNTED.sub("", _DETAIL.sub("", words))
    return _ENDS.sub("", words.replace(": …;", ";").replace("; …", ""))


def _cure(kind: Kind) -> str:
    if kind.cure:
        return numbered(kind.cure, 2)
    return f"{_NOTHING}: it was mended" if kind.fixed else _NOTHING


def finding_table() -> str:
    """Return the table in Markdown."""
    lines = [
        "| Code | Weight | What was found | Usual cause | What to do |",
        "| --- | --- | --- | --- | --- |",
    ]
    for row in finding_rows():
        lines.append("| " + " | ".join(cell.replace("|", "/") for cell in row) + " |")
    return "\n".join(lines) + "\n"
