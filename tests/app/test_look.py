"""``drystone look`` on drawings made for it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from ezdxf import filemanagement

from drystone.app import cli


@pytest.fixture
def plate(tmp_path: Path) -> Path:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 1
    msp = doc.modelspace()
    msp.add_lwpolyline([(0, 0), (12, 0), (12, 7.5), (0, 7.5)], close=True)
    msp.add_circle((3, 3), 1)
    msp.add_circle((6, 3), 0.08)
    msp.add_text("plate")
    path = tmp_path / "plate.dxf"
    doc.saveas(path)
    return path


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    status = cli.run(["look", *words])
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return status, out, err


def test_the_note(plate: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(capsys, str(plate))
    assert status == 0 and not err
    lines = out.splitlines()
    assert lines[0] == str(plate)
    assert lines[1] == "  Units: in (1 = 25.4 mm), the file says so."
    assert lines[2] == (
        "  Part 'plate': 304.8 x 190.5 mm (12 x 7-1/2 in), "
        "1 hole (1 of 50.8 mm round), 1 hole to drill."
    )
    assert any("which have no outline, left out: 1" in line for line in lines)
    assert any(line.startswith("  Guessed: small round holes") for line in lines)


def test_json(plate: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, str(plate), "--json")
    assert status == 0
    (drawing,) = json.loads(out)["drawings"]
    assert set(drawing) == {
        "file", "kind", "units", "bounds", "join_tolerance", "parts", "layers",
        "findings",
    }  # fmt: skip
    (part,) = drawing["parts"]
    assert part["size"] == pytest.approx([304.8, 190.5])
    assert [m["operation"] for m in part["marks"]] == ["DRILL"]
    codes = {f["code"] for f in drawing["findings"]}
    assert codes == {"dxf-text", "drill-guessed"}


def test_options(plate: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--units", "mm", "--drill-up-to", "3 mm", "--layer", "0=nothing", "--json"]
    status, out, _ = run(capsys, str(plate), *words)
    assert status == 0
    (drawing,) = json.loads(out)["drawings"]
    assert drawing["parts"][0]["size"] == [12, 7.5]
    assert len(drawing["parts"][0]["marks"]) == 2


@pytest.mark.parametrize(
    "words",
    [
        ["--units", "cubits"],
        ["--drill-up-to", "wide"],
        ["--layer", "A"],
        ["--layer", "A=paint"],
    ],
)
def test_bad_options_are_one_line(
    words: list[str], plate: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, err = run(capsys, str(plate), *words)
    assert status == 2
    assert not out
    assert len(err.splitlines()) == 1


def test_one_bad_file_does_not_hide_the_others(
    plate: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "photo.dxf").write_bytes(b"\x89PNG\r\n")
    status, out, err = run(capsys, str(tmp_path / "photo.dxf"), str(plate))
    assert status == 2
    assert "Part 'plate'" in out
    (line,) = err.splitlines()
    assert "is a PNG picture" in line


def test_no_part_is_status_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    doc: Any = filemanagement.new()
    doc.modelspace().add_line((0, 0), (100, 0))
    path = tmp_path / "open.dxf"
    doc.saveas(path)
    status, out, _ = run(capsys, str(path))
    assert status == 1
    assert "Not usable: there is no closed outline to cut" in out
