"""One plan for each board, however many parts are cut from it."""

from __future__ import annotations

import pytest

from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import ShopSetup
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.shop import plan


def test_each_board_is_planned_once(monkeypatch: pytest.MonkeyPatch) -> None:
    outline = Outline(Loop.rectangle(90, 60))
    parts = tuple(
        Part(f"p{n}", f"part {n}", outline, material="birch", thickness=6.0 + n % 2)
        for n in range(40)
    )
    made: list[tuple[str, float]] = []
    make = plan.make_plan

    def counted(
        setup: ShopSetup, cut_width: float, material: str, thickness: float
    ) -> plan.CutPlan:
        made.append((material, thickness))
        return make(setup, cut_width, material, thickness)

    monkeypatch.setattr(plan, "make_plan", counted)
    plans = plan.plans_of(Job("Many", parts, (), Cutting(6.0)), ShopSetup())
    assert list(plans) == made == [("birch", 6.0), ("birch", 7.0)]
    assert [p.thickness for p in plans.values()] == [6.0, 7.0]
