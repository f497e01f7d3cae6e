"""A PDF of all blanks, one on a page, at true scale or fitted to common paper.

Lines are vectors in millimetres: printed at 100 %, a plot of a page at 1 : 1 is a
template. The scale stands on each page, with a bar that says how long it must be.
"""

from __future__ import annotations

import io
from collections.abc import Sequence

from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from ..nesting.model.curve import Box, Segment
from ..nesting.model.job import Job
from ..nesting.model.motion import Point
from ..nesting.model.part import Operation
from .blank_drawing import BlankDrawing, blank_drawing
from .layers import BLANK_EDGE, KEEP_OUT, OPERATION_LAYERS, SCREW, TEXT, Layer
from .paper import clean, face, page_size, shortened
from .paper_blank import fitting_scale
from .paper_curves import View, add_chain

LARGEST_PAGE = 14400.0 / 72.0 * 25.4
"""Longest side of a page that readers of PDF need to show, mm (14,400 points)."""

_EDGE = 10.0
_FOOT = 14.0
_BAR = 100.0
"""Margin round the drawing, the strip below it, and the bar in it, mm of paper."""


def blanks_pdf(
    job: Job, screws: Sequence[Sequence[Point]] = (), *, fitted: bool = False
) -> bytes:
    """Return a PDF with a page for each blank of the job's layout.

    Parameters
    ----------
    job : Job
        The job as it is cut.
    screws : sequence of sequences of Point, optional
        For each blank, places for screws in its own coordinates, mm.
    fitted : bool
        Whether pages are common paper, with the largest round scale that fits; else
        each page is as large as its blank, at 1 : 1. A blank that no page can hold
        at 1 : 1 is fitted to the largest page.
    """
    buffer = io.BytesIO()
    canvas = Canvas(buffer, invariant=True)
    canvas.setTitle(clean(job.name))
    canvas.setAuthor("")
    canvas.setCreator("Drystone")
    for blank in range(len(job.layout.blanks)):
        spots = screws[blank] if blank < len(screws) else ()
        drawing = blank_drawing(job, blank, spots)
        width, height, scale = _page(drawing.bounds, job.units, fitted)
        canvas.setPageSize((width * mm, height * mm))
        canvas.bookmarkPage(f"blank {blank + 1}")
        canvas.addOutlineEntry(clean(drawing.title), f"blank {blank + 1}")
        _Sheet(canvas, drawing, width, height, scale).draw()
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _page(bounds: Box, units: str, fitted: bool) -> tuple[float, float, float]:
    """Return the page's width and height, and n of its scale 1 : n."""
    x0, y0, x1, y1 = bounds
    size = (x1 - x0, y1 - y0)
    width, height = size[0] + 2 * _EDGE, size[1] + 2 * _EDGE + _FOOT
    if max(width, height) <= LARGEST_PAGE and not fitted:
        return max(width, _BAR + 2 * _EDGE), height, 1.0
    if fitted:
        width, height = page_size(units, upright=size[1] > size[0])
    else:
        width, height = min(width, LARGEST_PAGE), min(height, LARGEST_PAGE)
    room = (width - 2 * _EDGE, height - 2 * _EDGE - _FOOT)
    return width, height, fitting_scale(size, room)


class _Sheet:
    """Draws one blank."""

    def __init__(
        self,
        canvas: Canvas,
        drawing: BlankDrawing,
        width: float,
        height: float,
        scale: float,
    ) -> None:
        self._canvas = canvas
        self._drawing = drawing
        self._width = width
        self._scale = scale
        x0, y0, _, y1 = drawing.bounds
        # The blank stands at the page's top left, whatever room is left over.
        low = height - _EDGE - (y1 - y0) / scale
        self._view = View(_EDGE - x0 / scale, low - y0 / scale, 1.0 / scale)

    def draw(self) -> None:
        """Draw the blank's edge, what is not cut, then the cuts in their order."""
        drawing = self._drawing
        for loop in drawing.edge.loops:
            self._curve(loop.segments, True, BLANK_EDGE)
        self._canvas.setDash(2 * mm, 1.5 * mm)
        for loop, _ in drawing.keep_outs:
            self._curve(loop.segments, True, KEEP_OUT)
        self._canvas.setDash()
        for loop in drawing.screws:
            self._curve(loop.segments, True, SCREW)
        self._canvas.setFillColorRGB(*_shades(TEXT))
        for label in drawing.labels:
            self._text(label.text, label.place, label.height)
        for cut in drawing.cuts:
            self._curve(cut.segments, cut.closed, OPERATION_LAYERS[cut.operation])
        for loop in drawing.pins:
            self._curve(loop.segments, True, OPERATION_LAYERS[Operation.DRILL])
        self._foot()

    def _curve(self, segments: Sequence[Segment], closed: bool, layer: Layer) -> None:
        canvas = self._canvas
        canvas.setStrokeColorRGB(*_shades(layer))
        canvas.setLineWidth(0.25 * mm)
        path = canvas.beginPath()
        add_chain(path, segments, self._view)
        if closed:
            path.close()
        canvas.drawPath(path, stroke=1, fill=0)

    def _text(self, text: str, place: Point, height: float) -> None:
        canvas = self._canvas
        x, y = self._view.point(place)
        points = height / self._scale / 0.72 * mm  # a capital is 0.72 of the size
        canvas.setFont(face(text), points)
        canvas.drawCentredString(x * mm, y * mm - 0.36 * points, text)

    def _foot(self) -> None:
        """Write what this is, and draw the bar that tells whether it came out true."""
        canvas, drawing = self._canvas, self._drawing
        x0, y0, x1, y1 = drawing.edge.bounds
        scale = f"scale 1 : {self._scale:g}"
        words = f"{scale}, {x1 - x0:g} x {y1 - y0:g} mm, {drawing.title}"
        canvas.setFillGray(0.1)
        canvas.setStrokeGray(0.1)
        text = shortened(words, self._width - 2 * _EDGE, 9.0)
        canvas.setFont(face(text), 9.0)
        canvas.drawString(_EDGE * mm, (_EDGE + 7.0) * mm, text)
        canvas.setLineWidth(0.25 * mm)
        y = _EDGE + 2.0
        for x in (_EDGE, _EDGE + _BAR):
            canvas.line(x * mm, (y - 1.5) * mm, x * mm, (y + 1.5) * mm)
        canvas.line(_EDGE * mm, y * mm, (_EDGE + _BAR) * mm, y * mm)
        canvas.setFont("Helvetica", 7.0)
        meaning = f"printed true if {_BAR:g} mm long"
        canvas.drawString(_EDGE * mm, (y - 4.5) * mm, meaning)


def _shades(layer: Layer) -> tuple[float, float, float]:
    red, green, blue = layer.colour
    return red / 255.0, green / 255.0, blue / 255.0
