"""What both fuzzers share: run until the time is up, keep what went wrong, count.

With atheris installed the mutations follow the code that they reach; without it a
plain loop changes good drawings at random. A fault does not end the run: the bytes
and the traceback are kept, one for each place in the code, and the run goes on.
The time is the processor's: a busy computer does not make a run shorter.
"""

from __future__ import annotations

import importlib
import json
import os
import random
import re
import resource
import signal
import sys
import tempfile
import time
import traceback
import warnings
import zlib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from drystone.app.commands import look
from drystone.nesting.model.errors import InputError

SLOW = 10.0
"""Seconds of processor; more for one input is a fault."""

GROWTH = 1 << 20
"""KiB; an input that makes the process grow by more is a fault."""

Mutate = Callable[[bytes, random.Random], bytes]


class Watch:
    """Tries inputs; keeps faults and figures in a folder."""

    def __init__(
        self, folder: Path, read: Callable[[bytes], Any], seconds: float
    ) -> None:
        self.folder = folder
        self.counts: dict[str, int] = {}
        self.refusals: dict[str, int] = {}
        self.slowest = 0.0
        self._read = read
        self._seconds = seconds
        self._begun = self._told = time.monotonic()
        self._end = time.process_time() + seconds
        folder.mkdir(parents=True, exist_ok=True)
        self._known = {path.stem for path in folder.glob("*.txt")}
        warnings.simplefilter("error", RuntimeWarning)

    def __call__(self, data: bytes) -> str:
        """Try one input; return what became of it."""
        size = _peak()
        begun = time.process_time()
        try:
            outcome = self._sound(self._read(data))
        except InputError as error:
            outcome = "refused"
            words = str(error)
            self.refusals[_kind(words)] = self.refusals.get(_kind(words), 0) + 1
            if "\n" in words or not words.isprintable():
                self._keep(data, "no-clean-line", words)
            if "reading took longer" in words:
                self._keep(data, "too-slow", words)
            if "stumbled" in words:
                self._keep(data, "stumbled", words)
        except (Exception, RecursionError) as error:
            outcome = "fault"
            self._keep(data, _place(error), traceback.format_exc())
        used = time.process_time() - begun
        if used > self.slowest:
            self.slowest = used
            (self.folder / "slowest.bin").write_bytes(data)
        if used > SLOW:
            self._keep(data, f"slow-{used:.0f}", f"{used:.1f} s")
        if _peak() - size > GROWTH:
            self._keep(data, f"grown-{(_peak() - size) >> 10}", "grown")
        self.counts[outcome] = self.counts.get(outcome, 0) + 1
        if time.monotonic() - self._told > 10.0 or self.over:
            self.tell()
        return outcome

    @property
    def over(self) -> bool:
        """Whether the processor time is used up."""
        return time.process_time() >= self._end

    def tell(self) -> None:
        """Write the figures down."""
        self._told = time.monotonic()
        figures = {
            "inputs": sum(self.counts.values()),
            "seconds": round(self._told - self._begun),
            "processor_s": round(time.process_time()),
            "outcomes": self.counts,
            "refusals": dict(sorted(self.refusals.items(), key=lambda i: -i[1])[:20]),
            "slowest_s": round(self.slowest, 3),
            "peak_MiB": _peak() >> 10,
            "faults": sorted(self._known),
        }
        (self.folder / "figures.json").write_text(json.dumps(figures, indent=1))

    @staticmethod
    def _sound(read: Any) -> str:
        """Fail where what was read is no drawing, or what is said of it no words."""
        if not all(abs(v) < 1e8 for v in read.bounds or ()):
            raise AssertionError("a coordinate that is none")
        for part in read.parts:
            x0, y0, x1, y1 = part.outline.bounds
            if not (part.area > 0.0 and max(x1 - x0, y1 - y0) < 1e8):
                raise AssertionError("a part that is none")
        if not all(line.isprintable() for line in look.note(read)):
            raise AssertionError("a line that cannot be printed")
        json.dumps(look.as_dict(read), allow_nan=False)
        if read.parts:
            return "parts"
        return "lines" if read.bounds else "empty"

    def _keep(self, data: bytes, name: str, words: str) -> None:
        if name in self._known:
            return
        self._known.add(name)
        (self.folder / f"{name}.bin").write_bytes(data)
        (self.folder / f"{name}.txt").write_text(words)
        print(f"\nFAULT {name}: {words.strip().splitlines()[-1]}", flush=True)


def _peak() -> int:
    """Return the most memory the process has had, KiB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def _kind(words: str) -> str:
    """Return a message without its numbers and its tail, to count alike ones."""
    return re.sub(r"[0-9]+", "#", words)[:60]


def _place(error: BaseException) -> str:
    frames = traceback.extract_tb(error.__traceback__)
    ours = [f for f in frames if "drystone" in f.filename or "/io/" in f.filename]
    frame = (ours or frames)[-1]
    return f"{type(error).__name__}-{Path(frame.filename).stem}-{frame.lineno}"


def whole_road(name: str) -> Callable[[bytes], Any]:
    """Return what takes bytes as a file of that name down the whole road to parts.

    What the user says beside the file (a unit, a known size, the work of a layer) is
    drawn from the bytes, so that an input always does the same.
    """
    from drystone.io.known_size import KnownSize
    from drystone.io.limits import Limits
    from drystone.io.operations import Meaning
    from drystone.io.read_drawing import look_at

    limits = Limits(entities=5000, vertices=20_000, seconds=600.0)
    memory = Path("/dev/shm")
    folder = tempfile.mkdtemp(dir=memory if memory.is_dir() else None)
    path = Path(folder) / name
    said: dict[int, dict[str, Any]] = {
        0: {"units": "in"},
        1: {"known": KnownSize(width=300.0)},
        2: {"layers": {"0": Meaning.INSIDE, "CUT": None}, "join": 1.0},
    }

    def read(data: bytes) -> Any:
        path.write_bytes(data)
        return look_at(path, limits=limits, **said.get(zlib.crc32(data) % 8, {}))

    return read


def run(
    name: str,
    read: Callable[[], Callable[[bytes], Any]],
    seeds: Callable[[], Iterable[bytes]],
    mutate: Mutate,
    arguments: list[str],
    instrumented: list[str],
) -> int:
    """Fuzz until the time is up.

    Parameters
    ----------
    name : str
        Names the folders for corpus and faults.
    read : callable
        Imports the reader and returns it; a reader takes bytes and returns a drawing.
    seeds : callable
        Gives good drawings to begin with.
    mutate : callable
        Changes one.
    arguments : list of str
        Processor seconds, and the folder for corpus and faults; both may be left out.
    instrumented : list of str
        Packages whose code is watched for what an input reaches.
    """
    seconds = float(arguments[0]) if arguments else 60.0
    folder = Path(arguments[1] if len(arguments) > 1 else "fuzzing")
    try:
        atheris: Any = importlib.import_module("atheris")
    except ImportError:
        watch = Watch(folder / f"{name}-faults", read(), seconds)
        return _plain_loop(watch, list(seeds()), mutate)
    with atheris.instrument_imports(include=instrumented):
        reader = read()
    watch = Watch(folder / f"{name}-faults", reader, seconds)
    corpus = folder / f"{name}-corpus"
    corpus.mkdir(exist_ok=True)
    for i, data in enumerate(seeds()):
        (corpus / f"seed-{i:03d}").write_bytes(data)

    def changed(data: bytes, most: int, seed: int) -> bytes:
        dice = random.Random(seed)
        if dice.random() < 0.15:
            return bytes(atheris.Mutate(data, most))
        return mutate(data, dice)[:most]

    def tried(data: bytes) -> None:
        watch(data)
        if watch.over:
            os.kill(os.getpid(), signal.SIGUSR1)  # ends the run with its statistics

    options = [
        "-max_len=40000",
        "-timeout=600",  # of the clock, which counts waiting on a busy machine
        "-rss_limit_mb=2500",
        "-print_final_stats=1",
        f"-artifact_prefix={watch.folder}/",
    ]
    atheris.Setup(
        [sys.argv[0], *options, str(corpus)],
        tried,
        custom_mutator=changed,
    )
    atheris.Fuzz()
    return 0


def _plain_loop(watch: Watch, pool: list[bytes], mutate: Mutate, seed: int = 1) -> int:
    dice = random.Random(seed)
    while not watch.over:
        data = mutate(dice.choice(pool), dice)
        if watch(data) == "parts" and len(pool) < 2000 and dice.random() < 0.05:
            pool.append(data)
    watch.tell()
    print((watch.folder / "figures.json").read_text())
    return 0
