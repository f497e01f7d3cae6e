"""``drystone look`` on drawings made for it."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
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
        "1 hole (50.8 mm round), 1 hole to drill."
    )
    assert any(
        "  1 piece of text was left out, as text has no" in line for line in lines
    )
    assert any(
        line.startswith("  Guessed: 1 small round hole was taken as a hole to drill")
        for line in lines
    )


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


def test_a_known_width_and_a_colour(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" fill="none" stroke="black">'
        '<rect width="240" height="160"/><rect x="20" y="20" width="60" height="40" '
        'stroke="red"/></svg>'
    )
    words = [str(path), "--known-width", "120mm", "--layer", "red=pocket"]
    status, out, err = run(capsys, *words)
    assert (status, err) == (0, "")
    assert "  Units: 1 drawing unit = 0.5 mm, by the size you gave." in out
    assert "  Part 'a': 120 x 80 mm, 1 pocket." in out
    assert (
        "  Layers: 1 shape on no layer in #000000, 1 shape on no layer in #ff0000"
        in out
    )
    status, out, _ = run(capsys, *words, "--json")
    (drawing,) = json.loads(out)["drawings"]
    assert drawing["units"]["basis"] == "known size"
    assert [(u["colour"], u["work"], u["told"]) for u in drawing["layers"]] == [
        ("#000000", None, False),
        ("#ff0000", "pocket", True),
    ]


def test_a_layer_that_is_not_there_is_told(
    plate: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, _, err = run(capsys, str(plate), "--layer", "VENT=inside")
    assert status == 1
    assert err == "drystone look: --layer VENT: nothing drawn has it\n"


def test_the_widest_gap_that_is_closed_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    corners = [(0, 0), (500, 0), (500, 300), (0, 300), (0, 0.04)]
    doc.modelspace().add_lwpolyline(corners)
    doc.saveas(tmp_path / "a.dxf")
    _, out, _ = run(capsys, str(tmp_path / "a.dxf"))
    assert "1 gap between line ends was closed (0.040 mm)" in out
    assert "gaps up to 0.05 mm are closed here; --join closes wider ones" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--known-width", "wide"], "--known-width: cannot read"),
        (["--known-width", "lid=5"], "no part 'lid'"),
        (["--known-width", "a=5", "--known-height", "b=5"], "another part"),
        (["--known-width", "5", "--units", "mm"], "one of them"),
        (["--units", "cubits"], "--units: unknown unit"),
        (["--join", "wide"], "--join: cannot read"),
        (["--layer", "A=paint"], "--layer: unknown work"),
    ],
)
def test_what_cannot_be_said(
    words: list[str], said: str, plate: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, err = run(capsys, str(plate), *words)
    assert (status, out) == (2, "")
    assert said in err and err.count("\n") == 1


def test_how_much_larger_a_drawing_may_be_is_checked(
    plate: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, _ = run(capsys, str(plate), "--limits", "4")
    assert status == 0 and "Part 'plate'" in out
    status, _, err = run(capsys, str(plate), "--limits", "11")
    assert status == 2
    assert err == "--limits: limits 11 times the usual; give 1 to 10\n"


def test_other_readings_come_with_their_sizes(
    plate: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = run(capsys, str(plate), "--json")
    (drawing,) = json.loads(out)["drawings"]
    others = {other["unit"]: other["largest"] for other in drawing["units"]["others"]}
    assert others["mm"] == pytest.approx([12.0, 7.5])


@pytest.mark.skipif(sys.platform == "win32", reason="no named pipes in the file system")
def test_ctrl_c_ends_reading_without_a_traceback(tmp_path: Path) -> None:
    # Whoever reads it waits for what never comes.
    pipe = tmp_path / "pipe.dxf"
    os.mkfifo(pipe)
    # A program started in the background may have been told to ignore Ctrl+C.
    code = (
        "import signal, sys\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from drystone.app.cli import run\n"
        "sys.exit(run(sys.argv[1:]))\n"
    )
    process = subprocess.Popen(
        [sys.executable, "-c", code, "look", str(pipe)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    try:
        with open(pipe, "wb"):  # it is being read now
            os.killpg(process.pid, signal.SIGINT)
            said, words = process.communicate(timeout=60)
    finally:
        process.kill()
    assert (process.returncode, said, words) == (130, "", "stopped\n")
