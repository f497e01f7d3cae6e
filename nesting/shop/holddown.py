"""Holding down: what comes loose, and where screws may go; `tabs` holds the tabs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from ..model.job import Job
from ..model.machine import Practice
from ..model.motion import Motion, Point
from ..model.part import Part
from .advice import Advice, note, warning
from .tabs import (
    LEAST_PIECE,
    falling_pieces,
    hole_tabs,
    in_hole,
    is_small,
    put_tabs,
    tabs_for,
    tabs_of,
    wants_hole_tabs,
    wants_tabs,
    with_tab_list,
)

_CHORD = 0.05
_TICKS = 64
"""Candidates for screws along the longer side of a blank."""


PRACTICE = Practice()
"""What counts where no shop says otherwise."""


def screw_spots(
    job: Job,
    blank: int,
    *,
    distance: float = 10.0,
    count: int = 4,
    practice: Practice = PRACTICE,
) -> tuple[Point, ...]:
    """Return places in the waste where a screw is clear of every cutter path.

    Parameters
    ----------
    job : Job
        With its layout.
    blank : int
        Which blank, from 0.
    distance : float
        Least distance from the screw's middle to the edge of any slot, mm; a slot
        is one cut width wide beside each part.
    count : int
        How many to look for; fewer are returned when there is no room.
    practice : Practice
        How far screws keep from the blank's own edge and from each other.

    Returns
    -------
    tuple of Point
        In the blank's coordinates, mm, well spread: the first four nearest to the
        corners, lower left first, the others as far from those before as possible.
        None lies in a hole of a part: what is in there comes loose.
    """
    edge = practice.screw_edge
    stock = job.stock_of(blank)
    flat = stock.outline.flatten(_CHORD)
    board = shapely.Polygon(flat.outer, flat.holes)
    x0, y0, x1, y1 = board.bounds
    step = max(x1 - x0, y1 - y0) / _TICKS
    xs = np.arange(x0 + step / 2.0, x1, step)
    ys = np.arange(y0 + step / 2.0, y1, step)
    xs = np.unique(np.concatenate([xs, [x0 + edge, x1 - edge]]))
    ys = np.unique(np.concatenate([ys, [y0 + edge, y1 - edge]]))
    grid = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
    points = shapely.points(grid)
    keep = shapely.contains(board, points)
    keep &= shapely.distance(board.boundary, points) >= edge + flat.error - 1e-9
    for area in stock.keep_outs:
        loop = shapely.Polygon(area.loop.flatten(_CHORD))
        keep &= shapely.distance(loop, points) >= distance + _CHORD
    need = job.cutting.cutter + distance + _CHORD
    filled = [shapely.Polygon(r.exterior) for r in _pieces(job, blank)]
    parts = shapely.union_all(filled)
    if not parts.is_empty:
        keep &= shapely.distance(parts, points) >= need
    left = grid[keep]
    corners = ((x0, y0), (x1, y1), (x1, y0), (x0, y1))
    return _spread(left, count, corners, practice.screw_apart)


def _on(job: Job, blank: int) -> list[int]:
    return [i for i, p in enumerate(job.layout.placements) if p.blank == blank]


def _placed(job: Job, index: int) -> Any:
    placement = job.layout.placements[index]
    outline = job.part(placement.part_id).outline.moved(placement.motion)
    flat = outline.flatten(_CHORD)
    return shapely.make_valid(shapely.Polygon(flat.outer, flat.holes))


def _pieces(job: Job, blank: int) -> list[Any]:
    """Return the polygons of the parts on a blank; a broken outline may be several."""
    shapes = [_placed(job, i) for i in _on(job, blank)]
    return [
        piece
        for shape in shapes
        for piece in shapely.get_parts(shape)
        if piece.geom_type == "Polygon"
    ]


def asked_screws(job: Job, blank: int, practice: Practice) -> tuple[Point, ...]:
    """Return the screw spots that the job asks for on a blank, its coordinates, mm.

    The job's own distance counts, else the shop's.
    """
    asked = job.holding
    if not asked.screws:
        return ()
    away = asked.screw_distance
    return screw_spots(
        job,
        blank,
        distance=practice.screw_distance if away is None else away,
        count=asked.screws,
        practice=practice,
    )


def _spread(
    places: np.ndarray[Any, np.dtype[np.float64]],
    count: int,
    corners: tuple[Point, ...],
    apart: float,
) -> tuple[Point, ...]:
    """Return up to `count` places: near the corners, then far from all others."""
    chosen: list[Point] = []
    if not len(places):
        return ()
    away = np.full(len(places), np.inf)
    wanted = list(corners)
    while len(chosen) < count and away.max() >= apart:
        if wanted:
            x, y = wanted.pop(0)
            off = np.hypot(places[:, 0] - x, places[:, 1] - y)
            pick = int(np.argmin(off))
            if away[pick] < apart:
                continue
        else:
            pick = int(np.argmax(away))
        x, y = places[pick]
        chosen.append((float(x), float(y)))
        away = np.minimum(away, np.hypot(places[:, 0] - x, places[:, 1] - y))
    return tuple(chosen)


def held(job: Job, practice: Practice) -> Job:
    """Return the job with its tabs put in and its screw distance spelled out.

    What is written so can be checked by itself, without the shop's set-up. Doing it
    again changes nothing.
    """
    asked = job.holding
    if asked.screws and asked.screw_distance is None:
        asked = replace(asked, screw_distance=practice.screw_distance)
        job = replace(job, holding=asked)
    return put_tabs(job, practice)


def advice_on_holding(job: Job, practice: Practice) -> list[Advice]:
    """Return what to say about parts that come loose.

    Small parts without tabs, unless a skin holds them, parts that want tabs and have
    no straight run for one, and pieces that fall out of holes.
    """
    found = []
    small: list[str] = []
    for part in job.parts:
        if not part.quantity or tabs_of(part):
            continue
        wanted = wants_tabs(job, part, practice)
        if wanted and not tabs_for(part, job.cutting.cutter, practice):
            found.append(
                warning(
                    "no-room-for-tabs",
                    f"{part.name}: no straight run is long enough for a tab; hold it "
                    "with a skin, tape or vacuum",
                    part.name,
                )
            )
        elif is_small(part, practice) and not wanted and not practice.onion_skin:
            small.append(part.name)
    if small:
        names = ", ".join(small[:3])
        rest = f" and {len(small) - 3} more" if len(small) > 3 else ""
        found.append(
            note(
                "small-parts",
                f"{names}{rest}: small enough to be thrown when cut loose; hold "
                f"{'it' if len(small) == 1 else 'them'} with tabs or a skin",
                small[0] if len(small) == 1 else "",
            )
        )
    return found + _advice_on_holes(job, practice)


def _advice_on_holes(job: Job, practice: Practice) -> list[Advice]:
    """Return what to say about pieces that fall out of holes."""
    found = []
    loose: list[str] = []
    pieces = 0
    for part in job.parts:
        if not (part.quantity and part.outline.holes):
            continue
        wanted = wants_hole_tabs(job, part)
        if wanted and not any(in_hole(part, tab) for tab in tabs_of(part)):
            tabs = hole_tabs(part, job.cutting.cutter, practice)
            part = with_tab_list(part, (*tabs_of(part), *tabs))
        count = len(drop_outs(part, job.cutting.cutter))
        if count and wanted:
            found.append(
                warning(
                    "no-room-for-hole-tabs",
                    f"{part.name}: {count} piece{'s' if count > 1 else ''} will fall "
                    "out of its holes, whose edges have no room for a tab; tape them "
                    "down or stop and take them out",
                    part.name,
                )
            )
        elif count:
            loose.append(part.name)
            pieces += count * part.quantity
    if pieces:
        rest = f" and {len(loose) - 3} more" if len(loose) > 3 else ""
        found.append(
            note(
                "drop-outs",
                f"{pieces} piece{' falls' if pieces == 1 else 's fall'} out of the "
                f"holes of {', '.join(loose[:3])}{rest}: hold them with tabs or clear "
                "them away",
                loose[0] if len(loose) == 1 else "",
            )
        )
    return found


def drop_outs(part: Part, cutter: float) -> tuple[Point, ...]:
    """Return where a piece falls out of a hole when it is cut round.

    One point for each piece that no tab holds, in the part's coordinates, mm; chips
    are left out.
    """
    tabs = _tab_lines(part, Motion(0.0, 0.0))
    found = []
    for hole in part.outline.holes:
        for piece in falling_pieces(hole, cutter):
            if not _is_held(piece, tabs, cutter):
                spot = piece.representative_point()
                found.append((float(spot.x), float(spot.y)))
    return tuple(found)


def loose_pieces(job: Job, blank: int) -> tuple[Point, ...]:
    """Return where pieces of waste come loose on a blank, in its coordinates, mm.

    As `drop_outs`, but what lies in a hole is cut from the piece that would fall out.
    """
    cutter = job.cutting.cutter
    placed = [(i, _placed(job, i)) for i in _on(job, blank)]
    found = []
    for index, _ in placed:
        placement = job.layout.placements[index]
        part = job.part(placement.part_id)
        tabs = _tab_lines(part, placement.motion)
        for hole in part.outline.holes:
            region = shapely.Polygon(hole.moved(placement.motion).flatten(_CHORD))
            region = shapely.make_valid(region).buffer(-cutter)
            for other, shape in placed:
                if other != index and shape.intersects(region):
                    region = region.difference(shape.buffer(cutter))
            for piece in shapely.get_parts(region):
                if piece.area > LEAST_PIECE and not _is_held(piece, tabs, cutter):
                    spot = piece.representative_point()
                    found.append((float(spot.x), float(spot.y)))
    return tuple(found)


def _tab_lines(part: Part, motion: Motion) -> list[Any]:
    """Return a part's tabs as lines after a motion."""
    return [
        shapely.LineString(motion.points(tab.along.flatten(_CHORD)))
        for tab in tabs_of(part)
    ]


def _is_held(piece: Any, tabs: Sequence[Any], cutter: float) -> bool:
    """Return whether a tab reaches a piece across the slot."""
    return any(piece.distance(tab) <= 1.05 * cutter + 2.0 * _CHORD for tab in tabs)
