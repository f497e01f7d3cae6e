"""Exceptions in what Qt calls: whole ones everywhere, so that none ends the program."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

APP = Path(__file__).parents[2] / "app"
FILES = sorted(
    path for part in ("bench", "book", "window") for path in (APP / part).glob("*.py")
)

CALLED_BY_QT = {
    "createEditor",
    "eventFilter",
    "initStyleOption",
    "paint",
    "setData",
    "setEditorData",
    "setModelData",
}
"""Besides all that ends in ``Event``."""


def handlers(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    for kind in ast.walk(tree):
        if not isinstance(kind, ast.ClassDef):
            continue
        for item in kind.body:
            if isinstance(item, ast.FunctionDef) and (
                item.name.endswith("Event") or item.name in CALLED_BY_QT
            ):
                yield item


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_handlers_raise_whole_exceptions(path: Path) -> None:
    for handler in handlers(ast.parse(path.read_text(encoding="utf-8"))):
        marks = [
            mark.id for mark in handler.decorator_list if isinstance(mark, ast.Name)
        ]
        assert marks == ["sound"], (
            f"line {handler.lineno}: {handler.name} is not @sound"
        )


def test_the_rule_finds_handlers() -> None:
    found = [
        handler.name
        for path in FILES
        for handler in handlers(ast.parse(path.read_text(encoding="utf-8")))
    ]
    assert {"changeEvent", "paintEvent", "showEvent", "setData"} <= set(found)


SCRIPT = """
import math
import sys
from PySide6.QtCore import QEvent, QModelIndex
from PySide6.QtWidgets import QApplication
from drystone.app.book.fields import ChoiceField
from drystone.app.bench.sound import sound

class Inner(ChoiceField):
    @sound
    def changeEvent(self, event):
        super().changeEvent(event)
        math.sqrt(-1.0)  # C code raises this

class Outer(ChoiceField):
    @sound
    def changeEvent(self, event):
        super().changeEvent(event)
        if hasattr(self, "inner"):
            QApplication.sendEvent(self.inner, QEvent(event.type()))

said = []
sys.excepthook = lambda *what: said.append(what[0].__name__)
app = QApplication([])
outer = Outer("outer", [])
outer.inner = Inner("inner", [])
for _ in range(200):
    try:
        QApplication.sendEvent(outer, QEvent(QEvent.Type.StyleChange))
    except ValueError:
        said.append("ValueError")
print("alive", set(said))
"""


def test_an_exception_from_handler_to_handler_leaves_the_program_alive() -> None:
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT],
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert "alive {'ValueError'}" in done.stdout, done.stdout + done.stderr
