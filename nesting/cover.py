"""Fewest or cheapest blanks that cover some needs: a small whole-number program."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

ROUNDING = 1e-9
"""Relative; a sum this little above a whole number of blanks is that number."""

STEPS = 20_000
"""Branches looked at before the fractional answer is taken, which is lower."""


@dataclass(frozen=True)
class Want:
    """What blanks of some kinds must come to together.

    Attributes
    ----------
    kinds : frozenset of int
        Which kinds count.
    area : float
        Area at least, mm².
    blanks : int
        Blanks at least.
    """

    kinds: frozenset[int]
    area: float
    blanks: int


def least_cover(
    area: Sequence[float],
    there: Sequence[int | None],
    cost: Sequence[float],
    wants: Sequence[Want],
    steps: int = STEPS,
) -> float:
    """Return a cost below which no choice of blanks meets every want.

    Parameters
    ----------
    area : sequence of float
        Of one blank of each kind, mm².
    there : sequence of int or None
        How many there are; None for as many as needed.
    cost : sequence of float
        Of one blank; 0 or more.
    wants : sequence of Want

    Returns
    -------
    float
        The least cost exactly, unless `steps` runs out; infinite if no choice will do.
    """
    kinds = sorted(range(len(area)), key=lambda k: (cost[k] / area[k], -area[k], k))
    best = math.inf
    left = steps

    def fraction(rest: Sequence[int], needs: Sequence[tuple[float, float]]) -> float:
        """Cost at least, by each want alone, in parts of blanks."""
        most = 0.0
        for want, (room, blanks) in zip(wants, needs, strict=True):
            for value, need in ((area, room), (None, blanks)):
                paid = 0.0
                rounding = 1e-9 * (1.0 + need)  # a need may be millions of mm²
                rows = [k for k in rest if k in want.kinds]
                size = {k: value[k] if value is not None else 1.0 for k in rows}
                for k in sorted(rows, key=lambda k: (cost[k] / size[k], k)):
                    if need <= 0.0:
                        break
                    number = there[k]
                    take = need / size[k]
                    take = take if number is None else min(take, float(number))
                    paid += take * cost[k]
                    need -= take * size[k]
                if need > rounding:
                    return math.inf
                most = max(most, paid)
        return most

    def go(at: int, paid: float, needs: list[tuple[float, float]]) -> None:
        nonlocal best, left
        left -= 1
        if left < 0:
            return
        if all(room <= 0.0 and blanks <= 0 for room, blanks in needs):
            best = min(best, paid)
            return
        if at == len(kinds) or paid + fraction(kinds[at:], needs) >= best - 1e-12:
            return
        k = kinds[at]
        most = 0
        for want, (room, blanks) in zip(wants, needs, strict=True):
            if k in want.kinds:
                most = max(most, math.ceil(room / area[k]), math.ceil(blanks))
        number = there[k]
        most = most if number is None else min(most, number)
        for take in range(most, -1, -1):
            after = [
                (room - take * area[k], blanks - take)
                if k in want.kinds
                else (room, blanks)
                for want, (room, blanks) in zip(wants, needs, strict=True)
            ]
            go(at + 1, paid + take * cost[k], after)

    begin = [
        (want.area * (1.0 - ROUNDING), float(max(want.blanks, 0))) for want in wants
    ]
    least = fraction(kinds, begin)
    go(0, 0.0, begin)
    return best if left >= 0 else least
