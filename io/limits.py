"""Limits on what a drawing may cost to read, and the budget that enforces them."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from ..nesting.model.errors import InputError

STEPS = (2, 4, 10)
"""How many times larger a drawing may be allowed to be, one after the other."""


@dataclass(frozen=True, slots=True)
class Limits:
    """How much a drawing may hold.

    What is usual is read within ten seconds and 1 GiB on a common computer, so that
    nothing hangs without having been asked for. Who wants to read a larger drawing
    says so (`raised`), and can stop it.

    Parameters
    ----------
    file_bytes : int
        Size of the file, also after it was unpacked.
    unpack_ratio : float
        How many times larger a compressed file may become.
    entities : int
        Entities or elements after blocks, uses and repeats were expanded.
    depth : int
        Blocks in blocks, groups in groups.
    vertices : int
        Vertices, control points and path commands in all.
    points : int
        Points along curves, for telling what lies in what.
    pairs : int
        Group codes with their values in a DXF file.
    seconds : float
        Processor time for reading one file: a busy computer is not the file's fault.
    memory : int
        The most memory a process that reads may take, bytes; where the system can
        enforce it.
    coordinate : float
        Greatest distance from the origin, mm; what lies beyond is left out.
    times : int
        How many times the usual these limits are.
    """

    file_bytes: int = 100_000_000
    unpack_ratio: float = 200.0
    entities: int = 105_000
    depth: int = 64
    vertices: int = 200_000
    points: int = 2_000_000
    pairs: int = 2_500_000
    seconds: float = 60.0
    memory: int = 900 << 20
    coordinate: float = 1e7
    times: int = 1

    def raised(self, times: int) -> Limits:
        """Return limits for drawings so many times larger.

        How deeply things may be nested and how far a file may grow when it is
        unpacked stay as they are: no honest drawing comes near them.

        Raises
        ------
        InputError
            If it is no number from 1 to the last of `STEPS`.
        """
        if not 1 <= times <= STEPS[-1]:
            raise InputError(
                "", f"limits {times} times the usual", f"give 1 to {STEPS[-1]}"
            )
        return replace(
            self,
            file_bytes=self.file_bytes * times,
            entities=self.entities * times,
            vertices=self.vertices * times,
            points=self.points * times,
            pairs=self.pairs * times,
            seconds=self.seconds * times,
            memory=self.memory * times,
            times=self.times * times,
        )


class Cancelled(Exception):
    """Reading was stopped because the caller asked for it."""


class TooLarge(InputError):
    """A drawing goes beyond a limit that the user may raise.

    Parameters
    ----------
    where, what : str
        As for `InputError`.
    times : int or None
        How many times the usual to allow next; None if no number helps.
    """

    def __init__(self, where: str, what: str, times: int | None = None) -> None:
        # How to allow it is for the command line or the window to say.
        super().__init__(where, what, SMALLER)
        self.times = times

    def __reduce__(self) -> tuple[type[TooLarge], tuple[str, str, int | None]]:
        """Return how it travels from one process to another."""
        return type(self), (self.where, self.what, self.times)


SMALLER = "split or simplify the drawing"
"""What helps with every drawing that is too large."""


def too_large(where: str, what: str, limits: Limits, over: float = 1.0) -> TooLarge:
    """Return the error for a drawing beyond a limit.

    Parameters
    ----------
    over : float
        How many times the limit it comes to at least, as far as that is known.
    """
    enough = (s for s in STEPS if s > limits.times and s >= over * limits.times)
    return TooLarge(where, what, next(enough, None))


class Budget:
    """Counts what reading one file costs, and stops it when a limit is passed.

    It is made and used in one thread, whose time it counts.

    Parameters
    ----------
    file : str
        The file's name, for the error message.
    limits : Limits
        What is allowed.
    cancelled : callable, optional
        Asked now and then; returning True raises `Cancelled`.
    """

    def __init__(
        self,
        file: str,
        limits: Limits | None = None,
        cancelled: Callable[[], bool] | None = None,
    ) -> None:
        self.file = file
        self.limits = limits or Limits()
        self._cancelled = cancelled
        self._end = time.thread_time() + self.limits.seconds
        self._entities = 0
        self._vertices = 0
        self._points = 0
        self._ticks = 0

    def bytes(self, count: int, packed: int | None = None) -> None:
        """Check a file's size, and how much it grew when it was unpacked."""
        if count > self.limits.file_bytes:
            raise self._too_much(
                f"it is larger than {self.limits.file_bytes / 1e6:.0f} MB",
                _over(count, self.limits.file_bytes),
            )
        if packed is not None and count > packed * self.limits.unpack_ratio:
            raise self._never("it grows beyond measure when it is unpacked")

    def entity(self, count: int = 1) -> None:
        """Count entities; every now and then also look at the clock."""
        self._entities += count
        self.expect(self._entities)
        self.tick()

    def expect_more(self, count: int) -> None:
        """Check how many entities reading will come to beside those counted."""
        self.expect(self._entities + count)

    def expect(self, count: int) -> None:
        """Check how many entities reading will come to, before it begins."""
        if count > self.limits.entities:
            raise self._too_much(
                f"it holds more than {self.limits.entities:,} entities, "
                "repeats of blocks included",
                _over(count, self.limits.entities),
            )

    def vertices(self, count: int) -> None:
        """Count vertices, control points or path commands."""
        self._vertices += count
        self.expect_vertices(self._vertices)

    def expect_vertices(self, count: int) -> None:
        """Check how many vertices reading will come to, before it begins."""
        if count > self.limits.vertices:
            raise self._too_much(
                f"it holds more than {self.limits.vertices:,} vertices",
                _over(count, self.limits.vertices),
            )

    def points(self, count: int) -> None:
        """Count points along curves."""
        self._points += count
        if self._points > self.limits.points:
            raise self._too_much(
                f"its curves take more than {self.limits.points:,} points to follow"
            )

    def pairs(self, count: int) -> None:
        """Check how many group codes with their values a DXF file has."""
        if count > self.limits.pairs:
            raise self._too_much(
                f"it holds more than {self.limits.pairs:,} codes and values",
                _over(count, self.limits.pairs),
            )

    def depth(self, depth: int) -> None:
        """Check how deeply blocks or groups are nested."""
        if depth > self.limits.depth:
            raise self._never(
                f"its blocks or groups are nested more than {self.limits.depth} deep"
            )

    def tick(self) -> None:
        """Look at the clock and the caller's wish, once in 256 calls."""
        self._ticks += 1
        if self._ticks % 256 == 0:
            self.check()

    def check(self) -> None:
        """Look at the clock and the caller's wish now."""
        if self._cancelled is not None and self._cancelled():
            raise Cancelled
        if time.thread_time() > self._end:
            raise self._too_much(
                f"reading took longer than {self.limits.seconds:g} seconds"
            )

    def usable(self, *values: float) -> bool:
        """Return whether numbers are finite and no further out than allowed."""
        limit = self.limits.coordinate
        return all(math.isfinite(v) and abs(v) <= limit for v in values)

    def _too_much(self, what: str, over: float = 1.0) -> InputError:
        return too_large(self.file, f"not read: {what}", self.limits, over)

    def _never(self, what: str) -> InputError:
        return InputError(self.file, f"not read: {what}", SMALLER)


def _over(count: int, limit: int) -> float:
    """Return how many times a limit a count is; counts of bombs fit no float."""
    return min(count, 1000 * limit) / max(limit, 1)
