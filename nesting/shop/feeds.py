"""Chip load, feed, speed and plunge.

The chip-load chart is a cutter maker's, for solid carbide spirals on a rigid
industrial machine at a depth of one diameter. Light machines begin at 30 to 50 %
of it (common practice); the machine's `chip_factor` says how much.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..model.lengths import feed_text, load_text
from ..model.machine import Board, BoardFamily, Cutter, CutterKind, Machine
from .advice import Advice, note, refusal, warning

INCH = 25.4
_DIAMETERS = (0.125, 0.25, 0.375, 0.5)
_F = BoardFamily
CHIP_LOADS: dict[BoardFamily, tuple[tuple[float, float], ...]] = {
    _F.MDF: ((0.004, 0.007), (0.012, 0.015), (0.017, 0.019), (0.020, 0.025)),
    _F.HARDWOOD: ((0.002, 0.004), (0.005, 0.007), (0.013, 0.015), (0.017, 0.019)),
    _F.SOFTWOOD: ((0.003, 0.005), (0.006, 0.008), (0.015, 0.017), (0.019, 0.021)),
    _F.SOFT_PLASTIC: ((0.003, 0.005), (0.006, 0.009), (0.009, 0.011), (0.011, 0.014)),
    _F.ACRYLIC: ((0.002, 0.004), (0.005, 0.008), (0.008, 0.010), (0.010, 0.013)),
    _F.PLYWOOD: ((0.003, 0.005), (0.006, 0.009), (0.015, 0.018), (0.018, 0.021)),
}
"""Least and most chip load, inch, at diameters of 1/8, 1/4, 3/8 and 1/2 inch."""


def feed(rpm: float, flutes: int, chip_load: float) -> float:
    """Return the feed, mm/min, from turns a minute and mm per tooth."""
    return rpm * flutes * chip_load


def chip_load(feed: float, rpm: float, flutes: int) -> float:
    """Return mm per tooth from the feed, mm/min, and turns a minute."""
    return feed / (rpm * flutes)


def chart_range(family: BoardFamily, diameter: float) -> tuple[float, float]:
    """Return the chart's least and most chip load for a diameter, all mm.

    Linear between the chart's diameters, in proportion to the diameter below
    1/8 in, and as for 1/2 in above it.
    """
    rows = CHIP_LOADS[family]
    inch = diameter / INCH
    if inch <= _DIAMETERS[0]:
        share = inch / _DIAMETERS[0]
        low, high = (value * share for value in rows[0])
    elif inch >= _DIAMETERS[-1]:
        low, high = rows[-1]
    else:
        i = next(i for i, d in enumerate(_DIAMETERS) if inch < d)
        d0, d1 = _DIAMETERS[i - 1], _DIAMETERS[i]
        share = (inch - d0) / (d1 - d0)
        low, high = (
            a + share * (b - a) for a, b in zip(rows[i - 1], rows[i], strict=True)
        )
    return low * INCH, high * INCH


def depth_factor(depth: float, diameter: float) -> float:
    """Return the share of the chart's chip load left at this depth of a pass.

    The chart's own rule: 25 % less at two diameters, 50 % less at three; linear
    between, never less than half.
    """
    ratio = depth / diameter
    return min(1.0, max(0.5, 1.0 - 0.25 * (ratio - 1.0)))


@dataclass(frozen=True, slots=True)
class Feeds:
    """What to set on the machine.

    Parameters
    ----------
    rpm : float
        Turns a minute.
    feed : float
        mm/min.
    plunge : float
        mm/min.
    chip_load : float
        mm per tooth that follows.
    per_pass : float
        Depth of one pass at most, mm.
    wanted : tuple of float
        Least and most chip load for this machine, mm.
    """

    rpm: float
    feed: float
    plunge: float
    chip_load: float
    per_pass: float
    wanted: tuple[float, float]


def depth_per_pass(cutter: Cutter, board: Board) -> float:
    """Return the depth of one pass, mm.

    A share of the diameter, or what this shop takes with the cutter; never more than
    the cutting length where it is known.
    """
    depth = cutter.pass_depth or board.depth_ratio * cutter.diameter
    return min(depth, cutter.cutting_length) if cutter.cutting_length else depth


def wanted_range(cutter: Cutter, machine: Machine, board: Board) -> tuple[float, float]:
    """Return the least and most chip load for cutter, machine and board, mm."""
    low, high = chart_range(board.family, cutter.diameter)
    per_pass = depth_per_pass(cutter, board)
    factor = machine.chip_factor * depth_factor(per_pass, cutter.diameter)
    factor *= board.chip_share
    return low * factor, high * factor


def recommend(
    cutter: Cutter, machine: Machine, board: Board, plunge_share: float = 0.3
) -> Feeds:
    """Return speed and feeds to begin with.

    The middle of the chart's range times the machine's factor. When the feed the
    speed asks for is more than the machine has, the spindle turns slower, so that
    the chip stays thick, and only then the chip load gives way. What this shop sets
    with the cutter is taken as it is; `judge` says what to think of it.
    """
    per_pass = depth_per_pass(cutter, board)
    low, high = wanted_range(cutter, machine, board)
    target = (low + high) / 2.0

    top = min(machine.rpm_max, cutter.max_rpm or machine.rpm_max)
    rpm = max(min(machine.rpm_usual, top), min(machine.rpm_min, top))
    rpm = cutter.rpm or rpm
    speed = cutter.feed or feed(rpm, cutter.flutes, target)
    if speed > machine.feed_max and cutter.rpm:
        speed = cutter.feed or machine.feed_max
    elif speed > machine.feed_max and not cutter.feed:
        rpm = max(rpm * machine.feed_max / speed, min(machine.rpm_min, top))
        speed = min(feed(rpm, cutter.flutes, target), machine.feed_max)
    return Feeds(
        rpm,
        speed,
        min(speed * plunge_share, machine.plunge_max),
        chip_load(speed, rpm, cutter.flutes),
        per_pass,
        (low, high),
    )


def judge(
    rpm: float,
    speed: float,
    cutter: Cutter,
    machine: Machine,
    board: Board,
    units: str = "mm",
) -> list[Advice]:
    """Return what to say about a speed (turns a minute) and a feed (mm/min).

    What is said has its lengths in `units`, "mm" or "in".
    """
    load = chip_load(speed, rpm, cutter.flutes)
    low, high = wanted_range(cutter, machine, board)
    found = []
    told = f"chip load is {load_text(load, units)}"
    wanted = f"{load_text(low, units)} to {load_text(high, units)}"
    if load < machine.rubbing:
        found.append(
            warning(
                "chip-load-rubbing",
                f"{told}: below about {load_text(machine.rubbing, units)} an edge "
                "rubs and burns; feed faster, turn slower, or take a cutter with fewer "
                "flutes",
                cutter.name,
            )
        )
    elif load < low * 0.999:
        found.append(
            note(
                "chip-load-low",
                f"{told}, below {wanted} for this board and machine; "
                "feed faster or turn slower",
                cutter.name,
            )
        )
    elif load > high * 1.001:
        found.append(
            warning(
                "chip-load-high",
                f"{told}, above {wanted} for this board and machine; "
                "feed slower or turn faster",
                cutter.name,
            )
        )
    if speed > machine.feed_max * 1.000001:
        found.append(
            warning(
                "feed-above-machine",
                f"feed {feed_text(speed, units)} is more than the machine's "
                f"{feed_text(machine.feed_max, units)}",
                machine.name,
            )
        )
    if not machine.rpm_min * 0.999 <= rpm <= machine.rpm_max * 1.001:
        found.append(
            warning(
                "speed-outside-spindle",
                f"{rpm:.0f} turns a minute, and the spindle has {machine.rpm_min:.0f} "
                f"to {machine.rpm_max:.0f}",
                cutter.name,
            )
        )
    if cutter.max_rpm and rpm > cutter.max_rpm * 1.001:
        found.append(
            refusal(
                "speed-above-cutter",
                f"{rpm:.0f} turns a minute, and its maker allows {cutter.max_rpm:.0f}",
                cutter.name,
            )
        )
    if cutter.kind is CutterKind.DRILL:
        return []
    return found
