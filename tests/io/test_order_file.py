"""Orders written by hand: what they hold, and every mistake in them at once."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from drystone.io.order_file import Order, read_order
from drystone.nesting.model.errors import InputError, InputErrors
from drystone.nesting.model.holding import Holding, ReliefKind, TabRule
from drystone.nesting.model.job import Datum, Objective
from drystone.nesting.model.rules import CleanFace, Grain, TurnKind, TurnRule

BOARD = """
[[stock]]
material = "birch plywood"
thickness = 12
size = [1525, 1525]
"""
PART = """
[[part]]
panel = [300, 180]
"""
SQUARE = """<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="100mm"
 viewBox="0 0 {w} 100">{shapes}</svg>"""
RECT = '<rect id="{id}" x="{x}" y="10" width="50" height="30"/>'


def order(folder: Path, text: str) -> Order:
    path = folder / "order.toml"
    path.write_text(text, encoding="utf-8")
    return read_order(path)


def mistakes(folder: Path, text: str) -> list[str]:
    """Return the lines an order is refused with."""
    with pytest.raises(InputError) as caught:
        order(folder, text)
    return str(caught.value).splitlines()


def draw(folder: Path, name: str, *ids: str) -> None:
    """Write a drawing with one rectangle of 50 x 30 mm for each id."""
    shapes = "".join(RECT.format(id=key, x=10 + 60 * n) for n, key in enumerate(ids))
    width = 20 + 60 * len(ids)
    (folder / name).write_text(SQUARE.format(w=width, shapes=shapes))


def test_a_whole_order(tmp_path: Path) -> None:
    text = """
name = "Bird boxes"
units = "in"
objective = "least cost"
[cutting]
cutter = "6.35 mm"
allowance = "1/16"
margin = 0.5
datum = "centre"
datum_offset = [-30, "1 in"]
clean = "top"
keep_side = "5 in"
keep_square = 11
keep_neck = "90 mm"
use_holes = false
[bed]
size = [30, "800 mm"]
[[stock]]
material = "birch plywood"
thickness = "12 mm"
size = [60, "48 in"]
grain = "width"
price = 48
count = 3
[[stock.keep_out]]
circle = [1, 1, 0.5]
label = "screw"
[[stock.keep_out]]
rectangle = [10, 0, 4, 2]
[[stock]]
name = "L from the rack"
material = "birch plywood"
thickness = "12 mm"
outline = [[1, 1], [11, 1], [11, 6], [6, 6], [6, 9], [1, 9]]
offcut = true
[[stock.keep_out]]
circle = [2, 2, 1]
[[part]]
panel = [12, "1/2 in"]
name = "batten"
quantity = 4
turn = "grain y"
flip = true
priority = 2
[[part]]
panel = ["10 mm", "20 mm"]
material = "MDF"
thickness = "6 mm"
turn = [0, 45]
"""
    job = order(tmp_path, text).job
    assert (job.name, job.units, job.objective) == (
        "Bird boxes", "in", Objective.LEAST_COST,
    )  # fmt: skip
    cutting = job.cutting
    assert (cutting.cutter, cutting.allowance, cutting.margin) == (6.35, 1.5875, 12.7)
    assert cutting.datum is Datum.CENTRE
    assert cutting.offset == (-762.0, 25.4)
    kept = (cutting.keep_side, cutting.keep_square, cutting.keep_neck)
    assert kept == pytest.approx((127.0, 279.4, 90.0))
    assert cutting.clean is CleanFace.TOP
    assert not cutting.use_holes
    assert job.bed == (762.0, 800.0)
    sheet, offcut = job.stock
    assert sheet.outline.size == (1524.0, 1219.2)
    assert (sheet.grain, sheet.price, sheet.count) == (Grain.WIDTH, 48.0, 3)
    screw, clamp = sheet.keep_outs
    assert screw.label == "screw"
    assert screw.loop.bounds == pytest.approx((19.05, 19.05, 31.75, 31.75))
    assert clamp.loop.bounds == pytest.approx((254.0, 0.0, 355.6, 50.8))
    assert (offcut.name, offcut.count, offcut.offcut) == ("L from the rack", 1, True)
    assert offcut.outline.bounds == pytest.approx((0.0, 0.0, 254.0, 203.2))
    # The keep-out was given in the outline's coordinates and moves with it.
    assert offcut.keep_outs[0].loop.bounds == pytest.approx((12.7, 12.7, 38.1, 38.1))
    batten, plate = job.parts
    assert batten.outline.size == (304.8, 12.7)
    assert (batten.id, batten.quantity, batten.flip, batten.priority) == (
        "batten", 4, True, 2,
    )  # fmt: skip
    assert batten.turn == TurnRule(TurnKind.GRAIN, part_grain="y")
    # The only board of the stock is meant where a part names none.
    assert (batten.material, batten.thickness) == ("birch plywood", 12.0)
    assert (plate.material, plate.thickness) == ("MDF", 6.0)
    assert plate.turn == TurnRule.listed((0, 45))


def test_stock_is_unlimited_unless_it_says_so(tmp_path: Path) -> None:
    job = order(tmp_path, BOARD + 'count = "as needed"' + BOARD + PART).job
    assert [kind.count for kind in job.stock] == [None, None]
    assert len({kind.id for kind in job.stock}) == 2


def test_ids_are_unique_and_stay(tmp_path: Path) -> None:
    text = BOARD + "\n".join(PART + f'name = "{name}"' for name in "ABaÄ§")
    ids = [part.id for part in order(tmp_path, text).job.parts]
    assert ids == ["a", "b", "a-2", "a-3", "part"]
    assert ids == [part.id for part in order(tmp_path, text).job.parts]


def test_panels_come_from_a_table(tmp_path: Path) -> None:
    (tmp_path / "panels.csv").write_text("name,quantity,length,width\nlid,2,30,20\n")
    job = order(tmp_path, 'panels = "panels.csv"\n' + BOARD).job
    (lid,) = job.parts
    assert (lid.name, lid.quantity, lid.outline.size) == ("lid", 2, (30.0, 20.0))
    assert (lid.material, lid.thickness) == ("birch plywood", 12.0)


def test_drawings_become_parts(tmp_path: Path) -> None:
    pytest.importorskip("drystone.io.read_drawing")
    draw(tmp_path, "box.svg", "left", "right", "floor")
    entry = '\n[[part]]\ndrawing = "box.svg"\nquantity = 3\n'
    job = order(tmp_path, BOARD + entry).job
    assert [part.quantity for part in job.parts] == [3, 3, 3]
    assert {part.outline.size for part in job.parts} == {(50.0, 30.0)}
    (second,) = order(tmp_path, BOARD + entry + "pick = 2").job.parts
    assert second.name == job.parts[1].name
    named = order(tmp_path, BOARD + entry + f'pick = "{second.name}"\nname = "wall"')
    assert [part.name for part in named.job.parts] == ["wall"]
    (line,) = mistakes(tmp_path, BOARD + entry + 'pick = "roof"')
    assert line.startswith("order.toml: part 1 (\"box.svg\"): no outline 'roof'")


def test_an_offcut_can_be_drawn(tmp_path: Path) -> None:
    pytest.importorskip("drystone.io.read_drawing")
    draw(tmp_path, "one.svg", "a")
    draw(tmp_path, "two.svg", "a", "b")
    text = BOARD + '[[stock]]\noutline = "{}"\noffcut = true\n' + PART
    text += 'material = "birch plywood"\nthickness = 12\n'
    stock = order(tmp_path, text.format("one.svg")).job.stock[1]
    assert stock.outline.bounds == pytest.approx((0.0, 0.0, 50.0, 30.0))
    (line,) = mistakes(tmp_path, text.format("two.svg"))
    assert line.startswith("order.toml: stock 2: two.svg holds 2 outlines")


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (PART + "quantity = -2",
         "order.toml: part 1: quantity is -2; give 0 or a whole number"),
        (PART + "quantity = 1.5",
         "order.toml: part 1: quantity is 1.5; give 0 or a whole number"),
        (PART + 'name = "lid"\nquanity = 2',
         "order.toml: part 1 (\"lid\"): unknown key 'quanity'; "
         "did you mean 'quantity'?"),
        (PART + 'units = "furlong"', "order.toml: part 1: unknown unit 'furlong'; "
         "use mm, cm, m, in, ft, mil or px, for example"),
        ('units = "furlong"' + PART, "order.toml: units: unknown unit 'furlong'; "
         "use mm, cm, m, in, ft, mil or px, for example"),
        (PART + 'turn = "often"', "order.toml: part 1: unknown turn rule 'often'; "
         "use any, 90, 180, grain, fixed or a list of degrees such as 0, 45"),
        (PART + "flip = 1", "order.toml: part 1: flip is 1; give true or false"),
        ("[[part]]\npanel = [0, 5]",
         "order.toml: part 1: panel is [0, 5]; give two lengths above 0"),
        ("[[part]]\npanel = [5]", "order.toml: part 1: panel is [5]; "
         'give two lengths such as [1525, 1525] or ["48 in", "96 in"]'),
        ("[[part]]\npanel = [nan, 5]", "order.toml: part 1: cannot read 'nan' as a "
         'length; write it like 12, 12 mm, 0.5 in or 1-1/2"'),
        ("[[part]]\nquantity = 2",
         "order.toml: part 1: it has neither a drawing nor a panel; give one of them"),
        ("[cutting]\ncutter = -1" + PART,
         "order.toml: [cutting]: cutter is -1; give a length of 0 or more"),
        ('[cutting]\ndatum = "middle"' + PART,
         "order.toml: [cutting]: datum: unknown word 'middle'; give 'lower left', "
         "'lower right', 'upper left', 'upper right', 'centre'"),
        ("part = 3", "order.toml: part is 3; write it as [[...]] tables"),
        ("", 'order.toml: it orders no part; add a [[part]] table or panels = "…"'),
        (BOARD + "count = -1" + PART, "order.toml: stock 1 (\"birch plywood\"): count "
         'is -1; give a number or "as needed"'),
        (BOARD + "price = -1" + PART, "order.toml: stock 1 (\"birch plywood\"): price "
         "is -1; give 0 or a number"),
        (BOARD + "[[stock.keep_out]]\ncircle = [2000, 1, 5]" + PART,
         'order.toml: stock 1 ("birch plywood"), keep-out 1: it lies beside the board, '
         "at [2000, 1, 5]; count x and y from the board's lower left corner"),
        (BOARD + BOARD.replace("12", "6") + PART,
         "order.toml: part 1: material is missing; the stock offers "
         "birch plywood 12 mm, birch plywood 6 mm"),
        ("[[stock]]\nmaterial = 'MDF'" + PART, 'order.toml: stock 1 ("MDF"): it has '
         "neither size nor an outline; give one of them"),
        ('panels = "none.csv"', "none.csv: there is no such file; check the name"),
        ("name = 'a'\nname = 'b'\nx = 1",
         "order.toml:2:11: not valid TOML: cannot overwrite a value; mend this line"),
        ("name = 'a'\n<<<<<<< mine\n",
         "order.toml:2:1: not valid TOML: invalid statement; mend this line"),
        ("x = [", "order.toml:1: not valid TOML: invalid value; mend this line"),
    ],
)  # fmt: skip
def test_one_mistake_is_one_line(tmp_path: Path, text: str, line: str) -> None:
    found = mistakes(tmp_path, text)
    assert len(found) == 1, found
    assert found[0].endswith(line)


def test_all_mistakes_are_said_at_once(tmp_path: Path) -> None:
    text = """
name = 3
[cutting]
cutter = "wide"
[[stock]]
size = [0, 1]
[[part]]
panel = [1, 2]
quantity = -2
colour = "red"
[[part]]
panel = [1, 2]
turn = "often"
"""
    with pytest.raises(InputErrors) as caught:
        order(tmp_path, text)
    lines = str(caught.value).splitlines()
    assert [line.removeprefix("order.toml: ")[:10] for line in lines] == [
        "name is 3;",
        "stock 1: s",
        "part 1: un",
        "part 1: qu",
        "part 2: un",
        "[cutting]:",
    ]
    assert len(caught.value.problems) == len(lines)


def test_a_drawing_that_cannot_be_used_is_said_with_its_part(tmp_path: Path) -> None:
    pytest.importorskip("drystone.io.read_drawing")
    (tmp_path / "notes.svg").write_text("no drawing")
    draw(tmp_path, "empty.svg")
    names = ("none.dxf", "notes.svg", "empty.svg", ".")
    text = BOARD + "".join(f'[[part]]\ndrawing = "{name}"\n' for name in names)
    lines = mistakes(tmp_path, text)
    assert len(lines) == len(names)
    for number, (name, line) in enumerate(zip(names, lines, strict=True), 1):
        assert line.startswith(f'order.toml: part {number} ("{name}"): ')


def test_a_missing_drawing_shows_beside_another_mistake(tmp_path: Path) -> None:
    entry = '[[part]]\ndrawing = "none.dxf"\nquantity = -2\n'
    lines = mistakes(tmp_path, BOARD + entry)
    assert [line.rpartition(": ")[2] for line in lines] == [
        "quantity is -2; give 0 or a whole number",
        "there is no such file; check the name",
    ]


def test_unreadable_orders(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is a directory"):
        read_order(tmp_path)
    with pytest.raises(InputError, match="there is no such file"):
        read_order(tmp_path / "none.toml")
    path = tmp_path / "order.toml"
    path.write_bytes(b"name = 'a'\nunits = '\xff'\n")
    with pytest.raises(InputError, match="2: the text is not UTF-8"):
        read_order(path)
    path.write_text("x = " + "[" * 100_000)
    with pytest.raises(InputError, match="not valid TOML"):
        read_order(path)


# --- what an order says about its drawings ---


def coloured(folder: Path, name: str = "a.svg", k: float = 1.0) -> None:
    """Draw a plate of 120 x 80 with a red loop in it, k units per mm."""
    folder.joinpath(name).write_text(
        '<svg xmlns="http://www.w3.org/2000/svg"><g fill="none" stroke="black">'
        f'<rect x="0" y="0" width="{120 * k}" height="{80 * k}"/><g id="VENT">'
        f'<rect x="{20 * k}" y="{20 * k}" width="{30 * k}" height="{20 * k}" '
        'stroke="red"/></g></g></svg>'
    )


DRAWN = """
[[part]]
drawing = "a.svg"
known_width = 120
"""


def test_a_known_width_scales_a_drawing(tmp_path: Path) -> None:
    coloured(tmp_path, k=2.834645669)  # points
    made = order(tmp_path, BOARD + DRAWN)
    (part,) = made.job.parts
    assert part.outline.size == pytest.approx((120, 80))
    assert "scale-known" in {f.code for f in made.findings}


def test_a_known_size_of_a_picked_part_in_the_orders_units(tmp_path: Path) -> None:
    draw(tmp_path, "a.svg", "wide", "narrow")
    text = (
        'units = "in"\n' + BOARD.replace("1525", "60") + '[[part]]\ndrawing = "a.svg"'
        '\npick = "narrow"\nknown_height = "1-1/2"\n'
    )
    (part,) = order(
        tmp_path, text.replace("thickness = 12", "thickness = 0.5")
    ).job.parts
    assert part.outline.size == pytest.approx((63.5, 38.1))


@pytest.mark.parametrize("key", ["red", "'#f00'", "vent"])
def test_layers_and_colours_of_the_whole_order(key: str, tmp_path: Path) -> None:
    coloured(tmp_path)
    made = order(tmp_path, f'[layers]\n{key} = "pocket"\n' + BOARD + DRAWN)
    (part,) = made.job.parts
    assert [m.operation.value for m in part.marks] == ["POCKET"]
    assert made.job.layers == ((key.strip("'"), "pocket"),)


def test_layers_of_one_part_come_first(tmp_path: Path) -> None:
    coloured(tmp_path)
    text = '[layers]\nVENT = "pocket"\n' + BOARD + DRAWN
    text += 'layers = { VENT = "nothing" }\n'
    (part,) = order(tmp_path, text).job.parts
    assert not part.marks and len(part.outline.holes) == 1


def test_a_layer_that_nothing_is_drawn_in_is_told(tmp_path: Path) -> None:
    coloured(tmp_path)
    text = '[layers]\nGROOVE = "pocket"\n' + BOARD + DRAWN + 'layers = { b = "drill" }'
    found = [f for f in order(tmp_path, text).findings if f.code == "layer-unused"]
    assert [("(b)" in f.message, "(GROOVE)" in f.message) for f in found] == [
        (True, False),
        (False, True),
    ]


def test_wrong_words_about_drawings_are_all_told(tmp_path: Path) -> None:
    coloured(tmp_path)
    text = f"""
[layers]
VENT = "paint"
red = 3
{BOARD}
[[part]]
drawing = "a.svg"
known_width = "wide"
layers = {{ VENT = "carve" }}
[[part]]
panel = [300, 180]
known_height = 180
[[part]]
drawing = "a.svg"
known_width = 100
units = "mm"
"""
    lines = mistakes(tmp_path, text)
    assert len(lines) == 6
    for line, words in zip(
        lines,
        ["paint", "red is 3", "carve", "wide", "panel", "one of them"],
        strict=True,
    ):
        assert words in line


def test_relief_tabs_and_screws(tmp_path: Path) -> None:
    text = """
[cutting]
relief = "Dog-Bone"
[holding]
tabs = "small"
screws = 4
screw_distance = "1/2 in"
""" + (BOARD + PART + 'relief = "t-bone"\ntabs = true\n' + PART)
    job = order(tmp_path, text).job
    assert job.relief is ReliefKind.DOG_BONE
    assert job.holding == Holding(TabRule.SMALL, 4, 12.7)
    assert [part.relief for part in job.parts] == [ReliefKind.T_BONE, None]
    assert [part.tabs for part in job.parts] == [True, None]
    plain = order(tmp_path, BOARD + PART).job
    assert (plain.relief, plain.holding) == (ReliefKind.NONE, Holding())


def test_wrong_words_for_relief_and_holding_are_all_said(tmp_path: Path) -> None:
    text = """
[cutting]
relief = "bone"
[holding]
tabs = "some"
screws = -1
""" + (BOARD + PART + "relief = 3\n" + PART + 'tabs = "yes"\n')
    lines = mistakes(tmp_path, text)
    assert any("[cutting]: relief" in line and "dog-bone" in line for line in lines)
    assert any("screws" in line and "[holding]" in line for line in lines)
    assert any("relief" in line and "part 1" in line for line in lines)
    assert any("tabs" in line and "true or false" in line for line in lines)
    tabs = mistakes(tmp_path, text.replace("screws = -1", ""))
    assert any("[holding]: tabs" in line and "'small'" in line for line in tabs)


def test_a_clearance_makes_a_keep_out_larger(tmp_path: Path) -> None:
    areas = """
[[stock.keep_out]]
circle = [100, 100, 20]
clearance = 5
[[stock.keep_out]]
rectangle = [200, 200, 40, 30]
clearance = "8 mm"
label = "clamp"
"""
    (stock,) = order(tmp_path, BOARD + areas + PART).job.stock
    round_one, clamp = stock.keep_outs
    assert round_one.loop.bounds == pytest.approx((85, 85, 115, 115))
    assert clamp.loop.bounds == pytest.approx((192, 192, 248, 238))
    assert clamp.loop.area == pytest.approx(56 * 46 - (4 - math.pi) * 64)
    assert (round_one.clearance, clamp.clearance) == (5.0, 8.0)
    (line,) = mistakes(tmp_path, BOARD + areas.replace("= 5", "= -5") + PART)
    assert "clearance is -5" in line
