"""What the job book lets another process do: quote a job, and try variants of it.

Runs in that process only; whoever shows a window never imports this module, because
it loads the compiled engine.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from ...nesting.model.placement import Layout
from ..kernel_cache import set_up, warm

if TYPE_CHECKING:
    from ..quoting import Quote
    from ..trying import Outcome
    from ..window.engine_child import Request, Show

LEVELS = {"note": "info", "warning": "warn", "refusal": "error"}


def quote(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Quote a job as it is laid out, or on a quick layout where nothing is.

    The option is ``setup``; the figures shown are those of `told_quote`,
    and ``quick``, whether a layout was made for it.
    """
    set_up()
    setup = request.options["setup"]
    from ..quoting import make_quote, quote_layout

    show.progress(-1.0, "")
    if request.job.layout.placements:
        done = quote_layout(request.job, setup)
        quick = False
    else:
        warm(lambda words: show.progress(-1.0, words))
        done = make_quote(
            request.job,
            setup,
            seconds=request.seconds,
            workers=request.workers,
        )
        quick = True
    money = setup.prices.currency
    show(Layout(), 0.0, told_quote(done, money) | {"quick": quick})


def told_quote(done: Quote, money: str) -> dict[str, object]:
    """Return a quote as what is shown and written of it.

    The keys are ``facts`` (labels and values), ``rows`` (item, quantity, amount),
    ``total``, ``waste``, ``parts`` (name, size, board, pieces), ``boards`` (sentences
    about what is bought of each and what is proven about less), ``remarks`` (sentences
    for the customer), ``graded`` (level and sentence, for the shop), ``lifts``
    (sentences about heavy boards), ``sawing`` (name, sheets, break-down), ``proven``
    and ``missing``.
    """
    from ...nesting.model.lengths import weight_text
    from ..commands.quote import (
        amount,
        board_lines,
        customer_remarks,
        facts_of,
        part_rows,
        price_rows,
    )

    units = done.job.units
    lifts = [
        f"{board.name}, about {weight_text(board.weight, units)} each: {board.lift}."
        for board in done.bought
        if board.lift
    ]
    return {
        "facts": facts_of(done),
        "rows": price_rows(done, money),
        "total": ("Price", amount(done.cost.price, money)),
        "waste": amount(done.cost.waste, money),
        "parts": part_rows(done),
        "boards": [board_lines(b, units, money) for b in done.materials],
        "remarks": customer_remarks(done),
        "graded": [
            (LEVELS[a.weight.value], f"{a.message[:1].upper()}{a.message[1:]}.")
            for a in done.advice
        ],
        "lifts": lifts,
        "sawing": [(cuts.name, cuts.sheets, cuts.breakdown) for cuts in done.sawing],
        "proven": done.proven,
        "missing": done.missing,
    }


def what_if(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Try variants and show each outcome as it is known.

    The options are ``setup`` and ``variants``; the figures shown are ``place`` and
    ``outcome``.
    """
    set_up()
    warm(lambda words: show.progress(-1.0, words))
    from ..trying import try_all

    setup, wanted = request.options["setup"], request.options["variants"]
    show.progress(0.0, "")

    def heard(place: int, outcome: Outcome) -> None:
        show(Layout(), 0.0, {"place": place, "outcome": outcome})

    try_all(
        request.job,
        setup,
        wanted,
        seconds=request.seconds,
        seed=request.seed,
        workers=request.workers,
        on_done=lambda count: show.progress(count / len(wanted), ""),
        on_outcome=heard,
    )
