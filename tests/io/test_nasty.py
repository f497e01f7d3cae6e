"""Damaged, odd and hostile drawings come to what was written down beforehand."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import pytest

from drystone.io.findings import Severity
from drystone.io.limits import Limits
from drystone.io.read_drawing import ReadDrawing, read_drawing
from drystone.nesting.model.errors import InputError

NASTY = Path(__file__).resolve().parents[1] / "data" / "nasty"
WANTED: dict[str, dict[str, Any]] = tomllib.loads(
    (NASTY / "expectations.toml").read_text(encoding="utf-8")
)

LIMITS = Limits(entities=50_000)
"""A tenth of what is usually allowed: the bombs go off sooner."""

CASES = [
    pytest.param(file, marks=pytest.mark.xfail(reason=want["not_yet"]))
    if "not_yet" in want
    else file
    for file, want in WANTED.items()
]


def test_every_file_has_an_expectation() -> None:
    files = {path.name for path in NASTY.iterdir()} - {"expectations.toml"}
    assert files == set(WANTED)


@pytest.mark.timeout(20)
@pytest.mark.parametrize("file", CASES)
def test_nasty_drawing(file: str) -> None:
    want = WANTED[file]
    if "error" in want:
        with pytest.raises(InputError) as caught:
            read_drawing(NASTY / file, limits=LIMITS)
        sentence = str(caught.value)
        assert want["error"] in sentence.lower()
        assert "\n" not in sentence
        assert "etc/hostname" not in sentence
        return
    read = read_drawing(NASTY / file, limits=LIMITS)
    if "parts" in want:
        assert shapes(read) == sorted(map(tuple, want["parts"]))
    if "area" in want:
        area = sum(part.area for part in read.parts)
        assert area == pytest.approx(want["area"], rel=1e-5, abs=0.01)
    if "unit" in want:
        assert read.units.unit == want["unit"]
    if "sure" in want:
        assert read.units.sure is want["sure"]
    assert set(want.get("offers", [])) <= {unit for unit, _ in read.units.others}
    assert set(want.get("codes", [])) <= {finding.code for finding in read.findings}
    if want.get("quiet"):
        loud = [f.code for f in read.findings if f.severity is not Severity.INFO]
        assert not loud


def shapes(read: ReadDrawing) -> list[tuple[float, float, int, int]]:
    return sorted(
        (
            round(part.outline.size[0], 3),
            round(part.outline.size[1], 3),
            len(part.outline.holes),
            len(part.marks),
        )
        for part in read.parts
    )
