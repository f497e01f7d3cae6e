"""Kernels are kept in the user's cache, and a bad cache does no harm."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import numba
import pytest

from drystone.app import kernel_cache
from drystone.nesting import warmup


def test_the_folder_is_named_to_numba(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(kernel_cache.VARIABLE, raising=False)
    monkeypatch.setattr(kernel_cache, "default_folder", lambda: tmp_path / "a" / "b")
    folder = kernel_cache.set_up()
    assert folder == tmp_path / "a" / "b"
    assert os.environ[kernel_cache.VARIABLE] == str(folder)
    assert folder.is_dir()
    assert not kernel_cache.is_filled(folder)


def test_a_folder_the_user_named_is_respected(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(kernel_cache.VARIABLE, str(tmp_path / "mine"))
    assert kernel_cache.set_up() == tmp_path / "mine"


def test_where_nothing_can_be_written_a_private_folder_serves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    monkeypatch.delenv(kernel_cache.VARIABLE, raising=False)
    monkeypatch.setattr(kernel_cache, "default_folder", lambda: blocked / "kernels")
    folder = kernel_cache.set_up()
    assert folder.is_dir()
    assert blocked not in folder.parents
    if os.name == "posix":
        assert folder.stat().st_mode & 0o077 == 0


def test_clearing_removes_kernels_only(tmp_path: Path) -> None:
    inner = tmp_path / "inner"
    inner.mkdir()
    for name in ("a.nbi", "a.1.nbc", "ready-0", "keep.txt"):
        (inner / name).write_text("x")
    assert kernel_cache.is_filled(tmp_path)
    kernel_cache.clear(tmp_path)
    assert [path.name for path in inner.iterdir()] == ["keep.txt"]


SMALL = """
import sys
from pathlib import Path
from drystone.app import kernel_cache
import drystone.nesting.warmup as warmup
folder = kernel_cache.set_up()
import numba
from drystone.nesting.kernels import jit

@jit
def double(x):
    return 2 * x

def warm_up(whole=True):
    assert double(21) == 42
    return bool(sum(double.stats.cache_misses.values()))

warmup.warm_up = warm_up
print(kernel_cache.warm(lambda text: print("said", text.split()[0])))
"""


def test_first_run_says_so_next_is_silent_and_damage_is_mended(tmp_path: Path) -> None:
    script = tmp_path / "small.py"
    script.write_text(SMALL)
    cache = tmp_path / "cache"
    env = {**os.environ, kernel_cache.VARIABLE: str(cache)}

    def run() -> list[str]:
        done = subprocess.run(
            [sys.executable, str(script)],
            env=env,
            capture_output=True,
            text=True,
            check=True,
            timeout=120,
        )
        return done.stdout.split("\n")[:-1]

    assert run() == ["said Compiling", "True"]
    assert run() == ["False"]
    for path in cache.rglob("*.nb?"):  # a disk that lost its contents
        path.write_bytes(b"\x80damaged")
    assert run()[-1] == "True"
    assert run() == ["False"]
    for path in cache.rglob("*.nbi"):  # made by another version of numba
        import pickle

        path.write_bytes(pickle.dumps("0.1") + path.read_bytes())
    assert run()[-1] == "True"
    assert run() == ["False"]
    for path in cache.glob("ready-*"):  # ended before all kernels were compiled
        path.unlink()
    assert run() == ["said Compiling", "False"]
    assert run() == ["False"]


def test_everything_is_gone_through_until_that_is_noted(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    went: list[bool] = []

    def warm_up(whole: bool = True) -> bool:
        (tmp_path / "a.nbi").write_text("x")
        went.append(whole)
        if len(went) == 1:
            raise KeyboardInterrupt  # in the middle, construction compiled
        return False

    monkeypatch.setenv(kernel_cache.VARIABLE, str(tmp_path))
    monkeypatch.setattr(warmup, "warm_up", warm_up)
    with pytest.raises(KeyboardInterrupt):
        kernel_cache.warm(lambda words: None)
    kernel_cache.warm(lambda words: None)
    kernel_cache.warm(lambda words: None)
    assert went == [True, True, False]


@pytest.mark.parametrize("kernels", [0, 1])
def test_an_interrupt_that_compiling_swallowed_counts_all_the_same(
    kernels: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    went: list[str] = []

    def warm_up(whole: bool = True) -> bool:
        try:  # as in a function that the compiler calls back
            signal.raise_signal(signal.SIGINT)
        except KeyboardInterrupt:
            went.append("swallowed")
        for _ in range(kernels):
            numba.njit(lambda x: 2 * x)(21)
        went.append("went on")
        return True

    monkeypatch.setenv(kernel_cache.VARIABLE, str(tmp_path))
    monkeypatch.setattr(warmup, "warm_up", warm_up)
    before = signal.getsignal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt):
        kernel_cache.warm(lambda words: None)
    assert went == ["swallowed", "went on"][: 2 - kernels]
    assert signal.getsignal(signal.SIGINT) is before
    assert not list(tmp_path.glob("ready-*"))


def test_kernels_made_on_another_processor_are_passed_over(tmp_path: Path) -> None:
    script = tmp_path / "small.py"
    script.write_text(SMALL)
    here = {**os.environ, kernel_cache.VARIABLE: str(tmp_path / "cache")}
    there = {**here, "NUMBA_CPU_NAME": "generic", "NUMBA_CPU_FEATURES": ""}

    def run(env: dict[str, str]) -> list[str]:
        done = subprocess.run(
            [sys.executable, str(script)],
            env=env,
            capture_output=True,
            text=True,
            check=True,
            timeout=120,
        )
        return done.stdout.split("\n")[:-1]

    assert run(there) == ["said Compiling", "True"]
    # Compiled anew, beside the foreign ones: a wait that is told of, too.
    assert run(here) == ["said Compiling", "True"]
    assert run(here) == ["False"]


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_filled_folder_that_may_not_be_written_is_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "kernels"
    folder.mkdir()
    (folder / "a.nbi").write_text("x")
    folder.chmod(0o500)
    monkeypatch.setenv(kernel_cache.VARIABLE, str(folder))
    try:
        other = kernel_cache.set_up()
        assert other != folder
        assert os.environ[kernel_cache.VARIABLE] == str(other)
        assert [path.name for path in folder.iterdir()] == ["a.nbi"]
    finally:
        folder.chmod(0o700)


def test_kernels_compile_where_the_folder_named_cannot_be_written(
    tmp_path: Path,
) -> None:
    script = tmp_path / "small.py"
    script.write_text(SMALL)
    blocked = tmp_path / "file"
    blocked.write_text("in the way")
    env = {**os.environ, kernel_cache.VARIABLE: str(blocked / "kernels")}
    for _ in range(2):  # each time, for the private folder ends with the program
        done = subprocess.run(
            [sys.executable, str(script)],
            env=env,
            capture_output=True,
            text=True,
            check=True,
            timeout=120,
        )
        assert done.stdout.split("\n")[:-1] == ["said Compiling", "True"]
    assert blocked.read_text() == "in the way"


def test_changed_sources_get_a_folder_of_their_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # A kernel kept from before a change in another file computes nonsense: a layout
    # with overlapping parts was the first to show it.
    before = kernel_cache.default_folder()
    for name in ("app", "nesting"):
        (tmp_path / name).mkdir()
    source = Path(kernel_cache.__file__).parents[1] / "nesting"
    for path in source.glob("kernels*.py"):
        (tmp_path / "nesting" / path.name).write_bytes(path.read_bytes())
    monkeypatch.setattr(kernel_cache, "__file__", str(tmp_path / "app" / "x.py"))
    assert kernel_cache.default_folder() == before
    (tmp_path / "nesting" / "kernels.py").write_bytes(b"# changed")
    assert kernel_cache.default_folder() != before


def test_outdated_folders_go_but_for_a_few(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(kernel_cache.VARIABLE, raising=False)
    monkeypatch.setattr(kernel_cache, "_kernels_folder", lambda: tmp_path)
    for number in range(6):
        (tmp_path / f"old-{number}").mkdir()
        os.utime(tmp_path / f"old-{number}", (number, number))
    current = kernel_cache.set_up()
    kept = {path.name for path in tmp_path.iterdir()}
    assert kept == {current.name, "old-3", "old-4", "old-5"}
