"""What is left of a broken DXF file: each sound entity, and word of the others."""

from __future__ import annotations

import io
import random
from pathlib import Path
from typing import Any

import pytest
from ezdxf import filemanagement

from drystone.io.limits import Budget
from drystone.io.read_drawing import ReadDrawing, look_at
from drystone.io.salvage_dxf import salvage
from drystone.nesting.model.errors import InputError

BREAK = "0\nCIRCLE\n8\n0\n10\n500\n20\n500\n40\n5\n70\nabc\n"
"""A number that is none makes the two ways before give up."""


def file_of(entities: str, blocks: str = "", header: str = "") -> bytes:
    return (
        f"0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n{header}0\nENDSEC\n"
        f"0\nSECTION\n2\nBLOCKS\n{blocks}0\nENDSEC\n"
        f"0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n"
    ).encode()


def circle(x: float, layer: str = "0") -> str:
    return f"0\nCIRCLE\n8\n{layer}\n10\n{x}\n20\n0\n40\n5\n"


def look(data: bytes, folder: Path) -> ReadDrawing:
    path = folder / "a.dxf"
    path.write_bytes(data)
    return look_at(path)


def codes(read: ReadDrawing) -> dict[str, int]:
    return {finding.code: finding.count for finding in read.findings}


def plates(read: ReadDrawing) -> int:
    return sum(part.outline.size == pytest.approx((10, 10)) for part in read.parts)


def test_a_damaged_entity_is_left_out_and_told(tmp_path: Path) -> None:
    read = look(file_of(circle(0) + BREAK + circle(30)), tmp_path)
    assert plates(read) == len(read.parts) == 2
    assert codes(read)["dxf-bad-entity"] == 1
    assert "dxf-mended" in codes(read)
    assert read.units.unit == "mm"


@pytest.mark.parametrize(
    ("entity", "parts"),
    [
        ("LWPOLYLINE\n90\n3\n70\n1\n10\n0\n20\n0\n10\n9\n20\n0\n10\n9\n20\n9\n", 1),
        ("LWPOLYLINE\n90\n4\n70\n1\n10\n0\n20\n0\n10\n9\n20\n0\n10\n9\n20\n9\n", 0),
        ("ELLIPSE\n10\n0\n20\n0\n11\n9\n21\n0\n40\n0.5\n41\n0\n42\n6.283185307\n", 1),
        ("SPLINE\n70\n1\n71\n3\n74\n4\n11\n0\n21\n0\n11\n9\n21\n0\n11\n9\n21\n9\n"
         "11\n0\n21\n0\n", 1),
        ("ARC\n10\n0\n20\n0\n40\n5\n50\n0\n51\n359.9999\n", 1),
    ],
)  # fmt: skip
def test_entities_without_their_markers(
    entity: str, parts: int, tmp_path: Path
) -> None:
    # As simple writers leave them out; a count that does not hold drops the entity.
    read = look(file_of(f"0\n{entity}" + BREAK), tmp_path) if parts else None
    if read is None:
        with pytest.raises(InputError, match="damaged"):
            look(file_of(f"0\n{entity}"), tmp_path)
        return
    assert len(read.parts) == parts


def test_half_a_polyline_is_dropped_whole(tmp_path: Path) -> None:
    def vertex(x: float, y: str) -> str:
        return f"0\nVERTEX\n8\n0\n10\n{x}\n20\n{y}\n"

    head = "0\nPOLYLINE\n8\n0\n66\n1\n70\n1\n"
    for third, parts in (("9", 2), ("9x", 1)):
        body = vertex(0, "0") + vertex(9, "0") + vertex(9, third) + vertex(0, "9")
        data = file_of(f"{head}{body}0\nSEQEND\n8\n0\n{circle(50)}{BREAK}")
        assert len(look(data, tmp_path).parts) == parts


def test_blocks_layers_and_names_survive(tmp_path: Path) -> None:
    doc: Any = filemanagement.new("R2000")
    doc.header["$INSUNITS"] = 1
    doc.layers.add("ICE").freeze()
    doc.layers.add("Säge")
    doc.blocks.new("B", base_point=(1, 1)).add_circle((1, 1), 2)
    msp = doc.modelspace()
    msp.add_blockref("B", (20, 0), dxfattribs={"xscale": 2, "yscale": 2})
    msp.add_circle((0, 0), 1, dxfattribs={"layer": "ICE"})
    msp.add_circle((40, 0), 4, dxfattribs={"layer": "Säge"})
    msp.add_text("note")
    stream = io.StringIO()
    doc.write(stream)
    tail = "  0\nENDSEC\n  0\nSECTION\n  2\nOBJ"
    data = stream.getvalue().replace(tail, BREAK + tail)
    assert BREAK in data
    for coding in ("utf-8", "cp1252"):
        read = look(data.encode(coding), tmp_path)
        assert [p.outline.size[0] for p in read.parts] == pytest.approx([203.2, 203.2])
        assert codes(read)["dxf-text"] == 1
        assert codes(read)["dxf-layer-off"] == 1


def test_two_versions_are_never_mixed(tmp_path: Path) -> None:
    data = file_of(circle(0) + "<<<<<<< ours\n" + circle(1) + ">>>>>>> theirs\n")
    assert salvage(data, Budget("a")) is None
    with pytest.raises(InputError, match="mark of an unfinished merge"):
        look(data, tmp_path)


def test_one_lost_line_costs_one_entity(tmp_path: Path) -> None:
    sound = "".join(circle(n * 20) for n in range(6))
    lines = file_of(sound + circle(200, "A") + sound.replace("20\n0", "20\n90"))
    whole = lines.decode().splitlines()
    begin = whole.index("ENTITIES") + 1
    dice = random.Random(3)
    for at in dice.sample(range(begin, len(whole) - 5), 25):
        data = "\n".join([*whole[:at], *whole[at + 1 :], ""]).encode()
        assert plates(look(data, tmp_path)) >= 11, at
