"""Whether a cutter, a machine and a board go together.

The rules are common practice; each says what to do instead. Guards, controls,
training and the machine's manual are no part of them.
"""

from __future__ import annotations

from ..model.lengths import length_text, with_unit
from ..model.machine import Board, Cutter, CutterKind, Machine, Practice
from ..model.rules import CleanFace
from .advice import Advice, note, refusal, warning
from .feeds import depth_per_pass, judge, recommend
from .passes import SLACK, pass_count

SHANK_TOLERANCE = 0.05
"""A collet holds a shank that differs by no more than this, mm: 6 mm and 6.35 mm
are not the same."""


def fits(
    cutter: Cutter,
    machine: Machine,
    thickness: float,
    practice: Practice,
    units: str = "mm",
) -> list[Advice]:
    """Return whether the cutter can be held, and reaches through the board.

    Parameters
    ----------
    thickness : float
        mm; 0 when unknown, which leaves that question out.
    units : str
        "mm" or "in", for the words.
    """
    depth = practice.depth(thickness) if thickness else 0.0
    return fits_depth(cutter, machine, depth, units)


def fits_depth(
    cutter: Cutter, machine: Machine, depth: float, units: str = "mm"
) -> list[Advice]:
    """Return whether the cutter can be held, and cuts so deep, mm; see `fits`."""
    found = []
    if machine.collets and not any(
        abs(collet - cutter.shank) <= SHANK_TOLERANCE for collet in machine.collets
    ):
        have = ", ".join(length_text(collet, units, 3) for collet in machine.collets)
        found.append(
            refusal(
                "no-collet",
                f"shank is {with_unit(cutter.shank, units, 3)} and the collets hold "
                f"{have} {units}; take another cutter or collet, never a sleeve "
                "of tape",
                cutter.name,
            )
        )
    if cutter.cutting_length and depth > cutter.cutting_length + SLACK:
        found.append(
            refusal(
                "edge-too-short",
                f"cutting length is {with_unit(cutter.cutting_length, units, 2)} and "
                f"the cut is {with_unit(depth, units, 2)} deep; take a longer cutter",
                cutter.name,
            )
        )
    if cutter.max_rpm and cutter.max_rpm < machine.rpm_min:
        found.append(
            refusal(
                "turns-too-fast",
                f"its maker allows {cutter.max_rpm:.0f} turns a minute and the "
                f"spindle's slowest is {machine.rpm_min:.0f}",
                cutter.name,
            )
        )
    return found


def suits(
    cutter: Cutter,
    machine: Machine,
    board: Board,
    thickness: float,
    practice: Practice,
    clean: CleanFace = CleanFace.NEITHER,
    pockets: bool = False,
    units: str = "mm",
) -> list[Advice]:
    """Return what to say about this cutter for this board.

    Parameters
    ----------
    thickness : float
        mm.
    clean : CleanFace
        The face that must stay free of torn fibres.
    pockets : bool
        Whether pockets are cut, whose chips must come out.
    units : str
        "mm" or "in", for the words.
    """
    found = fits(cutter, machine, thickness, practice, units)
    feeds = recommend(cutter, machine, board, practice.plunge_share)
    found += judge(feeds.rpm, feeds.feed, cutter, machine, board, units)
    top = clean in (CleanFace.TOP, CleanFace.BOTH)
    bottom = clean in (CleanFace.BOTTOM, CleanFace.BOTH)
    if cutter.kind is CutterKind.COMPRESSION and thickness > 0.0:
        per_pass = depth_per_pass(cutter, board)
        found += _compression(cutter, per_pass, thickness, units)
    if cutter.kind is CutterKind.UP_CUT and top:
        found.append(
            warning(
                "up-cut-lifts-top",
                "an up-cut spiral lifts fibres at the top face, which must stay "
                "clean; take a down-cut or, in one deep pass, a compression spiral",
                cutter.name,
            )
        )
    if cutter.kind is CutterKind.DOWN_CUT and bottom:
        found.append(
            warning(
                "down-cut-tears-bottom",
                "a down-cut spiral pushes fibres out at the bottom face, which must "
                "stay clean; take an up-cut or, in one deep pass, a compression spiral",
                cutter.name,
            )
        )
    if cutter.kind is CutterKind.DOWN_CUT and pockets:
        found.append(
            note(
                "down-cut-packs-chips",
                "a down-cut spiral packs chips into pockets and slots; clear them "
                "with extraction, or cut pockets with an up-cut",
                cutter.name,
            )
        )
    return found


def _compression(
    cutter: Cutter, per_pass: float, thickness: float, units: str
) -> list[Advice]:
    """Say whether the first pass goes past the up-cut tip."""
    if not cutter.up_cut_length:
        return [
            note(
                "up-cut-length-unknown",
                "give the length of its up-cut tip: a compression spiral pays only "
                "when the first pass is deeper than that",
                cutter.name,
            )
        ]
    first = thickness / max(pass_count(thickness, per_pass), 1)
    if first > cutter.up_cut_length:
        return []
    tip = with_unit(cutter.up_cut_length, units, 2)
    if thickness <= cutter.up_cut_length:
        return [
            warning(
                "compression-too-thin",
                f"the board is {with_unit(thickness, units, 2)} and the up-cut tip "
                f"{tip} long: only the up-cut part cuts, and lifts the top face",
                cutter.name,
            )
        ]
    return [
        warning(
            "compression-first-pass",
            f"the first pass is {with_unit(first, units, 2)} and the up-cut tip "
            f"{tip} long, so it lifts the top face like an "
            "up-cut; cut the first pass deeper than the tip, or take another cutter",
            cutter.name,
        )
    ]


def duty(machine: Machine, minutes: float) -> list[Advice]:
    """Return what to say about `minutes` of cutting on this machine's motor.

    Trim routers are built for short work; about a quarter of an hour at a time is
    common practice.
    """
    if not machine.run_minutes or minutes <= machine.run_minutes:
        return []
    rests = pass_count(minutes, machine.run_minutes) - 1
    return [
        warning(
            "long-run",
            f"about {minutes:.0f} min of cutting is more than the motor's "
            f"{machine.run_minutes:g} min at a stretch; plan about {rests} "
            f"rest{'s' if rests != 1 else ''}, blank by blank",
            machine.name,
        )
    ]


def changes(cutters: int, machine: Machine) -> list[Advice]:
    """Return what to say about using this many cutters on one blank."""
    if cutters < 2 or machine.tool_changer:
        return []
    count = cutters - 1
    return [
        note(
            "cutter-changes",
            f"{count} cutter change{'s' if count != 1 else ''} by hand on each "
            "blank: set Z zero again after each",
            machine.name,
        )
    ]
