"""When a search ends: small rules that combine.

A rule is any callable that takes the `Progress` so far and says whether to stop. It is
asked between short steps of the search, at least every 50 ms. Clocks start at the first
question, not when a rule is made.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol


class StopReason(StrEnum):
    """Why a search ended."""

    TIME = "time used up"
    PASSES = "passes used up"
    NO_IMPROVEMENT = "nothing better for a while"
    CANCELLED = "cancelled"
    BOUND = "no layout can be better"
    DONE = "nothing left to try"
    OTHER = "stopped"


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a search has come.

    Attributes
    ----------
    passes : int
        Units of work done; the same work gives the same count on every machine.
    better : int
        How often a better layout was found.
    better_at : int
        The pass at which the last better layout was found.
    bound_met : bool
        Whether the best layout is as good as any layout can be.
    """

    passes: int = 0
    better: int = 0
    better_at: int = 0
    bound_met: bool = False


class Stop(Protocol):
    """A rule that ends a search."""

    def __call__(self, progress: Progress, /) -> bool:
        """Return whether to stop now."""


def reason_of(stop: Stop) -> StopReason:
    """Return why a rule that has fired did so; OTHER for a plain callable."""
    reason = getattr(stop, "reason", StopReason.OTHER)
    return reason if isinstance(reason, StopReason) else StopReason.OTHER


def pass_budget(stop: object) -> int | None:
    """Return at how many passes a rule stops at the latest; None if it says nothing."""
    budgets = [pass_budget(part) for part in getattr(stop, "stops", ())]
    inner = getattr(stop, "rule", None)
    budgets += [pass_budget(inner)] if inner is not None else []
    if isinstance(stop, MaxPasses):
        budgets.append(stop.passes)
    return min((budget for budget in budgets if budget is not None), default=None)


class MaxTime:
    """Stop once this many seconds have passed since the first question."""

    reason = StopReason.TIME

    def __init__(self, seconds: float) -> None:
        if not seconds >= 0.0:
            raise ValueError(f"a time limit of {seconds} s cannot be kept")
        self.seconds = seconds
        self._end: float | None = None

    def __call__(self, progress: Progress) -> bool:
        """Return whether the time is used up."""
        now = time.monotonic()
        if self._end is None:
            self._end = now + self.seconds
        return now >= self._end


class MaxPasses:
    """Stop after this many passes: the same layout on every run and machine."""

    reason = StopReason.PASSES

    def __init__(self, passes: int) -> None:
        if passes < 0:
            raise ValueError(f"a limit of {passes} passes cannot be kept")
        self.passes = passes

    def __call__(self, progress: Progress) -> bool:
        """Return whether the passes are used up."""
        return progress.passes >= self.passes


class NoImprovement:
    """Stop when nothing better was found for some passes, some seconds, or either."""

    reason = StopReason.NO_IMPROVEMENT

    def __init__(
        self, *, passes: int | None = None, seconds: float | None = None
    ) -> None:
        if passes is None and seconds is None:
            raise ValueError("give passes, seconds or both")
        self.passes = passes
        self.seconds = seconds
        self._better = -1
        self._since = 0.0

    def __call__(self, progress: Progress) -> bool:
        """Return whether it has been too long."""
        now = time.monotonic()
        if progress.better != self._better:
            self._better, self._since = progress.better, now
        stalled = progress.passes - progress.better_at
        if self.passes is not None and stalled >= self.passes:
            return True
        return self.seconds is not None and now - self._since >= self.seconds


class Cancelled:
    """Stop once somebody says so.

    Parameters
    ----------
    asked : callable
        Returns whether to stop, such as ``threading.Event().is_set``.
    """

    reason = StopReason.CANCELLED

    def __init__(self, asked: Callable[[], bool]) -> None:
        self._asked = asked

    def __call__(self, progress: Progress) -> bool:
        """Return whether somebody has asked to stop."""
        return bool(self._asked())


class BoundMet:
    """Stop when the best layout is as good as any can be."""

    reason = StopReason.BOUND

    def __call__(self, progress: Progress) -> bool:
        """Return whether the bound is met."""
        return progress.bound_met


class OnceComplete:
    """A rule that waits for the first complete layout; its clock starts there.

    Parameters
    ----------
    rule : Stop
        Asked once there is a layout.
    """

    def __init__(self, rule: Stop) -> None:
        self.rule = rule

    @property
    def reason(self) -> StopReason:
        """Why the rule fires."""
        return reason_of(self.rule)

    def __call__(self, progress: Progress) -> bool:
        """Return whether there is a layout and the rule says stop."""
        return progress.better > 0 and self.rule(progress)


class AnyOf:
    """Stop when any of some rules does; `reason` is that of the first that did."""

    def __init__(self, *stops: Stop) -> None:
        self.stops = stops
        self.reason = StopReason.OTHER

    def __call__(self, progress: Progress) -> bool:
        """Return whether any rule says stop; every rule is asked, to keep its clock."""
        fired = [stop for stop in self.stops if stop(progress)]
        if fired:
            self.reason = reason_of(fired[0])
        return bool(fired)
