"""Clamps keep nut and shoe clear, measured at the worst layout there can be."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import Machine
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.clamps import advice_on_clamps, clamp, clearance_needed
from drystone.nesting.verify import Kind, verify

CUTTING = Cutting(6.0, 1.5, 12.0)


@pytest.mark.parametrize(
    ("nut", "shoe", "need"), [(25.0, 0.0, 8.0), (25.0, 60.0, 25.5), (5.0, 0.0, 0.0)]
)
def test_the_clearance_is_worked_out(nut: float, shoe: float, need: float) -> None:
    """Nut of 25, cutter of 6, gap of 7.5: 12.5 + 3 - 7.5 = 8 mm."""
    machine = Machine(nut_diameter=nut, shoe_diameter=shoe)
    assert clearance_needed(machine, CUTTING) == pytest.approx(need)


@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_a_part_as_near_as_allowed_leaves_room_for_the_nut(turn: float) -> None:
    """Pushed against the keep-out to the gap, the nut just touches the clamp."""
    machine = Machine(nut_diameter=40.0)
    area = clamp(machine, CUTTING, (40.0, 80.0), (0.0, 300.0))
    board = Stock("s", "s", Outline(Loop.rectangle(900, 700)), keep_outs=(area,))
    part = Part("p", "p", Outline(Loop.rectangle(120, 90)))
    flat = Outline(area.loop).outer.flatten(0.001)
    wall = shapely.Polygon(flat)

    def layout(x: float) -> Layout:
        return Layout((Blank("s"),), (Placement("p", 1, 0, x, 310.0, turn),))

    def shape(x: float) -> shapely.Polygon:
        moved = part.outline.moved(layout(x).placements[0].motion)
        return shapely.Polygon(moved.outer.flatten(0.001))

    low, high = 40.0, 400.0
    for _ in range(60):  # as near as the check allows
        middle = (low + high) / 2.0
        near = shape(middle).distance(wall) < CUTTING.gap
        low, high = (middle, high) if near else (low, middle)
    job = Job("j", (part,), (board,), CUTTING, layout=layout(high + 0.001))
    assert verify(job).problems == ()
    closer = replace(job, layout=layout(high - 0.1))
    assert [p.kind for p in verify(closer).problems] == [Kind.KEEP_OUT]
    path = shape(high).buffer(CUTTING.cutter / 2.0, quad_segs=64).exterior
    itself = shapely.box(0.0, 300.0, 40.0, 380.0)
    assert path.distance(itself) == pytest.approx(20.0, abs=0.01)


def test_a_clamp_with_too_little_room_is_told() -> None:
    machine = Machine(nut_diameter=40.0)
    area = clamp(machine, CUTTING, (40.0, 80.0), (0.0, 300.0), "clamp, left")
    board = Stock("s", "quarter", Outline(Loop.rectangle(900, 700)), keep_outs=(area,))
    job = Job("j", (), (board,), CUTTING, layout=Layout((Blank("s"),)))
    assert advice_on_clamps(job, machine) == []
    (told,) = advice_on_clamps(job, replace(machine, shoe_diameter=80.0))
    assert "clamp, left on quarter has 15.5 mm of clearance" in told.message
    assert "need 35.5 mm" in told.message
    assert advice_on_clamps(replace(job, layout=Layout()), Machine()) == []
