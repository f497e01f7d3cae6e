"""The rack, also under fault."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from drystone.io.rack import (
    Rack,
    RackBoard,
    is_booking_of,
    outline_of,
    outline_text,
    rack_number,
)
from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.errors import InputError, OutputError
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.rules import Grain

BOARD = RackBoard(
    Outline(
        Loop(
            (
                Line((0, 0), (0.1 + 0.2, 0)),
                Arc((0.1 + 0.2, 10), 10, -90, 180),
                Cubic((0.1 + 0.2, 20), (0.2, 19), (0.1, 21), (0, 20)),
                Line((0, 20), (0, 0)),
            )
        ),
        (Loop.circle(3, 10, 1),),
    ),
    "birch plywood",
    12.0,
    Grain.WIDTH,
    "half moon",
    "wall, left",
    "2026-05-04",
    3.5,
)
PLAIN = RackBoard(Outline(Loop.rectangle(300, 200)), "ply", 6.0, date="2026-05-05")


def test_a_board_comes_back_exactly(tmp_path: Path) -> None:
    path = tmp_path / "deep" / "rack.sqlite"
    with Rack(path) as rack:
        number = rack.add(BOARD)
    with Rack(path) as rack:
        (found,) = rack.boards()
    assert found.id == number
    assert found.outline == BOARD.outline
    assert (found.grain, found.place, found.value) == (Grain.WIDTH, "wall, left", 3.5)
    stock = found.as_stock()
    assert stock.offcut
    assert stock.count == 1
    assert rack_number(stock.id) == number
    assert rack_number("sheet") is None


def test_a_job_is_committed_once_and_can_be_undone(tmp_path: Path) -> None:
    with Rack(tmp_path / "r") as rack:
        first, second = rack.add(BOARD), rack.add(PLAIN)
        number = rack.commit("key", "boxes", [first], [PLAIN, PLAIN])
        assert [b.id for b in rack.boards()] == [second, 3, 4]
        with pytest.raises(InputError, match=r"number 1 \(boxes, .*undo number 1"):
            rack.commit("key", "boxes", [], [])
        rack.undo(number)
        assert [b.id for b in rack.boards()] == [first, second]
        with pytest.raises(InputError, match="not there to undo"):
            rack.undo(number)
        rack.commit("key", "boxes", [first], [])
        assert [job.undone for job in rack.jobs()] == [True, False]


def test_a_job_that_was_cut_again_is_booked_beside_itself(tmp_path: Path) -> None:
    with Rack(tmp_path / "r") as rack:
        first = rack.commit("key", "boxes", [], [PLAIN])
        second = rack.commit("key", "boxes", [], [PLAIN], again=True)
        third = rack.commit("key", "boxes", [], [], again=True)
        assert [job.key for job in rack.jobs()] == ["key", "key/2", "key/3"]
        rack.undo(first)
        with pytest.raises(InputError, match="before, as number 2"):
            rack.commit("key", "boxes", [], [])
        rack.undo(second)
        rack.undo(third)
        rack.commit("key", "boxes", [], [])
        rack.commit("key2", "a key that only looks alike", [], [])
        standing = [job.id for job in rack.jobs() if is_booking_of(job, "key")]
        assert standing == [4]


def test_a_board_is_never_spent_twice(tmp_path: Path) -> None:
    with Rack(tmp_path / "r") as one, Rack(tmp_path / "r") as two:
        number, other = one.add(BOARD), one.add(PLAIN)
        one.commit("a", "a", [number], [])
        with pytest.raises(InputError, match="lay the parts out again"):
            two.commit("b", "b", [other, number], [PLAIN])
        assert [b.id for b in two.boards()] == [other]
        with pytest.raises(InputError, match="one board twice"):
            one.commit("c", "c", [other, other], [])
        one.remove(other)
        assert one.boards() == ()
        with pytest.raises(InputError, match="does not stand on the rack"):
            one.remove(other)


def test_leftovers_in_use_cannot_be_undone(tmp_path: Path) -> None:
    with Rack(tmp_path / "r") as rack:
        number = rack.add(BOARD)
        first = rack.commit("a", "a", [number], [PLAIN])
        (kept,) = rack.boards()
        rack.commit("b", "b", [kept.id], [])
        with pytest.raises(InputError, match="does not stand"):
            rack.undo(first)
        assert [job.undone for job in rack.jobs()] == [False, False]


def test_other_files_are_refused(tmp_path: Path) -> None:
    junk = tmp_path / "junk"
    junk.write_bytes(b"no database at all" * 100)
    with pytest.raises(InputError, match="is no rack"):
        Rack(junk)
    other = sqlite3.connect(tmp_path / "other")
    other.execute("CREATE TABLE x (y)")
    other.close()
    with pytest.raises(InputError, match="is no rack"):
        Rack(tmp_path / "other")
    newer = sqlite3.connect(tmp_path / "newer")
    newer.execute("PRAGMA user_version = 9")
    newer.close()
    with pytest.raises(InputError, match="newer program"):
        Rack(tmp_path / "newer")
    with pytest.raises(OutputError, match="cannot be opened"):
        Rack(tmp_path)


@pytest.mark.parametrize("text", ["", "[]", "[[[1, 2]]]", "[[[0, 0, 1, 1]]]", "{}"])
def test_damaged_outlines_are_refused(text: str) -> None:
    with pytest.raises(InputError, match="damaged"):
        outline_of(text)
    assert outline_of(outline_text(BOARD.outline)) == BOARD.outline


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and kill -9")
@pytest.mark.parametrize("fault", ["kills", "undos", "races", "full"])
def test_under_fault(fault: str, tmp_path: Path) -> None:
    """200 commits and 24 undos killed at any point, 24 races, a disk full at 40."""
    script = Path(__file__).with_name("rack_faults.py")
    run = subprocess.run(
        [sys.executable, "-W", "error", str(script), fault, str(tmp_path / "rack")],
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert run.returncode == 0, run.stdout + run.stderr
