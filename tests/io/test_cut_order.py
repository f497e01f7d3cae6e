"""What is cut first: nothing that is loose is ever cut again."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from drystone.io.cut_order import Cut, cut_order
from drystone.nesting.model.curve import Line
from drystone.nesting.model.job import Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock

PHASES = [Operation.DRILL, Operation.ENGRAVE, Operation.POCKET, Operation.TAB]


def ring(key: str, outer: float, hole: float, **more: object) -> Part:
    """Return a round part with a round hole and one mark of each kind."""
    middle = (outer + hole) / 2.0
    marks = tuple(
        Mark(
            operation,
            Loop.circle(middle * math.cos(n), middle * math.sin(n), 1).segments,
        )
        for n, operation in enumerate(reversed(PHASES))
    )
    outline = Outline(Loop.circle(0, 0, outer), (Loop.circle(0, 0, hole),))
    return replace(Part(key, key, outline, marks), **more)  # type: ignore[arg-type]


def a_job(placements: list[Placement], *parts: Part) -> Job:
    stock = (Stock("s", "s", Outline(Loop.rectangle(2000, 2000))),)
    return Job("j", parts, stock, layout=Layout((Blank("s"),), tuple(placements)))


def places(cuts: tuple[Cut, ...]) -> list[tuple[str, str]]:
    return [(cut.operation.value, cut.placement.part_id) for cut in cuts]


def test_rings_in_rings_are_cut_from_the_inside_out() -> None:
    big, middle, small = (
        ring("big", 400, 300),
        ring("middle", 250, 150),
        ring("small", 100, 50),
    )
    at = [Placement(key, 1, 0, 1000.0, 1000.0) for key in ("big", "middle", "small")]
    cuts = places(cut_order(a_job(at, big, middle, small), 0))
    assert cuts[-6:] == [
        ("INSIDE", "small"),  # nothing in it: while all still hangs together
        ("OUTSIDE", "small"),
        ("INSIDE", "middle"),
        ("OUTSIDE", "middle"),
        ("INSIDE", "big"),
        ("OUTSIDE", "big"),
    ]
    assert [operation for operation, _ in cuts[:-6]] == [
        operation.value for operation in PHASES for _ in range(3)
    ]


def test_empty_holes_come_before_every_outer_edge_deepest_first() -> None:
    frame = replace(
        ring("frame", 400, 200),
        outline=Outline(
            Loop.circle(0, 0, 400), (Loop.circle(0, 0, 200), Loop.circle(300, 0, 20))
        ),
    )
    inner = ring("inner", 150, 30)
    at = [
        Placement("frame", 1, 0, 500.0, 500.0),
        Placement("inner", 1, 0, 500.0, 500.0),
    ]
    cuts = places(cut_order(a_job(at, frame, inner), 0))
    assert cuts[-5:] == [
        ("INSIDE", "inner"),
        ("INSIDE", "frame"),
        ("OUTSIDE", "inner"),
        ("INSIDE", "frame"),
        ("OUTSIDE", "frame"),
    ]


def test_small_parts_come_before_big_ones() -> None:
    sizes = {"a": 90, "b": 30, "c": 60}
    parts = [Part(k, k, Outline(Loop.rectangle(s, s))) for k, s in sizes.items()]
    at = [Placement(k, 1, 0, 200.0 * n, 0.0) for n, k in enumerate(sizes)]
    cuts = cut_order(a_job(at, *parts), 0)
    assert [cut.placement.part_id for cut in cuts] == ["b", "c", "a"]


def test_the_cutter_goes_to_the_nearest_place() -> None:
    part = Part("p", "p", Outline(Loop.rectangle(50, 50)), quantity=4)
    at = [Placement("p", n + 1, 0, x, 0.0) for n, x in enumerate((900, 100, 600, 300))]
    order = cut_order(a_job(at, part), 0)
    assert [cut.placement.copy for cut in order] == [2, 4, 3, 1]
    order = cut_order(a_job(at, part), 0, origin=(2000.0, 0.0))
    assert [cut.placement.copy for cut in order] == [1, 3, 4, 2]


def test_open_marks_are_kept_and_moved() -> None:
    mark = Mark(Operation.ENGRAVE, (Line((1.0, 2.0), (3.0, 2.0)),), "date")
    part = Part("p", "p", Outline(Loop.rectangle(50, 50)), (mark,))
    first, _ = cut_order(a_job([Placement("p", 1, 0, 10.0, 20.0)], part), 0)
    assert (first.name, first.closed) == ("date", False)
    assert first.segments == (Line((11.0, 22.0), (13.0, 22.0)),)


@settings(max_examples=30, deadline=None)
@given(st.lists(st.sampled_from([400.0, 250.0, 100.0, 20.0]), min_size=1, max_size=5),
       st.randoms())  # fmt: skip
def test_nothing_loose_is_cut_again(sizes: list[float], random: object) -> None:
    """Whatever lies inside a cut through the board must have been cut before it."""
    kinds = {size: ring(f"r{size:g}", size, size * 0.7) for size in sizes}
    at: list[Placement] = []
    for column, largest in enumerate(sorted(set(sizes), reverse=True)):
        inside = [size for size in sorted(set(sizes), reverse=True) if size <= largest]
        at += [
            Placement(kinds[s].id, column + 1, 0, 1000.0 * column, 500.0)
            for s in inside
        ]
    random.shuffle(at)  # type: ignore[attr-defined]
    cuts = cut_order(a_job(at, *kinds.values()), 0)
    assert len(cuts) == 6 * len(at)
    for before, after in itertools.combinations(cuts, 2):
        if before.operation in (Operation.INSIDE, Operation.OUTSIDE):
            x, y = after.segments[0].start
            loop = Loop(before.segments)
            x0, _, x1, _ = loop.bounds
            centre, radius = (x0 + x1) / 2.0, (x1 - x0) / 2.0
            assert math.hypot(x - centre, y - 500.0) > radius - 1e-9
