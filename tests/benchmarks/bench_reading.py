"""Time and memory of reading, printed: ``pytest -m benchmark -s`` on this file."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

import pytest
from ezdxf import filemanagement

from drystone.io.chain import chain
from drystone.io.drawing import Stroke
from drystone.io.limits import Budget
from drystone.io.notes import Notes
from drystone.io.shape_findings import KINDS
from drystone.nesting.model.outline import Loop

pytestmark = pytest.mark.benchmark

_READ = """
import resource, sys, time
from drystone.io.limits import Limits
from drystone.io.read_drawing import look_at
start = time.process_time()
read = look_at(sys.argv[1], limits=Limits().raised(int(sys.argv[2])))
used = time.process_time() - start
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000
print(f"{len(read.parts)} parts, {used:.1f} s of processor, {peak:.0f} MB")
"""


@pytest.mark.parametrize(("lines", "times"), [(100_000, 1), (150_000, 2)])
def test_many_lines(lines: int, times: int, tmp_path: Path) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    msp = doc.modelspace()
    for i in range(lines // 4):
        for s in Loop.rectangle(20, 20, (i % 200) * 30, (i // 200) * 30).segments:
            msp.add_line(s.start, s.end)
    path = tmp_path / "big.dxf"
    doc.saveas(path)
    words = [sys.executable, "-c", _READ, str(path), str(times)]
    out = subprocess.run(words, capture_output=True, text=True, check=True).stdout
    print(f"\n{path.stat().st_size / 1e6:.1f} MB, {lines:,} lines: {out.strip()}")
    assert out.startswith(f"{lines // 4} parts")


def test_joining_grows_as_n_log_n() -> None:
    rng = random.Random(1)
    for n in (1_000, 10_000, 100_000):
        strokes = [
            Stroke((s,))
            for i in range(n // 4)
            for s in Loop.rectangle(20, 20, (i % 200) * 30, (i // 200) * 30).segments
        ]
        rng.shuffle(strokes)
        start = time.process_time()
        joined = chain(strokes, 0.05, Notes("a", KINDS), Budget("a"))
        used = time.process_time() - start
        print(f"\njoining {n:,} segments: {used:.3f} s, {1e6 * used / n:.1f} µs each")
        assert len(joined) == n // 4
