"""Handing a layout over: a folder of files, checked before anyone sees it."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from ..io.atomic import folder_atomically, write_atomically
from ..io.job_file import SUFFIX, write_job
from ..io.names import file_stem
from ..io.report import build_report, cut_list_csv, report_json
from ..io.setup_file import read_setup
from ..io.write_dxf import blank_dxf, combined_dxf
from ..io.write_pdf import blanks_pdf
from ..io.write_svg import blank_svg
from ..nesting.model.errors import CheckError, OutputError
from ..nesting.model.job import Job
from ..nesting.model.machine import Practice, ShopSetup
from ..nesting.shop.holddown import asked_screws, held
from ..nesting.shop.relief import job_as_cut
from .checking import CheckReport, check_folder
from .export_names import CUT_LIST_NAME, REPORT_NAME, blank_name, file_names

Extra = Callable[[Job], bytes]
"""Makes one more file, such as the shop sheets."""


@dataclass(frozen=True)
class Export:
    """What was handed over.

    Parameters
    ----------
    folder : Path
        Where.
    files : tuple of Path
        The files, in the order of their names.
    check : CheckReport
        What the independent check of them found: nothing wrong.
    """

    folder: Path
    files: tuple[Path, ...]
    check: CheckReport


def export_job(
    job: Job,
    folder: Path,
    *,
    force: bool = False,
    combined: bool = False,
    sections: Mapping[str, object] | None = None,
    extras: Mapping[str, Extra] | None = None,
    setup: ShopSetup | None = None,
) -> Export:
    """Write a job's layout to a folder: all of it, or nothing.

    Per blank a DXF and an SVG, the job file, the report and the cut list. They are
    written to a temporary folder, read back and checked there, and only then moved.

    Parameters
    ----------
    job : Job
        The job with its layout.
    folder : Path
        Where to; it is made if need be.
    force : bool
        Whether files of the same names may be replaced; the files of an earlier
        export in the same folder then go.
    combined : bool
        Whether to add one DXF with all blanks side by side.
    sections : mapping, optional
        More entries for the report.
    extras : mapping, optional
        More files: the end of the name, such as ``shop-sheets.pdf``, and its maker.
    setup : ShopSetup, optional
        How this shop holds parts down; this user's set-up when left out.

    Raises
    ------
    OutputError
        If something cannot be written or would be replaced without leave.
    CheckError
        If the files do not pass the check: a fault of the program. Nothing stays.
    """
    stem = file_stem(job.name)
    extras = extras or {}
    practice = (setup or read_setup()).practice
    # The job file holds the drawn parts with their tabs, the drawings what is cut.
    job = held(job, practice)
    cut = job_as_cut(job)
    screws = [asked_screws(job, n, practice) for n in range(len(job.layout.blanks))]
    with folder_atomically(
        folder, force=force, replaces=_earlier_files(folder)
    ) as temporary:
        files: dict[str, bytes] = {}
        count = len(job.layout.blanks)
        for blank in range(count):
            name = blank_name(job, blank)
            files[f"{name}.dxf"] = blank_dxf(cut, blank, screws[blank])
            files[f"{name}.svg"] = blank_svg(cut, blank, screws[blank])
        if combined and count:
            files[f"{stem}-all-blanks.dxf"] = combined_dxf(cut, screws)
        files[CUT_LIST_NAME] = cut_list_csv(job)
        for ending, make in extras.items():
            files[f"{stem}-{ending}"] = make(job)
        names = file_names(job, extras, combined=combined)
        report = build_report(job, files=names, sections=sections, screws=screws)
        files[REPORT_NAME] = report_json(report)
        for name, data in files.items():
            write_atomically(temporary / name, data)
        write_job(temporary / (stem + SUFFIX), job)
        check = check_folder(temporary)
        check.subject = str(folder)
        if not check.ok:
            first, more = check.failures[0], len(check.failures) - 1
            raise CheckError(
                str(folder),
                f"the check refused the files, nothing was written: {first}"
                + (f" (and {more} more)" if more else ""),
                "report this fault with the order",
            )
    return Export(folder, tuple(folder / name for name in names), check)


def pdf_of_blanks(practice: Practice, *, fitted: bool = False) -> Extra:
    """Return what makes the PDF of all blanks, as they are cut and held down.

    Parameters
    ----------
    practice : Practice
        How this shop holds parts down.
    fitted : bool
        Whether the pages are common paper; else they are as large as the blanks.
    """

    def make(job: Job) -> bytes:
        screws = [asked_screws(job, n, practice) for n in range(len(job.layout.blanks))]
        return blanks_pdf(job_as_cut(job), screws, fitted=fitted)

    return make


def refuse_early(job: Job, folder: Path, *, force: bool = False) -> None:
    """Raise now what `export_job` would raise after all the work.

    Raises
    ------
    OutputError
        If the folder is a file, may not be written to, or holds files that the
        export would replace without leave.
    """
    place = folder
    while not place.exists() and place != place.parent:
        place = place.parent
    if not place.is_dir():
        raise OutputError(str(place), "is a file, not a folder", "name a folder")
    if not os.access(place, os.W_OK | os.X_OK):
        raise OutputError(
            str(folder),
            "cannot be written: permission denied",
            "choose another place or mend the permissions",
        )
    names = [REPORT_NAME, CUT_LIST_NAME, file_stem(job.name) + SUFFIX]
    in_the_way = [name for name in names if (folder / name).exists()]
    if in_the_way and not force:
        raise OutputError(
            str(folder),
            f"{in_the_way[0]} of an earlier export is already there",
            "choose an empty folder, or allow replacing with --force",
        )


def _earlier_files(folder: Path) -> list[str]:
    """Return the names an earlier report in the folder lists as its own."""
    try:
        report = json.loads((folder / REPORT_NAME).read_bytes())
        if report["report"] != "drystone layout":
            return []
        names = [str(name) for name in report["files"]]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return []
    return [name for name in names if Path(name).name == name]
