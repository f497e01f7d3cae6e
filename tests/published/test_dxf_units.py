"""``$INSUNITS``: what a drawing unit is.

Source: the published DXF reference, header variable $INSUNITS (group code 70); the
lengths follow from the definitions of the units. 1 in = 25.4 mm exactly; the US survey
foot is 1200/3937 m.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from ezdxf import filemanagement

from drystone.io.read_drawing import read_drawing

MM = {
    1: 25.4,
    2: 304.8,
    4: 1.0,
    5: 10.0,
    6: 1000.0,
    8: 25.4e-6,
    9: 0.0254,
    10: 914.4,
    13: 1e-3,
    14: 100.0,
    15: 10_000.0,
    21: 1_200_000 / 3937,
}
"""mm per unit, for the codes a flat part could be drawn in."""


@pytest.mark.parametrize("code", MM)
def test_the_header_gives_the_size(code: int, tmp_path: Path) -> None:
    document = filemanagement.new("R2010")
    document.header["$INSUNITS"] = code
    side = 120.0 / MM[code]
    corners = [(0, 0), (side, 0), (side, side / 2), (0, side / 2)]
    document.modelspace().add_lwpolyline(corners, close=True)
    path = tmp_path / "plate.dxf"
    document.saveas(path)
    read = read_drawing(path)
    assert read.units.factor == pytest.approx(MM[code], rel=1e-12)
    assert read.parts[0].outline.size == pytest.approx((120.0, 60.0), rel=1e-9)


def test_without_a_unit_both_readings_are_told(tmp_path: Path) -> None:
    document = filemanagement.new("R2010")
    document.header["$INSUNITS"] = 0
    document.modelspace().add_lwpolyline(
        [(0, 0), (120, 0), (120, 60), (0, 60)], close=True
    )
    path = tmp_path / "plate.dxf"
    document.saveas(path)
    read = read_drawing(path)
    assert not read.units.sure
    told = " ".join(finding.message for finding in read.findings)
    assert "120 x 60 mm" in told
    assert "3048 x 1524 mm" in told
