"""Travel of the machine, and parts a cutter cannot cut as drawn."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from drystone.nesting.model.errors import InputError
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import Machine
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.reach import advice_on_reach, widest_for
from drystone.nesting.shop.travel import advice_on_travel, path_extent

BOARD = Stock("s", "b", Outline(Loop.rectangle(500, 400)))
PART = Part("p", "plate", Outline(Loop.rectangle(480, 380)))


def job(x: float, y: float) -> Job:
    layout = Layout((Blank("s"),), (Placement("p", 1, 0, x, y),))
    return Job("j", (PART,), (BOARD,), Cutting(cutter=6.0), layout=layout)


def test_paths_run_half_a_cut_width_outside() -> None:
    assert path_extent(job(10, 10), 0) == (7, 7, 493, 393)
    assert path_extent(Job("j", (), (BOARD,), layout=Layout((Blank("s"),))), 0) is None


def test_travel_is_checked_with_the_stops() -> None:
    machine = Machine(bed=(500, 400), travel=(490, 400))
    (advice,) = advice_on_travel(job(10, 10), machine)
    assert "3 mm beyond" in advice.message
    assert not advice_on_travel(job(5, 10), machine)
    assert not advice_on_travel(job(10, 10), machine, (-5.0, 0.0))
    assert advice_on_travel(job(10, 10), machine, (-8.0, 0.0))
    assert not advice_on_travel(job(10, 10), Machine(bed=(500, 400)))
    held = Machine(bed=(500, 400), travel=(490, 400), stops=(-5.0, 0.0))
    assert not advice_on_travel(job(10, 10), held)
    assert advice_on_travel(job(10, 10), held, (0.0, 0.0))
    with pytest.raises(InputError, match="stops"):
        Machine(stops=(math.nan, 0.0))


def test_what_cannot_be_cut_as_drawn_is_told() -> None:
    holes = (Loop.circle(50, 50, 2.5), Loop.rectangle(80, 60, 100, 100))
    part = Part("p", "plate", Outline(Loop.rectangle(480, 380), holes))
    found = advice_on_reach(Job("j", (part,), cutting=Cutting(cutter=6.35)))
    assert [advice.code for advice in found] == ["cutter-too-wide", "corners-left"]
    assert "1 hole; 5 mm" in found[0].message
    assert "4 inside corners" in found[1].message
    assert advice_on_reach(Job("j", (PART,))) == []
    other = replace(PART, id="o")
    more = advice_on_reach(
        Job("j", (part, other), cutting=Cutting(cutter=6.35)), (3.175, 6.0, 4.9)
    )
    assert "gets everywhere is 4.9 mm" in more[-1].message
    none = advice_on_reach(Job("j", (part,), cutting=Cutting(cutter=6.35)), (6.0,))
    assert "no cutter of the drawer" in none[-1].message


def test_the_widest_cutter_that_does_everything() -> None:
    """A 3 mm radius and a hole of 5 mm: 4.9 enters, and clears; 6 does not enter."""
    hole = Part("h", "h", Outline(Loop.rectangle(50, 50), (Loop.circle(25, 25, 2.5),)))
    job = Job("j", (hole, PART))
    assert widest_for(job, (3.175, 4.9, 6.0)) == 4.9
    assert widest_for(job, (6.0,)) is None
    assert widest_for(Job("j", (PART,)), (3.175, 6.0)) == 6.0


@pytest.mark.parametrize("cutter", [0.0, 6.35])
def test_an_order_of_nothing_has_no_advice(cutter: float) -> None:
    none = Part("p", "plate", PART.outline, (), 0)
    assert advice_on_reach(Job("j", (none,), cutting=Cutting(cutter=cutter))) == []
