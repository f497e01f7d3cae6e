"""DXF files: one blank each, or all blanks in one, with exact curves.

A loop of lines and arcs is one closed polyline with bulges, which toolpath programs
take as one contour; a circle is a CIRCLE; a loop with Béziers is SPLINE, LINE and ARC
entities end to end. Where a bulge would not give an arc's radius and centre back
exactly, that loop is written as LINE and ARC entities instead. No arc becomes chords.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from typing import Any
from urllib.parse import quote

from ezdxf import units
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.job import Job
from ..nesting.model.motion import Motion, Point
from ..nesting.model.outline import Outline
from ..nesting.model.part import Operation
from .blank_drawing import BlankDrawing, Label, blank_drawing
from .layers import (
    ALL_LAYERS,
    BLANK_EDGE,
    KEEP_OUT,
    OPERATION_LAYERS,
    SCREW,
    TEXT,
)

APPLICATION = "DRYSTONE"
"""The name our extended data stands under."""

EXACT = 1e-9
"""What is read back may differ by this much, mm."""

APART = 100.0
"""Distance between blanks in the combined drawing, mm."""

_KEEP_OUT_DASHES = "DASHES"
_TITLE_HEIGHT = 20.0
_CHUNK = 200
"""Letters in one piece of extended data; the format allows 255 bytes."""


def blank_dxf(job: Job, blank: int, screws: Sequence[Point] = ()) -> bytes:
    """Return the DXF file of one blank (index from 0), counted from its datum.

    Parameters
    ----------
    screws : sequence of Point
        Places for screws, in the blank's own coordinates, mm.
    """
    drawing = blank_drawing(job, blank, screws)
    document = _document()
    _Writer(document.modelspace()).blank(drawing, Motion())
    return _finished(document, drawing.bounds)


def combined_dxf(job: Job, screws: Sequence[Sequence[Point]] = ()) -> bytes:
    """Return one DXF file with all blanks, side by side along x.

    Each blank's edge has its least corner at y = 0; titles stand above.

    Parameters
    ----------
    screws : sequence of sequences of Point
        For each blank its places for screws, or nothing.
    """
    document = _document()
    writer = _Writer(document.modelspace())
    x, top = 0.0, 0.0
    for blank in range(len(job.layout.blanks)):
        spots = screws[blank] if blank < len(screws) else ()
        drawing = blank_drawing(job, blank, spots)
        x0, y0, x1, y1 = drawing.bounds
        writer.blank(drawing, Motion(x - x0, -y0), combined=True)
        place = (x + (x1 - x0) / 2.0, y1 - y0 + 1.5 * _TITLE_HEIGHT)
        writer.label(Label(drawing.title, place, _TITLE_HEIGHT))
        x += x1 - x0 + APART
        top = max(top, y1 - y0)
    return _finished(document, (0.0, 0.0, max(x - APART, 1.0), max(top, 1.0)))


def _document() -> Any:
    document: Any = new("R2010", units=units.MM)
    document.header["$MEASUREMENT"] = 1
    document.header["$LUNITS"] = 2
    document.appids.add(APPLICATION)
    document.linetypes.add(
        _KEEP_OUT_DASHES, pattern=[9.0, 6.0, -3.0], description="dashes"
    )
    for layer in ALL_LAYERS:
        entry = document.layers.add(layer.name, color=layer.index)
        entry.rgb = layer.colour
        entry.description = layer.meaning
    document.layers.get(KEEP_OUT.name).dxf.linetype = _KEEP_OUT_DASHES
    for layer in (BLANK_EDGE, KEEP_OUT, SCREW, TEXT):
        document.layers.get(layer.name).dxf.plot = 0
    return document


def _finished(document: Any, bounds: tuple[float, float, float, float]) -> bytes:
    x0, y0, x1, y1 = bounds
    document.header["$EXTMIN"] = (x0, y0, 0.0)
    document.header["$EXTMAX"] = (x1, y1, 0.0)
    document.set_modelspace_vport(
        height=1.1 * max(y1 - y0, (x1 - x0) / 1.5),
        center=((x0 + x1) / 2.0, (y0 + y1) / 2.0),
    )
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8")


class _Writer:
    """Writes blanks into a model space."""

    def __init__(self, space: Any) -> None:
        self.space = space
        self.curves = 0

    def blank(
        self, drawing: BlankDrawing, shift: Motion, *, combined: bool = False
    ) -> None:
        """Write a blank: first what is not cut, then the cuts in their order."""
        number = str(drawing.number)
        board = ["blank", number, *(["combined"] if combined else [])]
        edge: Outline = drawing.edge.moved(shift)
        for loop in edge.loops:
            self._curve(loop.segments, True, BLANK_EDGE.name, board)
        for area, label in drawing.keep_outs:
            moved = area.moved(shift)
            data = ["keep-out", number, *_chunks(label)]
            self._curve(moved.segments, True, KEEP_OUT.name, data)
        for circle in drawing.screws:
            data = ["screw", number]
            self._curve(circle.moved(shift).segments, True, SCREW.name, data)
        for circle in drawing.pins:
            data, layer = ["pin", number], OPERATION_LAYERS[Operation.DRILL].name
            self._curve(circle.moved(shift).segments, True, layer, data)
        for text in drawing.labels:
            self.label(Label(text.text, shift.point(text.place), text.height))
        for cut in drawing.cuts:
            moved_cut = cut.moved(shift)
            placement = cut.placement
            data = ["cut", number, str(placement.copy), *_chunks(placement.part_id)]
            layer = OPERATION_LAYERS[cut.operation].name
            self._curve(moved_cut.segments, cut.closed, layer, data)

    def label(self, label: Label) -> None:
        """Write a text, centred."""
        text = self.space.add_text(
            label.text, height=label.height, dxfattribs={"layer": TEXT.name}
        )
        text.set_placement(label.place, align=TextEntityAlignment.MIDDLE_CENTER)

    def _curve(
        self, segments: Sequence[Segment], closed: bool, layer: str, data: list[str]
    ) -> None:
        # The number tells the entities of one curve from those of a touching one.
        self.curves += 1
        tags = [(1071, self.curves), *((1000, piece) for piece in data)]
        for entity in self._entities(without_specks(segments), closed):
            entity.dxf.layer = layer
            entity.set_xdata(APPLICATION, tags)

    def _entities(self, segments: Sequence[Segment], closed: bool) -> Iterator[Any]:
        if all(isinstance(segment, Line | Arc) for segment in segments):
            vertices = polyline_vertices(segments, closed)
            if vertices is not None:
                yield self.space.add_lwpolyline(vertices, format="xyb", close=closed)
                return
        run: list[Cubic] = []
        for segment in segments:
            if isinstance(segment, Cubic):
                if run and math.dist(run[-1].end, segment.start) > EXACT:
                    yield self._spline(run)
                    run = []
                run.append(segment)
                continue
            if run:
                yield self._spline(run)
                run = []
            yield self._line_or_arc(segment)
        if run:
            yield self._spline(run)

    def _line_or_arc(self, segment: Line | Arc) -> Any:
        if isinstance(segment, Line):
            return self.space.add_line(segment.start, segment.end)
        if segment.is_circle:
            return self.space.add_circle(segment.centre, segment.radius)
        # The format's arcs run counter-clockwise.
        first, last = segment.start_angle, segment.end_angle
        if segment.sweep < 0.0:
            first, last = last, first
        return self.space.add_arc(segment.centre, segment.radius, first, last)

    def _spline(self, run: Sequence[Cubic]) -> Any:
        """Write joined Béziers as one spline of degree 3 with triple knots."""
        points: list[Point] = [run[0].p0]
        for cubic in run:
            points += [cubic.p1, cubic.p2, cubic.p3]
        knots = [0.0] + [float(n) for n in range(len(run) + 1) for _ in range(3)]
        knots.append(float(len(run)))
        return self.space.add_open_spline(
            [(x, y, 0.0) for x, y in points], degree=3, knots=knots
        )


def _chunks(text: str) -> list[str]:
    """Return a text in plain letters, in pieces that extended data can hold."""
    plain = quote(text, safe="")
    return [plain[n : n + _CHUNK] for n in range(0, len(plain), _CHUNK)]


def without_specks(segments: Sequence[Segment]) -> Sequence[Segment]:
    """Return the segments without lines too short to be anything, below `EXACT`."""
    kept = [
        segment
        for segment in segments
        if not (isinstance(segment, Line) and segment.length() <= EXACT)
    ]
    return kept or segments


def polyline_vertices(
    segments: Sequence[Segment], closed: bool
) -> list[tuple[float, float, float]] | None:
    """Return the vertices (x, y, bulge) of a chain of lines and arcs.

    None when the chain is a single whole circle, or holds an arc that its bulge
    and the neighbouring vertices would not give back to `EXACT`.
    """
    ends = [segment.start for segment in segments]
    ends.append(ends[0] if closed else segments[-1].end)
    vertices: list[tuple[float, float, float]] = []
    for segment, start, end in zip(segments, ends, ends[1:], strict=False):
        bulge = 0.0
        if isinstance(segment, Arc):
            if segment.is_circle:
                return None
            bulge = math.tan(math.radians(segment.sweep) / 4.0)
            if not _gives_back(segment, start, end, bulge):
                return None
        elif math.dist(segment.end, end) > EXACT:
            return None
        vertices.append((*start, bulge))
    if not closed:
        vertices.append((*ends[-1], 0.0))
    return vertices


def _gives_back(arc: Arc, start: Point, end: Point, bulge: float) -> bool:
    """Return whether two vertices and a bulge stand for an arc to `EXACT`."""
    chord = math.dist(start, end)
    if chord == 0.0 or bulge == 0.0 or math.dist(arc.end, end) > EXACT:
        return False
    radius = chord * (1.0 + bulge * bulge) / (4.0 * abs(bulge))
    # From the middle of the chord to the centre, to the left of the direction.
    away = chord * (1.0 - bulge * bulge) / (4.0 * bulge)
    x = (start[0] + end[0]) / 2.0 - (end[1] - start[1]) / chord * away
    y = (start[1] + end[1]) / 2.0 + (end[0] - start[0]) / chord * away
    return (
        abs(radius - arc.radius) <= EXACT / 2.0
        and math.dist((x, y), arc.centre) <= EXACT / 2.0
    )
