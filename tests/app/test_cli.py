"""The command line's frame: help, misspelling, faults, exit status."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from types import SimpleNamespace

import pytest

from drystone.app import cli, kernel_cache
from drystone.nesting.model.errors import InputError, InputErrors


def drystone(*words: str, stdin: str = "") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "drystone.app", *words],
        capture_output=True,
        text=True,
        input=stdin,
        env={**os.environ, "COLUMNS": "100"},
    )


def test_help_has_examples_and_no_escape_codes() -> None:
    done = drystone("--help")
    assert done.returncode == 0
    assert "examples:" in done.stdout
    assert "exit status" in done.stdout
    assert "\x1b" not in done.stdout


@pytest.mark.parametrize("command", cli.COMMANDS)
def test_each_command_has_help_with_examples(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.run([command, "--help"]) == 0
    said = capsys.readouterr().out
    assert f"drystone {command}" in said
    assert "examples:" in said


def test_a_misspelt_command_gets_a_guess(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["nets", "order.toml"]) == 2
    assert capsys.readouterr().err == (
        "drystone: 'nets' is no command; did you mean 'nest'?\n"
    )


def test_an_unknown_option_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["nest", "--sideways"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize(
    ("error", "status", "said"),
    [
        (InputError("a.dxf", "no closed loop", "close it"), 2, "a.dxf: no closed loop"),
        (
            InputErrors([InputError("a", "one"), InputError("b", "two")]),
            2,
            "a: one\nb: two\n",
        ),
        (KeyboardInterrupt(), 130, "stopped"),
        (
            ZeroDivisionError("x"),
            1,
            "drystone: a fault of the program (ZeroDivisionError: x)",
        ),
    ],
)
def test_errors_become_plain_lines(
    error: BaseException,
    status: int,
    said: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def run(args: object) -> int:
        raise error

    real = cli._command("look")
    fake = SimpleNamespace(
        SUMMARY=real.SUMMARY,
        EXAMPLES=real.EXAMPLES,
        add_arguments=real.add_arguments,
        run=run,
    )
    monkeypatch.setattr(cli, "_command", lambda name: fake)
    assert cli.run(["look", "a.dxf"]) == status
    printed = capsys.readouterr().err
    assert printed.startswith(said)
    assert "Traceback" not in printed


@pytest.mark.parametrize("command", ["look", "nest", "check"])
def test_each_command_is_told_once_where_kernels_are_kept(
    command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []

    def run(args: object) -> int:
        told.append("run")
        return 0

    real = cli._command(command)
    fake = SimpleNamespace(
        SUMMARY=real.SUMMARY,
        EXAMPLES=real.EXAMPLES,
        add_arguments=lambda parser: None,
        run=run,
    )
    monkeypatch.setattr(cli, "_command", lambda name: fake)
    monkeypatch.setattr(kernel_cache, "set_up", lambda: told.append("set up"))
    assert cli.run([command]) == 0
    assert told == ["set up", "run"]


def test_looking_loads_neither_qt_nor_numba() -> None:
    code = (
        "import sys; from drystone.app import cli; "
        "cli.run(['look', 'sample_parts/side.dxf', '--quiet']); "
        "print(sorted({'numba', 'PySide6'} & set(sys.modules)), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert done.stderr.splitlines()[-1] == "[]"


def test_a_missing_file_is_one_line_and_status_2() -> None:
    done = drystone("look", "no-such-drawing.dxf")
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith("no-such-drawing.dxf: ")


def test_json_of_look_parses() -> None:
    done = drystone("look", "--json", "sample_parts/side.dxf")
    assert done.returncode == 0
    assert json.loads(done.stdout)
