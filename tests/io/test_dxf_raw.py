"""Blocks scaled to nothing, which ezdxf would draw at full size."""

from __future__ import annotations

import io
import struct
from pathlib import Path
from typing import Any

import pytest
from ezdxf import filemanagement

from drystone.io.dxf_raw import zero_scaled
from drystone.io.read_drawing import ReadDrawing, look_at


def drawing(version: str = "R2010") -> Any:
    """Return a plate, and a 50 x 40 block inserted three times."""
    doc = filemanagement.new(version)
    doc.header["$INSUNITS"] = 4
    block = doc.blocks.new("B")
    block.add_polyline2d([(0, 0), (50, 0), (50, 40), (0, 40)], close=True)
    msp = doc.modelspace()
    msp.add_polyline2d([(0, 0), (120, 0), (120, 80), (0, 80)], close=True)
    msp.add_blockref("B", (200, 0), dxfattribs={"xscale": 0.125, "yscale": 1})
    msp.add_blockref("B", (300, 0), dxfattribs={"xscale": 1, "yscale": 1})
    msp.add_blockref(
        "B", (400, 0), dxfattribs={"xscale": 1, "yscale": 1, "zscale": 0.125}
    )
    return doc


def text(doc: Any, handles: bool = True) -> str:
    stream = io.StringIO()
    doc.header["$HANDLING"] = int(handles)
    doc.write(stream)
    # 0.125 stands for the zero that ezdxf would not write.
    return stream.getvalue().replace("\n0.125\n", "\n0.0\n")


def sizes(read: ReadDrawing) -> list[tuple[float, float]]:
    return sorted(part.outline.size for part in read.parts)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010"])
@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_a_block_scaled_to_nothing_is_left_out(
    version: str, ends: str, tmp_path: Path
) -> None:
    path = tmp_path / "a.dxf"
    path.write_bytes(text(drawing(version)).replace("\n", ends).encode())
    read = look_at(path)
    assert sizes(read) == [(50, 40), (50, 40), (120, 80)]
    (finding,) = [f for f in read.findings if f.code == "dxf-zero-scale"]
    assert (finding.count, "(B)" in finding.message) == (1, True)


def test_without_handles_the_place_tells(tmp_path: Path) -> None:
    content = text(drawing("R12"))
    lines = content.split("\n")
    plain = [
        pair
        for code, value in zip(lines[::2], lines[1::2], strict=False)
        if code.strip() not in ("5", "105")
        for pair in (code, value)
    ]
    path = tmp_path / "a.dxf"
    path.write_text("\n".join([*plain, ""]))
    read = look_at(path)
    assert sizes(read) == [(50, 40), (50, 40), (120, 80)]


def test_in_a_binary_file_too(tmp_path: Path) -> None:
    doc = drawing()
    path = tmp_path / "a.dxf"
    doc.saveas(path, fmt="bin")
    data = path.read_bytes()
    eighth = struct.pack("<d", 0.125)
    assert data.count(eighth) == 2
    path.write_bytes(data.replace(eighth, bytes(8)))
    assert len(zero_scaled(path.read_bytes())) == 1
    assert sizes(look_at(path)) == [(50, 40), (50, 40), (120, 80)]


def test_a_block_inside_a_block(tmp_path: Path) -> None:
    doc = drawing()
    outer = doc.blocks.new("OUTER")
    outer.add_blockref("B", (0, 0), dxfattribs={"yscale": 0.125})
    doc.modelspace().add_blockref("OUTER", (600, 0))
    path = tmp_path / "a.dxf"
    path.write_text(text(doc))
    read = look_at(path)
    assert len(read.parts) == 3
    assert {f.code: f.count for f in read.findings}["dxf-zero-scale"] == 2


@pytest.mark.parametrize(
    "data", [b"", b"INSERT", b"0\nINSERT\n", b"0\nINSERT\n41\n", b"0\nINSERT\n41\nx\n"]
)
def test_scraps_are_no_trouble(data: bytes) -> None:
    assert zero_scaled(data) == frozenset()
