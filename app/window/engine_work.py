"""What the window lets its other process do: nest, and hand over.

Runs in the engine's process only; whoever shows a window never imports this module,
because it loads the compiled engine.
"""

from __future__ import annotations

import _thread
import signal
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from ...nesting.model.job import Job
from ...nesting.model.placement import Layout
from ...nesting.shop.breakdown import needs_sawing
from ..bench.copies import key_of
from ..kernel_cache import set_up, warm
from .engine_child import Request, Show
from .hints import Hinted, hinted

PATIENCE = 0.5
"""A bound that takes longer than the search is waited for so long, seconds."""


def nest(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Lay a job out and show each better layout.

    The figures shown are ``sheets``, ``offcuts``, ``yield``, ``cost``, ``unplaced``,
    and, as soon as they are known, ``bound`` and ``why``; where sheets are sawn into
    blanks that fit the bed, ``stock`` too, on which the layout lies.
    """
    set_up()
    warm(lambda words: show.progress(-1.0, words))
    if _saws(request, show):
        from .sawn_work import nest_sawn

        nest_sawn(request, show, stopped)
        return
    from ...nesting.bound import Bound
    from ...nesting.improve import improve
    from ...nesting.objective import Measures, measure
    from ...nesting.result import Record
    from ...nesting.shop.breakdown import unsawn
    from ...nesting.solve import Params, solve
    from ...nesting.stop import AnyOf, BoundMet, Cancelled, MaxTime, OnceComplete
    from ..quoting import whole_sheets_bound
    from ..verdict import proofs_in_words

    held = held_job(request)
    asked: Hinted = hinted(held)

    def plain(layout: Layout) -> Layout:
        """Give placements the locks, and blanks the stock, that they had before."""
        return with_locks_of(request.job, asked.back(layout))

    def figures(layout: Layout, m: Measures) -> dict[str, object]:
        if asked.any:  # the engine took them for offcuts; count them for what they are
            m = measure(request.job, layout)
        return {
            "sheets": m.sheets,
            "offcuts": m.offcuts,
            "yield": m.yield_,
            "cost": m.cost,
            "unplaced": m.unplaced,
        }

    proof: dict[str, object] = {}

    def tell(proven: Bound) -> None:
        proof.update(bound=proven.sheets, why=proofs_in_words(proven))

    def prove() -> None:
        """Find the bound beside the search, so that it can be shown early."""
        found = whole_sheets_bound(held)
        if found is not None:
            tell(found)

    prover = threading.Thread(target=prove, daemon=True)
    prover.start()

    def better(layout: Layout, record: Record) -> None:
        found = plain(layout)
        show(found, record.seconds, figures(found, record.measures) | proof)

    stop = AnyOf(Cancelled(stopped), BoundMet(), OnceComplete(MaxTime(request.seconds)))
    result = solve(
        asked.job,
        stop,
        request.seed,
        better,
        request.workers,
        params=Params(improve=improve),
        initial=None if asked.any else _there_already(held),
    )
    # A search that ends early has looked at areas only: that is less than is known.
    all_known = result.proven or result.bound.thorough
    if all_known and not asked.any and unsawn(held) is held:
        tell(result.bound)
    else:
        prover.join(PATIENCE)
    last = plain(result.layout)
    show(last, result.seconds, figures(last, result.measures) | proof)


def _saws(request: Request, show: Show) -> bool:
    """Return whether sheets must be sawn first."""
    job = request.job
    if request.blank is not None or not any(
        needs_sawing(s, job.bed) for s in job.stock
    ):
        return False
    staying = held_job(request).layout.locked_only().blanks
    large = [b for b in staying if needs_sawing(job.stock_by_id(b.stock_id), job.bed)]
    if large:
        show.progress(-1.0, _left_whole(len(large)))
    return True


def _left_whole(count: int) -> str:
    which = "A sheet" if count == 1 else f"{count} sheets"
    stays, its = ("stays whole", "it") if count == 1 else ("stay whole", "them")
    return (
        f"{which} larger than the bed {stays}, because copies that stay lie on {its}."
    )


def held_job(request: Request) -> Job:
    """Return the job with everything locked that the request keeps."""
    job = request.job
    if request.keep != "all" and request.blank is None:
        return job
    placements = tuple(
        p
        if request.keep != "all" and p.blank == request.blank
        else replace(p, locked=True)
        for p in job.layout.placements
    )
    return replace(job, layout=replace(job.layout, placements=placements))


def with_locks_of(job: Job, layout: Layout) -> Layout:
    """Return a layout with only those copies locked that are so in a job."""
    locks = {key_of(p): p.locked for p in job.layout.placements}
    placements = [
        p
        if p.locked == locks.get(key_of(p), False)
        else replace(p, locked=not p.locked)
        for p in layout.placements
    ]
    return replace(layout, placements=tuple(placements))


def _there_already(job: Job) -> Layout | None:
    """Return the layout that lies there, to be no worse than, if it is complete."""
    layout = job.layout
    full = {p.blank for p in layout.placements}
    complete = layout.placements and not layout.unplaced
    return layout if complete and len(full) == len(layout.blanks) else None


def hand_over(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Write a job's files and show their names and what the check says.

    The options are ``folder``, ``force``, ``combined`` and ``pdf``, of which all but
    the first may be missing; the figures shown are ``folder``, ``files`` and
    ``check``, lines of text. Stopping leaves nothing behind.
    """
    set_up()
    show.progress(-1.0, "")
    _interrupt_when(stopped)
    try:
        from ...io.setup_file import read_setup
        from ..exporting import Extra, export_job, pdf_of_blanks
        from ..shop_paper import bench_paper

        setup = read_setup()
        extras: dict[str, Extra] = {"shop-sheets.pdf": bench_paper}
        if request.options.get("pdf"):
            extras["all-blanks.pdf"] = pdf_of_blanks(setup.practice)
        done = export_job(
            request.job,
            Path(request.options["folder"]),
            force=bool(request.options.get("force")),
            combined=bool(request.options.get("combined")),
            extras=extras,
            setup=setup,
        )
    except KeyboardInterrupt:
        return  # what was begun has been taken away on the way out
    figures = {
        "folder": str(done.folder),
        "files": [path.name for path in done.files],
        "check": done.check.lines(),
    }
    show(Layout(), 0.0, figures)


def _interrupt_when(stopped: Callable[[], bool]) -> None:
    """Have the work interrupted as by Ctrl-C, so that it cleans up after itself."""
    signal.signal(signal.SIGINT, signal.default_int_handler)

    def watch() -> None:
        while not stopped():
            time.sleep(0.05)
        _thread.interrupt_main()

    threading.Thread(target=watch, daemon=True).start()
