"""Benchmark instances end to end, checked by their own code path."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from typing import Any

import pytest
import shapely

from drystone.nesting import benchmark
from drystone.nesting.benchmark import run_instance
from drystone.nesting.benchmark_check import check, sound
from drystone.nesting.rectangles.instance import solve_rectangles
from drystone.nesting.separate import Settings
from drystone.nesting.strip import StripSearch

L_PIECE = [[0, 0], [6, 0], [6, 2], [2, 2], [2, 6], [0, 6]]


def bins(demand: int) -> dict[str, Any]:
    """An L and a small square make a square of 6; four of those fill a sheet."""
    return {
        "kind": "bins",
        "sheet": {"w": 12, "h": 12},
        "rotations_deg": [0, 90, 180, 270],
        "pieces": [
            {"id": "l", "demand": demand, "outer": L_PIECE, "holes": []},
            {"id": "s", "demand": demand, "w": 4, "h": 4},
        ],
    }


def test_bins_reach_the_area_bound() -> None:
    solution = run_instance(bins(8), 8.0, seed=1)
    assert solution["bins"] == 2
    assert len(solution["placements"]) == 16
    assert {p["bin"] for p in solution["placements"]} == {0, 1}


def test_strip_is_checked_and_complete() -> None:
    instance = {
        "kind": "strip",
        "width": 8,
        "rotations_deg": [0, 180],
        "pieces": [
            {"id": "l", "demand": 4, "outer": L_PIECE, "holes": []},
            {
                "id": "ring",
                "demand": 1,
                "outer": [[0, 0], [8, 0], [8, 8], [0, 8]],
                "holes": [[[1, 1], [7, 1], [7, 7], [1, 7]]],
            },
        ],
    }
    solution = run_instance(instance, 1.5, seed=2)
    assert len(solution["placements"]) == 5
    assert solution["length"] < 20.0
    assert solution["density"] == pytest.approx(
        (4 * 20 + 28) / (8 * solution["length"])
    )


def test_long_searches_begin_several_times_and_the_best_goes_on(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    assert [benchmark._starts(n, 60.0) for n in (12, 30, 99)] == [1, 1, 1]
    assert [benchmark._starts(n, 300.0) for n in (12, 30, 99)] == [10, 6, 3]
    begun: list[StripSearch] = []

    class Watched(StripSearch):
        def begin(self, stop: Callable[[], bool]) -> bool:
            begun.append(self)
            return super().begin(stop)

    monkeypatch.setattr(benchmark, "StripSearch", Watched)
    monkeypatch.setattr(benchmark, "START_SECONDS", 0.1)
    instance = {
        "kind": "strip",
        "width": 8,
        "rotations_deg": [0, 180],
        "pieces": [
            {"id": "l", "demand": 6, "outer": L_PIECE, "holes": []},
            {"id": "k", "demand": 6, "outer": [[0, 0], [5, 1], [3, 4]], "holes": []},
        ],
    }
    solution = run_instance(instance, 2.5, seed=2)
    assert len(begun) >= 3
    assert len({search.seed for search in begun}) == len(begun)
    assert {search.settings.kept for search in begun} == {3}
    _, pushing = benchmark._portfolio(None, 2)
    assert [each.pushes for each in benchmark._manners(pushing)] == [0, 6]
    asked_for = Settings(uniform=15)
    assert benchmark._manners(asked_for) == [asked_for]
    least = min(search.least_length for search in begun)
    assert solution["length"] == pytest.approx(least, rel=1e-6)


COMPILED_BEFORE = """
import sys, time
from drystone.nesting import benchmark
from drystone.nesting.separate import Settings

def compiled():
    return {
        f"{module}.{name}": list(kernel.signatures)
        for module, found in list(sys.modules.items())
        if module.startswith("drystone.nesting.kernels")
        for name, kernel in vars(found).items()
        if hasattr(kernel, "signatures")
    }

benchmark._compile()
before = compiled()
ell = [[0, 0], [9, 0], [9, 3.5], [3.2, 3], [3, 8], [0.1, 8]]
kite = [[0, 0], [5, 1], [3, 4.2]]
instance = {
    "kind": "strip",
    "width": 13,
    "rotations_deg": [0, 180],
    "pieces": [
        {"id": "l", "demand": 4, "outer": ell},
        {"id": "k", "demand": 5, "outer": kite},
    ],
}
benchmark._strip(instance, 2.0, 0, Settings(), time.process_time)
print({name for name, found in compiled().items() if found != before[name]})
"""


def test_nothing_is_left_to_compile_when_the_clock_of_a_strip_starts() -> None:
    ran = subprocess.run(
        [sys.executable, "-c", COMPILED_BEFORE],
        capture_output=True,
        text=True,
        check=True,
    )
    assert ran.stdout.strip() == "set()"


def test_check_rejects_overlap_and_sticking_out() -> None:
    one, two = shapely.box(0, 0, 5, 5), shapely.box(5, 0, 9, 5)
    assert check([one, two], (0, 0, 9, 5), 1e-6)
    assert not check([one, shapely.box(4.99, 0, 9, 5)], (0, 0, 9, 5), 1e-6)
    assert not check([one, two], (0, 0, 8.99, 5), 1e-6)
    ring = shapely.Polygon(one.exterior.coords, [[(1, 1), (4, 1), (4, 4), (1, 4)]])
    assert check([ring, shapely.box(2, 2, 3, 3)], (0, 0, 5, 5), 1e-6)


def test_a_sound_solution_is_told_from_all_others() -> None:
    instance: dict[str, Any] = {
        "kind": "bins",
        "sheets": [{"w": 12, "h": 12, "cost": 9, "available": 1}, {"w": 6, "h": 6}],
        "rotations_deg": [0, 90],
        "pieces": [
            {"id": "l", "demand": 1, "outer": L_PIECE},
            {"id": 1, "w": 4, "h": 4},
        ],
    }
    ell = {"piece": "l", "bin": 0, "x": 0, "y": 0, "rotation_deg": 0, "mirrored": False}
    square = {**ell, "piece": 1, "x": 2, "y": 2}

    def solution(*rows: dict[str, Any], sheets: tuple[int, ...] = (1,)) -> Any:
        return {"bins": len(sheets), "bin_sheets": [*sheets], "placements": [*rows]}

    assert sound(instance, solution(ell, square))
    assert sound(instance, solution(ell, {**square, "bin": 1}, sheets=(0, 1)))
    for bad in (
        solution(ell),  # one is missing
        solution(ell, square, {**square, "bin": 1}, sheets=(1, 1)),  # one is too many
        solution(ell, {**square, "x": 1.99}),  # overlap
        solution(ell, {**square, "x": 2.01}),  # sticks out
        solution(ell, {**square, "x": 6, "rotation_deg": 180, "y": 6}),  # forbidden
        solution({**ell, "mirrored": True, "x": 6}, square),
        solution(ell, {**square, "bin": 1}, sheets=(0, 0)),  # more than there are
        solution(ell, square, sheets=(1, 1)),  # one is empty
        solution(ell, {**square, "bin": 2}, sheets=(1, 1)),  # on none
        {**solution(ell, square), "bins": 2},
    ):
        assert not sound(instance, bad), bad
    strip = {**instance, "kind": "strip", "width": 6}
    assert sound(strip, {"length": 6.0, "placements": [ell, square]})
    assert not sound(strip, {"length": 5.99, "placements": [ell, square]})


@pytest.mark.parametrize("kind", ["strip", "bins"])
def test_solutions_of_rectangles_pass_the_check_too(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Where the method for rectangles went wrong, nothing may come of it.
    pieces = [{"id": k, "demand": 3, "w": w, "h": 5} for k, w in enumerate((4, 6, 2))]
    room = {"width": 10, "sheet": {"w": 12, "h": 10}}
    instance = {"kind": kind, "pieces": pieces, "rotations_deg": [0], **room}

    def wrong(*args: Any) -> Any:
        solution = solve_rectangles(*args)
        solution["placements"][0]["x"] += 0.01
        return solution

    assert run_instance(instance, 30.0, seed=1)
    monkeypatch.setattr(benchmark, "solve_rectangles", wrong)
    with pytest.raises(RuntimeError, match="passes the check"):
        run_instance(instance, 30.0, seed=1)


def test_unknown_kinds_are_refused() -> None:
    with pytest.raises(ValueError, match="cannot be run"):
        run_instance({"kind": "heap", "pieces": []}, 0.1)


def test_a_list_of_one_kind_of_sheet_is_that_kind() -> None:
    instance = {**bins(2), "sheets": [{"w": 12, "h": 12}]}
    del instance["sheet"]
    assert run_instance(instance, 4.0, seed=1)["bins"] == 1


def test_of_several_kinds_the_cheaper_ones_are_used() -> None:
    instance = {**bins(2), "sheets": [{"w": 12, "h": 12, "cost": 9}]}
    del instance["sheet"]
    instance["sheets"].append({"w": 6, "h": 6, "cost": 2})
    solution = run_instance(instance, 8.0, seed=1)
    assert solution["bin_sheets"] == [1, 1]
    assert solution["cost"] == 4.0


def test_rectangles_have_their_own_method_which_knows_when_to_end() -> None:
    pieces = [{"id": k, "demand": 3, "w": w, "h": 5} for k, w in enumerate((4, 6, 2))]
    instance = {
        "kind": "bins",
        "sheet": {"w": 12, "h": 10},
        "pieces": pieces,
        "rotations_deg": [0],
    }
    solution = run_instance(instance, 30.0, seed=1)
    assert solution["bins"] == solution["bound"] == 2
    assert solution["proven"]
    strip = {**instance, "kind": "strip", "width": 10}
    assert run_instance(strip, 30.0, seed=1)["length"] == 18


def test_a_strip_cut_as_a_jigsaw_is_filled() -> None:
    triangles = [[[0, 0], [40, 0], [0, 25]], [[40, 0], [40, 25], [0, 25]]]
    instance = {
        "kind": "strip",
        "width": 25,
        "rotations_deg": [0],
        "pieces": [
            {"id": str(k), "demand": 3, "outer": ring, "holes": []}
            for k, ring in enumerate(triangles)
        ],
    }
    solution = run_instance(instance, 5.0, seed=1)
    assert solution["length"] == 120.0
    assert solution["density"] == pytest.approx(1.0)


def test_nothing_is_proven_by_sides_where_pieces_may_lie_aslant() -> None:
    """Five squares of 1 fit into one of 2.7072 if the middle one lies at 45°."""
    squares = [{"id": "s", "demand": 5, "w": 1.0, "h": 1.0}]
    sheet = {"w": 2.7072, "h": 2.7072}
    job = {"kind": "bins", "sheet": sheet, "pieces": squares}
    for turns in ("free", [0, 45], [0, 90, 30]):
        found = run_instance({**job, "rotations_deg": turns}, 1.0, seed=1)
        assert found["bins"] == 1 or not found.get("proven", False)
    assert run_instance({**job, "rotations_deg": [0, 90]}, 1.0, seed=1)["proven"]


@pytest.mark.parametrize("kind", ["strip", "bins"])
def test_a_turn_that_is_no_quarter_turn_is_taken_too(kind: str) -> None:
    """A bar of 10 fits upright nowhere, and aslant everywhere."""
    bar = [{"id": "b", "demand": 1, "w": 10.0, "h": 1.0}]
    room = {"width": 8.0} if kind == "strip" else {"sheet": {"w": 8.0, "h": 8.5}}
    turns = [90, 45] if kind == "strip" else [0, 45]
    found = run_instance(
        {"kind": kind, **room, "rotations_deg": turns, "pieces": bar}, 1.0, seed=1
    )
    assert [q["rotation_deg"] for q in found["placements"]] == [45.0]
    assert found.get("length", 7.778) == pytest.approx(11 / 2**0.5, abs=1e-3)


def test_a_full_bin_proves_free_turns_too() -> None:
    tiles = [{"id": "t", "demand": 6, "w": 2.0, "h": 3.0}]
    job = {"kind": "bins", "sheet": {"w": 6.0, "h": 6.0}, "pieces": tiles}
    found = run_instance({**job, "rotations_deg": "free"}, 5.0, seed=1)
    assert found["bins"] == 1
    assert found["proven"]
