"""Compiling the kernels before they are needed, so that a wait can be explained.

numba keeps what it compiled in the folder that ``NUMBA_CACHE_DIR`` names when it is
first imported (the application sets it); so compiling happens once per installation.
"""

from __future__ import annotations

import importlib
import math
import pkgutil
from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from types import ModuleType
from typing import Any

EVALUATIONS = 300
"""Length of each attempt of the improving engine: it is to compile, not to search."""

PASSES = 12
"""Passes of a tiny job with the improving engine: each of its methods has its turn."""

CORNERS = 90
"""Of a part that has so many that some are dropped when it is prepared."""


def is_warm() -> bool:
    """Return whether the kernels of construction are compiled in this process."""
    places: Any = importlib.import_module(".kernels_place", __package__)
    return bool(places.touching_places.signatures)


def warm_up(whole: bool = True) -> bool:
    """Run tiny jobs through all that lays parts out, so that every kernel is compiled.

    No clock ends any of it: on a slow machine it takes longer, and is as whole.

    Parameters
    ----------
    whole : bool
        Whether to go through everything; else through what constructs a first layout,
        and through the rest only if anything there had to be compiled.

    Returns
    -------
    bool
        Whether anything had to be compiled, rather than be loaded from the cache.
    """
    from .improve import improve
    from .model.job import Cutting, Job
    from .model.outline import Loop, Outline
    from .model.part import Part
    from .model.rules import TurnRule
    from .model.stock import KeepOut, Stock
    from .solve import PLANS, Params, solve
    from .stop import MaxPasses

    before = compiled()
    turn = TurnRule.parse("90")
    ell = Loop.polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)])
    ring = Outline(Loop.rectangle(120, 120), (Loop.rectangle(100, 100, 10, 10),))
    around = [2.0 * math.pi * k / CORNERS for k in range(CORNERS)]
    many = Loop.polygon([(20.0 * math.cos(a), 20.0 * math.sin(a)) for a in around])
    screw = KeepOut(Loop.circle(300, 300, 3))
    parts = (
        Part("a", "a", Outline(ell), quantity=3, turn=turn),
        Part("b", "b", ring, turn=turn),
        Part("c", "c", Outline(many), turn=turn),
    )
    sheet = Stock("s", "s", Outline(Loop.rectangle(600, 600)), keep_outs=(screw,))
    job = Job("warm-up", parts, (sheet,), Cutting())
    solve(job, MaxPasses(1), params=Params())
    if not whole and compiled() == before:
        return False
    engine = partial(improve, first=EVALUATIONS, press=EVALUATIONS)
    params = Params(plans=PLANS[:1], shaken=0, improve=engine)
    free = (parts[0], replace(parts[0], id="d", name="d", turn=TurnRule()))
    small = replace(sheet, outline=Outline(Loop.rectangle(90, 60)), keep_outs=())
    plates = (Part("e", "e", Outline(Loop.rectangle(310, 250)), quantity=5, turn=turn),)
    for one in (
        job,
        replace(job, parts=free, stock=(small,)),
        replace(job, parts=plates),
        replace(job, parts=plates, stock=(replace(sheet, keep_outs=()),)),
    ):
        solve(one, MaxPasses(PASSES), params=params)
    _tile_and_stack()
    return compiled() > before


def _tile_and_stack() -> None:
    """Compile what jigsaws and strips of rectangles need."""
    from .kernels_rectangles import UPRIGHT
    from .rectangles.strip import StripSearch
    from .tiling import compile_kernel

    compile_kernel()
    # Squares leave room over, so that an attempt is made to do with less.
    StripSearch([(3, 3)], [3], [UPRIGHT], 5, 0).run(lambda: False, attempts=1)


def compiled() -> int:
    """Return how many kernels were compiled in this process, not loaded from disk."""
    return sum(
        sum(value.stats.cache_misses.values())
        for module in modules()
        for value in vars(module).values()
        if hasattr(value, "py_func")
    )


def modules() -> Iterator[ModuleType]:
    """Yield all modules of kernels; their names begin with ``kernels``."""
    package: Any = importlib.import_module(__package__ or "")
    for found in pkgutil.iter_modules(package.__path__):
        if found.name.startswith("kernels"):
            yield importlib.import_module(f".{found.name}", __package__)
