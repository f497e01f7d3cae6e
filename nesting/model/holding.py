"""How parts are cut and held beyond their drawing: relief, tabs, screws."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from .errors import InputError


class ReliefKind(StrEnum):
    """How inside corners are cut, where a round cutter leaves them round."""

    NONE = "none"
    """As drawn."""
    DOG_BONE = "dog-bone"
    """A circle on the bisector, through the corner."""
    T_BONE = "T-bone"
    """A circle on the longer wall, through the corner; it shows on one wall only."""


class TabRule(StrEnum):
    """Which parts are held by tabs, those aside that say so themselves."""

    NONE = "none"
    SMALL = "small"
    """Parts that the shop's set-up calls small."""
    ALL = "all"


@dataclass(frozen=True, slots=True)
class Holding:
    """How the parts of a job are held down.

    Parameters
    ----------
    tabs : TabRule
        Which parts get tabs. The tabs themselves are marks of the parts, where they
        can be moved, added and taken away.
    screws : int
        Screws to find a place for in the waste of each blank.
    screw_distance : float or None
        Least distance of a screw's middle from the edge of any slot, mm; None as the
        shop's set-up says.
    drop_outs : bool
        Whether pieces that would fall out of holes are held by tabs too.

    Raises
    ------
    InputError
        If a number is negative or not finite.
    """

    tabs: TabRule = TabRule.NONE
    screws: int = 0
    screw_distance: float | None = None
    drop_outs: bool = False

    def __post_init__(self) -> None:
        if self.screws < 0:
            raise InputError("holding", f"screws is {self.screws}", "give 0 or more")
        away = self.screw_distance
        if away is not None and not (away >= 0.0 and math.isfinite(away)):
            raise InputError(
                "holding", f"screw distance is {away} mm", "give a length of 0 or more"
            )
