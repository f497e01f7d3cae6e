"""Bounds never exceed what is possible, and their proofs are checked apart."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from drystone.nesting.bound import (
    AreaProof,
    PairProof,
    bound,
    grown_area,
    recheck,
    room_area,
)
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.rules import TurnRule
from drystone.nesting.model.stock import KeepOut, Stock

DATA = Path(__file__).parents[1] / "data" / "benchmark"
BARE = Cutting(cutter=0.0, allowance=0.0, margin=0.0)


def rectangle(name: str, w: float, h: float, quantity: int = 1) -> Part:
    return Part(name, name, Outline(Loop.rectangle(w, h)), quantity=quantity)


def sheet(w: float, h: float, name: str = "s", **more: object) -> Stock:
    outline = Outline(Loop.rectangle(w, h))
    return Stock(name, name, outline, **more)  # type: ignore[arg-type]


def checked(job: Job) -> int:
    found = bound(job)
    assert sum(proof.count for proof in found.proofs) == found.sheets
    assert all(recheck(proof, job) for proof in found.proofs)
    return found.sheets


def test_by_area_exactly_full_sheets_are_not_one_more() -> None:
    job = Job("t", (rectangle("a", 10, 10, 300),), (sheet(100, 100),), BARE)
    assert checked(job) == 3
    more = replace(job, parts=(rectangle("a", 10, 10, 301),))
    assert checked(more) == 4


def test_the_gap_counts_but_not_at_the_edge() -> None:
    cutting = Cutting(cutter=10.0, allowance=0.0, margin=0.0)
    # Nine squares of 100 in 3 rows with gaps of 10 fill a square of 320 exactly.
    fits = Job("t", (rectangle("a", 100, 100, 9),), (sheet(320, 320),), cutting)
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
    parts = (rectangle("a", 100, 100, 10),)
    rack = sheet(200, 100, "rack", offcut=True, count=2)
    job = Job("t", parts, (sheet(200, 200), rack), BARE)
    assert checked(job) == 2  # ten squares, four on the rack, four on a sheet


def test_large_discs_need_a_sheet_each() -> None:
    disc = Part("d", "d", Outline(Loop.circle(0, 0, 300)), quantity=5)
    job = Job("t", (disc,), (sheet(1000, 1000),), BARE)
    found = bound(job)
    assert found.sheets == 5
    assert isinstance(found.proofs[0], PairProof)
    assert recheck(found.proofs[0], job)
    small = Part("d", "d", Outline(Loop.circle(0, 0, 200)), quantity=5)
    assert checked(replace(job, parts=(small,))) == 1


def test_the_pinwheel_is_one_sheet_when_parts_may_turn() -> None:
    """Four 7 x 3 in 10 x 10: the oriented bounds say 2, but turned they fit."""
    part = replace(rectangle("a", 7, 3, 4), turn=TurnRule.parse("90"))
    assert checked(Job("t", (part,), (sheet(10, 10),), BARE)) == 1


def test_keep_outs_and_curved_blanks_count() -> None:
    stock = Stock("s", "s", Outline(Loop.circle(500, 500, 500)))
    disc = Part("d", "d", Outline(Loop.circle(0, 0, 490)), quantity=2)
    job = Job("t", (disc,), (stock,), Cutting(cutter=8, allowance=0, margin=10))
    assert checked(job) == 2
    screws = replace(
        sheet(100, 100), keep_outs=(KeepOut(Loop.rectangle(100, 50, 0, 50)),)
    )
    half = Job("t", (rectangle("a", 50, 50, 4),), (screws,), BARE)
    assert checked(half) == 2


def test_forged_proofs_are_refused() -> None:
    job = Job("t", (rectangle("a", 100, 100, 10),), (sheet(250, 250),), Cutting())
    (proof,) = bound(job).proofs
    assert isinstance(proof, AreaProof)
    assert recheck(proof, job)
    (name, count, area) = proof.parts[0]
    (stock, there, room) = proof.sheets[0]
    forged = [
        replace(proof, count=proof.count + 1),
        replace(proof, parts=((name, count + 1, area),)),
        replace(proof, parts=((name, count, area * 1.01),)),
        replace(proof, sheets=((stock, there, room * 0.99),)),
        replace(proof, sheets=((stock, 3, room),)),
        replace(proof, sheets=()),
    ]
    assert not any(recheck(bad, job) for bad in forged)
    disc = Part("d", "d", Outline(Loop.circle(0, 0, 200)), quantity=5)
    other = Job("t", (disc,), (sheet(1000, 1000),), BARE)
    rooms = (("s", 1000.0, 1000.0),)
    assert not recheck(PairProof((("d", 5, 300.0),), rooms, 0, 5), other)
    assert not recheck(PairProof((("d", 5, 200.0),), rooms, 0, 5), other)
    assert not recheck(
        PairProof((("d", 5, 200.0),), (("s", 500.0, 500.0),), 0, 5), other
    )


@pytest.mark.parametrize("path", sorted(DATA.glob("*.json")), ids=lambda p: p.stem)
def test_no_known_optimum_is_beaten(path: Path) -> None:
    """Instances cut from full sheets; their origin stands in each file."""
    data = json.loads(path.read_text(encoding="utf-8"))
    parts = tuple(
        Part(
            str(piece["id"]),
            str(piece["id"]),
            Outline(
                Loop.polygon(map(tuple, piece["outer"])),
                tuple(
                    Loop.polygon(map(tuple, hole)) for hole in piece.get("holes", ())
                ),
            ),
            quantity=piece["demand"],
        )
        for piece in data["pieces"]
    )
    stock = (sheet(data["sheet"]["w"], data["sheet"]["h"]),)
    found = checked(Job(data["name"], parts, stock, BARE))
    assert found <= data["known_optimum"]["bins"]
    # The pieces fill the sheets to the last bit, so the area bound is the optimum.
    assert found == data["known_optimum"]["bins"]


def test_there_are_instances_to_check() -> None:
    assert len(list(DATA.glob("*.json"))) >= 4
