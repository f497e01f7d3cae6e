"""Benchmark instances with several sizes of sheet, solved as a job of least cost.

Lengths are stretched so that the largest sheet is as long as `LONG`: the clearances
that a job's search and check work with are then far finer than the benchmark's.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from .improve import improve
from .model.job import Cutting, Job, Objective
from .model.outline import Loop, Outline
from .model.part import Part
from .model.rules import TurnRule
from .model.stock import Stock
from .solve import Params, solve
from .stop import AnyOf, BoundMet, Cancelled

Instance = dict[str, Any]
Solution = dict[str, Any]

LONG = 10_000.0
"""mm."""


def job_of(instance: Instance) -> tuple[Job, float]:
    """Return an instance of kind ``bins`` as a job, and mm per unit of its lengths."""
    sheets = [instance["sheet"]] if "sheet" in instance else instance["sheets"]
    scale = LONG / max(float(side) for s in sheets for side in (s["w"], s["h"]))
    parts = tuple(
        Part(
            str(k),
            str(piece["id"]),
            _outline(piece, scale),
            quantity=int(piece.get("demand", 1)),
            turn=_turn(piece.get("rotations_deg", instance.get("rotations_deg"))),
        )
        for k, piece in enumerate(instance["pieces"])
    )
    stock = tuple(
        Stock(
            str(k),
            str(k),
            Outline(Loop.rectangle(float(s["w"]) * scale, float(s["h"]) * scale)),
            price=float(s.get("cost", 1.0)),
            count=s.get("available"),
        )
        for k, s in enumerate(sheets)
    )
    bare = Cutting(cutter=0.0, allowance=0.0, margin=0.0)
    name = str(instance.get("name", "instance"))
    return Job(name, parts, stock, bare, objective=Objective.LEAST_COST), scale


def _outline(piece: dict[str, Any], scale: float) -> Outline:
    if "outer" not in piece:
        w, h = float(piece["w"]) * scale, float(piece["h"]) * scale
        return Outline(Loop.rectangle(w, h))
    loops = [
        Loop.polygon([(float(x) * scale, float(y) * scale) for x, y in ring])
        for ring in [piece["outer"], *(piece.get("holes") or [])]
    ]
    return Outline(loops[0], tuple(loops[1:]))


def _turn(turns: object) -> TurnRule:
    if isinstance(turns, list):
        return TurnRule.listed(float(angle) for angle in turns)
    return TurnRule()


def solve_mixed(
    instance: Instance, seconds: float, seed: int, clock: Callable[[], float]
) -> Solution | None:
    """Solve an instance of kind ``bins``; None if no place was found for a piece.

    Parameters
    ----------
    clock : callable
        What the seconds are counted with.
    """
    job, scale = job_of(instance)
    end = clock() + seconds
    stop = AnyOf(BoundMet(), Cancelled(lambda: clock() >= end))
    result = solve(job, stop, seed, params=Params(improve=improve))
    if not result.complete:
        return None
    rows = [
        {
            "piece": instance["pieces"][int(p.part_id)]["id"],
            "bin": p.blank,
            "x": p.x / scale,
            "y": p.y / scale,
            "rotation_deg": p.turn,
            "mirrored": p.flipped,
        }
        for p in result.layout.placements
    ]
    return {
        "bins": len(result.layout.blanks),
        "bin_sheets": [int(blank.stock_id) for blank in result.layout.blanks],
        "cost": result.measures.cost,
        "placements": rows,
        "density": result.measures.yield_,
        "bound": result.bound.cost,
    }
