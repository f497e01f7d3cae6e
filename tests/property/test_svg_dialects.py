"""The same parts written in many ways must be read as the same curves."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.io.drawing import Drawing
from drystone.io.read_svg import read_svg_data
from drystone.nesting.model.curve import Arc
from drystone.nesting.model.outline import bounds_of

XMLNS = 'xmlns="http://www.w3.org/2000/svg"'
PAGE = (300.0, 200.0)
"""Width and height, mm."""


@dataclass(frozen=True)
class Panel:
    """A rectangle with rounded corners and a round hole; mm from the page's top."""

    x: float
    y: float
    width: float
    height: float
    corner: float
    hole: float


PANELS = st.builds(
    Panel,
    st.integers(0, 100),
    st.integers(0, 80),
    st.integers(40, 150),
    st.integers(40, 100),
    st.integers(1, 15),
    st.integers(1, 10),
).map(lambda p: Panel(*(v / 1.0 for v in vars(p).values())))


def n(value: float) -> str:
    return repr(round(value, 9))


def shapes(p: Panel, k: float = 1.0, extra: str = "") -> str:
    cx, cy = p.x + p.width / 2, p.y + p.height / 2
    return (
        f'<rect {extra} x="{n(p.x * k)}" y="{n(p.y * k)}" width="{n(p.width * k)}" '
        f'height="{n(p.height * k)}" rx="{n(p.corner * k)}"/>'
        f'<circle {extra} cx="{n(cx * k)}" cy="{n(cy * k)}" r="{n(p.hole * k)}"/>'
    )


def absolute_path(p: Panel, k: float = 1.0) -> str:
    x, y, w, h, c, r = (n(v * k) for v in vars(p).values())
    del x, y, w, h
    x0, y0, x1, y1 = p.x, p.y, p.x + p.width, p.y + p.height
    q = p.corner
    at = [
        (x0 + q, y0), (x1 - q, y0), (x1, y0 + q), (x1, y1 - q),
        (x1 - q, y1), (x0 + q, y1), (x0, y1 - q), (x0, y0 + q),
    ]  # fmt: skip
    s = [f"{n(a * k)},{n(b * k)}" for a, b in at]
    corner = f"A{c},{c} 0 0 1 "
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    left, right = (f"{n((cx + d) * k)} {n(cy * k)}" for d in (-p.hole, p.hole))
    return (
        f'<path d="M{s[0]}L{s[1]}{corner}{s[2]}L{s[3]}{corner}{s[4]}L{s[5]}{corner}'
        f"{s[6]}L{s[7]}{corner}{s[0]}ZM{right}A{r} {r} 0 1 1 {left}"
        f'A{r} {r} 0 1 1 {right}Z"/>'
    )


def relative_path(p: Panel) -> str:
    q, w, h, r = p.corner, p.width - 2 * p.corner, p.height - 2 * p.corner, p.hole
    # The hole's start against the outline's, flags run together.
    hx, hy = p.width / 2 - q + r, p.height / 2
    return (
        f'<path d="m{n(p.x + q)} {n(p.y)}h{n(w)}a{n(q)} {n(q)} 0 01{n(q)} {n(q)}'
        f"v{n(h)}a{n(q)} {n(q)} 0 01{n(-q)} {n(q)}h{n(-w)}a{n(q)} {n(q)} 0 01{n(-q)} "
        f"{n(-q)}v{n(-h)}a{n(q)} {n(q)} 0 01{n(q)} {n(-q)}zm{n(hx)} {n(hy)}"
        f'a{n(r)} {n(r)} 0 10{n(-2 * r)} 0a{n(r)} {n(r)} 0 10{n(2 * r)} 0z"/>'
    )


def page(size: str, body: str) -> str:
    return f"<svg {XMLNS} {size}>{body}</svg>"


MM_PAGE = 'width="300mm" height="200mm" viewBox="0 0 300 200"'
PX = 96 / 25.4

DIALECTS: dict[str, Callable[[Panel], str]] = {
    "path": lambda p: page(MM_PAGE, absolute_path(p)),
    "relative path": lambda p: page(MM_PAGE, relative_path(p)),
    "inch page": lambda p: page(
        f'width="{300 / 25.4!r}in" height="{200 / 25.4!r}in" viewBox="0 0 300 200"',
        shapes(p),
    ),
    "points": lambda p: page(
        'width="300mm" height="200mm" viewBox="0 0 850.393700787 566.929133858"',
        shapes(p, 72 / 25.4),
    ),
    "pixels": lambda p: page('width="300mm" height="200mm"', shapes(p, PX)),
    "shifted view": lambda p: page(
        'width="30cm" height="20cm" viewBox="-50 -70 300 200"',
        f'<g transform="translate(-50,-70)">{absolute_path(p)}</g>',
    ),
    "nested groups": lambda p: page(
        MM_PAGE,
        f'<g transform="translate(20 30)rotate(90)"><g transform="scale(2)">'
        f'<g transform="matrix(.5 0 0 .5 0 0) rotate(-90) translate(-20 -30)">'
        f"{shapes(p)}</g></g></g>",
    ),
    "mirrored twice": lambda p: page(
        MM_PAGE,
        f'<g transform="scale(1,-1)"><g transform="scale(1,-1)">{relative_path(p)}'
        "</g></g>",
    ),
    "css transform": lambda p: page(
        MM_PAGE,
        f'<g style="transform:rotate(180deg);transform-origin:center">'
        f'<g style="rotate:.5turn;transform-origin:150px 100px">{shapes(p)}</g></g>',
    ),
    "use": lambda p: page(
        MM_PAGE,
        f'<defs><g id="a" transform="translate(-7 -9)">{shapes(p)}</g></defs>'
        f'<use href="#a" x="7" y="9"/>',
    ),
    "symbol": lambda p: page(
        MM_PAGE,
        f'<symbol id="s" viewBox="0 0 600 400">{shapes(p, 2.0)}</symbol>'
        f'<use href="#s" width="300" height="200"/>',
    ),
    "nested svg": lambda p: page(
        MM_PAGE,
        f'<svg viewBox="0 0 1 1"><svg viewBox="0 0 30 20" x="-.25" '
        f'width="1.5" height="1">{shapes(p, 0.1)}</svg></svg>',
    ),
    "styles": lambda p: page(
        MM_PAGE,
        f"<style>.k{{transform:scale(2);fill:none;stroke:red}}</style>"
        f"{shapes(p, 0.5, 'class=' + chr(34) + 'k' + chr(34))}",
    ),
    "four turns": lambda p: page(
        MM_PAGE,
        f'<g transform="rotate(33 150 100)rotate(57 150 100)rotate(-90 150 100)">'
        f"{absolute_path(p)}</g>",
    ),
}


def read(text: str) -> Drawing:
    return read_svg_data(text.encode(), "case.svg")


def check(p: Panel, drawing: Drawing) -> None:
    """The expectation, from the panel's numbers alone."""
    outline, hole = drawing.strokes
    top = PAGE[1]
    box = (p.x, top - p.y - p.height, p.x + p.width, top - p.y)
    assert bounds_of(outline.segments) == pytest.approx(box, abs=1e-3)
    cx, cy = p.x + p.width / 2, top - p.y - p.height / 2
    around = (cx - p.hole, cy - p.hole, cx + p.hole, cy + p.hole)
    assert bounds_of(hole.segments) == pytest.approx(around, abs=1e-3)
    area = p.width * p.height - (4 - math.pi) * p.corner**2
    assert abs(math.fsum(s.swept_area() for s in outline.segments)) == pytest.approx(
        area, rel=1e-6
    )
    corners = [s for s in outline.segments if isinstance(s, Arc)]
    assert len(corners) == 4
    for arc in corners:
        assert arc.radius == pytest.approx(p.corner, abs=1e-6)
        assert abs(arc.sweep) == pytest.approx(90.0, abs=1e-4)
    for half in hole.segments:
        assert isinstance(half, Arc)
        assert half.radius == pytest.approx(p.hole, abs=1e-6)
    assert outline.closed and hole.closed
    for stroke in drawing.strokes:
        ring = (*stroke.segments[1:], stroke.segments[0])
        for before, after in zip(stroke.segments, ring, strict=True):
            assert math.dist(before.end, after.start) <= 1e-6


@pytest.mark.parametrize("dialect", DIALECTS)
@settings(max_examples=12, deadline=None)
@given(panel=PANELS)
def test_all_dialects_give_the_same_part(dialect: str, panel: Panel) -> None:
    check(panel, read(DIALECTS[dialect](panel)))
