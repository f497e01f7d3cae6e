"""Jobs, parts and stock refuse what makes no sense."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from drystone.nesting.model.errors import InputError
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock

SQUARE = Outline(Loop.rectangle(100, 100))


@pytest.mark.parametrize(
    "change", [{"quantity": -2}, {"thickness": -1.0}, {"thickness": math.nan}]
)
def test_a_part_with_a_senseless_number_is_refused(change: dict[str, Any]) -> None:
    with pytest.raises(InputError, match="side"):
        Part("side", "side", SQUARE, **change)


@pytest.mark.parametrize(
    "change", [{"count": -1}, {"price": -0.5}, {"price": math.inf}, {"thickness": -3.0}]
)
def test_stock_with_a_senseless_number_is_refused(change: dict[str, Any]) -> None:
    with pytest.raises(InputError, match="board"):
        Stock("a", "board", SQUARE, **change)


@pytest.mark.parametrize("name", ["cutter", "allowance", "margin"])
def test_cutting_with_a_negative_length_is_refused(name: str) -> None:
    with pytest.raises(InputError, match=name):
        change: dict[str, Any] = {name: -0.1}
        replace(Cutting(), **change)


def test_two_parts_with_one_id_are_refused() -> None:
    with pytest.raises(InputError, match="share the id 'a'"):
        Job("boxes", (Part("a", "one", SQUARE), Part("a", "two", SQUARE)))


def test_an_unknown_unit_is_refused() -> None:
    with pytest.raises(InputError, match="cubits"):
        Job("boxes", units="cubits")


def test_a_job_finds_its_parts_and_the_stock_of_a_blank() -> None:
    part, sheet = Part("a", "one", SQUARE), Stock("s", "sheet", SQUARE)
    layout = Layout((Blank("s"),), (Placement("a", 1, 0, 0, 0),))
    job = Job("boxes", (part,), (sheet,), layout=layout)
    assert job.part("a") is part
    assert job.stock_of(0) is sheet
    assert layout.on(0) == layout.placements
    assert layout.on(1) == ()


def test_the_gap_is_cutter_and_allowance() -> None:
    assert Cutting(cutter=6.35, allowance=1.5).gap == 7.85


def test_only_an_upright_whole_rectangle_counts_as_one() -> None:
    assert Stock("s", "sheet", SQUARE).is_rectangle
    holed = Outline(Loop.rectangle(100, 100), (Loop.circle(50, 50, 10),))
    assert not Stock("s", "sheet", holed).is_rectangle
    notched = Loop.polygon([(0, 0), (9, 0), (9, 4), (4, 4), (4, 9), (0, 9)])
    assert not Stock("s", "sheet", Outline(notched)).is_rectangle
