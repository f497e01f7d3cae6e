"""Cheaper mixes of stock: what is chosen, and that an order ends up on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from drystone.nesting.improve import improve
from drystone.nesting.model.job import Cutting, Job, Objective
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.rules import TurnRule
from drystone.nesting.model.stock import Stock
from drystone.nesting.rectangles.order import bin_costs
from drystone.nesting.rooms import Problem, problems
from drystone.nesting.solve import Params, solve
from drystone.nesting.stock_mix import MixChooser
from drystone.nesting.stop import MaxPasses
from drystone.nesting.verify import verify

BARE = Cutting(cutter=0.0, allowance=0.0, margin=0.0)
QUARTERS = TurnRule.parse("90")


def sheet(
    name: str, w: float, h: float, price: float, count: int | None = None
) -> Stock:
    return Stock(name, name, Outline(Loop.rectangle(w, h)), price=price, count=count)


def wedge(quantity: int) -> Part:
    """Half of a square of 200."""
    outline = Outline(Loop.polygon([(0, 0), (200, 0), (0, 200)]))
    return Part("wedge", "wedge", outline, quantity=quantity, turn=QUARTERS)


def long_ell(quantity: int) -> Part:
    corners = [(0, 0), (700, 0), (700, 100), (100, 100), (100, 200), (0, 200)]
    outline = Outline(Loop.polygon(corners))
    return Part("ell", "ell", outline, quantity=quantity, turn=QUARTERS)


def order(
    parts: tuple[Part, ...],
    stock: tuple[Stock, ...],
    objective: Objective = Objective.LEAST_COST,
) -> tuple[Problem, list[float]]:
    job = Job("mix", parts, stock, BARE, objective=objective)
    problem = problems(job)[0]
    return problem, bin_costs(job, problem)


def test_the_mix_with_the_most_room_for_the_money_is_chosen() -> None:
    stock = (sheet("large", 1000, 1000, 50), sheet("small", 500, 500, 11))
    chooser = MixChooser(*order((wedge(40),), stock))  # 0.8 m²
    assert chooser.choose(50.1) == (0, 4)
    assert chooser.choose(43.0) is None
    assert chooser.choose(100.1) == (0, 9)
    assert chooser.choose(105.1) == (1, 5)


def test_what_fits_on_one_kind_only_finds_room_there() -> None:
    stock = (sheet("large", 1000, 1000, 50), sheet("small", 500, 500, 1))
    chooser = MixChooser(*order((wedge(4), long_ell(1)), stock))
    mix = chooser.choose(54.0)
    assert mix is not None
    assert mix[0] == 1
    assert chooser.choose(49.0) is None


def test_no_more_is_taken_than_there_is() -> None:
    stock = (sheet("large", 1000, 1000, 50), sheet("small", 500, 500, 1, count=2))
    mix = MixChooser(*order((wedge(4),), stock)).choose(120.0)
    assert mix == (2, 2)


def test_the_objective_decides_what_costs_more() -> None:
    stock = (
        sheet("sheet", 1000, 1000, 20),
        replace(sheet("offcut", 600, 600, 30, count=1), offcut=True),
    )
    for objective, first in (
        (Objective.LEAST_COST, "sheet"),
        (Objective.FEWEST_SHEETS, "offcut"),
    ):
        problem, costs = order((wedge(4),), stock, objective)
        cheapest = problem.rooms[int(np.argmin(costs))]
        assert cheapest.stock.id == first


def test_a_dear_layout_is_exchanged_for_a_cheaper_mix() -> None:
    """By price per area the large sheet is best, but most of it would be waste."""
    stock = (sheet("large", 2000, 1000, 80), sheet("small", 710, 410, 30))
    parts = (wedge(4), long_ell(2))
    job = Job("mix", parts, stock, BARE, objective=Objective.LEAST_COST)
    result = solve(job, MaxPasses(30), params=Params(improve=improve))
    assert verify(job, result.layout).ok
    assert result.complete
    assert result.measures.cost <= 60.0
    again = solve(job, MaxPasses(30), params=Params(improve=improve))
    assert again.layout == result.layout
