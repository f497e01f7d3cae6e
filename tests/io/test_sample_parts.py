"""The sample order is read as it was drawn.

Sizes, hole and mark counts and areas were written down from the drawings' own
dimensions (areas of lines and arcs by formula, of free curves by fine chords),
not from what the readers said.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from typing import NamedTuple

import pytest

from drystone.io.findings import Severity
from drystone.io.order_file import Order, read_order
from drystone.io.read_drawing import read_drawing
from drystone.nesting.model.part import Part

SAMPLE = Path(__file__).resolve().parents[2] / "sample_parts"


class Expected(NamedTuple):
    """One drawn part: size and area in mm, holes, marks by operation."""

    width: float
    height: float
    area: float
    holes: int
    marks: dict[str, int]
    codes: tuple[str, ...] = ()


FRONT = {"ENGRAVE": 5, "DRILL": 5}
EXPECTED: dict[str, dict[str, Expected]] = {
    "front_25.dxf": {"front_25": Expected(150, 210, 31009.126, 1, FRONT)},
    "front_28.dxf": {"front_28": Expected(150, 210, 30884.248, 1, FRONT)},
    "front_32.svg": {"front_32": Expected(150, 210, 30695.752, 1, FRONT)},
    "side.dxf": {"side": Expected(120, 260, 27528.364, 3, {})},
    "back.dxf": {"back": Expected(150, 350, 51919.717, 3, {"DRILL": 7}, ("dxf-text",))},
    "floor.svg": {"floor": Expected(150, 120, 15854.822, 4, {})},
    "roof.dxf": {"roof": Expected(190, 185, 34881.748, 0, {"ENGRAVE": 1, "DRILL": 4})},
    "planter_side.dxf": {
        "planter_side": Expected(457.2, 203.2, 88223.328, 1, {"DRILL": 4})
    },
    "planter_end.svg": {
        "planter_end": Expected(241.3, 203.2, 30738.57, 1, {"DRILL": 2}),
    },
    "foot.svg": {"foot": Expected(88.9, 60.96, 4255.44, 0, {"DRILL": 3})},
    "hotel_frame.dxf": {"hotel_frame": Expected(380, 380, 50581.149, 1, {"DRILL": 10})},
    "bracket.dxf": {"bracket": Expected(120, 90, 5505.405, 3, {})},
    "labels.svg": {
        "label-tomato": Expected(199.9986, 32, 5721.34, 0, {"ENGRAVE": 9}),
        # The two strokes of the B meet end to end and become one line.
        "label-beans": Expected(199.9986, 32, 5721.34, 0, {"ENGRAVE": 7}),
        "label-mint": Expected(199.9986, 32, 5721.34, 0, {"ENGRAVE": 5}),
        "label-kale": Expected(199.9986, 32, 5721.34, 0, {"ENGRAVE": 8}),
    },
    "sun_trellis.dxf": {
        "sun_trellis": Expected(474.757, 474.757, 75371.02, 13, {"DRILL": 4})
    },
    "planting_template.dxf": {
        "planting_template": Expected(300, 210, 43510.43, 10, {"ENGRAVE": 3})
    },
    "seed_box_lid.dxf": {
        "seed_box_lid": Expected(240, 160, 37162.23, 1, {"POCKET": 1, "ENGRAVE": 1})
    },
    "sign.svg": {"sign": Expected(520, 112, 56618.938, 2, {"ENGRAVE": 17})},
    "offcut_6mm.svg": {"offcut_6mm": Expected(440, 300, 99813.74, 0, {})},
}
CASES = [(file, name) for file, parts in EXPECTED.items() for name in parts]


@pytest.fixture(scope="module")
def order() -> Order:
    return read_order(SAMPLE / "order.toml")


def test_every_drawing_has_an_expectation() -> None:
    drawings = {p.name for p in SAMPLE.iterdir() if p.suffix in (".dxf", ".svg")}
    assert drawings == set(EXPECTED)


@pytest.mark.parametrize("file", EXPECTED)
def test_drawing_holds_what_was_drawn(file: str) -> None:
    units = "mm" if file == "roof.dxf" else None  # R12 has no units
    read = read_drawing(SAMPLE / file, units=units)
    parts = {part.name: part for part in read.parts}
    assert set(parts) == set(EXPECTED[file])
    for name, expected in EXPECTED[file].items():
        check(parts[name], expected)
    worse = {f.code for f in read.findings if f.severity is not Severity.INFO}
    told = {code for expected in EXPECTED[file].values() for code in expected.codes}
    assert worse == told


def check(part: Part, expected: Expected) -> None:
    size = (expected.width, expected.height)
    assert part.outline.size == pytest.approx(size, abs=1e-3)
    assert part.area == pytest.approx(expected.area, rel=2e-5)
    assert len(part.outline.holes) == expected.holes
    marks = Counter(mark.operation.value for mark in part.marks)
    assert marks == Counter(expected.marks)


def test_order_is_read_whole(order: Order) -> None:
    job = order.job
    assert sum(part.quantity for part in job.parts) == 114
    assert len(job.stock) == 4
    assert [stock.offcut for stock in job.stock] == [False, True, False, True]
    assert len(job.stock[0].keep_outs) == 2
    assert job.stock[1].area == 640 * 250 + 310 * 310
    assert job.bed == (800, 800)
    assert job.cutting.gap == pytest.approx(7.85)
    names = [part.name for part in job.parts]
    assert "front, 25 mm entrance" in names
    assert "hotel shelf" in names
    assert sum("label" in name for name in names) == 4


def test_panels_take_inches(order: Order) -> None:
    sizes = {part.name: part.outline.size for part in order.job.parts}
    assert sizes["seed box short side"] == pytest.approx((133.35, 50.8))


def test_joints_fit() -> None:
    """The floor's tab goes into the side's slot, end and side of the planter mesh."""
    slot = next(
        hole
        for hole in read_drawing(SAMPLE / "side.dxf").parts[0].outline.holes
        if not hole.is_circle
    )
    relief = 2 * (1 - 0.5**0.5) * 3.25  # both corners' dog-bones reach past the wall
    x0, y0, x1, y1 = slot.bounds
    assert x1 - x0 - relief == pytest.approx(40.2, abs=1e-6)  # tab 40, 0.1 each side
    assert y1 - y0 - relief == pytest.approx(12.2, abs=1e-6)  # board 12
