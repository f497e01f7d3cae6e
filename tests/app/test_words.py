"""Every word the window shows goes through translation."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from drystone.app.window import main_window

ROOMS = ("window", "book", "bench")
APP = Path(main_window.__file__).parents[1]

SHOWING = frozenset(
    """
    setText setToolTip setStatusTip setWhatsThis setWindowTitle setInformativeText
    setAccessibleName setAccessibleDescription setPlaceholderText setTitle setFormat
    setPrefix setSuffix addAction addMenu addTab addItem addItems addButton addRow
    setTabText setTabToolTip setDetailedText setHeaderLabels showMessage setMarkdown
    QLabel QPushButton QCheckBox QRadioButton QGroupBox QAction QListWidgetItem
    QToolButton QMenu say said change adopt
    """.split()
)
"""Calls whose words a person reads."""

WORD = re.compile(r"[A-Za-z]{2,}")

SAME_EVERYWHERE = frozenset(("Drystone", "info", "warn", "error", "ok"))
"""Names and levels; the latter are arguments that nobody reads."""


def literals(node: ast.expr) -> Iterator[ast.Constant]:
    """Words written in an expression, except those that are translated."""
    if isinstance(node, ast.Call):
        name = called(node)
        if name in ("tr", "translate"):
            return
        # What .format and .join put together has been translated before.
        if isinstance(node.func, ast.Attribute):
            yield from literals(node.func.value)
        return
    if isinstance(node, ast.Constant):
        if isinstance(node.value, str):
            yield node
        return
    if isinstance(node, ast.JoinedStr):
        for value in node.values:
            if isinstance(value, ast.Constant):
                yield value
        return
    if isinstance(node, ast.IfExp):
        yield from literals(node.body)
        yield from literals(node.orelse)
    elif isinstance(node, ast.BinOp):
        yield from literals(node.left)
        yield from literals(node.right)
    elif isinstance(node, ast.List | ast.Tuple):
        for item in node.elts:
            yield from literals(item)


def called(node: ast.Call) -> str:
    if isinstance(node.func, ast.Attribute):
        return node.func.attr
    return node.func.id if isinstance(node.func, ast.Name) else ""


def untranslated(source: str) -> Iterator[tuple[int, str]]:
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call) or called(node) not in SHOWING:
            continue
        for argument in node.args:
            for found in literals(argument):
                text = str(found.value)
                bare = text.replace("Drystone", "")
                if WORD.search(bare) and text not in SAME_EVERYWHERE:
                    yield found.lineno, text


def sources() -> list[Path]:
    return sorted(path for room in ROOMS for path in (APP / room).glob("*.py"))


@pytest.mark.parametrize("path", sources(), ids=lambda p: f"{p.parent.name}/{p.name}")
def test_words_are_translated(path: Path) -> None:
    assert list(untranslated(path.read_text(encoding="utf-8"))) == []


def test_the_search_for_words_finds_some() -> None:
    code = """
label.setText("Parts")
label.setText(self.tr("Parts"))
label.setText(self.tr("{n} parts").format(n=3))
label.setText("Yes" if yes else self.tr("No"))
label.setText(f"{n} mm of {name}")
document.say("error", self.tr("Bad"))
button = QPushButton("Stop", self)
label.setText("×")
"""
    assert [text for _, text in untranslated(code)] == [
        "Parts",
        "Yes",
        " mm of ",
        "Stop",
    ]
