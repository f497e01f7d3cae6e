"""A drawing as it was read: strokes in mm, the reading of its units, findings."""

from __future__ import annotations

from dataclasses import dataclass, field

from ..nesting.model.curve import Segment
from .findings import Finding


@dataclass(frozen=True, slots=True)
class Stroke:
    """One drawn curve: a chain of joined segments from one entity or subpath.

    Parameters
    ----------
    segments : tuple of Segment
        Each begins where the last one ended, mm, y up.
    closed : bool
        Whether the file says that the chain is closed.
    layer : str
        DXF layer, or the label or id of the innermost named SVG group.
    name : str
        Name of the block or the element's own id; may be empty.
    colour : str
        ``#rrggbb`` of the line, or of the inside where there is no line; empty when
        unknown.
    entity : str
        The entity as a person can find it again, such as ``LINE 2F on layer CUT``.
    fill : str
        ``#rrggbb`` of the inside where there is a line too; may be empty.
    """

    segments: tuple[Segment, ...]
    closed: bool = False
    layer: str = ""
    name: str = ""
    colour: str = ""
    entity: str = ""
    fill: str = ""


@dataclass(frozen=True, slots=True)
class UnitReading:
    """How the numbers of a file were turned into mm.

    Parameters
    ----------
    unit : str
        The unit taken, such as ``mm`` or ``in``.
    factor : float
        mm per drawing unit.
    basis : str
        What says so: ``header``, ``page size``, ``told``, ``known size``, ``guess``.
    sure : bool
        Whether the file (or the user) says it; False asks the user.
    others : tuple of (str, float)
        Other readings worth showing: unit and mm per drawing unit.
    """

    unit: str
    factor: float
    basis: str
    sure: bool
    others: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Drawing:
    """Everything a reader took from one file."""

    file: str
    strokes: tuple[Stroke, ...]
    units: UnitReading
    findings: tuple[Finding, ...] = field(default=())
