"""A person's layout: what it is compared with, and its end before the time."""

from __future__ import annotations

from typing import Any

import pytest

from drystone.app.ending_early import EndEarly
from drystone.app.laying_out import lay_out, lay_out_on_bed
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import ShopSetup
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


class AtOnce(EndEarly):
    """Somebody who asks for the end as soon as there is a layout."""

    def wanted(self) -> bool:
        """Ask once a layout was found."""
        self.asked = self.found
        return self.asked


def test_who_ends_a_search_does_not_wait_for_the_comparison() -> None:
    laid = lay_out(frames_and_shelves(), Silent(), seconds=600.0, early=AtOnce())
    assert laid.result.reason is StopReason.CANCELLED
    assert laid.verdict.complete
    assert laid.verdict.in_holes
    assert laid.verdict.without_holes is None


def test_ending_early_keeps_the_whole_layout_on_sawn_sheets(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    results: list[Result] = []

    def watched(*args: Any, **options: Any) -> Result:
        results.append(solve(*args, **options))
        return results[-1]

    monkeypatch.setattr("drystone.app.laying_out.solve", watched)
    part = Part("panel", "panel", Outline(Loop.rectangle(330, 240)), (), 12)
    sheet = Stock("sheet", "sheet", Outline(Loop.rectangle(1500, 1200)), price=52.0)
    job = Job("Panels", (part,), (sheet,), Cutting(6.0, 1.5, 12.0), bed=(800, 800))
    lay_out_on_bed(job, ShopSetup(), Silent(), seconds=600.0, passes=1)
    patient = len(results)
    laid = lay_out_on_bed(job, ShopSetup(), Silent(), seconds=600.0, early=AtOnce())
    # Other break-downs would come to layouts of which nothing is there yet.
    assert len(results) - patient < patient
    assert laid.verdict.complete
    assert not laid.job.layout.unplaced
