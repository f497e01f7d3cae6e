"""After the warm-up nothing is left to compile: nobody waits without being told."""

from __future__ import annotations

import inspect
import subprocess
import sys
from pathlib import Path

import pytest

from drystone.nesting import benchmark, warmup

AFTERWARDS = """
import itertools, math
from dataclasses import replace
from functools import partial
from drystone.nesting import benchmark, warmup
from drystone.nesting.improve import improve
from drystone.nesting.model.curve import Arc, Line
from drystone.nesting.model.job import Cutting, Job, Objective
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.rules import TurnRule
from drystone.nesting.model.stock import KeepOut, Stock
from drystone.nesting.solve import Params, solve
from drystone.nesting.stop import MaxPasses

def known():
    return {
        f"{module.__name__}.{name}": [str(one) for one in kernel.signatures]
        for module in warmup.modules()
        for name, kernel in vars(module).items()
        if hasattr(kernel, "py_func")
    }

warmup.warm_up()
before = known()

def told(title):
    global before
    now = known()
    print(title, sorted(name for name in now if now[name] != before[name]))
    before = now

params = Params(shaken=1, improve=partial(improve, first=2000, press=2000))
quarter, free = TurnRule.parse("90"), TurnRule()

def box(w, h, *holes):
    return Outline(Loop.rectangle(w, h), holes)

def sheet(w, h, **more):
    return Stock(f"{w} x {h}", "sheet", box(w, h), **more)

def lay(title, parts, stock, passes=6, objective=Objective.FEWEST_SHEETS, cutting=None):
    job = Job(title, parts, stock, cutting or Cutting(), objective=objective)
    result = solve(job, MaxPasses(passes), params=params)
    assert result.layout.placements, title
    told(title)
    return replace(job, layout=result.layout)

gable = Outline(Loop.polygon([(0, 0), (150, 0), (150, 180), (75, 240), (0, 180)]),
                (Loop.circle(75, 150, 16),))
foot = Outline(Loop((Line((0, 0), (120, 0)), Line((120, 0), (120, 40)),
                     Arc((60, 40), 60, 0, 180), Line((0, 40), (0, 0)))))
disc = Outline(Loop.circle(0, 0, 40))
screws = (KeepOut(Loop.circle(20, 20, 8)), KeepOut(Loop.rectangle(30, 30, 700, 700)))
irregular = (Part("g", "g", gable, quantity=9, turn=quarter),
             Part("f", "f", foot, quantity=11, turn=free),
             Part("d", "d", disc, quantity=4))
boards = tuple(Part(str(w), "board", box(w, h), quantity=n, turn=quarter)
               for w, h, n in ((310, 290, 5), (180, 140, 9), (230, 90, 12)))
quarters = (sheet(760, 760, keep_outs=screws),)
done = lay("irregular", irregular, quarters)
lay("turning", (Part("g", "g", gable, quantity=7, turn=free),), (sheet(420, 420),), 12)
lay("several sheets", irregular, (sheet(500, 500, price=3.0), sheet(900, 400, price=4.0,
    count=2)), objective=Objective.LEAST_COST)
lay("shortest", irregular, (sheet(2000, 500),), objective=Objective.SHORTEST_LENGTH)
lay("plates", boards, (sheet(760, 760),))
lay("plates and screws", boards, quarters)
lay("plates on several sheets", boards, (sheet(600, 600, price=3.0),
    sheet(900, 400, price=3.5)), objective=Objective.LEAST_COST)
half = Outline(Loop.polygon([(0, 0), (100, 0), (0, 60)]))
lay("jigsaw", (Part("t", "t", half, quantity=8, turn=TurnRule.listed([0.0, 180.0])),),
    (sheet(200, 120),), cutting=Cutting(cutter=0.0, allowance=0.0, margin=0.0))
held = replace(done.layout, placements=tuple(
    replace(p, locked=True) for p in done.layout.placements if p.blank == 0))
solve(replace(done, layout=held), MaxPasses(6), params=params)
told("held")

ell = [[0, 0], [9, 0], [9, 3.5], [3.2, 3], [3, 8], [0.1, 8]]
kite = [[0, 0], [5, 1], [3, 4.2]]
pieces = [{"id": 1, "demand": 4, "outer": ell}, {"id": 2, "demand": 5, "outer": kite}]
flat = [{"id": 1, "demand": 4, "w": 4, "h": 3}, {"id": 2, "demand": 5, "w": 2, "h": 3}]
room = {"width": 13, "sheet": {"w": 13, "h": 12}}
several = {"sheets": [{"w": 13, "h": 12, "cost": 3}, {"w": 9, "h": 9, "cost": 1}]}
for kind, turns, laid, where in (
    ("strip", [0, 180], pieces, room), ("strip", "free", pieces, room),
    ("bins", [0, 90], pieces, room), ("bins", "free", pieces, several),
    ("strip", [0, 90], flat, room), ("bins", [0], flat, room),
    ("bins", [0], flat, several),
):
    instance = {"kind": kind, "rotations_deg": turns, "pieces": laid, **where}
    # A clock that counts how often it is asked.
    clock = itertools.count(0.0, 1e-2).__next__
    benchmark.run_instance(instance, 2.0, 1, clock=clock)
    told(f"benchmark {kind} {turns} {len(where)}")
print("done")
"""


def test_nothing_is_left_to_compile_after_the_warm_up() -> None:
    ran = subprocess.run(
        [sys.executable, "-c", AFTERWARDS], capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stderr
    *told, last = ran.stdout.splitlines()
    assert last == "done"
    assert len(told) == 16
    assert [line for line in told if not line.endswith("[]")] == []


def test_no_clock_ends_the_warm_up() -> None:
    # A second is long enough here and too short on a slower machine.
    text = inspect.getsource(warmup)
    assert "MaxPasses" in text
    assert "MaxTime" not in text and "import time" not in text
    assert "MaxTime" not in inspect.getsource(benchmark._compile)


def test_all_modules_of_kernels_are_counted() -> None:
    folder = Path(warmup.__file__).parent
    names = {path.stem for path in folder.glob("kernels*.py")}
    assert {module.__name__.split(".")[-1] for module in warmup.modules()} == names
    assert {"kernels_compact", "kernels_tighten", "kernels_skyline"} <= names


@pytest.mark.parametrize("new", [0, 1])
def test_where_construction_had_to_be_compiled_the_rest_follows(
    new: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    counts = iter([0, new, new])
    went = []
    monkeypatch.setattr(warmup, "compiled", lambda: next(counts))
    monkeypatch.setattr(warmup, "_tile_and_stack", lambda: went.append("all"))
    assert warmup.warm_up(whole=False) is bool(new)
    assert went == ["all"] * new
