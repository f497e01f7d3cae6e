"""Costs, yields and weights of layouts."""

from __future__ import annotations

import pytest

from drystone.nesting.model.job import Job
from drystone.nesting.model.machine import Machine, Prices, ShopSetup
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.cost import blank_weight, job_cost, layout_yield
from drystone.nesting.shop.time import JobTime, TimeRange

STOCK = Stock("s", "sheet", Outline(Loop.rectangle(1000, 500)), "mdf", 12.0, price=40.0)
PART = Part("a", "a", Outline(Loop.rectangle(250, 200)), (), 4, "mdf", 12.0)
JOB = Job(
    "job",
    (PART,),
    (STOCK,),
    layout=Layout(
        (Blank("s"), Blank("s")),
        (Placement("a", 1, 0, 0, 0), Placement("a", 2, 1, 0, 0)),
    ),
)
HOUR = JobTime((), TimeRange(3000.0, 3600.0, 4000.0), 1800.0)
SETUP = ShopSetup(
    machines=(Machine(rate=30.0),),
    prices=Prices(labour_rate=20.0, set_up=5.0, keep_share=0.5, mark_up=0.25),
)


def test_a_price_line_by_line() -> None:
    """Two sheets at 40, a tenth used; half the rest kept at half its price."""
    cost = job_cost(JOB, SETUP, HOUR, kept=450_000.0)
    assert cost.sheets == 80.0
    assert cost.kept == pytest.approx(18.0)
    assert cost.waste == pytest.approx(36.0)
    assert (cost.machine, cost.labour, cost.set_up) == (30.0, 10.0, 5.0)
    assert cost.cost == pytest.approx(107.0)
    assert cost.price == pytest.approx(133.75)


def test_kept_leftovers_are_no_parts() -> None:
    areas = layout_yield(JOB, kept=450_000.0)
    assert areas.share == pytest.approx(0.1)
    assert areas.waste == pytest.approx(450_000.0)


def test_an_empty_layout_costs_its_set_up() -> None:
    empty = Job("job", (PART,), (STOCK,))
    cost = job_cost(empty, SETUP, JobTime((), TimeRange(0, 0, 0), 0.0))
    assert cost.cost == 5.0
    assert layout_yield(empty).share == 0.0


def test_blank_weight_uses_the_material_library() -> None:
    assert blank_weight(JOB, 0, SETUP) == pytest.approx(1.0 * 0.5 * 0.012 * 750)
