"""Strips with free turns beside quarter turns, at the same time for both.

For the arguments see ``--help``. With ``--own`` three sets of our own are added: boards
for bird boxes and planters sawn aslant into parts that are drawn at angles of their
own, so that the optimum, 100 %, is known and no quarter turn leads there.
"""

from __future__ import annotations

import math
import statistics
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
import shapely.affinity

sys.path.insert(0, str(Path(__file__).parent))

if TYPE_CHECKING:
    from tests.benchmarks.instances import arguments, heading, instances, pool, runs
else:  # beside this file; the benchmarks are no package when they run
    from instances import arguments, heading, instances, pool, runs

QUARTERS = [0.0, 90.0, 180.0, 270.0]

BOARDS = {
    # Strips of a board, length by width, and the angles of the saw cuts across it.
    "own-slats": (1200.0, 300.0, 3, (62.0, 75.0, 108.0, 121.0, 83.0)),
    "own-gables": (1000.0, 300.0, 2, (50.0, 130.0)),
    "own-planter": (1400.0, 400.0, 4, (70.0, 110.0)),
}


def own() -> Iterator[tuple[str, dict[str, Any]]]:
    """The three sets: a board ripped into strips, each cut across at slants."""
    for seed, (name, (length, width, strips, cuts)) in enumerate(BOARDS.items()):
        rng = np.random.default_rng(seed)
        high = width / strips
        pieces = []
        for strip in range(strips):
            count = len(cuts) + 2
            at = (np.arange(1, count) + rng.uniform(-0.2, 0.2, count - 1)) / count
            lines = [(0.0, 90.0)]
            for k, x in enumerate(at.tolist()):
                lines.append((length * x, cuts[(k + strip) % len(cuts)]))
            lines.append((length, 90.0))
            for k, (one, two) in enumerate(pairwise(lines)):
                lean = [
                    high / math.tan(math.radians(angle)) / 2 for _, angle in (one, two)
                ]
                ring = [
                    (one[0] - lean[0], 0.0),
                    (two[0] - lean[1], 0.0),
                    (two[0] + lean[1], high),
                    (one[0] + lean[0], high),
                ]
                drawn = shapely.affinity.rotate(
                    shapely.Polygon(ring), float(rng.uniform(10, 30)), (0, 0)
                )
                outer = [list(p) for p in drawn.exterior.coords[:-1]]
                pieces.append(
                    {"id": f"{strip}-{k}", "demand": 1, "outer": outer, "holes": []}
                )
        yield (
            name,
            {
                "name": name,
                "kind": "strip",
                "width": width,
                "known_optimum": {"length": length},
                "pieces": pieces,
            },
        )


def main() -> None:
    args = arguments(__doc__, own="add three sets of our own")
    chosen = [(path.stem, instance) for path, instance in instances(args)]
    if args.own:
        chosen += [e for e in own() if not args.only or e[0] in args.only]
    args.turns = "0, 90, 180, 270 beside free"
    print(heading(args) + "\n")
    print("| instance | quarter turns % | free % | lowest free % | gain |")
    print("|---|---|---|---|---|")
    with pool(args) as executor:
        for name, instance in chosen:
            density = {}
            for turns in ("quarters", "free"):
                instance["rotations_deg"] = QUARTERS if turns == "quarters" else "free"
                for piece in instance["pieces"]:
                    piece.pop("rotations_deg", None)
                found = runs(instance, args, executor)
                density[turns] = [100.0 * run["density"] for run in found]
            quarters, free = (statistics.median(row) for row in density.values())
            print(
                f"| {name} | {quarters:.2f} | {free:.2f} | {min(density['free']):.2f} "
                f"| {free - quarters:+.2f} |",
                flush=True,
            )


if __name__ == "__main__":
    main()
