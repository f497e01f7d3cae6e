"""The set-up script: plain Python, clear refusals, nothing but the README's steps."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from drystone.app import set_up

ROOT = Path(__file__).resolve().parents[2]
SCRIPT = ROOT / "app" / "set_up.py"


def test_it_needs_nothing_but_the_standard_library() -> None:
    tree = ast.parse(SCRIPT.read_text(encoding="utf-8"))
    names = {
        alias.name.split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.Import)
        for alias in node.names
    } | {
        (node.module or "").split(".")[0]
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
    }
    assert names <= set(sys.stdlib_module_names)


@pytest.mark.parametrize("words", [[], ["everything"]])
def test_it_says_what_it_can_run(words: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, str(SCRIPT), *words], capture_output=True, text=True
    )
    assert done.returncode == 2
    assert done.stderr == "set_up: say what to run: sample or tests\n"


def test_the_continuous_check_runs_the_readmes_test_command_and_nothing_else() -> None:
    lines = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    commands = [line for line in lines if line and not line.startswith(("#", "set "))]
    assert commands == ['cd "$(dirname "$0")/.."', "exec python3 app/set_up.py tests"]
    assert "python3 app/set_up.py tests" in (ROOT / "README.md").read_text("utf-8")


def test_where_nothing_may_be_installed_each_package_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fails(*args: Any, **kwargs: Any) -> SimpleNamespace:
        return SimpleNamespace(returncode=1, stderr="ImportError: libEGL.so.1\n")

    monkeypatch.setattr("drystone.app.set_up.subprocess.run", fails)
    monkeypatch.setattr(set_up, "as_administrator", lambda: None)
    with pytest.raises(SystemExit) as left:
        set_up.provide_qt_libraries(Path("python"))
    assert left.value.code == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    for name in ("libEGL.so.1", *set_up.QT_LIBRARIES, *set_up.SCREEN_LIBRARIES):
        assert name in said


def test_packages_are_tried_one_by_one_where_all_together_fail(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    ran: list[list[str]] = []

    def only_one_exists(command: list[str], **kwargs: Any) -> SimpleNamespace:
        ran.append(command)
        return SimpleNamespace(returncode=0 if command[-1] == "there" else 1)

    monkeypatch.setattr("drystone.app.set_up.subprocess.run", only_one_exists)
    monkeypatch.setattr(set_up, "as_administrator", lambda: [])
    monkeypatch.setattr(
        "drystone.app.set_up.shutil.which", lambda name: "/usr/bin/apt-get"
    )
    assert set_up.install_packages(("there", "missing"))
    assert [command[-1] for command in ran[2:]] == ["there", "missing"]
