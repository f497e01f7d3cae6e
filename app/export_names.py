"""The names of the files that an export writes; quick to ask before it is done."""

from __future__ import annotations

from collections.abc import Iterable

from ..io.job_file import SUFFIX
from ..io.names import file_stem
from ..nesting.model.job import Job

REPORT_NAME = "report.json"
CUT_LIST_NAME = "cut-list.csv"


def blank_name(job: Job, blank: int) -> str:
    """Return the name, without ending, of the files of a blank (from 0)."""
    digits = max(2, len(str(len(job.layout.blanks))))
    return f"{file_stem(job.name)}-blank-{blank + 1:0{digits}d}"


def file_names(
    job: Job, extras: Iterable[str] = (), *, combined: bool = False
) -> list[str]:
    """Return the names of all files, in the alphabet's order.

    Parameters
    ----------
    extras : iterable of str
        Ends of the names of further files, such as ``shop-sheets.pdf``.
    combined : bool
        Whether one DXF with all blanks is written too.
    """
    stem = file_stem(job.name)
    names = [REPORT_NAME, CUT_LIST_NAME, stem + SUFFIX]
    for blank in range(len(job.layout.blanks)):
        name = blank_name(job, blank)
        names += [f"{name}.dxf", f"{name}.svg"]
    if combined and job.layout.blanks:
        names.append(f"{stem}-all-blanks.dxf")
    names += [f"{stem}-{ending}" for ending in extras]
    return sorted(names)
