"""A job and the rack: what it takes, what it leaves, and doing both at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from ..io.limits import Limits
from ..io.rack import Rack, RackBoard, rack_number
from ..io.read_drawing import with_parts
from ..io.read_guarded import read_guarded
from ..nesting.model.errors import InputError
from ..nesting.model.job import Job
from ..nesting.model.motion import Motion
from ..nesting.model.outline import Outline


def outline_from_drawing(
    path: Path,
    cancelled: Callable[[], bool] | None = None,
    limits: Limits | None = None,
) -> Outline:
    """Return the one outline in a drawing, its least corner at (0, 0).

    Drawings come from anywhere, so it is read in a process that can be ended.

    Parameters
    ----------
    cancelled : callable, optional
        Asked now and then; True ends reading with `io.limits.Cancelled`.
    limits : Limits, optional
        What reading may cost.

    Raises
    ------
    InputError
        If the drawing cannot be read or does not hold exactly one outline.
    """
    parts = with_parts(read_guarded(path, cancelled=cancelled, limits=limits)).parts
    if len(parts) != 1:
        raise InputError(
            str(path), f"it holds {len(parts)} outlines", "draw just the board"
        )
    return _at_corner(parts[0].outline)


def _at_corner(outline: Outline) -> Outline:
    x, y, _, _ = outline.bounds
    return outline.moved(Motion(-x, -y))


def leftover_boards(job: Job) -> tuple[RackBoard, ...]:
    """Return the leftovers of a layout that are worth keeping, blank by blank."""
    # It measures as the engine does, and the engine is heavy to load.
    from ..nesting.shop.leftovers import leftovers

    keep = []
    for index in range(len(job.layout.blanks)):
        stock = job.stock_of(index)
        for outline in leftovers(job, index):
            keep.append(
                RackBoard(
                    _at_corner(outline),
                    stock.material,
                    stock.thickness,
                    stock.grain,
                    f"left of {job.name}",
                    value=round(stock.price * outline.area / stock.area, 2),
                )
            )
    return tuple(keep)


def boards_taken(job: Job) -> tuple[int, ...]:
    """Return the numbers of the rack's boards that a layout uses."""
    numbers = (rack_number(blank.stock_id) for blank in job.layout.blanks)
    return tuple(number for number in numbers if number is not None)


def book_out(
    rack: Rack, job: Job, keep: Sequence[RackBoard], *, again: bool = False
) -> int:
    """Take a job's boards off the rack and put leftovers there; return the number.

    A job is known by its lasting id: under another name, in another place or with
    another layout it is the same job, and is booked once.

    Parameters
    ----------
    again : bool
        Whether it was cut once more and is booked beside its earlier bookings.

    Raises
    ------
    InputError
        If the job has no layout or was booked before, or a board is gone.
    OutputError
        If the rack cannot be written; nothing is changed then.
    """
    if not job.layout.placements:
        raise InputError(job.name, "has no layout", "lay it out first")
    return rack.commit(job.id, job.name, boards_taken(job), keep, again=again)
