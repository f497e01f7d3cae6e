"""Instances with several sizes of sheet, checked apart from the job's own check."""

from __future__ import annotations

import math
import time
from typing import Any

import pytest
import shapely
import shapely.affinity

from drystone.nesting.mixed_instance import job_of, solve_mixed

L_PIECE = [[0, 0], [6, 0], [6, 2], [2, 2], [2, 6], [0, 6]]
MIXED: dict[str, Any] = {
    "kind": "bins",
    "sheets": [{"w": 12, "h": 12, "cost": 9}, {"w": 6, "h": 6, "cost": 2}],
    "rotations_deg": [0, 90, 180, 270],
    "pieces": [
        {"id": "l", "demand": 2, "outer": L_PIECE, "holes": []},
        {"id": "s", "demand": 2, "w": 4, "h": 4},
    ],
}


def test_small_sheets_are_chosen_where_they_cost_less() -> None:
    solution = solve_mixed(MIXED, 10.0, 1, time.perf_counter)
    assert solution is not None
    assert solution["cost"] == 4.0
    assert solution["bin_sheets"] == [1, 1]
    laid: dict[int, list[shapely.Polygon]] = {}
    outlines = {"l": shapely.Polygon(L_PIECE), "s": shapely.box(0, 0, 4, 4)}
    for q in solution["placements"]:
        turn = math.radians(q["rotation_deg"])
        c, s = math.cos(turn), math.sin(turn)
        matrix = [c, -s, s, c, q["x"], q["y"]]
        polygon = shapely.affinity.affine_transform(outlines[q["piece"]], matrix)
        laid.setdefault(q["bin"], []).append(polygon.buffer(-3e-6))
    sheet = shapely.box(0, 0, 6, 6)
    for polygons in laid.values():
        assert all(sheet.covers(polygon) for polygon in polygons)
        total = sum(polygon.area for polygon in polygons)
        assert shapely.union_all(polygons).area == pytest.approx(total)


def test_availability_turns_and_costs_are_taken_over() -> None:
    instance = {**MIXED, "sheets": [{"w": 5, "h": 4, "available": 3}]}
    instance["pieces"] = [{"id": 7, "w": 5, "h": 4, "rotations_deg": "free"}]
    job, scale = job_of(instance)
    assert scale == 2000.0
    assert job.stock[0].count == 3
    assert job.stock[0].price == 1.0
    assert job.parts[0].turn.turns(job.stock[0].grain) is None


def test_what_does_not_fit_has_no_solution() -> None:
    instance = {**MIXED, "pieces": [{"id": "a", "w": 13, "h": 1}]}
    assert solve_mixed(instance, 1.0, 0, time.perf_counter) is None
