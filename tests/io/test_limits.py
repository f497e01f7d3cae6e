from __future__ import annotations

import time

import pytest

from drystone.io.limits import Budget, Cancelled, Limits
from drystone.nesting.model.errors import InputError


def test_each_limit_says_what_was_too_much() -> None:
    budget = Budget(
        "a.dxf",
        Limits(
            file_bytes=100, entities=5, depth=3, vertices=10, points=20, unpack_ratio=2
        ),
    )
    budget.bytes(100)
    budget.entity(5)
    budget.depth(3)
    budget.vertices(10)
    with pytest.raises(InputError, match="larger than"):
        budget.bytes(101)
    with pytest.raises(InputError, match="unpacked"):
        budget.bytes(90, packed=10)
    with pytest.raises(InputError, match="entities"):
        budget.entity()
    with pytest.raises(InputError, match="nested"):
        budget.depth(4)
    with pytest.raises(InputError, match="vertices"):
        budget.vertices(1)
    budget.points(20)
    with pytest.raises(InputError, match="more than 20 points to follow"):
        budget.points(1)


def test_time_runs_out() -> None:
    with pytest.raises(InputError, match="longer than"):
        Budget("a.dxf", Limits(seconds=-1.0)).check()


def test_the_caller_can_stop_it() -> None:
    with pytest.raises(Cancelled):
        Budget("a.dxf", cancelled=lambda: True).check()


def test_ticks_look_at_the_clock() -> None:
    budget = Budget("a.dxf", Limits(seconds=-1.0))
    with pytest.raises(InputError):
        for _ in range(300):
            budget.tick()


def test_usable_numbers() -> None:
    budget = Budget("a.dxf")
    assert budget.usable(0.0, -1e7, 1e7)
    for bad in (float("nan"), float("inf"), 1e7 * 1.01, -1e300):
        assert not budget.usable(0.0, bad)


def test_waiting_on_a_busy_computer_does_not_count() -> None:
    budget = Budget("a.dxf", Limits(seconds=0.2))
    time.sleep(0.3)
    budget.check()
    end = time.thread_time() + 0.3
    while time.thread_time() < end:
        pass
    with pytest.raises(InputError, match="longer than"):
        budget.check()
