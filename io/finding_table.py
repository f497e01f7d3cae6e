"""All kinds of findings as a table for the guide."""

from __future__ import annotations

from . import dxf_findings, shape_findings, svg_findings


def finding_rows() -> list[tuple[str, str, str, str]]:
    """Return code, severity, what it means and what to do, for every kind."""
    rows = []
    for table in (shape_findings.KINDS, dxf_findings.KINDS, svg_findings.KINDS):
        for code, kind in table.items():
            words = kind.message.format(n="", detail="…").replace(": ;", ";")
            words = words.replace("(…)", "").replace("  ", " ").strip(" :")
            rows.append((code, kind.severity.value, words, kind.cure))
    return rows


def finding_table() -> str:
    """Return the table in Markdown."""
    lines = [
        "| Code | Weight | What was found | What to do |",
        "| --- | --- | --- | --- |",
    ]
    for row in finding_rows():
        lines.append("| " + " | ".join(cell.replace("|", "/") for cell in row) + " |")
    return "\n".join(lines) + "\n"
