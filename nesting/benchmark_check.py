"""The check of benchmark solutions: shapely on the outlines as drawn, no engine."""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

import numpy as np
import shapely
import shapely.affinity

from .kernels import FloatArray

Instance = dict[str, Any]
Solution = dict[str, Any]
Placement = dict[str, Any]

TOUCHING = 1e-6
"""Depth that passes as touching, relative to the sheet's longest side."""

SAME_TURN = 1e-9
"""Degrees."""


def rings_of(piece: dict[str, Any]) -> list[FloatArray]:
    """Return a piece's outline and holes as drawn, each float64 (n, 2)."""
    if "outer" in piece:
        return [
            np.array(ring, dtype=np.float64)
            for ring in [piece["outer"], *(piece.get("holes") or [])]
        ]
    w, h = float(piece["w"]), float(piece["h"])
    return [np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])]


def placed(instance: Instance, placements: list[Placement]) -> list[shapely.Polygon]:
    """Lay the pieces as drawn, by shapely alone."""
    pieces = {
        piece["id"]: shapely.Polygon(rings[0], rings[1:])
        for piece in instance["pieces"]
        for rings in [rings_of(piece)]
    }
    out = []
    for q in placements:
        turn = math.radians(q["rotation_deg"])
        c, s = math.cos(turn), math.sin(turn)
        matrix = [c, -s, s, c, q["x"], q["y"]]
        out.append(shapely.affinity.affine_transform(pieces[q["piece"]], matrix))
    return out


def sound(instance: Instance, solution: Solution) -> bool:
    """Whether a solution lays every piece as often and as turned as it may be.

    None sticks out or overlaps another, and no more sheets are used than there are.
    """
    rows = solution["placements"]
    wanted = {p["id"]: int(p.get("demand", 1)) for p in instance["pieces"]}
    if Counter(q["piece"] for q in rows) != Counter(wanted):
        return False
    if any(q["mirrored"] for q in rows) or not _turned_as_allowed(instance, rows):
        return False
    if instance["kind"] == "strip":
        width, length = float(instance["width"]), float(solution["length"])
        room = (0.0, 0.0, length, width)
        return check(placed(instance, rows), room, TOUCHING * width)
    sheets = [instance["sheet"]] if "sheet" in instance else instance["sheets"]
    which: list[int] = solution.get("bin_sheets") or [0] * solution["bins"]
    used = {q["bin"] for q in rows}
    if len(which) != solution["bins"] or used != set(range(len(which))):
        return False
    for k, count in Counter(which).items():
        supply = sheets[k].get("available")
        if supply is not None and count > supply:
            return False
    sides = [(float(sheet["w"]), float(sheet["h"])) for sheet in sheets]
    tolerance = TOUCHING * max(max(pair) for pair in sides)
    lying: list[list[Placement]] = [[] for _ in which]
    for q in rows:
        lying[q["bin"]].append(q)
    return all(
        check(placed(instance, mine), (0.0, 0.0, *sides[k]), tolerance)
        for k, mine in zip(which, lying, strict=True)
    )


def _turned_as_allowed(instance: Instance, rows: list[Placement]) -> bool:
    allowed = {
        piece["id"]: piece.get("rotations_deg", instance.get("rotations_deg"))
        for piece in instance["pieces"]
    }
    for q in rows:
        turns = allowed[q["piece"]]
        if isinstance(turns, list) and not any(
            abs((q["rotation_deg"] - turn + 180.0) % 360.0 - 180.0) <= SAME_TURN
            for turn in turns
        ):
            return False
    return True


def check(
    polygons: list[shapely.Polygon],
    rectangle: tuple[float, float, float, float],
    tolerance: float,
) -> bool:
    """Whether the polygons lie in the rectangle and none overlaps another.

    Parameters
    ----------
    tolerance : float, mm
        They may stick out by this, and pairs may overlap by it: each is shrunk by half
        of it before pairs are looked at.
    """
    x0, y0, x1, y1 = rectangle
    for polygon in polygons:
        a0, b0, a1, b1 = polygon.bounds
        if max(x0 - a0, y0 - b0, a1 - x1, b1 - y1) > tolerance:
            return False
    shrunk = [p.buffer(-0.5 * tolerance, join_style="mitre") for p in polygons]
    tree = shapely.STRtree(shrunk)
    first, second = tree.query(shrunk, predicate="intersects")
    return not any(
        i < j and shrunk[i].intersection(shrunk[j]).area > 0.0
        for i, j in zip(first.tolist(), second.tolist(), strict=True)
    )
