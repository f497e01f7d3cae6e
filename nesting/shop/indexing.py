"""A sheet longer than a bed that is open at one end, indexed through.

The sheet is cut in positions: it lies with its first stretch on the bed, is cut
there, and is pushed on by the pitch until holes drilled before drop over pins.
Parts lie whole inside one position. Widths must fit the bed.
"""

from __future__ import annotations

import math

from ..model.breakdown import Breakdown, Piece
from ..model.errors import InputError
from ..model.motion import Point
from ..model.stock import Stock
from .passes import SLACK

PIN_EDGE = 20.0
"""Middle of a pin from the bed's end and from the sheet's sides, mm."""


def can_index(stock: Stock, bed: tuple[float, float]) -> bool:
    """Return whether a sheet can be indexed through along x: too long, not too wide."""
    length, width = stock.outline.size
    return (
        stock.is_rectangle
        and not stock.keep_outs
        and length > bed[0] + SLACK
        and width <= bed[1] + SLACK
        and bed[0] > 6.0 * PIN_EDGE
        and width > 4.0 * PIN_EDGE
    )


def index_through(stock: Stock, bed: tuple[float, float]) -> Breakdown:
    """Return the positions of a sheet indexed through a bed open along x.

    The positions are the break-down's pieces, in cutting order; it has no cuts. Its
    holes are drilled through in one position and sit on the pins in the next: each
    pair lies one pitch further on, in a strip between positions that parts leave
    free.

    Raises
    ------
    InputError
        If the sheet is not longer than the bed, or does not fit its width.
    """
    if not can_index(stock, bed):
        raise InputError(
            stock.name, "cannot be indexed through this bed", "saw it into blanks"
        )
    length, width = stock.outline.size
    strip = 2.0 * PIN_EDGE
    pitch = bed[0] - strip
    count = max(math.ceil((length - strip) / pitch - SLACK), 1)
    if count > 1 and length - (count - 1) * pitch <= 2.0 * strip:
        count -= 1  # what is left is too short to be worth a push
    pieces: list[Piece] = []
    holes: list[Point] = []
    for k in range(count):
        start = k * pitch + (strip if k else 0.0)
        if k == count - 1:
            end = min(k * pitch + bed[0], length)
        else:
            end = (k + 1) * pitch
            x = end + PIN_EDGE
            holes += [(x, PIN_EDGE), (x, width - PIN_EDGE)]
        pieces.append(Piece(start, 0.0, end - start, width))
    return Breakdown((length, width), 0.0, (), tuple(pieces), tuple(holes))
