"""What layers and colours mean, in both kinds of files."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from ezdxf import filemanagement

from drystone.io.operations import (
    Meaning,
    Works,
    colour_of,
    meaning_from,
    meaning_of,
    told_from,
)
from drystone.io.read_drawing import ReadDrawing, look_at
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.part import Operation


@pytest.mark.parametrize(
    ("layer", "meaning"),
    [
        ("InsideCut", Meaning.INSIDE),
        ("insidecut", Meaning.INSIDE),
        ("cut_outside", Meaning.OUTSIDE),
        ("OutsideProfile", Meaning.OUTSIDE),
        ("DrillHoles", Meaning.DRILL),
        ("drillholes", Meaning.DRILL),
        ("POCKET-6MM", Meaning.POCKET),
        ("pocket6mm", Meaning.POCKET),
        ("EngraveLines", Meaning.ENGRAVE),
        ("HiddenLines", Meaning.NOT_CUT),
        ("construction_lines", Meaning.NOT_CUT),
        ("CUT", None),
        ("Profile", None),
        ("Untitled", None),
        ("Layer 1", None),
        ("holes", None),
        ("drilled plate", None),
    ],
)
def test_common_words_are_understood(layer: str, meaning: Meaning | None) -> None:
    assert meaning_of(layer) is meaning


@pytest.mark.parametrize(
    ("text", "colour"),
    [
        ("red", "#ff0000"),
        ("Lime", "#00ff00"),
        ("#00f", "#0000ff"),
        ("#0000FF", "#0000ff"),
        ("rgb(0, 128, 0)", "#008000"),
        ("colour 1", "#ff0000"),
        ("color 5", "#0000ff"),
        ("Colour 7", "#000000"),
        ("colour 256", ""),
        ("colour 0", ""),
        ("VENT", ""),
        ("0", ""),
        ("none", ""),
        ("transparent", ""),
        ("", ""),
    ],
)
def test_colours_people_write(text: str, colour: str) -> None:
    assert colour_of(text) == colour


def test_who_says_what_comes_first() -> None:
    works = Works({"Plate": Meaning.OUTSIDE, "red": Meaning.ENGRAVE, "DRILL": None})
    assert works.said("PLATE", "#ff0000").meaning is Meaning.OUTSIDE
    assert works.said("0", "#ff0000").meaning is Meaning.ENGRAVE
    assert works.said("drill", "#ff0000").meaning is Meaning.ENGRAVE
    assert works.said("drill", "#000000").meaning is None
    assert works.said("drill", "#000000").told
    guessed = works.said("pocket", "#000000")
    assert (guessed.meaning, guessed.told, guessed.by) == (
        Meaning.POCKET,
        False,
        "pocket",
    )
    assert works.said("0", "#000000", "#ff0000").meaning is Meaning.ENGRAVE


@pytest.mark.parametrize(
    ("word", "meaning"),
    [
        ("not cut", Meaning.NOT_CUT),
        ("Not_Cut", Meaning.NOT_CUT),
        (" inside ", Meaning.INSIDE),
        ("nothing", None),
    ],
)
def test_words_for_work(word: str, meaning: Meaning | None) -> None:
    assert meaning_from(word) is meaning


def test_other_words_are_refused() -> None:
    with pytest.raises(InputError, match="'not cut'"):
        meaning_from("paint")


def test_what_a_job_keeps_is_understood_again() -> None:
    told = told_from((("VENT", "inside"), ("#ff0000", "nothing")))
    assert told == {"VENT": Meaning.INSIDE, "#ff0000": None}


# --- DXF ---


def plate(path: Path, **attribs: Any) -> Path:
    """Draw a plate on layer 0, and in it a 30 x 20 loop with other attributes."""
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    doc.layers.add("RED LAYER", color=1)
    msp = doc.modelspace()
    for x, y, w, h, more in ((0, 0, 120, 80, {}), (20, 20, 30, 20, attribs)):
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
        msp.add_lwpolyline(corners, close=True, dxfattribs=more)
    doc.saveas(path)
    return path


def marks(read: ReadDrawing) -> list[Operation]:
    (part,) = read.parts
    return [mark.operation for mark in part.marks]


@pytest.mark.parametrize(
    ("attribs", "told"),
    [
        ({"color": 1}, "red"),
        ({"color": 1}, "colour 1"),
        ({"true_color": 0x3366CC}, "#3366cc"),
        ({"layer": "RED LAYER"}, "red"),  # by its layer
        ({"layer": "RED LAYER"}, "red layer"),
        ({"color": 30}, "colour 30"),
    ],
)
def test_a_colour_of_a_dxf_says_what_is_done(
    attribs: dict[str, Any], told: str, tmp_path: Path
) -> None:
    path = plate(tmp_path / "a.dxf", **attribs)
    plain = look_at(path)
    assert len(plain.parts[0].outline.holes) == 1 and not marks(plain)
    read = look_at(path, layers={told: Meaning.POCKET})
    assert marks(read) == [Operation.POCKET] and not read.parts[0].outline.holes
    (finding,) = [f for f in read.findings if f.code == "layer-meaning"]
    assert f"{told}: pocket" in finding.message
    assert [use.told for use in read.uses if use.has(told)] == [True]


def test_a_black_line_is_black_however_the_screen_shows_it(tmp_path: Path) -> None:
    path = plate(tmp_path / "a.dxf", color=7)
    read = look_at(path, layers={"black": Meaning.NOT_CUT})
    assert not read.parts  # the plate itself is black by its layer


def test_a_block_passes_its_colour_on(tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    block = doc.blocks.new("B")
    block.add_circle((40, 40), 10, dxfattribs={"color": 0})  # as the insert
    msp = doc.modelspace()
    msp.add_lwpolyline([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
    msp.add_blockref("B", (0, 0), dxfattribs={"color": 3})
    doc.saveas(tmp_path / "a.dxf")
    read = look_at(tmp_path / "a.dxf", layers={"lime": Meaning.ENGRAVE})
    assert marks(read) == [Operation.ENGRAVE]


def test_several_colours_that_say_nothing_are_mentioned(tmp_path: Path) -> None:
    read = look_at(plate(tmp_path / "a.dxf", color=1))
    (finding,) = [f for f in read.findings if f.code == "colours"]
    assert "#ff0000" in finding.message and "#000000" in finding.message
    assert "--layer red=engrave" in finding.message
    quiet = look_at(plate(tmp_path / "b.dxf", color=1), layers={"red": None})
    assert "colours" not in {f.code for f in quiet.findings}


def test_inside_and_outside_overrule_containment(tmp_path: Path) -> None:
    path = plate(tmp_path / "a.dxf", color=1)
    read = look_at(path, layers={"red": Meaning.OUTSIDE})
    assert [len(p.outline.holes) for p in read.parts] == [0, 0]


# --- SVG ---


@pytest.mark.parametrize(
    ("style", "told"),
    [
        ('stroke="red" fill="none"', "red"),
        ('style="stroke:#f00;fill:none"', "red"),
        ('fill="#ff0000"', "red"),
        ('fill="rgb(255,0,0)" stroke="black"', "red"),
        ('stroke="hsl(0,100%,50%)" fill="none"', "#ff0000"),
        ('id="slot" fill="blue"', "blue"),
    ],
)
def test_a_colour_of_an_svg_says_what_is_done(
    style: str, told: str, tmp_path: Path
) -> None:
    path = tmp_path / "a.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm" '
        'viewBox="0 0 200 200"><rect fill="none" stroke="black" x="9" y="9" '
        f'width="120" height="80"/><rect {style} x="30" y="30" width="30" '
        'height="20"/></svg>'
    )
    assert not marks(look_at(path))
    assert marks(look_at(path, layers={told: Meaning.POCKET})) == [Operation.POCKET]


# --- strokes of different work are never joined ---


def test_construction_lines_at_corners_do_not_confuse_the_edge(tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    corners = [(0, 0), (100, 0), (100, 40), (40, 40), (40, 90), (0, 90)]
    for a, b in zip(corners, [*corners[1:], corners[0]], strict=True):
        msp.add_line(a, b)
    # Across the notch, on a layer that is not cut: no way round for the edge.
    msp.add_line((100, 40), (40, 90), dxfattribs={"layer": "CONSTRUCTION"})
    # The same edge once more, first in the file of its own kind.
    msp.add_line((0, 0), (100, 0), dxfattribs={"layer": "GUIDE"})
    doc.saveas(tmp_path / "a.dxf")
    read = look_at(tmp_path / "a.dxf")
    (part,) = read.parts
    assert part.area == pytest.approx(100 * 40 + 40 * 50)
    codes = {f.code: f.count for f in read.findings}
    assert codes == {"not-cut": 2}


def test_one_loop_may_be_cut_and_engraved(tmp_path: Path) -> None:
    path = plate(tmp_path / "a.dxf")
    doc = filemanagement.readfile(path)
    corners = [(20, 20), (50, 20), (50, 40), (20, 40)]
    doc.modelspace().add_lwpolyline(
        corners, close=True, dxfattribs={"layer": "ENGRAVE"}
    )
    doc.saveas(path)
    read = look_at(path)
    assert len(read.parts[0].outline.holes) == 1
    assert marks(read) == [Operation.ENGRAVE]


def test_a_pocket_round_a_hole_is_a_pocket(tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    msp.add_lwpolyline([(0, 0), (100, 0), (100, 80), (0, 80)], close=True)
    msp.add_circle((50, 40), 10)
    msp.add_circle((50, 40), 18, dxfattribs={"layer": "POCKET"})
    msp.add_circle((50, 40), 4, dxfattribs={"layer": "POCKET"})  # in the air
    doc.saveas(tmp_path / "a.dxf")
    read = look_at(tmp_path / "a.dxf")
    assert marks(read) == [Operation.POCKET]
    assert {f.code: f.count for f in read.findings}["stray-mark"] == 1
