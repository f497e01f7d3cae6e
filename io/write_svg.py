"""SVG files: one blank each, in mm, with true arcs and Béziers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from urllib.parse import quote
from xml.etree import ElementTree

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.job import Job
from ..nesting.model.motion import Point
from ..nesting.model.part import Operation
from .blank_drawing import BlankDrawing, blank_drawing
from .cut_order import Cut
from .layers import BLANK_EDGE, KEEP_OUT, OPERATION_LAYERS, SCREW, TEXT, Layer
from .names import clean_text

NAMESPACE = "http://www.w3.org/2000/svg"

WIDEST_ARC = 120.0
"""An arc command gives its centre only through its ends and radius, which says
little near a half turn; wider arcs are written in equal pieces, degrees."""


def blank_svg(job: Job, blank: int, screws: Sequence[Point] = ()) -> bytes:
    """Return the SVG file of one blank (index from 0).

    One unit is one mm and the page is the box around the blank, so that a reader
    that places the page places the blank; ``data-datum`` on the root gives the datum
    in page units.

    Parameters
    ----------
    screws : sequence of Point
        Places for screws, in the blank's own coordinates, mm.
    """
    return _Page(blank_drawing(job, blank, screws)).bytes()


class _Page:
    """Builds one page. The y axis is turned over here and nowhere else."""

    def __init__(self, drawing: BlankDrawing) -> None:
        self.drawing = drawing
        self.left, _, _, self.top = drawing.bounds

    def bytes(self) -> bytes:
        drawing = self.drawing
        x0, y0, x1, y1 = drawing.bounds
        width, height = _number(x1 - x0), _number(y1 - y0)
        datum = self._at((0.0, 0.0))
        root = ElementTree.Element(
            "svg",
            {
                "xmlns": NAMESPACE,
                "width": f"{width}mm",
                "height": f"{height}mm",
                "viewBox": f"0 0 {width} {height}",
                "fill": "none",
                "data-drystone": "blank",
                "data-blank": str(drawing.number),
                "data-datum": datum,
            },
        )
        _child(root, "title", text=drawing.title)
        self._blank_edge(root)
        self._keep_outs(root)
        if self.drawing.screws:
            group = _group(root, SCREW)
            for circle in self.drawing.screws:
                self._curve(group, circle.segments, closed=True)
        self._labels(root)
        drill = OPERATION_LAYERS[Operation.DRILL].name
        for layer in OPERATION_LAYERS.values():
            cuts = [
                (number, cut)
                for number, cut in enumerate(drawing.cuts, 1)
                if OPERATION_LAYERS[cut.operation] is layer
            ]
            pins = drawing.pins if layer.name == drill else ()
            if cuts or pins:
                group = _group(root, layer)
                for loop in pins:
                    element = self._curve(group, loop.segments, closed=True)
                    element.set("data-drystone", "pin")
                for number, cut in cuts:
                    self._cut(group, number, cut)
        ElementTree.indent(root, " ")
        data = ElementTree.tostring(root, encoding="utf-8", xml_declaration=True)
        return bytes(data)

    def _blank_edge(self, root: ElementTree.Element) -> None:
        group = _group(root, BLANK_EDGE)
        # One path, so that holes in the board stay unfilled.
        data = " ".join(
            self._path_data(loop.segments, closed=True)
            for loop in self.drawing.edge.loops
        )
        _child(group, "path", d=data, fill="#faf6ee", fill_rule="evenodd")

    def _keep_outs(self, root: ElementTree.Element) -> None:
        if not self.drawing.keep_outs:
            return
        group = _group(root, KEEP_OUT)
        group.set("stroke-dasharray", "4 3")
        for loop, label in self.drawing.keep_outs:
            element = self._curve(group, loop.segments, closed=True)
            if label:
                _child(element, "title", text=label)

    def _labels(self, root: ElementTree.Element) -> None:
        if not self.drawing.labels:
            return
        group = _group(root, TEXT)
        group.set("stroke", "none")
        group.set("fill", "#606060")
        group.set("font-family", "sans-serif")
        group.set("text-anchor", "middle")
        for label in self.drawing.labels:
            x, y = label.place
            # A capital's height is about 0.7 of the font size; y is the baseline.
            _child(
                group,
                "text",
                x=_number(x - self.left),
                y=_number(self.top - y + label.height / 2.0),
                font_size=_number(label.height / 0.7),
                text=label.text,
            )

    def _cut(self, group: ElementTree.Element, number: int, cut: Cut) -> None:
        placement = cut.placement
        element = self._curve(group, cut.segments, cut.closed)
        element.set("data-part", quote(placement.part_id, safe=""))
        element.set("data-copy", str(placement.copy))
        element.set("data-order", str(number))
        name = f"{cut.part.name} {placement.copy}"
        _child(element, "title", text=clean_text(f"{name}: {cut.name}".rstrip(": ")))

    def _curve(
        self, group: ElementTree.Element, segments: Sequence[Segment], closed: bool
    ) -> ElementTree.Element:
        first = segments[0]
        if len(segments) == 1 and isinstance(first, Arc) and first.is_circle:
            x, y = first.centre
            return _child(
                group,
                "circle",
                cx=_number(x - self.left),
                cy=_number(self.top - y),
                r=_number(first.radius),
            )
        return _child(group, "path", d=self._path_data(segments, closed))

    def _path_data(self, segments: Sequence[Segment], closed: bool) -> str:
        words = [f"M{self._at(segments[0].start)}"]
        # A command begins where the last one ended, so each ends where the next
        # segment begins; the two agree, or the loop would not be one.
        ends = [segment.start for segment in segments[1:]]
        ends.append(segments[0].start if closed else segments[-1].end)
        for segment, end in zip(segments, ends, strict=True):
            if isinstance(segment, Line):
                words.append(f"L{self._at(end)}")
            elif isinstance(segment, Cubic):
                controls = (segment.p1, segment.p2, end)
                words.append("C" + " ".join(self._at(p) for p in controls))
            else:
                # Turning y over turns the direction over as well: our
                # counter-clockwise is the format's sweep flag 0.
                radius, flag = _number(segment.radius), int(segment.sweep < 0.0)
                for point in (*_stops(segment), end):
                    words.append(f"A{radius} {radius} 0 0 {flag} {self._at(point)}")
        if closed and isinstance(segments[-1], Line) and len(segments) > 1:
            words.pop()  # closing the path draws it
        return " ".join([*words, "Z"] if closed else words)

    def _at(self, point: Point) -> str:
        x, y = point
        return f"{_number(x - self.left)} {_number(self.top - y)}"


def _stops(arc: Arc) -> list[Point]:
    """Return the points that part an arc into equal pieces up to `WIDEST_ARC` wide."""
    count = max(math.ceil(abs(arc.sweep) / WIDEST_ARC - 1e-9), 1)
    return [arc.point_at(n / count) for n in range(1, count)]


def _group(root: ElementTree.Element, layer: Layer) -> ElementTree.Element:
    group = _child(root, "g", id=layer.name, **_stroke(layer.hex))
    _child(group, "title", text=f"{layer.name}: {layer.meaning}")
    return group


def _stroke(colour: str) -> dict[str, str]:
    """Return a fine line that stays as fine at every zoom."""
    return {"stroke": colour, "stroke_width": "1.25"}


def _child(
    parent: ElementTree.Element, tag: str, text: str = "", **attributes: str
) -> ElementTree.Element:
    element = ElementTree.SubElement(parent, tag)
    for key, value in attributes.items():
        element.set(key.replace("_", "-"), value)
    if tag in ("path", "circle"):
        element.set("vector-effect", "non-scaling-stroke")
    if text:
        element.text = text
    return element


def _number(value: float) -> str:
    """Return a number with all its digits, as short as possible."""
    text = repr(value + 0.0)  # + 0.0 turns -0.0 into 0.0
    return text.removesuffix(".0")
