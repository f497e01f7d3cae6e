"""Commits that are killed, raced and starved; run by test_rack.py as a script.

It runs apart from the tests because it forks: the test process has threads.
"""

from __future__ import annotations

import os
import random
import resource
import signal
import sqlite3
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

from drystone.io.rack import Rack, RackBoard
from drystone.nesting.model.errors import InputError, OutputError
from drystone.nesting.model.outline import Loop, Outline

WHOLE = RackBoard(Outline(Loop.rectangle(400, 300)), "ply", 12.0, value=2.0)
HALF = RackBoard(Outline(Loop.rectangle(200, 300)), "ply", 12.0, value=1.0)


def commit(path: Path, key: str, take: list[int], at: int = -1) -> int:
    """Commit a job; where `at` is 0 or more, die just before that statement."""
    try:
        with Rack(path) as rack:
            if at >= 0:
                die_at(rack, at)
            rack.commit(key, key, take, [HALF] * (2 * len(take)))
    except InputError:
        return 3
    return 0


def undo(path: Path, number: int, at: int) -> int:
    with Rack(path) as rack:
        die_at(rack, at)
        rack.undo(number)
    return 0


def die_at(rack: Rack, at: int) -> None:
    """Let this process be killed just before its statement number `at`, from 0."""
    seen = [0]

    def trace(_: str) -> None:
        if seen[0] == at:
            os.kill(os.getpid(), signal.SIGKILL)
        seen[0] += 1

    rack._db.set_trace_callback(trace)


def fork(work: Callable[[], int], ready: int = -1) -> int:
    child = os.fork()
    if child == 0:
        if ready >= 0:
            os.read(ready, 1)
        os._exit(work())
    return child


def value_on_rack(path: Path) -> float:
    with Rack(path) as rack:
        return sum(board.value for board in rack.boards())


def is_sound(path: Path) -> None:
    check = sqlite3.connect(path)
    assert check.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert check.execute("PRAGMA foreign_key_check").fetchall() == []
    check.close()


def kills(path: Path, rounds: int) -> None:
    """Kill commits: half of them before each statement in turn, half at any time."""
    rng = random.Random(7)
    with Rack(path) as rack:
        numbers = [rack.add(WHOLE) for _ in range(rounds + 1)]
    began = time.perf_counter()
    assert commit(path, "first", [numbers.pop()]) == 0
    lasts = time.perf_counter() - began
    done = reached = early = 0
    for i, number in enumerate(numbers):
        at = i // 2 % STATEMENTS if i % 2 else -1
        child = fork(partial(commit, path, f"job {i}", [number], at))
        if at < 0:
            time.sleep(rng.uniform(0.0, 2.0 * lasts))
            os.kill(child, signal.SIGKILL)
        _, status = os.waitpid(child, 0)
        reached += at >= 0 and os.WIFSIGNALED(status)
        with Rack(path) as rack:
            committed = any(job.key == f"job {i}" for job in rack.jobs())
            there = {board.id for board in rack.boards()}
        assert (number in there) is not committed, "half a commit"
        assert at < 0 or committed is not os.WIFSIGNALED(status)
        done += committed
        early += at < 0 and not committed
        # A commit gives back two halves of the board's value: nothing is lost.
    assert value_on_rack(path) == 2.0 * (rounds + 1)
    is_sound(path)
    check = sqlite3.connect(path)
    assert check.execute("SELECT count(*) FROM board").fetchone() == (
        rounds + 1 + 2 * (done + 1),
    )
    check.close()
    print(f"{done} of {rounds} commits were through, {early} were killed at a time")
    assert reached >= rounds // 4, "the kills before a statement came too late"
    assert 0 < done, "no kill came late"


STATEMENTS = 12
"""More than a commit has statements: begin, look, job, take, keep twice, moves, end."""


def undos(path: Path, rounds: int) -> None:
    """Kill undoing before each statement in turn: the boards are here or there."""
    for i in range(rounds):
        with Rack(path) as rack:
            number = rack.add(WHOLE)
            before = {board.id for board in rack.boards()}
            job = rack.commit(f"job {i}", "", [number], [HALF, HALF])
            after = {board.id for board in rack.boards()}
        child = fork(partial(undo, path, job, i % STATEMENTS))
        _, status = os.waitpid(child, 0)
        with Rack(path) as rack:
            undone = rack.jobs()[-1].undone
            there = {board.id for board in rack.boards()}
        assert undone is not os.WIFSIGNALED(status)
        assert there == (before if undone else after), "half an undo"
    assert value_on_rack(path) == 2.0 * rounds
    is_sound(path)


def races(path: Path, rounds: int) -> None:
    """Two processes at once: for one board, for one of two, and with one job."""
    for i in range(rounds):
        with Rack(path) as rack:
            one, two, three = (rack.add(WHOLE) for _ in range(3))
        kind = i % 3
        tasks = [
            [(f"{i} a", [one]), (f"{i} b", [one])],
            [(f"{i} a", [one, two]), (f"{i} b", [two, three])],
            [(f"{i}", [one]), (f"{i}", [two])],
        ][kind]
        read, write = os.pipe()
        children = [fork(partial(commit, path, key, take), read) for key, take in tasks]
        os.write(write, b"go")
        codes = [os.waitstatus_to_exitcode(os.waitpid(c, 0)[1]) for c in children]
        os.close(read)
        os.close(write)
        assert sorted(codes) == [0, 3], codes
        with Rack(path) as rack:
            there = {board.id for board in rack.boards()}
            won = tasks[codes.index(0)][1]
            assert {one, two, three} - there == set(won)
            names = [job.key for job in rack.jobs()]
            assert names.count(tasks[codes.index(0)][0]) == 1
    assert value_on_rack(path) == 6.0 * rounds
    is_sound(path)


def full(path: Path) -> None:
    """A disk that fills up after any number of pages: all of it, or nothing."""
    with Rack(path) as rack:
        number = rack.add(WHOLE)
        pages = rack._db.execute("PRAGMA page_count").fetchone()[0]
    size = path.stat().st_size
    many = [HALF] * 400
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    refused = 0
    for extra in range(40):
        kept = many[: 10 + extra]
        try:
            with Rack(path) as rack:
                if extra % 2:  # the database says that it is full
                    limit = pages + extra // 4
                    rack._db.execute(f"PRAGMA max_page_count = {limit}")
                else:  # the system says that a file may not grow
                    most = (size + 512 * extra, resource.RLIM_INFINITY)
                    resource.setrlimit(resource.RLIMIT_FSIZE, most)
                job = rack.commit("big", "big", [number], kept)
                resource.setrlimit(resource.RLIMIT_FSIZE, NO_LIMIT)
                rack.undo(job)
        except OutputError as error:
            assert "nothing was changed" in str(error)
            refused += 1
        resource.setrlimit(resource.RLIMIT_FSIZE, NO_LIMIT)
        with Rack(path) as rack:
            assert [board.id for board in rack.boards()] == [number]
            assert all(job.undone for job in rack.jobs())
    is_sound(path)
    assert refused >= 10, f"the disk was full only {refused} times"
    with Rack(path) as rack:
        rack.commit("big", "big", [number], many)
        assert len(rack.boards()) == len(many)


NO_LIMIT = (resource.RLIM_INFINITY, resource.RLIM_INFINITY)


if __name__ == "__main__":
    what, where = sys.argv[1], Path(sys.argv[2])
    if what == "kills":
        kills(where, 200)
    elif what == "undos":
        undos(where, 24)
    elif what == "races":
        races(where, 24)
    else:
        full(where)
