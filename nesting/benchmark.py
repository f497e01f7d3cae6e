"""Run one benchmark instance: a dictionary in, a checked solution dictionary out.

Instances and solutions have the open form described with the benchmark data: strips of
a fixed width, or bins of one size or several, and pieces with holes, demand and allowed
turns. Whoever reads an instance from a file looks it through first.
"""

from __future__ import annotations

import contextlib
import itertools
import math
import multiprocessing
import signal
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor
from dataclasses import replace
from functools import cache, partial
from typing import Any

import numpy as np
import shapely

from . import kernels_separate as kernel
from .benchmark_check import TOUCHING, check, placed, rings_of, sound
from .compact import Poses
from .kernels import FloatArray
from .mixed_instance import solve_mixed
from .nofit import RegionStore
from .overlap import Places, Task
from .prepare import (
    aligning_turns,
    distinct_angles,
    drawing_place,
    least_box_turn,
    prepare_shape,
    share_along_axes,
    turned,
)
from .rectangles.instance import pieces_of, solve_rectangles
from .separate import Settings
from .sheets import SheetSearch, scattered, shelved
from .strip import Stop, StripLayout, StripSearch
from .tiled_instance import solve_tiling
from .tiling import compile_kernel, lattice_of
from .turning import TurningSearch

SLACK = 4e-8
"""Distance every edge is drawn back, relative to the sheet."""

TOLERANCE = 1e-7
"""Depth that counts as touching, relative to the sheet."""

FREE_TURNS = 16
"""Angles tried where an instance lets pieces turn freely: along the longest edges."""

PUSHES = 6
"""Pushes onto contacts, where they are used."""

EXPLORING = 0.95
"""Part of the time in which a strip gets shorter boldly; in the rest, by little."""

STARTING = 0.5
"""Share of a long run for searches of their own, of which the best goes on ..."""

START_SECONDS = 4.0
"""... each this long, times the root of the number of copies ..."""

LEAST_STARTS, MOST_STARTS = 3, 12
"""... if there is time for so many at least; and so many at most."""

THOROUGH = {"kept": 3, "uniform": 60, "focused": 30}
"""What these searches do otherwise, all but every other of those that push: fewer moves
a second, of which each looks at more places. It gains where there is time for it."""

TILING_SHARE = 0.3
"""Part of the time that goes into an exact tiling where no area is left over."""

LONG = 0.2
"""Share of a piece's outline along one direction, and square to it, from which that is
turned along the axes too where all turns are allowed."""

QUARTERS = (0.0, 90.0, 180.0, 270.0)

JIGSAW = 0.98
"""Share of the least sheets' area above which contacts have to be exact."""

FREE_SHARE = 0.3
"""Part of the time in which rectangles that turn freely are tried along the axes."""

Clock = Callable[[], float]
Instance = dict[str, Any]
Solution = dict[str, Any]
Job = Callable[[], Solution | None]


def run_instance(
    instance: Instance,
    seconds: float,
    seed: int = 0,
    workers: int = 1,
    executor: Executor | None = None,
    settings: Settings | None = None,
    clock: Clock = time.perf_counter,
) -> Solution:
    """Solve an instance within the time and return the best checked solution.

    Parameters
    ----------
    instance : dict
        Of kind ``strip`` or ``bins``.
    seconds : float
        Limit by the clock, compilation not counted.
    seed : int
    workers : int
        Searches from different seeds at the same time; the best wins.
    executor : Executor, optional
        Where to run them; by default as many processes as workers.
    settings : Settings, optional
    clock : callable
        Seconds of what counts: `time.process_time` on a machine that is busy otherwise.

    Returns
    -------
    dict
        Solution in the benchmark's form, with ``density`` and ``moves_per_second``
        added.

    Raises
    ------
    ValueError
        If the instance is of another kind or a piece fits nowhere.
    RuntimeError
        If no layout was found in time that passes the check.
    """
    jobs = [
        partial(_checked, instance, seconds, seed + 1000 * k, each, clock)
        for k, each in enumerate(_portfolio(settings, workers))
    ]
    if executor is not None:
        found = _side_by_side(jobs, executor)
    elif workers <= 1:
        found = [_checked(instance, seconds, seed, settings, clock)]
    else:
        found = _in_processes(jobs, workers)
    valid = [solution for solution in found if solution is not None]
    if not valid:
        raise RuntimeError("no layout that passes the check was found in time")
    return min(valid, key=_badness)


def _in_processes(jobs: Sequence[Job], workers: int) -> list[Solution | None]:
    """Do jobs in processes of their own, which end with whatever interrupts this."""
    others = set(multiprocessing.active_children())
    pool = ProcessPoolExecutor(workers, initializer=_leave_interrupts_to_the_parent)
    try:
        found = _side_by_side(jobs, pool)
    except BaseException:
        # A search looks at its clock only: to wait for it would take its whole time.
        for process in set(multiprocessing.active_children()) - others:
            process.terminate()
        pool.shutdown(cancel_futures=True)
        raise
    pool.shutdown()
    return found


def _side_by_side(jobs: Sequence[Job], executor: Executor) -> list[Solution | None]:
    waiting = [executor.submit(job) for job in jobs]
    try:
        return [one.result() for one in waiting]
    finally:
        for one in waiting:
            one.cancel()


def _leave_interrupts_to_the_parent() -> None:
    """Let a key that interrupts all processes of a terminal reach the first alone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _portfolio(settings: Settings | None, workers: int) -> list[Settings]:
    """Return each worker's settings: they differ in what suits few copies or many.

    Every other one pushes copies onto contacts and only exchanges copies when stuck.
    """
    if settings is not None:
        return [settings] * workers
    pushing = Settings(pushes=PUSHES, cuts=0.0, scatters=0.0)
    return [pushing if k % 2 else Settings() for k in range(workers)]


def _badness(solution: Solution) -> float:
    for key in ("length", "cost", "bins"):
        if key in solution:
            return float(solution[key])
    return math.inf


def _turns(instance: Instance, piece: dict[str, Any]) -> list[float]:
    turns = piece.get("rotations_deg", instance.get("rotations_deg"))
    if isinstance(turns, list):
        return [float(a) for a in turns]
    return aligning_turns(rings_of(piece)[0], FREE_TURNS)


def _turns_freely(instance: Instance, piece: dict[str, Any]) -> bool:
    turns = piece.get("rotations_deg", instance.get("rotations_deg"))
    return not isinstance(turns, list)


def _task(
    instance: Instance, scale: float, turns: list[list[float]] | None = None
) -> tuple[Task, list[int]]:
    shapes, angles, copies = [], [], []
    for k, piece in enumerate(instance["pieces"]):
        # Published figures are for the outlines as given, whatever their vertices.
        shape = prepare_shape(rings_of(piece), slack=SLACK * scale, max_vertices=10**6)
        shapes.append(shape)
        wanted = _turns(instance, piece) if turns is None else turns[k]
        angles.append(distinct_angles(shape, wanted))
        copies += [k] * int(piece.get("demand", 1))
    store = RegionStore(shapes, angles)
    return Task.of(store, copies, [True] * len(copies)), copies


def _checked(
    instance: Instance,
    seconds: float,
    seed: int,
    settings: Settings | None,
    clock: Clock,
) -> Solution | None:
    """Search, and return what was found if the check accepts it."""
    found = _search(instance, seconds, seed, settings, clock)
    return found if found is not None and sound(instance, found) else None


def _search(
    instance: Instance,
    seconds: float,
    seed: int,
    settings: Settings | None,
    clock: Clock,
) -> Solution | None:
    if instance["kind"] not in ("strip", "bins"):
        raise ValueError(f"an instance of kind {instance['kind']!r} cannot be run")
    pieces = pieces_of(instance)
    if pieces is None:
        return _general(instance, seconds, seed, settings, clock)
    if not any(piece.free for piece in pieces):
        return solve_rectangles(instance, pieces, seconds, seed, clock)
    found: list[Solution | None] = []
    share = FREE_SHARE * seconds
    with contextlib.suppress(ValueError):  # a piece fits at no quarter turn
        found.append(solve_rectangles(instance, pieces, share, seed, clock))
        if found[0] is not None and found[0]["proven"]:
            return found[0]
    found.append(_general(instance, seconds - share, seed, settings, clock))
    return min((one for one in found if one is not None), key=_badness, default=None)


def _general(
    instance: Instance,
    seconds: float,
    seed: int,
    settings: Settings | None,
    clock: Clock,
) -> Solution | None:
    settings = settings or Settings()
    _compile()
    start = clock()
    tiled = _tiled(instance, seed, _until(clock, TILING_SHARE * seconds))
    if tiled is not None:
        return tiled
    seconds -= clock() - start
    if instance["kind"] == "strip":
        return _strip(instance, seconds, seed, settings, clock)
    if _sheet(instance) is not None:
        return _bins(instance, seconds, seed, settings, clock)
    return solve_mixed(instance, seconds, seed, clock)


@cache
def _compile() -> None:
    """Compile or load what a strip, a jigsaw or bins use, before any clock runs.

    Once per process; rectangles see to theirs themselves.
    """
    ell = [[0, 0], [6, 0], [6, 2], [2, 2], [2, 6], [0, 6]]
    tiny: Instance = {
        "width": 8,
        "rotations_deg": [0, 180],
        "pieces": [{"id": "l", "demand": 3, "outer": ell, "holes": []}],
    }
    slanted = [[0, 0], [6, 0], [6.1, 2], [2, 2.3], [2, 6], [0, 6]]
    unlike = [
        {"id": name, "demand": 2, "outer": outer}
        for name, outer in (("s", slanted), ("t", [[0, 0], [3, 1], [2, 4], [0.5, 3]]))
    ]
    compile_kernel()
    for one, settings in (
        (tiny | {"pieces": unlike}, Settings()),
        (tiny, Settings(pushes=1)),
        (tiny | {"rotations_deg": "free"}, Settings()),
    ):
        # The clock counts how often it is asked, since compiling would use up any other
        # before all is reached.
        _strip(one, 0.5, 0, settings, itertools.count(0.0, 1e-3).__next__)


def _tiled(instance: Instance, seed: int, stop: Stop) -> Solution | None:
    """Solve an instance as a jigsaw; None if it is none or takes too long."""
    rings = [rings_of(piece) for piece in instance["pieces"]]
    demand = [int(piece.get("demand", 1)) for piece in instance["pieces"]]
    area = sum(
        n * shapely.Polygon(one[0], one[1:]).area
        for n, one in zip(demand, rings, strict=True)
    )
    sheet = None if instance["kind"] == "strip" else _sheet(instance)
    if instance["kind"] == "strip":
        h = float(instance["width"])
        w = area / h
    elif sheet is not None:
        w, h = float(sheet["w"]), float(sheet["h"])
    else:
        return None
    # A turn that is free may as well be a right angle.
    turns = [
        [*QUARTERS] if _turns_freely(instance, piece) else _turns(instance, piece)
        for piece in instance["pieces"]
    ]
    found = solve_tiling(list(zip(rings, turns, demand, strict=True)), w, h, seed, stop)
    if found is None:
        return None
    rooms, placements = found
    for placement in placements:
        placement["piece"] = instance["pieces"][placement["piece"]]["id"]
    for k in range(rooms):
        mine = [q for q in placements if q["bin"] == k]
        if not check(placed(instance, mine), (0.0, 0.0, w, h), TOUCHING * max(w, h)):
            return None
    solution: Solution = {"placements": placements, "density": area / (w * h * rooms)}
    if instance["kind"] == "strip":
        solution["length"] = w
    else:
        solution["bins"] = rooms
    return {**solution, "moves_per_second": 0.0}


def _sheet(instance: Instance) -> dict[str, Any] | None:
    """Return the one kind of sheet, in any number; None if there are several kinds."""
    kinds = [instance["sheet"]] if "sheet" in instance else instance.get("sheets", [])
    return kinds[0] if len(kinds) == 1 and "available" not in kinds[0] else None


def _until(clock: Clock, seconds: float) -> Stop:
    end = clock() + seconds
    return lambda: clock() >= end


def _unless_found(stop: Stop, search: SheetSearch, first: Stop) -> Stop:
    """Stop at `first` too as long as the search has no layout at all."""
    return lambda: stop() or (search.incumbent is None and first())


def _strip(
    instance: Instance, seconds: float, seed: int, settings: Settings, clock: Clock
) -> Solution | None:
    free = [_turns_freely(instance, piece) for piece in instance["pieces"]]
    if any(free):
        return _turning_strip(instance, free, seconds, seed, settings, clock)
    width = float(instance["width"])
    task, copies = _task(instance, width)
    rings = [ring for piece in instance["pieces"] for ring in rings_of(piece)]
    angles = [a for piece in instance["pieces"] for a in _turns(instance, piece)]
    grid = lattice_of(rings, angles) or settings.grid
    starts = _starts(len(task), seconds)
    manners = [
        replace(_scaled(each, width), grid=grid)
        for each in (_manners(settings) if starts > 1 and not grid else [settings])
    ]
    start = clock()
    stop = _until(clock, seconds)
    begun: list[StripSearch] = []
    for k in range(starts):
        again = StripSearch(
            task,
            width * (1.0 + 2.0 * SLACK),
            seed + 104_729 * k,
            manners[k % len(manners)],
        )
        again.begin(stop)
        if again.incumbent is None:
            break
        begun.append(again)
        if starts > 1:
            left = STARTING * seconds * (k + 1) / starts - (clock() - start)
            both = _until(clock, left)
            again.explore(_until(clock, EXPLORING * left))
            if not grid:
                again.compress(both)
    if not begun:
        return None
    best = min(begun, key=lambda search: search.least_length)
    best.explore(_until(clock, EXPLORING * seconds - (clock() - start)))
    best.separation.tune(grid=0.0)
    best.compress(stop)
    moves = sum(int(search.separation.counters[kernel.MOVES]) for search in begun)
    return _first_sound(
        instance,
        [_placements(instance, task, copies, e.places) for e in best.history],
        moves / (clock() - start),
    )


def _starts(copies: int, seconds: float) -> int:
    """Return how often to begin anew; one search alone does not get far in long runs.

    A search of its own is worth its time for some seconds more with the root of the
    number of copies.
    """
    times = int(STARTING * seconds / (START_SECONDS * math.sqrt(max(copies, 1))))
    return 1 if times < LEAST_STARTS else min(times, MOST_STARTS)


def _manners(settings: Settings) -> list[Settings]:
    """Return what long searches have in turn; settings of a caller's own stay."""
    usual, pushing = _portfolio(None, 2)
    thorough = replace(usual, **THOROUGH)
    ours = {usual: [thorough], pushing: [thorough, pushing]}
    return ours.get(settings, [settings])


def _turning_strip(
    instance: Instance,
    free: list[bool],
    seconds: float,
    seed: int,
    settings: Settings,
    clock: Clock,
) -> Solution | None:
    """Solve a strip of which some pieces may turn freely."""
    width = float(instance["width"])
    turns = [
        _starting_turns(rings_of(piece), width) if turning else _turns(instance, piece)
        for piece, turning in zip(instance["pieces"], free, strict=True)
    ]
    task, copies = _task(instance, width, turns)
    search = TurningSearch(
        task,
        width * (1.0 + 2.0 * SLACK),
        seed,
        _scaled(settings, width),
        [free[k] for k in copies],
    )
    start = clock()
    search.begin(_until(clock, seconds))
    if search.incumbent is None:
        return None
    search.turn(_until(clock, seconds - (clock() - start)))
    return _first_sound(
        instance,
        [
            _placements(instance, task, copies, layout.places)
            if isinstance(layout, StripLayout)
            else _turned_placements(instance, task, copies, layout[1])
            for layout in search.layouts()
        ],
        search.separation.counters[kernel.MOVES] / (clock() - start),
    )


def _starting_turns(rings: list[FloatArray], width: float) -> list[float]:
    """Return turns to begin from where all are allowed.

    Quarter turns from the least bounding box, which most sets need no more than, and
    from the direction of the longest edges, if they are long. Others are found by
    pressing, or are tried where the piece does not fit otherwise.
    """
    ring = rings[0]
    upright = least_box_turn(ring)
    turns = [(upright + quarter) % 360.0 for quarter in QUARTERS]
    along = aligning_turns(ring, 4)
    if share_along_axes(turned([ring], along[0])[0]) >= LONG:
        turns += along
    if not any(np.ptp(turned([ring], t)[0][:, 1]) <= width for t in turns):
        turns = aligning_turns(ring, FREE_TURNS)
    return turns


def _first_sound(
    instance: Instance, found: list[list[dict[str, Any]]], moves_per_second: float
) -> Solution | None:
    """Return the last of the layouts that the check accepts, the way back in leaps."""
    back = 1
    while back <= len(found):
        solution = _strip_solution(instance, found[-back])
        if solution is not None:
            return {**solution, "moves_per_second": float(moves_per_second)}
        back *= 2
    return None


def _strip_solution(
    instance: Instance, placements: list[dict[str, Any]]
) -> Solution | None:
    width = float(instance["width"])
    polygons = placed(instance, placements)
    area = math.fsum(polygon.area for polygon in polygons)
    low = min(polygon.bounds[0] for polygon in polygons)
    for placement in placements:
        placement["x"] -= low
    length = max(polygon.bounds[2] for polygon in polygons) - low
    full = area / width
    if length < full + 0.5e-6 * width:
        length = full  # all but the slack: the strip is full
    rect = (0.0, 0.0, length, width)
    if not check(placed(instance, placements), rect, TOUCHING * width):
        return None
    return {
        "length": length,
        "placements": placements,
        "density": area / (width * length),
    }


def _bins(
    instance: Instance, seconds: float, seed: int, settings: Settings, clock: Clock
) -> Solution | None:
    sheet = _sheet(instance)
    assert sheet is not None, "asked before"
    w, h = float(sheet["w"]), float(sheet["h"])
    scale = max(w, h)
    task, copies = _task(instance, scale)
    settings = _scaled(settings, scale)
    if task.area.sum() > JIGSAW * w * h * math.ceil(task.area.sum() / (w * h) - 1e-9):
        settings = replace(settings, pushes=PUSHES)
    least = max(math.ceil(task.area.sum() / (w * h) - 1e-9), 1)
    e = SLACK * scale
    start = clock()
    stop = _until(clock, seconds)
    room = (-e, -e, w + e, h + e)
    shelf, count = shelved(task, room)
    search = SheetSearch(task, np.array([room] * count), shelf, settings, seed, least)
    # One sheet after the other would take long from there: try a big leap first.
    leap = max(math.ceil(least / 0.75), least + 1)
    if leap < count - 1:
        rooms = np.array([room] * leap)
        loose = scattered(task, rooms, np.full(leap, w * h), seed)
        bold = SheetSearch(task, rooms, loose, settings, seed, least)
        bold.run(_unless_found(stop, bold, _until(clock, 0.15 * seconds)))
        if bold.incumbent is not None:
            search = bold
    search.run(stop)
    if search.incumbent is None:
        return None
    elapsed = clock() - start
    placements = _placements(instance, task, copies, search.incumbent)
    number = {b: k for k, b in enumerate(search.used)}
    for placement, room in zip(placements, search.incumbent.room, strict=True):
        placement["bin"] = number[int(room)]
    return {
        "bins": len(number),
        "placements": placements,
        "density": task.area.sum() / (w * h * len(number)),
        "moves_per_second": float(search.separation.counters[kernel.MOVES] / elapsed),
    }


def _scaled(settings: Settings, scale: float) -> Settings:
    values = {**vars(settings), "tolerance": TOLERANCE * scale}
    return Settings(**values)


def _placements(
    instance: Instance, task: Task, copies: list[int], places: Places
) -> list[dict[str, Any]]:
    angles = [task.store.angles[variant] for variant in places.at]
    return _laid(instance, task, copies, places.x, places.y, angles)


def _turned_placements(
    instance: Instance, task: Task, copies: list[int], poses: Poses
) -> list[dict[str, Any]]:
    angles = (np.degrees(poses.turn) % 360.0).tolist()
    return _laid(instance, task, copies, poses.x, poses.y, angles)


def _laid(
    instance: Instance,
    task: Task,
    copies: list[int],
    xs: FloatArray,
    ys: FloatArray,
    angles: list[float],
) -> list[dict[str, Any]]:
    out = []
    for k, px, py, angle in zip(copies, xs.tolist(), ys.tolist(), angles, strict=True):
        x, y = drawing_place(task.store.shapes[k], angle, px, py)
        piece = instance["pieces"][k]["id"]
        out.append(
            {
                "piece": piece,
                "bin": 0,
                "x": x,
                "y": y,
                "rotation_deg": angle,
                "mirrored": False,
            }
        )
    return out
