"""Cutters against machine and board."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drystone.nesting.model.machine import (
    Board,
    BoardFamily,
    Cutter,
    CutterKind,
    Machine,
    Practice,
)
from drystone.nesting.model.rules import CleanFace
from drystone.nesting.shop.advice import Weight
from drystone.nesting.shop.cutters import changes, duty, fits, suits
from drystone.nesting.shop.feeds import recommend

PLY = Board("plywood", BoardFamily.PLYWOOD)
PRACTICE = Practice()


def codes(cutter: Cutter, **asked: object) -> set[str]:
    found = suits(
        cutter,
        asked.pop("machine", Machine()),  # type: ignore[arg-type]
        PLY,
        asked.pop("thickness", 12.0),  # type: ignore[arg-type]
        PRACTICE,
        **asked,  # type: ignore[arg-type]
    )
    return {advice.code for advice in found}


def test_a_six_millimetre_shank_is_not_a_quarter_inch() -> None:
    cutter = Cutter("c", shank=6.0)
    quarter = Machine(collets=(6.35,))
    (advice,) = fits(cutter, quarter, 12.0, PRACTICE)
    assert (advice.code, advice.weight) == ("no-collet", Weight.REFUSAL)
    assert not fits(cutter, Machine(collets=(6.0,)), 12.0, PRACTICE)


def test_the_overcut_counts_towards_the_depth() -> None:
    cutter = Cutter("c", cutting_length=12.2)
    assert "edge-too-short" in codes(cutter, thickness=12.0)
    assert "edge-too-short" not in codes(cutter, thickness=11.9)
    unknown = Cutter("c", cutting_length=0.0)
    assert "edge-too-short" not in codes(unknown, thickness=40.0)


def test_a_cutter_slower_than_the_spindle_is_refused() -> None:
    assert "turns-too-fast" in codes(Cutter("c", max_rpm=8_000))
    assert "turns-too-fast" not in codes(Cutter("c", max_rpm=16_000))


def test_compression_pays_beyond_its_tip() -> None:
    kind = CutterKind.COMPRESSION
    long_tip = Cutter("c", kind, up_cut_length=5.0)
    assert "compression-first-pass" in codes(long_tip)
    short_tip = Cutter("c", kind, up_cut_length=2.0)
    assert not {c for c in codes(short_tip) if c.startswith("compression")}
    assert "compression-too-thin" in codes(long_tip, thickness=4.0)
    assert "up-cut-length-unknown" in codes(Cutter("c", kind))


def test_spirals_and_the_clean_face() -> None:
    up, down = Cutter("u", CutterKind.UP_CUT), Cutter("d", CutterKind.DOWN_CUT)
    assert "up-cut-lifts-top" in codes(up, clean=CleanFace.TOP)
    assert "up-cut-lifts-top" not in codes(up, clean=CleanFace.BOTTOM)
    assert "down-cut-tears-bottom" in codes(down, clean=CleanFace.BOTH)
    assert "down-cut-tears-bottom" not in codes(down, clean=CleanFace.TOP)
    assert "down-cut-packs-chips" in codes(down, pockets=True)
    assert "down-cut-packs-chips" not in codes(up, pockets=True)


def test_a_trim_router_rests() -> None:
    assert not duty(Machine(), 14.0)
    (advice,) = duty(Machine(), 125.0)
    assert advice.code == "long-run"
    assert "8 rests" in advice.message
    assert not duty(Machine(run_minutes=0.0), 600.0)


def test_cutter_changes_by_hand_are_counted() -> None:
    assert not changes(1, Machine())
    assert "2 cutter changes" in changes(3, Machine())[0].message
    assert not changes(3, Machine(tool_changer=True))


def test_no_advice_promises_that_a_cut_is_safe() -> None:
    cutter = Cutter("c", CutterKind.COMPRESSION, shank=9, cutting_length=3, max_rpm=1)
    found = suits(cutter, Machine(), PLY, 12.0, PRACTICE, CleanFace.BOTH, True)
    assert found
    assert all("safe" not in advice.message for advice in found)


def test_what_the_shop_sets_is_taken_and_judged() -> None:
    """Feed = speed x flutes x chip load: 18,000 x 2 x 0.2 = 7,200 mm/min."""
    machine = Machine(feed_max=8_000.0)
    crowded = Cutter("c", rpm=18_000.0, feed=7_200.0)
    feeds = recommend(crowded, machine, PLY)
    assert (feeds.rpm, feeds.feed) == (18_000.0, 7_200.0)
    assert feeds.chip_load == pytest.approx(0.2)
    assert "chip-load-high" in codes(crowded, machine=machine)
    assert "chip-load-rubbing" in codes(Cutter("c", rpm=18_000.0, feed=700.0))
    assert "chip-load-low" in codes(Cutter("c", rpm=18_000.0, feed=1_000.0))
    assert "feed-above-machine" in codes(crowded, machine=Machine(feed_max=7_000.0))
    assert "speed-outside-spindle" in codes(Cutter("c", rpm=8_000.0))
    assert "speed-above-cutter" in codes(Cutter("c", rpm=20_000, max_rpm=18_000))
    plain = {c for c in codes(Cutter("c")) if "chip" in c or "speed" in c}
    assert plain == set()
    # Each of these numbers is the shop's own.
    assert "chip-load-rubbing" in codes(Cutter("c"), machine=Machine(rubbing=0.1))
    assert recommend(Cutter("c"), Machine(rpm_usual=12_000.0), PLY).rpm == 12_000.0
    assert recommend(Cutter("c", pass_depth=2.5), machine, PLY).per_pass == 2.5
    soft = replace(PLY, chip_share=0.5)
    full, half = (recommend(Cutter("c"), machine, b).chip_load for b in (PLY, soft))
    assert half == pytest.approx(full / 2.0)
