"""Dual feasible functions: what rectangles weigh, so that a blank holds 1 at most.

A function f on [0, 1] is dual feasible if numbers that add up to 1 at most are taken to
numbers that do. For two of them, upright rectangles that lie apart in a unit square
weigh together at most 1, each f(width) times g(height) (Fekete & Schepers 2004,
doi:10.1287/moor.1030.0079, and Mathematical Programming 91, 2001,
doi:10.1007/s101070100243). What may lie in several ways weighs the least over the
ways, and what is no rectangle as much as any rectangle inside it; so nothing here
depends on how parts turn, unlike the closed formulas for oriented rectangles.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from .kernels import FloatArray

MOST_LEVELS = 48
"""Thresholds tried per axis and kind of function."""

EXACT = 1e-12


@dataclass(frozen=True, slots=True)
class Function:
    """One dual feasible function.

    Attributes
    ----------
    kind : str
        "same"; "ends": above 1 - level counts as 1, below level as 0; "share": how
        many pieces of `level` are displaced; "floor": rounded down to parts of
        `level`, a whole number.
    level : float
        Its parameter; 0 for "same".
    """

    kind: str
    level: float = 0.0

    def __call__(self, x: FloatArray) -> FloatArray:
        """Return the function of numbers from 0 to 1; it never falls."""
        e = self.level
        if self.kind == "ends":
            middle = np.where(x >= e, x, 0.0)
            return np.where(x > 1.0 - e + EXACT, 1.0, middle)
        if self.kind == "share":
            pieces = math.floor(1.0 / e + EXACT)
            # Where rounding matters, more pieces beside it and a lower weight.
            beside = np.floor((1.0 - x) / e + EXACT)
            large = 1.0 - beside / pieces
            small = np.where(x >= e, 1.0 / pieces, 0.0)
            return np.where(x > 0.5 + EXACT, large, small)
        if self.kind == "floor":
            scaled = (e + 1.0) * x
            whole = np.abs(scaled - np.round(scaled)) <= 1e-9
            return np.where(whole, x, np.floor(scaled) / e)
        return x


def functions(sizes: FloatArray) -> list[Function]:
    """Return the functions worth trying on numbers from 0 to 1."""
    small = sorted({float(s) for s in sizes if 1e-3 < s <= 0.5})
    large = sorted({1.0 - float(s) for s in sizes if 0.5 < s < 1.0 - 1e-3})
    levels = sorted({*small, *(level + 1e-9 for level in large if level < 0.499)})
    if len(levels) > MOST_LEVELS:
        step = len(levels) / MOST_LEVELS
        levels = [levels[int(k * step)] for k in range(MOST_LEVELS)]
    found = [Function("same")]
    found += [Function("floor", float(k)) for k in range(1, 9)]
    found += [Function("ends", level) for level in levels]
    found += [Function("share", level) for level in levels]
    found.append(Function("ends", 0.5))
    return found


@dataclass(frozen=True)
class Ways:
    """One part as rectangles: for each way to lie, rectangles inside it.

    Attributes
    ----------
    sides : float64 (ways, choices, 2)
        Width and height relative to the blank's.
    """

    sides: FloatArray

    def weight(self, across: Function, along: Function) -> float:
        """Return what the part weighs at least, however it lies."""
        product = across(self.sides[..., 0]) * along(self.sides[..., 1])
        return float(product.max(axis=1).min())


def best_pairs(
    parts: Sequence[Ways],
    counts: Sequence[int],
    keep: int,
    poll: Callable[[], None] = lambda: None,
) -> list[tuple[Function, Function]]:
    """Return the pairs of functions under which the copies weigh most together."""
    across = functions(np.concatenate([p.sides[..., 0].ravel() for p in parts]))
    along = functions(np.concatenate([p.sides[..., 1].ravel() for p in parts]))
    total = np.zeros((len(across), len(along)))
    for part, count in zip(parts, counts, strict=True):
        poll()
        wide = np.stack([f(part.sides[..., 0]) for f in across])
        high = np.stack([f(part.sides[..., 1]) for f in along])
        product = wide[:, None] * high[None]  # (across, along, ways, choices)
        total += count * product.max(axis=3).min(axis=2)
    best = np.argsort(-total, axis=None, kind="stable")[:keep]
    return [(across[k // len(along)], along[k % len(along)]) for k in best.tolist()]
