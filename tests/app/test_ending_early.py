"""Ctrl+C while the engine searches: what was found is kept, or nothing is written."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from drystone.app.checking import check_folder
from drystone.app.ending_early import TOLD, ending_early

ORDER = """\
name = "Gussets"
objective = "shortest length"
[cutting]
cutter = 6
[[stock]]
material = "MDF"
thickness = 9
size = [1200, 400]
count = "as needed"
[[part]]
drawing = "gusset.svg"
quantity = 14
material = "MDF"
thickness = 9
"""

GUSSET = """\
<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="200mm"
 viewBox="0 0 200 200"><path d="M0 0 L170 20 L60 130 Z"/></svg>
"""

# The program itself; it says on stdout how far the search is, so that Ctrl+C comes
# then and not at a time guessed. It may have been told to ignore Ctrl+C: see to it.
PROGRAM = """\
import signal, sys, time
signal.signal(signal.SIGINT, signal.default_int_handler)
from drystone.app import kernel_cache
kernel_cache.set_up()
from drystone.app import cli, laying_out
moment, solve = sys.argv[1], laying_out.solve
def say(word):
    print(word, flush=True)
def watched(job, stop, seed, on_better, *more, **options):
    def better(layout, record):
        on_better(layout, record)
        say("found")
    result = solve(job, stop, seed, better, *more, **options)
    if moment == "twice":
        say("ended")
        time.sleep(60.0)
    return result
laying_out.solve = watched
sys.exit(cli.run(sys.argv[2:]))
"""

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="no Ctrl+C can be sent to one process alone"
)


@contextmanager
def nesting(folder: Path, moment: str) -> Iterator[subprocess.Popen[str]]:
    (folder / "order.toml").write_text(ORDER, encoding="utf-8")
    (folder / "gusset.svg").write_text(GUSSET, encoding="utf-8")
    words = ["nest", "order.toml", "--out", "cut", "--seconds", "600", "--workers", "2"]
    process = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, moment, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=folder,
        start_new_session=True,
    )
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def wait_for(process: subprocess.Popen[str], word: str) -> None:
    assert process.stdout is not None
    for line in process.stdout:
        if line == f"{word}\n":
            return
    raise AssertionError(f"it never said {word!r}")


def interrupt(process: subprocess.Popen[str]) -> None:
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does


def test_the_first_ctrl_c_goes_on_with_the_best_layout(tmp_path: Path) -> None:
    with nesting(tmp_path, "once") as process:
        wait_for(process, "found")
        interrupt(process)
        said, words = process.communicate(timeout=60)
    assert process.returncode == 0, words
    assert words.splitlines()[-1] == TOLD
    assert "Traceback" not in words
    assert "14 of 14 copies placed" in said
    assert check_folder(tmp_path / "cut").ok


def test_the_second_ctrl_c_ends_all_and_writes_nothing(tmp_path: Path) -> None:
    with nesting(tmp_path, "twice") as process:
        wait_for(process, "found")
        interrupt(process)
        wait_for(process, "ended")
        interrupt(process)
        said, words = process.communicate(timeout=60)
    assert process.returncode == 130
    assert (said, words.splitlines()[-1]) == ("", "stopped")
    assert "Traceback" not in words
    assert sorted(p.name for p in tmp_path.iterdir()) == ["gusset.svg", "order.toml"]


def test_with_nothing_found_ctrl_c_ends_at_once() -> None:
    before = signal.getsignal(signal.SIGINT)
    try:
        signal.signal(signal.SIGINT, signal.default_int_handler)
        with pytest.raises(KeyboardInterrupt), ending_early() as early:
            signal.raise_signal(signal.SIGINT)
        assert not early.asked
    finally:
        signal.signal(signal.SIGINT, before)


def test_what_ctrl_c_meant_before_it_means_afterwards() -> None:
    before = signal.getsignal(signal.SIGINT)
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        with ending_early():
            assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
        signal.signal(signal.SIGINT, signal.default_int_handler)
        with pytest.raises(KeyboardInterrupt), ending_early() as early:
            early.found = True
            signal.raise_signal(signal.SIGINT)
            assert early.asked
            signal.raise_signal(signal.SIGINT)
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        signal.signal(signal.SIGINT, before)


def test_a_thread_leaves_ctrl_c_alone() -> None:
    faults: list[BaseException] = []

    def run() -> None:
        try:
            with ending_early() as early:
                assert not early.wanted()
        except BaseException as fault:
            faults.append(fault)

    thread = threading.Thread(target=run)
    thread.start()
    thread.join()
    assert not faults
