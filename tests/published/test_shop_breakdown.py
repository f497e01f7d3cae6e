"""Break-downs and reliefs against worked numbers.

Sheet sizes are common practice; pieces were worked by hand with a 3 mm kerf. Relief
geometry is elementary: a circle through the corner.
"""

from __future__ import annotations

import math

import pytest

from drystone.nesting.model.breakdown import SawStage
from drystone.nesting.model.curve import Arc
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.holding import ReliefKind
from drystone.nesting.model.job import Job
from drystone.nesting.model.machine import Saw
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout
from drystone.nesting.model.rules import Grain
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.breakdown import (
    candidates,
    equal_split,
    fits_bed,
    needs_sawing,
    sawn_stock,
)
from drystone.nesting.shop.reach import largest_cutter, largest_of, standing
from drystone.nesting.shop.relief import relieve, relieved_loop


def sheet(length: float, width: float, **more: object) -> Stock:
    outline = Outline(Loop.rectangle(length, width))
    return Stock("s", "sheet", outline, "ply", 12.0, Grain.LENGTH, 48.0, **more)  # type: ignore[arg-type]


def sizes(length: float, width: float, bed: tuple[float, float]) -> list[object]:
    return [plan.sizes for plan in candidates(sheet(length, width), bed, Saw(3.0))]


def test_a_birch_sheet_makes_four_quarters() -> None:
    """1525 x 1525 with a 3 mm kerf: four of 761 x 761."""
    assert sizes(1525, 1525, (800, 800))[0] == ((761.0, 761.0, 4),)
    plan = candidates(sheet(1525, 1525), (800, 800), Saw(3.0))[0]
    assert [cut.stage for cut in plan.cuts] == [
        SawStage.RIP,
        SawStage.CROSS,
        SawStage.CROSS,
    ]
    assert all(cut.setting == 761.0 for cut in plan.cuts)


def test_a_long_sheet_makes_six() -> None:
    """2440 x 1220 on an 820 mm bed: six of 811.3 x 608.5."""
    plan = candidates(sheet(2440, 1220), (820, 820), Saw(3.0))[0]
    ((width, height, count),) = plan.sizes
    assert width == pytest.approx(811.33, abs=0.01)
    assert (height, count) == (608.5, 6)


def test_thirds_of_an_oversize_sheet_only_just_fit() -> None:
    """2463.8 x 1244.6: thirds of 819.3 mm lie on an 820 bed and not on an 819 one."""
    assert equal_split(2463.8, 3, 3.0) == pytest.approx(819.27, abs=0.01)
    for bed, thirds in ((820.0, True), (819.0, False)):
        plans = candidates(sheet(2463.8, 1244.6), (bed, bed), Saw(3))
        found = any(abs(p.width - 819.27) < 0.01 for q in plans for p in q.pieces)
        assert found is thirds
        assert all(p.width <= bed + 1e-6 for q in plans for p in q.pieces)


def test_a_sheet_that_fits_is_left_whole() -> None:
    plan = candidates(sheet(790, 600), (600, 800), Saw(3.0))[0]
    assert plan.cuts == ()
    assert plan.sizes == ((790.0, 600.0, 1),)
    assert not needs_sawing(sheet(790, 600), (600, 800))
    assert needs_sawing(sheet(810, 600), (600, 800))
    assert not needs_sawing(sheet(810, 600), None)
    assert fits_bed(790, 600, (600, 800))


@pytest.mark.parametrize("trim", [0.0, 10.0])
@pytest.mark.parametrize("size", [(2440, 1220), (1525, 1525), (3050, 2030)])
def test_every_candidate_can_be_sawn(size: tuple[float, float], trim: float) -> None:
    """Pieces lie on the sheet, on the bed, and a kerf apart."""
    bed = (820.0, 620.0)
    for plan in candidates(sheet(*size), bed, Saw(3.0, trim)):
        for i, a in enumerate(plan.pieces):
            assert fits_bed(a.width, a.height, bed)
            assert trim - 1e-6 <= a.x <= size[0] - trim - a.width + 1e-6
            assert trim - 1e-6 <= a.y <= size[1] - trim - a.height + 1e-6
            for b in plan.pieces[i + 1 :]:
                apart_x = max(b.x - a.x - a.width, a.x - b.x - b.width)
                apart_y = max(b.y - a.y - a.height, a.y - b.y - b.height)
                assert max(apart_x, apart_y) >= 3.0 - 1e-6
        assert sum(cut.stage is SawStage.TRIM for cut in plan.cuts) == (
            4 if trim else 0
        )


def test_what_cannot_be_sawn_is_refused() -> None:
    round_board = Stock("r", "round", Outline(Loop.circle(50, 50, 50)))
    with pytest.raises(InputError, match="not a rectangle"):
        candidates(round_board, (800, 800), Saw())
    with pytest.raises(InputError, match="trim"):
        candidates(sheet(100, 100), (800, 800), Saw(3.0, 50.0))
    with pytest.raises(InputError, match="cannot be sawn"):
        candidates(sheet(1525, 1525), (60, 60), Saw())


def test_whole_sheets_are_paid() -> None:
    """Five quarters come from two sheets."""
    board = sheet(1525, 1525)
    plan = candidates(board, (800, 800), Saw(3.0))[0]
    sawn = sawn_stock(board, plan, (800, 800))
    (kind,) = sawn.blanks
    assert kind.price == pytest.approx(12.0)
    assert sawn.per_sheet == (4,)
    job = Job("j", (), sawn.blanks, layout=Layout((Blank(kind.id),) * 5))
    assert sawn.sheets(job) == 2
    assert sawn.cost(job) == 96.0


def test_grain_turns_with_a_blank_that_lies_the_other_way_round() -> None:
    board = sheet(1000, 1600)
    plan = next(
        p for p in candidates(board, (820, 1010), Saw(3.0)) if len(p.pieces) == 2
    )
    (kind,) = sawn_stock(board, plan, (820, 1010)).blanks
    assert kind.outline.size == pytest.approx((798.5, 1000))
    assert kind.grain is Grain.WIDTH


R = 3.175


def test_dog_bone() -> None:
    """Centre r on the bisector; chords 1.4142 r; 0.5708 r2 more is cut."""
    hole = Loop.rectangle(60, 40).oriented(False)
    found = relieved_loop(hole, R)
    relieved = found.loop
    assert (len(found.done), found.left, found.other) == (4, (), ())
    arcs = [s for s in relieved.segments if isinstance(s, Arc)]
    assert len(arcs) == 4
    near = min(arcs, key=lambda arc: math.hypot(*arc.centre))
    assert near.centre == pytest.approx((0.70711 * R, 0.70711 * R), abs=1e-4)
    assert math.hypot(*near.centre) == pytest.approx(R)  # through the corner
    ends = sorted([near.start, near.end])
    assert ends[0] == pytest.approx((0.0, 1.41421 * R), abs=1e-4)
    assert ends[1] == pytest.approx((1.41421 * R, 0.0), abs=1e-4)
    assert relieved.area - hole.area == pytest.approx(4 * 0.570796 * R * R, rel=1e-5)
    assert relieved.bounds[0] == pytest.approx(-0.292893 * R, rel=1e-5)


def test_t_bone() -> None:
    """Centre on the long wall; r past it; pi r2 / 2 more is cut."""
    hole = Loop.rectangle(60, 40).oriented(False)
    found = relieved_loop(hole, R, ReliefKind.T_BONE)
    relieved = found.loop
    assert (len(found.done), found.other) == (4, ())
    assert relieved.area - hole.area == pytest.approx(2 * math.pi * R * R)
    assert relieved.bounds == pytest.approx((0, -R, 60, 40 + R))


@pytest.mark.parametrize("angle", [60.0, 90.0, 120.0, 150.0])
def test_dog_bones_at_any_angle(angle: float) -> None:
    """Centre r on the bisector, chords 2 r cos(a / 2), arc of 2 (180 - a) degrees.

    Below 90 degrees a cutter comes to that circle by a lane as wide as itself, which
    ends on the walls r / sin(a / 2) from the corner; the arc is half a circle then.
    A cutter gets to r / sin(a / 2) from the corner by itself; the relief takes it
    r (1 / sin(a / 2) - 1) further, to touch the corner.
    """
    half = math.radians(angle) / 2.0
    far = 80.0
    wall = (far * math.cos(2 * half), far * math.sin(2 * half))
    # The opening lies between +x and the wall; the part is what is left of a board.
    hole = Loop.polygon([(0.0, 0.0), (far, 0.0), wall]).oriented(False)
    found = relieved_loop(hole, R)
    relieved = found.loop
    assert (0.0, 0.0) in found.done
    arcs = [s for s in relieved.segments if isinstance(s, Arc)]
    near = min(arcs, key=lambda arc: math.hypot(*arc.centre))
    assert near.centre == pytest.approx((R * math.cos(half), R * math.sin(half)))
    assert abs(near.sweep) == pytest.approx(min(2 * (180.0 - angle), 180.0))
    chord = 2 * R * math.cos(half) if angle >= 90.0 else R / math.sin(half)
    joints = [p for s in relieved.segments for p in (s.start, s.end)]
    on_walls = [p for p in joints if abs(p[1]) < 1e-9 or _on(wall, p)]
    ends = sorted(on_walls, key=lambda p: math.hypot(*p))[:2]
    assert min(math.hypot(*p) for p in ends) == pytest.approx(chord)
    assert max(math.hypot(*p) for p in ends) == pytest.approx(chord)
    further = R / math.sin(half) - math.hypot(*near.centre)
    assert further == pytest.approx(R * (1 / math.sin(half) - 1))


def _on(wall: tuple[float, float], p: tuple[float, float]) -> bool:
    return abs(wall[0] * p[1] - wall[1] * p[0]) < 1e-6


def test_only_inside_corners_are_relieved() -> None:
    """The L has one inside corner, its outside corners stay sharp."""
    points = [(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)]
    part = Part("l", "l", Outline(Loop.polygon(points)))
    result = relieve(part, 2 * R)
    assert result.done == ((10.0, 10.0),)
    assert part.area - result.part.area == pytest.approx(0.570796 * R * R, rel=1e-5)
    assert relieve(part, 2 * R, outside=False).part is part
    tight = Part(
        "t", "t", Outline(Loop.rectangle(50, 50), (Loop.rectangle(4, 4, 9, 9),))
    )
    assert len(relieve(tight, 2 * R).left) > 0


def test_pockets_are_relieved_too() -> None:
    pocket = Mark(Operation.POCKET, Loop.rectangle(30, 20, 10, 10).segments)
    part = Part("p", "p", Outline(Loop.rectangle(50, 40)), (pocket,))
    result = relieve(part, 2 * R)
    assert len(result.done) == 4
    assert Loop(result.part.marks[0].segments).area > 600


def test_what_stays_in_a_square_corner() -> None:
    """Without relief r2 (1 - pi/4) stays in each corner, with relief nothing.

    It reaches (sqrt(2) - 1) r from the drawn corner.
    """
    hole = Outline(Loop.rectangle(100, 100), (Loop.rectangle(60, 40, 20, 30),))
    part = Part("p", "p", hole)
    left = standing(part, 2 * R)
    assert len(left) == 4
    assert all(s.what == "hole" and s.entered for s in left)
    for s in left:
        assert s.area == pytest.approx(0.214602 * R * R, rel=0.1)
        assert s.depth == pytest.approx((math.sqrt(2.0) - 1.0) * R, abs=0.02)
    assert standing(relieve(part, 2 * R).part, 2 * R) == []


def test_holes_the_cutter_cannot_enter() -> None:
    outer = Loop.rectangle(100, 100)
    part = Part("p", "p", Outline(outer, (Loop.circle(50, 50, 3),)))
    (left,) = standing(part, 6.35)
    assert not left.entered
    assert left.area == pytest.approx(math.pi * 9, rel=0.01)
    assert standing(part, 6.0) == []
    largest = largest_cutter(part)
    assert largest.enters == pytest.approx(6.0, abs=0.02)
    assert largest.clears == pytest.approx(6.0, abs=0.05)
    assert largest_of(part, (3.175, 6.0, 6.35)) == 6.0
    assert largest_of(part, (8.0,)) is None


def test_a_sharp_inside_corner_has_no_clearing_cutter() -> None:
    part = Part(
        "p", "p", Outline(Loop.rectangle(100, 100), (Loop.rectangle(20, 20, 40, 40),))
    )
    largest = largest_cutter(part)
    assert largest.clears == 0.0
    assert largest.enters == pytest.approx(20.0, abs=0.02)
