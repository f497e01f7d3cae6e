"""All kinds of findings as a table for the guide."""

from __future__ import annotations

import re

from . import dxf_findings, shape_findings, svg_findings
from .findings import Severity
from .notes import Kind

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

_COUNTED = re.compile(r":? N( cuts| entities)?(?= |;|,|$)")
_DETAIL = re.compile(r" \((layer )?…\)")
_ENDS = re.compile(r"(: |:|)…$")


def finding_rows() -> list[tuple[str, str, str, str]]:
    """Return code, severity, what it means and what to do, for every kind."""
    rows = []
    for table in (
        shape_findings.KINDS,
        dxf_findings.KINDS,
        svg_findings.KINDS,
        WINDOW,
    ):
        for code, kind in table.items():
            rows.append((code, kind.severity.value, _meaning(kind), _cure(kind)))
    return rows


def _meaning(kind: Kind) -> str:
    words = kind.message.format(n="N", detail="…")
    words = _COUNTED.sub("", _DETAIL.sub("", words))
    return _ENDS.sub("", words.replace(": …;", ";").replace("; …", ""))


def _cure(kind: Kind) -> str:
    if kind.cure:
        return kind.cure
    return "nothing to do: it was mended" if kind.fixed else "nothing to do"


def finding_table() -> str:
    """Return the table in Markdown."""
    lines = [
        "| Code | Weight | What was found | What to do |",
        "| --- | --- | --- | --- |",
    ]
    for row in finding_rows():
        lines.append("| " + " | ".join(cell.replace("|", "/") for cell in row) + " |")
    return "\n".join(lines) + "\n"
