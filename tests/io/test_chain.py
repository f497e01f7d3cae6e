"""Loose ends into loops: each case was drawn with its outcome written down first."""

from __future__ import annotations

import math
import random
from collections.abc import Iterator

import pytest

from drystone.io.chain import Chain, chain, join_tolerance, largest_shape
from drystone.io.drawing import Stroke
from drystone.io.limits import Budget
from drystone.io.notes import Notes
from drystone.io.shape_findings import KINDS
from drystone.nesting.model.curve import Arc, Cubic, Line, Segment
from drystone.nesting.model.outline import Loop


def strokes(*segments: Segment) -> list[Stroke]:
    return [Stroke((s,)) for s in segments]


def run(
    drawn: list[Stroke], tolerance: float = 0.05
) -> tuple[list[Chain], list[Chain], dict[str, int]]:
    notes = Notes("a", KINDS)
    out = chain(drawn, tolerance, notes, Budget("a"))
    for c in out:
        if c.closed:
            Loop(c.segments)  # raises unless all segments meet
    found = {f.code: f.count for f in notes.findings()}
    return [c for c in out if c.closed], [c for c in out if not c.closed], found


def square(size: float = 100.0, x: float = 0.0, y: float = 0.0) -> list[Segment]:
    return list(Loop.rectangle(size, size, x, y).segments)


def test_shuffled_and_reversed_lines_make_one_loop() -> None:
    pieces = [s.reversed() if i % 2 else s for i, s in enumerate(square())]
    random.Random(3).shuffle(pieces)
    (loop,), rest, found = run(strokes(*pieces))
    assert Loop(loop.segments).area == 10_000
    assert not rest and not found


def test_ends_0_0125_apart_join_and_say_so() -> None:
    a, b, c, d = square()
    short = Line(a.start, (100.0 - 0.0125, 0.0))
    (loop,), _, found = run(strokes(short, b, c, d), 0.02)
    assert found == {"gap-closed": 1}
    # The line is drawn out to the corner; nothing else moves.
    assert Loop(loop.segments).area == pytest.approx(10_000, abs=1e-9)


def test_a_gap_wider_than_the_tolerance_stays_and_is_reported() -> None:
    a, b, c, d = square()
    loops, (path,), found = run(strokes(Line(a.start, (99.0, 0)), b, c, d))
    assert not loops
    assert len(path.segments) == 4
    assert found == {"gap-left": 1}


def test_an_arc_is_never_bent_to_close_a_gap() -> None:
    arc = Arc((50, 0), 50, 0, 180)
    (loop,), _, found = run(strokes(arc, Line((0, 0.01), (100, -0.02))))
    assert arc in loop.segments or arc.reversed() in loop.segments
    assert found["gap-closed"] == 2


def test_two_arcs_with_a_gap_are_bridged_by_a_line() -> None:
    upper = Arc((50, 0), 50, 0, 180)
    lower = Arc((50, -0.03), 50, 180, 180)
    (loop,), _, _ = run(strokes(upper, lower))
    kinds = [type(s) for s in loop.segments]
    assert kinds.count(Arc) == 2 and kinds.count(Line) == 2
    assert {s.radius for s in loop.segments if isinstance(s, Arc)} == {50}


def test_rounding_noise_keeps_radii_and_makes_no_bridges() -> None:
    arcs = [Arc((0, 0), 50, a, 90) for a in (0, 90, 180)]
    noisy = Arc((1e-4, -2e-4), 50, 270, 90)
    (loop,), _, found = run(strokes(*arcs, noisy))
    assert all(isinstance(s, Arc) for s in loop.segments)
    assert {s.radius for s in loop.segments if isinstance(s, Arc)} == {50}
    assert not found


def test_duplicates_either_way_round_are_read_once() -> None:
    pieces = square()
    drawn = strokes(*pieces, pieces[0], pieces[1].reversed())
    (loop,), rest, found = run(drawn)
    assert len(loop.segments) == 4
    assert not rest
    assert found == {"line-doubled": 2}


def test_arcs_of_the_same_ends_but_other_bend_are_no_duplicates() -> None:
    up, down = Arc((0, 0), 10, 0, 180), Arc((0, 0), 10, 0, -180)
    (loop,), _, found = run(strokes(up, down))
    assert Loop(loop.segments).area == pytest.approx(100 * math.pi)
    assert not found


def test_dust_is_taken_out() -> None:
    drawn = strokes(*square(), Line((0, 0), (1e-9, 0)), Arc((5, 5), 1e-9, 0, 90))
    drawn.append(Stroke((Cubic((1, 1), (1, 1), (1, 1), (1, 1)),)))
    (_,), rest, found = run(drawn)
    assert not rest
    assert found == {"dust": 3}


def test_a_stroke_closed_by_coordinates_only_is_closed() -> None:
    stroke = Stroke(tuple(square()), closed=False)
    (loop,), _, _ = run([stroke])
    assert len(loop.segments) == 4


def test_a_line_that_hangs_on_a_corner_is_not_part_of_the_loop() -> None:
    (loop,), (path,), found = run(strokes(*square(), Line((100, 100), (130, 150))))
    assert Loop(loop.segments).area == 10_000
    assert path.segments == (Line((100, 100), (130, 150)),)
    assert not found


def test_a_line_from_corner_to_corner_leaves_the_outer_way() -> None:
    (loop,), (path,), found = run(strokes(*square(), Line((0, 0), (100, 100))))
    assert Loop(loop.segments).area == 10_000
    assert len(path.segments) == 1
    assert found["branch"] == 2


def test_two_squares_touching_at_a_corner_stay_two() -> None:
    loops, rest, _ = run(strokes(*square(), *square(50.0, 100.0, 100.0)))
    areas = sorted(Loop(c.segments).area for c in loops)
    assert areas == [2500, 10_000]
    assert not rest


def test_a_hole_touching_the_edge_at_a_corner_stays_a_loop() -> None:
    diamond = Loop.polygon([(0, 0), (20, 10), (30, 30), (10, 20)]).segments
    loops, rest, _ = run(strokes(*square(), *diamond))
    areas = sorted(Loop(c.segments).area for c in loops)
    assert areas == pytest.approx([300, 10_000])
    assert not rest


def test_mm_noise_beside_metre_sizes() -> None:
    big = square(2000.0)
    noise = strokes(*[Line((10 + i, 10), (10 + i, 10.5)) for i in range(20)])
    (loop,), rest, _ = run(strokes(*big) + noise)
    assert Loop(loop.segments).area == 4_000_000
    assert len(rest) == 20


def test_the_short_sides_of_a_sliver_survive() -> None:
    # 0.04 mm sides are shorter than the tolerance, but their ends meet exactly.
    sliver = list(Loop.rectangle(100.0, 0.04).segments)
    (loop,), rest, _ = run(strokes(*sliver), 0.05)
    assert Loop(loop.segments).area == pytest.approx(4.0)
    assert not rest


def test_tolerance_follows_the_drawing() -> None:
    assert join_tolerance(strokes(*square(50.0))) == 0.02
    assert join_tolerance(strokes(*square(600.0))) == pytest.approx(0.06)
    assert join_tolerance(strokes(*square(5000.0))) == 0.1
    assert join_tolerance([]) == 0.02


def test_the_largest_shape_is_one_shape_not_the_whole_drawing() -> None:
    drawn = strokes(*square(10.0), *square(30.0, 1000.0))
    assert largest_shape(drawn) == pytest.approx(30.0)


def test_thousands_of_ends_on_one_spot() -> None:
    star = [
        Line((0, 0), (999 * math.cos(k / 450), 999 * math.sin(k / 450)))
        for k in range(2800)
    ]
    loops, rest, _ = run(strokes(*star))
    assert not loops
    assert len(rest) == 2800


def test_a_branch_where_many_meet_is_not_searched_for_each(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    looked_at = 0

    class Counting(list[int]):
        def __iter__(self) -> Iterator[int]:
            nonlocal looked_at
            looked_at += len(self)
            return super().__iter__()

    monkeypatch.setattr("drystone.io.chain.list", Counting, raising=False)
    count = 500
    star = [
        Line((100.0 * math.cos(n), 100.0 * math.sin(n)), (0.0, 0.0))
        for n in range(count)
    ]
    joined = chain(strokes(*star), 0.1, Notes("a", KINDS), Budget("a"))
    assert len(joined) == count
    assert looked_at < 50 * count
