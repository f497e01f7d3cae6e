"""What the drawing of one blank shows, the same for every format it is written in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely.ops import polylabel

from ..nesting.model.curve import Box
from ..nesting.model.job import Datum, Job
from ..nesting.model.motion import Motion, Point
from ..nesting.model.outline import Loop, Outline
from ..nesting.model.pin_holes import pin_holes
from ..nesting.model.placement import Placement
from .cut_order import Cut, cut_order
from .names import clean_text

_CHORD_ERROR = 0.2
"""Accuracy of the polygons a label is put into, mm."""

_GREATEST_TEXT = 14.0
_LEAST_TEXT = 1.5
"""Heights of labels, mm."""

SCREW_RADIUS = 3.0
"""Radius of the circle that stands for a screw, mm."""

_LETTER_WIDTH = 0.75
"""Width of an average letter in heights; generous, so that labels stay inside."""


@dataclass(frozen=True, slots=True)
class Label:
    """A text, centred on a place.

    Parameters
    ----------
    text : str
        One line.
    place : Point
        Its middle, mm.
    height : float
        Height of its capitals, mm.
    """

    text: str
    place: Point
    height: float


@dataclass(frozen=True)
class BlankDrawing:
    """One blank, in coordinates counted from its datum, mm.

    Parameters
    ----------
    number : int
        From 1, as people count.
    of : int
        How many blanks the layout has.
    title : str
        The job and the blank in words.
    edge : Outline
        The blank's own edge.
    keep_outs : tuple of (Loop, str)
        Areas no cut may touch, with their labels.
    cuts : tuple of Cut
        Everything to cut, in cutting order.
    labels : tuple of Label
        One in each part.
    screws : tuple of Loop
        A circle round each place for a screw.
    pins : tuple of Loop
        Registration holes to drill, which lie beside the blank.
    """

    number: int
    of: int
    title: str
    edge: Outline
    keep_outs: tuple[tuple[Loop, str], ...]
    cuts: tuple[Cut, ...]
    labels: tuple[Label, ...]
    screws: tuple[Loop, ...] = ()
    pins: tuple[Loop, ...] = ()

    @property
    def bounds(self) -> Box:
        """The box around the blank and its registration holes, mm."""
        boxes = [self.edge.bounds, *(loop.bounds for loop in self.pins)]
        x0, y0, x1, y1 = zip(*boxes, strict=True)
        return min(x0), min(y0), max(x1), max(y1)


def blank_drawing(job: Job, blank: int, screws: Sequence[Point] = ()) -> BlankDrawing:
    """Return the drawing of a blank of the job's layout (index from 0).

    Parameters
    ----------
    screws : sequence of Point
        Places for screws, in the blank's own coordinates, mm.
    """
    stock = job.stock_of(blank)
    shift = datum_shift(job, blank)
    start = shift.inverse().point((0.0, 0.0))
    count = len(job.layout.blanks)
    return BlankDrawing(
        number=blank + 1,
        of=count,
        title=clean_text(f"{job.name}: blank {blank + 1} of {count}, {stock.name}"),
        edge=stock.outline.moved(shift),
        keep_outs=tuple(
            (area.loop.moved(shift), clean_text(area.label)) for area in stock.keep_outs
        ),
        cuts=tuple(cut.moved(shift) for cut in cut_order(job, blank, start)),
        labels=tuple(
            _label(job, placement, shift) for placement in job.layout.on(blank)
        ),
        screws=tuple(Loop.circle(*shift.point(spot), SCREW_RADIUS) for spot in screws),
        pins=tuple(loop.moved(shift) for loop in pin_holes(job, blank)),
    )


def datum_shift(job: Job, blank: int) -> Motion:
    """Return the move from a blank's own coordinates to those that are exported.

    They count from the datum, or from stops on the bed that lie so far before it.
    """
    x0, y0, x1, y1 = job.stock_of(blank).outline.bounds
    x, y = {
        Datum.LOWER_LEFT: (x0, y0),
        Datum.LOWER_RIGHT: (x1, y0),
        Datum.UPPER_LEFT: (x0, y1),
        Datum.UPPER_RIGHT: (x1, y1),
        Datum.CENTRE: ((x0 + x1) / 2.0, (y0 + y1) / 2.0),
    }[job.cutting.datum]
    dx, dy = job.cutting.offset
    return Motion(dx - x, dy - y)


def _label(job: Job, placement: Placement, shift: Motion) -> Label:
    part = job.part(placement.part_id)
    text = clean_text(part.name, 60)
    if part.quantity > 1:
        text = f"{text} {placement.copy}"
    turned = Motion(turn=placement.turn, flipped=placement.flipped)
    place, height = label_place(
        part.outline.moved(turned), max(_LETTER_WIDTH * len(text), 1.0)
    )
    to_blank = Motion(placement.x, placement.y)
    return Label(
        text,
        shift.point(to_blank.point(place)),
        min(max(height, _LEAST_TEXT), _GREATEST_TEXT),
    )


@lru_cache(maxsize=4096)
def label_place(outline: Outline, aspect: float) -> tuple[Point, float]:
    """Return where a level text fits best in an outline.

    Squeezed along x by the text's aspect, the text is a square; it goes where the
    squeezed outline has most room around it.

    Parameters
    ----------
    outline : Outline
        Any outline, holes included, as it lies.
    aspect : float
        Width of the text over its height.

    Returns
    -------
    tuple
        The middle of the text, which lies in the outline, and the height that fits
        there, mm.
    """
    flat = outline.flatten(_CHORD_ERROR)
    squeeze = np.array([1.0 / aspect, 1.0])
    polygon = shapely.Polygon(flat.outer * squeeze, [h * squeeze for h in flat.holes])
    if polygon.is_valid:
        x0, y0, x1, y1 = polygon.bounds
        point = polylabel(polygon, tolerance=min(x1 - x0, y1 - y0) / 50.0)
        middle = polygon.centroid  # where people look for it, if there is room enough
        edge = polygon.boundary
        if polygon.contains(middle) and middle.distance(edge) >= 0.8 * point.distance(
            edge
        ):
            point = middle
    else:  # chords of a thin part may cross; any point in it will do
        polygon = max(
            shapely.get_parts(shapely.make_valid(polygon)), key=lambda part: part.area
        )
        point = polygon.representative_point()
    room = float(point.distance(polygon.boundary))
    return (point.x * aspect, point.y), room * math.sqrt(2.0)
