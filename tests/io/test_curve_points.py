"""Points along curves are counted apart from what was drawn."""

from __future__ import annotations

from pathlib import Path

import pytest

from drystone.io.limits import Limits
from drystone.io.read_drawing import look_at
from drystone.io.read_svg import read_svg_data
from drystone.nesting.model.errors import InputError


def circles(path: Path) -> Path:
    rows = "".join(f"0\nCIRCLE\n10\n{30 * n}\n20\n0\n40\n10\n" for n in range(20))
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{rows}0\nENDSEC\n0\nEOF\n")
    return path


def test_points_along_circles_are_no_vertices(tmp_path: Path) -> None:
    path = circles(tmp_path / "a.dxf")
    assert len(look_at(path, "mm", limits=Limits(vertices=50)).parts) == 20


def test_too_many_points_along_curves_are_refused(tmp_path: Path) -> None:
    path = circles(tmp_path / "a.dxf")
    with pytest.raises(InputError, match="more than 50 points to follow"):
        look_at(path, "mm", limits=Limits(points=50))


@pytest.mark.parametrize(("radii", "refused"), [("5 5", False), ("5 3", True)])
def test_an_arc_of_an_ellipse_counts_as_several(radii: str, refused: bool) -> None:
    path = f"M0 0{f'a{radii} 30 0110 1' * 20}"
    data = (
        f'<svg xmlns="http://www.w3.org/2000/svg"><path stroke="red" d="{path}"/></svg>'
    )
    limits = Limits(vertices=60)
    if refused:
        with pytest.raises(InputError, match="more than 60 vertices"):
            read_svg_data(data.encode(), limits=limits)
    else:
        assert len(read_svg_data(data.encode(), limits=limits).strokes) == 1


def test_vertices_of_a_polyline_count_once(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    rows = "".join(f"10\n{9 * n}\n20\n{n * n}\n" for n in range(80))
    body = f"0\nLWPOLYLINE\n90\n80\n70\n1\n{rows}"
    path.write_text(f"0\nSECTION\n2\nENTITIES\n{body}0\nENDSEC\n0\nEOF\n")
    assert len(look_at(path, "mm", limits=Limits(vertices=100)).parts) == 1
