"""The common road from a file to parts, on drawings made for one question each."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
import shapely
from ezdxf import filemanagement

from drystone.app.commands import look as look_command
from drystone.io import classify
from drystone.io.limits import Cancelled, Limits
from drystone.io.operations import Meaning, meaning_of
from drystone.io.read_drawing import ReadDrawing, look_at, read_drawing
from drystone.io.read_guarded import read_guarded
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.part import Operation

Fill = Callable[[Any], object]


@pytest.fixture
def look(tmp_path: Path) -> Callable[..., ReadDrawing]:
    def looker(fill: Fill, units: int = 4, **options: Any) -> ReadDrawing:
        return look_at(saved(tmp_path / "plate.dxf", fill, units), **options)

    return looker


def saved(path: Path, fill: Fill, units: int = 4) -> Path:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = units
    fill(doc.modelspace())
    doc.saveas(path)
    return path


def box(msp: Any, x: float, y: float, w: float, h: float, layer: str = "0") -> None:
    points = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
    msp.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})


def codes(read: ReadDrawing) -> dict[str, int]:
    return {f.code: f.count for f in read.findings}


def test_a_plate_with_holes_screws_and_a_line(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        box(msp, 10, 20, 200, 100)
        msp.add_circle((60, 70), 15)  # 30 mm: a hole
        msp.add_circle((30, 40), 2)  # 4 mm: only a drill fits
        msp.add_circle((190, 40), 2)
        msp.add_line((100, 40), (150, 40))

    read = look(fill)
    (part,) = read.parts
    assert part.name == "plate" and part.quantity == 1
    assert part.outline.bounds == (0, 0, 200, 100)
    assert read.origins == ((10, 20),)
    (hole,) = part.outline.holes
    assert hole.is_circle and hole.bounds == (35, 35, 65, 65)
    assert [m.operation for m in part.marks].count(Operation.DRILL) == 2
    assert [m.operation for m in part.marks].count(Operation.ENGRAVE) == 1
    assert codes(read) == {"drill-guessed": 2, "engrave-guessed": 1}


def test_the_drill_limit_can_be_moved(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 100, 100)
        msp.add_circle((50, 50), 4)

    assert len(look(fill).parts[0].outline.holes) == 1
    assert len(look(fill, drill_up_to=8.0).parts[0].marks) == 1


def test_layer_names_come_first(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 300, 200)
        box(msp, 20, 20, 50, 50, "Pocket 6mm")
        box(msp, 100, 20, 50, 50, "engraving")
        msp.add_circle((200, 50), 2, dxfattribs={"layer": "CUT_INSIDE"})
        msp.add_circle((250, 50), 10, dxfattribs={"layer": "drill-20"})
        box(msp, -50, -50, 500, 400, "SHEET")

    read = look(fill)
    (part,) = read.parts
    assert part.outline.size == (300, 200)
    assert len(part.outline.holes) == 1  # the small circle, by its layer
    assert sorted(m.operation.value for m in part.marks) == [
        "DRILL",
        "ENGRAVE",
        "POCKET",
    ]
    assert codes(read)["not-cut"] == 1


def test_the_users_word_on_a_layer(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 300, 200)
        box(msp, 20, 20, 50, 50, "VENT")
        box(msp, 120, 20, 50, 50, "POCKET")

    (part,) = look(fill, layers={"VENT": Meaning.POCKET, "POCKET": None}).parts
    assert [m.operation for m in part.marks] == [Operation.POCKET]
    assert len(part.outline.holes) == 1


def test_a_part_in_a_hole_is_a_part(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 300, 300)
        box(msp, 50, 50, 200, 200)
        box(msp, 100, 100, 100, 100)
        box(msp, 120, 120, 50, 50)

    read = look(fill)
    assert [p.outline.size for p in read.parts] == [(300, 300), (100, 100)]
    assert [len(p.outline.holes) for p in read.parts] == [1, 1]
    assert [p.name for p in read.parts] == ["plate 1", "plate 2"]
    assert codes(read) == {"part-in-hole": 1}


def test_names_from_blocks_and_layers(tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    box(doc.blocks.new("LEG"), 0, 0, 50, 200)
    for x in (0, 100):
        msp.add_blockref("LEG", (x, 0))
    box(msp, 300, 0, 100, 100, "Shelf")
    path = tmp_path / "stool.dxf"
    doc.saveas(path)
    read = look_at(path)
    assert [p.name for p in read.parts] == ["LEG 1", "LEG 2", "Shelf"]
    assert len({p.id for p in read.parts}) == 3


def test_hostile_names_are_tamed(tmp_path: Path) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 50, 200, "HOSTILE")
        box(msp, 100, 0, 50, 200)

    path = saved(tmp_path / "a.dxf", fill)
    name = "..\\..\\etc\x07=cmd()<b>" + "x" * 200
    path.write_bytes(path.read_bytes().replace(b"HOSTILE", name.encode()))
    parts = look_at(path).parts
    assert len(parts) == 2
    for part in parts:
        assert len(part.name) <= 64
        assert part.name.isprintable()
        assert set(part.id) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")


def test_doubled_outlines_are_one_part(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 100, 50)
        msp.add_lwpolyline([(0, 50), (100, 50), (100, 0), (0, 0)], close=True)
        msp.add_line((0, 0), (40, 0))  # on the edge
        msp.add_circle((50, 25), 10)
        msp.add_circle((50, 25), 10)

    read = look(fill)
    assert len(read.parts) == 1
    assert len(read.parts[0].outline.holes) == 1
    assert not read.parts[0].marks
    assert codes(read) == {"loop-doubled": 2, "line-doubled": 1}


def test_shapes_that_cross_each_other_are_reported(
    look: Callable[..., ReadDrawing],
) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 100, 100)
        box(msp, 50, 50, 100, 100)

    read = look(fill)
    assert len(read.parts) == 2
    assert codes(read) == {"loops-cross": 1}


def test_a_sheet_round_parts_is_no_part(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 2440, 1220)
        for x in (20, 400):
            box(msp, x, 20, 300, 200)
            msp.add_circle((x + 100, 100), 20)

    read = look(fill)
    assert [p.outline.size for p in read.parts] == [(300, 200)] * 2
    assert [len(p.outline.holes) for p in read.parts] == [1, 1]
    assert codes(read)["sheet-frame"] == 1


def test_a_plate_with_many_holes_is_a_part(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 300, 200)
        for x in range(5):
            box(msp, 20 + 50 * x, 20, 30, 30)

    (part,) = look(fill).parts
    assert len(part.outline.holes) == 5


def test_circles_drawn_in_other_ways_are_drilled_too(
    look: Callable[..., ReadDrawing],
) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 100, 100)
        msp.add_lwpolyline([(20, 20, 1), (25, 20, 1)], format="xyb", close=True)
        msp.add_arc((50, 50), 2.5, 0, 180)
        msp.add_arc((50, 50), 2.5, 180, 360)
        msp.add_ellipse((70, 70), (2.5, 0), 1.0)
        box(msp, 20, 60, 5, 5)  # a small square is no drilled hole

    (part,) = look(fill).parts
    assert [m.operation for m in part.marks] == [Operation.DRILL] * 3
    assert len(part.outline.holes) == 1


def test_lines_and_circles_outside_every_part_are_reported(
    look: Callable[..., ReadDrawing],
) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 100, 100)
        box(msp, 20, 20, 60, 60)
        msp.add_line((200, 0), (200, 50))
        msp.add_line((30, 50), (70, 50))  # in the hole: in the air
        msp.add_circle((300, 0), 2)

    read = look(fill)
    assert not read.parts[0].marks
    assert codes(read) == {"stray-line": 2, "stray-mark": 1}


def test_unknown_units_show_both_readings(look: Callable[..., ReadDrawing]) -> None:
    read = look(lambda msp: box(msp, 0, 0, 300, 200), units=0)
    finding = next(f for f in read.findings if f.code == "units-unknown")
    assert "300 x 200 mm if the unit is mm, as was taken" in finding.message
    assert "7620 x 5080 mm if it is inch" in finding.message
    assert "--units" in finding.message
    assert not read.units.sure


def test_the_user_may_say_the_unit(tmp_path: Path) -> None:
    path = saved(tmp_path / "a.dxf", lambda msp: box(msp, 0, 0, 30, 20), 0)
    read = look_at(path, "inches")
    assert read.parts[0].outline.size == pytest.approx((762, 508))
    assert read.units.sure and not codes(read)
    with pytest.raises(InputError, match="unknown unit"):
        look_at(path, "cubits")


def test_a_header_against_the_sizes_is_doubted_not_changed(
    look: Callable[..., ReadDrawing],
) -> None:
    read = look(lambda msp: box(msp, 0, 0, 300, 200), units=1)
    assert read.parts[0].outline.size == pytest.approx((7620, 5080))
    assert codes(read) == {"units-doubtful": 1}
    assert not read.units.sure


def test_no_outline_is_said_with_the_reason(tmp_path: Path) -> None:
    gap = saved(
        tmp_path / "gap.dxf",
        lambda msp: msp.add_lwpolyline([(0, 0), (90, 0), (90, 90), (0, 90), (0, 1)]),
    )
    read = look_at(gap)
    assert not read.parts
    with pytest.raises(InputError, match="leave gaps"):
        read_drawing(gap)
    empty = saved(tmp_path / "empty.dxf", lambda msp: None)
    with pytest.raises(InputError, match="nothing is drawn"):
        read_drawing(empty)
    text = saved(tmp_path / "text.dxf", lambda msp: msp.add_text("x"))
    with pytest.raises(InputError, match="only text"):
        read_drawing(text)
    joined = look_at(gap, join=2.0)
    assert len(joined.parts) == 1


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.dxf", b"\x89PNG\r\n\x1a\n....", "PNG picture"),
        ("a.svg", b"\xff\xd8\xff\xe0....", "JPEG picture"),
        ("a.dxf", b"%PDF-1.7 ...", "PDF document"),
        ("a.dxf", b"PK\x03\x04....", "ZIP archive"),
        ("a.dxf", b"AC1032\x00\x00\x00", "DWG drawing"),
        ("a.dxf", b"", "is empty"),
        ("a.dxf", b"  \n \n", "is empty"),
        ("a.dxf", b"Dear customer,\nplease cut this.\n", "neither"),
        ("a.dxf", b"\x00\x01\x02\x03" * 20, "binary file"),
        ("a.dxf", b"<<<<<<< ours\n0\nSECTION\n", "unfinished merge"),
        ("a.dxf", b"<html><body>Not found</body></html>", "HTML"),
    ],
)
def test_other_files_are_refused_in_one_sentence(
    name: str, content: bytes, words: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(InputError, match=words) as caught:
        look_at(path)
    assert "\n" not in str(caught.value)
    assert caught.value.cure


def test_missing_files_and_directories(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        look_at(tmp_path / "a.dxf")
    with pytest.raises(InputError, match="directory"):
        look_at(tmp_path)


def test_content_counts_not_the_name(tmp_path: Path) -> None:
    path = saved(tmp_path / "wrong.svg", lambda msp: box(msp, 0, 0, 50, 50))
    assert look_at(path).kind == "dxf"


def test_limits_are_kept(tmp_path: Path) -> None:
    path = saved(tmp_path / "a.dxf", lambda msp: box(msp, 0, 0, 50, 50))
    with pytest.raises(InputError, match="larger than"):
        look_at(path, limits=Limits(file_bytes=1000))
    with pytest.raises(InputError, match="longer than"):
        look_at(path, limits=Limits(seconds=-1.0))
    with pytest.raises(Cancelled):
        look_at(path, cancelled=lambda: True)


def test_reading_in_a_process_of_its_own(tmp_path: Path) -> None:
    path = saved(tmp_path / "a.dxf", lambda msp: box(msp, 0, 0, 50, 50))
    read = read_guarded(path)
    assert read.parts == look_at(path).parts
    with pytest.raises(InputError, match="no such file"):
        read_guarded(tmp_path / "b.dxf")
    with pytest.raises(Cancelled):
        read_guarded(path, cancelled=lambda: True)


@pytest.mark.parametrize(
    ("layer", "meaning"),
    [
        ("DRILL", Meaning.DRILL),
        ("drill_5mm", Meaning.DRILL),
        ("Pockets", Meaning.POCKET),
        ("cut inside", Meaning.INSIDE),
        ("OUTSIDE", Meaning.OUTSIDE),
        ("Defpoints", Meaning.NOT_CUT),
        ("KEEP_OUT", Meaning.NOT_CUT),
        ("0", None),
        ("CUT", None),
        ("tablet", None),
        ("shelf", None),
        ("", None),
    ],
)
def test_words_in_layer_names(layer: str, meaning: Meaning | None) -> None:
    assert meaning_of(layer) is meaning


def test_places_are_in_the_drawing(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        msp.add_line((1000, 1000), (1100, 1000))
        msp.add_line((1100, 1000.015), (1100, 1100))
        msp.add_line((1100, 1100), (1000, 1000))

    read = look(fill)
    gap = next(f for f in read.findings if f.code == "gap-closed")
    assert gap.place is not None
    assert math.dist(gap.place, (1100, 1000)) < 0.02
    assert gap.fixed


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ('<text x="5" y="50">Robin</text>', "only text"),
        ('<image href="x.png" width="9" height="9"/>', "only a picture"),
        ('<rect width="9" height="9" display="none"/>', "hidden"),
    ],
)
def test_an_svg_without_a_part_says_what_is_in_it(
    content: str, said: str, tmp_path: Path
) -> None:
    path = tmp_path / "drawing.svg"
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm">'
        f"{content}</svg>",
        encoding="utf-8",
    )
    with pytest.raises(InputError, match=said):
        read_drawing(path)


def test_a_drawing_frame_with_its_title_block_is_no_part(
    look: Callable[..., ReadDrawing],
) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 420, 297)
        box(msp, 20, 10, 390, 277)
        for x in (40, 220):
            box(msp, x, 100, 120, 80)
            msp.add_circle((x + 60, 140), 10)
        box(msp, 230, 10, 180, 40)
        box(msp, 235, 15, 20, 10)

    read = look(fill)
    assert [(p.outline.size, len(p.outline.holes)) for p in read.parts] == [
        ((120, 80), 1),
        ((120, 80), 1),
    ]
    assert codes(read) == {"drawing-frame": 1}


def test_a_picture_frame_of_a_papers_size_is_a_part(
    look: Callable[..., ReadDrawing],
) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 210, 297)
        box(msp, 30, 30, 150, 237)

    (part,) = look(fill).parts
    assert len(part.outline.holes) == 1


def test_specks_beside_a_sheet_are_left_out(look: Callable[..., ReadDrawing]) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 1200, 800)
        box(msp, 300, 300, 0.3, 0.3)
        box(msp, -50, 300, 0.4, 0.3)
        msp.add_circle((100, 100), 0.1)
        msp.add_circle((200, 100), 1.5)

    read = look(fill)
    (part,) = read.parts
    assert (len(part.outline.holes), len(part.marks)) == (0, 1)
    assert codes(read)["speck"] == 3
    # In a drawing of small things they are no specks: its unit is another one.
    small = look(lambda msp: box(msp, 0, 0, 0.4, 0.3))
    assert len(small.parts) == 1


def test_lines_that_became_thin_shapes_are_told(
    look: Callable[..., ReadDrawing],
) -> None:
    def fill(msp: Any) -> None:
        box(msp, 0, 0, 120, 80)
        box(msp, 0.3, 0.3, 119.4, 79.4)
        box(msp, 200, 0, 150, 0.2)
        box(msp, 400, 0, 150, 3)  # a thin strip is a part

    read = look(fill)
    assert codes(read)["thin-part"] == 2


def test_lines_looked_up_many_at_once_fare_as_one_by_one(
    look: Callable[..., ReadDrawing], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fill(msp: Any) -> None:
        for n in range(6):
            box(msp, 200 * n, 0, 150, 100)
            msp.add_circle((200 * n + 75, 50), 20)
            x = 200 * n
            msp.add_line((x + 10, 10 + n), (x + 40, 10 + n))  # engraved
            msp.add_line((x + 10, 100), (x + 60 + n, 100))  # on the edge
            msp.add_line((x + 70, 50), (x + 80, 50 + n / 10))  # in the hole
            msp.add_line((x + 155, 10), (x + 170, 20 + n))  # beside all
            msp.add_line((x + 140, 50), (x + 158, 50 + n))  # over the edge, inside more
            msp.add_arc((x + 75, 50), 20, 20 + n, 90)  # on the hole's edge

    reads = []
    for at_once in (1, 7, 100):
        monkeypatch.setattr(classify, "_AT_ONCE", at_once)
        reads.append(look(fill))
    one = reads[0]
    assert codes(one) == {
        "line-doubled": 12, "engrave-guessed": 12, "stray-line": 12,
    }  # fmt: skip
    for read in reads[1:]:
        assert codes(read) == codes(one)
        assert [p.marks for p in read.parts] == [p.marks for p in one.parts]
        assert [f.place for f in read.findings] == [f.place for f in one.findings]


def test_what_lies_in_what_is_told_from_the_largest() -> None:
    # The middle one was taken to lie in the outer one, the inner one in the middle one
    # alone, though it lies in both.
    def ring(size: float, *inside: int) -> Any:
        return SimpleNamespace(
            polygon=shapely.box(0, 0, size, size), inside=[*inside], meaning=None
        )

    rings = [ring(1.0, 2), ring(9.0), ring(5.0, 1)]
    assert classify._edges(rings, set()) == {0: True, 1: True, 2: False}


def test_letters_of_a_layer_that_are_none_are_replaced(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    body = b"0\nCIRCLE\n8\nCUT\xff\n10\n50\n20\n50\n40\n30\n"
    body += b"0\nCIRCLE\n8\nDRILL\n10\n50\n20\n50\n40\n3\n"
    head = b"0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1032\n0\nENDSEC\n"
    body = b"0\nSECTION\n2\nENTITIES\n" + body + b"0\nENDSEC\n0\nEOF\n"
    path.write_bytes(head + body)
    read = look_at(path, "mm")
    assert "CUT\N{REPLACEMENT CHARACTER}" in {use.layer for use in read.uses}
    assert all(line.isprintable() for line in look_command.note(read))
