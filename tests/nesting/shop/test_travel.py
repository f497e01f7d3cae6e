"""Travel of the machine, and parts a cutter cannot cut as drawn."""

from __future__ import annotations

import pytest

from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import Machine
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.reach import advice_on_reach
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
    assert "3.0 mm beyond" in advice.message
    assert not advice_on_travel(job(5, 10), machine)
    assert not advice_on_travel(job(10, 10), machine, (-5.0, 0.0))
    assert advice_on_travel(job(10, 10), machine, (-8.0, 0.0))
    assert not advice_on_travel(job(10, 10), Machine(bed=(500, 400)))


def test_what_cannot_be_cut_as_drawn_is_told() -> None:
    holes = (Loop.circle(50, 50, 2.5), Loop.rectangle(80, 60, 100, 100))
    part = Part("p", "plate", Outline(Loop.rectangle(480, 380), holes))
    found = advice_on_reach(Job("j", (part,), cutting=Cutting(cutter=6.35)))
    assert [advice.code for advice in found] == ["cutter-too-wide", "corners-left"]
    assert "1 hole; 5.0" in found[0].message
    assert "4 inside corners" in found[1].message
    assert advice_on_reach(Job("j", (PART,))) == []


@pytest.mark.parametrize("cutter", [0.0, 6.35])
def test_an_order_of_nothing_has_no_advice(cutter: float) -> None:
    none = Part("p", "plate", PART.outline, (), 0)
    assert advice_on_reach(Job("j", (none,), cutting=Cutting(cutter=cutter))) == []
