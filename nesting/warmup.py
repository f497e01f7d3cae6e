"""Compiling the kernels before they are needed, so that a wait can be explained.

numba keeps what it compiled in the folder that ``NUMBA_CACHE_DIR`` names when it is
first imported (the application sets it); so compiling happens once per installation.
"""

from __future__ import annotations

import importlib
from dataclasses import replace
from types import ModuleType
from typing import Any

MODULES = (
    "kernels",
    "kernels_convolve",
    "kernels_place",
    "kernels_prepare",
    "kernels_free",
    "kernels_separate",
    "kernels_tiling",
    "kernels_rectangles",
    "kernels_skyline",
)


def is_warm() -> bool:
    """Return whether the kernels of construction are compiled in this process."""
    from . import kernels_place

    return bool(_signatures(kernels_place.touching_places))


def warm_up() -> bool:
    """Run a tiny job through everything that construction compiles.

    Returns
    -------
    bool
        Whether anything had to be compiled, rather than be loaded from the cache.
    """
    from .model.job import Cutting, Job
    from .model.outline import Loop, Outline
    from .model.part import Part
    from .model.rules import TurnRule
    from .model.stock import KeepOut, Stock
    from .solve import PLANS, Params, solve
    from .stop import AnyOf, MaxPasses, MaxTime

    before = compiled()
    ell = Outline(
        Loop.polygon([(0, 0), (40, 0), (40, 10), (10, 10), (10, 30), (0, 30)]),
        (),
    )
    ring = Outline(Loop.rectangle(120, 120), (Loop.rectangle(100, 100, 10, 10),))
    turn = TurnRule.parse("90")
    job = Job(
        "warm-up",
        (
            Part("a", "a", ell, quantity=3, turn=turn),
            Part("b", "b", ring, turn=turn),
        ),
        (
            Stock(
                "s",
                "s",
                Outline(Loop.rectangle(600, 600)),
                keep_outs=(KeepOut(Loop.circle(300, 300, 3)),),
            ),
        ),
        Cutting(),
    )
    solve(job, MaxPasses(1), params=Params())
    if compiled() == before:
        return False
    from .improve import improve

    # The first run compiles the improving engine as well; later ones load it.
    params = Params(plans=PLANS[:1], shaken=0, improve=improve)
    solve(job, AnyOf(MaxPasses(3), MaxTime(1.0)), params=params)
    plates = Part("c", "c", Outline(Loop.rectangle(310, 290)), quantity=5, turn=turn)
    solve(replace(job, parts=(plates,)), MaxPasses(3), params=params)
    return True


def compiled() -> int:
    """Return how many kernels were compiled in this process, not loaded from disk."""
    count = 0
    for name in MODULES:
        module = importlib.import_module(f".{name}", __package__)
        count += sum(_misses(function) for function in _functions(module))
    return count


def _functions(module: ModuleType) -> list[Any]:
    return [value for value in vars(module).values() if hasattr(value, "py_func")]


def _misses(function: Any) -> int:
    return sum(function.stats.cache_misses.values())


def _signatures(function: Any) -> list[Any]:
    return list(function.signatures)
