from __future__ import annotations

import pickle
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from drystone.io.limits import Budget, Cancelled, Limits, TooLarge, too_large
from drystone.io.read_guarded import GuardedReader
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


@pytest.mark.parametrize(
    ("times", "over", "next_one"),
    [(1, 1.0, 2), (2, 1.0, 4), (4, 1.0, 10), (10, 1.0, None), (1, 3.5, 4), (2, 4.9, 10),
     (1, 10.0, 10), (1, 10.1, None), (1, 1e9, None)],
)  # fmt: skip
def test_a_refusal_says_how_much_to_allow(
    times: int, over: float, next_one: int | None
) -> None:
    error = too_large("a.dxf", "not read", Limits().raised(times), over)
    assert error.times == next_one
    assert str(error) == "a.dxf: not read; split or simplify the drawing"
    again = pickle.loads(pickle.dumps(error))
    assert str(again) == str(error) and again.times == next_one


def test_what_no_honest_drawing_comes_near_cannot_be_allowed() -> None:
    budget = Budget("a.dxf")
    attempts: tuple[Callable[[], None], ...] = (
        lambda: budget.depth(65),
        lambda: budget.bytes(90_000_000, packed=1000),
        lambda: budget.expect(10**700),  # a bomb of blocks in blocks
    )
    for too_much in attempts:
        with pytest.raises(InputError) as caught:
            too_much()
        assert getattr(caught.value, "times", None) is None


def test_limits_are_raised_together() -> None:
    usual, raised = Limits(), Limits().raised(4)
    for name in ("file_bytes", "entities", "vertices", "points", "pairs", "memory"):
        assert getattr(raised, name) == 4 * getattr(usual, name)
    assert raised.seconds == 4 * usual.seconds and raised.times == 4
    assert (raised.depth, raised.unpack_ratio) == (usual.depth, usual.unpack_ratio)
    for wrong in (0, -1, 11):
        with pytest.raises(InputError, match="give 1 to 10"):
            usual.raised(wrong)


def test_a_larger_drawing_is_read_once_it_is_allowed(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    shapes = "".join(f'<rect x="{n * 9}" width="8" height="8"/>' for n in range(30))
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" viewBox="0 0 300 9">'
        f"{shapes}</svg>"
    )
    usual = Limits(entities=20)
    told: list[tuple[float, str]] = []
    with (
        GuardedReader(usual) as reader,
        pytest.raises(TooLarge, match=r"more than 20 entities") as caught,
    ):
        reader.look_at(path)
    assert caught.value.times == 2
    with GuardedReader(usual.raised(2)) as reader:
        read = reader.look_at(path, tell=lambda *step: told.append(step))
    assert len(read.parts) == 30
    shares = [share for share, _ in told]
    assert shares == sorted(shares) and len(shares) == 3
    assert all(words for _, words in told)
