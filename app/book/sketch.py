"""The lines of a drawing as plain polylines, to show where in it something lies."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ...nesting.model.outline import flatten_chain

MOST_POINTS = 200_000
"""A sketch of a huge drawing ends here: it is a picture the size of a hand."""

FINE = 1.0 / 4000.0
"""Chords stray at most this share of the drawing's size."""


@dataclass(frozen=True)
class Sketch:
    """A drawing to look at.

    Attributes
    ----------
    lines : tuple of ndarray of float32, shape (n, 2), mm
        Polylines, in the drawing's coordinates.
    box : tuple of float
        What they cover, mm; all 0 for nothing.
    whole : bool
        Whether all of the drawing is in it.
    """

    lines: tuple[Any, ...]
    box: tuple[float, float, float, float]
    whole: bool = True


def sketch_of(path: Path, units: str, cancelled: Callable[[], bool]) -> Sketch:
    """Return a drawing's lines.

    Parameters
    ----------
    path : Path
        A DXF or SVG file.
    units : str
        The unit it was read in, as `look_at` takes it; empty for its own.
    cancelled : callable
        Whether to give up.

    Raises
    ------
    InputError
        If it cannot be read any more.
    """
    from ...io.limits import STEPS, Budget, Limits
    from ...io.sniff import sniff
    from ...io.units import told

    limits = Limits().raised(STEPS[-1])  # who sees its findings has had it read
    if sniff(path) == "dxf":
        from ...io.read_dxf import read_dxf

        budget = Budget(str(path), limits, cancelled)
        drawing = read_dxf(path, budget, told(units) if units else None)
    else:
        from ...io.read_svg import read_svg

        drawing = read_svg(path, units or None, limits, cancelled)
    boxes = [s.bounds() for stroke in drawing.strokes for s in stroke.segments]
    if not boxes:
        return Sketch((), (0.0, 0.0, 0.0, 0.0))
    corners = np.array(boxes)
    low, high = corners[:, :2].min(axis=0), corners[:, 2:].max(axis=0)
    chord = max(float((high - low).max()) * FINE, 1e-4)
    lines: list[Any] = []
    count = 0
    for stroke in drawing.strokes:
        line = flatten_chain(stroke.segments, chord).astype(np.float32)
        if stroke.closed:
            line = np.vstack([line, line[:1]])
        count += len(line)
        if count > MOST_POINTS:
            break
        lines.append(line)
    x0, y0, x1, y1 = (float(v) for v in (*low, *high))
    return Sketch(tuple(lines), (x0, y0, x1, y1), count <= MOST_POINTS)
