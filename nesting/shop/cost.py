"""What a job costs and what it is sold for."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..model.job import Job
from ..model.machine import ShopSetup
from .time import JobTime
from .weight import board_weight


@dataclass(frozen=True, slots=True)
class Yield:
    """Areas of a layout, mm².

    Parameters
    ----------
    parts : float
        All placed copies.
    stock : float
        All blanks used.
    kept : float
        Leftovers worth keeping, shown apart.
    """

    parts: float
    stock: float
    kept: float = 0.0

    @property
    def share(self) -> float:
        """Parts over stock, 0 to 1; kept leftovers do not count as parts."""
        return self.parts / self.stock if self.stock else 0.0

    @property
    def waste(self) -> float:
        """What is neither part nor kept, mm²."""
        return self.stock - self.parts - self.kept


@dataclass(frozen=True, slots=True)
class Cost:
    """A price, line by line, in the user's currency.

    Parameters
    ----------
    sheets : float
        Whole sheets and offcuts used.
    waste : float
        What of `sheets` ends as waste; contained in it, shown apart.
    kept : float
        Credit for leftovers kept.
    machine : float
        Machine time.
    labour : float
        Handling time.
    set_up : float
        Once for the job.
    mark_up : float
        Added on all of these.
    """

    sheets: float
    waste: float
    kept: float
    machine: float
    labour: float
    set_up: float
    mark_up: float

    @property
    def cost(self) -> float:
        """What it costs the shop."""
        return self.sheets - self.kept + self.machine + self.labour + self.set_up

    @property
    def price(self) -> float:
        """What the customer pays."""
        return self.cost + self.mark_up


def sheet_cost(job: Job) -> float:
    """Return the price of all boards a layout uses, each counted whole."""
    return math.fsum(job.stock_of(i).price for i in range(len(job.layout.blanks)))


def layout_yield(job: Job, kept: float = 0.0) -> Yield:
    """Return the areas of a layout; `kept` is the area of leftovers kept, mm²."""
    parts = math.fsum(job.part(p.part_id).area for p in job.layout.placements)
    stock = math.fsum(job.stock_of(i).area for i in range(len(job.layout.blanks)))
    return Yield(parts, stock, kept)


def job_cost(
    job: Job,
    setup: ShopSetup,
    time: JobTime,
    kept: float = 0.0,
    sheets: float | None = None,
) -> Cost:
    """Return what a job costs with its layout as it stands.

    Parameters
    ----------
    time : JobTime
        What it takes; the likely running time is charged.
    kept : float
        Area of leftovers kept, mm².
    sheets : float, optional
        Price of the sheets bought, where blanks are pieces of them; the price of
        all blanks when left out.
    """
    prices, machine = setup.prices, setup.machine
    sheets = sheet_cost(job) if sheets is None else sheets
    areas = layout_yield(job, kept)
    per_area = sheets / areas.stock if areas.stock else 0.0
    credit = kept * per_area * prices.keep_share
    running = time.running.likely / 3600.0 * machine.rate
    labour = time.handling / 3600.0 * prices.labour_rate
    cost = sheets - credit + running + labour + prices.set_up
    return Cost(
        sheets,
        max(areas.waste, 0.0) * per_area,
        credit,
        running,
        labour,
        prices.set_up,
        cost * prices.mark_up,
    )


def blank_weight(job: Job, blank: int, setup: ShopSetup) -> float:
    """Return the weight of one blank of the layout, kg; 0 without a thickness."""
    stock = job.stock_of(blank)
    return board_weight(
        stock.area, stock.thickness, setup.board(stock.material).density
    )
