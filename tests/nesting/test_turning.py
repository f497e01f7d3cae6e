"""Strips whose pieces may turn freely."""

from __future__ import annotations

import math
import time
from typing import Any

import pytest

from drystone.nesting.benchmark import run_instance


def slanted(turns: object) -> dict[str, Any]:
    """Two strips of 20 by 5 cut aslant, one drawn at 25 degrees; the optimum is 20."""
    one = [(0, 0), (12, 0), (8, 5), (0, 5)]
    two = [(12, 0), (20, 0), (20, 5), (8, 5)]
    c, s = math.cos(math.radians(25)), math.sin(math.radians(25))
    askew = [[c * x - s * y, s * x + c * y] for x, y in two]
    return {
        "kind": "strip",
        "width": 10,
        "rotations_deg": turns,
        "pieces": [
            {"id": "one", "demand": 2, "outer": [[*p] for p in one], "holes": []},
            {"id": "two", "demand": 2, "outer": askew, "holes": []},
        ],
    }


def test_free_turns_find_the_angle_that_no_quarter_turn_has() -> None:
    quarters = run_instance(
        slanted([0, 90, 180, 270]), 1.0, seed=1, clock=time.process_time
    )
    free = run_instance(slanted("free"), 1.0, seed=1, clock=time.process_time)
    assert free["length"] < 0.97 * quarters["length"]
    assert len(free["placements"]) == 4


def test_a_piece_that_keeps_its_turns_does_so_beside_one_that_turns() -> None:
    instance = slanted("free")
    instance["pieces"][0]["rotations_deg"] = [0, 180]
    solution = run_instance(instance, 1.0, seed=1, clock=time.process_time)
    turns = [p["rotation_deg"] for p in solution["placements"] if p["piece"] == "one"]
    assert turns == pytest.approx([round(t / 180) * 180 % 360 for t in turns])


def test_a_piece_wider_than_the_strip_at_quarter_turns_is_laid_aslant() -> None:
    bar = [[0, 0], [12, 0], [12, 1], [0, 1]]
    c = math.sqrt(0.5)
    ring = [[c * x - c * y, c * x + c * y] for x, y in bar]
    instance = {
        "kind": "strip",
        "width": 5,
        "rotations_deg": "free",
        "pieces": [{"id": "bar", "demand": 2, "outer": ring, "holes": []}],
    }
    solution = run_instance(instance, 0.5, seed=1, clock=time.process_time)
    assert solution["length"] < 12.1
