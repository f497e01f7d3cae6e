"""Chip load, feed and passes against worked numbers.

The formula feed = rpm x flutes x chip load and the chart are a cutter maker's; the
worked feeds are plain arithmetic. The share for light machines and the limit below
which an edge rubs are common practice.
"""

from __future__ import annotations

import pytest

from drystone.nesting.model.machine import Board, BoardFamily, Cutter, Machine
from drystone.nesting.shop.feeds import (
    chart_range,
    chip_load,
    depth_factor,
    feed,
    judge,
    recommend,
)
from drystone.nesting.shop.passes import (
    pass_count,
    pass_depths,
    ramp_length,
    stepover,
)

INCH = 25.4


def test_feed_is_speed_times_flutes_times_chip_load() -> None:
    assert feed(18_000, 2, 0.005) == pytest.approx(180)  # in/min
    assert feed(18_000, 2, 0.005 * INCH) == pytest.approx(4572)
    assert feed(18_000, 1, 0.1) == pytest.approx(1800)
    assert chip_load(1800, 18_000, 1) == pytest.approx(0.1)


@pytest.mark.parametrize(
    ("family", "inch", "low", "high"),
    [
        (BoardFamily.PLYWOOD, 0.25, 0.006, 0.009),
        (BoardFamily.MDF, 0.125, 0.004, 0.007),
        (BoardFamily.ACRYLIC, 0.5, 0.010, 0.013),
        (BoardFamily.HARDWOOD, 0.375, 0.013, 0.015),
        (BoardFamily.PLYWOOD, 0.1875, 0.0045, 0.007),  # half way between two rows
    ],
)
def test_the_chart_is_read_right(
    family: BoardFamily, inch: float, low: float, high: float
) -> None:
    assert chart_range(family, inch * INCH) == pytest.approx((low * INCH, high * INCH))


def test_deeper_passes_take_thinner_chips() -> None:
    """The chart: 25 % less at two diameters, 50 % less at three."""
    assert depth_factor(6.35, 6.35) == 1.0
    assert depth_factor(3.0, 6.35) == 1.0
    assert depth_factor(12.7, 6.35) == pytest.approx(0.75)
    assert depth_factor(19.05, 6.35) == pytest.approx(0.5)


def test_a_light_machine_gets_the_common_starting_range() -> None:
    """Common practice for a light machine, 1/4 in: .002 to .005 in a tooth."""
    feeds = recommend(Cutter("c"), Machine(), Board("ply", BoardFamily.PLYWOOD))
    assert 0.002 * INCH < feeds.chip_load < 0.005 * INCH
    assert feeds.feed <= 3000.0


def test_a_slow_machine_turns_slower_before_it_rubs() -> None:
    machine = Machine(feed_max=1000.0, rpm_min=8000.0)
    board = Board("ply", BoardFamily.PLYWOOD)
    feeds = recommend(Cutter("c"), machine, board)
    assert feeds.feed == pytest.approx(1000.0)
    assert feeds.rpm < 18_000.0
    assert feeds.chip_load == pytest.approx(chip_load(1000.0, feeds.rpm, 2))


def test_rubbing_and_crowding_are_told_apart() -> None:
    board, cutter = Board("ply", BoardFamily.PLYWOOD), Cutter("c")

    def codes(rpm: float, speed: float) -> list[str]:
        return [a.code for a in judge(rpm, speed, cutter, Machine(), board)]

    assert codes(18_000, 500) == ["chip-load-rubbing"]
    assert codes(18_000, 1_000) == ["chip-load-low"]
    assert codes(18_000, 2_700) == []
    assert codes(18_000, 3_900) == ["chip-load-high", "feed-above-machine"]


@pytest.mark.parametrize(
    ("depth", "per_pass", "count"),
    [
        (9 + 0.3, 0.06, 155),  # plain floats say 156
        (12 + 0.3, 0.06, 205),  # and 206
        (0.734 + 0.02, 0.125, 7),
        (19.05 + 0.3, 3.175, 7),
        (12.0, 12.0, 1),
        (12.001, 12.0, 2),
    ],
)
def test_passes_are_counted_without_the_float_trap(
    depth: float, per_pass: float, count: int
) -> None:
    assert pass_count(depth, per_pass) == count
    depths = pass_depths(depth, per_pass)
    assert len(depths) == count
    assert depths[-1] == depth
    assert depths[0] <= per_pass * (1 + 1e-9)


def test_ramps_and_stepover() -> None:
    assert ramp_length(3.0, 5.0) == pytest.approx(34.3, abs=0.05)
    assert ramp_length(3.0, 3.0) == pytest.approx(57.2, abs=0.05)
    assert stepover(6.35, 0.5) == 3.175  # half of a quarter-inch cutter


def test_a_depth_per_pass_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="depth above 0"):
        pass_count(12.0, 0.0)
