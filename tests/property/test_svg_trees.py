"""Whatever is put together from SVG's pieces, reading ends in a sound drawing."""

from __future__ import annotations

import math
from xml.sax.saxutils import quoteattr

from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.io.drawing import Drawing
from drystone.io.limits import Limits
from drystone.io.read_svg import read_svg_data
from drystone.nesting.model.errors import InputError

NUMBERS = st.one_of(
    st.integers(-300, 300).map(str),
    st.floats(allow_nan=True, allow_infinity=True).map(repr),
    st.sampled_from(["", "%", "1e999", "5mm", "50%", "-0", ".5.5", "auto", "1e-300"]),
)
COMMANDS = st.sampled_from("MmLlHhVvCcSsQqTtAaZz,x ")
PATHS = st.lists(st.one_of(COMMANDS, NUMBERS), max_size=25).map(" ".join)
FUNCTIONS = st.sampled_from("matrix translate scale rotate skewX skewY foo".split())
TRANSFORMS = st.lists(
    st.builds(
        lambda name, args: f"{name}({' '.join(args)})",
        FUNCTIONS,
        st.lists(NUMBERS, max_size=6),
    ),
    max_size=3,
).map(" ".join)
IDS = st.sampled_from("a b c d".split())
STYLES = st.sampled_from(
    [
        "display:none",
        "fill:none",
        "stroke:red",
        "opacity:0",
        "transform:scale(2)",
        "transform:rotate(",
        "visibility:hidden",
        "visibility:visible",
        "fill:var(--a)",
        "x:5px;width:9%",
        "d:path('M0 0h9v9z')",
        "transform-origin:center",
        ";;:",
    ]
)
SHEETS = st.sampled_from(
    [
        "#a{fill:none}",
        "g>*{display:none}",
        ".c *+*{opacity:0}",
        "}{",
        "@media{",
        ":not(a)",
    ]
)
TAGS = st.sampled_from(
    "g g svg symbol use use use defs switch a clipPath rect circle ellipse line path "
    "polygon polyline text image style wobble pattern".split()
)
ATTRIBUTES = st.fixed_dictionaries(
    {},
    optional={
        **dict.fromkeys("x y width height rx ry r cx cy x1 y2".split(), NUMBERS),
        "d": PATHS,
        "points": PATHS,
        "transform": TRANSFORMS,
        "id": IDS,
        "class": st.just("c"),
        "href": IDS.map("#{}".format),
        "style": STYLES,
        "viewBox": st.lists(NUMBERS, min_size=4, max_size=4).map(" ".join),
        "preserveAspectRatio": st.sampled_from(["none", "xMinYMax slice", "x"]),
    },
)


def element(tag: str, attributes: dict[str, str], children: list[str], css: str) -> str:
    written = "".join(f" {k}={quoteattr(v)}" for k, v in attributes.items())
    inside = css.replace(">", "&gt;") if tag == "style" else "".join(children)
    return f"<{tag}{written}>{inside}</{tag}>"


TREES = st.recursive(
    st.builds(element, TAGS, ATTRIBUTES, st.just([]), SHEETS),
    lambda inner: st.builds(
        element, TAGS, ATTRIBUTES, st.lists(inner, max_size=4), SHEETS
    ),
    max_leaves=12,
)
LIMITS = Limits(entities=3000, vertices=3000, seconds=20.0)


def read(text: str) -> Drawing | None:
    try:
        return read_svg_data(text.encode(), "case.svg", limits=LIMITS)
    except InputError as error:
        assert "\n" not in str(error)
        return None


@settings(max_examples=150, deadline=None)
@given(st.lists(TREES, max_size=5), ATTRIBUTES)
def test_any_tree_ends_in_a_sound_drawing(
    trees: list[str], page: dict[str, str]
) -> None:
    drawing = read(
        element("svg", {"xmlns": "http://www.w3.org/2000/svg", **page}, trees, "")
    )
    if drawing is None:
        return
    assert drawing.strokes or drawing.findings
    assert drawing.units.factor > 0 and math.isfinite(drawing.units.factor)
    for stroke in drawing.strokes:
        assert stroke.segments
        for segment in stroke.segments:
            assert all(math.isfinite(v) for v in segment.bounds())
        pairs = zip(stroke.segments, stroke.segments[1:], strict=False)
        for before, after in pairs:
            assert math.dist(before.end, after.start) <= 1e-6
        if stroke.closed:
            gap = math.dist(stroke.segments[-1].end, stroke.segments[0].start)
            assert gap <= 1e-6
    for finding in drawing.findings:
        assert finding.message.isprintable()
        assert finding.count > 0


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=200), st.integers(0, 10_000), st.integers(0, 50))
def test_any_bytes_end_in_a_drawing_or_one_line(
    noise: bytes, at: int, cut: int
) -> None:
    good = (
        b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" '
        b'viewBox="0 0 9 9"><style>.a{fill:red}</style><g class="a" id="q">'
        b'<path d="M0 0a1 1 0 012 3z"/></g><use href="#q" x="3"/></svg>'
    )
    at %= len(good)
    for data in (noise, good[:at] + noise + good[at + cut :]):
        try:
            read_svg_data(data, "case.svg", limits=LIMITS)
        except InputError as error:
            assert "\n" not in str(error)
