"""What the window lets its other process do: nest, and hand over.

Runs in the engine's process only; whoever shows a window never imports this module,
because it loads the compiled engine.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from ...nesting.model.job import Job
from ...nesting.model.placement import Layout
from ..kernel_cache import set_up, warm
from .engine_process import Request

Show = Callable[[Layout, float, dict[str, Any]], None]


def nest(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Lay a job out and show each better layout.

    The figures shown are ``sheets``, ``offcuts``, ``yield``, ``cost``, ``unplaced``,
    and, with the last one, ``bound`` and ``why``.
    """
    set_up()
    warm(lambda words: None)
    from ...nesting.result import Record
    from ...nesting.solve import solve
    from ...nesting.stop import AnyOf, BoundMet, Cancelled, MaxTime
    from ..verdict import proof_in_words

    job = _held(request)
    locks = {(p.part_id, p.copy): p.locked for p in request.job.layout.placements}

    def freed(layout: Layout) -> Layout:
        """Give placements the locks they had before."""
        if job is request.job:
            return layout
        return replace(
            layout,
            placements=tuple(
                replace(p, locked=locks.get((p.part_id, p.copy), False))
                for p in layout.placements
            ),
        )

    def better(layout: Layout, record: Record) -> None:
        m = record.measures
        figures = {
            "sheets": m.sheets,
            "offcuts": m.offcuts,
            "yield": m.yield_,
            "cost": m.cost,
            "unplaced": m.unplaced,
        }
        show(freed(layout), record.seconds, figures)

    stop = AnyOf(Cancelled(stopped), BoundMet(), MaxTime(request.seconds))
    result = solve(job, stop, request.seed, better, request.workers)
    m = result.measures
    figures = {
        "sheets": m.sheets,
        "offcuts": m.offcuts,
        "yield": m.yield_,
        "cost": m.cost,
        "unplaced": m.unplaced,
        "bound": result.bound.sheets,
        "why": "; ".join(proof_in_words(proof) for proof in result.bound.proofs),
    }
    show(freed(result.layout), result.seconds, figures)


def _held(request: Request) -> Job:
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


def hand_over(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Write a job's files and show their names and what the check says.

    The options are ``folder`` and ``force``; the figures shown are ``folder``,
    ``files`` and ``check``, lines of text.
    """
    set_up()
    from ..exporting import export_job
    from ..shop_paper import bench_paper

    done = export_job(
        request.job,
        Path(request.options["folder"]),
        force=bool(request.options.get("force")),
        extras={"shop-sheets.pdf": bench_paper},
    )
    figures = {
        "folder": str(done.folder),
        "files": [path.name for path in done.files],
        "check": done.check.lines(),
    }
    show(request.job.layout, 0.0, figures)
