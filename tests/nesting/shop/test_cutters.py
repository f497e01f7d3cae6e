"""Cutters against machine and board."""

from __future__ import annotations

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
