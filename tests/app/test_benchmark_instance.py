"""Instances that cannot be used are refused in one sentence before any search."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

import pytest

from drystone.app.benchmark_instance import checked_instance, read_instance
from drystone.nesting.model.errors import InputError, InputErrors

TRIANGLE = [[0, 0], [40, 0], [0, 30]]
GOOD: dict[str, Any] = {
    "name": "school garden",
    "kind": "bins",
    "sheets": [{"w": 100, "h": 80, "cost": 7, "available": None}],
    "rotations_deg": [0, 90],
    "known_optimum": {"bins": 1, "evidence": "cut from one"},
    "pieces": [
        {"id": "roof", "demand": 2, "outer": TRIANGLE, "holes": []},
        {"id": 7, "w": 45, "h": 20},
    ],
}
HOLE = [[5, 5], [10, 5], [5, 10]]


def changed(path: str, value: Any) -> dict[str, Any]:
    """The good instance with one thing set; ``del`` takes it out."""
    data = copy.deepcopy(GOOD)
    place: Any = data
    *way, last = [int(key) if key.isdigit() else key for key in path.split("/")]
    for key in way:
        place = place[key]
    if value == "del":
        del place[last]
    else:
        place[last] = value
    return data


def test_a_good_one_comes_out_as_the_engine_takes_it() -> None:
    found = checked_instance(GOOD, "a.json")
    assert found["sheets"] == [{"w": 100.0, "h": 80.0, "cost": 7.0}]
    assert found["rotations_deg"] == [0.0, 90.0]
    assert found["known_optimum"] == {"bins": 1.0}
    assert found["pieces"][0]["outer"] == TRIANGLE
    assert found["pieces"][1] == {"id": 7, "demand": 1, "w": 45.0, "h": 20.0}
    assert checked_instance(found, "a.json") == found


def test_a_ring_that_repeats_its_first_point_loses_the_last() -> None:
    closed = [*TRIANGLE[:2], TRIANGLE[1], TRIANGLE[2], TRIANGLE[0]]
    found = checked_instance(changed("pieces/0/outer", closed), "a.json")
    assert found["pieces"][0]["outer"] == TRIANGLE
    found = checked_instance(changed("pieces/0/holes", [[*HOLE, HOLE[0]]]), "a.json")
    assert found["pieces"][0]["holes"] == [HOLE]


def test_null_turns_of_a_piece_are_free_whatever_the_others_may_do() -> None:
    found = checked_instance(changed("pieces/1/rotations_deg", None), "a.json")
    assert found["pieces"][1]["rotations_deg"] == "free"
    assert "rotations_deg" not in found["pieces"][0]
    found = checked_instance(changed("rotations_deg", None), "a.json")
    assert "rotations_deg" not in found


BAD = [
    ("kind", "heap", 'a.json: kind is \'heap\'; give "strip" or "bins"'),
    ("kind", "del", 'a.json: kind is missing; give "strip" or "bins"'),
    ("kind", "strip", "a.json: width is missing; give the strip's width"),
    ("sheets", "del", 'sheet is missing; give one of "sheet" and "sheets"'),
    ("sheets", [], "sheet is missing"),
    ("sheets", 5, "sheets is 5; give a list"),
    ("sheets", [5], "a.json, sheet 1: 5 is no object"),
    ("sheet", {"w": 1, "h": 1}, "sheet and sheets are given"),
    ("sheets/0/w", 0, "a.json, sheet 1: w is 0; give a number above 0"),
    ("sheets/0/w", "del", "a.json, sheet 1: w is missing; give a number above 0"),
    ("sheets/0/h", -5, "h is -5"),
    ("sheets/0/h", float("inf"), "h is inf"),
    ("sheets/0/h", float("nan"), "h "),
    ("sheets/0/h", 10**400, "h is "),
    ("sheets/0/h", True, "h is true"),
    ("sheets/0/h", "80", "h is '80'"),
    ("sheets/0/cost", -1, "cost is -1; give a number above 0"),
    ("sheets/0/available", 1.5, "available is 1.5; give a whole number"),
    ("sheets/0/available", 0, "no sheet is available"),
    ("sheets", [{"w": 9, "h": 9, "cost": 1}, {"w": 99, "h": 99}], "some have none"),
    ("rotations_deg", [], "rotations_deg is empty; give one angle at least"),
    ("rotations_deg", "frei", "rotations_deg is 'frei'; give a list of degrees"),
    ("rotations_deg", 90, "rotations_deg is 90; give a list of degrees"),
    ("rotations_deg", [0, "x"], "rotations_deg is [0, 'x']; give a list of degrees"),
    ("rotations_deg", [float("nan")], "rotations_deg holds the number nan"),
    ("pieces/0/rotations_deg", [], "a.json, piece 1: rotations_deg is empty"),
    ("pieces/0/rotations_deg", "frei", "a.json, piece 1: rotations_deg is 'frei'"),
    ("obstacles", [TRIANGLE], "obstacles cannot be laid out; take the obstacles out"),
    ("known_optimum", 5, "known_optimum is 5"),
    ("known_optimum", {"bins": "x"}, "bins is 'x'"),
    ("pieces", "del", "pieces is missing; give a list"),
    ("pieces", [], "it has no pieces"),
    ("pieces", ["a"], "a.json, piece 1: 'a' is no object"),
    ("pieces/1/id", "del", "piece 2: id is missing; give each piece a text"),
    ("pieces/1/id", "roof", "piece 2: another piece has the id 'roof' too"),
    ("pieces/0/id", "7", "piece 2: another piece has the id 7 too"),
    ("pieces/0/demand", 1.5, "demand is 1.5; give a whole number from 1"),
    ("pieces/0/demand", 0, "demand is 0; give a whole number from 1"),
    ("pieces/0/demand", 10**9, "demand is 1000000000"),
    ("pieces/0/demand", 100_000, "100001 copies are too many"),
    ("pieces/1/w", 0, "piece 2: w is 0"),
    ("pieces/1/w", -4, "piece 2: w is -4"),
    ("pieces/1/w", "del", 'piece 2: it has no outline; give "outer", or "w" and "h"'),
    ("pieces/1/w", 1e-9, "too thin"),
    ("pieces/1/w", 101, "piece 2: it fits nowhere in the turns it may have"),
    ("pieces/0/outer", [[0, 0], [40, 0]], "outer has fewer than three corners"),
    ("pieces/0/outer", [[0, 0], [4, 0], [0, 0]], "outer has fewer than three corners"),
    ("pieces/0/outer", [[0, 0], [4, 0], [9, 0]], "piece 1: "),
    ("pieces/0/outer", [[0, 0], [40, 0, 1], [0, 30]], "outer is [[0, 0]"),
    ("pieces/0/outer", [[0, 0], [40, 30], [40, 0], [0, 30]], "Self-intersection"),
    ("pieces/0/outer", [[0, 0], [float("nan"), 0], [0, 30]], "the number nan"),
    ("pieces/0/outer", [[0, 0], [1e300, 0], [0, 30]], "the number 1e+300"),
    ("pieces/0/holes", [[[50, 50], [60, 50], [50, 60]]], "piece 1: its outline"),
    ("pieces/0/holes", [HOLE, HOLE], "piece 1: its outline"),
    ("pieces/0/holes", [[[5, 5]]], "a hole has fewer than three corners"),
]


@pytest.mark.parametrize(
    ("path", "value", "words"), BAD, ids=[f"{p}-{str(v)[:20]}" for p, v, _ in BAD]
)
def test_what_cannot_be_used_is_said(path: str, value: Any, words: str) -> None:
    with pytest.raises(InputError) as caught:
        checked_instance(changed(path, value), "a.json")
    said = str(caught.value)
    assert words in said
    assert said.startswith("a.json")
    assert caught.value.what and caught.value.cure
    assert "\n" not in said and not isinstance(caught.value, InputErrors)


def test_strips_want_a_width() -> None:
    strip = {"kind": "strip", "width": 20, "pieces": [{"id": 0, "w": 30, "h": 20}]}
    assert checked_instance(strip, "a")["width"] == 20.0
    for width in (0, -1, float("inf"), float("nan"), None, "wide"):
        with pytest.raises(InputError, match="width"):
            checked_instance({**strip, "width": width}, "a")
    with pytest.raises(InputError, match="fits nowhere"):
        checked_instance({**strip, "width": 19, "rotations_deg": [0]}, "a")
    # Turned freely, it lies along the strip.
    upright = {**strip, "pieces": [{"id": 0, "w": 20, "h": 30}]}
    assert checked_instance({**upright, "rotations_deg": "free"}, "a")
    with pytest.raises(InputError, match="fits nowhere"):
        checked_instance({**upright, "width": 19, "rotations_deg": "free"}, "a")


@pytest.mark.parametrize("data", [None, [], 5, "text"])
def test_what_is_no_object_is_no_instance(data: object) -> None:
    with pytest.raises(InputError, match="not an instance"):
        checked_instance(data, "a.json")


@pytest.mark.parametrize(
    "written", [b"", b"{", b"\xff\xfe", b"[" * 100_000, b'{"kind": NaN}']
)
def test_files_that_cannot_be_read_are_named(written: bytes, tmp_path: Path) -> None:
    path = tmp_path / "bad.json"
    path.write_bytes(written)
    with pytest.raises(InputError, match=r"bad\.json"):
        read_instance(path)
    with pytest.raises(InputError, match="no"):
        read_instance(tmp_path / "no.json")


def test_a_file_is_read(tmp_path: Path) -> None:
    path = tmp_path / "good.json"
    path.write_text(json.dumps(GOOD))
    assert len(read_instance(path)["pieces"]) == 2
