"""How many bins rectangles need at least, by conservative scales.

A **conservative scale** (dual feasible function) maps lengths to whole numbers so that
lengths that fit side by side still do: their images add up to no more than the image of
the bin's side. Any two, one per axis, turn a packing into one whose areas add up, so
the scaled areas over the bin's scaled area bound the number of bins (Fekete & Schepers,
Mathematical Methods of OR 60, 2004, doi:10.1007/s001860400376).

The scales are those of Carlier, Clautiaux & Moukrim (Computers & OR 34, 2007,
doi:10.1016/j.cor.2005.08.012). With one at a time they give the bounds L1 to L3 of
Martello & Vigo (Management Science 44, 1998, doi:10.1287/mnsc.44.3.388) or better.

Where a copy may be turned it counts with the lesser of its two scaled areas; this holds
for quarter turns only, not where any angle is allowed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp

from ..kernels_rectangles import TURNED, UPRIGHT, ByteArray, FloatArray, LongArray

MOST_SCALES, MOST_WITH_KINDS = 160, 64
"""Thresholds of each family tried on an axis; the latter for several kinds of bin."""

MOST_PRODUCTS = 8_000_000
"""Scaled areas worked out at most: some 20 ms."""

ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Scale:
    """A conservative scale on lengths from 0 to `side`.

    Attributes
    ----------
    family : int
        0 drops lengths below `at` and makes those above ``side - at`` whole; 2 counts
        steps of `at`, rounded in favour of the small half; 1 counts how many of the
        middling lengths a long one displaces.
    at : int
        The threshold or step.
    side : int
        Side of the bin.
    middling : tuple of int
        For family 1: lengths from `at` to half the side, ascending.
    """

    family: int
    at: int
    side: int
    middling: tuple[int, ...] = ()

    def __call__(self, lengths: LongArray) -> FloatArray:
        """Scale lengths; those longer than the side count as the side."""
        c, k = self.side, self.at
        x = np.minimum(lengths, c)
        if self.family == 0:
            return np.where(x > c - k, c, np.where(x < k, 0, x)).astype(np.float64)
        if self.family == 2:
            large = 2 * (c // k - (c - x) // k)
            return np.where(
                2 * x > c, large, np.where(2 * x == c, c // k, 2 * (x // k))
            ).astype(np.float64)
        held = np.cumsum([0, *self.middling])

        def most(room: LongArray) -> LongArray:
            return np.searchsorted(held, room, side="right") - 1

        large = most(np.full(x.shape, c)) - most(c - x)
        return np.where(2 * x > c, large, np.where(x < k, 0, 1)).astype(np.float64)

    @property
    def whole(self) -> float:
        """Image of the side."""
        if self.family == 0:
            return float(self.side)
        if self.family == 2:
            return float(2 * (self.side // self.at))
        held = np.cumsum([0, *self.middling])
        return float(np.searchsorted(held, self.side, side="right") - 1)


def scales(
    lengths: Sequence[int], side: int, by_data: bool, most: int = MOST_SCALES
) -> list[Scale]:
    """Return the scales worth trying for some lengths on a side.

    Parameters
    ----------
    by_data : bool
        Whether to use the family that depends on all lengths along the axis; it holds
        only if they are known, that is if no copy may be turned.
    most : int
        Thresholds of each family.
    """
    values = sorted({int(v) for v in lengths if 0 < v <= side})
    half = [v for v in values if 2 * v <= side]
    steps = {v for v in half}
    steps |= {side - v for v in values if 0 < side - v and 2 * (side - v) <= side}
    if side <= 200:
        steps |= set(range(1, side // 2 + 1))
    else:
        steps |= {side // j + 1 for j in range(2, 12)}
    found = [Scale(0, 0, side)]
    chosen = _thinned(sorted(steps), most)
    found += [Scale(0, k, side) for k in chosen]
    found += [Scale(2, k, side) for k in chosen if 2 * k <= side]
    if by_data:
        for k in _thinned(half, most):
            middling = tuple(sorted(v for v in lengths if k <= v and 2 * v <= side))
            found.append(Scale(1, k, side, middling))
    return [scale for scale in found if scale.whole > 0.0]


def _thinned(values: list[int], most: int) -> list[int]:
    if len(values) <= most:
        return values
    pick = np.linspace(0, len(values) - 1, most).round().astype(int)
    return [values[k] for k in sorted(set(pick.tolist()))]


@dataclass(frozen=True)
class ScaleProof:
    """Why so many bins are needed: a scale for each axis.

    Attributes
    ----------
    across, along : Scale
        On x and on y.
    count : int
        Bins needed at least.
    """

    across: Scale
    along: Scale
    count: int


def scaled_count(sizes: LongArray, may: LongArray, across: Scale, along: Scale) -> int:
    """Return the bins that two scales prove.

    Parameters
    ----------
    sizes : int64 (n, 2)
        Width and height of every copy.
    may : int (n,)
        `UPRIGHT`, `TURNED` or both.
    """
    total = math.fsum(_least_areas(sizes, may, across, along).tolist())
    return math.ceil(total / (across.whole * along.whole) - ROUNDING)


def _least_areas(
    sizes: LongArray, may: LongArray, across: Scale, along: Scale
) -> FloatArray:
    w, h = sizes[:, 0], sizes[:, 1]
    upright = across(w) * along(h)
    turned = across(h) * along(w)
    # An orientation that does not fit at all is none.
    can = (may & UPRIGHT > 0) & (w <= across.side) & (h <= along.side)
    can_turned = (may & TURNED > 0) & (h <= across.side) & (w <= along.side)
    areas = np.minimum(
        np.where(can, upright, math.inf), np.where(can_turned, turned, math.inf)
    )
    return np.where(np.isfinite(areas), areas, across.whole * along.whole)


def least_bins(sizes: LongArray, may: LongArray, width: int, height: int) -> ScaleProof:
    """Return the best bound on bins of one size, with its proof.

    Parameters
    ----------
    sizes : int64 (n, 2)
        Width and height of every copy.
    may : int (n,)
        Whether each may lie upright (1), turned (2) or either (3).
    width, height : int
        Of a bin.
    """
    can_turn = bool((may & TURNED).any())
    rows = [sizes[:, 0].tolist(), sizes[:, 1].tolist()]
    if can_turn:
        rows = [rows[0] + rows[1]] * 2
    most = _most_scales(sizes, MOST_SCALES)
    across = scales(rows[0], width, not can_turn, most)
    along = scales(rows[1], height, not can_turn, most)
    if not len(sizes):
        return ScaleProof(across[0], along[0], 0)
    share = _shares(sizes, may, across, along)
    i, j = np.unravel_index(int(np.argmax(share)), share.shape)
    best = across[int(i)], along[int(j)]
    return ScaleProof(*best, scaled_count(sizes, may, *best))


def _most_scales(sizes: LongArray, most: int) -> int:
    """Return how many thresholds a family may have, so that it does not take long."""
    types = max(len(np.unique(sizes, axis=0)), 1)
    return min(most, max(math.isqrt(MOST_PRODUCTS // types) // 3, 8))


def _shares(
    sizes: LongArray, may: LongArray, across: Sequence[Scale], along: Sequence[Scale]
) -> FloatArray:
    """Scaled area over that of a bin for every two scales, shape (a, b)."""
    same, index, many = np.unique(
        np.column_stack([sizes, may]), axis=0, return_index=True, return_counts=True
    )
    w, h = sizes[index, 0], sizes[index, 1]
    per = np.array([s(w) / s.whole for s in across])
    up = np.array([s(h) / s.whole for s in along])
    if not (same[:, 2] & TURNED).any():
        return np.asarray((per * many) @ up.T)
    per_turned = np.array([s(h) / s.whole for s in across])
    up_turned = np.array([s(w) / s.whole for s in along])
    sides = across[0].side, along[0].side
    can = (same[:, 2] & UPRIGHT > 0) & (w <= sides[0]) & (h <= sides[1])
    turned = (same[:, 2] & TURNED > 0) & (h <= sides[0]) & (w <= sides[1])
    out = np.zeros((len(across), len(along)))
    for a in range(len(across)):
        one = np.where(can, per[a] * up, math.inf)
        two = np.where(turned, per_turned[a] * up_turned, math.inf)
        least = np.minimum(one, two)
        out[a] = np.where(np.isfinite(least), least, 1.0) @ many
    return out


# ------------------------------------------------------------------- several kinds


def least_cost(
    sizes: LongArray,
    fits: ByteArray,
    bins: Sequence[tuple[int, int, float, int | None]],
) -> float:
    """Return what bins of several kinds cost at least.

    Every pair of scales, made for the longest sides there are, gives one inequality
    between the numbers of bins; the cheapest numbers that meet all of them, in whole
    bins, bound the cost. The scales used here are superadditive, so that the image of
    a shorter side bounds what fits along it. Copies that fit in some kinds only give
    the same inequalities over these kinds.

    Parameters
    ----------
    sizes : int64 (n, 2)
        Width and height of every copy.
    fits : uint8 (n, k)
        Bits `UPRIGHT` and `TURNED` by kind of bin; 0 where a copy fits in no way.
    bins : sequence of (width, height, cost, supply)
        The kinds; None for as many as needed.
    """
    if not len(sizes):
        return 0.0
    can_turn = bool((fits & TURNED).any())
    rows = [sizes[:, 0].tolist(), sizes[:, 1].tolist()]
    if can_turn:
        rows = [rows[0] + rows[1]] * 2
    most = _most_scales(sizes, MOST_WITH_KINDS)
    across = scales(rows[0], max(row[0] for row in bins), False, most)
    along = scales(rows[1], max(row[1] for row in bins), False, most)
    widths = np.array([row[0] for row in bins], dtype=np.int64)
    heights = np.array([row[1] for row in bins], dtype=np.int64)
    room_x = np.array([s(widths) / s.whole for s in across])
    room_y = np.array([s(heights) / s.whole for s in along])
    groups = {tuple(row) for row in (fits > 0).tolist()}
    demands: list[tuple[tuple[bool, ...], FloatArray]] = []
    for group in sorted(groups):
        inside = ((fits > 0) <= np.array(group)).all(axis=1)
        may = np.bitwise_or.reduce(fits[inside], axis=1).astype(np.int64)
        demands.append((group, _shares(sizes[inside], may, across, along)))
    cost = np.array([row[2] for row in bins], dtype=np.float64)
    upper = [math.inf if row[3] is None else float(row[3]) for row in bins]
    matrix: list[FloatArray] = []
    needs: list[float] = []
    chosen = np.zeros(len(bins))
    bound = 0.0
    for _ in range(40):
        added = False
        for group, demand in demands:
            held = np.einsum("ak,bk,k->ab", room_x, room_y, chosen * group)
            short = demand - held
            i, j = np.unravel_index(int(np.argmax(short)), short.shape)
            if short[i, j] > 1e-7:
                matrix.append(room_x[i] * room_y[j] * group)
                needs.append(float(demand[i, j]) * (1.0 - ROUNDING))
                added = True
        if not added:
            break
        found = milp(
            cost,
            constraints=LinearConstraint(np.array(matrix), lb=np.array(needs)),
            integrality=np.ones(len(bins)),
            bounds=Bounds(np.zeros(len(bins)), np.array(upper)),
            options={"mip_rel_gap": 0.0},
        )
        if found.x is None:
            break
        chosen = np.round(found.x)
        bound = max(bound, float(found.mip_dual_bound))
    return bound
