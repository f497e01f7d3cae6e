"""Solve a benchmark instance as an exact tiling, where its areas leave no room over."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from .kernels import FloatArray
from .tiling import Laid, Ring, Tile, grid_of, tile, twice_area

Pieces = Sequence[tuple[list[FloatArray], Sequence[float], int]]
"""Rings as given, allowed turns in degrees and demand of each piece."""


def solve_tiling(
    pieces: Pieces,
    width: float,
    height: float,
    seed: int,
    stop: Callable[[], bool],
) -> tuple[int, list[dict[str, Any]]] | None:
    """Tile as many rooms as the area asks for.

    Parameters
    ----------
    pieces : sequence of (rings, turns, demand)
    width, height : float
        Of every room.
    seed : int
    stop : callable

    Returns
    -------
    rooms : int
    placements : list of dict
        In the benchmark's form, with the index of the piece as ``piece``; None where
        the pieces are not drawn on a grid, have holes or turn otherwise than by right
        angles, where area is left over, or where no tiling was found.
    """
    if any(len(rings) > 1 for rings, _, _ in pieces):
        return None
    rings = [one[0] for one, _, _ in pieces]
    angles = [angle for _, turns, _ in pieces for angle in turns]
    scale = grid_of(rings, angles)
    w, h = width * (scale or 0), height * (scale or 0)
    if scale is None or abs(w - round(w)) + abs(h - round(h)) > 1e-6:
        return None
    tiles = [
        Tile(_counter_clockwise(ring * scale), demand, tuple(_quarters(turns)))
        for ring, (_, turns, demand) in zip(rings, pieces, strict=True)
    ]
    area = sum(twice_area(one.outline) * one.quantity for one in tiles)
    room = 2 * round(w) * round(h)
    if area < room or area % room:
        return None
    rooms = area // room
    laid = tile(tiles, round(w), round(h), rooms, seed, stop)
    if laid is None:
        return None
    return rooms, [_placement(one, scale) for one in laid]


def _placement(one: Laid, scale: int) -> dict[str, Any]:
    return {
        "piece": one.tile,
        "bin": one.room,
        "x": one.x / scale,
        "y": one.y / scale,
        "rotation_deg": 90.0 * one.quarter,
        "mirrored": False,
    }


def _quarters(turns: Sequence[float]) -> list[int]:
    return sorted({round(a / 90.0) % 4 for a in turns})


def _counter_clockwise(ring: FloatArray) -> Ring:
    points = tuple((round(float(x)), round(float(y))) for x, y in ring)
    return points if twice_area(points) > 0 else points[::-1]
