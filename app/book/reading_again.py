"""Drawings of a job that was opened: where they are, and which parts are theirs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ...io.known_size import scale_text
from ...nesting.model.job import Job
from ...nesting.model.part import Part
from .importing import DRAWINGS

if TYPE_CHECKING:
    from ...io.read_drawing import ReadDrawing

NEAR = 1e-6
"""Sizes and areas that differ by less, by ratio, are the same."""


@dataclass(frozen=True)
class Again:
    """What is to be read again.

    Attributes
    ----------
    drawings : tuple of ReadDrawing
        Drawings of which it is known what they held.
    sources : tuple of str
        Other drawings, as the parts of an opened job name them.
    layers : tuple of tuple of str
        What was said of layers and colours when those were read.
    """

    drawings: tuple[ReadDrawing, ...]
    sources: tuple[str, ...] = ()
    layers: tuple[tuple[str, str], ...] = ()


def sources_of(job: Job) -> tuple[str, ...]:
    """Return the drawings that the parts of a job come from, each once."""
    named = dict.fromkeys(part.source for part in job.parts)
    return tuple(s for s in named if s.lower().endswith(DRAWINGS))


def located(source: str, job_file: Path | None) -> Path | None:
    """Return where a drawing is now; None if it is neither there nor beside the job.

    A job that came from another computer names its drawings as they lay there.
    """
    name = source.replace("\\", "/").rpartition("/")[2]
    folder = job_file.parent if job_file else Path()
    for path in (Path(source), folder / source, folder / name):
        try:
            if path.is_file():
                return path.absolute()
        except (OSError, ValueError):
            continue
    return None


def same_part(part: Part, drawn: Part) -> bool:
    """Return whether a part of a job is one of a drawing, as far as size tells."""
    return _shape_ratio(part, drawn) is not None and math.isclose(
        part.area, drawn.area, rel_tol=4.0 * NEAR
    )


def _shape_ratio(part: Part, drawn: Part) -> float | None:
    """Return how many times larger a part is than a drawn one of the same shape."""
    if len(part.outline.holes) != len(drawn.outline.holes):
        return None
    if len(part.outline.outer.segments) != len(drawn.outline.outer.segments):
        return None
    (w, h), (drawn_w, drawn_h) = part.outline.size, drawn.outline.size
    if not math.isclose(w * drawn_h, h * drawn_w, rel_tol=NEAR):
        return None
    if not math.isclose(part.area * drawn_w**2, drawn.area * w**2, rel_tol=4.0 * NEAR):
        return None
    return w / drawn_w


def units_of(job: Job, source: str, drawing: ReadDrawing) -> str | None:
    """Return the unit a drawing must be read in to give the job's parts.

    Returns
    -------
    str or None
        Empty if it was read so; None if none of the parts is in it any more.
    """
    mine = [part for part in job.parts if part.source == source]
    pairs = [(part, drawn) for part in mine for drawn in drawing.parts]
    if any(same_part(part, drawn) for part, drawn in pairs):
        return ""
    ratios = (_shape_ratio(part, drawn) for part, drawn in pairs)
    ratio = next((r for r in ratios if r is not None), None)
    return None if ratio is None else scale_text(drawing.units.factor * ratio)


def with_source(drawing: ReadDrawing, source: str) -> ReadDrawing:
    """Return a drawing whose parts name it as the job does."""
    parts = tuple(replace(part, source=source) for part in drawing.parts)
    return replace(drawing, parts=parts)


def alike(part: Part, drawn: Part) -> bool:
    """Return whether a part of a job comes from the same drawing and is that one."""
    return part.source == drawn.source and same_part(part, drawn)


def not_found(
    job: Job, drawings: Sequence[ReadDrawing], sources: Sequence[str]
) -> list[str]:
    """Return those sources of which no part is in its drawing any more."""
    there = {
        part.source
        for drawing in drawings
        for drawn in drawing.parts
        for part in job.parts
        if alike(part, drawn)
    }
    return [source for source in sources if source not in there]
