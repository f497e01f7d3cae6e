"""What is exported as SVG, a reader that shares no code with ours sees the same."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

import pytest
import svgelements
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.io.split import nearest
from drystone.io.write_svg import blank_svg
from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.motion import Motion
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.property.test_svg_round_trip import outlines
else:  # beside this file; the tests are no package when they run
    from test_svg_round_trip import outlines

HEIGHT = 1200.0
"""Of the page, mm; its y runs down."""
KINDS = {
    svgelements.Line: Line,
    svgelements.Close: Line,
    svgelements.Arc: Arc,
    svgelements.CubicBezier: Cubic,
}


def curves(data: str) -> list[Any]:
    """Return the segments of path data that draw something."""
    found = []
    for segment in svgelements.Path(data):
        ends = segment.start, segment.end
        if isinstance(segment, svgelements.Move) or None in ends:
            continue
        if isinstance(segment, svgelements.Close) and abs(ends[1] - ends[0]) < 1e-9:
            continue
        found.append(segment)
    return found


@settings(max_examples=30, deadline=None)
@given(
    outlines().filter(lambda loop: loop.area > 1.0),
    st.floats(300, 900),
    st.floats(300, 900),
    st.sampled_from([0.0, 90.0, 33.3]),
    st.booleans(),
)
def test_a_second_reader_sees_the_same_curves(
    loop: Loop, x: float, y: float, turn: float, flipped: bool
) -> None:
    job = Job(
        "second reader",
        (Part("p", "p", Outline(loop), flip=True),),
        (Stock("s", "sheet", Outline(Loop.rectangle(1200.0, HEIGHT))),),
        Cutting(),
        layout=Layout((Blank("s"),), (Placement("p", 1, 0, x, y, turn, flipped),)),
    )
    root = ElementTree.fromstring(blank_svg(job, 0))
    ours = [e.get("d", "") for e in root.iter() if e.get("data-part") == "p"]
    (data,) = (d for d in ours if d)
    seen = curves(data)
    wanted = list(loop.moved(Motion(x, y, turn, flipped)).segments)
    used: dict[int, float] = {}
    for curve in seen:
        # It lies on a curve of its kind; what is nearly half a circle is in two pieces.
        kind = KINDS[type(curve)]
        places = [curve.point(t) for t in (0.0, 0.2, 0.5, 0.9, 1.0)]
        (on,) = [
            n
            for n, segment in enumerate(wanted)
            if type(segment) is kind
            and all(nearest(segment, (p.x, HEIGHT - p.y))[1] <= 1e-6 for p in places)
        ][:1]
        used[on] = used.get(on, 0.0) + curve.length(error=1e-7)
    lengths = {n: segment.length() for n, segment in enumerate(wanted)}
    assert used == pytest.approx(lengths, abs=1e-4)
