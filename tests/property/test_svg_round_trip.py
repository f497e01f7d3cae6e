"""What the program exports as SVG, its drawing reader takes back curve for curve."""

from __future__ import annotations

import cmath
import math

from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.io.compare import chain_difference
from drystone.io.drawing import Stroke
from drystone.io.read_svg import read_svg_data
from drystone.io.write_svg import blank_svg
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.motion import Motion
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock

unit = st.floats(0.0, 1.0, allow_subnormal=False)


@st.composite
def outlines(draw: st.DrawFn) -> Loop:
    """Draw a star-shaped loop about (0, 0) of lines, arcs and Béziers."""
    count = draw(st.integers(3, 8))
    size = draw(st.sampled_from([8.0, 60.0, 400.0]))
    corners = [
        size
        * (0.4 + 0.6 * draw(unit))
        * cmath.exp(2j * math.pi * (n + 0.6 * draw(unit)) / count)
        for n in range(count)
    ]
    segments: list[Segment] = []
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        start, end = (a.real, a.imag), (b.real, b.imag)
        kind = draw(st.sampled_from("lac"))
        if kind == "a":
            sweep = draw(
                st.sampled_from([-170.0, -90.0, -5.0, 1.0, 45.0, 180.0, 250.0])
            )
            centre = (a + b) / 2 + 1j * (b - a) / 2 / math.tan(math.radians(sweep) / 2)
            angle = math.degrees(cmath.phase(a - centre))
            segments.append(
                Arc((centre.real, centre.imag), abs(a - centre), angle, sweep)
            )
        elif kind == "c":
            p, q = a * (0.5 + draw(unit)), b * (0.5 + draw(unit))
            segments.append(Cubic(start, (p.real, p.imag), (q.real, q.imag), end))
        else:
            segments.append(Line(start, end))
    return Loop(tuple(segments))


@settings(max_examples=40, deadline=None)
@given(
    outlines().filter(lambda loop: loop.area > 1.0),
    st.floats(300, 900),
    st.floats(300, 900),
    st.sampled_from([0.0, 90.0, 33.3]),
    st.booleans(),
)
def test_an_exported_part_is_read_back_as_the_same_curves(
    loop: Loop, x: float, y: float, turn: float, flipped: bool
) -> None:
    part = Part("p", "p", Outline(loop, (Loop.circle(0.0, 0.0, 0.5),)), flip=True)
    place = Placement("p", 1, 0, x, y, turn, flipped)
    job = Job(
        "round trip",
        (part,),
        (Stock("s", "sheet", Outline(Loop.rectangle(1200, 1200))),),
        Cutting(),
        layout=Layout((Blank("s"),), (place,)),
    )
    drawing = read_svg_data(blank_svg(job, 0), "blank.svg")
    assert drawing.units.sure
    assert drawing.units.factor == 1.0
    by_layer: dict[str, list[Stroke]] = {}
    for stroke in drawing.strokes:
        by_layer.setdefault(stroke.layer, []).append(stroke)
    (outer,), (hole,) = by_layer["OUTSIDE"], by_layer["INSIDE"]
    expected = part.outline.moved(Motion(x, y, turn, flipped))
    assert outer.closed and hole.closed
    assert chain_difference(expected.outer.segments, outer.segments) <= 1e-6
    assert chain_difference(expected.holes[0].segments, hole.segments) <= 1e-6

    def kinds(segments: tuple[Segment, ...]) -> set[str]:
        return {type(segment).__name__ for segment in segments}

    assert kinds(outer.segments) == kinds(expected.outer.segments)
    radii = sorted({round(s.radius, 5) for s in loop.segments if isinstance(s, Arc)})
    for segment in outer.segments:
        if isinstance(segment, Arc):
            assert min(abs(segment.radius - r) for r in radii) <= 2e-5
