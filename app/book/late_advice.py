"""Advice that takes longer than a blink: times, reach, travel, what comes loose."""

from __future__ import annotations

import statistics
from collections.abc import Callable
from dataclasses import dataclass, field

from ...nesting.model.job import Job
from ...nesting.model.machine import ShopSetup
from ...nesting.shop.advice import Advice, note
from ...nesting.shop.clamps import advice_on_clamps
from ...nesting.shop.cutters import duty
from ...nesting.shop.holddown import (
    advice_on_holding,
    asked_screws,
    loose_pieces,
)
from ...nesting.shop.reach import Standing, advice_on_reach, standing
from ...nesting.shop.relief import advice_on_relief, as_cut, job_as_cut
from ...nesting.shop.tabs import tabs_of
from ...nesting.shop.time import job_time
from ...nesting.shop.travel import advice_on_travel


@dataclass(frozen=True)
class LateAdvice:
    """Advice by the section it concerns, and what stays standing in each part.

    `estimated` is the running time in minutes, not corrected by recorded times; 0
    without a layout.
    """

    machine: tuple[Advice, ...] = ()
    bed: tuple[Advice, ...] = ()
    holding: tuple[Advice, ...] = ()
    corners: tuple[Advice, ...] = ()
    standing: dict[str, tuple[Standing, ...]] = field(default_factory=dict)
    estimated: float = 0.0


def late_advice(
    job: Job, setup: ShopSetup, stopped: Callable[[], bool] = lambda: False
) -> LateAdvice:
    """Return what there is to say about a job; less of it once stopped."""
    machine: list[Advice] = []
    bed: list[Advice] = []
    estimated = 0.0
    if job.layout.placements:
        tabs = {part.id: len(tabs_of(part)) for part in job.parts}
        minutes = job_time(job, setup, tabs).running.likely / 60.0
        record = setup.machine.actual_over_estimated
        estimated = minutes / statistics.median(record) if record else minutes
        machine += duty(setup.machine, minutes)
        bed += advice_on_travel(job, setup.machine)
        bed += advice_on_clamps(job, setup.machine)
    if stopped():
        return LateAdvice(tuple(machine), tuple(bed), estimated=estimated)
    drawer = [cutter.width for cutter in setup.cutters]
    corners = [*advice_on_reach(job_as_cut(job), drawer), *advice_on_relief(job)]
    left: dict[str, tuple[Standing, ...]] = {}
    for part in job.parts:
        if stopped():
            break
        if part.quantity and job.cutting.cutter > 0.0:
            found = standing(as_cut(job, part).part, job.cutting.cutter)
            if found:
                left[part.id] = tuple(found)
    holding = _holding(job, setup, stopped)
    return LateAdvice(
        tuple(machine), tuple(bed), tuple(holding), tuple(corners), left, estimated
    )


def _holding(job: Job, setup: ShopSetup, stopped: Callable[[], bool]) -> list[Advice]:
    practice = setup.practice
    found = advice_on_holding(job, practice)
    if not job.layout.blanks:
        return found
    # On a layout, what lies in a hole is cut from the piece that would fall out.
    found = [advice for advice in found if advice.code != "drop-outs"]
    loose = short = 0
    for blank in range(len(job.layout.blanks)):
        if stopped():
            return found
        loose += len(loose_pieces(job, blank))
        short += len(asked_screws(job, blank, practice)) < job.holding.screws
    if loose:
        pieces = "piece drops" if loose == 1 else "pieces drop"
        found.append(
            note(
                "drop-outs",
                f"{loose} {pieces} out of holes: hold by tabs or clear",
            )
        )
    if short:
        blanks = "blank has" if short == 1 else "blanks have"
        found.append(
            note(
                "few-screws",
                f"{short} {blanks} room for fewer screws than asked: clamp, tape or "
                "vacuum as well",
            )
        )
    return found
