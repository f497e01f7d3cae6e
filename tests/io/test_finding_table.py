from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

from drystone.io import shape_findings
from drystone.io.finding_table import finding_rows, finding_table, parted
from drystone.io.notes import Notes

ROOT = Path(__file__).resolve().parents[2]
TABLES = {"shape_findings.py", "dxf_findings.py", "svg_findings.py", "finding_table.py"}
SOURCES = [
    path
    for folder in ("io", "app")
    for path in sorted((ROOT / folder).rglob("*.py"))
    if path.name not in TABLES
]
CODE = re.compile(
    r"[a-z0-9]+(-[a-z0-9]+)+|dust|branch|spur|speck|colours|overshoot|unreadable"
)


def raised(path: Path) -> Iterator[str]:
    """Yield the codes in the calls ``notes.add(code, …)`` and ``Finding(code, …)``."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        called = node.func
        if isinstance(called, ast.Attribute) and called.attr == "add":
            of = ast.unparse(called.value)
            if not (of.endswith("notes") or of == "again"):
                continue
        elif not (isinstance(called, ast.Name) and called.id == "Finding"):
            continue
        first = node.args[0]
        choices = (
            (first.body, first.orelse) if isinstance(first, ast.IfExp) else (first,)
        )
        for choice in choices:
            if isinstance(choice, ast.Constant) and isinstance(choice.value, str):
                yield choice.value


def words(path: Path) -> set[str]:
    """Return every text in a source file that looks like a code."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    texts = {
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    return {text for text in texts if CODE.fullmatch(text)}


def test_every_code_in_the_source_is_explained() -> None:
    explained = {row[0] for row in finding_rows()}
    used = {(code, path.name) for path in SOURCES for code in raised(path)}
    assert len(used) > 60  # the search finds them at all
    assert {pair for pair in used if pair[0] not in explained} == set()


def test_nothing_is_explained_that_is_never_raised() -> None:
    texts = set().union(*(words(path) for path in SOURCES))
    texts |= {code for code, _ in _tables()}
    made = {f"svg-{effect}" for effect in ("clip", "mask", "filter")}  # by an effect
    assert {row[0] for row in finding_rows()} - texts - made == set()


def _tables() -> set[tuple[str, str]]:
    from drystone.io.dxf_findings import LEFT_OUT

    return set(LEFT_OUT.values())


def test_every_kind_is_listed_once() -> None:
    codes = [row[0] for row in finding_rows()]
    assert len(codes) == len(set(codes))
    assert {"gap-closed", "dxf-text", "svg-text"} <= set(codes)
    for code, severity, words_, cause, cure in finding_rows():
        assert code == code.lower() and " " not in code
        assert severity in ("info", "warning", "error")
        assert (
            words_
            and "{" not in words_
            and "…" not in words_[-2:]
            and "(" not in words_
        )
        assert "…" not in words_ and "at places" not in words_
        assert "  " not in words_ and not words_.endswith((":", ","))
        assert "[" not in words_ + cure and "|" not in words_ + cure
        assert cause, f"{code} does not say why it comes about"
        assert cure, f"{code} does not say what to do"
        assert severity != "error" or not cure.startswith("nothing")


def test_the_table_has_a_line_for_each() -> None:
    lines = finding_table().splitlines()
    assert len(lines) == 2 + len(finding_rows())
    assert all(line.count("|") == 6 for line in lines)


def test_one_and_many_are_put_differently() -> None:
    notes = Notes("a.dxf", shape_findings.KINDS)
    notes.add("stray-line")
    notes.add("dust", count=1200)
    one, many = sorted(notes.findings(), key=lambda f: f.count)
    assert one.message == (
        "1 open line outside every part was left out; close or remove it"
    )
    assert many.message == "1,200 bits without any length were taken out"
    assert parted(one) == (
        "1 open line outside every part was left out",
        "close or remove it",
    )
    assert parted(many)[1] == "nothing to do: it was mended"


def test_what_comes_from_a_file_is_not_taken_for_forms_of_words() -> None:
    notes = Notes("a.dxf", shape_findings.KINDS)
    notes.add("layer-unused", detail="[a|b]")
    (finding,) = notes.findings()
    assert "([a|b])" in finding.message


def test_the_guide_shows_every_code_with_its_cause() -> None:
    from drystone.app.window.guide_text import topics

    pages = "\n".join(topic.text() for topic in topics())
    for code, _, found, cause, _ in finding_rows():
        assert f"| {code} |" in pages
        assert cause.replace("|", "/") in pages and found.replace("|", "/") in pages
