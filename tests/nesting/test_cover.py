"""The least cost of blanks that cover what is needed."""

from __future__ import annotations

import math

import pytest

from drystone.nesting.cover import Want, least_cover


def want(*kinds: int, area: float = 0.0, blanks: int = 0) -> Want:
    return Want(frozenset(kinds), area, blanks)


@pytest.mark.parametrize(
    ("sheet", "need", "count"),
    [
        # What is left of such needs after whole and part sheets were taken off is not
        # 0 but some 1e-9 mm², by rounding. Taken for a need that no sheet is left for,
        # it made the cost infinite: a proof that the job cannot be laid out at all.
        (3050.0 * 1525.0, 13_608_944.0, 3),
        (3050.0 * 1525.0, 93_051_559.58, 21),
        (2500.0 * 1250.0, 51_760_506.77, 17),
        (2500.0 * 1250.0, 64_781_483.0, 21),
        (1220.0 * 610.0, 12_112_480.86, 17),
    ],
)
def test_needs_of_millions_of_square_millimetres_can_be_covered(
    sheet: float, need: float, count: int
) -> None:
    assert count == math.ceil(need / sheet)
    cost = least_cover([sheet], [None], [30.0], [want(0, area=need)])
    assert cost == 30.0 * count


def test_what_cannot_be_covered_costs_infinitely_much() -> None:
    assert least_cover([100.0], [2], [1.0], [want(0, area=201.0)]) == math.inf
    assert least_cover([100.0], [2], [1.0], [want(0, blanks=3)]) == math.inf


def test_the_cheapest_mix_is_taken() -> None:
    area, there, cost = [100.0, 60.0], [None, 1], [10.0, 5.0]
    assert least_cover(area, there, cost, [want(0, 1, area=150.0)]) == 15.0
    assert least_cover(area, there, cost, [want(0, 1, area=170.0)]) == 20.0
    wants = [want(0, 1, area=150.0), want(0, blanks=2)]
    assert least_cover(area, there, cost, wants) == 20.0


def test_a_sum_a_rounding_above_a_whole_number_of_sheets_is_that_number() -> None:
    sheet = 1525.0 * 1525.0
    need = 7 * sheet * (1.0 + 1e-12)
    assert least_cover([sheet], [None], [1.0], [want(0, area=need)]) == 7.0
