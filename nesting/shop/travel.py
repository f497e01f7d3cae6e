"""Whether the cutter's centre gets everywhere a layout asks for."""

from __future__ import annotations

from ..model.job import Job
from ..model.lengths import length_text, with_unit
from ..model.machine import Machine
from ..model.motion import Point
from .advice import Advice, refusal
from .passes import SLACK


def path_extent(job: Job, blank: int) -> tuple[float, float, float, float] | None:
    """Return the box round all paths of the cutter's centre on a blank, mm.

    Outside profiles run half a cut width beside the parts. None without a part.
    """
    boxes = [
        job.part(p.part_id).outline.moved(p.motion).bounds for p in job.layout.on(blank)
    ]
    if not boxes:
        return None
    r = job.cutting.cutter / 2.0
    x0, y0, x1, y1 = zip(*boxes, strict=True)
    return min(x0) - r, min(y0) - r, max(x1) + r, max(y1) + r


def advice_on_travel(
    job: Job, machine: Machine, corner: Point | None = None
) -> list[Advice]:
    """Return what to say where a path leaves the machine's travel.

    Parameters
    ----------
    corner : Point, optional
        Where the blank's (0, 0) lies from the least reach of the cutter's centre,
        mm; where the machine's fixed stops hold it when left out.
    """
    wide, high = machine.reach
    corner = machine.stops if corner is None else corner
    found = []
    for index in range(len(job.layout.blanks)):
        extent = path_extent(job, index)
        if extent is None:
            continue
        x0, y0, x1, y1 = extent
        over = max(
            -(x0 + corner[0]),
            -(y0 + corner[1]),
            x1 + corner[0] - wide,
            y1 + corner[1] - high,
        )
        if over > SLACK:
            found.append(
                refusal(
                    "beyond-travel",
                    f"blank {index + 1}: paths go {with_unit(over, job.units)} beyond "
                    f"the machine's travel of {length_text(wide, job.units)} by "
                    f"{with_unit(high, job.units)}; move the stops, widen the "
                    "margin or take smaller blanks",
                    machine.name,
                )
            )
    return found
