"""DXF: every version that ezdxf opens, ASCII and binary, to strokes in mm."""

from __future__ import annotations

import math
import struct
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import shapely
from ezdxf import colors
from ezdxf.lldxf.const import DXFError
from ezdxf.math import OCS, Matrix44, Vec3, fit_points_to_cad_cv

from ..nesting.model.curve import Arc, Cubic, Line, Segment
from ..nesting.model.errors import InputError
from ..nesting.model.motion import Point
from ..nesting.model.outline import bounds_of
from .affine import Affine
from .bezier import (
    TOLERANCE,
    bulge_segment,
    ellipse_segments,
    mapped,
    spline_segments,
)
from .chain import largest_shape
from .drawing import Drawing, Stroke, UnitReading
from .dxf_findings import KINDS, LEFT_OUT, SILENT
from .dxf_raw import place_key, zero_scaled
from .limits import Budget
from .load_dxf import load_dxf
from .notes import Notes, printable, tame
from .operations import BLACK
from .units import INSUNITS, MM_PER, header_reading, other_readings

_FAR = 1e3
"""An arc's middle may be so many times further out than what is drawn."""

_FLAT = 1e-6
"""A plane this near to level, by ratio, is level."""


@dataclass(frozen=True)
class _Place:
    """Where in the tree of blocks the reader is."""

    matrix: Matrix44 | None = None
    layer: str = ""
    colour: str = ""
    name: str = ""
    blocks: tuple[str, ...] = ()


def read_dxf(path: Path, budget: Budget, told: UnitReading | None = None) -> Drawing:
    """Return the strokes of a DXF file.

    Parameters
    ----------
    path : Path
        The file.
    budget : Budget
        What reading it may cost.
    told : UnitReading, optional
        The user's word on its unit, which overrules the header.

    Raises
    ------
    InputError
        If it cannot be opened or goes beyond a limit.
    """
    notes = Notes(str(path), KINDS)
    document = load_dxf(path, notes, budget)
    budget.check()
    header = _header_number(document, "$INSUNITS")
    unit = told.unit if told else INSUNITS.get(header or 0)
    # An unknown unit may be as large as an inch; then curves must be as fine.
    factor = told.factor if told else MM_PER[unit] if unit else 25.4
    reader = _Reader(document, notes, budget, factor, _flattened(path))
    strokes = reader.read()
    longest = largest_shape(strokes)
    if told is not None:
        others = other_readings(told.unit, longest)
        reading = replace(told, others=others)
    else:
        measurement = _header_number(document, "$MEASUREMENT")
        metric = {0: False, 1: True}.get(-1 if measurement is None else measurement)
        reading = header_reading(header, longest, metric)
    scaled = tuple(_scaled(stroke, reading.factor) for stroke in strokes)
    return Drawing(str(path), scaled, reading, notes.findings())


def _flattened(path: Path) -> frozenset[str]:
    """Return the inserts that the file scales to nothing; none if it is broken."""
    try:
        return zero_scaled(path.read_bytes())
    except (DXFError, IndexError, OSError, ValueError, struct.error):
        return frozenset()


def _header_number(document: Any, name: str) -> int | None:
    try:
        return int(document.header[name])
    except (KeyError, TypeError, ValueError, DXFError):
        return None


def _scaled(stroke: Stroke, factor: float) -> Stroke:
    if factor == 1.0:
        return stroke
    grow = Affine.scale(factor, factor)
    segments: list[Segment] = []
    for s in stroke.segments:
        if isinstance(s, Line):
            segments.append(Line(grow.point(s.start), grow.point(s.end)))
        elif isinstance(s, Arc):
            centre = grow.point(s.centre)
            segments.append(Arc(centre, s.radius * factor, s.start_angle, s.sweep))
        else:
            p0, p1, p2, p3 = map(grow.point, (s.p0, s.p1, s.p2, s.p3))
            segments.append(Cubic(p0, p1, p2, p3))
    return replace(stroke, segments=tuple(segments))


class _Reader:
    """Walks a document's entities, blocks expanded, and collects strokes."""

    def __init__(
        self,
        document: Any,
        notes: Notes,
        budget: Budget,
        factor: float,
        flattened: frozenset[str] = frozenset(),
    ) -> None:
        self._document = document
        self._flattened = flattened
        self._notes = notes
        self._budget = budget
        self._tolerance = TOLERANCE / factor
        self._reach = budget.limits.coordinate / factor
        self._strokes: list[Stroke] = []
        self._fills: list[tuple[Any, _Place, str]] = []
        self._layers: dict[str, tuple[bool, bool, str]] = {}
        self._curves = {
            "LINE": self._line,
            "ARC": self._arc,
            "CIRCLE": self._arc,
            "ELLIPSE": self._ellipse,
            "SPLINE": self._spline,
            "LWPOLYLINE": self._lwpolyline,
            "POLYLINE": self._polyline,
        }

    def read(self) -> list[Stroke]:
        """Return the strokes of the drawing itself, or of a print layout."""
        self._walk(self._document.modelspace(), _Place())
        if self._fills:
            self._read_fills()
        papers = self._papers()
        on_paper = {i: sum(_drawn(e) for e in p) for i, p in enumerate(papers)}
        count = sum(on_paper.values())
        if count and not self._strokes:
            for paper in papers:
                self._walk(paper, _Place())
            self._notes.add("dxf-paper-space-read", count=count)
        elif count:
            self._notes.add("dxf-paper-space", count=count)
        return self._strokes

    def _papers(self) -> list[Any]:
        """Return the print layouts; none where a broken file spoils their list."""
        try:
            layouts = list(self._document.layouts)
            return [p for p in layouts if p.name.casefold() != "model"]
        except (AttributeError, DXFError, KeyError, TypeError, ValueError):
            return []

    # --- walking ---

    def _walk(self, entities: Iterable[Any], place: _Place) -> None:
        for entity in entities:
            self._budget.entity()
            try:
                self._read(entity, place)
            except InputError:
                raise
            except (
                ArithmeticError,
                AttributeError,
                DXFError,
                IndexError,
                KeyError,
                TypeError,
                ValueError,
            ):
                kind = tame(entity.dxftype())
                self._notes.add("dxf-bad-entity", kind, kind)

    def _read(self, entity: Any, place: _Place) -> None:
        kind = entity.dxftype()
        dxf = entity.dxf
        layer = dxf.get("layer", "0")
        if layer == "0" and place.layer:
            layer = place.layer
        if dxf.get("invisible", 0):
            self._notes.add("dxf-invisible")
            return
        off, frozen, _ = self._layer(layer)
        if frozen or (off and kind != "INSERT"):
            if kind not in SILENT:
                self._notes.add("dxf-layer-off", detail=tame(layer))
        elif kind == "INSERT":
            self._insert(entity, layer, place)
        elif kind in self._curves:
            self._curves[kind](entity, layer, place)
        else:
            self._leave_out(entity, kind, layer, place)

    def _leave_out(self, entity: Any, kind: str, layer: str, place: _Place) -> None:
        if kind in SILENT:
            return
        if kind in ("HATCH", "MPOLYGON", "SOLID", "TRACE"):
            self._fills.append((entity, place, layer))
            return
        code, word = LEFT_OUT.get(kind, ("dxf-other", tame(kind)))
        self._notes.add(code, _label(entity, layer), word)

    def _layer(self, name: str) -> tuple[bool, bool, str]:
        """Return whether a layer is off, whether it is frozen, and its colour."""
        key = name.casefold()
        if key not in self._layers:
            try:
                entry = self._document.layers.get(name)
                self._layers[key] = (
                    entry.is_off(),
                    entry.is_frozen(),
                    _hex(entry.dxf.get("true_color"), abs(entry.dxf.get("color", 7))),
                )
            except (DXFError, AttributeError, TypeError, ValueError):
                self._layers[key] = (False, False, "")
        return self._layers[key]

    def _colour(self, entity: Any, layer: str, place: _Place) -> str:
        dxf = entity.dxf
        index = dxf.get("color", 256)
        if dxf.hasattr("true_color"):
            return _hex(dxf.true_color, 7)
        if index == 256:
            return self._layer(layer)[2]
        return place.colour if index == 0 else _hex(None, index)

    def _insert(self, insert: Any, layer: str, place: _Place) -> None:
        dxf = insert.dxf
        self._notes.add("dxf-text", count=len(insert.attribs))
        name = str(dxf.get("name", ""))
        label = tame(name)
        block = self._document.blocks.get(name)
        if block is None:
            self._notes.add("dxf-block-missing", _label(insert, layer), label)
            return
        if block.block is not None and block.block.dxf.get("flags", 0) & 12:
            self._notes.add("dxf-external", _label(insert, layer), label)
            return
        key = name.casefold()
        if key in place.blocks:
            self._notes.add("dxf-block-cycle", _label(insert, layer), label)
            return
        self._budget.depth(len(place.blocks) + 1)
        scales = [dxf.get(f"{axis}scale", 1.0) for axis in "xyz"]
        at = Vec3(dxf.get("insert", (0, 0, 0)))
        if not all(map(math.isfinite, (*scales, *at.xyz, dxf.get("rotation", 0.0)))):
            self._notes.add("dxf-out-of-range", _label(insert, layer), "block")
            return
        handle = str(dxf.get("handle") or "").upper().lstrip("0")
        keys = {handle, place_key(name, at.x, at.y)}
        if scales[0] == 0.0 or scales[1] == 0.0 or keys & self._flattened:
            self._notes.add("dxf-zero-scale", _label(insert, layer), label)
            return
        try:
            matrix = insert.matrix44()
        except (ArithmeticError, AttributeError, DXFError, TypeError, ValueError):
            self._notes.add("dxf-bad-entity", _label(insert, layer), "block")
            return
        inner = _Place(
            None,
            layer,
            self._colour(insert, layer, place),
            place.name if name.startswith("*") else name,
            (*place.blocks, key),
        )
        ocs = _ocs(insert)
        columns, rows = (
            max(int(dxf.get(f"{axis}_count", 1)), 1) for axis in ("column", "row")
        )
        across, down = (dxf.get(f"{axis}_spacing", 0.0) for axis in ("column", "row"))
        columns, rows = (columns if across else 1), (rows if down else 1)
        angle = dxf.get("rotation", 0.0)
        for row in range(rows):
            for column in range(columns):
                self._budget.entity()
                shift = Vec3(column * across, row * down).rotate_deg(angle)
                moved = ocs.to_wcs(shift)
                whole = matrix @ Matrix44.translate(*Vec3(moved).xyz)
                if place.matrix is not None:
                    whole = whole @ place.matrix
                self._walk(block, replace(inner, matrix=whole))

    # --- keeping ---

    def _usable(self, *values: float) -> bool:
        reach = self._reach
        return all(-reach <= value <= reach for value in values)

    def _keep(
        self,
        entity: Any,
        layer: str,
        place: _Place,
        segments: Sequence[Segment],
        closed: bool = False,
    ) -> None:
        """Keep joined segments as strokes; where they do not meet, a new one begins."""
        kind = entity.dxftype()
        if not segments:
            self._notes.add("dxf-no-length", _label(entity, layer), kind)
            return
        self._budget.vertices(len(segments))
        if not all(self._usable(*_numbers(segment)) for segment in segments):
            self._notes.add("dxf-out-of-range", _label(entity, layer), kind)
            return
        runs: list[list[Segment]] = [[segments[0]]]
        for segment in segments[1:]:
            if math.dist(runs[-1][-1].end, segment.start) <= 1e-6:
                runs[-1].append(segment)
            else:
                runs.append([segment])
        colour = self._colour(entity, layer, place)
        label = _label(entity, layer)
        for run in runs:
            self._strokes.append(
                Stroke(
                    tuple(run),
                    closed and len(runs) == 1,
                    printable(layer),
                    place.name,
                    colour,
                    label,
                )
            )

    def _world(self, points: Iterable[Any], place: _Place, entity: Any) -> list[Point]:
        """Return points of the world seen from above; slants are noted."""
        vectors = [Vec3(p) for p in points]
        if place.matrix is not None:
            vectors = list(place.matrix.transform_vertices(vectors))
        heights = [v.z for v in vectors]
        low, high = min(heights), max(heights)
        if high != low:
            size = max(
                max(v.x for v in vectors) - min(v.x for v in vectors),
                max(v.y for v in vectors) - min(v.y for v in vectors),
            )
            if high - low > _FLAT * size:
                self._notes.add("dxf-slanted", detail=entity.dxftype())
        elif low != 0.0:
            self._notes.add("dxf-elevation", detail=entity.dxftype())
        return [(v.x, v.y) for v in vectors]

    def _plane(
        self, entity: Any, height: float, place: _Place, layer: str
    ) -> Affine | None:
        """Return the map from an entity's own plane (OCS) to the world from above."""
        ocs = _ocs(entity)
        origin = Vec3(ocs.to_wcs(Vec3(0, 0, height)))
        ux, uy = Vec3(ocs.ux), Vec3(ocs.uy)
        if place.matrix is not None:
            origin = place.matrix.transform(origin)
            ux = place.matrix.transform_direction(ux)
            uy = place.matrix.transform_direction(uy)
        if max(abs(ux.z), abs(uy.z)) > _FLAT * max(ux.magnitude, uy.magnitude):
            self._notes.add("dxf-tilted", _label(entity, layer), entity.dxftype())
            return None
        if origin.z != 0.0:
            self._notes.add("dxf-elevation", detail=entity.dxftype())
        return Affine(ux.x, ux.y, uy.x, uy.y, origin.x, origin.y)

    # --- entities ---

    def _line(self, entity: Any, layer: str, place: _Place) -> None:
        dxf = entity.dxf
        start, end = self._world((dxf.start, dxf.end), place, entity)
        self._keep(entity, layer, place, [Line(start, end)] if start != end else [])

    def _arc(self, entity: Any, layer: str, place: _Place) -> None:
        dxf = entity.dxf
        centre, radius = Vec3(dxf.center), abs(float(dxf.radius))
        # The middle of an arc that is nearly straight is far away: so may it be.
        if not self._usable(*(v / _FAR for v in (*centre.xyz, radius))):
            self._notes.add("dxf-out-of-range", _label(entity, layer), entity.dxftype())
            return
        plane = self._plane(entity, centre.z, place, layer)
        if plane is None:
            return
        start, sweep = 0.0, 360.0
        if entity.dxftype() == "ARC":
            start = float(dxf.start_angle)
            sweep = (float(dxf.end_angle) - start) % 360.0 or 360.0
        if not (radius > 0.0 and math.isfinite(start) and math.isfinite(sweep)):
            self._keep(entity, layer, place, [])
            return
        arc = Arc((centre.x, centre.y), radius, start % 360.0, sweep)
        whole = sweep == 360.0
        if plane == Affine():
            self._keep(entity, layer, place, [arc], whole)
        else:
            self._keep(entity, layer, place, mapped(arc, plane, self._tolerance), whole)

    def _ellipse(self, entity: Any, layer: str, place: _Place) -> None:
        dxf = entity.dxf
        centre, major = Vec3(dxf.center), Vec3(dxf.major_axis)
        start, end = float(dxf.start_param), float(dxf.end_param)
        ratio = float(dxf.ratio)
        numbers = (*centre.xyz, *major.xyz, ratio)
        if not (self._usable(*numbers) and math.isfinite(start) and math.isfinite(end)):
            self._notes.add("dxf-out-of-range", _label(entity, layer), "ELLIPSE")
            return
        minor = _extrusion(entity).cross(major) * ratio
        if place.matrix is not None:
            centre = place.matrix.transform(centre)
            major = place.matrix.transform_direction(major)
            minor = place.matrix.transform_direction(minor)
        longest = max(major.magnitude, minor.magnitude)
        if max(abs(major.z), abs(minor.z)) > _FLAT * longest:
            self._notes.add("dxf-tilted", _label(entity, layer), "ELLIPSE")
            return
        if centre.z != 0.0:
            self._notes.add("dxf-elevation", detail="ELLIPSE")
        sweep = (end - start) % math.tau
        if sweep < 1e-9 or sweep > math.tau - 1e-9:
            degrees = 360.0
        else:
            degrees = math.degrees(sweep)
        segments = ellipse_segments(
            (centre.x, centre.y),
            (major.x, major.y),
            (minor.x, minor.y),
            math.degrees(start % math.tau),
            degrees,
            self._tolerance,
        )
        self._keep(entity, layer, place, segments, degrees == 360.0)

    def _spline(self, entity: Any, layer: str, place: _Place) -> None:
        controls = list(entity.control_points)
        degree, knots = int(entity.dxf.degree), [float(k) for k in entity.knots]
        weights = [float(w) for w in entity.weights]
        self._budget.vertices(len(controls) + len(entity.fit_points))
        closed = bool(entity.closed)
        if not controls:
            points = [Vec3(p) for p in entity.fit_points]
            if not all(self._usable(*p.xyz) for p in points):
                self._notes.add("dxf-out-of-range", _label(entity, layer), "SPLINE")
                return
            points = [p for i, p in enumerate(points) if i == 0 or p != points[i - 1]]
            if len(points) < 2:
                self._keep(entity, layer, place, [])
                return
            tangents = None
            dxf = entity.dxf
            if dxf.hasattr("start_tangent") and dxf.hasattr("end_tangent"):
                tangents = [Vec3(dxf.start_tangent), Vec3(dxf.end_tangent)]
            curve = fit_points_to_cad_cv(points, tangents=tangents)
            controls, degree = list(curve.control_points), curve.degree
            knots, weights = list(curve.knots()), []
        if not all(self._usable(*Vec3(p).xyz) for p in controls):
            self._notes.add("dxf-out-of-range", _label(entity, layer), "SPLINE")
            return
        if not knots:
            inner = len(controls) - degree
            knots = [0.0] * degree + [float(i) for i in range(inner + 1)]
            knots += [float(inner)] * degree
        flat = self._world(controls, place, entity)
        segments = spline_segments(
            degree,
            knots,
            flat,
            weights,
            self._tolerance,
            self._budget.expect_vertices,
        )
        self._keep(entity, layer, place, segments, closed)

    def _lwpolyline(self, entity: Any, layer: str, place: _Place) -> None:
        self._budget.expect_vertices(len(entity))
        rows = [(float(x), float(y), float(b)) for x, y, b in entity.get_points("xyb")]
        if entity.dxf.get("const_width", 0.0) > 0.0 or any(
            s > 0.0 or e > 0.0 for s, e in entity.get_points("se")
        ):
            self._notes.add("dxf-wide-line")
        height = float(entity.dxf.get("elevation", 0.0))
        self._flat_polyline(entity, layer, place, rows, height, bool(entity.closed))

    def _polyline(self, entity: Any, layer: str, place: _Place) -> None:
        self._budget.expect_vertices(len(entity.vertices))
        if entity.is_polygon_mesh or entity.is_poly_face_mesh:
            self._notes.add("dxf-3d", _label(entity, layer), "mesh")
            return
        # Control points of a curve-fitted polyline are no points of the curve.
        corners = [v for v in entity.vertices if not v.dxf.get("flags", 0) & 16]
        if entity.is_3d_polyline:
            if len(corners) < 2:
                self._keep(entity, layer, place, [])
                return
            points = self._world([v.dxf.location for v in corners], place, entity)
            if entity.is_closed:
                points.append(points[0])
            segments = [Line(a, b) for a, b in pairwise(points) if a != b]
            self._keep(entity, layer, place, segments, bool(entity.is_closed))
            return
        if entity.dxf.get("default_start_width", 0.0) > 0.0:
            self._notes.add("dxf-wide-line")
        rows = [
            (v.dxf.location.x, v.dxf.location.y, float(v.dxf.get("bulge", 0.0)))
            for v in corners
        ]
        height = float(Vec3(entity.dxf.get("elevation", (0, 0, 0))).z)
        if not height and corners:
            height = float(Vec3(corners[0].dxf.location).z)
        self._flat_polyline(entity, layer, place, rows, height, bool(entity.is_closed))

    def _flat_polyline(
        self,
        entity: Any,
        layer: str,
        place: _Place,
        rows: list[tuple[float, float, float]],
        height: float,
        closed: bool,
    ) -> None:
        if not all(
            self._usable(x, y) and math.isfinite(b) and abs(b) < 1e6 for x, y, b in rows
        ):
            self._notes.add("dxf-out-of-range", _label(entity, layer), entity.dxftype())
            return
        plane = self._plane(entity, height, place, layer)
        if plane is None:
            return
        ahead = [*rows[1:], rows[0]] if closed and rows else rows[1:]
        drawn = [
            bulge_segment((x, y), (nx, ny), b)
            for (x, y, b), (nx, ny, _) in zip(rows, ahead, strict=False)
        ]
        segments = [s for s in drawn if s is not None]
        if plane != Affine():
            segments = [
                piece for s in segments for piece in mapped(s, plane, self._tolerance)
            ]
        self._keep(entity, layer, place, segments, closed)

    # --- filled areas, where nothing else is drawn ---

    def _read_fills(self) -> None:
        """Read the edges of filled areas that lie apart from everything drawn.

        Those on or beside drawn shapes repeat their edges or shade them; filled
        faces are arrow heads then.
        """
        drawn = [bounds_of(stroke.segments) for stroke in self._strokes]
        tree = shapely.STRtree([shapely.box(*box) for box in drawn])
        for entity, place, layer in self._fills:
            before = len(self._strokes)
            try:
                count = self._fill(entity, layer, place)
                read = self._strokes[before:]
                if drawn and read:
                    box = bounds_of(s for stroke in read for s in stroke.segments)
                    arrow = entity.dxftype() in ("SOLID", "TRACE")
                    if arrow or len(tree.query(shapely.box(*box))):
                        del self._strokes[before:]
                        code, word = LEFT_OUT[entity.dxftype()]
                        self._notes.add(code, detail=word)
                        continue
            except InputError:
                raise
            except (
                ArithmeticError,
                AttributeError,
                DXFError,
                IndexError,
                TypeError,
                ValueError,
            ):
                del self._strokes[before:]
                self._notes.add("dxf-bad-entity", _label(entity, layer), "fill")
            else:
                self._notes.add("dxf-fill-read", count=count)

    def _fill(self, entity: Any, layer: str, place: _Place) -> int:
        if entity.dxftype() in ("SOLID", "TRACE"):
            corners = [Vec3(p) for p in entity.wcs_vertices()]
            points = self._world(corners, place, entity)
            edges = zip(points, [*points[1:], points[0]], strict=True)
            lines = [Line(a, b) for a, b in edges if a != b]
            self._keep(entity, layer, place, lines, True)
            return 1
        height = float(Vec3(entity.dxf.get("elevation", (0, 0, 0))).z)
        plane = self._plane(entity, height, place, layer)
        if plane is None:
            return 0
        for boundary in entity.paths:
            if hasattr(boundary, "vertices"):
                rows = [(float(x), float(y), float(b)) for x, y, b in boundary.vertices]
                self._flat_polyline(entity, layer, place, rows, height, True)
                continue
            for edge in boundary.edges:
                self._keep(
                    entity,
                    layer,
                    place,
                    [
                        piece
                        for segment in _edge_segments(
                            edge, self._tolerance, self._budget.expect_vertices
                        )
                        for piece in mapped(segment, plane, self._tolerance)
                    ],
                )
        return len(entity.paths)


def _edge_segments(
    edge: Any, tolerance: float, expect: Callable[[int], object]
) -> list[Segment]:
    """Return an edge of a hatch in the hatch's own plane."""
    kind = type(edge).__name__
    if kind == "LineEdge":
        return [Line((edge.start.x, edge.start.y), (edge.end.x, edge.end.y))]
    if kind == "ArcEdge":
        start = float(edge.start_angle)
        sweep = (float(edge.end_angle) - start) % 360.0 or 360.0
        return [Arc((edge.center.x, edge.center.y), edge.radius, start % 360.0, sweep)]
    if kind == "EllipseEdge":
        major = Vec3(edge.major_axis)
        minor = Vec3(0, 0, 1).cross(major) * edge.ratio
        start = math.degrees(edge.start_param)
        sweep = (math.degrees(edge.end_param) - start) % 360.0 or 360.0
        return ellipse_segments(
            (edge.center.x, edge.center.y),
            (major.x, major.y),
            (minor.x, minor.y),
            start,
            sweep,
            tolerance,
        )
    points = [(Vec3(p).x, Vec3(p).y) for p in edge.control_points]
    return spline_segments(
        edge.degree, edge.knot_values, points, edge.weights or (), tolerance, expect
    )


def _drawn(entity: Any) -> bool:
    return str(entity.dxftype()) != "VIEWPORT"


def _numbers(segment: Segment) -> tuple[float, ...]:
    if isinstance(segment, Line):
        return (*segment.start, *segment.end)
    if isinstance(segment, Arc):
        return segment.bounds()
    return (*segment.p0, *segment.p1, *segment.p2, *segment.p3)


def _extrusion(entity: Any) -> Vec3:
    n = Vec3(entity.dxf.get("extrusion", (0, 0, 1)))
    usable = all(map(math.isfinite, n.xyz)) and n.magnitude > 1e-9
    return n.normalize() if usable else Vec3(0, 0, 1)


def _ocs(entity: Any) -> OCS:
    return OCS(_extrusion(entity))


def _label(entity: Any, layer: str) -> str:
    handle = entity.dxf.get("handle") or ""
    return f"{entity.dxftype()} {handle} on layer {tame(layer)}".replace("  ", " ")


def _hex(true_colour: int | None, index: int) -> str:
    try:
        if true_colour is not None:
            r, g, b = colors.int2rgb(true_colour)
        elif index == 7:
            return BLACK
        else:
            r, g, b = colors.aci2rgb(index)
    except (IndexError, ValueError, TypeError):
        return ""
    return f"#{r:02x}{g:02x}{b:02x}"
