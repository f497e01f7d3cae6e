"""From files to parts of a job; no widgets, so that another thread can do it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from ...io.findings import Finding, Severity
from ...nesting.model.errors import DrystoneError
from ...nesting.model.job import Job
from ...nesting.model.part import Part

DRAWINGS = (".dxf", ".svg")
"""Endings of drawings."""

WHOLE = (".toml", ".drystone")
"""Endings of files that are a whole job."""

SAMPLE = Path(__file__).parents[2] / "sample_parts" / "order.toml"
"""The sample order, where the program runs from its sources."""


@dataclass(frozen=True)
class Read:
    """What was read from drawings, or from an order.

    Attributes
    ----------
    parts : tuple of Part
        From drawings.
    job : Job or None
        From an order or a job file.
    path : Path or None
        The file the whole job came from.
    findings : tuple of Finding
        What is worth knowing about the files.
    """

    parts: tuple[Part, ...] = ()
    job: Job | None = None
    path: Path | None = None
    findings: tuple[Finding, ...] = field(default=())


def read_drawings(paths: Sequence[Path], stopped: Callable[[], bool]) -> Read:
    """Read drawings; one that cannot be used becomes a finding."""
    from ...io.read_drawing import look_at

    parts: list[Part] = []
    findings: list[Finding] = []
    for path in paths:
        try:
            read = look_at(path, cancelled=stopped)
        except (DrystoneError, OSError) as error:
            words = (
                f"{error.what}; {error.cure}"
                if isinstance(error, DrystoneError)
                else str(error)
            )
            findings.append(Finding("unreadable", Severity.ERROR, words, str(path)))
            continue
        parts += read.parts
        findings += read.findings
    return Read(tuple(parts), findings=tuple(findings))


def read_whole(path: Path) -> Read:
    """Read an order or a job file.

    Raises
    ------
    InputError
        If it cannot be used.
    """
    from ..opening import open_job

    opened = open_job([path])
    return Read(job=opened.job, path=path, findings=opened.findings)


def with_parts(job: Job, parts: Sequence[Part]) -> Job:
    """Return the job with more parts at the end of its order.

    They are of the board that the job's first sheet is, if there is one.
    """
    taken = {part.id for part in job.parts}
    board = job.stock[0] if job.stock else None
    new = []
    for part in parts:
        part_id = free_id("part", taken)
        taken.add(part_id)
        material = part.material or (board.material if board else "")
        thickness = part.thickness or (board.thickness if board else 0.0)
        new.append(replace(part, id=part_id, material=material, thickness=thickness))
    return replace(job, parts=(*job.parts, *new))


def free_id(stem: str, taken: set[str]) -> str:
    """Return an id that is not taken."""
    number = 1
    while f"{stem}-{number}" in taken:
        number += 1
    return f"{stem}-{number}"
