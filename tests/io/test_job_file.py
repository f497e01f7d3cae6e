"""Job files hold everything, exactly, and say what is wrong with them."""

from __future__ import annotations

import json
import math
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from drystone.io.job_file import decode_job, encode_job, read_job, write_job
from drystone.io.job_migrations import Document, migrate
from drystone.io.job_schema import VERSION
from drystone.nesting.model.breakdown import Breakdown, Piece, SawCut, SawStage
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment
from drystone.nesting.model.errors import DrystoneError, InputError, OutputError
from drystone.nesting.model.holding import Holding, ReliefKind, TabRule
from drystone.nesting.model.job import Cutting, Datum, Job, Objective
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout, Placement, Reason, Unplaced
from drystone.nesting.model.rules import CleanFace, Grain, TurnKind, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock


def round_part(key: str, quantity: int = 2) -> Part:
    """Return a part with every kind of curve and mark."""
    edge = Loop(
        (
            Line((0.0, 0.0), (100.0, 0.0)),
            Arc((100.0, 20.0), 20.0, -90.0, 180.0),
            Line((100.0, 40.0), (1 / 3, 40.0)),
            Cubic((1 / 3, 40.0), (-10.0, 30.0), (-10.0, 10.0), (0.0, 0.0)),
        )
    )
    return Part(
        id=key,
        name=f"Roof ✿ {key}",
        outline=Outline(edge, (Loop.circle(50, 20, 8),)),
        marks=(
            Mark(Operation.DRILL, Loop.circle(80, 20, 2).segments, "holes"),
            Mark(Operation.ENGRAVE, (Line((10.0, 10.0), (20.0, 15.1)),)),
        ),
        quantity=quantity,
        material="birch plywood",
        thickness=12.0,
        turn=TurnRule(TurnKind.GRAIN, part_grain="y"),
        flip=True,
        priority=3,
        source="roof.dxf",
        relief=ReliefKind.T_BONE,
        tabs=False,
    )


SAWN = Breakdown(
    (1525.0, 1525.0),
    3.0,
    (SawCut(SawStage.RIP, (762.5, 0.0), (762.5, 1525.0), 761.0),),
    (
        Piece(0.0, 0.0, 761.0, 1525.0),
        Piece(764.0, 0.0, 761.0, 1525.0, (KeepOut(Loop.circle(9, 9, 6), "knot"),)),
    ),
    ((20.0, 1 / 3),),
)


def whole_job() -> Job:
    """Return a job in which nothing has its default."""
    edge = Loop.polygon(
        [(0, 0), (800, 0), (800, 300), (300, 300), (300, 600), (0, 600)]
    )
    return Job(
        name="Bird boxes",
        parts=(
            round_part("roof"),
            replace(round_part("side", 4), turn=TurnRule.listed((0, 45.5))),
        ),
        stock=(
            Stock(
                id="ply",
                name="Birch 12",
                outline=Outline(Loop.rectangle(1525, 1525)),
                material="birch plywood",
                thickness=12.0,
                grain=Grain.WIDTH,
                price=48.5,
                count=3,
                keep_outs=(KeepOut(Loop.circle(20, 20, 6), "screw", 2.5),),
            ),
            Stock(
                id="half",
                name="Half",
                outline=Outline(Loop.rectangle(761, 1525)),
                sheet=Stock("whole", "Whole", Outline(Loop.rectangle(1525, 1525))),
                per_sheet=2,
                kerf=3.0,
                breakdown=SAWN,
            ),
            Stock("l", "L offcut", Outline(edge), count=None, offcut=True),
        ),
        cutting=Cutting(
            3.175,
            0.5,
            10.0,
            Datum.UPPER_RIGHT,
            use_holes=False,
            clean=CleanFace.TOP,
            offset=(30.0, -4.5),
            keep_side=120.0,
            keep_square=250.5,
            keep_neck=80.0,
        ),
        bed=(800.0, 600.0),
        units="in",
        objective=Objective.LEAST_COST,
        layout=Layout(
            blanks=(Blank("ply"), Blank("l")),
            placements=(
                Placement("roof", 1, 0, 100.1, 200.2, 90.0, locked=True),
                Placement("roof", 2, 1, 30.0, 1e-17, 12.345678901234567, flipped=True),
            ),
            unplaced=(Unplaced("side", 4, Reason.STOCK_USED_UP),),
        ),
        relief=ReliefKind.DOG_BONE,
        holding=Holding(TabRule.SMALL, 4, 12.5, drop_outs=True),
        layers=(("VENT", "inside"), ("#ff0000", "nothing")),
        id="0123abcd",
    )


def damaged(change: Any) -> bytes:
    """Return a job file after `change` was made to its JSON."""
    document = json.loads(encode_job(whole_job()))
    change(document)
    return json.dumps(document).encode()


def test_everything_comes_back(tmp_path: Path) -> None:
    job = whole_job()
    write_job(tmp_path / "a.drystone", job)
    back = read_job(tmp_path / "a.drystone")
    assert back == job
    assert encode_job(back) == encode_job(job)
    assert back.id == "0123abcd"
    assert replace(back, name="Other").id == back.id, "it lasts"
    assert whole_job() == replace(whole_job(), id="other"), "and tells no difference"


def usual(cutting: Cutting) -> Cutting:
    """The set-up as an early file holds it: what it does not know is as usual."""
    return Cutting(
        cutting.cutter,
        cutting.allowance,
        cutting.margin,
        cutting.datum,
        cutting.use_holes,
    )


def test_a_file_of_version_1_is_read_as_ever() -> None:
    """It knows neither relief nor tabs nor screws, and gets the defaults."""
    job = read_job(Path(__file__).parents[1] / "data" / "job_version_1.drystone")
    new = whole_job()
    plain = tuple(replace(part, relief=None, tabs=None) for part in new.parts)
    board, _, offcut = new.stock
    circle = replace(board.keep_outs[0], clearance=0.0)
    assert job == replace(
        new,
        parts=plain,
        stock=(replace(board, keep_outs=(circle,)), offcut),
        relief=ReliefKind.NONE,
        holding=Holding(),
        layers=(),
        cutting=usual(new.cutting),
    )


def test_a_file_of_version_2_gets_a_lasting_id() -> None:
    """It knows no break-down, no clean face and no id; its copies get the same one."""
    path = Path(__file__).parents[1] / "data" / "job_version_2.drystone"
    job = read_job(path)
    new = whole_job()
    board, half, offcut = new.stock
    assert job == replace(
        new,
        stock=(board, replace(half, breakdown=None), offcut),
        holding=replace(new.holding, drop_outs=False),
        cutting=usual(new.cutting),
    )
    assert len(job.id) == 32
    assert read_job(path).id == job.id
    changed = json.loads(path.read_bytes()) | {"name": "Another job"}
    assert decode_job(json.dumps(changed).encode(), "f").id != job.id


def test_the_file_says_what_it_is() -> None:
    document = json.loads(encode_job(whole_job()))
    assert document["format"] == "drystone job"
    assert document["version"] == VERSION
    assert document["parts"][0]["outline"]["outer"][1] == [
        "a", 100.0, 20.0, 20.0, -90.0, 180.0,
    ]  # fmt: skip


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_odd_numbers_are_not_written(tmp_path: Path, value: float) -> None:
    job = whole_job()
    layout = replace(job.layout, placements=(Placement("roof", 1, 0, value, 0.0),))
    with pytest.raises(OutputError, match="holds the number"):
        write_job(tmp_path / "a.drystone", replace(job, layout=layout))
    assert list(tmp_path.iterdir()) == []


def test_a_name_from_undecodable_bytes_does_not_keep_a_job_from_being_saved() -> None:
    part = replace(round_part("a"), source="roof\udcff.dxf")
    (back,) = decode_job(encode_job(Job("j\ud800", (part,)))).parts
    assert back.source == "roof?.dxf"


def test_a_newer_file_is_refused_by_its_version() -> None:
    def change(document: dict[str, Any]) -> None:
        document["version"] = VERSION + 1
        document["parts"] = "something this program cannot know"

    with pytest.raises(InputError) as caught:
        decode_job(damaged(change), "garden.drystone")
    message = str(caught.value)
    assert f"format version {VERSION + 1}" in message
    assert message.startswith("garden.drystone: ")


def rename_steps() -> dict[int, Any]:
    """Return two made-up steps, as a later program would have them."""

    def first(document: Document) -> Document:
        document["name"] = document.pop("title")
        return document

    def second(document: Document) -> Document:
        document["name"] = document["name"].upper()
        return document

    return {1: first, 2: second}


def test_an_older_file_is_brought_up_step_by_step() -> None:
    old = {"version": 1, "title": "boxes"}
    new = migrate(old, "f", newest=3, steps=rename_steps())
    assert new == {"version": 3, "name": "BOXES"}


def test_a_missing_step_is_said() -> None:
    with pytest.raises(InputError, match="format version 0 is not known"):
        decode_job(damaged(lambda d: d.update(version=0)), "f")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.pop("parts"), "is damaged: object missing required field parts"),
        (lambda d: d.update(colour="red"), "colour"),
        (lambda d: d["parts"][0].update(quantity="two"), "at .parts[0].quantity"),
        (lambda d: d["parts"][0].update(quantity=-2), "quantity is -2"),
        (lambda d: d["parts"][0]["outline"]["outer"].pop(), "a loop is open by"),
        (lambda d: d["parts"][0]["outline"]["outer"][0].append(1), "at most length"),
        (lambda d: d["parts"][0]["outline"]["outer"][0].pop(), "at least length"),
        (lambda d: d["parts"][0]["outline"].update(outer=[]), "a curve is empty"),
        (lambda d: d["parts"][0]["outline"].update(holes=[[["a", 0, 0, 0, 0, 360]]]),
         "an arc has radius 0 mm"),
        (lambda d: d["parts"].append(d["parts"][0]), "share the id 'roof'"),
        (lambda d: d["cutting"].update(datum="middle"), "unknown word 'middle'"),
        (lambda d: d["layout"].update(blanks=["ply", "x"]), "a blank is of stock 'x'"),
        (lambda d: d["layout"]["placements"][0].update(blank=2), "is on blank 2"),
        (lambda d: d["layout"]["placements"][0].update(part="x"), "of part 'x'"),
        (lambda d: d["layout"]["unplaced"][0].update(part="x"), "holds part 'x'"),
        (lambda d: d["layout"]["unplaced"][0].update(reason="why"), "'why'"),
        (lambda d: d.update(units="furlong"), "unknown unit 'furlong'"),
        (lambda d: d.update(format="other"), "is not a Drystone job file"),
        (lambda d: d.update(version="1"), "is not a Drystone job file"),
    ],
)  # fmt: skip
def test_damage_is_said_in_one_line(change: Any, words: str) -> None:
    with pytest.raises(DrystoneError) as caught:
        decode_job(damaged(change), "garden.drystone")
    message = str(caught.value)
    assert words in message
    assert message.startswith("garden.drystone: ")
    assert "\n" not in message


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\x00\x01",
        b"[]",
        b"null",
        b"{",
        b"[" * 100_000,
        b'{"a":' * 100_000,
        b"\xff",
    ],
)
def test_other_files_are_refused(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "x.drystone"
    path.write_bytes(data)
    with pytest.raises(InputError, match="is not a Drystone job file"):
        read_job(path)


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999", "null"])
def test_odd_numbers_are_not_read(number: str) -> None:
    text = encode_job(whole_job()).decode().replace("100.1", number)
    with pytest.raises(InputError):
        decode_job(text.encode(), "f")


def test_a_cut_off_file_is_refused() -> None:
    data = encode_job(whole_job())
    for length in range(0, len(data) - 2, 97):
        with pytest.raises(InputError):
            decode_job(data[:length], "f")


def test_a_missing_file_and_a_directory_are_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no such file"):
        read_job(tmp_path / "none.drystone")
    with pytest.raises(InputError, match="is a directory"):
        read_job(tmp_path)


def test_damage_in_a_part_is_said_with_its_place() -> None:
    """Parts are read one by one; the place is that in the whole file all the same."""
    data = damaged(lambda d: d["parts"][1].update(quantity="four"))
    with pytest.raises(InputError, match=r"int, got str at \.parts\[1\]\.quantity"):
        decode_job(data, "f")
    data = damaged(lambda d: d["parts"].__setitem__(1, 5))
    with pytest.raises(InputError, match=r"got int at \.parts\[1\]"):
        decode_job(data, "f")


def test_others_may_go_first_before_each_part() -> None:
    calls: list[int] = []
    data = encode_job(whole_job(), lambda: calls.append(1))
    assert len(calls) == 2 and data == encode_job(whole_job())


def test_letters_that_cannot_be_decoded_are_damage() -> None:
    data = encode_job(whole_job())
    bad = data.replace(b'"parts":[{"id":"', b'"parts":[{"id":"\xff\xfe', 1)
    assert bad != data
    with pytest.raises(InputError, match=r"garden\.drystone: is damaged"):
        decode_job(bad, "garden.drystone")


@pytest.mark.benchmark
def test_a_large_job_opens_quickly(tmp_path: Path) -> None:
    """Print the time for 1,000 parts of 100 segments each, all placed."""
    steps = [(100 + 90 * math.cos(a / 50 * math.pi), 90 * math.sin(a / 50 * math.pi))
             for a in range(100)]  # fmt: skip
    edge: list[Segment] = list(Loop.polygon(steps).segments)
    outline = Outline(Loop(tuple(edge)), (Loop.circle(100, 0, 10),))
    parts = tuple(Part(str(n), str(n), outline) for n in range(1000))
    stock = (Stock("s", "s", Outline(Loop.rectangle(1525, 1525))),)
    placed = tuple(Placement(str(n), 1, 0, 1.5 * n, n / 3) for n in range(1000))
    job = Job("large", parts, stock, layout=Layout((Blank("s"),), placed))
    path = tmp_path / "large.drystone"
    begin = time.perf_counter()
    write_job(path, job)
    middle = time.perf_counter()
    assert read_job(path) == job
    end = time.perf_counter()
    print(
        f"\n1,000 parts, {path.stat().st_size / 1e6:.1f} MB: "
        f"written in {middle - begin:.2f} s, read in {end - middle:.2f} s"
    )
