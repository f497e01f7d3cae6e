"""Exported files read again, through code of their own.

Nothing here is shared with the readers of drawings or with the writers: DXF entities
are taken one by one from ezdxf, SVG paths by a small parser of the few commands that
an export holds. What a curve belongs to is told by the marks in the file; what it is
(its shape, size and place) comes from its geometry alone.
"""

from __future__ import annotations

import io
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import defusedxml.ElementTree
from defusedxml import DefusedXmlException
from ezdxf.filemanagement import read
from ezdxf.lldxf.const import DXFError

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.errors import InputError
from ..nesting.model.motion import Motion, Point
from ..nesting.model.outline import Loop, Outline, bounds_of
from .files import read_bytes

MAX_BYTES = 512 * 1024 * 1024

TOUCH = 1e-6
"""Ends this close meet, mm."""

SAME_CIRCLE = 1e-6
"""Arcs whose centres and radii agree to this are on one circle, mm."""


@dataclass(frozen=True)
class Piece:
    """One copy of a part as it stands in a file.

    Parameters
    ----------
    part_id : str
        The part it is marked as.
    copy : int
        The copy it is marked as.
    outers : tuple of chains
        The closed curves on the layer of outer edges; there should be one.
    holes : tuple of chains
        The closed curves on the layer of holes.
    marks : tuple of (str, chain)
        Layer and curve of everything else.
    """

    part_id: str
    copy: int
    outers: tuple[tuple[Segment, ...], ...]
    holes: tuple[tuple[Segment, ...], ...]
    marks: tuple[tuple[str, tuple[Segment, ...]], ...]


@dataclass(frozen=True)
class BlankFile:
    """One blank as it stands in a file, in the blank's own coordinates, mm.

    Parameters
    ----------
    file : str
        The file's name.
    format : str
        ``dxf`` or ``svg``.
    number : int
        The blank it is marked as, from 1.
    edge : Outline
        Its edge, the least corner at (0, 0).
    datum : Point
        Where the file's coordinates count from.
    keep_outs : tuple of Loop
        The areas no cut may touch.
    pieces : tuple of Piece
        The copies on it.
    order : tuple of (str, str, int)
        Layer, part and copy of each cut, in the order of cutting.
    combined : bool
        Whether the file is one with all blanks side by side.
    screws : tuple of Point
        Places for screws.
    pins : tuple of Loop
        Registration holes.
    """

    file: str
    format: str
    number: int
    edge: Outline
    datum: Point
    keep_outs: tuple[Loop, ...]
    pieces: tuple[Piece, ...]
    order: tuple[tuple[str, str, int], ...]
    combined: bool = False
    screws: tuple[Point, ...] = ()
    pins: tuple[Loop, ...] = ()


@dataclass
class _Curve:
    """One curve with its mark; `data` is the mark's words, `number` the curve's."""

    layer: str
    data: tuple[str, ...]
    segments: tuple[Segment, ...]
    step: int = 0
    number: int = 0


@dataclass
class _Sorted:
    """The curves of one blank by what they are."""

    edges: list[tuple[Segment, ...]] = field(default_factory=list)
    keep_outs: list[tuple[Segment, ...]] = field(default_factory=list)
    screws: list[tuple[Segment, ...]] = field(default_factory=list)
    pins: list[tuple[Segment, ...]] = field(default_factory=list)
    cuts: list[_Curve] = field(default_factory=list)
    combined: bool = False


def read_exported_dxf(path: Path) -> tuple[BlankFile, ...]:
    """Return the blanks in a DXF file that Drystone wrote; none if another did.

    Raises
    ------
    InputError
        If the file cannot be read, or holds something an export never holds.
    """
    data = read_bytes(path, MAX_BYTES)
    try:
        document = read(io.StringIO(data.decode("utf-8")))
    except (UnicodeDecodeError, DXFError, ValueError) as error:
        raise InputError(
            str(path), f"cannot be read as DXF: {error}", "export it again"
        ) from error
    if document.header.get("$INSUNITS") != 4 and document.appids.has_entry("DRYSTONE"):
        raise InputError(str(path), "its units are not mm", "export it again")
    curves: list[_Curve] = []
    for step, entity in enumerate(document.modelspace()):
        if not entity.has_xdata("DRYSTONE"):
            continue
        tags = entity.get_xdata("DRYSTONE")
        words = tuple(tag.value for tag in tags if tag.code == 1000)
        number = next((tag.value for tag in tags if tag.code == 1071), 0)
        segments = _dxf_segments(entity, path)
        curves.append(_Curve(entity.dxf.layer, words, segments, step, number))
    return _blanks(_joined(curves), path.name, "dxf", str(path), None)


def _dxf_segments(entity: Any, path: Path) -> tuple[Segment, ...]:
    kind = entity.dxftype()
    if kind == "LINE":
        return (Line(_xy(entity.dxf.start), _xy(entity.dxf.end)),)
    if kind == "CIRCLE":
        return (Arc(_xy(entity.dxf.center), entity.dxf.radius, 0.0, 360.0),)
    if kind == "ARC":
        sweep = (entity.dxf.end_angle - entity.dxf.start_angle) % 360.0 or 360.0
        return (
            Arc(
                _xy(entity.dxf.center), entity.dxf.radius, entity.dxf.start_angle, sweep
            ),
        )
    if kind == "LWPOLYLINE":
        points = [
            (float(x), float(y), float(b)) for x, y, b in entity.get_points("xyb")
        ]
        following = points[1:] + points[:1] if entity.closed else points[1:]
        return tuple(
            _bulged((x, y), (u, v), bulge)
            for (x, y, bulge), (u, v, _) in zip(points, following, strict=False)
        )
    if kind == "SPLINE" and entity.dxf.degree == 3 and not entity.weights:
        points2 = [_xy(point) for point in entity.control_points]
        count, rest = divmod(len(points2) - 1, 3)
        knots = list(entity.knots)
        inner = knots[1:-1]
        triple = [inner[n : n + 3] for n in range(0, len(inner), 3)]
        if (
            rest == 0
            and count > 0
            and len(triple) == count + 1
            and all(len(three) == 3 and len(set(three)) == 1 for three in triple)
        ):
            return tuple(Cubic(*points2[3 * n : 3 * n + 4]) for n in range(count))
    raise InputError(
        str(path), f"holds a {kind} that no export writes", "export it again"
    )


def _xy(point: Any) -> Point:
    return float(point[0]), float(point[1])


def _bulged(start: Point, end: Point, bulge: float) -> Segment:
    """Return the arc of a bulge, the tangent of a quarter of its sweep."""
    if bulge == 0.0:
        return Line(start, end)
    half = complex(end[0] - start[0], end[1] - start[1]) / 2.0
    # The centre is to the left by half the chord over the tangent of half the sweep.
    sweep = 4.0 * math.atan(bulge)
    to_centre = half + half * 1j * (1.0 - bulge * bulge) / (2.0 * bulge)
    centre = (start[0] + to_centre.real, start[1] + to_centre.imag)
    radius = abs(half) * (1.0 + bulge * bulge) / (2.0 * abs(bulge))
    angle = math.degrees(math.atan2(-to_centre.imag, -to_centre.real))
    return Arc(centre, radius, angle, math.degrees(sweep))


def read_exported_svg(path: Path) -> tuple[BlankFile, ...]:
    """Return the blank in an SVG file that Drystone wrote; none if another did.

    Raises
    ------
    InputError
        If the file cannot be read, or holds something an export never holds.
    """
    data = read_bytes(path, MAX_BYTES)
    try:
        root = defusedxml.ElementTree.fromstring(data, forbid_dtd=True)
    except (
        defusedxml.ElementTree.ParseError,
        DefusedXmlException,
        ValueError,
    ) as error:
        raise InputError(
            str(path), f"cannot be read as SVG: {error}", "export it again"
        ) from error
    if root.get("data-drystone") != "blank":
        return ()
    try:
        left, top, width, height = map(float, root.get("viewBox", "").split())
        datum_x, datum_y = map(float, root.get("data-datum", "").split())
        number = root.get("data-blank", "")
        int(number)
    except ValueError as error:
        raise InputError(
            str(path), "its page or datum is damaged", "export it again"
        ) from error
    page = [
        float(root.get(key, "0mm").removesuffix("mm")) for key in ("width", "height")
    ]
    if page != [width, height] or not root.get("width", "").endswith("mm"):
        raise InputError(str(path), "its page is not in mm", "export it again")

    def at(x: float, y: float) -> Point:
        return x - left, top + height - y

    curves: list[_Curve] = []
    for group in root:
        layer = group.get("id", "")
        for element in group:
            kind = element.tag.rpartition("}")[2]
            if layer == "TEXT" or kind in ("title", "text"):
                continue
            if kind == "circle":
                x, y, r = (float(element.get(key, "nan")) for key in ("cx", "cy", "r"))
                chains: list[tuple[Segment, ...]] = [(Arc(at(x, y), r, 0.0, 360.0),)]
            elif kind == "path":
                chains = _path(element.get("d", ""), at, str(path))
            else:
                raise InputError(str(path), f"holds a {kind} that no export writes")
            if layer == "BLANK_EDGE":
                words: tuple[str, ...] = ("blank", number)
            elif layer == "KEEP_OUT":
                words = ("keep-out", number)
            elif layer == "SCREW":
                words = ("screw", number)
            elif layer == "DRILL" and element.get("data-drystone") == "pin":
                words = ("pin", number)
            else:
                copy, part = element.get("data-copy", ""), element.get("data-part", "")
                words = ("cut", number, copy, part)
            step = int(element.get("data-order", "0"))
            curves += [_Curve(layer, words, chain, step) for chain in chains]
    return _blanks(curves, path.name, "svg", str(path), at(datum_x, datum_y))


_TOKEN = re.compile(r"[MLCAZ]|[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


def _path(data: str, at: Any, where: str) -> list[tuple[Segment, ...]]:
    """Return the subpaths of path data made of absolute M, L, C, A and Z."""
    if _TOKEN.sub("", data).strip(" ,\n\t"):
        raise InputError(where, "holds path data that no export writes")
    chains: list[list[Segment]] = []
    tokens = iter(_TOKEN.findall(data))
    here = begin = (math.nan, math.nan)

    def number() -> float:
        return float(next(tokens))

    def point() -> Point:
        x = number()
        place: Point = at(x, number())
        return place

    try:
        for command in tokens:
            if command == "M":
                here = begin = point()
                chains.append([])
            elif command == "L":
                end = point()
                chains[-1].append(Line(here, end))
                here = end
            elif command == "C":
                p1, p2, end = point(), point(), point()
                chains[-1].append(Cubic(here, p1, p2, end))
                here = end
            elif command == "A":
                radius, other, _, large, sweep = (number() for _ in range(5))
                end = point()
                if radius != other or large:
                    raise InputError(where, "holds an arc that no export writes")
                # Turning y over makes the positive direction the negative one.
                chains[-1].append(_short_arc(here, end, radius, -1 if sweep else 1))
                here = end
            elif command == "Z":
                if math.dist(here, begin) > 1e-9:
                    chains[-1].append(Line(here, begin))
                here = begin
            else:
                raise InputError(where, "holds path data that no export writes")
    except (StopIteration, RuntimeError, ValueError, IndexError) as error:
        raise InputError(where, "holds damaged path data", "export it again") from error
    return [merged_arcs(chain) for chain in chains]


def _short_arc(start: Point, end: Point, radius: float, direction: int) -> Arc:
    """Return the arc below a half turn, direction +1 for counter-clockwise."""
    half = complex(end[0] - start[0], end[1] - start[1]) / 2.0
    rise = math.sqrt(max(radius * radius - abs(half) ** 2, 0.0))
    to_centre = half + half / abs(half) * 1j * rise * direction
    centre = (start[0] + to_centre.real, start[1] + to_centre.imag)
    angle = math.degrees(math.atan2(-to_centre.imag, -to_centre.real))
    sweep = 2.0 * math.degrees(math.asin(min(abs(half) / radius, 1.0)))
    return Arc(centre, radius, angle, direction * sweep)


def merged_arcs(chain: Iterable[Segment]) -> tuple[Segment, ...]:
    """Return a chain in which neighbouring arcs of one circle are one arc."""
    kept: list[Segment] = []
    for segment in chain:
        last = kept[-1] if kept else None
        if isinstance(last, Arc) and isinstance(segment, Arc):
            whole = _one_arc(last, segment)
            if whole is not None:
                kept[-1] = whole
                continue
        kept.append(segment)
    return tuple(kept)


def _one_arc(a: Arc, b: Arc) -> Arc | None:
    """Return two arcs as one, or None where they are not."""
    sweep = a.sweep + b.sweep
    if (
        math.dist(a.centre, b.centre) > SAME_CIRCLE
        or abs(a.radius - b.radius) > SAME_CIRCLE
        or (a.sweep > 0.0) != (b.sweep > 0.0)
        or math.dist(a.end, b.start) > SAME_CIRCLE
        or abs(sweep) > 360.0 + 1e-6
    ):
        return None
    if abs(abs(sweep) - 360.0) <= 1e-6:
        sweep = math.copysign(360.0, sweep)
    centre = ((a.centre[0] + b.centre[0]) / 2.0, (a.centre[1] + b.centre[1]) / 2.0)
    return Arc(centre, a.radius, a.start_angle, sweep)


def _joined(curves: Sequence[_Curve]) -> list[_Curve]:
    """Return the curves, entities of one that meet end to end made one again."""
    chains: list[_Curve] = []
    for curve in curves:
        last = chains[-1] if chains else None
        if (
            last is not None
            and (last.number, last.layer, last.data)
            == (curve.number, curve.layer, curve.data)
            and not _closed(last.segments)
            and not _closed(curve.segments)
        ):
            together = _end_to_end(last.segments, curve.segments)
            if together:
                last.segments = together
                continue
        chains.append(replace(curve))
    return chains


def _closed(chain: Sequence[Segment]) -> bool:
    return math.dist(chain[0].start, chain[-1].end) <= TOUCH


def _turned(chain: Sequence[Segment]) -> tuple[Segment, ...]:
    return tuple(segment.reversed() for segment in reversed(chain))


def _end_to_end(
    a: tuple[Segment, ...], b: tuple[Segment, ...]
) -> tuple[Segment, ...] | None:
    """Return two chains as one; a file's arcs may run the other way round."""
    for first in (a, _turned(a)):
        for second in (b, _turned(b)):
            if math.dist(first[-1].end, second[0].start) <= TOUCH:
                return first + second
    return None


def _blanks(
    curves: Sequence[_Curve], file: str, kind: str, where: str, datum: Point | None
) -> tuple[BlankFile, ...]:
    by_number: dict[int, _Sorted] = {}
    for curve in curves:
        try:
            group, number = curve.data[0], int(curve.data[1])
            if group == "cut":
                int(curve.data[2])
        except (IndexError, ValueError) as error:
            raise InputError(
                where, "a curve's mark is damaged", "export it again"
            ) from error
        found = by_number.setdefault(number, _Sorted())
        if group == "blank":
            found.edges.append(curve.segments)
            found.combined = curve.data[2:] == ("combined",)
        elif group == "keep-out":
            found.keep_outs.append(curve.segments)
        elif group == "screw":
            found.screws.append(curve.segments)
        elif group == "pin" and curve.layer == "DRILL":
            found.pins.append(curve.segments)
        else:
            found.cuts.append(curve)
    return tuple(
        _blank(number, found, file, kind, where, datum)
        for number, found in sorted(by_number.items())
    )


def _blank(
    number: int, found: _Sorted, file: str, kind: str, where: str, datum: Point | None
) -> BlankFile:
    try:
        loops = sorted((Loop(chain) for chain in found.edges), key=lambda x: x.area)
        if not loops:
            raise InputError("", "the blank's edge is missing")
        edge = Outline(loops[-1], tuple(loops[:-1]))
        home = Motion(-edge.bounds[0], -edge.bounds[1])
        keep_outs = tuple(Loop(chain).moved(home) for chain in found.keep_outs)
        pins = tuple(Loop(chain).moved(home) for chain in found.pins)
    except InputError as error:
        raise InputError(
            where, f"blank {number}: {error.what}", "export it again"
        ) from error
    cuts = sorted(found.cuts, key=lambda curve: curve.step)
    pieces: dict[tuple[str, int], list[_Curve]] = {}
    order: list[tuple[str, str, int]] = []
    for curve in cuts:
        key = (unquote("".join(curve.data[3:])), int(curve.data[2]))
        pieces.setdefault(key, []).append(curve)
        order.append((curve.layer, *key))
    return BlankFile(
        file=file,
        format=kind,
        number=number,
        edge=edge.moved(home),
        datum=home.point(datum or (0.0, 0.0)),
        keep_outs=keep_outs,
        pieces=tuple(_piece(key, curves, home) for key, curves in pieces.items()),
        order=tuple(order),
        combined=found.combined,
        screws=tuple(home.point(_middle(chain)) for chain in found.screws),
        pins=pins,
    )


def _middle(chain: Sequence[Segment]) -> Point:
    """Return the middle of the box round a chain."""
    x0, y0, x1, y1 = bounds_of(chain)
    return (x0 + x1) / 2.0, (y0 + y1) / 2.0


def _piece(key: tuple[str, int], curves: Sequence[_Curve], home: Motion) -> Piece:
    def on(layer: str) -> tuple[tuple[Segment, ...], ...]:
        return tuple(moved(c.segments, home) for c in curves if c.layer == layer)

    return Piece(
        part_id=key[0],
        copy=key[1],
        outers=on("OUTSIDE"),
        holes=on("INSIDE"),
        marks=tuple(
            (c.layer, moved(c.segments, home))
            for c in curves
            if c.layer not in ("OUTSIDE", "INSIDE")
        ),
    )


def moved(chain: Sequence[Segment], motion: Motion) -> tuple[Segment, ...]:
    """Return a chain after a rigid motion."""
    return tuple(segment.moved(motion) for segment in chain)
