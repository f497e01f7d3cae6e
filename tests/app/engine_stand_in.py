"""Stands in for the engine: does as the request's options say."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from typing import Any

from drystone.app.window.engine_process import Request
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.placement import Blank, Layout


def work(
    request: Request,
    show: Callable[[Layout, float, dict[str, Any]], None],
    stopped: Callable[[], bool],
) -> None:
    how = request.options["how"]
    show(Layout((Blank("one"),)), 0.1, {"yield": 0.5})
    if how == "die":
        time.sleep(0.2)
        os._exit(3)
    if how == "fail":
        raise InputError("panel", "no stock of birch", "add some")
    if how == "slip":
        raise KeyError("birch")
    if how == "rank":
        show(Layout(), 0.2, {"nice": os.nice(0)})
        return
    if how == "deaf":
        time.sleep(60)
    while how == "search" and not stopped():
        time.sleep(0.01)
    show(Layout((Blank("one"), Blank("two"))), 0.2, {"yield": 0.6})
