"""A sheet longer than a bed that is open at one end, indexed through.

The sheet is cut in positions: it lies with its first stretch on the bed, is cut
there, and is pushed on by the pitch until holes drilled before drop over pins.
Parts lie whole inside one position and keep off its pins. Widths must fit the bed.
"""

from __future__ import annotations

import math

from ..model.breakdown import Breakdown, Piece
from ..model.errors import InputError
from ..model.machine import Machine
from ..model.motion import Point
from ..model.outline import Loop
from ..model.stock import KeepOut, Stock
from .breakdown import with_keep_outs
from .passes import SLACK

PINS = Machine().pins
"""Distance of a pin's middle from the bed's end and the sheet's sides, the radius round
it that no cut may enter, and its diameter, mm, where no machine says otherwise: a pin
of 8 mm with room for the collet nut (common practice)."""


def can_index(
    stock: Stock, bed: tuple[float, float], pins: tuple[float, float, float] = PINS
) -> bool:
    """Return whether a sheet can be indexed through along x: too long, not too wide."""
    length, width = stock.outline.size
    return (
        stock.is_rectangle
        and length > bed[0] + SLACK
        and width <= bed[1] + SLACK
        and bed[0] > 6.0 * pins[0]
        and width > 4.0 * pins[0]
    )


def index_through(
    stock: Stock,
    bed: tuple[float, float],
    apart: float = 0.0,
    pins: tuple[float, float, float] = PINS,
) -> Breakdown:
    """Return the positions of a sheet indexed through a bed open along x.

    The positions are the break-down's pieces, in cutting order; it has no cuts. Its
    holes are drilled through in one position and sit on the pins in the next: each
    pair lies one pitch further on. Every position keeps its parts off the pins at
    its beginning, the first one too, since the pins stand there all the time.

    Parameters
    ----------
    apart : float
        Left between neighbouring positions, mm, where margins alone would not keep
        their parts a gap apart.
    pins : tuple of float
        As `PINS`.

    Raises
    ------
    InputError
        If the sheet is not longer than the bed, or does not fit its width.
    """
    if not can_index(stock, bed, pins):
        raise InputError(
            stock.name, "cannot be indexed through this bed", "saw it into blanks"
        )
    length, width = stock.outline.size
    edge, room, pin = pins
    strip = 2.0 * edge
    pitch = bed[0] - strip
    count = max(math.ceil((length - strip) / pitch - SLACK), 1)
    if count > 1 and length - (count - 1) * pitch <= 2.0 * strip:
        count -= 1  # what is left is too short to be worth a push
    standing = tuple(
        KeepOut(Loop.circle(edge, y, room), "pin") for y in (edge, width - edge)
    )
    pieces: list[Piece] = []
    holes: list[Point] = []
    for k in range(count):
        start = k * pitch
        if k == count - 1:
            wide = min(bed[0], length - start)
        else:
            wide = pitch - apart
            x = start + pitch + edge
            holes += [(x, edge), (x, width - edge)]
        pieces.append(Piece(start, 0.0, wide, width, standing))
    plan = Breakdown((length, width), apart, (), tuple(pieces), tuple(holes), pin)
    return with_keep_outs(plan, stock.keep_outs)
