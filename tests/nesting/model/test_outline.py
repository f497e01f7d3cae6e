"""Loops and outlines."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Polygon

from drystone.nesting.model.curve import Arc, Line
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.motion import Motion
from drystone.nesting.model.outline import Loop, Outline


def test_an_open_loop_is_refused_with_its_place() -> None:
    with pytest.raises(InputError, match=r"open by 2 mm at \(10\.000, 2\.000\)"):
        Loop((Line((0, 0), (10, 0)), Line((10, 0), (10, 2)), Line((10, 4), (0, 0))))


def test_no_segment_is_refused() -> None:
    with pytest.raises(InputError, match="at least one segment"):
        Loop(())


def test_directions_are_put_right() -> None:
    clockwise = Loop.rectangle(10, 5).reversed()
    outline = Outline(clockwise, (Loop.circle(5, 2, 1),))
    assert outline.outer.signed_area == 50
    assert outline.holes[0].signed_area == pytest.approx(-math.pi)
    assert outline.area == pytest.approx(50 - math.pi)


def test_a_flipped_outline_keeps_its_area_and_directions() -> None:
    outline = Outline(Loop.rectangle(10, 5), (Loop.circle(5, 2, 1),))
    flipped = outline.moved(Motion(3, 4, 30, flipped=True))
    assert flipped.area == pytest.approx(outline.area)
    assert flipped.outer.signed_area > 0 > flipped.holes[0].signed_area


def test_flattening_states_its_error() -> None:
    straight = Outline(Loop.rectangle(10, 5))
    assert straight.flatten(0.1).error == 0
    round_hole = Outline(Loop.rectangle(10, 5), (Loop.circle(5, 2, 1),))
    flat = round_hole.flatten(0.001)
    assert flat.error == 0.001
    grown = Polygon(flat.outer, flat.holes).buffer(flat.error)
    assert grown.area > round_hole.area


def test_grown_by_its_error_the_flat_outline_contains_the_true_one() -> None:
    ring = Outline(Loop.circle(0, 0, 50), (Loop.circle(0, 0, 30),))
    flat = ring.flatten(0.05)
    grown = Polygon(flat.outer, flat.holes).buffer(flat.error, quad_segs=32)
    fine = ring.flatten(1e-5)
    assert grown.contains(Polygon(fine.outer, fine.holes).buffer(-1e-4))


def test_a_lone_circle_is_known_as_one() -> None:
    assert Loop.circle(1, 2, 3).is_circle
    assert not Loop.rectangle(1, 2).is_circle
    half = Arc((0, 0), 1, 0, 180)
    assert not Loop((half, Line(half.end, half.start))).is_circle
