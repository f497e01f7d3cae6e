from __future__ import annotations

from pathlib import Path

import pytest
from ezdxf import filemanagement

from drystone.io.known_size import (
    KnownSize,
    from_known_size,
    measured,
    scale_text,
    sized_readings,
)
from drystone.io.read_drawing import ReadDrawing, look_at
from drystone.io.read_guarded import read_guarded
from drystone.io.units import told
from drystone.nesting.model.errors import InputError

SVG = '<svg xmlns="http://www.w3.org/2000/svg" {}>{}</svg>'


def plates(path: Path, k: float = 1.0, units: int = 0) -> Path:
    """Draw a plate of 120 x 80 and one of 40 x 60, k drawing units per mm."""
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = units
    for name, x, w, h in (("wide", 0, 120, 80), ("small", 200, 40, 60)):
        corners = [(x, 0), (x + w, 0), (x + w, h), (x, h)]
        doc.modelspace().add_lwpolyline(
            [(a * k, b * k) for a, b in corners],
            close=True,
            dxfattribs={"layer": name},
        )
    doc.saveas(path)
    return path


def codes(read: ReadDrawing) -> set[str]:
    return {finding.code for finding in read.findings}


@pytest.mark.parametrize(
    ("k", "unit"),
    [(1.0, "mm"), (1 / 25.4, "in"), (0.1, "cm"), (0.001, "m"), (96 / 25.4, "px")],
)
def test_a_width_tells_the_unit(k: float, unit: str, tmp_path: Path) -> None:
    path = plates(tmp_path / "a.dxf", k)
    found = from_known_size(look_at(path), KnownSize(width=120.0))
    assert (found.unit, found.units) == (unit, unit)
    assert (found.width, found.height) == pytest.approx((120.0, 80.0))
    read = look_at(path, known=KnownSize(width=120.0))
    assert (read.units.unit, read.units.basis, read.units.sure) == (
        unit,
        "known size",
        True,
    )
    assert [p.outline.size for p in read.parts] == [
        pytest.approx((120.0, 80.0)),
        pytest.approx((40.0, 60.0)),
    ]
    assert "scale-known" in codes(read)
    assert not codes(read) & {"units-unknown", "units-doubtful"}


def test_the_header_is_overruled(tmp_path: Path) -> None:
    path = plates(tmp_path / "a.dxf", 1.0, units=1)
    read = look_at(path, known=KnownSize(height=80.0))
    assert read.parts[0].outline.size == pytest.approx((120.0, 80.0))


@pytest.mark.parametrize(
    ("known", "name"),
    [
        (KnownSize(width=40.0, part="small"), "small"),
        (KnownSize(height=60.0, part="SMALL"), "small"),
        (KnownSize(width=40.0, part=2), "small"),
        (KnownSize(width=240.0, part="drawing"), "drawing"),
        (KnownSize(width=120.0), "wide"),
    ],
)
def test_whose_size_it_is_can_be_said(
    known: KnownSize, name: str, tmp_path: Path
) -> None:
    path = plates(tmp_path / "a.dxf", 1 / 25.4)
    assert measured(look_at(path), known.part)[0] == name
    read = look_at(path, known=known)
    assert read.units.unit == "in"


def test_a_size_read_off_a_tape_gives_the_plain_unit_and_says_so(
    tmp_path: Path,
) -> None:
    path = plates(tmp_path / "a.dxf")
    read = look_at(path, known=KnownSize(width=120.4))
    assert read.parts[0].outline.size == pytest.approx((120.0, 80.0), abs=1e-9)
    (finding,) = [f for f in read.findings if f.code == "scale-known"]
    assert "0.4 mm" in finding.message
    # and the exact way is named in words that work
    exact = from_known_size(look_at(path), KnownSize(width=120.4)).exact.units
    assert repr(exact) in finding.message
    assert look_at(path, exact).parts[0].outline.size[0] == pytest.approx(120.4)


def test_a_drawing_in_no_unit_is_scaled_with_a_warning(tmp_path: Path) -> None:
    path = plates(tmp_path / "a.dxf", 0.47)
    read = look_at(path, known=KnownSize(width=120.0))
    assert read.parts[0].outline.size == pytest.approx((120.0, 80.0), abs=1e-9)
    assert read.units.unit == "drawing unit"
    assert "scale-odd" in codes(read)


def test_two_sizes_that_disagree_are_told(tmp_path: Path) -> None:
    path = plates(tmp_path / "a.dxf")
    read = look_at(path, known=KnownSize(width=120.0, height=90.0))
    assert "size-skewed" in codes(read)
    same = look_at(path, known=KnownSize(width=120.0, height=80.0))
    assert "size-skewed" not in codes(same)


@pytest.mark.parametrize(
    ("page", "scale"),
    [
        ("", 96 / 25.4),
        ('viewBox="0 0 1000 800"', 72 / 25.4),
        ('width="50mm" height="90mm" viewBox="0 0 1000 800"', 1.0),
        (
            'width="50mm" height="90mm" viewBox="0 0 1000 800" '
            'preserveAspectRatio="none"',
            1.0,
        ),
    ],
)
def test_pages_too(page: str, scale: float, tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    shape = f'<rect x="9" y="9" width="{120 * scale}" height="{80 * scale}"/>'
    path.write_text(SVG.format(page, shape))
    read = look_at(path, known=KnownSize(width=120.0))
    assert read.parts[0].outline.size == pytest.approx((120.0, 80.0), abs=1e-6)


def test_readings_come_with_their_sizes(tmp_path: Path) -> None:
    read = look_at(plates(tmp_path / "a.dxf", 1 / 25.4))
    readings = sized_readings(read)
    assert readings[0].units == read.units.unit
    sizes = {r.units: (r.width, r.height) for r in readings}
    assert sizes["in"] == pytest.approx((120.0, 80.0))
    assert sizes["mm"] == pytest.approx((120 / 25.4, 80 / 25.4))
    for reading in readings:  # each can be taken as it stands
        again = look_at(tmp_path / "a.dxf", reading.units)
        assert again.parts[0].outline.size[0] == pytest.approx(reading.width)


@pytest.mark.parametrize(
    ("known", "word"),
    [
        (KnownSize(), "width or height"),
        (KnownSize(width=0.0), "above 0"),
        (KnownSize(width=float("nan")), "above 0"),
        (KnownSize(width=10.0, part="lid"), "'wide', 'small'"),
        (KnownSize(width=10.0, part=3), "no part 3"),
    ],
)
def test_what_cannot_be_is_refused(known: KnownSize, word: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=word):
        look_at(plates(tmp_path / "a.dxf"), known=known)


def test_unit_and_size_together_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="one of them"):
        look_at(plates(tmp_path / "a.dxf"), "mm", known=KnownSize(width=120.0))


def test_a_line_has_no_height(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    doc = filemanagement.new()
    doc.modelspace().add_line((0, 0), (10, 0))
    doc.saveas(path)
    with pytest.raises(InputError, match="no height"):
        look_at(path, known=KnownSize(height=1.0))
    assert look_at(path, known=KnownSize(width=100.0)).units.unit == "cm"


def test_an_empty_drawing_has_no_size(tmp_path: Path) -> None:
    path = tmp_path / "a.dxf"
    filemanagement.new().saveas(path)
    with pytest.raises(InputError, match="nothing is drawn"):
        look_at(path, known=KnownSize(height=1.0))


def test_another_process_knows_it_too(tmp_path: Path) -> None:
    path = plates(tmp_path / "a.dxf", 1 / 25.4)
    read = read_guarded(path, known=KnownSize(width=40.0, part="small"))
    assert read.parts[0].outline.size == pytest.approx((120.0, 80.0))


@pytest.mark.parametrize(
    ("word", "unit", "factor"),
    [
        ("0.3 mm", "drawing unit", 0.3),
        ("25.4", "in", 25.4),
        ("1/72 in", "px72", 25.4 / 72),
        (scale_text(0.1 + 0.2), "drawing unit", 0.1 + 0.2),
        ("PX72", "px72", 25.4 / 72),
    ],
)
def test_a_scale_is_a_unit_too(word: str, unit: str, factor: float) -> None:
    reading = told(word)
    assert reading.unit == unit
    assert reading.factor == pytest.approx(factor, rel=1e-15)


@pytest.mark.parametrize("word", ["0", "0 mm", "1e99", "12 bananas", "-1 mm"])
def test_a_scale_must_make_sense(word: str) -> None:
    with pytest.raises(InputError):
        told(word)
