"""How a search went, pass by pass, as a file."""

from __future__ import annotations

import csv
import io
import json
import os
from collections.abc import Sequence
from pathlib import Path

from ..io.atomic import refuse_unwritable, write_atomically
from ..nesting.model.errors import InputError
from ..nesting.result import PASS_COLUMNS, PassRecord
from .export_names import CUT_LIST_NAME, REPORT_NAME

FORMATS = (".csv", ".json")


def refuse_early(path: Path, out: Path) -> None:
    """Raise now if the file could not be written after all the work.

    Parameters
    ----------
    path : Path
        The file; its name says what to write.
    out : Path
        The folder of the export, which is made meanwhile if need be.

    Raises
    ------
    InputError
        If the name says no format, or is that of a file of the export.
    OutputError
        If it cannot be written.
    """
    if path.suffix.lower() not in FORMATS:
        raise InputError(
            "--statistics", f"{path.name} says no format", "name it .csv or .json"
        )
    exported = os.path.realpath(path.parent) == os.path.realpath(out)
    if exported and path.name in (CUT_LIST_NAME, REPORT_NAME):
        raise InputError(
            "--statistics",
            f"{path.name} is a file of the export itself",
            "choose another name",
        )
    if not exported or path.parent.is_dir():
        refuse_unwritable(path, "--statistics")


def write_passes(path: Path, records: Sequence[PassRecord]) -> None:
    """Write one row for each pass, as CSV or JSON by the name of the file.

    Raises
    ------
    OutputError
        If the file cannot be written.
    """
    rows = [record.as_row() for record in records]
    if path.suffix.lower() == ".json":
        document = {"drystone": "passes", "version": 1, "units": "mm", "passes": rows}
        text = json.dumps(document, indent=1) + "\n"
    else:
        stream = io.StringIO()
        writer = csv.DictWriter(stream, PASS_COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
        text = stream.getvalue()
    write_atomically(path, text.encode("utf-8"))
