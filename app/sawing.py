"""How the sheets of a job are sawn, as the papers tell it."""

from __future__ import annotations

from ..io.shop_notes import SheetCuts
from ..nesting.model.job import Job
from ..nesting.shop.breakdown import whole_sheets


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
