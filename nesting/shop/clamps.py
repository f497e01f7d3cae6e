"""Clamps: keep-outs wide enough for the collet nut and the dust shoe.

The cutter's centre runs half a cut width beside a part, and a part keeps a gap from
every keep-out. So the nut, r wide to each side of the centre, clears a clamp when

    gap - cutter / 2 + clearance >= r,

the clearance being what the keep-out has round the clamp itself.
"""

from __future__ import annotations

from ..model.job import Cutting, Job
from ..model.lengths import with_unit
from ..model.machine import Machine
from ..model.stock import KeepOut, rounded_rectangle
from .advice import Advice, warning
from .passes import SLACK


def clearance_needed(machine: Machine, cutting: Cutting) -> float:
    """Return the clearance a keep-out needs round a clamp, mm; 0 for none."""
    radius = max(machine.nut_diameter, machine.shoe_diameter) / 2.0
    return max(radius + cutting.cutter / 2.0 - cutting.gap, 0.0)


def clamp(
    machine: Machine,
    cutting: Cutting,
    size: tuple[float, float],
    corner: tuple[float, float],
    label: str = "clamp",
) -> KeepOut:
    """Return the keep-out of a clamp on a blank.

    Parameters
    ----------
    size : tuple of float
        Along x and y, mm.
    corner : tuple of float
        Its least corner in the blank's coordinates, mm; it may stand over the edge.
    """
    room = clearance_needed(machine, cutting)
    return KeepOut(rounded_rectangle(*size, *corner, room), label, room)


def advice_on_clamps(job: Job, machine: Machine) -> list[Advice]:
    """Return what to say about clamps that nut or shoe might meet.

    Only keep-outs with a clearance of their own are clamps here; a screw is sunk.
    """
    need = clearance_needed(machine, job.cutting)
    used = {blank.stock_id for blank in job.layout.blanks}
    found: dict[Advice, None] = {}
    for stock in job.stock:
        for area in stock.keep_outs if stock.id in used else ():
            if 0.0 < area.clearance < need - SLACK:
                name = area.label or "a clamp"
                found[
                    warning(
                        "clamp-too-near",
                        f"{name} on {stock.name} has "
                        f"{with_unit(area.clearance, job.units)} of clearance, and "
                        "collet nut and dust shoe need "
                        f"{with_unit(need, job.units)}",
                        stock.name,
                    )
                ] = None
    return list(found)
