"""Solve a benchmark instance as an exact tiling, where its areas leave no room over."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

from .kernels import FloatArray
from .tiling import Laid, Tile, grid_of, tile

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
    area = sum(abs(_area(ring)) * p[2] for ring, p in zip(rings, pieces, strict=True))
    rooms = round(area / (width * height))
    if rooms < 1 or not math.isclose(area, rooms * width * height, rel_tol=1e-9):
        return None
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


def _area(ring: FloatArray) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return 0.5 * float((x * (_next(y)) - _next(x) * y).sum())


def _next(values: FloatArray) -> FloatArray:
    out = values.copy()
    out[:-1], out[-1] = values[1:], values[0]
    return out


def _counter_clockwise(ring: FloatArray) -> tuple[tuple[int, int], ...]:
    points = [(round(float(x)), round(float(y))) for x, y in ring]
    return tuple(points if _area(ring) > 0 else points[::-1])
