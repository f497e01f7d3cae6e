"""Advice: what the arithmetic has to say about a set-up, as data."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import StrEnum


class Weight(StrEnum):
    """How much a piece of advice matters."""

    NOTE = "note"
    """Worth knowing."""
    WARNING = "warning"
    """It will cut, but badly or with trouble."""
    REFUSAL = "refusal"
    """It cannot be cut as asked."""


@dataclass(frozen=True, slots=True)
class Advice:
    """One remark.

    Parameters
    ----------
    code : str
        A stable name, lower case with hyphens.
    weight : Weight
        How much it matters.
    message : str
        One sentence: what, and what to do.
    about : str
        The cutter, part or blank it is about; may be empty.
    """

    code: str
    weight: Weight
    message: str
    about: str = ""

    def as_dict(self) -> dict[str, str]:
        """Return the advice with stable keys, as ``--json`` prints it."""
        return asdict(self) | {"weight": self.weight.value}


def note(code: str, message: str, about: str = "") -> Advice:
    """Return something worth knowing."""
    return Advice(code, Weight.NOTE, message, about)


def warning(code: str, message: str, about: str = "") -> Advice:
    """Return something that will cause trouble."""
    return Advice(code, Weight.WARNING, message, about)


def refusal(code: str, message: str, about: str = "") -> Advice:
    """Return something that cannot be done."""
    return Advice(code, Weight.REFUSAL, message, about)
