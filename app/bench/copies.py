"""How a placed copy of a part is named in code."""

from __future__ import annotations

from ...nesting.model.placement import Placement

Key = tuple[str, int]
"""A copy: the part's id and the copy's number from 1."""


def key_of(placement: Placement) -> Key:
    """Return which copy a placement places."""
    return placement.part_id, placement.copy
