from __future__ import annotations

from drystone.io.finding_table import finding_rows, finding_table


def test_every_kind_is_listed_once() -> None:
    codes = [row[0] for row in finding_rows()]
    assert len(codes) == len(set(codes))
    assert {"gap-closed", "dxf-text", "svg-text"} <= set(codes)
    for code, severity, words, _ in finding_rows():
        assert code == code.lower() and " " not in code
        assert severity in ("info", "warning", "error")
        assert words and "{" not in words


def test_the_table_has_a_line_for_each() -> None:
    lines = finding_table().splitlines()
    assert len(lines) == 2 + len(finding_rows())
    assert all(line.count("|") == 5 for line in lines)
