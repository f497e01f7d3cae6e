"""Grain, turn rules and what matches what."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from .errors import InputError

THICKNESS_TOLERANCE = 0.05
"""Two thicknesses this close, in mm, are the same board."""

ANGLE_TOLERANCE = 1e-6
"""Two turns this close, in degrees, are the same turn."""


class CleanFace(StrEnum):
    """The face that must stay free of torn fibres."""

    NEITHER = "neither"
    TOP = "top"
    BOTTOM = "bottom"
    BOTH = "both"


class Grain(StrEnum):
    """Along which side of the stock the face grain runs."""

    LENGTH = "length"
    """Along x, the first-quoted dimension."""
    WIDTH = "width"
    """Along y."""
    NONE = "none"


class TurnKind(StrEnum):
    """The kinds of turn rule."""

    ANY = "any"
    LISTED = "listed"
    GRAIN = "grain"
    FIXED = "fixed"


@dataclass(frozen=True, slots=True)
class TurnRule:
    """Which turns a part may take.

    Parameters
    ----------
    kind : TurnKind
        Any angle, a list of angles, with the grain, or as drawn.
    angles : tuple of float
        For `LISTED`: degrees counter-clockwise, each from 0 up to 360.
    part_grain : str
        For `GRAIN`: "x" or "y", the direction of the drawing that must lie along
        the face grain.
    """

    kind: TurnKind = TurnKind.ANY
    angles: tuple[float, ...] = ()
    part_grain: str = "x"

    @classmethod
    def listed(cls, angles: Iterable[float]) -> TurnRule:
        """Return the rule that allows just these turns (degrees)."""
        # Twice: a tiny negative angle is 360 after the first.
        unique = tuple(sorted({float(angle) % 360.0 % 360.0 for angle in angles}))
        if not unique or not all(math.isfinite(angle) for angle in unique):
            raise InputError(
                "", "a turn rule lists no usable angle", "list degrees such as 0, 90"
            )
        return cls(TurnKind.LISTED, unique)

    @classmethod
    def parse(cls, text: str) -> TurnRule:
        """Return the rule that a word stands for.

        Words are ``any``, ``90`` (quarter turns), ``180`` (half turns), ``grain``,
        ``grain y``, ``fixed``, or a comma-separated list of degrees.
        """
        word = " ".join(str(text).strip().lower().split())
        if word == "any":
            return cls()
        if word == "fixed":
            return cls(TurnKind.FIXED)
        if word in ("grain", "grain x", "grain y"):
            return cls(TurnKind.GRAIN, part_grain=word[-1] if " " in word else "x")
        if word == "90":
            return cls.listed((0, 90, 180, 270))
        if word == "180":
            return cls.listed((0, 180))
        try:
            return cls.listed(float(piece) for piece in word.split(","))
        except ValueError:
            raise InputError(
                "",
                f"unknown turn rule {str(text)!r}",
                "use any, 90, 180, grain, fixed or a list of degrees such as 0, 45",
            ) from None

    def __str__(self) -> str:
        """Return the word that `parse` understands."""
        if self.kind is TurnKind.LISTED:
            if self.angles == (0.0, 90.0, 180.0, 270.0):
                return "90"
            if self.angles == (0.0, 180.0):
                return "180"
            # A lone number would read as a step, not as a list of one.
            listed = ", ".join(f"{angle:.17g}" for angle in self.angles)
            return listed if len(self.angles) > 1 else f"{listed}, {listed}"
        if self.kind is TurnKind.GRAIN and self.part_grain == "y":
            return "grain y"
        return str(self.kind.value)

    def turns(self, grain: Grain) -> tuple[float, ...] | None:
        """Return the turns allowed on stock with this grain; None means every angle.

        Stock without a grain holds back nothing: a part that must follow the
        grain may lie there at every angle.
        """
        if self.kind is TurnKind.FIXED:
            return (0.0,)
        if self.kind is TurnKind.LISTED:
            return self.angles
        if self.kind is TurnKind.GRAIN and grain is not Grain.NONE:
            along = (self.part_grain == "x") == (grain is Grain.LENGTH)
            return (0.0, 180.0) if along else (90.0, 270.0)
        return None

    def allows(self, turn: float, grain: Grain) -> bool:
        """Return whether a turn (degrees) is allowed on stock with this grain."""
        turns = self.turns(grain)
        if turns is None:
            return math.isfinite(turn)
        return any(angle_between(turn, angle) <= ANGLE_TOLERANCE for angle in turns)


def angle_between(a: float, b: float) -> float:
    """Return the least angle between two directions, degrees."""
    return abs((a - b + 180.0) % 360.0 - 180.0)


def material_key(material: str) -> str:
    """Return a material's name as it is compared: case and spacing do not count."""
    return " ".join(material.casefold().split())


def same_board(
    material_a: str, thickness_a: float, material_b: str, thickness_b: float
) -> bool:
    """Return whether two materials and thicknesses (mm) are the same board."""
    return (
        material_key(material_a) == material_key(material_b)
        and abs(thickness_a - thickness_b) <= THICKNESS_TOLERANCE
    )
