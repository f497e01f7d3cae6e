"""How long the first complete layout takes, and how full its sheets are.

``python tests/benchmarks/bench_construct.py [COUNT ...]`` prints a Markdown table. The
parts are 20 different shapes of circular arcs that flatten to 40 to 200 vertices, laid
out on 1525 x 1525 sheets; parts may be turned by 90 degrees.
"""

from __future__ import annotations

import math
import sys
import time
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from drystone.nesting.construct import Constructor, Plan
from drystone.nesting.model.curve import Arc, Line, Segment
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.stock import Stock
from drystone.nesting.rooms import problems, to_layout
from drystone.nesting.solve import PLANS
from drystone.nesting.verify import verify
from drystone.nesting.warmup import warm_up

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.benchmarks.heading import heading
else:  # beside this file; the benchmarks are no package when they run
    from heading import heading

KINDS = 20
SHEET = 1525.0
COUNTS = (100, 200, 500, 1000, 2000)


def scalloped(radius: float, lobes: int, seed: int) -> Outline:
    """Return a closed chain of bulging arcs round a circle, and short straights."""
    rng = np.random.default_rng(seed)
    turns = 2.0 * math.pi * (np.arange(lobes) + rng.uniform(-0.25, 0.25, lobes)) / lobes
    reach = radius * rng.uniform(0.6, 1.0, lobes)
    points = [
        (float(r * math.cos(t)), float(r * math.sin(t)))
        for r, t in zip(reach, turns, strict=True)
    ]
    segments: list[Segment] = []
    for k, (start, end) in enumerate(zip(points, points[1:] + points[:1], strict=True)):
        if k % 3 == 2:
            segments.append(Line(start, end))
            continue
        bulge = float(rng.uniform(0.1, 0.3))
        segments.append(_bulged(start, end, bulge))
    return Outline(Loop(tuple(segments)))


def _bulged(start: tuple[float, float], end: tuple[float, float], bulge: float) -> Arc:
    sweep = 4.0 * math.atan(bulge)
    chord = math.dist(start, end)
    radius = chord * (1.0 + bulge * bulge) / (4.0 * bulge)
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    back = radius * math.cos(sweep / 2.0) / chord
    centre = (
        middle[0] - (end[1] - start[1]) * back,
        middle[1] + (end[0] - start[0]) * back,
    )
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    return Arc(centre, radius, math.degrees(first), math.degrees(sweep))


def order(count: int) -> Job:
    """Return the job of `count` copies of the 20 parts."""
    rng = np.random.default_rng(5)
    parts = []
    for k in range(KINDS):
        outline = scalloped(float(rng.uniform(45.0, 130.0)), 5 + k % 9, k)
        parts.append(
            Part(f"p{k}", f"part {k}", outline, quantity=len(range(k, count, KINDS)))
        )
    stock = Stock("s", "sheet", Outline(Loop.rectangle(SHEET, SHEET)))
    return Job("bench", tuple(parts), (stock,), Cutting())


def measure_one(count: int) -> dict[str, float]:
    """Return the seconds of each step, the sheets and the density."""
    job = order(count)
    start = time.perf_counter()
    (problem,) = problems(job)
    prepared = time.perf_counter()
    builder = Constructor(problem)
    first = builder.build(PLANS[0], lambda: False)
    built = time.perf_counter()
    builder.build(Plan("area", jitter=0.1, seed=1), lambda: False)
    again = time.perf_counter()
    layout = to_layout([(problem, first)])
    report = verify(job, layout)
    checked = time.perf_counter()
    assert report.ok, report.problems[:3]
    assert not layout.unplaced
    sheets = len(layout.blanks)
    area = math.fsum(part.area * part.quantity for part in job.parts)
    return {
        "copies": count,
        "prepare": prepared - start,
        "construct": built - prepared,
        "next": again - built,
        "check": checked - again,
        "total": checked - start - (again - built),
        "sheets": sheets,
        "density": 100.0 * area / (sheets * SHEET * SHEET),
    }


def table(counts: tuple[int, ...]) -> str:
    """Return the Markdown table for some counts of copies."""
    warm_up()
    rows = [measure_one(count) for count in counts]
    keys = list(rows[0])
    lines = [heading("seconds by the clock, one run each, no limit; order from seed 5")]
    lines += ["", "| " + " | ".join(keys) + " |", "|" + "---|" * len(keys)]
    lines += [
        "| " + " | ".join(f"{row[key]:.4g}" for key in keys) + " |" for row in rows
    ]
    lines.append("")
    for one, two in pairwise(rows):
        power = math.log(two["total"] / one["total"]) / math.log(
            two["copies"] / one["copies"]
        )
        lines.append(f"{one['copies']:.0f} to {two['copies']:.0f}: n^{power:.2f}")
    vertices = [len(p.outline.flatten(0.01).outer) for p in order(KINDS).parts]
    lines.append(f"vertices when flattened: {min(vertices)} to {max(vertices)}")
    return "\n".join(lines)


@pytest.mark.benchmark
def test_bench_construct() -> None:
    print("\n" + table((100, 200, 1000)))


if __name__ == "__main__":
    print(table(tuple(map(int, sys.argv[1:])) or COUNTS))
