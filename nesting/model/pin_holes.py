"""Registration holes of a sheet that is indexed through, blank by blank."""

from __future__ import annotations

from .job import Job
from .outline import Loop


def pin_holes(job: Job, blank: int) -> tuple[Loop, ...]:
    """Return the holes to drill while a blank lies on the bed.

    They lie beside the blank, in the stretch that is the beginning of the next
    position: the same sheet reaches on there.

    Parameters
    ----------
    job : Job
        With its layout.
    blank : int
        Which blank, from 0.

    Returns
    -------
    tuple of Loop
        Circles as wide as the pins, in the blank's own coordinates, mm. None for the
        last position of a sheet, and for a blank that is sawn or whole.
    """
    stock = job.stock_of(blank)
    plan = stock.breakdown
    if plan is None or not plan.holes:
        return ()
    size = tuple(round(side, 6) for side in stock.outline.size)
    alike = [
        n
        for n, piece in enumerate(plan.pieces)
        if (round(piece.width, 6), round(piece.height, 6)) == size
        and piece.keep_outs == stock.keep_outs
    ]
    if not alike:
        return ()
    before = sum(b.stock_id == stock.id for b in job.layout.blanks[:blank])
    number = alike[before % len(alike)]
    piece = plan.pieces[number]
    x0, y0, _, _ = stock.outline.bounds
    return tuple(
        Loop.circle(x - piece.x + x0, y - piece.y + y0, plan.pin / 2.0)
        for x, y in plan.holes[2 * number : 2 * number + 2]
    )
