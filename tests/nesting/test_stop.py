"""Stop rules fire when they should, and say why."""

from __future__ import annotations

import threading

import pytest

from drystone.nesting import stop as stop_module
from drystone.nesting.stop import (
    AnyOf,
    BoundMet,
    Cancelled,
    MaxPasses,
    MaxTime,
    NoImprovement,
    OnceComplete,
    Progress,
    StopReason,
    reason_of,
)


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def monotonic(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    clock = Clock()
    monkeypatch.setattr(stop_module, "time", clock)
    return clock


def test_the_clock_starts_at_the_first_question(clock: Clock) -> None:
    stop = MaxTime(5.0)
    clock.now += 60.0
    assert not stop(Progress())
    clock.now += 4.9
    assert not stop(Progress())
    clock.now += 0.2
    assert stop(Progress())


def test_no_time_at_all_stops_at_once(clock: Clock) -> None:
    assert MaxTime(0.0)(Progress())


@pytest.mark.parametrize("seconds", [-1.0, float("nan")])
def test_a_time_that_cannot_be_kept_is_refused(seconds: float) -> None:
    with pytest.raises(ValueError, match="cannot be kept"):
        MaxTime(seconds)


def test_passes() -> None:
    stop = MaxPasses(3)
    assert [stop(Progress(passes=n)) for n in (0, 2, 3, 4)] == [
        False,
        False,
        True,
        True,
    ]
    with pytest.raises(ValueError, match="cannot be kept"):
        MaxPasses(-1)


def test_no_improvement_by_passes_and_by_seconds(clock: Clock) -> None:
    by_passes = NoImprovement(passes=10)
    assert not by_passes(Progress(passes=9))
    assert by_passes(Progress(passes=10))
    assert not by_passes(Progress(passes=19, better=1, better_at=10))
    by_seconds = NoImprovement(seconds=2.0)
    assert not by_seconds(Progress(better=1))
    clock.now += 1.9
    assert not by_seconds(Progress(better=2))
    clock.now += 1.9
    assert not by_seconds(Progress(better=2))
    clock.now += 0.2
    assert by_seconds(Progress(better=2))
    with pytest.raises(ValueError, match="give passes"):
        NoImprovement()


def test_cancelled_from_another_thread() -> None:
    event = threading.Event()
    stop = Cancelled(event.is_set)
    assert not stop(Progress())
    threading.Thread(target=event.set).start()
    assert event.wait(5.0)
    assert stop(Progress())


def test_any_of_asks_all_and_tells_which(clock: Clock) -> None:
    limit = MaxTime(5.0)
    stop = AnyOf(BoundMet(), limit, MaxPasses(7))
    assert not stop(Progress())
    clock.now += 6.0
    assert stop(Progress(passes=7))
    assert reason_of(stop) is StopReason.TIME
    assert AnyOf(BoundMet())(Progress(bound_met=True))
    assert not AnyOf()(Progress())


def test_a_plain_callable_will_do() -> None:
    assert reason_of(lambda progress: True) is StopReason.OTHER


def test_a_patient_rule_waits_for_the_first_layout() -> None:
    rule = OnceComplete(MaxPasses(3))
    assert not rule(Progress(passes=9))
    assert rule(Progress(passes=9, better=1))
    assert not rule(Progress(passes=2, better=1))
    assert reason_of(rule) is StopReason.PASSES
