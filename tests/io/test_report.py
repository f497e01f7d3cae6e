"""The report's numbers, and cells that no spreadsheet runs."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace

import pytest

from drystone.io.blank_drawing import label_place
from drystone.io.names import clean_text, file_stem, unique_id
from drystone.io.report import build_report, cut_list_csv, plain_cell, report_json
from drystone.nesting.model.job import Cutting, Datum, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement, Reason, Unplaced
from drystone.nesting.model.stock import Stock


def a_job() -> Job:
    part = Part("lid", "lid", Outline(Loop.rectangle(100, 50)), quantity=4,
                material="MDF", thickness=9.0)  # fmt: skip
    stock = (Stock("s", "sheet", Outline(Loop.rectangle(400, 250)), price=12.5),)
    layout = Layout(
        (Blank("s"), Blank("s")),
        (
            Placement("lid", 1, 0, 10.0, 20.0),
            Placement("lid", 2, 0, 200.0, 20.0),
            Placement("lid", 3, 1, 150.0, 20.0, 90.0),
        ),
        (Unplaced("lid", 1, Reason.STOCK_USED_UP),),
    )
    return Job("Lids", (part,), stock, Cutting(datum=Datum.LOWER_RIGHT), layout=layout)


def test_the_report_adds_up() -> None:
    report = json.loads(
        report_json(
            build_report(a_job(), files=["a.dxf"], sections={"bound": {"n": 1}})
        )
    )
    assert report["totals"] == {
        "blanks": 2,
        "copies_wanted": 4,
        "copies_placed": 3,
        "part_area": 15000.0,
        "blank_area": 200000.0,
        "yield": 0.075,
        "stock_price": 25.0,
    }
    assert report["stock_used"] == [{"stock": "s", "name": "sheet", "count": 2}]
    assert report["unplaced"] == [
        {"part": "lid", "count": 1, "reason": "stock used up"}
    ]
    assert report["bound"] == {"n": 1}
    first = report["blanks"][0]["placements"][0]
    assert (first["x"], first["y"]) == (-390.0, 20.0)  # from the lower right corner
    job = a_job()
    moved = replace(job, cutting=replace(job.cutting, offset=(430.0, 7.5)))
    first = build_report(moved)["blanks"][0]["placements"][0]
    assert (first["x"], first["y"]) == (40.0, 27.5)  # that corner is 430 from the stops


def test_the_cut_list_counts_copies_on_each_blank() -> None:
    data = cut_list_csv(a_job())
    assert data.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"))))
    assert [(row["blank"], row["copies"]) for row in rows] == [
        ("1", "2"), ("2", "1"), ("", "1"),
    ]  # fmt: skip
    assert rows[0]["length_mm"] == "100.000"
    assert rows[2]["note"] == "not placed: stock used up"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", " =1", "\t=1", "\r=1"])
def test_no_cell_is_a_formula(text: str) -> None:
    assert plain_cell(text) == f"'{text}"
    job = a_job()
    job = replace(job, parts=(replace(job.parts[0], name=text, material=text),))
    rows = list(csv.reader(io.StringIO(cut_list_csv(job).decode("utf-8-sig"))))
    for row in rows:
        for cell in row:
            assert cell.lstrip()[:1] not in ("=", "+", "-", "@")


def test_other_cells_stay() -> None:
    assert [plain_cell(text) for text in ("", "a=b", "12.5")] == ["", "a=b", "12.5"]


@pytest.mark.parametrize(
    ("name", "stem"),
    [
        ("Bird boxes for the school garden", "Bird-boxes-for-the-school-garden"),
        (
            "Bird boxes and planters for the school garden",
            "Bird-boxes-and-planters-for-the-school",
        ),
        ("../../etc/x", "etc-x"),
        ("Vögel & Käfer", "Vogel-Kafer"),
        ("CON", "CON-job"),
        ("💡", "job"),
        ("", "job"),
        ("a" * 500, "a" * 40),
        ("x\x00y\n.", "x-y"),
    ],
)
def test_file_names(name: str, stem: str) -> None:
    assert file_stem(name) == stem


def test_ids_do_not_collide() -> None:
    assert unique_id("Side", {"side", "side-2"}, "part") == "side-3"


def test_text_on_one_line() -> None:
    assert clean_text("a\nb\x00c\u202e \ud800d\t  e") == "a b c d e"
    assert len(clean_text("x" * 10_000)) == 200


def test_a_label_lies_in_the_part_not_in_its_hole() -> None:
    ring = Outline(Loop.circle(0, 0, 100), (Loop.circle(0, 0, 80),))
    (x, y), height = label_place(ring, 1.0)
    assert 80.0 < (x * x + y * y) ** 0.5 < 100.0
    # A square of height h fits a circle of radius 10 when h is 10 times root 2.
    assert height == pytest.approx(14.14, abs=1.5)


def test_a_long_label_goes_where_it_fits() -> None:
    """A frame with narrow posts and a broad bar below: the bar takes the text."""
    frame = Outline(Loop.rectangle(400, 300), (Loop.rectangle(360, 200, 20, 80),))
    (x, y), height = label_place(frame, 8.0)
    assert 8.0 * height / 2.0 < x < 400.0 - 8.0 * height / 2.0
    assert height / 2.0 < y < 80.0 - height / 2.0
    assert height > 20.0
