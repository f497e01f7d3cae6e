"""Depths: how many passes, how deep each, how long a ramp."""

from __future__ import annotations

import math

SLACK = 1e-9
"""A count this little above a whole number is that number: (9 + 0.3) / 0.06 is
155.00000000000003 in floats, and 156 passes would be one too many."""


def pass_count(depth: float, per_pass: float) -> int:
    """Return the number of passes for a depth, each at most `per_pass`, both mm.

    Raises
    ------
    ValueError
        If the depth per pass is not above 0.
    """
    if not per_pass > 0.0:
        raise ValueError(f"depth per pass is {per_pass:g} mm; give a depth above 0")
    return max(math.ceil(depth / per_pass - SLACK), 1) if depth > 0.0 else 0


def pass_depths(depth: float, per_pass: float) -> tuple[float, ...]:
    """Return the depth after each pass, equal steps, deepest last, mm.

    Equal steps cut no sliver in the last pass.
    """
    count = pass_count(depth, per_pass)
    return tuple(depth * ((i + 1) / count) for i in range(count))


def ramp_length(depth: float, angle: float) -> float:
    """Return the run of a sloped entry of `angle` degrees down to `depth`, mm."""
    return depth / math.tan(math.radians(angle))


def stepover(diameter: float, share: float) -> float:
    """Return the sideways step between neighbouring passes, mm."""
    return diameter * share
