"""The PDF of all blanks beside the other files of an export: all of them, or none."""

from __future__ import annotations

from pathlib import Path

import pytest
from ezdxf.filemanagement import readfile

from drystone.app import cli
from drystone.app.exporting import export_job, pdf_of_blanks
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import Practice
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock

HOSTILE = "../../etc/x <b>&'\"\n=1+1|*?:`\x07 ä"


def a_job(name: str = "boxes") -> Job:
    part = Part(name, name, Outline(Loop.rectangle(60, 40), (Loop.circle(30, 20, 8),)))
    stock = Stock("s", name, Outline(Loop.rectangle(300, 200)))
    layout = Layout((Blank("s"),), (Placement(name, 1, 0, 20.0, 20.0),))
    return Job(name, (part,), (stock,), Cutting(), layout=layout)


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_it_stands_beside_the_combined_drawing(tmp_path: Path) -> None:
    out = tmp_path / "cut"
    extras = {"all-blanks.pdf": pdf_of_blanks(Practice())}
    export = export_job(a_job(), out, combined=True, extras=extras)
    assert {"boxes-all-blanks.pdf", "boxes-all-blanks.dxf"} <= names(out)
    assert out / "boxes-all-blanks.pdf" in export.files
    assert (out / "boxes-all-blanks.pdf").read_bytes().startswith(b"%PDF-")
    assert len(export.files) == len(names(out))


def test_if_it_cannot_be_made_nothing_is_written(tmp_path: Path) -> None:
    def broken(job: Job) -> bytes:
        raise OSError("no room")

    out = tmp_path / "cut"
    out.mkdir()
    (out / "mine.txt").write_text("kept")
    with pytest.raises(OSError, match="no room"):
        export_job(a_job(), out, extras={"all-blanks.pdf": broken})
    assert names(out) == {"mine.txt"}
    assert names(tmp_path) == {"cut"}


def test_names_that_would_harm_are_tamed_and_the_audit_finds_nothing(
    tmp_path: Path,
) -> None:
    out = tmp_path / "cut"
    extras = {"all-blanks.pdf": pdf_of_blanks(Practice(), fitted=True)}
    export_job(a_job(HOSTILE), out, combined=True, extras=extras)
    assert names(tmp_path) == {"cut"}
    drawings = list(out.glob("*.dxf"))
    assert len(drawings) == 2
    for path in out.iterdir():
        assert not set(path.name) & set('<>:"/\\|?*\n\x07')
    for path in drawings:
        auditor = readfile(path).audit()
        assert not auditor.errors and not auditor.fixes


@pytest.mark.parametrize(("word", "page"), [("true", b"907.0866"), ("fitted", b"595.")])
def test_the_command_line_adds_it(
    word: str, page: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawing = tmp_path / "plate.svg"
    drawing.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" '
        'viewBox="0 0 60 40"><rect width="60" height="40"/></svg>'
    )
    out = tmp_path / "cut"
    words = ["nest", drawing, "--sheet", "300x200", "--out", out, "--passes", 1]
    assert cli.run([*map(str, words), "--pdf", word]) == 0
    (path,) = out.glob("*all-blanks.pdf")
    assert page in path.read_bytes()
    assert "drawing of all blanks (PDF)" in capsys.readouterr().out
