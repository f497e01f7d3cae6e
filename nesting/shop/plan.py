"""A cutting plan: one cutter, one machine, one board, and the numbers to set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..model.job import Job
from ..model.machine import Board, Cutter, Machine, Practice, ShopSetup
from ..model.part import Operation
from .advice import Advice, warning
from .cutters import changes, fits_depth, suits
from .feeds import Feeds, recommend
from .passes import pass_count

ORDER = (Operation.DRILL, Operation.ENGRAVE, Operation.POCKET, Operation.OUTSIDE)
"""Kinds of work in the order of cutting; outside stands for all cutting through."""


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
    others : mapping of Operation to CutPlan
        Plans of work that is done with another cutter.
    """

    cutter: Cutter
    machine: Machine
    board: Board
    thickness: float
    practice: Practice
    feeds: Feeds
    others: Mapping[Operation, CutPlan] = field(default_factory=dict)

    def of(self, operation: Operation) -> CutPlan:
        """Return the plan for a kind of work: its own, or this one."""
        return self.others.get(operation, self)

    def depth_of(self, operation: Operation) -> float:
        """Return how deep a kind of work goes, mm."""
        if operation is Operation.POCKET:
            return self.practice.pocket_depth * self.thickness
        if operation is Operation.ENGRAVE:
            return self.practice.engrave_depth
        return self.depth

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
    """Return the plan for a board with the drawer's cutter of that cut width.

    Work for which the practice names another cutter of the drawer has a plan of
    its own in it.
    """
    cutter, board = setup.cutter(cut_width), setup.board(material)

    def plan(cutter: Cutter, others: Mapping[Operation, CutPlan]) -> CutPlan:
        feeds = recommend(cutter, setup.machine, board, setup.practice.plunge_share)
        return CutPlan(
            cutter, setup.machine, board, thickness, setup.practice, feeds, others
        )

    return plan(
        cutter,
        {
            operation: plan(named, {})
            for operation, name in named_cutters(setup.practice).items()
            if (named := setup.cutter_named(name)) is not None and named != cutter
        },
    )


def named_cutters(practice: Practice) -> dict[Operation, str]:
    """Return the kinds of work for which the practice names a cutter of their own."""
    names = {
        Operation.DRILL: practice.drill_cutter,
        Operation.ENGRAVE: practice.engrave_cutter,
        Operation.POCKET: practice.pocket_cutter,
    }
    return {operation: name for operation, name in names.items() if name}


def cutters_on(job: Job, blank: int, plan: CutPlan) -> tuple[Cutter, ...]:
    """Return the cutters a blank needs, in the order of cutting.

    One that comes twice in a row counts once.
    """
    placed = job.layout.on(blank)
    parts = {p.part_id: job.part(p.part_id) for p in placed}.values()
    kinds = {mark.operation for part in parts for mark in part.marks}
    if parts:
        kinds.add(Operation.OUTSIDE)
    cutters = [plan.of(kind).cutter for kind in ORDER if kind in kinds]
    return tuple(c for i, c in enumerate(cutters) if not i or c != cutters[i - 1])


def changes_of(job: Job, setup: ShopSetup) -> int:
    """Return how often a cutter is put into the spindle for a job, the first included.

    A cutter that a blank ends with and the next begins with stays in.
    """
    count = 0
    last: Cutter | None = None
    for blank in range(len(job.layout.blanks)):
        stock = job.stock_of(blank)
        plan = make_plan(setup, job.cutting.cutter, stock.material, stock.thickness)
        for cutter in cutters_on(job, blank, plan):
            count += cutter != last
            last = cutter
    return count


def plans_of(job: Job, setup: ShopSetup) -> dict[tuple[str, float], CutPlan]:
    """Return a plan for each board the order uses, by material and thickness."""
    boards = dict.fromkeys((part.material, part.thickness) for part in job.parts)
    return {
        (material, thickness): make_plan(setup, job.cutting.cutter, material, thickness)
        for material, thickness in boards
    }


def advice_on(job: Job, setup: ShopSetup) -> list[Advice]:
    """Return what there is to say about cutter, machine and boards of a job."""
    clean = job.cutting.clean
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
            job.units,
        ):
            found[advice] = None
        for operation, other in plan.others.items():
            if not any(m.operation is operation for p in job.parts for m in p.marks):
                continue
            depth = plan.depth_of(operation)
            for advice in fits_depth(other.cutter, plan.machine, depth, job.units):
                found[advice] = None
    for operation, name in named_cutters(setup.practice).items():
        if setup.cutter_named(name) is None:
            found[
                warning(
                    "unknown-cutter",
                    f"the set-up names {name!r} for {operation.value.lower()} work, "
                    "and no cutter of the drawer is called so; the job's own is taken",
                    name,
                )
            ] = None
    most = max(
        (
            len(cutters_on(job, blank, make_plan(setup, job.cutting.cutter, *board)))
            for blank in range(len(job.layout.blanks))
            for board in [(job.stock_of(blank).material, job.stock_of(blank).thickness)]
        ),
        default=0,
    )
    found.update(dict.fromkeys(changes(most, setup.machine)))
    return list(found)
