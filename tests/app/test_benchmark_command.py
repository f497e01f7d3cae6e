"""The benchmark command solves an instance, or says why it cannot."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from drystone.app import kernel_cache
from drystone.app.cli import run
from drystone.nesting import benchmark

SQUARES = {
    "name": "squares",
    "kind": "bins",
    "sheet": {"w": 100, "h": 100},
    "rotations_deg": [0],
    "known_optimum": {"bins": 1},
    "pieces": [{"id": "a", "demand": 4, "w": 45, "h": 45}],
}


@pytest.fixture
def instance(tmp_path: Path) -> Path:
    path = tmp_path / "squares.json"
    path.write_text(json.dumps(SQUARES))
    return path


def test_a_solution_is_written_and_told(
    instance: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = instance.with_name("out.json")
    words = ["benchmark", str(instance), "--seconds", "3", "--solution", str(out)]
    assert run(words) == 0
    assert (
        "squares: 1 sheet, density 81.00 %, proven best; optimum 1"
        in capsys.readouterr().out
    )
    solution = json.loads(out.read_text())
    assert solution["bins"] == 1
    assert len(solution["placements"]) == 4


def test_costs_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mixed = {**SQUARES, "sheets": [{"w": 100, "h": 100, "cost": 7}]}
    mixed["sheets"] = [*mixed["sheets"], {"w": 50, "h": 50, "cost": 1, "available": 2}]
    del mixed["sheet"], mixed["known_optimum"]
    path = tmp_path / "mixed.json"
    path.write_text(json.dumps(mixed))
    assert run(["benchmark", str(path), "--seconds", "3"]) == 0
    assert "squares: 1 sheet, cost 7, density" in capsys.readouterr().out


@pytest.mark.parametrize("text", ["", "[]", '{"pieces": []}', '{"pieces": [{}]}'])
def test_what_is_no_instance_is_refused(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "bad.json"
    path.write_text(text)
    assert run(["benchmark", str(path), "--seconds", "1"]) == 2
    assert "bad.json" in capsys.readouterr().err


def test_a_missing_file_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["benchmark", "nowhere.json"]) == 2
    assert "nowhere.json" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"kind": "heap"}, "kind is 'heap'"),
        ({"sheet": {"w": 0, "h": 5}}, "sheet: w is 0; give a number above 0"),
        ({"obstacles": [[[1, 1], [2, 1], [1, 2]]]}, "take the obstacles out"),
        ({"pieces": [{"id": "a", "w": 200, "h": 5}]}, "piece 1: it fits nowhere"),
    ],
)
def test_what_is_wrong_is_one_line(
    change: dict[str, Any],
    words: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "bad.json"
    path.write_text(json.dumps({**SQUARES, **change}))
    assert run(["benchmark", str(path), "--seconds", "1"]) == 2
    said = capsys.readouterr().err
    assert words in said
    assert said.count("\n") == 1


def test_a_rectangle_that_would_fit_aslant_only_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "aslant.json"
    piece = {"id": "a", "w": 120, "h": 5}
    path.write_text(json.dumps({**SQUARES, "rotations_deg": "free", "pieces": [piece]}))
    assert run(["benchmark", str(path), "--seconds", "1"]) == 2
    said = capsys.readouterr().err
    assert "aslant.json: a" in said and " fits on no" in said


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--seconds", "0", "give more than 0"),
        ("--seconds", "nan", "give more than 0"),
        ("--seconds", "inf", "give more than 0"),
        ("--workers", "0", "give 1 or more"),
        ("--seed", "-1", "give 0 to 2147483647"),
        ("--seed", str(2**70), "give 0 to 2147483647"),
    ],
)
def test_options_that_make_no_sense_are_refused(
    option: str,
    value: str,
    words: str,
    instance: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["benchmark", str(instance), option, value]) == 2
    assert words in capsys.readouterr().err


def test_where_the_solution_goes_is_looked_at_before_the_search(
    instance: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def never(*args: object, **options: object) -> None:
        pytest.fail("searched first")

    monkeypatch.setattr(benchmark, "run_instance", never)
    for target, words in (
        (instance.with_name("none") / "out.json", "there is no folder"),
        (instance.parent, "it is a folder"),
    ):
        assert run(["benchmark", str(instance), "--solution", str(target)]) == 2
        assert words in capsys.readouterr().err


def test_compiling_is_told_of(
    instance: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def warm(say: Any) -> bool:
        say(kernel_cache.COMPILING)
        return True

    monkeypatch.setattr(kernel_cache, "warm", warm)
    assert run(["benchmark", str(instance), "--seconds", "3"]) == 0
    assert kernel_cache.COMPILING in capsys.readouterr().err
    assert run(["benchmark", str(instance), "--seconds", "3", "--quiet"]) == 0
    assert capsys.readouterr().err == ""


def test_a_layout_that_no_check_accepts_is_not_handed_out(
    instance: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(benchmark, "sound", lambda instance, solution: False)
    out = instance.with_name("out.json")
    words = ["benchmark", str(instance), "--seconds", "3", "--solution", str(out)]
    assert run(words) == 1
    assert "no layout that passes the check" in capsys.readouterr().err
    assert not out.exists()


@pytest.mark.skipif(sys.platform == "win32", reason="sends a signal")
@pytest.mark.parametrize("everyone", [False, True])
def test_an_interrupt_ends_the_searches_at_once(everyone: bool, tmp_path: Path) -> None:
    # To the first process alone, as `kill` does, or to all of them, as a terminal does.
    path = tmp_path / "long.json"
    ell = [[0, 0], [40, 0], [40, 10], [10, 11], [10, 30], [0, 30]]
    pieces = [{"id": k, "demand": 20, "outer": ell} for k in range(3)]
    strip = {"kind": "strip", "width": 100, "rotations_deg": [0], "pieces": pieces}
    path.write_text(json.dumps(strip))
    words = ["benchmark", str(path), "--seconds", "200", "--workers", "2"]
    with subprocess.Popen(
        [sys.executable, "-m", "drystone.app", *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    ) as started:
        children = _children(started.pid, 2)
        time.sleep(0.5)
        (os.killpg if everyone else os.kill)(started.pid, signal.SIGINT)
        _, said = started.communicate(timeout=60)  # far below 200 s
    assert started.returncode == 130
    assert said.splitlines()[-1:] == ["stopped"]
    assert "Traceback" not in said
    for child in children:
        assert not Path(f"/proc/{child}").exists()


def _children(parent: int, count: int) -> list[int]:
    """Wait until a process has so many children, and return them."""
    listed = Path(f"/proc/{parent}/task/{parent}/children")
    if not listed.exists():
        pytest.skip("this system does not list children")
    for _ in range(1200):
        found = [int(child) for child in listed.read_text().split()]
        if len(found) >= count:
            return found
        time.sleep(0.1)
    pytest.fail("the searches did not begin")
