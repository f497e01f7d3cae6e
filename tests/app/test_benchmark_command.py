"""The benchmark command solves an instance, or says why it cannot."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from drystone.app.cli import run

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
