"""What the shop's arithmetic says about a layout, put on the shop sheets."""

from __future__ import annotations

from collections.abc import Callable

from ..io.setup_file import read_setup
from ..io.shop_notes import BlankNotes, CornerNote, Fact, Left, ShopNotes
from ..io.shop_sheet import shop_sheets
from ..nesting.model.holding import ReliefKind
from ..nesting.model.job import Job
from ..nesting.model.lengths import (
    feed_text,
    load_text,
    share_text,
    weight_text,
    with_unit,
)
from ..nesting.model.machine import ShopSetup
from ..nesting.model.part import Operation
from ..nesting.shop.clamps import advice_on_clamps
from ..nesting.shop.cost import blank_weight, job_cost, layout_yield
from ..nesting.shop.cutters import duty
from ..nesting.shop.holddown import (
    advice_on_holding,
    asked_screws,
    held,
    loose_pieces,
    screw_spots,
)
from ..nesting.shop.plan import CutPlan, advice_on, changes_of, plans_of
from ..nesting.shop.reach import advice_on_reach, largest_cutter, standing
from ..nesting.shop.relief import ROOM, advice_on_relief, job_as_cut, relief_of
from ..nesting.shop.tabs import is_small, tabs_of
from ..nesting.shop.time import JobTime, as_range, job_time
from ..nesting.shop.travel import advice_on_travel
from ..nesting.shop.weight import lift_note
from .sawing import sheet_cuts


def bench_paper(job: Job) -> bytes:
    """Return the shop sheets of a job with all that this user's set-up adds."""
    return paper_for(read_setup())(job)


def paper_for(setup: ShopSetup) -> Callable[[Job], bytes]:
    """Return what makes the shop sheets of a job, with how its sheets are sawn."""

    def make(job: Job) -> bytes:
        done = held(job, setup.practice)
        return shop_sheets(job_as_cut(done), bench_notes(done, setup))

    return make


def bench_notes(job: Job, setup: ShopSetup) -> ShopNotes:
    """Return what the shop's arithmetic adds to the paper of a job.

    Parameters
    ----------
    setup : ShopSetup
        Machine, cutters, boards and practice.

    The job is taken as it is, with the tabs its parts hold; see `held`.
    """
    practice = setup.practice
    sawing = sheet_cuts(job)
    cut = job_as_cut(job)
    times = job_time(cut, setup)
    remarks = [advice.message for advice in advice_on(job, setup)]
    drawer = [cutter.width for cutter in setup.cutters]
    minutes = times.running.likely / 60.0
    said = [*duty(setup.machine, minutes), *advice_on_travel(job, setup.machine)]
    said += [*advice_on_reach(cut, drawer), *advice_on_relief(job)]
    said += advice_on_holding(job, practice)
    said += advice_on_clamps(job, setup.machine)
    remarks += [advice.message for advice in said]
    corners = _corners(cut)
    return ShopNotes(
        _facts(job, setup, times, bool(sawing)),
        _cutting(job, setup),
        tuple(f"{text[:1].upper()}{text[1:]}." for text in remarks),
        tuple(
            _blank(job, index, setup, times, corners)
            for index in range(len(job.layout.blanks))
        ),
        sawing,
        practice.z_zero.value,
        tuple(corners.values()),
    )


def _corners(cut: Job) -> dict[str, CornerNote]:
    """Return what stays standing, by the id of the part it stands in."""
    found = {}
    placed = {placement.part_id for placement in cut.layout.placements}
    for number, part in enumerate(cut.parts, 1):
        width = cut.cutting.cutter
        if part.id not in placed or not width:
            continue
        left = tuple(
            Left(s.what, s.index, s.entered, s.place, s.polygon, s.area, s.depth)
            for s in standing(part, width)
        )
        if left:
            shut = any(not one.entered for one in left)
            largest = largest_cutter(part, width).enters if shut else 0.0
            found[part.id] = CornerNote(number, part, left, width, largest)
    return found


def _facts(job: Job, setup: ShopSetup, times: JobTime, sawn: bool) -> tuple[Fact, ...]:
    weights = [blank_weight(job, i, setup) for i in range(len(job.layout.blanks))]
    facts: list[Fact] = [("Yield", share_text(layout_yield(job).share))]
    if times.blanks:
        facts.append(("Machine runs", times.running.text))
        facts.append(("With handling", times.total.text))
    if any(weights):
        facts.append(("Weight", f"about {weight_text(sum(weights), job.units)}"))
    cost = job_cost(job, setup, times)
    if cost.sheets and not sawn:  # a share of a sheet is no price
        facts.append(("Boards", f"{setup.prices.currency} {cost.sheets:.2f}".strip()))
    return tuple(facts)


def _cutting(job: Job, setup: ShopSetup) -> tuple[Fact, ...]:
    units = job.units
    facts: list[Fact] = [("Machine", setup.machine.name)]
    plans = plans_of(job, setup)
    for i, ((material, thickness), plan) in enumerate(plans.items()):
        if not i:
            facts.append(("Cutter", _cutter(plan, units)))
        board = material or "board"
        if thickness:
            board += f" {with_unit(thickness, units)}"
        feeds = plan.feeds
        facts.append(
            (
                board,
                f"{plan.passes} passes to {with_unit(plan.depth, units, 2)}; "
                f"{feeds.rpm:.0f} rpm, feed {feed_text(feeds.feed, units)}, "
                f"plunge {feed_text(feeds.plunge, units)}; chip load "
                f"{load_text(feeds.chip_load, units)}",
            )
        )
        for operation, other in plan.others.items():
            if i or not _has(job, operation):
                continue
            said = other.feeds
            facts.append(
                (
                    f"{operation.value.capitalize()} with",
                    f"{_cutter(other, units)}; {said.rpm:.0f} rpm, "
                    f"feed {feed_text(said.feed, units)}",
                )
            )
    changes = changes_of(job, setup)
    if changes > 1:
        facts.append(("Cutters set in", f"{changes} times, the first included"))
    practice = setup.practice
    if practice.onion_skin:
        facts.append(("Onion skin", with_unit(practice.onion_skin, units)))
    else:
        facts.append(("Overcut", with_unit(practice.overcut, units)))
    reliefs = sorted({relief_of(job, p).value for p in job.parts if p.quantity})
    if reliefs and reliefs != [ReliefKind.NONE.value]:
        kinds = " and ".join(kind for kind in reliefs if kind != ReliefKind.NONE.value)
        radius = with_unit(job.cutting.cutter / 2.0 + ROOM, units, 3)
        facts.append(("Relief", f"{kinds}, radius {radius}"))
    if any(tabs_of(part) for part in job.parts):
        wide = with_unit(practice.tab_width, units)
        high = with_unit(practice.tab_height, units)
        facts.append(("Tabs", f"{wide} wide, {high} high, drawn as thick strokes"))
    return tuple(facts)


def _has(job: Job, operation: Operation) -> bool:
    return any(m.operation is operation for p in job.parts for m in p.marks)


def _cutter(plan: CutPlan, units: str) -> str:
    cutter = plan.cutter
    flutes = f"{cutter.flutes} flute{'s' if cutter.flutes != 1 else ''}"
    return f"{cutter.name}, {with_unit(cutter.diameter, units, 3)}, {flutes}"


def _blank(
    job: Job,
    index: int,
    setup: ShopSetup,
    times: JobTime,
    corners: dict[str, CornerNote],
) -> BlankNotes:
    practice = setup.practice
    facts: list[Fact] = []
    weight = blank_weight(job, index, setup)
    if weight:
        facts.append(("Weight", f"about {weight_text(weight, job.units)}"))
    time = times.blanks[index]
    facts.append(("Machine runs", as_range(time.running, setup.machine).text))
    remarks: list[str] = []
    loose = loose_pieces(job, index)
    small: set[str] = set()
    for placement in job.layout.on(index):
        part = job.part(placement.part_id)
        if is_small(part, practice) and not (tabs_of(part) or practice.onion_skin):
            small.add(part.name)
    wanted = job.holding.screws or practice.screws
    if job.holding.screws:
        screws = asked_screws(job, index, practice)
    else:
        screws = screw_spots(
            job,
            index,
            distance=practice.screw_distance,
            count=wanted,
            practice=practice,
        )
    note = lift_note(weight, practice.lift)
    if note:
        remarks.append(f"{note[:1].upper()}{note[1:]}.")
    if len(screws) < wanted:
        remarks.append(
            f"Room for {len(screws) or 'no'} of {wanted} screws in the waste: "
            "clamp, tape or vacuum as well."
        )
    if small:
        remarks.append(
            f"{len(small)} small part{'s' if len(small) > 1 else ''} without tabs: "
            "hold with tabs or a skin."
        )
    if loose:
        remarks.append(
            f"{len(loose)} piece{'s' if len(loose) > 1 else ''} (triangles) drop out "
            "of holes: hold or clear them."
        )
    left = tuple(
        placement.motion.points(one.polygon)
        for placement in job.layout.on(index)
        if placement.part_id in corners
        for one in corners[placement.part_id].left
    )
    if left:
        remarks.append(
            f"{len(left)} place{'s' if len(left) > 1 else ''} (black) stay"
            f"{'' if len(left) > 1 else 's'} standing: see the page about them."
        )
    return BlankNotes(tuple(facts), screws, loose, tuple(remarks), left)
