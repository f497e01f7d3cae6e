"""The layout with holes left empty, that a layout is compared with."""

from __future__ import annotations

from typing import Any

import pytest

from drystone.app.laying_out import lay_out
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.stock import Stock
from drystone.nesting.result import Result
from drystone.nesting.solve import solve
from drystone.nesting.stop import StopReason


class Silent:
    def update(self, share: float, words: str) -> None:
        """Show nothing."""


def frames_and_shelves() -> Job:
    """Frames whose holes take a shelf each."""
    hole = Loop.rectangle(200, 150, 40, 40)
    frame = Outline(Loop.rectangle(280, 230), (hole,))
    shelf = Outline(Loop.rectangle(160, 120))
    wedge = Outline(Loop.polygon(((0, 0), (130, 0), (40, 90))))
    parts = (
        Part("frame", "frame", frame, (), 3),
        Part("shelf", "shelf", shelf, (), 3),
        Part("wedge", "wedge", wedge, (), 4),
    )
    sheet = Stock("sheet", "sheet", Outline(Loop.rectangle(600, 400)), price=10.0)
    return Job("Frames", parts, (sheet,), Cutting(6.0, 1.5, 12.0))


def test_the_comparison_counts_passes_where_the_user_does(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    results: list[Result] = []

    def watched(*args: Any, **options: Any) -> Result:
        results.append(solve(*args, **options))
        return results[-1]

    monkeypatch.setattr("drystone.app.laying_out.solve", watched)
    job = frames_and_shelves()
    # However little time there is, and however slow the machine.
    hasty = lay_out(job, Silent(), seconds=0.0, passes=3)
    patient = lay_out(job, Silent(), seconds=60.0, passes=3)
    assert hasty.verdict.in_holes
    assert hasty.verdict.as_dict() == patient.verdict.as_dict()
    mine, empty, _, again = results
    assert StopReason.TIME not in (mine.reason, empty.reason)
    assert empty.passes == again.passes == mine.passes
    # Who gives seconds gets no more than a share of them for it.
    results.clear()
    lay_out(job, Silent(), seconds=0.0)
    assert [result.reason for result in results][1:] == [StopReason.TIME]
