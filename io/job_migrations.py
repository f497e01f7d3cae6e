"""Older job files: one function per step, each from one format version to the next.

To change the format: raise `VERSION` in job_schema.py, keep a file of the old
version in tests/data, and add a step here under the old version's number.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from typing import Any

from ..nesting.model.errors import InputError
from .job_schema import VERSION

Document = dict[str, Any]
"""A job file as plain JSON values."""

Step = Callable[[Document], Document]
"""Turns a document of one version into one of the next; it may change it in place."""


def _from_1(document: Document) -> Document:
    """Add relief, tabs and screws: version 1 knew none of them."""
    document["relief"] = "none"
    document["holding"] = {}
    return document


def _from_2(document: Document) -> Document:
    """Give the job a lasting id: the same one to every copy of the same file."""
    text = json.dumps(document, sort_keys=True)
    document["id"] = hashlib.sha256(text.encode("utf-8", "replace")).hexdigest()[:32]
    return document


STEPS: dict[int, Step] = {1: _from_1, 2: _from_2}
"""Old version to the step that leaves it. Version 1 is the first there ever was."""


def migrate(
    document: Document,
    where: str,
    *,
    newest: int = VERSION,
    steps: Mapping[int, Step] = STEPS,
) -> Document:
    """Return a document in the newest format version.

    Parameters
    ----------
    document : dict
        A job file as plain JSON values, with an integer ``version``.
    where : str
        The file's name, for the error.
    newest : int
        The version wanted.
    steps : mapping of int to function
        The steps that are known.

    Raises
    ------
    InputError
        If the file is newer than `newest`, or no step leads on from its version.
    """
    version = document["version"]
    if version > newest:
        raise InputError(
            where,
            f"is a job file of format version {version}, and this program knows "
            f"versions up to {newest}",
            "open it with a newer Drystone",
        )
    while version < newest:
        if version not in steps:
            raise InputError(
                where,
                f"format version {version} is not known",
                "the file may be damaged; use a copy",
            )
        document = steps[version](document)
        version += 1
        document["version"] = version
    return document
