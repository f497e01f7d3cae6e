"""Cutting times: per part, per blank, per job, as a range and never to a second."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from ..model.job import Job
from ..model.machine import Machine, ShopSetup
from ..model.outline import Loop
from ..model.part import Operation, Part
from ..model.placement import Placement
from .passes import stepover
from .path import moves_of, offset_moves, path_length
from .plan import CutPlan, changes_of, cutters_on, make_plan
from .planner import path_time
from .pockets import Pocket, pockets_of

LEAST_SPREAD = 0.05
"""Recorded or not, no estimate is closer than this share."""

_CHORD = 0.05


@dataclass(frozen=True, slots=True)
class TimeRange:
    """A time with how far off it may be, seconds."""

    low: float
    likely: float
    high: float

    def __add__(self, other: TimeRange) -> TimeRange:
        """Return the sum; errors of an estimate do not cancel."""
        return TimeRange(
            self.low + other.low, self.likely + other.likely, self.high + other.high
        )

    @property
    def text(self) -> str:
        """The range as a person says it: ``2 h 10 - 2 h 50``."""
        low, high = spoken(self.low), spoken(self.high)
        return low if low == high else f"{low} \N{EN DASH} {high}"


def spoken(seconds: float) -> str:
    """Return a time as a person says it: to minutes, to 5 minutes beyond an hour."""
    minutes = seconds / 60.0
    if minutes < 1.0:
        return "1 min" if seconds > 0.0 else "0 min"
    if minutes < 60.0:
        return f"{round(minutes)} min"
    whole = 5 * round(minutes / 5.0)
    return f"{whole // 60} h {whole % 60:02d}"


@dataclass(frozen=True, slots=True)
class PartTime:
    """What one copy takes, seconds, and what is cut, mm.

    Parameters
    ----------
    profile, pocket, engrave, drill : float
        Seconds by kind of work, plunges included.
    length : float
        Path of all passes, mm.
    entries : int
        How often the cutter is lifted and set in again.
    """

    profile: float
    pocket: float
    engrave: float
    drill: float
    length: float
    entries: int

    @property
    def cutting(self) -> float:
        """Seconds of cutting."""
        return self.profile + self.pocket + self.engrave + self.drill


@dataclass(frozen=True, slots=True)
class BlankTime:
    """What one blank takes, seconds.

    Parameters
    ----------
    cutting : float
        The cutter in the board.
    moving : float
        Rapid moves, lifting and starting up.
    handling : float
        Loading, clamping, unloading.
    length : float
        Path of all passes, mm.
    """

    cutting: float
    moving: float
    handling: float
    length: float

    @property
    def running(self) -> float:
        """Seconds the machine runs."""
        return self.cutting + self.moving


@dataclass(frozen=True, slots=True)
class JobTime:
    """What a job takes.

    Parameters
    ----------
    blanks : tuple of BlankTime
        In the layout's order.
    running : TimeRange
        The machine runs.
    handling : float
        Seconds of loading, clamping, unloading and changing cutters by hand.
    changes : int
        How often a cutter is put into the spindle, the first included.
    """

    blanks: tuple[BlankTime, ...]
    running: TimeRange
    handling: float
    changes: int = 1

    @property
    def total(self) -> TimeRange:
        """Running and handling."""
        return self.running + TimeRange(self.handling, self.handling, self.handling)

    @property
    def length(self) -> float:
        """Path of all passes, mm."""
        return math.fsum(blank.length for blank in self.blanks)


def as_range(seconds: float, machine: Machine) -> TimeRange:
    """Return a computed running time as a range, corrected by recorded times.

    The median of the recorded ratios corrects it, their least and greatest span
    it. Until there are some, the machine's guess does.
    """
    ratios = machine.actual_over_estimated
    if not ratios:
        low, high = machine.guess
        return TimeRange(seconds * low, seconds, seconds * high)
    likely = statistics.median(ratios)
    return TimeRange(
        seconds * min(*ratios, likely * (1.0 - LEAST_SPREAD)),
        seconds * likely,
        seconds * max(*ratios, likely * (1.0 + LEAST_SPREAD)),
    )


def profile_time(loop: Loop, plan: CutPlan, tabs: int = 0) -> tuple[float, float]:
    """Return seconds and path length (mm) for cutting along one loop.

    The path runs beside the loop, on its right, by half the cut width. A hole the
    cutter does not fit in takes no time: it is not cut.
    """
    moves = offset_moves(loop.segments, plan.cutter.width / 2.0)
    passes, feeds = plan.passes, plan.feeds
    machine = plan.machine
    around = path_time(
        moves, feeds.feed / 60.0, machine.acceleration, machine.corner_deviation
    )
    if around == 0.0:
        return 0.0, 0.0
    plunging = plan.depth / (feeds.plunge / 60.0)
    height = plan.practice.tab_height
    tabbing = tabs * height * 60.0 * (1.0 / feeds.plunge + 1.0 / machine.rapid_z)
    return passes * around + plunging + tabbing, passes * path_length(moves)


def pocket_time(pocket: Pocket, plan: CutPlan) -> tuple[float, float]:
    """Return seconds and path length (mm) for clearing a pocket round its islands.

    The region the cutter's centre may take is swept in steps of the stepover, and
    every edge gone round once: the length, and with it the time, is about in
    inverse proportion to the cutter's width. The speed is that of going round.
    """
    diameter = plan.cutter.diameter
    centre = pocket.region(_CHORD).buffer(-diameter / 2.0)
    depth = plan.depth_of(Operation.POCKET)
    passes = plan.passes_to(depth)
    plunging = depth / (plan.feeds.plunge / 60.0)
    if centre.is_empty:
        return plunging, 0.0
    machine = plan.machine
    # Waste on the right: inside the pocket's edge, outside those of islands.
    edges = [Loop(pocket.mark.segments).oriented(False)]
    edges += [Loop(island.segments).oriented(True) for island in pocket.islands]
    paths = [offset_moves(edge.segments, diameter / 2.0) for edge in edges]
    around = math.fsum(path_length(path) for path in paths) or centre.length
    seconds = math.fsum(
        path_time(
            path,
            plan.feeds.feed / 60.0,
            machine.acceleration,
            machine.corner_deviation,
        )
        for path in paths
    )
    speed = around / seconds if seconds else plan.feeds.feed / 60.0
    step = stepover(diameter, plan.practice.stepover)
    length = passes * (centre.area / step + centre.length)
    return length / speed + passes * plunging / max(passes, 1), length


def part_time(part: Part, plan: CutPlan, tabs: int | None = None) -> PartTime:
    """Return what one copy of a part takes.

    Parameters
    ----------
    tabs : int, optional
        Tabs on its outside profile; those the part holds when left out.
    """
    if tabs is None:
        tabs = sum(mark.operation is Operation.TAB for mark in part.marks)
    profile = pocket = engrave = drill = length = 0.0
    entries = 0
    machine = plan.machine
    for loop in part.outline.loops:
        outer = loop is part.outline.outer
        seconds, run = profile_time(loop, plan, tabs if outer else 0)
        profile, length = profile + seconds, length + run
        entries += seconds > 0.0
    for cleared in pockets_of(part):
        seconds, run = pocket_time(cleared, plan.of(Operation.POCKET))
        pocket, length = pocket + seconds, length + run
        entries += 1
    for mark in part.marks:
        if mark.operation is Operation.POCKET and mark.closed:
            continue
        entries += 1
        own = plan.of(mark.operation)
        if mark.operation is Operation.DRILL:
            down = own.depth
            drill += down * 60.0 / own.feeds.plunge + down * 60.0 / machine.rapid_z
        elif mark.operation is not Operation.TAB:
            moves = moves_of(mark.segments)
            engrave += path_time(
                moves,
                own.feeds.feed / 60.0,
                machine.acceleration,
                machine.corner_deviation,
            )
            engrave += own.practice.engrave_depth * 60.0 / own.feeds.plunge
            length += path_length(moves)
        else:
            entries -= 1
    return PartTime(profile, pocket, engrave, drill, length, entries)


def travel_between(places: Sequence[tuple[float, float]]) -> float:
    """Return the length of a walk that always goes to the nearest place left, mm."""
    if not places:
        return 0.0
    left = list(places)
    x, y = left.pop(0)
    total = 0.0
    while left:
        i = min(range(len(left)), key=lambda k: math.dist((x, y), left[k]))
        total += math.dist((x, y), left[i])
        x, y = left.pop(i)
    return total


def _middle(part: Part, placement: Placement) -> tuple[float, float]:
    x0, y0, x1, y1 = part.outline.bounds
    return placement.motion.point(((x0 + x1) / 2.0, (y0 + y1) / 2.0))


def job_time(job: Job, setup: ShopSetup, tabs: dict[str, int] | None = None) -> JobTime:
    """Return what cutting the layout of a job takes.

    Parameters
    ----------
    tabs : dict of str to int, optional
        Tabs by part id, instead of those the parts hold.
    """
    machine = setup.machine
    known: dict[tuple[str, str, float], PartTime] = {}
    plans: dict[tuple[str, float], CutPlan] = {}
    blanks = []
    for index in range(len(job.layout.blanks)):
        stock = job.stock_of(index)
        board = (stock.material, stock.thickness)
        if board not in plans:
            plans[board] = make_plan(setup, job.cutting.cutter, *board)
        plan = plans[board]
        cutting = length = 0.0
        entries = 0
        placed = job.layout.on(index)
        for placement in placed:
            part = job.part(placement.part_id)
            key = (part.id, *board)
            if key not in known:
                count = None if tabs is None else tabs.get(part.id, 0)
                known[key] = part_time(part, plan, count)
            cutting += known[key].cutting
            length += known[key].length
            entries += known[key].entries
        walk = travel_between([_middle(job.part(p.part_id), p) for p in placed])
        # Each entry: up from the cut and down to the board's top.
        lift = entries * (2.0 * machine.clearance + plan.depth) / machine.rapid_z
        start = machine.spin_up * len(cutters_on(job, index, plan))
        moving = (walk / machine.rapid + lift) * 60.0 + start
        blanks.append(BlankTime(cutting, moving, machine.load_minutes * 60.0, length))
    handling = sum(blank.handling for blank in blanks)
    changes = changes_of(job, setup)
    if not machine.tool_changer:
        handling += changes * machine.change_minutes * 60.0
    running = as_range(math.fsum(blank.running for blank in blanks), machine)
    return JobTime(tuple(blanks), running, handling, changes)
