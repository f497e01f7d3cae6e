"""The job file's format, apart from the model, so that neither binds the other.

A job file is one JSON object. Curves are short arrays that begin with a letter:
``["l", x0, y0, x1, y1]`` a line, ``["a", x, y, radius, start angle, sweep]`` an
arc, ``["c", x0, y0, … x3, y3]`` a cubic Bézier; mm and degrees counter-clockwise.
"""

from __future__ import annotations

from typing import Generic, TypeVar

from msgspec import Struct

FORMAT = "drystone job"
VERSION = 3
"""The newest format version this program knows, and the one it writes."""


class LineRow(Struct, tag="l", array_like=True, forbid_unknown_fields=True):
    """A straight segment."""

    x0: float
    y0: float
    x1: float
    y1: float


class ArcRow(Struct, tag="a", array_like=True, forbid_unknown_fields=True):
    """A circular arc."""

    x: float
    y: float
    radius: float
    start_angle: float
    sweep: float


class CubicRow(Struct, tag="c", array_like=True, forbid_unknown_fields=True):
    """A cubic Bézier."""

    x0: float
    y0: float
    x1: float
    y1: float
    x2: float
    y2: float
    x3: float
    y3: float


SegmentRow = LineRow | ArcRow | CubicRow
Chain = list[SegmentRow]


class Table(Struct, forbid_unknown_fields=True):
    """A JSON object whose keys are all known."""


class OutlineTable(Table):
    """An outer loop and its holes."""

    outer: Chain
    holes: list[Chain] = []


class MarkTable(Table):
    """Something cut in a part but not through its edge."""

    operation: str
    curve: Chain
    name: str = ""


class TurnTable(Table):
    """A turn rule."""

    kind: str
    angles: list[float] = []
    part_grain: str = "x"


class PartTable(Table):
    """One part of the order."""

    id: str
    name: str
    outline: OutlineTable
    turn: TurnTable
    marks: list[MarkTable] = []
    quantity: int = 1
    material: str = ""
    thickness: float = 0.0
    flip: bool = False
    priority: int = 0
    source: str = ""
    relief: str | None = None
    tabs: bool | None = None


class KeepOutTable(Table):
    """An area no cut may touch."""

    curve: Chain
    label: str = ""
    clearance: float = 0.0


class CutTable(Table):
    """One straight cut of a saw."""

    stage: str
    start: tuple[float, float]
    end: tuple[float, float]
    setting: float


class PieceTable(Table):
    """One blank of a break-down, in the sheet's coordinates."""

    x: float
    y: float
    width: float
    height: float
    keep_outs: list[KeepOutTable] = []


class BreakdownTable(Table):
    """How a sheet is sawn, or indexed through."""

    sheet: tuple[float, float]
    kerf: float
    cuts: list[CutTable]
    pieces: list[PieceTable]
    holes: list[tuple[float, float]] = []
    pin: float = 8.0


class StockTable(Table):
    """One kind of sheet, or one offcut."""

    id: str
    name: str
    outline: OutlineTable
    material: str = ""
    thickness: float = 0.0
    grain: str = "none"
    price: float = 0.0
    count: int | None = None
    keep_outs: list[KeepOutTable] = []
    offcut: bool = False
    sheet: StockTable | None = None
    per_sheet: int = 1
    kerf: float = 0.0
    breakdown: BreakdownTable | None = None


class CuttingTable(Table):
    """The cutting set-up."""

    cutter: float
    allowance: float
    margin: float
    datum: str
    use_holes: bool
    clean: str = "neither"
    offset: tuple[float, float] = (0.0, 0.0)
    keep_side: float = 150.0
    keep_square: float = 300.0
    keep_neck: float = 100.0


class HoldingTable(Table):
    """Tabs and screws."""

    tabs: str = "none"
    screws: int = 0
    screw_distance: float | None = None
    drop_outs: bool = False


class PlacementTable(Table, omit_defaults=True):
    """One copy of a part on a blank."""

    part: str
    copy: int
    blank: int
    x: float
    y: float
    turn: float = 0.0
    flipped: bool = False
    locked: bool = False


class UnplacedTable(Table):
    """Copies in the tray, and why."""

    part: str
    count: int
    reason: str


class LayoutTable(Table):
    """What lies where."""

    blanks: list[str] = []
    """For each blank the id of its stock."""
    placements: list[PlacementTable] = []
    unplaced: list[UnplacedTable] = []


Packed = TypeVar("Packed")
"""How parts stand in a table: unpacked, or as the bytes of each."""


class JobTable(Table, Generic[Packed]):
    """The whole file."""

    format: str
    version: int
    program: str
    id: str
    name: str
    units: str
    objective: str
    bed: tuple[float, float] | None
    cutting: CuttingTable
    parts: list[Packed]
    stock: list[StockTable]
    layout: LayoutTable
    relief: str
    holding: HoldingTable
    layers: dict[str, str] = {}
    """By layer or colour of the drawings, a word for the work along its curves."""
