"""How the sheets of a job can be sawn, and are sawn, as the papers tell it."""

from __future__ import annotations

from ..io.shop_notes import SheetCuts
from ..nesting.model.breakdown import Breakdown
from ..nesting.model.job import Job
from ..nesting.model.machine import ShopSetup
from ..nesting.model.stock import Stock
from ..nesting.shop.breakdown import candidates, whole_sheets
from ..nesting.shop.indexing import can_index, index_through


def ways_to_saw(
    stock: Stock, bed: tuple[float, float], job: Job, setup: ShopSetup
) -> list[Breakdown]:
    """Return break-downs of a sheet, indexing it through first where that works.

    Parameters
    ----------
    stock : Stock
        A sheet that is larger than the bed.
    bed : tuple of float
        Length by width, mm.
    job : Job
        What is laid out on it: how far parts keep apart, and the unit of lengths.
    setup : ShopSetup
        Machine and saw.

    Raises
    ------
    InputError
        If it cannot be sawn into blanks that fit the bed.
    """
    machine = setup.machine
    sawn = candidates(stock, bed, setup.saw, job.units)
    if machine.open_end and can_index(stock, bed, machine.pins):
        apart = max(job.cutting.gap - 2.0 * job.cutting.margin, 0.0)
        return [index_through(stock, bed, apart, machine.pins), *sawn]
    return sawn


def sheet_cuts(job: Job) -> tuple[SheetCuts, ...]:
    """Return the break-downs of the sheets that a layout's blanks come from.

    They are part of the job, so that whoever writes its papers tells them, at once or
    after it was saved and opened again.
    """
    found = []
    for sheet, count in whole_sheets(job):
        plans = (
            kind.breakdown
            for kind in job.stock
            if kind.sheet is not None and kind.sheet.id == sheet.id
        )
        plan = next((plan for plan in plans if plan is not None), None)
        if plan is not None and (plan.cuts or plan.holes):
            found.append(SheetCuts(sheet.name, count, plan))
    return tuple(found)
