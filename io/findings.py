"""What was found in a file: data, not printed text."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters."""

    INFO = "info"
    """Worth knowing; nothing to do."""
    WARNING = "warning"
    """Something was mended, left out or guessed: look at it."""
    ERROR = "error"
    """Something could not be used."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found while reading.

    Parameters
    ----------
    code : str
        A stable name, lower case with hyphens, such as ``gap-closed``.
    severity : Severity
        How much it matters.
    message : str
        One sentence for a person: what, and what to do if anything.
    file : str
        The file it was found in.
    entity : str
        The entity or element, as a person can find it again: kind, layer, handle
        or id. May be empty.
    place : tuple of float or None
        Where in the drawing, mm.
    fixed : bool
        Whether the reader mended it.
    count : int
        How many times it was seen, when one finding stands for many.
    """

    code: str
    severity: Severity
    message: str
    file: str = ""
    entity: str = ""
    place: tuple[float, float] | None = None
    fixed: bool = False
    count: int = 1

    def as_dict(self) -> dict[str, object]:
        """Return the finding with stable keys, as ``--json`` prints it."""
        return asdict(self) | {"severity": self.severity.value}
