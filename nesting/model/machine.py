"""The shop's own data: machines, cutters, boards, saw, ways of working, prices.

All defaults here are common practice for a small machine, meant to be seen and
changed; they are kept in the user's set-up, not in the program.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from enum import StrEnum

from .errors import InputError
from .job import Cutting
from .rules import material_key


class CutterKind(StrEnum):
    """The form of a cutter's edges."""

    STRAIGHT = "straight"
    UP_CUT = "up-cut spiral"
    DOWN_CUT = "down-cut spiral"
    COMPRESSION = "compression spiral"
    V_POINT = "v-point"
    DRILL = "drill"


class BoardFamily(StrEnum):
    """Boards that cut alike; each is a column of the chip-load chart."""

    MDF = "mdf"
    HARDWOOD = "hardwood"
    SOFTWOOD = "softwood"
    PLYWOOD = "plywood"
    ACRYLIC = "acrylic"
    SOFT_PLASTIC = "soft plastic"


class ZZero(StrEnum):
    """Where depth is counted from."""

    SPOILBOARD = "top of the spoilboard"
    STOCK = "top of the stock"


def _check(where: str, record: object, positive: tuple[str, ...]) -> None:
    """Refuse numbers that are negative, not finite, or 0 where that has no sense."""
    for entry in fields(record):  # type: ignore[arg-type]
        value = getattr(record, entry.name)
        if isinstance(value, bool) or not isinstance(value, int | float):
            continue
        label = entry.name.replace("_", " ")
        if not (value >= 0 and math.isfinite(value)):
            raise InputError(where, f"{label} is {value:g}", "give 0 or more")
        if entry.name in positive and value == 0:
            raise InputError(where, f"{label} is 0", "give a number above 0")


@dataclass(frozen=True)
class Cutter:
    """One cutter of the drawer.

    Parameters
    ----------
    name : str
        What people call it.
    kind : CutterKind
        The form of its edges.
    diameter : float
        mm.
    flutes : int
        Cutting edges.
    cutting_length : float
        Length of the edges, mm; 0 when nobody said.
    shank : float
        Diameter of the clamped end, mm.
    max_rpm : float
        Fastest its maker allows, turns a minute; 0 when nobody said.
    up_cut_length : float
        Compression cutters: length of the up-cut part at the tip, mm.
    cut_width : float
        Measured width of its slot, mm; 0 to use the diameter.
    rpm, feed : float
        Turns a minute and mm/min that this shop sets with it; 0 for what follows from
        the chip-load chart.
    pass_depth : float
        Depth of a pass with it, mm; 0 for what follows from the board.
    """

    name: str
    kind: CutterKind = CutterKind.UP_CUT
    diameter: float = 6.35
    flutes: int = 2
    cutting_length: float = 0.0
    shank: float = 6.35
    max_rpm: float = 0.0
    up_cut_length: float = 0.0
    cut_width: float = 0.0
    rpm: float = 0.0
    feed: float = 0.0
    pass_depth: float = 0.0

    def __post_init__(self) -> None:
        _check(self.name or "cutter", self, ("diameter", "flutes", "shank"))

    @property
    def width(self) -> float:
        """Width of the slot it cuts, mm."""
        return self.cut_width or self.diameter


@dataclass(frozen=True)
class Machine:
    """One machine.

    Parameters
    ----------
    name : str
        What people call it.
    bed : tuple of float
        Size of the table along x and y, mm.
    travel : tuple of float
        Reach of the cutter's centre along x and y, mm; (0, 0) for the bed's size.
    collets : tuple of float
        Shank diameters it can hold, mm.
    rpm_min, rpm_max : float
        Spindle range, turns a minute.
    feed_max : float
        mm/min.
    plunge_max : float
        mm/min.
    rapid, rapid_z : float
        Speed of moves that cut nothing, sideways and up or down, mm/min.
    acceleration : float
        mm/s².
    corner_deviation : float
        How far the planner may round a corner, mm; 0 stops at each.
    chip_factor : float
        Share of the chip-load chart it is strong enough for.
    open_end : bool
        Whether the bed is open along x, so that a longer sheet can be pushed
        through.
    tool_changer : bool
        Whether it changes cutters by itself.
    run_minutes : float
        How long the motor may run at a stretch, min; 0 for no limit.
    change_minutes, load_minutes : float
        Time to change a cutter; to clamp, load and unload one blank.
    spin_up : float
        Seconds before the first cut with each cutter.
    clearance : float
        Height of rapid moves above the stock, mm.
    rate : float
        What an hour of it costs.
    actual_over_estimated : tuple of float
        Measured running times over estimated ones, newest last.
    stops : tuple of float
        Where the fixed stops hold the blank's lower left corner, counted along x and
        y from the least reach of the cutter's centre, mm; may be negative.
    nut_diameter, shoe_diameter : float
        Width of the collet nut and of the dust shoe, mm; 0 for none. Neither may
        meet a clamp.
    rpm_usual : float
        Where to begin when machine and cutter allow it, turns a minute.
    rubbing : float
        Below this chip load an edge rubs instead of cutting, mm.
    guess : tuple of float
        Least and most of real over estimated time, until times were recorded.
    pin_edge, pin_room : float
        Open bed: how far a pin's middle lies from the bed's end and the sheet's
        sides, and the radius round it that no cut may enter, mm.
    pin_diameter : float
        Open bed: diameter of the pins and of their holes, mm.
    """

    name: str = "small router"
    bed: tuple[float, float] = (800.0, 800.0)
    travel: tuple[float, float] = (0.0, 0.0)
    collets: tuple[float, ...] = (3.175, 6.0, 6.35)
    rpm_min: float = 10_000.0
    rpm_max: float = 30_000.0
    feed_max: float = 3_000.0
    plunge_max: float = 800.0
    rapid: float = 5_000.0
    rapid_z: float = 1_000.0
    acceleration: float = 300.0
    corner_deviation: float = 0.02
    chip_factor: float = 0.4
    open_end: bool = False
    tool_changer: bool = False
    run_minutes: float = 15.0
    change_minutes: float = 4.0
    load_minutes: float = 6.0
    spin_up: float = 5.0
    clearance: float = 5.0
    rate: float = 30.0
    actual_over_estimated: tuple[float, ...] = ()
    stops: tuple[float, float] = (0.0, 0.0)
    nut_diameter: float = 25.0
    shoe_diameter: float = 0.0
    rpm_usual: float = 18_000.0
    rubbing: float = 0.025
    guess: tuple[float, float] = (0.85, 1.25)
    pin_edge: float = 20.0
    pin_room: float = 12.0
    pin_diameter: float = 8.0

    def __post_init__(self) -> None:
        where = self.name or "machine"
        positive = ("rpm_max", "feed_max", "plunge_max", "rapid", "rapid_z")
        _check(where, self, (*positive, "acceleration", "chip_factor"))
        for label, values in (
            ("bed", self.bed),
            ("collets", self.collets),
            ("actual over estimated", self.actual_over_estimated),
        ):
            if not all(value > 0 and math.isfinite(value) for value in values):
                raise InputError(where, f"{label} has {values}", "give numbers above 0")
        low, high = self.guess
        if not 0.0 < low <= 1.0 <= high < math.inf:
            raise InputError(
                where, f"guess has {self.guess}", "give one up to 1 and one from 1 on"
            )
        if not all(map(math.isfinite, self.stops)):
            raise InputError(where, f"stops has {self.stops}", "give two lengths")
        if self.rpm_min > self.rpm_max:
            raise InputError(
                where,
                f"rpm min {self.rpm_min:g} is above rpm max {self.rpm_max:g}",
                "swap them",
            )

    @property
    def pins(self) -> tuple[float, float, float]:
        """Where pins of an open bed stand, the room round them, their diameter; mm."""
        return self.pin_edge, self.pin_room, self.pin_diameter

    @property
    def reach(self) -> tuple[float, float]:
        """How far the cutter's centre gets along x and y, mm."""
        return self.travel if all(self.travel) else self.bed


@dataclass(frozen=True)
class Board:
    """How one kind of board weighs and cuts.

    Parameters
    ----------
    name : str
        Compared without regard to case and spacing.
    family : BoardFamily
        The column of the chip-load chart.
    density : float
        kg/m³.
    depth_ratio : float
        Depth of a pass as a share of the cutter's diameter.
    words : tuple of str
        A material whose name holds one of these words is taken for this board.
    chip_share : float
        Share of the chip-load chart's column that suits this board.
    """

    name: str
    family: BoardFamily = BoardFamily.PLYWOOD
    density: float = 600.0
    depth_ratio: float = 0.5
    words: tuple[str, ...] = ()
    chip_share: float = 1.0

    def __post_init__(self) -> None:
        _check(self.name or "board", self, ("density", "depth_ratio", "chip_share"))


@dataclass(frozen=True)
class Saw:
    """The saw that rips sheets into blanks.

    Parameters
    ----------
    kerf : float
        Width of its cut, mm.
    trim : float
        What is cut off each edge of the sheet first, mm; 0 for none.
    least_side : float
        A narrower strip is waste, not a blank, mm.
    """

    kerf: float = 3.0
    trim: float = 0.0
    least_side: float = 100.0

    def __post_init__(self) -> None:
        _check("saw", self, ())


@dataclass(frozen=True)
class Practice:
    """How this shop cuts and holds down.

    Parameters
    ----------
    z_zero : ZZero
        Where depth is counted from.
    overcut : float
        Depth cut into the spoilboard, mm; not used with an onion skin.
    onion_skin : float
        Thickness left at the bottom of outside profiles, mm; 0 for none.
    plunge_share : float
        Plunge speed as a share of the feed.
    stepover : float
        Sideways step in pockets as a share of the diameter.
    pocket_depth : float
        Depth taken for pockets, as a share of the thickness.
    engrave_depth : float
        mm.
    tab_width, tab_height : float
        mm; a width of 0 for no tabs.
    tab_spacing : float
        One tab for about every so many mm of edge.
    small_part : float
        A part narrower than this is held down specially, mm.
    small_area : float
        So is one below this area, mm².
    screw_distance : float
        Least distance of a screw from any cutter's edge, mm.
    tab_corner : float
        A tab keeps a cut width and this much from a corner, mm.
    screws : int
        How many screws to look for on each blank.
    screw_edge : float
        Least distance of a screw from the blank's own edge, mm.
    screw_apart : float
        No second screw nearer than this to the first, mm.
    lift : float
        What one person lifts with both hands in the ideal place, kg.
    cut_width, allowance, margin : float
        What new jobs begin with, mm.
    keep_side, keep_square, keep_neck : float
        So are these, mm: what leftovers are worth keeping; see `Cutting`.
    pocket_cutter, engrave_cutter, drill_cutter : str
        Names of cutters in the drawer that are taken for this work; empty to take
        the cutter of the job, which saves a change.
    """

    z_zero: ZZero = ZZero.SPOILBOARD
    overcut: float = 0.3
    onion_skin: float = 0.0
    plunge_share: float = 0.3
    stepover: float = 0.45
    pocket_depth: float = 0.5
    engrave_depth: float = 0.5
    tab_width: float = 8.0
    tab_height: float = 2.0
    tab_spacing: float = 200.0
    tab_corner: float = 1.0
    small_part: float = 75.0
    small_area: float = 10_000.0
    screw_distance: float = 10.0
    screws: int = 4
    screw_edge: float = 10.0
    screw_apart: float = 40.0
    lift: float = 23.0
    cut_width: float = 6.35
    allowance: float = 1.5
    margin: float = 12.0
    keep_side: float = 150.0
    keep_square: float = 300.0
    keep_neck: float = 100.0
    pocket_cutter: str = ""
    engrave_cutter: str = ""
    drill_cutter: str = ""

    def cutting(self) -> Cutting:
        """Return what the cutting of a job begins with."""
        return Cutting(
            self.cut_width,
            self.allowance,
            self.margin,
            keep_side=self.keep_side,
            keep_square=self.keep_square,
            keep_neck=self.keep_neck,
        )

    def __post_init__(self) -> None:
        _check("practice", self, ("plunge_share", "stepover", "tab_spacing"))

    def depth(self, thickness: float) -> float:
        """Return how deep an outside profile is cut in this thickness, mm."""
        if self.onion_skin > 0.0:
            return max(thickness - self.onion_skin, 0.0)
        return thickness + self.overcut


@dataclass(frozen=True)
class Prices:
    """What enters a price besides the sheets.

    Parameters
    ----------
    currency : str
        Written before amounts; may be empty.
    labour_rate : float
        An hour of handling.
    set_up : float
        Once for each job.
    keep_share : float
        Share of its sheet price at which a kept offcut is credited, 0 to 1.
    mark_up : float
        Share added on cost, 0.25 for a quarter.
    """

    currency: str = ""
    labour_rate: float = 0.0
    set_up: float = 0.0
    keep_share: float = 0.5
    mark_up: float = 0.0

    def __post_init__(self) -> None:
        _check("prices", self, ())


BOARDS = (
    Board("birch plywood", BoardFamily.PLYWOOD, 680.0, 0.5, ("birch",)),
    Board("hardwood plywood", BoardFamily.PLYWOOD, 600.0, 0.5, ()),
    Board("softwood plywood", BoardFamily.PLYWOOD, 550.0, 0.5, ("pine", "spruce")),
    Board("plywood", BoardFamily.PLYWOOD, 600.0, 0.5, ("ply", "plywood")),
    Board("mdf", BoardFamily.MDF, 750.0, 0.5, ("fibreboard", "fiberboard")),
    Board("acrylic", BoardFamily.ACRYLIC, 1190.0, 0.4, ("pmma",)),
    Board("hardwood", BoardFamily.HARDWOOD, 650.0, 0.4, ("oak", "maple", "ash")),
    Board("softwood", BoardFamily.SOFTWOOD, 480.0, 0.5, ("fir",)),
)
"""Boards to begin with; densities are common practice, to be weighed and mended."""

CUTTERS = (
    Cutter("1/8 in up-cut", CutterKind.UP_CUT, 3.175, 2, 15.0, 3.175),
    Cutter("6 mm up-cut", CutterKind.UP_CUT, 6.0, 2, 22.0, 6.0),
    Cutter("1/4 in up-cut", CutterKind.UP_CUT, 6.35, 2, 25.4, 6.35),
    Cutter("1/4 in down-cut", CutterKind.DOWN_CUT, 6.35, 2, 25.4, 6.35),
    Cutter(
        "1/4 in compression",
        CutterKind.COMPRESSION,
        6.35,
        2,
        22.0,
        6.35,
        up_cut_length=5.0,
    ),
)
"""Cutters to begin with."""


@dataclass(frozen=True)
class ShopSetup:
    """A shop's set-up: what the arithmetic is done with.

    Parameters
    ----------
    machines : tuple of Machine
        The first is used unless another is named.
    cutters : tuple of Cutter
        The drawer.
    boards : tuple of Board
        The material library.
    saw : Saw
        What rips the sheets.
    practice : Practice
        How this shop cuts and holds down.
    prices : Prices
        What enters a price.

    Raises
    ------
    InputError
        If there is no machine, or two entries of one kind share a name.
    """

    machines: tuple[Machine, ...] = field(default_factory=lambda: (Machine(),))
    cutters: tuple[Cutter, ...] = CUTTERS
    boards: tuple[Board, ...] = BOARDS
    saw: Saw = field(default_factory=Saw)
    practice: Practice = field(default_factory=Practice)
    prices: Prices = field(default_factory=Prices)

    def __post_init__(self) -> None:
        if not self.machines:
            raise InputError("set-up", "it has no machine", "add one")
        for kind, names in (
            ("machines", [machine.name for machine in self.machines]),
            ("cutters", [cutter.name for cutter in self.cutters]),
            ("boards", [board.name for board in self.boards]),
        ):
            keys = [material_key(name) for name in names]
            for name, key in zip(names, keys, strict=True):
                if keys.count(key) > 1:
                    raise InputError("set-up", f"two {kind} are called {name!r}")

    @property
    def machine(self) -> Machine:
        """The machine in use."""
        return self.machines[0]

    def board(self, material: str) -> Board:
        """Return how a material weighs and cuts.

        The name as it stands first, then a board one of whose words it holds,
        else plywood's figures under the material's own name.
        """
        key = material_key(material)
        for board in self.boards:
            if material_key(board.name) == key:
                return board
        said = set(key.replace("-", " ").split())
        for board in self.boards:
            words = {material_key(word) for word in (*board.words, board.name)}
            if words & said:
                return board
        return Board(material)

    def cutter_named(self, name: str) -> Cutter | None:
        """Return the cutter of the drawer with this name; None without one."""
        key = material_key(name)
        found = (c for c in self.cutters if material_key(c.name) == key)
        return next(found, None)

    def cutter(self, width: float) -> Cutter:
        """Return the cutter of the drawer whose slot is nearest to `width` (mm).

        When none is within 0.05 mm, a plain two-flute cutter of that width is
        made up: the layout was asked for with that width.
        """
        near = min(
            self.cutters, key=lambda cutter: abs(cutter.width - width), default=None
        )
        if near is not None and abs(near.width - width) <= 0.05:
            return near
        width = width if width > 0.0 else 6.35
        return Cutter(f"{width:g} mm cutter", diameter=width, shank=width)
