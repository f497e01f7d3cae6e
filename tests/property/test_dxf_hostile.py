"""Whatever is in a DXF file, reading ends in parts, findings or one sentence."""

from __future__ import annotations

import io
import math
import tempfile
from pathlib import Path
from typing import Any

from ezdxf import filemanagement
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drystone.io.limits import Limits
from drystone.io.read_drawing import NO_PART, look_at
from drystone.nesting.model.errors import InputError

LIMITS = Limits(entities=20_000, vertices=100_000, seconds=10.0)


def _sample() -> list[str]:
    doc: Any = filemanagement.new("R2000")
    msp = doc.modelspace()
    block = doc.blocks.new("B")
    block.add_circle((0, 0), 5)
    block.add_lwpolyline([(0, 0, 1), (9, 0, 0.2), (9, 9, 0)], format="xyb", close=True)
    msp.add_blockref("B", (1, 2), dxfattribs={"xscale": 2, "rotation": 30})
    msp.add_line((0, 0), (10, 0))
    msp.add_arc((0, 0), 4, 10, 200)
    msp.add_ellipse((0, 0), (5, 1), 0.4, 0.1, 2)
    msp.add_open_spline([(0, 0), (1, 2), (3, 1), (4, 0)])
    msp.add_rational_spline([(0, 0), (1, 0), (1, 1)], [1, 0.7, 1], degree=2)
    msp.add_polyline2d([(0, 0), (5, 0), (5, 5)], close=True)
    msp.add_hatch().paths.add_polyline_path([(0, 0), (5, 0), (5, 5)])
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().splitlines()


SAMPLE = _sample()
BODY = SAMPLE.index("BLOCKS")
VALUES = [
    "nan", "inf", "-inf", "1e300", "1e308", "-1e-300", "0", "0.0", "-1", "99999999",
    "", "abc", "B", "B0", "=1+1", "<b>", "../../x", "\x00", "<<<<<<< ours", "LINE",
    "INSERT", "CIRCLE", "SPLINE", "LWPOLYLINE", "70", "10", "40", "ENDSEC", "EOF",
]  # fmt: skip


def attempt(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.dxf"
        path.write_bytes(data)
        try:
            read = look_at(path, limits=LIMITS)
        except InputError as error:
            assert "\n" not in str(error)
            return
        for part in read.parts:
            assert part.area > 0.0
            assert all(map(math.isfinite, part.outline.bounds))
        assert read.parts or any(f.code in NO_PART for f in read.findings)


SLOW = [HealthCheck.too_slow]


@settings(max_examples=60, deadline=None, suppress_health_check=SLOW)
@given(
    st.lists(
        st.tuples(st.integers(BODY, len(SAMPLE) - 1), st.sampled_from(VALUES)),
        min_size=1,
        max_size=6,
    ),
    st.booleans(),
)
def test_changed_lines(changes: list[tuple[int, str]], cut: bool) -> None:
    lines = list(SAMPLE)
    for index, value in changes:
        lines[index] = value
    if cut:
        lines = lines[: changes[0][0]]
    attempt("\n".join(lines).encode())


@settings(max_examples=40, deadline=None, suppress_health_check=SLOW)
@given(st.integers(BODY, len(SAMPLE) - 1), st.integers(1, 40), st.integers(1, 3))
def test_lines_lost_or_repeated(start: int, count: int, times: int) -> None:
    piece = SAMPLE[start : start + count]
    attempt(
        "\n".join(
            SAMPLE[:start] + piece * (times - 1) + SAMPLE[start + count :]
        ).encode()
    )


@settings(max_examples=100, deadline=None, suppress_health_check=SLOW)
@given(st.binary(max_size=200))
def test_any_bytes_behind_a_beginning(data: bytes) -> None:
    attempt(b"0\nSECTION\n2\nENTITIES\n0\nLINE\n" + data)
    attempt(b"AutoCAD Binary DXF\r\n\x1a\x00" + data)
    attempt(data)
