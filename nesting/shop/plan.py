"""A cutting plan: one cutter, one machine, one board, and the numbers to set."""

from __future__ import annotations

from dataclasses import dataclass

from ..model.job import Job
from ..model.machine import Board, Cutter, Machine, Practice, ShopSetup
from ..model.part import Operation
from .advice import Advice
from .cutters import CleanFace, suits
from .feeds import Feeds, recommend
from .passes import pass_count


@dataclass(frozen=True)
class CutPlan:
    """Everything a time is computed from, for one board.

    Parameters
    ----------
    cutter : Cutter
        The cutter.
    machine : Machine
        The machine.
    board : Board
        How the board cuts.
    thickness : float
        mm; 0 when unknown, which is counted as one pass.
    practice : Practice
        How this shop cuts.
    feeds : Feeds
        What to set.
    """

    cutter: Cutter
    machine: Machine
    board: Board
    thickness: float
    practice: Practice
    feeds: Feeds

    @property
    def depth(self) -> float:
        """Depth of a profile, mm."""
        return self.practice.depth(self.thickness)

    @property
    def passes(self) -> int:
        """Passes of a profile."""
        return self.passes_to(self.depth)

    def passes_to(self, depth: float) -> int:
        """Return the passes to a depth, mm; at least one."""
        return max(pass_count(depth, self.feeds.per_pass), 1)


def make_plan(
    setup: ShopSetup, cut_width: float, material: str, thickness: float
) -> CutPlan:
    """Return the plan for a board with the drawer's cutter of that cut width."""
    cutter = setup.cutter(cut_width)
    board = setup.board(material)
    feeds = recommend(cutter, setup.machine, board, setup.practice.plunge_share)
    return CutPlan(cutter, setup.machine, board, thickness, setup.practice, feeds)


def plans_of(job: Job, setup: ShopSetup) -> dict[tuple[str, float], CutPlan]:
    """Return a plan for each board the order uses, by material and thickness."""
    return {
        (part.material, part.thickness): make_plan(
            setup, job.cutting.cutter, part.material, part.thickness
        )
        for part in job.parts
    }


def advice_on(
    job: Job, setup: ShopSetup, clean: CleanFace = CleanFace.NEITHER
) -> list[Advice]:
    """Return what there is to say about cutter, machine and boards of a job."""
    pockets = {
        (part.material, part.thickness)
        for part in job.parts
        if any(mark.operation is Operation.POCKET for mark in part.marks)
    }
    found: dict[Advice, None] = {}
    for board, plan in plans_of(job, setup).items():
        for advice in suits(
            plan.cutter,
            plan.machine,
            plan.board,
            plan.thickness,
            plan.practice,
            clean,
            board in pockets,
        ):
            found[advice] = None
    return list(found)
