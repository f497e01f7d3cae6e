"""A quote: sheets, bound, yield, cost, weight, time and price of an order."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from ..io.shop_notes import SheetCuts
from ..nesting.bound import Bound, bound
from ..nesting.improve import improve
from ..nesting.model.job import Job, Objective
from ..nesting.model.machine import ShopSetup
from ..nesting.model.part import Part
from ..nesting.model.rules import same_board
from ..nesting.model.stock import Stock
from ..nesting.objective import measure
from ..nesting.shop.advice import Advice
from ..nesting.shop.breakdown import (
    SawnStock,
    needs_sawing,
    of_sheets,
    sawn_stock,
    unsawn,
    whole_sheets,
)
from ..nesting.shop.clamps import advice_on_clamps
from ..nesting.shop.cost import Cost, blank_weight, job_cost, layout_yield
from ..nesting.shop.cutters import duty
from ..nesting.shop.holddown import advice_on_holding, held
from ..nesting.shop.plan import advice_on
from ..nesting.shop.reach import advice_on_reach
from ..nesting.shop.relief import advice_on_relief, job_as_cut
from ..nesting.shop.time import JobTime, job_time
from ..nesting.shop.travel import advice_on_travel
from ..nesting.shop.weight import board_weight, lift_note
from ..nesting.solve import Params, solve
from ..nesting.stop import (
    AnyOf,
    BoundMet,
    MaxPasses,
    MaxTime,
    OnceComplete,
    Stop,
)
from .sawing import sheet_cuts, ways_to_saw
from .verdict import proof_in_words

TRIED = 3
"""Break-downs laid out for an order whose sheets are larger than the bed."""


@dataclass(frozen=True)
class Bought:
    """One kind of sheet or offcut: how many, and what each costs and weighs."""

    id: str
    name: str
    count: int
    price: float
    weight: float
    offcut: bool
    lift: str = ""


@dataclass(frozen=True)
class BoardQuote:
    """What an order needs of one material and thickness.

    Parameters
    ----------
    material : str
        Name of the board.
    thickness : float
        mm; 0 when nobody said.
    sheets, offcuts : int
        Whole sheets bought, and offcuts used.
    cost : float
        What they cost.
    share : float
        Yield, 0 to 1, of the blanks used.
    bound : int or None
        Sheets below which no layout can exist; None where nothing is proven.
    least_cost : float or None
        What no mix of sheets and offcuts can cost less than.
    why : str
        What proves the bound, in words.
    missing : int
        Copies without a place.
    """

    material: str
    thickness: float
    sheets: int
    offcuts: int
    cost: float
    share: float
    bound: int | None
    least_cost: float | None
    why: str
    missing: int

    @property
    def fewest(self) -> bool:
        """Whether fewer sheets are impossible."""
        return not self.missing and self.bound is not None and self.sheets <= self.bound

    @property
    def cheapest(self) -> bool:
        """Whether no mix can cost less."""
        least = self.least_cost
        return not self.missing and least is not None and self.cost <= least + 5e-3

    def as_dict(self) -> dict[str, object]:
        """Return it with stable keys; mm."""
        return {
            "material": self.material,
            "thickness": self.thickness,
            "sheets": self.sheets,
            "offcuts": self.offcuts,
            "cost": self.cost,
            "yield": self.share,
            "bound": self.bound,
            "cost_bound": self.least_cost,
            "proof": self.why,
            "proven_fewest": self.fewest,
            "proven_cheapest": self.cheapest,
            "copies_missing": self.missing,
        }


@dataclass(frozen=True)
class Quote:
    """What an order comes to.

    Parameters
    ----------
    job : Job
        The order with the layout it was quoted from.
    bought : tuple of Bought
        Whole sheets and offcuts.
    bound : int or None
        Sheets below which no layout can exist; None where nothing is proven.
    share : float
        Yield, 0 to 1, of the blanks used.
    kept : float
        Area of leftovers worth keeping, mm².
    time : JobTime
        What cutting takes.
    cost : Cost
        Line by line.
    advice : tuple of Advice
        What there is to say.
    sawing : tuple of SheetCuts
        How sheets are sawn.
    materials : tuple of BoardQuote
        Board by board: what is bought, and what is proven about less.
    """

    job: Job
    bought: tuple[Bought, ...]
    bound: int | None
    share: float
    kept: float
    time: JobTime
    cost: Cost
    advice: tuple[Advice, ...]
    sawing: tuple[SheetCuts, ...]
    materials: tuple[BoardQuote, ...] = ()

    @property
    def sheets(self) -> int:
        """Whole sheets, offcuts not counted."""
        return sum(entry.count for entry in self.bought if not entry.offcut)

    @property
    def missing(self) -> int:
        """Copies without a place."""
        return sum(entry.count for entry in self.job.layout.unplaced)

    @property
    def weight(self) -> float:
        """Weight of all boards, kg."""
        return math.fsum(entry.weight * entry.count for entry in self.bought)

    @property
    def proven(self) -> bool:
        """Whether fewer sheets are impossible."""
        return not self.missing and self.bound is not None and self.sheets <= self.bound

    def sheets_text(self) -> str:
        """Return the number of sheets and what is known about fewer."""
        text = f"{self.sheets} sheet{'s' if self.sheets != 1 else ''}"
        if self.missing:
            return f"{text}, {self.missing} copies without a place"
        if self.proven:
            return f"{text}, proven fewest"
        if self.bound is None:
            return text
        return f"{text}; fewer than {self.bound} is impossible"

    def as_dict(self) -> dict[str, object]:
        """Return the quote with stable keys; mm, mm², kg, seconds."""
        cost, running = self.cost, self.time.running
        return {
            "job": self.job.name,
            "sheets": self.sheets,
            "bound": self.bound,
            "proven_fewest": self.proven,
            "copies_missing": self.missing,
            "yield": self.share,
            "kept_area": self.kept,
            "weight": self.weight,
            "boards": [
                {
                    "name": b.name,
                    "count": b.count,
                    "price": b.price,
                    "weight": b.weight,
                    "offcut": b.offcut,
                    "lift": b.lift,
                }
                for b in self.bought
            ],
            "time": {
                "running_low": running.low,
                "running_likely": running.likely,
                "running_high": running.high,
                "handling": self.time.handling,
                "path_length": self.time.length,
                "cutter_changes": self.time.changes,
            },
            "cost": {
                "sheets": cost.sheets,
                "of_which_waste": cost.waste,
                "kept_credit": cost.kept,
                "machine": cost.machine,
                "labour": cost.labour,
                "set_up": cost.set_up,
                "mark_up": cost.mark_up,
                "cost": cost.cost,
                "price": cost.price,
            },
            "materials": [board.as_dict() for board in self.materials],
            "advice": [advice.as_dict() for advice in self.advice],
        }


def make_quote(
    job: Job,
    setup: ShopSetup,
    *,
    seconds: float = 10.0,
    passes: int | None = None,
    seed: int = 0,
    workers: int = 1,
) -> Quote:
    """Lay an order out and work out what it comes to.

    The cheapest mix of sheets and offcuts is looked for, even where the job says that
    the fewest sheets are better: this is about what to buy.

    Sheets larger than the bed are sawn first: the order is laid out on the blanks
    of several break-downs, and the one that places most for the least money wins.

    Parameters
    ----------
    seconds : float
        For laying out, all break-downs together.
    passes : int, optional
        Passes for each instead, which gives the same quote on every run.
    """
    priced = any(stock.price for stock in job.stock)
    if priced and job.objective is Objective.FEWEST_SHEETS:
        job = replace(job, objective=Objective.LEAST_COST)
    choices = list(break_downs(job, setup))
    best: tuple[tuple[float, ...], Job] | None = None
    for sawn in choices:

        def lay(blanks: tuple[SawnStock, ...]) -> Job:
            asked = on_blanks(job, blanks)
            # A quote on half a layout would be worth nothing.
            rule: Stop = OnceComplete(MaxTime(seconds_for(blanks, seconds, choices)))
            if passes is not None:
                rule = MaxPasses(passes)
            params = Params(improve=improve, leftover=False)
            stop = AnyOf(BoundMet(), rule)
            result = solve(asked, stop, seed, None, workers, params=params)
            return replace(asked, layout=result.layout)

        done = on_fewest_sheets(sawn, lay, lambda found: found)
        done = replace(done, stock=with_blanks(job, sawn))
        missing = sum(entry.count for entry in done.layout.unplaced)
        bought = _bought(done, setup)
        cost = math.fsum(entry.price * entry.count for entry in bought)
        sheets = sum(entry.count for entry in bought if not entry.offcut)
        rank = (missing, cost, sheets, len(done.layout.blanks))
        if best is None or rank < best[0]:
            best = (rank, done)
    assert best is not None  # there is always at least one choice
    return quote_layout(best[1], setup)


def quote_layout(
    job: Job,
    setup: ShopSetup,
) -> Quote:
    """Return the quote of a layout as it stands."""
    bought = _bought(job, setup)
    job = held(job, setup.practice)
    cut = job_as_cut(job)
    time = job_time(cut, setup)
    kept = measure(job, job.layout).kept_area
    boards = math.fsum(entry.price * entry.count for entry in bought)
    cost = job_cost(job, setup, time, kept, boards)
    drawer = [cutter.width for cutter in setup.cutters]
    proven = whole_sheets_bound(job)
    advice = [*advice_on(job, setup)]
    advice += duty(setup.machine, time.running.likely / 60.0)
    advice += [*advice_on_reach(cut, drawer), *advice_on_relief(job)]
    advice += advice_on_holding(job, setup.practice)
    advice += advice_on_travel(job, setup.machine)
    advice += advice_on_clamps(job, setup.machine)
    return Quote(
        job,
        bought,
        None if proven is None else proven.sheets,
        layout_yield(job).share,
        kept,
        time,
        cost,
        tuple(advice),
        sheet_cuts(job),
        _materials(job, bought, proven),
    )


def _materials(
    job: Job, bought: Sequence[Bought], proven: Bound | None
) -> tuple[BoardQuote, ...]:
    """Return board by board what is bought, and what is proven about less."""
    found = []
    kinds = unsawn(job).stock
    for (material, thickness), parts in _by_board(job).items():
        mine = {
            kind.id
            for kind in kinds
            if same_board(material, thickness, kind.material, kind.thickness)
        }
        ids = {part.id for part in parts}
        proofs = [p for p in (proven.proofs if proven else ()) if p.parts[0][0] in ids]
        proof = proofs[0] if proofs else None
        entries = [entry for entry in bought if entry.id in mine]
        blanks = [
            blank
            for blank in range(len(job.layout.blanks))
            if (job.stock_of(blank).sheet or job.stock_of(blank)).id in mine
        ]
        area = math.fsum(job.stock_of(blank).area for blank in blanks)
        used = math.fsum(
            job.part(p.part_id).area for p in job.layout.placements if p.part_id in ids
        )
        found.append(
            BoardQuote(
                material,
                thickness,
                sum(entry.count for entry in entries if not entry.offcut),
                sum(entry.count for entry in entries if entry.offcut),
                math.fsum(entry.price * entry.count for entry in entries),
                used / area if area else 0.0,
                None if proof is None else proof.count,
                None if proof is None else proof.cost,
                "" if proof is None else proof_in_words(proof),
                sum(u.count for u in job.layout.unplaced if u.part_id in ids),
            )
        )
    return tuple(found)


def _by_board(job: Job) -> dict[tuple[str, float], list[Part]]:
    """Return the parts wanted by material and thickness, as the first one says it."""
    found: dict[tuple[str, float], list[Part]] = {}
    for part in job.parts:
        if not part.quantity:
            continue
        same = (
            key
            for key in found
            if key[1] == part.thickness and same_board(key[0], 0.0, part.material, 0.0)
        )
        key = next(same, (part.material, part.thickness))
        found.setdefault(key, []).append(part)
    return found


def break_downs(job: Job, setup: ShopSetup) -> Iterable[tuple[SawnStock, ...]]:
    """Yield break-downs of all sheets that do not fit the bed; one empty without.

    Sheets that carry locked copies as they are, are not there to be sawn. Where a
    blank that was sawn before carries one, its sheets are sawn as they were.
    """
    if job.bed is None:
        yield ()
        return
    bed = job.bed
    large = [stock for stock in job.stock if needs_sawing(stock, bed)]
    if not large:
        yield ()
        return
    staying = Counter(blank.stock_id for blank in job.layout.locked_only().blanks)
    plans = []
    for sheet in large:
        before = [
            kind.breakdown
            for kind in job.stock
            if kind.sheet is not None
            and kind.sheet.id == sheet.id
            and staying[kind.id]
            and kind.breakdown is not None
        ]
        plans.append(before[:1] or ways_to_saw(sheet, bed, job, setup))
    for i in range(min(TRIED, max(len(ways) for ways in plans))):
        found = []
        for sheet, ways in zip(large, plans, strict=True):
            sawn = sawn_stock(sheet, ways[min(i, len(ways) - 1)], bed)
            if sheet.count is not None and staying[sheet.id]:
                sawn = of_sheets(sawn, max(sheet.count - staying[sheet.id], 0))
            found.append(sawn)
        yield tuple(found)


def with_blanks(job: Job, sawn: tuple[SawnStock, ...]) -> tuple[Stock, ...]:
    """Return the stock with blanks in place of large sheets.

    A sheet is there as well where locked copies lie on a whole one.
    """
    staying = {blank.stock_id for blank in job.layout.locked_only().blanks}
    blanks = {s.sheet.id: s.blanks for s in sawn}
    made = {blank.id for s in sawn for blank in s.blanks}
    stock: list[Stock] = []
    for kind in job.stock:
        before = kind.sheet is not None and kind.sheet.id in blanks
        if kind.id in staying - made or not (before or kind.id in blanks):
            stock.append(kind)
        stock += blanks.get(kind.id, ())
    return tuple(stock)


def on_blanks(job: Job, sawn: tuple[SawnStock, ...]) -> Job:
    """Return the order with its large sheets given as blanks.

    Of the layout, locked copies stay, and the blanks under them as they are, also
    where that is a sheet which is sawn otherwise.
    """
    if not sawn:
        return job
    layout = job.layout.locked_only()
    staying = Counter(blank.stock_id for blank in layout.blanks)
    large = {s.sheet.id for s in sawn}
    stock = tuple(
        replace(kind, count=staying[kind.id]) if kind.id in large else kind
        for kind in with_blanks(job, sawn)
    )
    return replace(job, stock=stock, layout=layout)


def seconds_for(
    sawn: tuple[SawnStock, ...],
    seconds: float,
    choices: Sequence[tuple[SawnStock, ...]],
) -> float:
    """Return the time for one layout, of that for all break-downs, seconds.

    Half as much where `on_fewest_sheets` is likely to lay out again.
    """
    mixed = any(len(s.blanks) > 1 for s in sawn)
    return seconds / len(choices) / (2.0 if mixed else 1.0)


_Laid = TypeVar("_Laid")


def on_fewest_sheets(
    sawn: tuple[SawnStock, ...],
    lay: Callable[[tuple[SawnStock, ...]], _Laid],
    job_of: Callable[[_Laid], Job],
) -> _Laid:
    """Return a layout on the blanks of sheets, with few whole sheets.

    Where one sheet gives blanks of several kinds, a layout that takes only the best
    kind pays for the others too. So the order is laid out again with no more blanks
    than a few sheets give, from as few as the blanks' area allows.

    Parameters
    ----------
    sawn : tuple of SawnStock
        The sheets, as many as needed of each.
    lay : callable
        Lays the order out on given blanks.
    job_of : callable
        Gives the job with its layout from what `lay` returns.
    """
    first = lay(sawn)
    job = job_of(first)
    mixed = [len(s.blanks) > 1 for s in sawn]
    if job.layout.unplaced or not any(mixed):
        return first
    used = [s.sheets(job) for s in sawn]
    staying = replace(job, layout=job.layout.locked_only())
    by_area = [math.ceil(_area_used(s, job) / s.breakdown.area - 1e-9) for s in sawn]
    least = [
        max(few, s.sheets(staying), 1) if mix else n
        for s, mix, few, n in zip(sawn, mixed, by_area, used, strict=True)
    ]
    # `used` are enough. Where so many more than the least are, as many more may be.
    low, enough = 0, max(n - few for n, few in zip(used, least, strict=True))
    best = first
    while low < enough:
        more = (low + enough) // 2
        tried = lay(
            tuple(
                of_sheets(s, min(few + more, n)) if mix else s
                for s, mix, few, n in zip(sawn, mixed, least, used, strict=True)
            )
        )
        if job_of(tried).layout.unplaced:
            low = more + 1
        else:
            best, enough = tried, more
    return best


def _area_used(sawn: SawnStock, job: Job) -> float:
    """Return the area of a sheet's blanks that a layout uses, mm²."""
    used = [blank.stock_id for blank in job.layout.blanks]
    return math.fsum(kind.area * used.count(kind.id) for kind in sawn.blanks)


def _bought(job: Job, setup: ShopSetup) -> tuple[Bought, ...]:
    found: dict[str, Bought] = {}

    def add(stock: Stock, count: int, weight: float) -> None:
        lift = lift_note(weight, setup.practice.lift)
        if stock.id in found:  # some are sawn, others carry locked copies whole
            count += found[stock.id].count
        found[stock.id] = Bought(
            stock.id, stock.name, count, stock.price, weight, stock.offcut, lift
        )

    for sheet, count in whole_sheets(job):
        density = setup.board(sheet.material).density
        add(sheet, count, board_weight(sheet.area, sheet.thickness, density))
    used = [blank.stock_id for blank in job.layout.blanks]
    for stock in job.stock:
        if stock.id in used and stock.sheet is None:
            weight = blank_weight(job, used.index(stock.id), setup)
            add(stock, used.count(stock.id), weight)
    return tuple(found.values())


def whole_sheets_bound(job: Job, known: Bound | None = None) -> Bound | None:
    """Return the bound in whole sheets; None where nothing can be claimed.

    A layout on the pieces of a sheet is one on the sheet if what two neighbouring
    pieces keep apart is at least the gap; otherwise nothing is claimed.

    Parameters
    ----------
    known : Bound, optional
        All that can be proven of the stock as it is given, where that was done.
    """
    sheets = unsawn(job)
    if sheets is job:
        return bound(job) if known is None else known
    kerf = min(kind.kerf for kind in job.stock if kind.sheet is not None)
    apart = 2.0 * job.cutting.margin + kerf
    return bound(sheets) if apart >= job.cutting.gap else None
