"""Working out the bound in a process of its own: what runs there."""

from __future__ import annotations

from collections.abc import Callable

from ...nesting.model.placement import Layout
from ..kernel_cache import set_up, warm
from .engine_child import Request, Show


def prove(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Show the figures ``bound`` and ``why``; none where nothing can be claimed."""
    set_up()
    warm(lambda words: None)
    from ..quoting import whole_sheets_bound
    from ..verdict import proofs_in_words

    proven = whole_sheets_bound(request.job)
    if proven is not None:
        why = proofs_in_words(proven)
        show(Layout(), 0.0, {"bound": proven.sheets, "why": why})
