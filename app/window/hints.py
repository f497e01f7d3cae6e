"""Empty blanks that a person has put on the bench: a wish to have them used first.

The engine lays offcuts full before it takes whole sheets. So a wished blank is given
to it as an offcut of its own, and the layout found is told in terms of the job's stock.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from ...nesting.model.job import Job
from ...nesting.model.placement import Blank, Layout
from ...nesting.model.stock import Stock

MARK = "\N{INFORMATION SEPARATOR ONE}wished"
"""Ends the id of a wished blank's stock; no stock of a job is called so."""


@dataclass(frozen=True)
class Hinted:
    """A job for the engine, and the way back.

    Attributes
    ----------
    job : Job
        With wished blanks as offcuts.
    any : bool
        Whether there is one.
    """

    job: Job
    any: bool

    def back(self, layout: Layout) -> Layout:
        """Return a layout of `job` as one of the job it was made from."""
        if not self.any:
            return layout
        blanks = tuple(Blank(b.stock_id.removesuffix(MARK)) for b in layout.blanks)
        return replace(layout, blanks=blanks)


def hinted(job: Job) -> Hinted:
    """Return a job whose empty blanks are used before others of their board.

    Parameters
    ----------
    job : Job
        Blanks of its layout on which nothing lies are the wished ones.
    """
    full = {p.blank for p in job.layout.placements}
    wished: Counter[str] = Counter()
    for index, blank in enumerate(job.layout.blanks):
        if index not in full and not job.stock_by_id(blank.stock_id).offcut:
            wished[blank.stock_id] += 1
    if not wished:
        return Hinted(job, False)
    stock: list[Stock] = []
    for one in job.stock:
        count = wished[one.id]
        if count:
            first = replace(one, id=one.id + MARK, count=count, offcut=True)
            rest = None if one.count is None else max(one.count - count, 0)
            stock += [first, replace(one, count=rest)]
        else:
            stock.append(one)
    return Hinted(replace(job, stock=tuple(stock)), True)
