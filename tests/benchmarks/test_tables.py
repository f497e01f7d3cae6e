"""What the tables share is right, without running one for long."""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

import pytest

from . import all_tables, heading

HERE = Path(__file__).parent
SQUARES: dict[str, Any] = {
    "name": "squares",
    "kind": "bins",
    "sheet": {"w": 100, "h": 100},
    "rotations_deg": [0],
    "pieces": [{"id": "a", "demand": 4, "w": 45, "h": 45}],
}


def test_the_heading_names_machine_versions_date_and_limits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    info = tmp_path / "cpuinfo"
    info.write_text("processor\t: 0\nmodel name\t: Slow  Mill 3 @ 1 GHz\nflags\t: a\n")
    monkeypatch.setattr(heading, "CPUINFO", info)
    first, second = heading.heading("20 s, seeds 1 to 3").splitlines()
    assert first.startswith("Slow Mill 3 @ 1 GHz, ")
    for word in (f"{os.cpu_count()} cores", f"Python {platform.python_version()}"):
        assert word in first
    for package in ("numba", "numpy", "scipy", "shapely"):
        assert f"{package} {version(package)}" in first
    assert first.rsplit("; ", 1)[1].split()[-1].isdigit()  # the year
    assert second == "20 s, seeds 1 to 3"


def test_a_processor_without_a_name_is_no_empty_word(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(heading, "CPUINFO", tmp_path / "none")
    monkeypatch.setattr(platform, "processor", lambda: "")
    assert heading.processor() == "processor of unknown name"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Bins of which one has no known optimum."""
    (tmp_path / "bins").mkdir()
    for name, known in (("known", {"bins": 1}), ("unknown", None), ("other", {})):
        data = {**SQUARES, "known_optimum": known}
        (tmp_path / "bins" / f"{name}.json").write_text(json.dumps(data))
    return tmp_path


def test_bins_without_a_known_optimum_get_a_dash_and_all_tables_writes_it(
    folder: Path,
) -> None:
    out = folder / "out.md"
    words = [str(folder), "--quick", "--tables", "bins", "--out", str(out)]
    done = subprocess.run(
        [sys.executable, str(HERE / "all_tables.py"), *words],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    text = out.read_text()
    assert text.startswith("## Irregular bins\n\n`bench_bins.py bins --seconds 1")
    assert heading.processor() in text
    assert "| known | 1 | 1 | 1 |" in text
    assert "| unknown | 1 | 1 | - |" in text
    assert "| other | 1 | 1 | - |" in text
    assert "1 sheets, optima 1 (0.0 % above); at the optimum 1 of 1" in text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--tables", "strips-60"], "there are no instances"),
        (["--tables", "bins", "--check", "none.py"], "there is no program none.py"),
        (["--tables", "bins", "--out", "none/out.md"], "there is no folder none"),
    ],
)
def test_what_is_missing_is_noticed_before_hours_of_work(
    words: list[str], said: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        all_tables.arguments([str(folder), *words])
    assert said in capsys.readouterr().err


def test_every_table_has_its_script_and_takes_what_was_asked_for(folder: Path) -> None:
    check = HERE / "heading.py"
    words = [str(folder), "--tables", "bins", "--processor-time", "--check", str(check)]
    args = all_tables.arguments(words)
    for table in all_tables.TABLES.values():
        command = table.command(args)
        assert Path(command[1]).is_file()
        assert ("--check" in command) == bool(table.folder)
        assert ("--processor-time" in command) == table.clocked
