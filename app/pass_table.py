"""How a search went, pass by pass, as a file."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from pathlib import Path

from ..io.atomic import write_atomically
from ..nesting.model.errors import InputError
from ..nesting.result import PASS_COLUMNS, PassRecord

FORMATS = (".csv", ".json")


def refuse_unknown(path: Path) -> None:
    """Raise `InputError` unless the file's name says what to write."""
    if path.suffix.lower() not in FORMATS:
        raise InputError(
            "--statistics", f"{path.name} says no format", "name it .csv or .json"
        )


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
