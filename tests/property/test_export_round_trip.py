"""Whatever the part: job files, DXF and SVG give back the same curves."""

from __future__ import annotations

import cmath
import io
import math
import tempfile
from dataclasses import replace
from pathlib import Path

from ezdxf.filemanagement import read as read_dxf
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drystone.io.compare import chain_difference
from drystone.io.cut_order import cut_order
from drystone.io.drawing import Drawing
from drystone.io.job_file import decode_job, encode_job
from drystone.io.layers import BLANK_EDGE, OPERATION_LAYERS
from drystone.io.limits import Budget
from drystone.io.read_dxf import read_dxf as read_any_dxf
from drystone.io.read_svg import read_svg_data
from drystone.io.reread import (
    BlankFile,
    merged_arcs,
    read_exported_dxf,
    read_exported_svg,
)
from drystone.io.write_dxf import blank_dxf, combined_dxf
from drystone.io.write_svg import blank_svg
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment
from drystone.nesting.model.job import Cutting, Datum, Job
from drystone.nesting.model.motion import Motion, Point
from drystone.nesting.model.outline import Loop, Outline, bounds_of
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import KeepOut, Stock

few = settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
unit = st.floats(0.0, 1.0, allow_subnormal=False)
turns = st.one_of(st.sampled_from([0.0, 90.0, 180.0, 270.0]), st.floats(0.0, 359.99))
far = st.floats(-2000.0, 2000.0, allow_subnormal=False)


def arc_through(start: Point, end: Point, sweep: float) -> Arc:
    """Return the arc from one point to another that sweeps so many degrees."""
    a, b = complex(*start), complex(*end)
    half = math.radians(sweep) / 2.0
    centre = (a + b) / 2.0 + 1j * (b - a) / 2.0 / math.tan(half)
    angle = math.degrees(cmath.phase(a - centre))
    return Arc((centre.real, centre.imag), abs(a - centre), angle, sweep)


@st.composite
def loops(draw: st.DrawFn, x: float, y: float, size: float) -> Loop:
    """Draw a star-shaped loop of lines, arcs and Béziers, or a circle."""
    if draw(st.integers(0, 4)) == 0:
        return Loop.circle(x, y, size * (0.1 + 0.9 * draw(unit)))
    count = draw(st.integers(3, 9))
    corners = []
    for n in range(count):
        angle = 2.0 * math.pi * (n + 0.6 * draw(unit)) / count
        reach = size * (0.4 + 0.6 * draw(unit))
        corners.append((x + reach * math.cos(angle), y + reach * math.sin(angle)))
    segments: list[Segment] = []
    for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
        kind = draw(st.sampled_from("llaac"))
        if kind == "a":
            # From hair-thin to well past a half turn, both ways.
            sweep = draw(st.sampled_from([1e-3, 1.0, 45.0, 90.0, 179.9, 180.0, 250.0]))
            segments.append(arc_through(a, b, sweep * draw(st.sampled_from([1, -1]))))
        elif kind == "c":
            out = [(p[0] + size * (draw(unit) - 0.5), p[1] + size * (draw(unit) - 0.5))
                   for p in (a, b)]  # fmt: skip
            segments.append(Cubic(a, out[0], out[1], b))
        else:
            segments.append(Line(a, b))
    return Loop(tuple(segments))


@st.composite
def parts(draw: st.DrawFn, key: str) -> Part:
    """Draw a part with a hole and marks; where they overlap does not matter here."""
    x, y = draw(far), draw(far)
    size = draw(st.sampled_from([5.0, 60.0, 400.0]))
    outer = draw(loops(x, y, size).filter(lambda loop: loop.area > 1.0))
    drawn = [draw(loops(x, y, size / 10.0)) for _ in range(draw(st.integers(0, 2)))]
    holes = tuple(loop for loop in drawn if 0.0 < loop.area < outer.area / 3.0)
    marks = [
        Mark(Operation.POCKET, draw(loops(x, y, size / 5.0)).segments),
        # Two strokes of a letter that touch are two marks still.
        Mark(Operation.ENGRAVE, (Line((x, y), (x + size / 9.0, y)),)),
        Mark(Operation.ENGRAVE, (Line((x + size / 9.0, y), (x, y + size / 9.0)),)),
        Mark(Operation.DRILL, Loop.circle(x, y + size / 20.0, 1.5).segments),
    ]
    name = draw(st.text(max_size=12))
    return Part(
        key, name, Outline(outer, holes), tuple(marks[: draw(st.integers(0, 4))])
    )


@st.composite
def jobs(draw: st.DrawFn) -> Job:
    """Draw a job with two blanks and copies strewn over them, overlaps and all."""
    edge = Loop.polygon([(0, 0), (900, 0), (900, 300.3), (400, 300.3), (1 / 3, 600)])
    stock = (
        Stock("s", "sheet", Outline(Loop.rectangle(1525, 1525, 10.0, -5.0)),
              keep_outs=(KeepOut(Loop.circle(30, 40, 8), "screw"),)),
        Stock("l", "offcut", Outline(edge, (Loop.circle(200, 100, 20),))),
    )  # fmt: skip
    wanted = [draw(parts(key)) for key in ("a", 'b&"<\n')[: draw(st.integers(1, 2))]]
    placements = [
        Placement(part.id, copy, draw(st.integers(0, 1)), draw(far), draw(far),
                  draw(turns), draw(st.booleans()), draw(st.booleans()))
        for part in wanted
        for copy in (1, 2)
    ]  # fmt: skip
    return Job(
        "round trip",
        tuple(replace(part, quantity=2) for part in wanted),
        stock,
        Cutting(datum=draw(st.sampled_from(Datum))),
        layout=Layout((Blank("s"), Blank("l")), tuple(placements)),
    )


@few
@given(jobs())
def test_a_job_file_gives_the_job_back(job: Job) -> None:
    assert decode_job(encode_job(job)) == job


def assert_same(job: Job, read: BlankFile, tolerance: float = 1e-6) -> None:
    """Fail unless the file holds just what lies on its blank, curve for curve."""
    blank = read.number - 1
    x, y, _, _ = job.stock_of(blank).outline.bounds
    home = Motion(-x, -y)
    placed = {(p.part_id, p.copy): p for p in job.layout.on(blank)}
    assert {(piece.part_id, piece.copy) for piece in read.pieces} == set(placed)
    for piece in read.pieces:
        part = job.part(piece.part_id)
        motion = home.after(placed[piece.part_id, piece.copy].motion)
        outline = part.outline.moved(motion)
        (outer,) = piece.outers
        assert chain_difference(outline.outer.segments, outer) <= tolerance
        assert len(piece.holes) == len(outline.holes)
        for hole in outline.holes:
            assert (
                min(chain_difference(hole.segments, chain) for chain in piece.holes)
                <= tolerance
            )
        assert len(piece.marks) == len(part.marks)
        for mark in part.marks:
            wanted = mark.moved(motion).segments
            assert (
                min(
                    chain_difference(wanted, chain)
                    for layer, chain in piece.marks
                    if layer == mark.operation.value
                )
                <= tolerance
            )
    edge = job.stock_of(blank).outline.moved(home)
    assert len(edge.loops) == len(read.edge.loops)
    for a, b in zip(edge.loops, read.edge.loops, strict=True):
        assert chain_difference(a.segments, b.segments) <= tolerance


def reach(job: Job) -> float:
    """Return the largest number of all arcs, mm.

    Hair-thin arcs have radii of tens of kilometres: a unit in the last place of their
    angle or centre moves their ends by as much.
    """
    chains = [
        chain
        for part in job.parts
        for chain in (
            *(loop.segments for loop in part.outline.loops),
            *(mark.segments for mark in part.marks),
        )
    ]
    return max(
        (
            max(abs(arc.centre[0]), abs(arc.centre[1]), arc.radius)
            for chain in chains
            for arc in chain
            if isinstance(arc, Arc)
        ),
        default=0.0,
    )


@few
@given(jobs())
def test_dxf_gives_the_curves_back(job: Job) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "blank.dxf"
        for blank in (0, 1):
            data = blank_dxf(job, blank)
            path.write_bytes(data)
            (read,) = read_exported_dxf(path)
            assert_same(job, read, 2e-8 + 16.0 * math.ulp(reach(job)))
            document = read_dxf(io.StringIO(data.decode()))
            assert not document.audit().has_issues


@few
@given(jobs())
def test_the_combined_dxf_gives_the_curves_back(job: Job) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "all.dxf"
        path.write_bytes(combined_dxf(job))
        first, second = read_exported_dxf(path)
        assert_same(job, first)
        assert_same(job, second)


@few
@given(jobs())
def test_svg_gives_the_curves_back(job: Job) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "blank.svg"
        for blank in (0, 1):
            path.write_bytes(blank_svg(job, blank))
            (read,) = read_exported_svg(path)
            assert_same(job, read)


def assert_reader_agrees(job: Job, blank: int, drawing: Drawing) -> None:
    """Fail unless the reader of any drawing sees the very segments that are to cut."""
    assert (drawing.units.unit, drawing.units.factor) == ("mm", 1.0)
    edge = [s for st in drawing.strokes if st.layer == BLANK_EDGE.name
            for s in st.segments]  # fmt: skip
    left, low, _, _ = bounds_of(edge)
    found: dict[str, list[Segment]] = {}
    for stroke in drawing.strokes:
        moved = [s.moved(Motion(-left, -low)) for s in stroke.segments]
        found.setdefault(stroke.layer, []).extend(merged_arcs(moved))
    x, y, _, _ = job.stock_of(blank).outline.bounds
    for cut in cut_order(job, blank):
        there = found[OPERATION_LAYERS[cut.operation].name]
        for segment in merged_arcs(cut.moved(Motion(-x, -y)).segments):
            apart = [chain_difference((segment,), (other,)) for other in there]
            assert min(apart) <= 1e-6
            del there[apart.index(min(apart))]
    left_over = [s for layer in OPERATION_LAYERS.values()
                 for s in found.get(layer.name, ())]  # fmt: skip
    assert not left_over


@settings(few, max_examples=15)
@given(jobs())
def test_the_readers_of_any_drawing_see_the_same_segments(job: Job) -> None:
    # The other tests read with code that knows our marks; this one as a stranger.
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "blank.dxf"
        for blank in (0, 1):
            path.write_bytes(blank_dxf(job, blank))
            assert_reader_agrees(job, blank, read_any_dxf(path, Budget(str(path))))
            assert_reader_agrees(job, blank, read_svg_data(blank_svg(job, blank)))
