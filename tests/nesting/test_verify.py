"""The independent check accepts what is right and names what is wrong."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest

from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.placement import (
    Blank,
    Layout,
    Placement,
    Reason,
    Unplaced,
)
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.verify import Kind, polygon_of, short_clearance, summary, verify

SQUARE = Outline(Loop.rectangle(100, 100))
RING = Outline(Loop.circle(0, 0, 100), (Loop.circle(0, 0, 60),))
DISC = Outline(Loop.circle(0, 0, 50))
GAP, MARGIN = 8.0, 12.0


def part(name: str, outline: Outline, quantity: int = 1, **more: object) -> Part:
    return Part(name, name, outline, quantity=quantity, **more)  # type: ignore[arg-type]


def sheet(**more: object) -> Stock:
    outline = more.pop("outline", Outline(Loop.rectangle(1000, 600)))
    return Stock("sheet", "sheet", outline, **more)  # type: ignore[arg-type]


def job_of(
    parts: Sequence[Part],
    placements: Sequence[Placement],
    stock: Stock | None = None,
    gap: float = GAP,
    margin: float = MARGIN,
) -> Job:
    blanks = 1 + max((p.blank for p in placements), default=0)
    return Job(
        "test",
        tuple(parts),
        (stock or sheet(),),
        Cutting(cutter=gap, allowance=0.0, margin=margin),
        layout=Layout(tuple(Blank("sheet") for _ in range(blanks)), tuple(placements)),
    )


def kinds(job: Job) -> list[Kind]:
    return [problem.kind for problem in verify(job).problems]


def two_squares(distance: float, gap: float = GAP) -> Job:
    return job_of(
        [part("a", SQUARE, 2)],
        [Placement("a", 1, 0, 12, 12), Placement("a", 2, 0, 112 + distance, 12)],
        gap=gap,
    )


def two_discs(distance: float, gap: float = GAP) -> Job:
    step = 100 + distance
    turn = math.radians(33.0)
    return job_of(
        [part("a", DISC, 2)],
        [
            Placement("a", 1, 0, 100, 100),
            Placement(
                "a", 2, 0, 100 + step * math.cos(turn), 100 + step * math.sin(turn), 77
            ),
        ],
        gap=gap,
    )


@pytest.mark.parametrize("pair", [two_squares, two_discs])
def test_the_gap_exactly_kept_is_accepted(pair: object) -> None:
    assert verify(pair(GAP)).ok  # type: ignore[operator]
    assert verify(pair(0.0, gap=0.0)).ok  # type: ignore[operator]


@pytest.mark.parametrize("pair", [two_squares, two_discs])
def test_a_gap_short_by_two_hundredths_is_refused(pair: object) -> None:
    (problem,) = verify(pair(GAP - 0.02)).problems  # type: ignore[operator]
    assert problem.kind is Kind.GAP
    assert (problem.part, problem.copy, problem.other) == ("a", 1, "a/2")
    assert problem.measured == pytest.approx(GAP - 0.02, abs=0.0025)
    assert problem.wanted == GAP


@pytest.mark.parametrize("gap", [0.0, 0.002, GAP])
@pytest.mark.parametrize("pair", [two_squares, two_discs])
def test_an_overlap_of_two_hundredths_is_refused(pair: object, gap: float) -> None:
    (problem,) = verify(pair(-0.02, gap=gap)).problems  # type: ignore[operator]
    assert problem.kind is Kind.OVERLAP
    assert problem.measured == pytest.approx(-0.02, abs=0.0025)


def test_touching_is_a_gap_too_small_not_an_overlap() -> None:
    assert kinds(two_squares(0.0)) == [Kind.GAP]


def test_copies_in_the_very_same_place_overlap() -> None:
    job = job_of(
        [part("a", SQUARE, 2)],
        [Placement("a", 1, 0, 50, 50), Placement("a", 2, 0, 50, 50)],
        gap=0.0,
    )
    (problem,) = verify(job).problems
    assert problem.kind is Kind.OVERLAP
    assert problem.measured == pytest.approx(-100.0, abs=1.0)


def test_crossed_bars_overlap_though_no_corner_is_inside() -> None:
    bar = Outline(Loop.rectangle(200, 10))
    job = job_of(
        [part("a", bar, 2)],
        [Placement("a", 1, 0, 50, 150), Placement("a", 2, 0, 150, 50, turn=90)],
        gap=0.0,
    )
    assert kinds(job) == [Kind.OVERLAP]


def test_a_needle_in_a_wall_overlaps_though_it_has_hardly_any_area() -> None:
    needle = Outline(Loop.polygon([(0, 0), (-300, 3), (-300, -3)]))
    wall = part("w", Outline(Loop.rectangle(50, 400)))
    for depth, wanted in ((0.0, []), (0.02, [Kind.OVERLAP])):
        placements = [Placement("w", 1, 0, 400, 20)]
        placements.append(Placement("n", 1, 0, 400 + depth, 200))
        assert kinds(job_of([wall, part("n", needle)], placements, gap=0)) == wanted


def test_containment_is_caught_where_no_edges_touch() -> None:
    small = part("b", Outline(Loop.rectangle(10, 10)))
    placements = [Placement("a", 1, 0, 50, 50), Placement("b", 1, 0, 95, 95)]
    job = job_of([part("a", SQUARE), small], placements)
    assert kinds(job) == [Kind.OVERLAP]


@pytest.mark.parametrize(
    ("x", "expected"),
    [(300.0, []), (302.0, []), (302.03, [Kind.GAP]), (310.0, [Kind.GAP])],
)
def test_a_part_in_a_hole_stays_a_gap_away_from_its_edge(
    x: float, expected: list[Kind]
) -> None:
    parts = [part("ring", RING), part("disc", DISC)]
    placements = [Placement("ring", 1, 0, 300, 300), Placement("disc", 1, 0, x, 300)]
    assert kinds(job_of(parts, placements)) == expected


def test_a_part_in_the_material_of_a_ring_overlaps() -> None:
    parts = [part("ring", RING), part("disc", Outline(Loop.circle(0, 0, 5)))]
    placements = [Placement("ring", 1, 0, 300, 300), Placement("disc", 1, 0, 380, 300)]
    assert kinds(job_of(parts, placements)) == [Kind.OVERLAP]


@pytest.mark.parametrize(
    ("x", "expected"),
    [
        (12.0, []),
        (11.998, []),
        (11.98, [Kind.MARGIN]),
        (0.0, [Kind.MARGIN]),
        (-1.0, [Kind.OUTSIDE]),
        (-500.0, [Kind.OUTSIDE]),
    ],
)
def test_the_margin(x: float, expected: list[Kind]) -> None:
    job = job_of([part("a", SQUARE)], [Placement("a", 1, 0, x, 12)])
    assert kinds(job) == expected


def test_the_margin_holds_along_any_outline_and_round_its_holes() -> None:
    ell = Loop.polygon(
        [(0, 0), (1000, 0), (1000, 300), (300, 300), (300, 600), (0, 600)]
    )
    board = sheet(outline=Outline(ell, (Loop.circle(700, 150, 20),)))

    def at(x: float, y: float) -> list[Kind]:
        return kinds(job_of([part("a", SQUARE)], [Placement("a", 1, 0, x, y)], board))

    assert at(188, 450) == []
    assert at(188.02, 450) == [Kind.MARGIN]
    assert at(400, 250) == [Kind.OUTSIDE]
    assert at(732, 100) == []
    assert at(731.98, 100) == [Kind.MARGIN]
    assert at(650, 100) == [Kind.OUTSIDE]


def test_a_keep_out_is_a_gap_away_and_never_inside() -> None:
    board = sheet(keep_outs=(KeepOut(Loop.circle(300, 300, 10), "screw"),))

    def at(x: float, gap: float = GAP) -> list[Kind]:
        placements = [Placement("a", 1, 0, x, 250)]
        return kinds(job_of([part("a", SQUARE)], placements, board, gap))

    assert at(318) == []
    assert at(317.98) == [Kind.KEEP_OUT]
    assert at(250) == [Kind.KEEP_OUT]
    assert at(310, gap=0) == []
    assert at(309.98, gap=0) == [Kind.KEEP_OUT]


def test_a_keep_out_may_lie_in_the_hole_of_a_part() -> None:
    board = sheet(keep_outs=(KeepOut(Loop.circle(300, 300, 40)),))
    job = job_of([part("r", RING)], [Placement("r", 1, 0, 300, 300)], board)
    assert kinds(job) == []


@pytest.mark.parametrize(
    ("rule", "grain", "turn", "fine"),
    [
        ("grain", Grain.LENGTH, 180.0, True),
        ("grain", Grain.LENGTH, 90.0, False),
        ("grain", Grain.WIDTH, 90.0, True),
        ("grain", Grain.NONE, 33.0, True),
        ("fixed", Grain.NONE, 0.001, False),
        ("90", Grain.LENGTH, -90.0, True),
        ("90", Grain.LENGTH, 45.0, False),
        ("any", Grain.LENGTH, 45.0, True),
    ],
)
def test_the_turn_rule(rule: str, grain: Grain, turn: float, fine: bool) -> None:
    job = job_of(
        [part("a", SQUARE, turn=TurnRule.parse(rule))],
        [Placement("a", 1, 0, 300, 300, turn)],
        sheet(grain=grain),
    )
    assert kinds(job) == ([] if fine else [Kind.TURN])


@pytest.mark.parametrize("leave", [False, True])
def test_flipped_only_with_leave(leave: bool) -> None:
    job = job_of(
        [part("a", SQUARE, flip=leave)], [Placement("a", 1, 0, 300, 300, 0, True)]
    )
    assert kinds(job) == ([] if leave else [Kind.FLIP])


def test_a_missing_copy() -> None:
    job = job_of([part("a", SQUARE, 2)], [Placement("a", 1, 0, 300, 300)])
    (problem,) = verify(job).problems
    assert (problem.kind, problem.measured, problem.wanted) == (Kind.MISSING, 1, 2)
    tray = (Unplaced("a", 1, Reason.STOCK_USED_UP),)
    assert verify(job, replace(job.layout, unplaced=tray)).ok
    tray = (Unplaced("a", 2, Reason.STOCK_USED_UP),)
    (problem,) = verify(job, replace(job.layout, unplaced=tray)).problems
    assert problem.kind is Kind.TOO_MANY


def test_a_doubled_copy() -> None:
    placements = [Placement("a", 1, 0, 50, 50), Placement("a", 1, 0, 300, 300)]
    assert kinds(job_of([part("a", SQUARE)], placements)) == [Kind.DOUBLED]


def test_unknown_parts_and_copies() -> None:
    placements = [Placement("b", 1, 0, 50, 50), Placement("a", 2, 0, 300, 300)]
    assert kinds(job_of([part("a", SQUARE)], placements)) == [
        Kind.UNKNOWN_PART,
        Kind.UNKNOWN_COPY,
    ]


@pytest.mark.parametrize(
    ("material", "thickness", "fine"),
    [
        ("Birch  plywood", 12.0, True),
        ("birch plywood", 12.04, True),
        ("birch plywood", 12.1, False),
        ("MDF", 12.0, False),
    ],
)
def test_the_board(material: str, thickness: float, fine: bool) -> None:
    job = job_of(
        [part("a", SQUARE, material="birch plywood", thickness=12.0)],
        [Placement("a", 1, 0, 300, 300)],
        sheet(material=material, thickness=thickness),
    )
    assert kinds(job) == ([] if fine else [Kind.WRONG_BOARD])


def test_blanks_must_exist_be_known_be_in_stock_and_be_used() -> None:
    job = job_of([part("a", SQUARE)], [Placement("a", 1, 0, 300, 300)], sheet(count=1))
    assert kinds(job) == []
    layout = job.layout
    two = replace(layout, blanks=(Blank("sheet"), Blank("sheet")))
    found = [p.kind for p in verify(job, two).problems]
    assert found == [Kind.STOCK_COUNT, Kind.EMPTY_BLANK]
    other = replace(layout, blanks=(Blank("other"),))
    found = [p.kind for p in verify(job, other).problems]
    assert found == [Kind.UNKNOWN_STOCK, Kind.UNKNOWN_BLANK]
    far = replace(layout, placements=(Placement("a", 1, 7, 300, 300),))
    found = [p.kind for p in verify(job, far).problems]
    assert found == [Kind.EMPTY_BLANK, Kind.UNKNOWN_BLANK]


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_positions_are_numbers(bad: float) -> None:
    for where in ((bad, 300, 0), (300, bad, 0), (300, 300, bad)):
        job = job_of([part("a", SQUARE)], [Placement("a", 1, 0, *where)])
        assert kinds(job) == [Kind.NOT_A_NUMBER]


def test_copies_on_different_blanks_do_not_meet() -> None:
    placements = [Placement("a", 1, 0, 50, 50), Placement("a", 2, 1, 50, 50)]
    assert kinds(job_of([part("a", SQUARE, 2)], placements)) == []


def test_an_outline_that_crosses_itself_is_said_not_judged() -> None:
    bow = Outline(Loop.polygon([(0, 0), (100, 100), (100, 0), (0, 130)]))
    job = job_of([part("a", bow)], [Placement("a", 1, 0, 300, 300)])
    assert kinds(job) == [Kind.OUTLINE]


def test_a_clearance_is_told_only_when_it_is_short() -> None:
    square, disc = polygon_of(SQUARE), polygon_of(DISC)
    assert short_clearance(square, disc, 0.0) == pytest.approx(-50.0, abs=0.002)
    assert (
        short_clearance(square, polygon_of(Outline(Loop.circle(160, 50, 50))), 5)
        is None
    )
    near = polygon_of(Outline(Loop.circle(160, 50, 50)))
    assert short_clearance(square, near, 5.0) is None
    assert short_clearance(square, near, 11.0) == pytest.approx(10.0, abs=0.002)


def test_the_summary_speaks_of_parts_by_name() -> None:
    job = job_of([replace(part("p1", SQUARE, 2), name="Bird box side")], [])
    assert summary(verify(job), job)[0].startswith("Bird box side: missing: 0")


def test_an_empty_layout_of_an_empty_order_is_right() -> None:
    assert verify(Job("empty")).ok
