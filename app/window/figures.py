"""What a layout comes to, worked out without the engine: quick enough for each edit."""

from __future__ import annotations

from dataclasses import dataclass

from ...nesting.model.job import Job
from ...nesting.shop.breakdown import whole_sheets


@dataclass(frozen=True)
class Figures:
    """The numbers of the verdict strip.

    Attributes
    ----------
    sheets, offcuts : int
        Whole sheets, also where blanks are sawn from them, and offcuts used.
    sawn : int
        How many of the blanks used are sawn from whole sheets.
    yield_ : float
        Area of the placed parts over the area of the blanks used, 0 to 1.
    cost : float
        Price of what is used, whole sheets counted whole.
    placed, wanted : int
        Copies on the bench, and copies ordered.
    """

    sheets: int
    offcuts: int
    yield_: float
    cost: float
    placed: int
    wanted: int
    sawn: int = 0


def figures_of(job: Job) -> Figures:
    """Return what a job's layout comes to."""
    stocks = [job.stock_by_id(blank.stock_id) for blank in job.layout.blanks]
    area = sum(stock.area for stock in stocks)
    placed = {p.part_id for p in job.layout.placements}
    areas = {part_id: job.part(part_id).area for part_id in placed}
    parts = sum(areas[p.part_id] for p in job.layout.placements)
    offcuts = sum(stock.offcut for stock in stocks)
    whole = whole_sheets(job)
    lying = [stock for stock in stocks if stock.sheet is None]
    return Figures(
        sum(count for _, count in whole) + len(lying) - offcuts,
        offcuts,
        parts / area if area else 0.0,
        sum((sheet.price * count for sheet, count in whole), 0.0)
        + sum((stock.price for stock in lying), 0.0),
        len(job.layout.placements),
        sum(part.quantity for part in job.parts),
        len(stocks) - len(lying),
    )
