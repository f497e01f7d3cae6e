"""Findings that few drawings bring about: each is told where it should be."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from ezdxf import filemanagement

from drystone.io.read_drawing import look_at

PLATE = '<rect width="90" height="50"/>'


def svg(body: str, size: str = 'width="99mm" height="99mm"') -> str:
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 99 99">'
    return f"{head}{body}</svg>"


@pytest.mark.parametrize(
    ("code", "text", "parts"),
    [
        ("svg-animation", svg('<rect width="90" height="50"><animate/></rect>'), 1),
        ("svg-outside-page", svg(f'{PLATE}<circle cx="200" cy="9" r="8"/>'), 2),
        ("svg-empty-shape", svg(f'{PLATE}<line x1="5" y1="5" x2="5" y2="5"/>'), 1),
        ("svg-media", svg(f'<style media="print">rect{{a:b}}</style>{PLATE}'), 1),
        ("svg-size-broken", svg(PLATE, 'width="99mm" height="tall"'), 1),
    ],
)
def test_seldom_findings_of_svg(
    code: str, text: str, parts: int, tmp_path: Path
) -> None:
    path = tmp_path / "a.svg"
    path.write_text(text)
    read = look_at(path)
    assert {f.code: f.count for f in read.findings}.get(code) == 1
    assert len(read.parts) == parts


def picture(doc: Any, msp: Any) -> None:
    definition = doc.add_image_def("plan.png", (10, 10))
    msp.add_image(definition, (0, 0), (10, 10))


def there_and_back(doc: Any, msp: Any) -> None:
    msp.add_lwpolyline([(0, 0), (50, 0)], close=True)


def off(doc: Any, msp: Any) -> None:
    doc.layers.add("OLD").off()
    msp.add_circle((0, 0), 50, dxfattribs={"layer": "OLD"})


@pytest.mark.parametrize(
    ("fill", "wanted"),
    [
        (picture, {"dxf-bitmap": 1, "nothing-drawn": 1}),
        (there_and_back, {"no-area": 1, "outlines-left-out": 1}),
        (lambda doc, msp: msp.add_line((0, 0), (50, 50)), {"no-outline": 1}),
        (off, {"dxf-layer-off": 1, "outlines-left-out": 1}),
        (lambda doc, msp: None, {"nothing-drawn": 1}),
    ],
)
def test_seldom_findings_of_dxf(
    fill: Callable[[Any, Any], object], wanted: dict[str, int], tmp_path: Path
) -> None:
    doc = filemanagement.new()
    doc.header["$INSUNITS"] = 4
    fill(doc, doc.modelspace())
    doc.saveas(tmp_path / "a.dxf")
    read = look_at(tmp_path / "a.dxf")
    assert not read.parts
    assert wanted.items() <= {f.code: f.count for f in read.findings}.items()
