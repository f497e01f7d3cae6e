"""What a cutter cannot reach: holes too narrow to enter, corners left standing.

The region a round cutter clears is the morphological opening of the waste: eroded
by the radius and dilated again. What the opening misses stays standing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from ..model.job import Job
from ..model.lengths import with_unit
from ..model.motion import Point, Points
from ..model.outline import Loop
from ..model.part import Part
from .advice import Advice, note, warning
from .pockets import pockets_of

_CHORD = 0.005
_ROUND = 48
"""Segments in a quarter of a rounded corner: 1e-4 of the radius off at most."""

TOLERANCE = 0.02
"""What stands no further than this from a cleared place is taken as cleared, mm."""


@dataclass(frozen=True)
class Standing:
    """A place the cutter leaves.

    Parameters
    ----------
    what : str
        "outside", "hole" or "pocket".
    index : int
        Which hole or pocket of the part, from 0; 0 for the outside.
    entered : bool
        Whether the cutter gets in at all.
    place : Point
        A point of what stays, mm.
    area : float
        How much stays, mm².
    polygon : ndarray of float64, shape (n, 2), mm
        What stays.
    depth : float
        How far the cutter's edge stays off the farthest point of it, mm: in a corner
        of angle a, r / sin(a / 2) - r. 0 where the cutter does not get in.
    """

    what: str
    index: int
    entered: bool
    place: Point
    area: float
    polygon: Points
    depth: float = 0.0


def _region(loop: Loop) -> Any:
    return shapely.make_valid(shapely.Polygon(loop.flatten(_CHORD)))


def _waste(part: Part, most: float) -> list[tuple[str, int, Any]]:
    """Return the regions a cutter must clear: round the part, holes, pockets.

    Islands in pockets are no part of them.
    """
    outer = _region(part.outline.outer)
    x0, y0, x1, y1 = outer.bounds
    room = shapely.box(x0, y0, x1, y1).buffer(2.0 * most)
    found = [("outside", 0, room.difference(outer))]
    found += [("hole", i, _region(h)) for i, h in enumerate(part.outline.holes)]
    found += [
        ("pocket", i, pocket.region(_CHORD))
        for i, pocket in enumerate(pockets_of(part))
    ]
    return found


def _left(region: Any, radius: float) -> tuple[Any, bool]:
    """Return what a cutter of this radius leaves of a region, and if it enters."""
    # The tolerance lets a cutter into a hole of exactly its own size.
    inside = region.buffer(TOLERANCE / 2.0 - radius, quad_segs=_ROUND)
    if inside.is_empty:
        return region, False
    cleared = inside.buffer(radius + TOLERANCE, quad_segs=_ROUND)
    return region.difference(cleared), True


def standing(part: Part, cutter: float) -> list[Standing]:
    """Return what a cutter of this cut width (mm) leaves standing in a part."""
    found: list[Standing] = []
    for what, index, region in _waste(part, cutter):
        radius = cutter / 2.0
        left, entered = _left(region, radius)
        centres = region.buffer(TOLERANCE / 2.0 - radius, quad_segs=_ROUND)
        for polygon in shapely.get_parts(left):
            if polygon.geom_type != "Polygon" or polygon.area < 1e-6:
                continue
            spot = polygon.representative_point()
            points = np.asarray(polygon.exterior.coords)[:-1]
            depth = 0.0
            if entered:
                away = shapely.distance(shapely.points(points), centres)
                depth = max(float(away.max()) - radius, 0.0)
            place = (float(spot.x), float(spot.y))
            found.append(
                Standing(what, index, entered, place, polygon.area, points, depth)
            )
    return found


@dataclass(frozen=True, slots=True)
class LargestCutter:
    """The largest cutters for a part, mm of cut width; 0 when there is none.

    Parameters
    ----------
    enters : float
        Gets into every hole, notch and pocket wider than nothing, corners aside.
    clears : float
        Leaves nothing standing at all; 0 with a sharp inside corner.
    """

    enters: float
    clears: float


def largest_cutter(part: Part, most: float = 25.0) -> LargestCutter:
    """Return the largest cutters that do everything, up to `most` mm, to 0.01 mm."""
    regions = [region for _, _, region in _waste(part, most)]

    def enters(width: float) -> bool:
        return all(_left(region, width / 2.0)[1] for region in regions)

    def clears(width: float) -> bool:
        return all(
            ok and left.area < 1e-6
            for left, ok in (_left(region, width / 2.0) for region in regions)
        )

    return LargestCutter(_largest(enters, most), _largest(clears, most))


def _largest(fits: Any, most: float) -> float:
    if fits(most):
        return most
    low, high = 0.0, most
    while high - low > 0.005:
        middle = (low + high) / 2.0
        low, high = (middle, high) if fits(middle) else (low, middle)
    # Within the tolerance even a sharp corner is "cleared" by a hair.
    return round(low - TOLERANCE / 2.0, 2) if low > 0.3 else 0.0


def largest_of(part: Part, widths: Sequence[float]) -> float | None:
    """Return the widest of some cutters that leaves least standing in a part.

    Among those that enter everything, one that clears everything wins; None when
    none gets everywhere.
    """
    regions = [region for _, _, region in _waste(part, max(widths, default=1.0))]
    entering = [
        width
        for width in sorted(widths, reverse=True)
        if all(_left(region, width / 2.0)[1] for region in regions)
    ]
    clearing = [width for width in entering if not standing(part, width)]
    return next(iter([*clearing, *entering]), None)


def widest_for(job: Job, widths: Sequence[float]) -> float | None:
    """Return the widest of some cutters that does everything in a job.

    It gets into every hole, notch and pocket of every part; of those that do, one
    that clears all corners too wins. None when none gets everywhere.
    """
    parts = [part for part in job.parts if part.quantity]
    regions = [r for part in parts for _, _, r in _waste(part, max(widths, default=1))]
    entering = [
        width
        for width in sorted(set(widths), reverse=True)
        if all(_left(region, width / 2.0)[1] for region in regions)
    ]
    clearing = (
        width
        for width in entering
        if all(_left(region, width / 2.0)[0].area < 1e-6 for region in regions)
    )
    return next(clearing, entering[0] if entering else None)


def advice_on_reach(job: Job, drawer: Sequence[float] = ()) -> list[Advice]:
    """Return what to say about parts that the job's cutter cannot cut as drawn.

    Parameters
    ----------
    drawer : sequence of float
        Cut widths to choose from instead, mm.
    """
    cutter, units = job.cutting.cutter, job.units
    found = []
    for part in job.parts:
        if not (part.quantity and cutter > 0.0):
            continue
        left = standing(part, cutter)
        shut = {(s.what, s.index) for s in left if not s.entered}
        if shut:
            kinds = sorted({what for what, _ in shut})
            words = f"{' and '.join(kinds)}{'s' if len(shut) > 1 else ''}"
            largest = largest_cutter(part, cutter).enters
            found.append(
                warning(
                    "cutter-too-wide",
                    f"{part.name}: a slot of {with_unit(cutter, units, 3)} does not "
                    f"fit into {len(shut)} {words}; {with_unit(largest, units, 2)} is "
                    "the widest that would",
                    part.name,
                )
            )
        corners = [s for s in left if s.entered]
        if corners:
            found.append(
                note(
                    "corners-left",
                    f"{part.name}: {len(corners)} inside "
                    f"corner{'s' if len(corners) > 1 else ''} will stay round; relieve "
                    "them where something square must fit",
                    part.name,
                )
            )
    if drawer and any(advice.code == "cutter-too-wide" for advice in found):
        width = widest_for(job, drawer)
        found.append(
            note(
                "widest-cutter",
                f"the widest cutter of the drawer that gets everywhere is "
                f"{with_unit(width, units, 3)}"
                if width
                else "no cutter of the drawer gets everywhere",
            )
        )
    return found
