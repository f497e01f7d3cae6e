"""The same 30 parts written in many dialects of SVG are read as the same parts."""

from __future__ import annotations

import gzip
import math
import random
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from drystone.io.known_size import KnownSize
from drystone.io.read_drawing import look_at
from drystone.io.split import piece
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment
from drystone.nesting.model.outline import Loop

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.property.parts_corpus import PARTS, check, loops
else:  # beside this file; the tests are no package when they run
    from parts_corpus import PARTS, check, loops

XMLNS = 'xmlns="http://www.w3.org/2000/svg"'
WIDTH, HEIGHT = 1600.0, 1200.0
"""Of the page, mm; the corpus is drawn 100 mm from its left edge, y up."""
LEFT, TOP = 100.0, 1100.0

Point = tuple[float, float]


def n(value: float) -> str:
    """Return a number as SVG writes it.

    A half circle written by its ends is only as near as the square root of the last
    digit: with nine decimals of an inch it bulges by 0.001 mm too much or too little.
    """
    return f"{value:.12f}".rstrip("0").rstrip(".")


def at(p: Point) -> Point:
    """Return a point of the corpus on the page: mm from its top left corner."""
    return p[0] + LEFT, TOP - p[1]


def pair(p: Point, k: float) -> str:
    return f"{n(p[0] * k)} {n(p[1] * k)}"


def step(s: Segment, k: float) -> str:
    if isinstance(s, Line):
        return f"L{pair(at(s.end), k)}"
    assert isinstance(s, Arc)
    large, up = int(abs(s.sweep) > 180.0), int(s.sweep < 0.0)
    r = n(s.radius * k)
    if s.is_circle:
        half = at(s.point_at(0.5))
        return (
            f"A{r} {r} 0 0 {up} {pair(half, k)}A{r} {r} 0 0 {up} {pair(at(s.end), k)}"
        )
    return f"A{r},{r} 0 {large}{up}{pair(at(s.end), k)}"


def d(segments: Sequence[Segment], k: float = 1.0, close: str = "Z") -> str:
    """Return path data; turning the page over turns the arcs' flags over too."""
    start = pair(at(segments[0].start), k)
    return f"M{start}" + "".join(step(s, k) for s in segments) + close


def paths(k: float = 1.0, extra: str = "") -> str:
    return "".join(f'<path {extra} d="{d(loop.segments, k)}"/>' for loop in loops())


def compound() -> str:
    """One path for each part, holes as subpaths, relative after the first."""
    return "".join(
        f'<path fill-rule="evenodd" d="{" ".join(d(loop.segments) for loop in part)}"/>'
        for part in PARTS
    )


def shapes() -> str:
    """Rectangles, circles and polygons where the loop is one."""
    out = []
    for loop in loops():
        x0, y0, x1, y1 = loop.bounds
        (x, y), w, h = at((x0, y1)), x1 - x0, y1 - y0
        if loop.is_circle:
            out.append(f'<circle cx="{x + w / 2}" cy="{y + h / 2}" r="{w / 2}"/>')
        elif loop.is_straight and len(loop.segments) == 4:
            out.append(f'<rect x="{x}" y="{y}" width="{w}" height="{h}"/>')
        elif loop.is_straight:
            corners = " ".join(pair(at(s.start), 1.0) for s in loop.segments)
            out.append(f'<polygon points="{corners}"/>')
        else:
            radius = next(s.radius for s in loop.segments if isinstance(s, Arc))
            out.append(
                f'<rect x="{x}" y="{y}" width="{w}" height="{h}" rx="{n(radius)}"/>'
            )
    return "".join(out)


def strokes(pieces: Sequence[Segment]) -> str:
    out = []
    for s in pieces:
        (x1, y1), (x2, y2) = at(s.start), at(s.end)
        if isinstance(s, Line):
            ends = f'x1="{n(x1)}" y1="{n(y1)}" x2="{n(x2)}" y2="{n(y2)}"'
            out.append(f"<line {ends}/>")
        else:
            out.append(f'<path d="{d([s], 1.0, "")}"/>')
    return "".join(out)


def loose(twice: bool = False, shrink: float = 0.0) -> str:
    rng = random.Random(5)
    pieces = [s for loop in loops() for s in loop.segments]
    if twice:
        pieces += rng.sample(pieces, len(pieces) // 2)
    rng.shuffle(pieces)
    drawn: list[Segment] = []
    for s in pieces:
        t = shrink / s.length() if isinstance(s, Line) else 0.0
        s = piece(s, t, 1.0 - t)
        drawn.append(s.reversed() if rng.random() < 0.5 else s)
    return strokes(drawn)


def overlapping() -> str:
    drawn: list[Segment] = []
    for loop in loops():
        for s in loop.segments:
            if isinstance(s, Arc) and s.is_circle:
                drawn.append(s)
            else:
                drawn += [piece(s, 0.0, 0.6), piece(s, 0.4, 1.0).reversed()]
    return strokes(drawn)


def turned_round() -> str:
    out = []
    for i, loop in enumerate(loops()):
        ring = loop.reversed().segments
        k = i % len(ring)
        out.append(f'<path d="{d((*ring[k:], *ring[:k]))}"/>')
    return "".join(out)


def layered() -> str:
    """Outer loops and holes in groups of their own, and construction lines."""
    groups: dict[str, list[Loop]] = {
        "OutsideCut": [part[0] for part in PARTS],
        "inside": [hole for part in PARTS for hole in part[1:]],
    }
    text = ""
    for name, some in groups.items():
        drawn = "".join(f'<path d="{d(loop.segments)}"/>' for loop in some)
        text += f'<g id="{name}">{drawn}</g>'
    lines = [Line(part[0].bounds[:2], part[0].bounds[2:]) for part in PARTS]
    return f'{text}<g id="guides">{strokes(lines)}</g>'


MM = f'width="{WIDTH}mm" height="{HEIGHT}mm" viewBox="0 0 {WIDTH} {HEIGHT}"'
LOOK = 'fill="none" stroke="black" stroke-width=".2"'


def page(body: str, size: str = MM, look: str = LOOK) -> str:
    return f"<svg {XMLNS} {size}><g {look}>{body}</g></svg>"


DIALECTS: dict[str, Callable[[], str]] = {
    "paths": lambda: page(paths()),
    "filled": lambda: page(paths(), look='fill="#ccc"'),
    "filled with lines": lambda: page(paths(), look='fill="tan" stroke="navy"'),
    "compound": lambda: page(compound(), look=""),
    "shapes": lambda: page(shapes()),
    "inch page": lambda: page(
        paths(1 / 25.4),
        f'width="{WIDTH / 25.4!r}in" height="{HEIGHT / 25.4!r}in" '
        f'viewBox="0 0 {WIDTH / 25.4!r} {HEIGHT / 25.4!r}"',
    ),
    "points": lambda: page(
        paths(72 / 25.4),
        f'width="{WIDTH / 10}cm" height="{HEIGHT / 10}cm" '
        f'viewBox="0 0 {WIDTH * 72 / 25.4!r} {HEIGHT * 72 / 25.4!r}"',
    ),
    "pixels": lambda: page(paths(96 / 25.4), f'width="{WIDTH}mm" height="{HEIGHT}mm"'),
    "mirrored groups": lambda: page(
        f'<g transform="translate(0 {HEIGHT}) scale(1 -1)"><g transform="rotate(90)">'
        f'<g transform="rotate(-90) matrix(1 0 0 -1 0 {HEIGHT})">{paths()}</g></g></g>'
    ),
    "scaled groups": lambda: page(
        f'<g transform="scale(4)"><g transform="translate(9 7) scale(.125)">'
        f'<g transform="scale(2) translate(-36 -28)">{paths()}</g></g></g>'
    ),
    "stretched back": lambda: page(
        f'<g transform="scale(2 1)"><g transform="scale(.5 1)">{paths()}</g></g>'
    ),
    "uses": lambda: page(
        f'<defs><g id="a"><g id="b" transform="translate(-5 3)">{paths()}</g></g>'
        '</defs><use href="#a" x="5" y="-3"/>'
    ),
    "symbol": lambda: page(
        f'<symbol id="s" viewBox="0 0 {WIDTH * 2} {HEIGHT * 2}">{paths(2.0)}</symbol>'
        f'<use href="#s" width="{WIDTH}" height="{HEIGHT}"/>'
    ),
    "nested": lambda: page(
        f'<svg viewBox="0 0 {WIDTH / 10} {HEIGHT / 10}">{paths(0.1)}</svg>'
    ),
    "style sheet": lambda: page(
        "<style>.k{fill:none;stroke:#333;transform:scale(.5)}</style>"
        + paths(2.0, 'class="k"'),
        look="",
    ),
    "loose": lambda: page(loose()),
    "gaps": lambda: page(loose(shrink=0.008)),
    "doubled": lambda: page(loose(twice=True)),
    "overlapping": lambda: page(overlapping()),
    "turned round": lambda: page(turned_round()),
    "layers": lambda: page(layered()),
    "with other things": lambda: page(
        f'{paths()}<text x="9" y="9">Robin</text><rect width="9" height="9" '
        f'display="none"/><image href="x.png" width="9" height="9"/>'
    ),
}

SIZELESS = {"px": 96 / 25.4, "px90": 90 / 25.4, "px72": 72 / 25.4, "mm": 1.0}


def saved(path: Path, text: str, packed: bool = False) -> Path:
    data = text.encode()
    path.write_bytes(gzip.compress(data) if packed else data)
    return path


@pytest.mark.parametrize("dialect", DIALECTS)
def test_every_dialect_gives_the_same_parts(dialect: str, tmp_path: Path) -> None:
    text = DIALECTS[dialect]()
    read = look_at(saved(tmp_path / "a.svg", text, packed=dialect == "paths"))
    origins = tuple((x - LEFT, y - (HEIGHT - TOP)) for x, y in read.origins)
    check(read, origins)
    curves = {
        type(s) for p in read.parts for loop in p.outline.loops for s in loop.segments
    }
    assert Cubic not in curves  # arcs are still arcs, however they were written


@pytest.mark.parametrize("unit", SIZELESS)
@pytest.mark.parametrize("said", ["unit", "width"])
def test_a_page_without_a_size_is_read_as_told(
    unit: str, said: str, tmp_path: Path
) -> None:
    k = SIZELESS[unit]
    size = f'viewBox="0 0 {WIDTH * k} {HEIGHT * k}"'
    path = saved(tmp_path / "a.svg", page(paths(k), size))
    x0 = min(part[0].bounds[0] for part in PARTS)
    x1 = max(part[0].bounds[2] for part in PARTS)
    if said == "unit":
        read = look_at(path, unit)
    else:
        read = look_at(path, known=KnownSize(width=x1 - x0, part="drawing"))
    assert math.isclose(read.units.factor, 1 / k, rel_tol=1e-12)
    origins = tuple((x - LEFT, y - (HEIGHT - TOP)) for x, y in read.origins)
    check(read, origins)
