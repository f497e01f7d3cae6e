"""What a drawing program may write in an SVG file, and what must come of it."""

from __future__ import annotations

import gzip
import math
from pathlib import Path

import pytest

from drystone.io.drawing import Drawing, Stroke
from drystone.io.limits import Budget, Cancelled, Limits
from drystone.io.read_svg import read_svg, read_svg_data
from drystone.io.svg_findings import KINDS
from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.outline import bounds_of, flatten_chain

HEAD = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
PAGE = 'width="100mm" height="100mm" viewBox="0 0 100 100"'


def read(body: str, page: str = PAGE, unit: str | None = None) -> Drawing:
    text = f"<svg {HEAD} {page}>{body}</svg>"
    return read_svg_data(text.encode(), "case.svg", unit)


def codes(drawing: Drawing) -> dict[str, int]:
    return {finding.code: finding.count for finding in drawing.findings}


def box(stroke: Stroke) -> tuple[float, ...]:
    return tuple(round(v, 6) for v in bounds_of(stroke.segments))


def boxes(drawing: Drawing) -> list[tuple[float, ...]]:
    return [box(stroke) for stroke in drawing.strokes]


UNIT = '<rect width="10" height="10"/>'
"""On `PAGE` its box is (0, 90, 10, 100)."""


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        ('<rect x="1" y="2" width="3" height="4"/>', (1, 94, 4, 98)),
        ('<circle cx="10" cy="20" r="5"/>', (5, 75, 15, 85)),
        ('<ellipse cx="10" cy="20" rx="5" ry="2"/>', (5, 78, 15, 82)),
        ('<line x1="1" y1="2" x2="3" y2="4" stroke="red"/>', (1, 96, 3, 98)),
        ('<polyline points="0,0 10-5,.5.5" stroke="red"/>', (0, 99.5, 10, 105)),
        ('<polygon points="0,0 10,0 10 5"/>', (0, 95, 10, 100)),
        ('<path d="M1 2h3v4H1z"/>', (1, 94, 4, 98)),
        ('<rect width="50%" height="10%"/>', (0, 90, 50, 100)),
        ('<rect style="width:5px;height:6px;x:1px"/>', (1, 94, 6, 100)),
        ("<path style=\"d:path('M0 0h4v4z')\"/>", (0, 96, 4, 100)),
    ],
)
def test_shapes_lie_where_they_are_drawn_with_y_up(
    body: str, expected: tuple[float, ...]
) -> None:
    assert boxes(read(body)) == [expected]


@pytest.mark.parametrize(
    ("path", "kinds", "closed"),
    [
        ("M0 0 10 0 10 10", "LL", False),
        ("m0 0 10 0 0 10z", "LLL", True),
        ("M0 0c1 1 2 1 3 0s2-1 3 0", "CC", False),
        ("M0 0q1 1 2 0t2 0", "CC", False),
        ("M0 0a5 5 0 0110 0", "A", False),
        ("M0 0a5 5 0 1 1 .5.5 5 5 0 01 2 3", "AA", False),
        ("M0 0a0 5 0 0 1 10 0", "L", False),
        ("M1.5.5-3-2", "L", False),
        ("M0,0L1e1,0", "L", False),
    ],
)
def test_path_commands_become_their_own_kinds(
    path: str, kinds: str, closed: bool
) -> None:
    drawing = read(f'<path fill="none" stroke="red" d="{path}"/>')
    (stroke,) = drawing.strokes
    assert "".join(type(s).__name__[0] for s in stroke.segments) == kinds
    assert stroke.closed is closed
    assert codes(drawing) == {}


def test_each_subpath_is_a_stroke_and_z_returns_to_its_start() -> None:
    drawing = read('<path stroke="red" d="M10 10h10v10zl5 5M50 50h1v1z"/>')
    assert [s.closed for s in drawing.strokes] == [True, False, True]
    (line,) = drawing.strokes[1].segments
    assert (line.start, line.end) == ((10, 90), (15, 85))


def test_a_path_with_an_error_is_read_up_to_it_and_reported() -> None:
    drawing = read('<path stroke="red" d="M0 0 L10 0 L10 10 L x 5"/>')
    assert len(drawing.strokes[0].segments) == 2
    assert codes(drawing) == {"svg-path-error": 1}
    assert "character 20" in drawing.findings[0].message


@pytest.mark.parametrize("path", ["L10 10", "M", "M 1", "", "none", "z", "M0 0,,5 5"])
def test_a_path_without_any_complete_segment_draws_nothing(path: str) -> None:
    drawing = read(f'<path d="{path}"/>')
    assert drawing.strokes == ()
    assert codes(drawing)["svg-empty"] == 1


@pytest.mark.parametrize(
    "transform",
    [
        "rotate(30)",
        "translate(5,5) scale(2)",
        "scale(-3,3)",
        "matrix(0 1 1 0 2 3)",
        "rotate(30 10 10)scale(.5)",
    ],
)
def test_a_circle_stays_a_circle_under_similarities(transform: str) -> None:
    drawing = read(f'<g transform="{transform}"><circle cx="9" cy="4" r="2"/></g>')
    (arc,) = drawing.strokes[0].segments
    assert isinstance(arc, Arc)
    assert arc.is_circle


def test_a_rounded_rectangle_has_true_arcs_in_its_corners() -> None:
    drawing = read('<rect width="40" height="20" rx="5" transform="rotate(7)"/>')
    segments = drawing.strokes[0].segments
    arcs = [s for s in segments if isinstance(s, Arc)]
    assert len(segments) == 8
    assert [arc.radius for arc in arcs] == pytest.approx([5.0] * 4, abs=1e-12)
    assert [abs(arc.sweep) for arc in arcs] == [90.0] * 4


def test_a_squashed_circle_becomes_cubics_within_a_thousandth() -> None:
    drawing = read('<circle r="40" cx="50" cy="50" transform="scale(1 .5)"/>')
    stroke = drawing.strokes[0]
    assert all(isinstance(s, Cubic) for s in stroke.segments)
    for x, y in flatten_chain(stroke.segments, 1e-5):
        # The gradient of the implicit ellipse turns its value into a distance.
        u, v = (x - 50) / 40, (y - 75) / 20
        value = u * u + v * v - 1
        assert abs(value) / math.hypot(2 * u / 40, 2 * v / 20) < 1e-3


def test_segments_of_a_stroke_meet() -> None:
    drawing = read(
        '<path transform="rotate(33) skewX(11)" d="M1 1a3 4 20 0110 0q3 3 5 8T9 9z"/>'
    )
    segments = drawing.strokes[0].segments
    for before, after in zip(segments, segments[1:] + segments[:1], strict=True):
        assert math.dist(before.end, after.start) < 1e-6


@pytest.mark.parametrize(
    ("body", "expected"),
    [
        (f'<g transform="translate(5 6)">{UNIT}</g>', (5, 84, 15, 94)),
        (f'<g style="transform: translate(5px, 6px)">{UNIT}</g>', (5, 84, 15, 94)),
        (
            f'<g transform="scale(9)" style="transform:scale(2)">{UNIT}</g>',
            (0, 80, 20, 100),
        ),
        (f'<g style="translate: 5px 6px; scale: 2">{UNIT}</g>', (5, 74, 25, 94)),
        (
            '<rect width="10" height="10" transform="rotate(180)" '
            'transform-origin="10 10"/>',
            (10, 80, 20, 90),
        ),
        (
            f'<g style="transform:scale(2);transform-origin:right bottom">{UNIT}</g>',
            (-100, 180, -80, 200),
        ),
        (
            f'<g style="transform:scale(2);transform-origin:50%">{UNIT}</g>',
            (-50, 130, -30, 150),
        ),
        (f'<g transform="rotate(.25turn)">{UNIT}</g>', (-10, 90, 0, 100)),
    ],
)
def test_transforms_nest_and_css_overrules_the_attribute(
    body: str, expected: tuple[float, ...]
) -> None:
    assert boxes(read(body)) == [expected]


def test_a_transform_may_refer_to_the_shapes_own_box() -> None:
    style = "transform:rotate(90deg);transform-box:fill-box;transform-origin:center"
    drawing = read(f'<rect x="20" y="30" width="10" height="4" style="{style}"/>')
    assert boxes(drawing) == [(23, 63, 27, 73)]
    assert codes(drawing) == {}
    drawing = read(f'<g style="{style}">{UNIT}</g>')
    assert codes(drawing)["svg-transform-box"] == 1


def test_a_wrong_transform_is_reported_and_taken_as_none() -> None:
    drawing = read(f'<g transform="rotate(1 2)">{UNIT}</g>')
    assert boxes(drawing) == [(0, 90, 10, 100)]
    assert codes(drawing) == {"svg-bad-transform": 1}


@pytest.mark.parametrize("transform", ["scale(0)", "scale(1 0)", "matrix(1 1 1 1 0 0)"])
def test_a_flat_transform_leaves_nothing(transform: str) -> None:
    drawing = read(f'<g transform="{transform}">{UNIT}</g>')
    assert drawing.strokes == ()
    assert codes(drawing)["svg-flat-transform"] == 1


@pytest.mark.parametrize(
    "style",
    [
        '<g display="none">{}</g>',
        '<g style="display:none">{}</g>',
        '<g visibility="hidden">{}</g>',
        '<g opacity="0">{}</g>',
        "<style>g{{display:none}}</style><g>{}</g>",
        '<style>.h{{opacity:0%}}</style><g class="a h b">{}</g>',
        '<style>#x > rect{{visibility:collapse}}</style><g id="x">{}</g>',
        "<style>svg g rect:first-child{{display:none!important}}</style>"
        '<g style="display:block">{}</g>',
        '<style>@media screen{{[data-k="1"] *{{display:none}}}}</style>'
        '<g data-k="1">{}</g>',
        "<style>g{{--v:none}} rect{{display:var(--v)}}</style><g>{}</g>",
    ],
)
def test_hidden_content_is_left_out_and_counted(style: str) -> None:
    drawing = read(style.format(UNIT))
    assert drawing.strokes == ()
    assert codes(drawing)["svg-hidden"] == 1


@pytest.mark.parametrize(
    "body",
    [
        '<g visibility="hidden"><rect visibility="visible" width="9" height="9"/></g>',
        '<style>rect{display:none}</style><rect style="display:inline" width="9" '
        'height="9"/>',
        "<style>.a{display:none} rect.b{display:inline}</style>"
        '<rect class="a b" width="9" height="9"/>',
        '<style>@media print{rect{display:none}}</style><rect width="9" height="9"/>',
        '<style media="print">rect{display:none}</style><rect width="9" height="9"/>',
        '<style>rect:hover{display:none}</style><rect width="9" height="9"/>',
        '<rect display="none" style="display:inline" width="9" height="9"/>',
    ],
)
def test_what_overrules_hiding_is_shown(body: str) -> None:
    assert len(read(body).strokes) == 1


@pytest.mark.parametrize(
    "look",
    [
        'fill="none"',
        'style="fill:none;stroke:none"',
        'fill="transparent"',
        'fill="rgba(1,2,3,0)" stroke="none"',
        'fill-opacity="0"',
    ],
)
def test_what_is_not_painted_is_left_out_and_counted(look: str) -> None:
    drawing = read(f'<rect width="9" height="9" {look}/>')
    assert drawing.strokes == ()
    assert codes(drawing)["svg-unpainted"] == 1


@pytest.mark.parametrize(
    ("look", "colour"),
    [
        ("", "#000000"),
        ('fill="#0f0"', "#00ff00"),
        ('fill="#0f0" stroke="rgb(1,2,3)"', "#010203"),
        ('fill="none" stroke="currentColor" color="red"', "#ff0000"),
        ('fill="url(#nothing)"', ""),
        ('style="stroke:blue;fill:none" stroke="red"', "#0000ff"),
    ],
)
def test_the_colour_is_the_lines_or_else_the_insides(look: str, colour: str) -> None:
    assert read(f'<rect width="9" height="9" {look}/>').strokes[0].colour == colour


def test_use_and_symbol() -> None:
    drawing = read(
        '<defs><rect id="r" width="10" height="10"/></defs>'
        '<symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol>'
        '<use href="#r" x="5" y="6"/><use xlink:href="#r" transform="scale(2)"/>'
        '<use href="#s" x="50" width="20" height="20"/>'
    )
    assert boxes(drawing) == [(5, 84, 15, 94), (0, 80, 20, 100), (50, 80, 70, 100)]
    assert codes(drawing) == {}


def test_a_used_shape_takes_the_style_of_where_it_is_used() -> None:
    drawing = read(
        '<defs><rect id="r" width="9" height="9"/></defs>'
        '<use href="#r" fill="red"/><use href="#r" fill="none"/>'
    )
    assert [s.colour for s in drawing.strokes] == ["#ff0000"]


def test_percentages_in_a_used_shape_follow_each_view() -> None:
    drawing = read(
        '<symbol id="s" viewBox="0 0 4 4"><use href="#r"/></symbol>'
        '<defs><rect id="r" width="50%" height="50%"/></defs>'
        '<use href="#s" width="40" height="40"/><use href="#r"/>'
    )
    assert boxes(drawing) == [(0, 80, 20, 100), (0, 50, 50, 100)]


def test_what_is_kept_as_definition_is_not_drawn_but_counted() -> None:
    drawing = read(
        f'{UNIT}<defs><rect id="r" width="10" height="10"/></defs>'
        f"<symbol>{UNIT}</symbol><clipPath>{UNIT}</clipPath><mask>{UNIT}</mask>"
        f"<pattern>{UNIT}</pattern><marker>{UNIT}</marker>"
    )
    assert len(drawing.strokes) == 1
    assert codes(drawing) == {"svg-not-drawn": 6}


@pytest.mark.parametrize(
    ("attribute", "code"),
    [
        ('clip-path="url(#c)"', "svg-clip"),
        ('mask="url(#c)"', "svg-mask"),
        ('filter="url(#c)"', "svg-filter"),
        ('fill="url(#p)"', "svg-pattern"),
        ('fill="url(#l)"', "svg-gradient"),
        ('marker-end="url(#c)"', "svg-marker"),
        ('stroke="red" stroke-dasharray="2 1"', "svg-dashes"),
        ('fill="none" stroke="red" stroke-width="0"', "svg-hairline"),
    ],
)
def test_effects_are_reported_and_the_shape_is_read_whole(
    attribute: str, code: str
) -> None:
    drawing = read(
        '<pattern id="p"/><linearGradient id="l"/>'
        f'<g {attribute}><rect width="9" height="9"/></g>'
    )
    assert boxes(drawing) == [(0, 91, 9, 100)]
    assert codes(drawing) == {code: 1}


@pytest.mark.parametrize(
    ("body", "code"),
    [
        ("<text>side</text>", "svg-text"),
        ('<image href="data:image/png;base64,AAAA"/>', "svg-bitmap"),
        ("<foreignObject/>", "svg-foreign-content"),
        ("<script>alert(1)</script>", "svg-script"),
        ("<wobble/>", "svg-unknown-element"),
        ('<use href="#gone"/>', "svg-use-missing"),
        ('<use href="http://example.invalid/a.svg#x"/>', "svg-external"),
        ('<use href="other.svg#x"/>', "svg-external"),
        ("<style>@import url(http://example.invalid/a.css);</style>", "svg-external"),
        ("<style>rect:nth-child(3n+1){fill:none}</style>", "svg-css"),
        ('<rect width="ten" height="10"/>', "svg-bad-value"),
        ('<polygon points="1 2 3"/>', "svg-path-error"),
        ('<g id="a"/><g id="a"/>', "svg-duplicate-id"),
        ('<path d="M1e300 0L5 5"/>', "svg-out-of-range"),
        ('<circle r="1e30"/>', "svg-out-of-range"),
    ],
)
def test_what_is_left_out_is_counted_by_kind(body: str, code: str) -> None:
    drawing = read(UNIT + body)
    assert len(drawing.strokes) == 1
    assert codes(drawing)[code] >= 1


@pytest.mark.parametrize(
    ("clip", "cut"),
    [
        ('<rect width="100" height="100"/>', False),
        ('<path d="M0 0H100V100H0Z"/>', False),
        ('<rect width="10" height="10"/>', False),
        ('<rect width="9" height="10"/>', True),
        ('<rect width="100" height="100" transform="translate(1 0)"/>', True),
        ('<rect width="100" height="100" transform="rotate(9)"/>', True),
        ('<circle cx="5" cy="5" r="50"/>', True),
        ("", True),
    ],
)
def test_a_clipping_path_is_reported_where_it_may_cut_something(
    clip: str, cut: bool
) -> None:
    drawing = read(
        f'<defs><clipPath id="c">{clip}</clipPath></defs>'
        f"<g clip-path=\"url('#c')\">{UNIT}</g>"
    )
    assert boxes(drawing) == [(0, 90, 10, 100)]
    assert ("svg-clip" in codes(drawing)) is cut


def test_switch_draws_one_branch() -> None:
    drawing = read(
        '<switch><foreignObject requiredExtensions="x"/><g systemLanguage="xx">'
        f"{UNIT}</g><g>{UNIT}</g><g>{UNIT}</g></switch>"
    )
    assert len(drawing.strokes) == 1


def test_layers_and_names() -> None:
    drawing = read(
        '<g id="CUT"><g id="g4711"><rect id="side_x20_wall" width="9" height="9"/></g>'
        '</g><g id="layer1" xmlns:i="urn:i" i:label="Drill holes">'
        '<circle r="1"/></g><circle id="lone" r="1"/>'
    )
    assert [(s.layer, s.name) for s in drawing.strokes] == [
        ("CUT", "side wall"),
        ("Drill holes", ""),
        ("", "lone"),
    ]


def test_nested_svg_is_a_viewport_of_its_own() -> None:
    drawing = read(
        '<svg x="10" y="20" width="40" height="20" viewBox="0 0 10 10">'
        '<rect width="100%" height="50%"/></svg>'
    )
    # 10 by 10 fits 20 by 20, centred in 40 by 20: x from 20 to 40, y from 20 to 30.
    assert boxes(drawing) == [(20, 70, 40, 80)]


@pytest.mark.parametrize(
    ("aspect", "expected"),
    [
        ("", (25, 0, 75, 50)),
        ("xMinYMin", (0, 0, 50, 50)),
        ("xMaxYMid meet", (50, 0, 100, 50)),
        ("none", (0, 0, 100, 50)),
        ("xMidYMid slice", (0, -25, 100, 75)),
        ("xMidYMax slice", (0, 0, 100, 100)),
    ],
)
def test_preserve_aspect_ratio(aspect: str, expected: tuple[float, ...]) -> None:
    drawing = read(
        '<rect width="10" height="10"/>',
        f'width="100mm" height="50mm" viewBox="0 0 10 10" '
        f'preserveAspectRatio="{aspect}"',
    )
    assert boxes(drawing) == [expected]
    assert ("svg-size-stretched" in codes(drawing)) == (aspect == "none")


def test_a_page_without_true_size_is_guessed_and_says_so() -> None:
    for page in ("", 'viewBox="0 0 96 96"', 'width="96" height="96"', 'width="100%"'):
        drawing = read('<rect width="96" height="48"/>', page)
        x0, y0, x1, y1 = box(drawing.strokes[0])
        assert (round(x1 - x0, 9), round(y1 - y0, 9)) == (25.4, 12.7)
        assert drawing.units.sure is False
        assert drawing.units.unit == "px"
        assert dict(drawing.units.others)["px72"] == pytest.approx(25.4 / 72)
        assert dict(drawing.units.others)["mm"] == 1.0
        assert "svg-no-size" in codes(drawing)


def test_the_user_may_say_the_unit() -> None:
    for page in ("", PAGE, 'viewBox="0 0 9 9"'):
        drawing = read('<rect width="2" height="1"/>', page, unit="in")
        x0, y0, x1, y1 = box(drawing.strokes[0])
        assert (round(x1 - x0, 9), round(y1 - y0, 9)) == (50.8, 25.4)
        assert drawing.units.sure
        assert drawing.units.basis == "told"


def test_an_open_filled_shape_is_closed_as_it_is_seen() -> None:
    drawing = read('<path d="M0 0h10v10"/>')
    assert drawing.strokes[0].closed
    assert len(drawing.strokes[0].segments) == 3
    assert codes(drawing) == {"svg-fill-closed": 1}
    assert not read('<path stroke="red" d="M0 0h10v10"/>').strokes[0].closed


def test_a_line_turned_into_a_thin_shape_is_reported() -> None:
    band = "M0 0h50v50h-50zM.5.5v49h49v-49z"
    assert codes(read(f'<path d="{band}"/>')) == {"svg-line-outline": 1}
    assert codes(read('<path d="M0 0h80v.5h-80z"/>')) == {"svg-line-outline": 1}
    assert codes(read('<path d="M0 0h80v10h-80zM5 2v5h9v-5z"/>')) == {}


def test_gzip_and_plain_files_read_the_same(tmp_path: Path) -> None:
    text = f"<svg {HEAD} {PAGE}>{UNIT}</svg>".encode()
    (tmp_path / "a.svg").write_bytes(text)
    (tmp_path / "a.svgz").write_bytes(gzip.compress(text))
    a, b = read_svg(tmp_path / "a.svg"), read_svg(tmp_path / "a.svgz")
    assert a.strokes == b.strokes
    assert len(a.strokes) == 1


def test_reading_can_be_cancelled() -> None:
    body = UNIT * 2000
    with pytest.raises(Cancelled):
        read_svg_data(f"<svg {HEAD}>{body}</svg>".encode(), cancelled=lambda: True)


def test_every_kind_of_finding_can_be_worded() -> None:
    for code, kind in KINDS.items():
        assert code.startswith("svg-")
        assert kind.message.format(n=1, detail="x")


def test_limits_hold(tmp_path: Path) -> None:
    text = f"<svg {HEAD}>{UNIT * 100}</svg>".encode()
    for limits in (
        Limits(file_bytes=100),
        Limits(entities=50),
        Limits(vertices=50),
        Limits(depth=0),
    ):
        with pytest.raises(InputError, match="not read"):
            read_svg_data(text, limits=limits)
    assert Budget("x").usable(1.0)
    assert isinstance(read_svg_data(text).strokes[0].segments[0], Line)
