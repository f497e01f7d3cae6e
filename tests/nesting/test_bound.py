"""Bounds never exceed what is possible, and their proofs are checked apart."""

from __future__ import annotations

import itertools
import json
import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from random import Random

import numpy as np
import pytest

from drystone.nesting.bound import Proof, bound, grown_area, room_area
from drystone.nesting.clique import heaviest_clique
from drystone.nesting.cover import Want, least_cover
from drystone.nesting.feasible import Function, functions
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.recheck import recheck, recheck_all

DATA = Path(__file__).parents[1] / "data" / "benchmark"
BARE = Cutting(cutter=0.0, allowance=0.0, margin=0.0)
INSTANCES = sorted(DATA.glob("*.json"))


def rectangle(
    name: str, w: float, h: float, quantity: int = 1, turn: str = "90"
) -> Part:
    rule = TurnRule.parse(turn)
    return Part(name, name, Outline(Loop.rectangle(w, h)), quantity=quantity, turn=rule)


def polygon(
    name: str, corners: Sequence[tuple[float, float]], quantity: int, turn: str
) -> Part:
    outline = Outline(Loop.polygon(corners))
    return Part(name, name, outline, quantity=quantity, turn=TurnRule.parse(turn))


def disc(name: str, radius: float, quantity: int) -> Part:
    return Part(name, name, Outline(Loop.circle(0, 0, radius)), quantity=quantity)


def sheet(w: float, h: float, name: str = "s", **more: object) -> Stock:
    outline = Outline(Loop.rectangle(w, h))
    return Stock(name, name, outline, **more)  # type: ignore[arg-type]


def job_of(*parts: Part, stock: Sequence[Stock], cutting: Cutting = BARE) -> Job:
    return Job("t", parts, tuple(stock), cutting)


def checked(job: Job) -> int:
    found = bound(job)
    assert recheck_all(found, job)
    assert sum(proof.count for proof in found.proofs) == found.sheets
    return found.sheets


def test_by_area_exactly_full_sheets_are_not_one_more() -> None:
    job = job_of(rectangle("a", 10, 10, 300), stock=[sheet(100, 100)])
    assert checked(job) == 3
    more = replace(job, parts=(rectangle("a", 10, 10, 301),))
    assert checked(more) == 4


def test_the_gap_counts_but_not_at_the_edge() -> None:
    cutting = Cutting(cutter=10.0, allowance=0.0, margin=0.0)
    # Nine squares of 100 in 3 rows with gaps of 10 fill a square of 320 exactly.
    nine = rectangle("a", 100, 100, 9)
    fits = job_of(nine, stock=[sheet(320, 320)], cutting=cutting)
    assert checked(fits) == 1
    assert room_area(fits.stock[0], cutting) == pytest.approx(
        320**2 + 4 * 320 * 5 + math.pi * 25
    )


@pytest.mark.parametrize("offset", [0.0, 3.175])
def test_grown_areas_never_exceed_steiner(offset: float) -> None:
    ell = Outline(
        Loop.polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)])
    )
    exact = 600 + 140 * offset + 5 * math.pi * offset**2 / 4 - offset**2
    assert exact * (1 - 1e-4) < grown_area(ell, offset) <= exact + 1e-9
    disc = Outline(Loop.circle(0, 0, 50))
    assert grown_area(disc, offset) == pytest.approx(math.pi * (50 + offset) ** 2)
    ring = Outline(Loop.circle(0, 0, 50), (Loop.circle(0, 0, 20),))
    exact = math.pi * ((50 + offset) ** 2 - (20 - offset) ** 2)
    assert exact * (1 - 1e-3) < grown_area(ring, offset) <= exact + 1e-9
    full = grown_area(ring, offset, use_holes=False)
    assert full == pytest.approx(math.pi * (50 + offset) ** 2)


def test_offcuts_carry_parts_too() -> None:
    rack = sheet(200, 100, "rack", offcut=True, count=2)
    job = job_of(rectangle("a", 100, 100, 10), stock=[sheet(200, 200), rack])
    assert checked(job) == 2  # ten squares, four on the rack, four on a sheet


def test_large_discs_need_a_sheet_each() -> None:
    job = job_of(disc("d", 300, 5), stock=[sheet(1000, 1000)])
    found = bound(job)
    assert found.sheets == 5
    assert not found.proofs[0].by_area
    assert found.proofs[0].decisive.alone == (("d", 5),)
    assert recheck_all(found, job)
    assert checked(replace(job, parts=(disc("d", 200, 5),))) == 1
    # Two discs touch along the diagonal of the sheet: 2 r (1 + 1 / sqrt 2) = 1000.
    limit = 1000.0 / (2.0 + math.sqrt(2.0))
    assert checked(replace(job, parts=(disc("d", limit + 0.1, 2),))) == 2
    assert checked(replace(job, parts=(disc("d", limit - 0.1, 2),))) == 1


# ------------------------------------------------------------------- pairs, exactly


@pytest.mark.parametrize(
    ("leg", "turn", "sheets"),
    [
        # Alike and not turned, the legs face the same corner: they share exactly while
        # twice the play, sheet less leg, comes to a leg: 666.67.
        (666.0, "fixed", 1),
        (667.5, "fixed", 3),
        (700.0, "180", 1),  # turned by a half, two of them make a square
        (990.0, "180", 2),
        (667.5, "90", 1),
    ],
)
def test_triangles_share_or_not_by_their_turns(
    leg: float, turn: str, sheets: int
) -> None:
    part = polygon("t", [(0, 0), (leg, 0), (0, leg)], 3, turn)
    assert checked(job_of(part, stock=[sheet(1000, 1000)])) == sheets


@pytest.mark.parametrize(("width", "sheets"), [(270.0, 4), (249.5, 2)])
def test_bars_that_may_lie_at_every_angle(width: float, sheets: int) -> None:
    bars = rectangle("bar", 700, width, 4, turn="any")
    assert checked(job_of(bars, stock=[sheet(800, 500)])) == sheets


def test_a_notch_lets_parts_share_that_boxes_keep_apart() -> None:
    ell = [(0, 0), (600, 0), (600, 200), (200, 200), (200, 600), (0, 600)]

    def sheets(width: float, height: float, turn: str) -> int:
        part = polygon("l", ell, 2, turn)
        return checked(job_of(part, stock=[sheet(width, height)]))

    assert sheets(800, 800, "fixed") == 1  # one in the notch of the other
    assert sheets(790, 790, "fixed") == 2
    assert sheets(800, 650, "fixed") == 2
    assert sheets(800, 650, "180") == 1  # hooked into one another
    assert sheets(790, 650, "180") == 2


def test_a_hole_makes_room_for_a_part_that_could_not_lie_beside() -> None:
    ring = Outline(Loop.rectangle(900, 900), (Loop.rectangle(620, 620, 140, 140),))
    frame = Part("ring", "ring", ring, quantity=2, turn=TurnRule.parse("90"))
    inside = rectangle("in", 600, 600, 2)
    assert checked(job_of(frame, inside, stock=[sheet(1000, 1000)])) == 2
    wide = rectangle("in", 630, 600, 2)
    assert checked(job_of(frame, wide, stock=[sheet(1000, 1000)])) == 4
    closed = replace(BARE, use_holes=False)
    job = job_of(frame, inside, stock=[sheet(1000, 1000)], cutting=closed)
    assert checked(job) == 4


def test_the_gap_and_the_margin_count_in_pairs() -> None:
    parts = rectangle("a", 490, 490, 4)

    def sheets(gap: float, margin: float = 0.0) -> int:
        cutting = Cutting(cutter=gap, allowance=0.0, margin=margin)
        return checked(job_of(parts, stock=[sheet(1000, 1000)], cutting=cutting))

    assert sheets(20.0) == 1
    # Not side by side any more, but two across a diagonal, 28.28 apart ...
    assert sheets(20.5) == 2
    assert sheets(28.0) == 2
    assert sheets(20.0, margin=0.5) == 2
    # ... and then each on its own.
    assert sheets(28.5) == 4
    assert sheets(28.0, margin=0.5) == 4


def test_a_clearance_the_check_tolerates_is_not_called_impossible() -> None:
    parts = rectangle("a", 500.002, 500.002, 4)
    assert checked(job_of(parts, stock=[sheet(1000, 1000)])) == 1
    assert (
        checked(job_of(rectangle("a", 500.1, 500.1, 4), stock=[sheet(1000, 1000)])) == 4
    )


def test_what_fits_beside_no_large_part_needs_more_sheets() -> None:
    large, middle = rectangle("l", 600, 600, 3), rectangle("m", 450, 450, 5)
    job = job_of(large, middle, stock=[sheet(1000, 1000)])
    assert checked(job) == 5  # three, and two for five of which four share
    strips = rectangle("s", 390, 1000, 3)
    assert checked(replace(job, parts=(large, strips))) == 3  # beside the large ones


def test_the_grain_of_the_stock_decides_which_turns_count() -> None:
    part = rectangle("a", 600, 300, 3, turn="grain")
    along = sheet(700, 550, "along", grain=Grain.LENGTH)
    across = sheet(700, 550, "across", grain=Grain.WIDTH)  # too low for it upright
    assert checked(job_of(part, stock=[along])) == 3
    both = job_of(part, stock=[along, across])
    assert checked(both) == 3
    assert bound(both).proofs[0].needs[0].stock == ("along",)
    assert checked(job_of(part, stock=[sheet(700, 650, grain=Grain.LENGTH)])) == 2


# ------------------------------------------------------------------- rectangles


@pytest.mark.parametrize(
    ("parts", "turn", "sheets"),
    [
        # Bin 10 x 10; worked by hand after Martello & Vigo 1998.
        ([(6, 6, 2)], "fixed", 2),
        ([(6, 4, 3), (6, 7, 2)], "fixed", 4),
        ([(6, 6, 2), (5, 5, 4)], "fixed", 3),
        ([(4, 4, 9)], "fixed", 3),
        ([(4, 4, 9)], "90", 3),
        ([(5, 5, 5)], "90", 2),
        ([(7, 3, 4)], "fixed", 2),
        # Four 7 x 3 fit like sails of a windmill: the oriented bounds are false here.
        ([(7, 3, 4)], "90", 1),
        ([(7, 3, 4)], "any", 1),
    ],
)
def test_small_cases_of_rectangles(
    parts: list[tuple[int, int, int]], turn: str, sheets: int
) -> None:
    rows = [
        rectangle(f"p{k}", 10.0 * w, 10.0 * h, n, turn)
        for k, (w, h, n) in enumerate(parts)
    ]
    assert checked(job_of(*rows, stock=[sheet(100, 100)])) == sheets


def test_dual_feasible_functions_are() -> None:
    """Numbers that add up to 1 at most weigh 1 at most, and no function falls."""
    random = Random(3)
    levels = np.array([0.1, 0.2, 0.25, 0.3, 1 / 3, 0.4, 0.45, 0.5, 0.62, 0.8])
    grid = np.linspace(0.0, 1.0, 401)
    for function in functions(levels):
        assert (np.diff(function(grid)) >= -1e-12).all(), function
        for _ in range(30):
            left = 1.0
            row: list[float] = []
            while left > 0.01 and len(row) < 12:
                step = random.choice([random.random(), *levels.tolist()])
                if step <= left:
                    row.append(step)
                    left -= step
            assert function(np.array(row)).sum() <= 1.0 + 1e-9, (function, row)
    assert Function("share", 0.3)(np.array([0.75]))[0] == 1.0


# ------------------------------------------------------------------- stock and cost


def test_the_cheapest_mix_of_sheets_is_found_exactly() -> None:
    """Against every choice of counts, one by one."""
    random = Random(11)
    for _ in range(30):
        kinds = random.randint(1, 3)
        area = [random.uniform(0.5, 3.0) for _ in range(kinds)]
        cost = [random.uniform(0.0, 5.0) for _ in range(kinds)]
        there = [random.choice([None, 1, 2]) for _ in range(kinds)]
        wants = [
            Want(
                frozenset(range(kinds)), random.uniform(0.5, 6.0), random.randint(0, 4)
            ),
            Want(frozenset({0}), random.uniform(0.0, 2.0), random.randint(0, 2)),
        ]
        ranges = [range(13 if n is None else n + 1) for n in there]
        best = math.inf
        for choice in itertools.product(*ranges):
            if all(
                sum(choice[k] * area[k] for k in want.kinds) >= want.area * (1 - 1e-9)
                and sum(choice[k] for k in want.kinds) >= want.blanks
                for want in wants
            ):
                best = min(best, sum(n * c for n, c in zip(choice, cost, strict=True)))
        assert least_cover(area, there, cost, wants) == pytest.approx(best)
        assert least_cover(area, there, cost, wants, steps=1) <= best + 1e-9


def test_cost_counts_whole_sheets_of_several_kinds() -> None:
    parts = rectangle("a", 450, 450, 9)
    stock = [sheet(2000, 1000, "big", price=90.0), sheet(500, 500, "small", price=30.0)]
    found = bound(job_of(parts, stock=stock))
    # The area of nine is less than that of a big one, but only eight fit there.
    assert found.sheets == 2
    assert found.cost == pytest.approx(120.0)
    assert recheck_all(found, job_of(parts, stock=stock))
    dear = [sheet(1000, 1000, "big", price=90.0), sheet(440, 440, "small", price=1.0)]
    job = job_of(parts, stock=dear)
    assert bound(job).cost == pytest.approx(270.0)  # the cheap one holds none of them
    assert bound(job).sheets == 3
    assert recheck_all(bound(job), job)


def test_keep_outs_and_curved_blanks_count() -> None:
    stock = Stock("s", "s", Outline(Loop.circle(500, 500, 500)))
    cutting = Cutting(cutter=8, allowance=0, margin=10)
    assert checked(job_of(disc("d", 490, 2), stock=[stock], cutting=cutting)) == 2
    screws = replace(
        sheet(100, 100), keep_outs=(KeepOut(Loop.rectangle(100, 50, 0, 50)),)
    )
    assert checked(job_of(rectangle("a", 50, 50, 4), stock=[screws])) == 2


def test_a_ring_is_as_wide_as_what_it_surrounds() -> None:
    ring = Part(
        "r",
        "r",
        Outline(Loop.circle(0, 0, 101), (Loop.circle(0, 0, 86).reversed(),)),
        quantity=2,
        turn=TurnRule.parse("any"),
    )
    narrow = sheet(125, 260, "narrow", price=12.0)
    job = job_of(ring, stock=[sheet(250, 260, price=20.0), narrow])
    assert checked(job) == 2
    (proof,) = bound(job).proofs
    assert any(need.stock == ("s",) for need in proof.needs)


def test_offcuts_may_spare_sheets_that_pairs_ask_for() -> None:
    rack = sheet(700, 700, "rack", offcut=True, count=2)
    job = job_of(rectangle("a", 600, 600, 5), stock=[sheet(1000, 1000), rack])
    assert checked(job) == 3
    endless = replace(rack, count=None)
    assert checked(replace(job, stock=(job.stock[0], endless))) == 0


def test_heaviest_cliques_against_every_subset() -> None:
    random = Random(5)
    for _ in range(40):
        n = random.randint(1, 9)
        weight = [random.randint(1, 5) * 1.0 for _ in range(n)]
        edges = {(i, j) for i in range(n) for j in range(i) if random.random() < 0.6}
        near = [
            frozenset(j for j in range(n) if (i, j) in edges or (j, i) in edges)
            for i in range(n)
        ]
        best = max(
            sum(weight[i] for i in chosen)
            for size in range(n + 1)
            for chosen in itertools.combinations(range(n), size)
            if all(j in near[i] for i, j in itertools.combinations(chosen, 2))
        )
        found = heaviest_clique(weight, near)
        assert all(j in near[i] for i, j in itertools.combinations(found, 2))
        assert sum(weight[i] for i in found) == best
    assert heaviest_clique([1.0, 1.0], [frozenset(), frozenset()], steps=0) == []


# ------------------------------------------------------------------- forgery


def test_forged_proofs_by_area_are_refused() -> None:
    job = job_of(
        rectangle("a", 100, 100, 10), stock=[sheet(250, 250)], cutting=Cutting()
    )
    (proof,) = bound(job).proofs
    assert proof.by_area
    assert recheck(proof, job)
    (name, count, area), row = proof.parts[0], proof.stock[0]
    need = proof.needs[0]
    forged = [
        replace(proof, count=proof.count + 1),
        replace(proof, cost=1.0),
        replace(proof, parts=((name, count + 1, area),)),
        replace(proof, parts=((name, count, area * 1.01),)),
        replace(proof, stock=(replace(row, area=row.area * 0.99),)),
        replace(proof, stock=(replace(row, there=3),)),
        replace(proof, stock=()),
        replace(proof, needs=(replace(need, area=need.area * 1.01),)),
        replace(
            proof, needs=(replace(need, crowd=replace(need.crowd, count=9)),), count=9
        ),
    ]
    assert not any(recheck(bad, job) for bad in forged)
    twice = bound(job)
    twice = replace(twice, sheets=2 * twice.sheets, proofs=2 * twice.proofs)
    assert not recheck_all(twice, job)


def test_forged_proofs_by_pairs_are_refused() -> None:
    real = job_of(
        rectangle("a", 600, 600, 5),
        rectangle("b", 450, 450, 1),
        rectangle("c", 380, 380, 4),
        stock=[sheet(1000, 1000)],
    )
    (proof,) = bound(real).proofs
    assert (proof.count, proof.by_area) == (6, False)
    assert recheck(proof, real)
    need = proof.needs[0]

    def with_crowd(**more: object) -> Proof:
        crowd = replace(need.crowd, **more)  # type: ignore[arg-type]
        return replace(proof, needs=(replace(need, crowd=crowd),), count=crowd.count)

    alone = dict(need.crowd.alone)
    forged = [
        with_crowd(count=7),
        with_crowd(alone=(("a", 6), ("b", 1)), count=7),
        with_crowd(alone=(("a", 5), ("c", 4)), count=9),
        with_crowd(alone=(("a", 5), ("b", 1), ("c", 1)), count=7),
        with_crowd(alone=tuple(alone.items()), rest=(("c", 4),), beside=(), count=7),
    ]
    assert not any(recheck(bad, real) for bad in forged)


def test_forged_weights_are_refused() -> None:
    job = job_of(rectangle("a", 40, 40, 9, "fixed"), stock=[sheet(100, 100)])
    (proof,) = bound(job).proofs
    need = proof.needs[0]
    assert need.crowd.measure is not None
    assert recheck(proof, job)
    for more in (
        {"size": (("a", 0.5),), "count": 5},
        {"full": 0.5, "count": 5},
        {"box": (50.0, 50.0)},
    ):
        crowd = replace(need.crowd, **more)
        bad = replace(proof, needs=(replace(need, crowd=crowd),), count=crowd.count)
        assert not recheck(bad, job)


# ------------------------------------------------------------------- open instances


def instance(path: Path) -> tuple[Job, float, int]:
    """Return the job, the scale of its sheet, and the known count of sheets.

    A strip is one sheet of the known length.
    """
    data = json.loads(path.read_text(encoding="utf-8"))
    angles = data["rotations_deg"]
    turn = TurnRule() if angles == "free" else TurnRule.listed(angles)
    parts = []
    for piece in data["pieces"]:
        if "w" in piece:
            outline = Outline(Loop.rectangle(piece["w"], piece["h"]))
        else:
            holes = piece.get("holes", ())
            outline = Outline(
                Loop.polygon(map(tuple, piece["outer"])),
                tuple(Loop.polygon(map(tuple, hole)) for hole in holes),
            )
        name = str(piece["id"])
        parts.append(Part(name, name, outline, quantity=piece["demand"], turn=turn))
    known = data["known_optimum"]
    if data["kind"] == "strip":
        w, h, count = known["length"], data["width"], 1
    else:
        w, h, count = data["sheet"]["w"], data["sheet"]["h"], known["bins"]
    return Job(data["name"], tuple(parts), (sheet(w, h),), BARE), max(w, h), count


@pytest.mark.parametrize("path", INSTANCES, ids=lambda p: p.stem)
def test_no_known_optimum_is_beaten(path: Path) -> None:
    """Instances cut from full sheets; their origin stands in each file."""
    job, scale, known = instance(path)
    slack = 4e-6 * scale  # instances have no unit
    found = bound(job, slack=slack)
    # The pieces fill the sheets to the last bit, so the bound is the optimum ...
    assert found.sheets == known
    # ... and on sheets a little smaller it is more.
    (stock,) = job.stock
    width, height = stock.outline.size
    less = replace(job, stock=(sheet(0.99 * width, height),))
    assert bound(less, pairs=False, slack=slack).sheets > known


@pytest.mark.parametrize("path", INSTANCES[::8], ids=lambda p: p.stem)
def test_proofs_for_open_instances_hold(path: Path) -> None:
    job, scale, _ = instance(path)
    assert recheck_all(bound(job, slack=4e-6 * scale), job)


def test_there_are_instances_to_check() -> None:
    assert len(INSTANCES) >= 79
