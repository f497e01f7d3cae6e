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
from pathlib import Path

from drystone.io.rack import Rack, RackBoard
from drystone.nesting.model.errors import InputError, OutputError
from drystone.nesting.model.outline import Loop, Outline

WHOLE = RackBoard(Outline(Loop.rectangle(400, 300)), "ply", 12.0, value=2.0)
HALF = RackBoard(Outline(Loop.rectangle(200, 300)), "ply", 12.0, value=1.0)


def commit(path: Path, key: str, board: int) -> int:
    try:
        with Rack(path) as rack:
            rack.commit(key, key, [board], [HALF, HALF])
    except InputError:
        return 3
    return 0


def fork(path: Path, key: str, board: int, ready: int = -1) -> int:
    child = os.fork()
    if child == 0:
        if ready >= 0:
            os.read(ready, 1)
        os._exit(commit(path, key, board))
    return child


def value_on_rack(path: Path) -> float:
    with Rack(path) as rack:
        return sum(board.value for board in rack.boards())


def kills(path: Path, rounds: int) -> None:
    rng = random.Random(7)
    with Rack(path) as rack:
        numbers = [rack.add(WHOLE) for _ in range(rounds + 1)]
    began = time.perf_counter()
    assert commit(path, "first", numbers.pop()) == 0
    lasts = time.perf_counter() - began
    done = 0
    for i, number in enumerate(numbers):
        child = fork(path, f"job {i}", number)
        time.sleep(rng.uniform(0.0, 2.0 * lasts))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with Rack(path) as rack:
            committed = any(job.key == f"job {i}" for job in rack.jobs())
            there = {board.id for board in rack.boards()}
        assert (number in there) is not committed, "half a commit"
        done += committed
        # A commit gives back two halves of the board's value: nothing is lost.
    assert value_on_rack(path) == 2.0 * (rounds + 1)
    check = sqlite3.connect(path)
    assert check.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert check.execute("SELECT count(*) FROM board").fetchone() == (
        rounds + 1 + 2 * (done + 1),
    )
    check.close()
    print(f"{done} of {rounds} commits were through before the kill")
    assert 0 < done < rounds, "the kills came all too early or all too late"


def races(path: Path, rounds: int) -> None:
    for i in range(rounds):
        with Rack(path) as rack:
            number = rack.add(WHOLE)
        read, write = os.pipe()
        children = [fork(path, f"{i} {who}", number, read) for who in "ab"]
        os.write(write, b"go")
        codes = sorted(os.waitstatus_to_exitcode(os.waitpid(c, 0)[1]) for c in children)
        assert codes == [0, 3], codes
        os.close(read)
        os.close(write)
    assert value_on_rack(path) == 2.0 * rounds


def full(path: Path) -> None:
    with Rack(path) as rack:
        number = rack.add(WHOLE)
    size = path.stat().st_size
    many = [HALF] * 2000
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size + 4096, resource.RLIM_INFINITY))
    try:
        with Rack(path) as rack:
            rack.commit("big", "big", [number], many)
    except OutputError as error:
        assert "nothing was changed" in str(error)
    else:
        raise AssertionError("the disk was not full")
    resource.setrlimit(
        resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY)
    )
    with Rack(path) as rack:
        assert [board.id for board in rack.boards()] == [number]
        assert rack.jobs() == ()
        rack.commit("big", "big", [number], many)


if __name__ == "__main__":
    what, where = sys.argv[1], Path(sys.argv[2])
    if what == "kills":
        kills(where, 200)
    elif what == "races":
        races(where, 20)
    else:
        full(where)
