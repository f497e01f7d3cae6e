"""What if: one order quoted with other cutters, gaps, margins, sheets and turns."""

from __future__ import annotations

import itertools
import math
import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass, replace

from ..nesting.model.errors import DrystoneError
from ..nesting.model.job import Job
from ..nesting.model.machine import ShopSetup
from ..nesting.model.outline import Loop, Outline
from ..nesting.model.placement import Layout
from ..nesting.model.rules import TurnRule


@dataclass(frozen=True)
class Change:
    """One thing that is different.

    Parameters
    ----------
    kind : str
        "cutter", "allowance", "margin", "sheet", "turn" or "times".
    value : float, str or tuple of float
        mm; a turn rule; length and width, mm; how many times the order.
    text : str
        What a person reads.
    """

    kind: str
    value: float | str | tuple[float, float]
    text: str


@dataclass(frozen=True)
class Variant:
    """One variant of an order; no change is the order as it is."""

    changes: tuple[Change, ...]

    @property
    def name(self) -> str:
        """What a person reads."""
        return ", ".join(change.text for change in self.changes) or "as ordered"


@dataclass(frozen=True)
class Outcome:
    """What a variant comes to; `trouble` says why it has no figures.

    Parameters
    ----------
    sheets, bound : int
        Whole sheets, and the number below which no layout exists (0: none proven).
    missing : int
        Copies without a place.
    cost : float
        Price.
    seconds : float
        Likely running time.
    share : float
        Yield, 0 to 1.
    laid : Job or None
        The order as it was tried, with its layout.
    """

    variant: Variant
    sheets: int = 0
    bound: int = 0
    missing: int = 0
    cost: float = math.nan
    seconds: float = math.nan
    share: float = 0.0
    trouble: str = ""
    laid: Job | None = None

    def as_dict(self) -> dict[str, object]:
        """Return the outcome with stable keys; seconds."""
        known = not self.trouble
        return {
            "variant": self.variant.name,
            "changes": {c.kind: c.value for c in self.variant.changes},
            "sheets": self.sheets if known else None,
            "bound": self.bound or None,
            "copies_missing": self.missing if known else None,
            "price": self.cost if known else None,
            "running_seconds": self.seconds if known else None,
            "yield": self.share if known else None,
            "trouble": self.trouble or None,
        }


def variants(options: Sequence[Sequence[Change]], every: bool) -> list[Variant]:
    """Return the order as it is, then the variants.

    Parameters
    ----------
    options : sequence of sequence of Change
        For each thing that may differ, its values.
    every : bool
        Whether all combinations are tried, not one change at a time.
    """
    found: Iterator[tuple[Change, ...]]
    if every and any(options):
        found = itertools.product(*(option for option in options if option))
    else:
        found = ((change,) for option in options for change in option)
    return [Variant(()), *(Variant(changes) for changes in found)]


def changed(job: Job, variant: Variant) -> Job:
    """Return the order with a variant's changes, without a layout."""
    job = replace(job, layout=Layout())
    for change in variant.changes:
        value = change.value
        if change.kind == "turn":
            rule = TurnRule.parse(str(value))
            job = replace(job, parts=tuple(replace(p, turn=rule) for p in job.parts))
        elif change.kind == "sheet" and isinstance(value, tuple):
            outline = Outline(Loop.rectangle(*value))
            job = replace(
                job,
                stock=tuple(
                    s
                    if s.offcut
                    else replace(
                        s,
                        outline=outline,
                        keep_outs=(),
                        price=s.price * outline.area / s.area,
                    )
                    for s in job.stock
                ),
            )
        elif change.kind == "times" and isinstance(value, float):
            parts = (replace(p, quantity=round(p.quantity * value)) for p in job.parts)
            job = replace(job, parts=tuple(parts))
        elif change.kind == "cutter" and isinstance(value, float):
            job = replace(job, cutting=replace(job.cutting, cutter=value))
        elif change.kind == "allowance" and isinstance(value, float):
            job = replace(job, cutting=replace(job.cutting, allowance=value))
        elif change.kind == "margin" and isinstance(value, float):
            job = replace(job, cutting=replace(job.cutting, margin=value))
    return job


def try_one(
    job: Job,
    setup: ShopSetup,
    variant: Variant,
    seconds: float,
    passes: int | None,
    seed: int,
) -> Outcome:
    """Return what one variant comes to; runs in a process of its own."""
    from .quoting import make_quote

    try:
        asked = changed(job, variant)
        quote = make_quote(asked, setup, seconds=seconds, passes=passes, seed=seed)
    except DrystoneError as error:
        return Outcome(variant, trouble=str(error))
    return Outcome(
        variant,
        quote.sheets,
        quote.bound or 0,
        quote.missing,
        quote.cost.price,
        quote.time.running.likely,
        quote.share,
        laid=quote.job,
    )


def try_all(
    job: Job,
    setup: ShopSetup,
    wanted: Sequence[Variant],
    *,
    seconds: float,
    passes: int | None = None,
    seed: int = 0,
    workers: int = 1,
    on_done: Callable[[int], None] | None = None,
    on_outcome: Callable[[int, Outcome], None] | None = None,
) -> list[Outcome]:
    """Return what all variants come to, in their order.

    Parameters
    ----------
    seconds : float
        For each variant.
    workers : int
        Processes; 1 works in this one. Interrupted, all of them end.
    on_done : callable, optional
        Told how many are done.
    on_outcome : callable, optional
        Told the place and the outcome of each as it is done.
    """
    told = on_done or (lambda count: None)
    heard = on_outcome or (lambda place, outcome: None)
    if workers <= 1:
        done: list[Outcome] = []
        for variant in wanted:
            done.append(try_one(job, setup, variant, seconds, passes, seed))
            heard(len(done) - 1, done[-1])
            told(len(done))
        return done
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(min(workers, len(wanted)), mp_context=context)
    try:
        futures: list[Future[Outcome]] = [
            pool.submit(try_one, job, setup, variant, seconds, passes, seed)
            for variant in wanted
        ]
        waiting = set(futures)
        while waiting:
            over, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            for future in over:
                heard(futures.index(future), future.result())
            told(len(futures) - len(waiting))
        return [future.result() for future in futures]
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
