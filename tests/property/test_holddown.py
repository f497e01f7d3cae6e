"""Screws, tabs and relief on random layouts, checked by shapely alone."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
import shapely

from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.holding import ReliefKind
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.machine import Practice
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.shop.holddown import (
    drop_outs,
    loose_pieces,
    screw_spots,
)
from drystone.nesting.shop.relief import ROOM, relieve
from drystone.nesting.shop.relief_check import relief_fault
from drystone.nesting.shop.tabs import (
    hole_tabs,
    in_hole,
    is_small,
    tab_at,
    tabs_for,
    tabs_of,
    with_tab_list,
    with_tabs,
)

FINE = 0.002


def polygon(outline: Outline) -> shapely.Polygon:
    flat = outline.flatten(FINE)
    return shapely.Polygon(flat.outer, flat.holes)


def random_part(rng: random.Random, name: str) -> Part:
    w, h = rng.uniform(30, 260), rng.uniform(30, 260)
    kind = rng.randrange(6)
    if kind == 0:
        outline = Outline(Loop.rectangle(w, h))
    elif kind == 1:
        outline = Outline(Loop.circle(w / 2, w / 2, w / 2))
    elif kind == 2:
        points = [(0, 0), (w, 0), (w, h / 2), (w / 2, h / 2), (w / 2, h), (0, h)]
        outline = Outline(Loop.polygon(points))
    elif kind == 3:
        hole = Loop.rectangle(w * 0.6, h * 0.6, w * 0.2, h * 0.2)
        outline = Outline(Loop.rectangle(w, h), (hole,))
    elif kind == 4:  # a half disc: corners between a line and an arc
        r = min(w, h) * 0.4
        chord = Line((w / 2 - r, h * 0.05), (w / 2 + r, h * 0.05))
        hole = Loop((chord, Arc((w / 2, h * 0.05), r, 0.0, 180.0)))
        outline = Outline(Loop.rectangle(w, h), (hole,))
    else:  # a hole with a sharp, a right and a blunt corner
        slope = rng.uniform(-0.1, 0.2) * w
        corners = [(0.2, 0.2), (0.75, 0.2), (0.75, 0.7), (0.3, 0.7)]
        points = [(w * x + slope * y, h * y) for x, y in corners]
        outline = Outline(Loop.rectangle(w, h), (Loop.polygon(points),))
    return Part(name, name, outline)


def random_job(seed: int) -> Job:
    """Parts anywhere on a board, apart or not: screws must cope with any layout."""
    rng = random.Random(seed)
    parts = tuple(random_part(rng, f"p{i}") for i in range(rng.randrange(0, 8)))
    board = Stock(
        "s",
        "board",
        Outline(Loop.rectangle(rng.uniform(300, 900), rng.uniform(300, 900))),
        keep_outs=(KeepOut(Loop.circle(60, 60, rng.uniform(5, 30))),),
    )
    placed = tuple(
        Placement(
            part.id,
            1,
            0,
            rng.uniform(0, 600),
            rng.uniform(0, 600),
            rng.uniform(0, 360),
            rng.random() < 0.5,
        )
        for part in parts
    )
    cutting = Cutting(cutter=rng.choice((3.175, 6.0, 6.35)))
    return Job("j", parts, (board,), cutting, layout=Layout((Blank("s"),), placed))


@pytest.mark.parametrize("seed", range(200))
def test_screws_tabs_and_reliefs_keep_their_distance(seed: int) -> None:
    """Never in a part, never nearer to a path than asked, and none left out."""
    job = random_job(seed)
    distance = random.Random(seed).uniform(4, 25)
    spots = screw_spots(job, 0, distance=distance, count=5)
    board = polygon(job.stock[0].outline)
    keep_out = polygon(Outline(job.stock[0].keep_outs[0].loop))
    placed = [
        polygon(job.part(p.part_id).outline.moved(p.motion))
        for p in job.layout.placements
    ]
    for x, y in spots:
        at = shapely.Point(x, y)
        assert board.contains(at)
        assert at.distance(board.boundary) >= 10.0 - 1e-6
        assert at.distance(keep_out) >= distance
        for shape in placed:
            # What lies in a hole comes loose: a screw there counts as in the part.
            assert at.distance(shapely.Polygon(shape.exterior)) >= (
                job.cutting.cutter + distance
            )
    for i, a in enumerate(spots):
        assert all(math.dist(a, b) >= 40.0 for b in spots[i + 1 :])
    if len(spots) < 5:
        _check_that_there_is_no_room(job, spots, distance)
    for part in job.parts:
        _check_tabs(part, job.cutting.cutter)
        _check_relief(part, job.cutting.cutter)


def _check_that_there_is_no_room(
    job: Job, spots: tuple[tuple[float, float], ...], distance: float
) -> None:
    """No place much farther from everything than asked was overlooked."""
    board = polygon(job.stock[0].outline)
    room = board.buffer(-10.0 - 15.0)
    room = room.difference(
        polygon(Outline(job.stock[0].keep_outs[0].loop)).buffer(distance + 15.0)
    )
    away = job.cutting.cutter + distance + 15.0
    for p in job.layout.placements:
        shape = polygon(job.part(p.part_id).outline.moved(p.motion))
        room = room.difference(shapely.Polygon(shape.exterior).buffer(away))
    for x, y in spots:
        room = room.difference(shapely.Point(x, y).buffer(40.0 + 15.0))
    assert room.is_empty


def _check_tabs(part: Part, cutter: float) -> None:
    practice = Practice()
    edge = polygon(part.outline).exterior
    corners = [s.start for s in part.outline.outer.segments if isinstance(s, Line)]
    tabs = tabs_for(part, cutter, practice)
    middles = []
    for tab in tabs:
        line = shapely.LineString([tab.start, tab.end])
        assert line.length == pytest.approx(practice.tab_width)
        assert line.hausdorff_distance(line.intersection(edge.buffer(1e-6))) < 1e-3
        assert all(line.distance(shapely.Point(c)) >= cutter - 1e-6 for c in corners)
        middles.append(line)
    for i, a in enumerate(middles):
        assert all(a.distance(b) > 0.0 for b in middles[i + 1 :])
    _check_hole_tabs(part, cutter, practice)
    marked = with_tabs(with_tabs(part, cutter, practice), cutter, practice)
    assert tabs_of(marked) == tabs
    for kind in (ReliefKind.DOG_BONE, ReliefKind.T_BONE):
        taken = polygon(part.outline).difference(
            polygon(relieve(part, cutter, kind, room=ROOM).part.outline)
        )
        # Opened a little, since rounding leaves slivers along walls that were split.
        circles = shapely.get_parts(taken.buffer(-0.01).buffer(0.01))
        circles = [circle for circle in circles if not circle.is_empty]
        assert all(line.distance(c) > 0.5 for line in middles for c in circles)


def _check_hole_tabs(part: Part, cutter: float, practice: Practice) -> None:
    """Tabs lie on the edge of their hole; with them nothing falls out of it."""
    loose = drop_outs(part, cutter)
    tabs = hole_tabs(part, cutter, practice)
    assert bool(tabs) <= bool(loose), "none where nothing falls out"
    for tab in tabs:
        line = shapely.LineString(tab.along.flatten(FINE))
        assert line.length == pytest.approx(practice.tab_width, rel=1e-3)
        edges = [polygon(Outline(hole)).exterior for hole in part.outline.holes]
        assert any(e.buffer(3.0 * FINE).contains(line) for e in edges), "on the edge"
    held = with_tab_list(part, tabs)
    if tabs:
        assert drop_outs(held, cutter) == ()
        assert all(in_hole(part, tab) for tab in tabs)


def _ways_in(outline: Outline, cutter: float) -> int:
    """Return the regions a cutter's centre may take in the waste, sizeable or not."""
    shape = polygon(outline)
    room = shapely.box(*shape.buffer(2.0 * cutter).bounds).difference(shape)
    waste = room.buffer(0.01 - cutter / 2.0, quad_segs=32)
    return sum(not piece.is_empty for piece in shapely.get_parts(waste))


def _check_relief(part: Part, cutter: float) -> None:
    for kind in (ReliefKind.DOG_BONE, ReliefKind.T_BONE):
        cut = relieve(part, cutter, kind, room=ROOM)
        ways = [_ways_in(p.outline, cutter) for p in (part, cut.part)]
        assert ways[0] == ways[1], "a cutter gets to every relief from where it was"
        assert relief_fault(part.outline, cut.part.outline, cutter) == ""
        result = relieve(part, cutter, kind)
        before, after = polygon(part.outline), polygon(result.part.outline)
        assert after.is_valid
        # Relief only takes away; what an arc has left has other chords than before.
        assert after.difference(before.buffer(2.0 * FINE)).area < 0.1
        assert before.area - after.area >= len(result.done) * 0.5 * (cutter / 2) ** 2
        # Everything taken away lies within one cutter of a relieved corner.
        # Two where a lane leads to a sharp one.
        corners = shapely.MultiPoint(result.done).buffer(cutter * 2.0)
        taken = before.buffer(-2.0 * FINE).difference(after)
        assert taken.difference(corners).area < 0.1


def test_an_empty_board_gets_its_screws_in_the_corners() -> None:
    board = Stock("s", "b", Outline(Loop.rectangle(500, 400)))
    job = Job("j", (), (board,), layout=Layout((Blank("s"),)))
    spots = screw_spots(job, 0, count=4)
    assert set(spots) == {(10, 10), (490, 390), (10, 390), (490, 10)}
    assert screw_spots(job, 0, count=0) == ()


def test_how_far_screws_and_tabs_keep_off_is_the_shops_own() -> None:
    board = Stock("s", "b", Outline(Loop.rectangle(500, 400)))
    job = Job("j", (), (board,), layout=Layout((Blank("s"),)))
    practice = Practice(screw_edge=30.0, screw_apart=450.0, tab_corner=40.0)
    spots = screw_spots(job, 0, count=4, practice=practice)
    assert set(spots) == {(30, 30), (470, 370)}
    part = Part("p", "p", Outline(Loop.rectangle(300, 200)))
    for tab in tabs_for(part, 6.0, practice):
        away = [
            math.dist(tab.middle, c) for c in ((0, 0), (300, 0), (300, 200), (0, 200))
        ]
        assert min(away) >= 6.0 + 40.0 + 4.0 - 1e-9


def test_a_full_board_has_no_room_for_a_screw() -> None:
    board = Stock("s", "b", Outline(Loop.rectangle(500, 400)))
    part = Part("p", "p", Outline(Loop.rectangle(480, 380)))
    layout = Layout((Blank("s"),), (Placement("p", 1, 0, 10, 10),))
    assert screw_spots(Job("j", (part,), (board,), layout=layout), 0) == ()


def test_small_parts_and_drop_outs() -> None:
    practice = Practice()
    assert is_small(Part("p", "p", Outline(Loop.rectangle(60, 400))), practice)
    assert is_small(Part("p", "p", Outline(Loop.rectangle(80, 80))), practice)
    assert not is_small(Part("p", "p", Outline(Loop.rectangle(110, 110))), practice)
    outer = Loop.rectangle(100, 100)
    wide = Part("p", "p", Outline(outer, (Loop.circle(50, 50, 30),)))
    (spot,) = drop_outs(wide, 6.35)
    assert spot == pytest.approx((50, 50), abs=25)
    tight = Part("p", "p", Outline(outer, (Loop.circle(50, 50, 6),)))
    assert drop_outs(tight, 6.35) == ()
    round_part = Part("p", "p", Outline(Loop.circle(0, 0, 60)))
    assert tabs_for(round_part, 6.35, practice) == ()
    plain = Part("p", "p", Outline(outer), (Mark(Operation.DRILL, outer.segments),))
    marked = with_tabs(plain, 6.35, practice)
    assert [m.operation.value for m in marked.marks] == ["DRILL", *["TAB"] * 4]


def test_what_falls_out_is_held_on_straight_and_on_curved_edges() -> None:
    practice = Practice()
    leaf = Loop(
        (
            Cubic((60.0, 100.0), (80.0, 20.0), (220.0, 20.0), (240.0, 100.0)),
            Cubic((240.0, 100.0), (220.0, 180.0), (80.0, 180.0), (60.0, 100.0)),
        )
    ).oriented(False)
    holes = (
        Loop.rectangle(60, 60, 280, 70).oriented(False),
        Loop.circle(420, 100, 40).oriented(False),
        Loop.circle(480, 30, 6).oriented(False),
        leaf,
    )
    part = Part("p", "p", Outline(Loop.rectangle(500, 200), holes), tabs=None)
    tabs = hole_tabs(part, 6.35, practice)
    kinds = [type(tab.along).__name__ for tab in tabs]
    assert kinds == ["Line", "Line", "Arc", "Arc", "Cubic", "Cubic", "Cubic"]
    assert len(drop_outs(part, 6.35)) == 3, "chips are no piece"
    held = with_tab_list(part, tabs)
    assert drop_outs(held, 6.35) == ()
    assert len(drop_outs(with_tab_list(part, tabs[2:]), 6.35)) == 1
    # One more where a person clicks: on the circle, and on the outer edge.
    on_circle = tab_at(part, (450.0, 130.0), 6.35, practice)
    assert on_circle is not None and in_hole(part, on_circle)
    assert math.dist(on_circle.middle, (420, 100)) == pytest.approx(40.0, abs=1e-6)
    outside = tab_at(part, (250.0, 198.0), 6.35, practice)
    assert outside is not None and not in_hole(part, outside)
    # A slot of ten has room for a piece but none for a tab off its corners.
    stubby = Loop.rectangle(28, 28, 10, 10).oriented(False)
    small = Part("s", "s", Outline(Loop.rectangle(100, 100), (stubby,)))
    assert len(drop_outs(small, 6.35)) == 1
    assert len(hole_tabs(small, 6.35, practice)) == 2
    assert hole_tabs(small, 6.35, replace(practice, tab_width=16.0)) == ()


def test_tabs_keep_off_the_lanes_of_sharp_corners() -> None:
    """A notch and a hole with corners of 40 degrees: lanes of 2.9 radii."""
    hole = Loop.polygon([(150, 40), (250, 40), (150, 124)]).oriented(False)
    edge = [(0, 0), (300, 0), (300, 200), (190, 200), (160, 150), (130, 200), (0, 200)]
    part = Part("p", "p", Outline(Loop.polygon(edge), (hole,)))
    for cutter in (3.0, 6.35):
        practice = Practice(tab_spacing=30.0, tab_width=4.0)
        tabs = (*tabs_for(part, cutter, practice), *hole_tabs(part, cutter, practice))
        assert len(tabs) > 20
        cut = relieve(part, cutter, room=ROOM)
        assert cut.left == ()
        shape = polygon(cut.part.outline)
        for tab in tabs:
            line = shapely.LineString(tab.along.flatten(FINE))
            assert shape.boundary.buffer(1e-6).contains(line), "it is still edge"


def test_a_part_in_a_hole_is_not_loose() -> None:
    board = Stock("s", "b", Outline(Loop.rectangle(500, 400)))
    ring = Outline(Loop.rectangle(300, 300), (Loop.rectangle(200, 200, 50, 50),))
    inner = Outline(Loop.rectangle(100, 180))
    parts = (Part("r", "ring", ring), Part("i", "inner", inner))
    layout = Layout(
        (Blank("s"),), (Placement("r", 1, 0, 20, 20), Placement("i", 1, 0, 80, 80))
    )
    job = Job("j", parts, (board,), layout=layout)
    (spot,) = loose_pieces(job, 0)
    assert spot[0] > 180 + job.cutting.cutter
    tabs = hole_tabs(parts[0], job.cutting.cutter, Practice())
    held = replace(job, parts=(with_tab_list(parts[0], tabs), parts[1]))
    assert loose_pieces(held, 0) == ()
