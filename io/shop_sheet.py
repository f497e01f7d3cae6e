"""Shop sheets: a job on paper, as a PDF."""

from __future__ import annotations

import datetime
from pathlib import Path

from ..nesting.model.job import Job
from .atomic import write_atomically
from .paper import Page, make_pdf
from .paper_blank import blank_page
from .paper_corners import corner_pages
from .paper_labels import LabelMaker
from .paper_lists import cut_list_pages, label_pages, overview_page
from .paper_sawing import sawing_page
from .shop_notes import ShopNotes


def write_shop_sheets(
    job: Job,
    path: Path,
    notes: ShopNotes | None = None,
    *,
    date: datetime.date | None = None,
    labels: bool = True,
) -> None:
    """Write the shop sheets of a job, whole or not at all.

    Parameters
    ----------
    job : Job
        The job; its units say whether lengths are mm or inch, and with inches the
        paper is letter instead of A4.
    path : Path
        The PDF to write.
    notes : ShopNotes, optional
        What the shop's arithmetic adds; the drawings need none of it.
    date : date, optional
        The date in the title block; today when left out.
    labels : bool
        Whether pages of part labels are added.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    write_atomically(path, shop_sheets(job, notes, date=date, labels=labels))


def shop_sheets(
    job: Job,
    notes: ShopNotes | None = None,
    *,
    date: datetime.date | None = None,
    labels: bool = True,
) -> bytes:
    """Return the shop sheets as the bytes of a PDF; see `write_shop_sheets`."""
    notes = notes or ShopNotes()
    maker = LabelMaker()
    pages: list[Page] = [overview_page(job, notes)]
    pages += [sawing_page(cuts, job.units) for cuts in notes.sawing]
    for index in range(len(job.layout.blanks)):
        pages += blank_page(job, index, notes, maker)
    pages += corner_pages(notes.corners, job.units)
    pages += cut_list_pages(job)
    if labels:
        pages += label_pages(job)
    day = date or datetime.date.today()
    return make_pdf(pages, job.name, job.units, day)
