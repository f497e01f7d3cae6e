"""The rack on the command line."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from drystone.app.cli import run
from drystone.app.racking import outline_from_drawing
from drystone.io.job_file import read_job, write_job
from drystone.io.limits import Cancelled
from drystone.io.rack import Rack
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement


def test_a_board_goes_through_a_job(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Added, used, its leftover kept, and all of it undone."""
    at = ["--rack", str(tmp_path / "rack")]
    add = ["rack", "add", "800x500", "--material", "mdf", "--thickness", "12", *at]
    assert run([*add, "--value", "10"]) == 0
    assert "added 1" in capsys.readouterr().out
    with Rack(tmp_path / "rack") as rack:
        stock = rack.boards()[0].as_stock()
    part = Part("p", "p", Outline(Loop.rectangle(300, 450)), (), 1, "mdf", 12.0)
    layout = Layout((Blank(stock.id),), (Placement("p", 1, 0, 15, 15),))
    job = Job("boxes", (part,), (stock,), Cutting(), layout=layout)
    path = tmp_path / "boxes.drystone"
    write_job(path, job)
    assert run(["rack", "commit", str(path), *at]) == 0
    assert run(["rack", "list", "--json", *at]) == 0
    out = capsys.readouterr().out
    boards = json.loads(out[out.index("{") :])["boards"]
    assert [b["id"] for b in boards] == [2]
    assert boards[0]["width"] == pytest.approx(478.5, abs=1.0)
    assert 0 < boards[0]["value"] < 10
    assert run(["rack", "commit", str(path), *at]) == 2
    assert "committed before" in capsys.readouterr().err
    moved = tmp_path / "moved" / "other.drystone"
    moved.parent.mkdir()
    write_job(moved, replace(read_job(path), name="Called otherwise", layout=layout))
    assert run(["rack", "commit", str(moved), *at]) == 2
    said = capsys.readouterr().err
    assert "Called otherwise" in said and "number 1 (boxes" in said
    assert run(["rack", "commit", str(moved), "--again", *at]) == 2
    assert "rack 1: does not stand" in capsys.readouterr().err, "its board is spent"
    assert run(["rack", "undo", "1", *at]) == 0
    assert run(["rack", "list", *at]) == 0
    assert "800 × 500" in capsys.readouterr().out
    assert run(["rack", "jobs", *at]) == 0
    assert "(undone)" in capsys.readouterr().out
    write_job(path, replace(job, layout=Layout()))
    assert run(["rack", "commit", str(path), *at]) == 2


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (["add"], "what is missing"),
        (["add", "12"], "no size of a board"),
        (["remove", "x"], "is no number"),
        (["remove", "7"], "does not stand on the rack"),
        (["undo", "7"], "not there to undo"),
    ],
)
def test_mistakes_are_one_line(
    words: list[str], what: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["rack", *words, "--rack", str(tmp_path / "r")]) == 2
    assert what in capsys.readouterr().err
    assert run(["rack", "list", "--rack", str(tmp_path / "r")]) == 0
    assert "empty" in capsys.readouterr().out


def test_a_board_is_read_by_a_process_that_can_be_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "board.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="90mm" height="60mm" '
        'viewBox="0 0 90 60"><rect x="5" y="5" width="80" height="50"/></svg>'
    )
    with monkeypatch.context() as patched:
        # Nothing of the reader runs here, so breaking it here changes nothing.
        patched.setattr("drystone.io.read_guarded.look_at", None)
        patched.setattr("drystone.io.read_drawing.look_at", None)
        assert outline_from_drawing(path).bounds == pytest.approx((0, 0, 80, 50))
    with pytest.raises(Cancelled):
        outline_from_drawing(path, lambda: True)
