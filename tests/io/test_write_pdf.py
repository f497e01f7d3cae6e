"""The PDF of all blanks: vectors of the right size, and the scale said."""

from __future__ import annotations

import base64
import re
import zlib
from dataclasses import replace

import pytest

from drystone.io.write_pdf import LARGEST_PAGE, blanks_pdf
from drystone.nesting.model.curve import Cubic, Line
from drystone.nesting.model.job import Cutting, Datum, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import KeepOut, Stock

MM = 72.0 / 25.4
NUMBER = r"-?\d*\.?\d+"
MOVES = re.compile(rf"((?:{NUMBER} )+)([mlc])\b")


def a_job(length: float = 700.0, width: float = 400.0) -> Job:
    edge = Loop(
        (
            Line((0.0, 0.0), (100.0, 0.0)),
            Cubic((100.0, 0.0), (130.0, 30.0), (90.0, 40.0), (0.0, 40.0)),
            Line((0.0, 40.0), (0.0, 0.0)),
        )
    )
    mark = Mark(Operation.DRILL, Loop.circle(20, 20, 3).segments)
    part = Part("p", "roof (left) ä", Outline(edge), (mark,), quantity=2)
    stock = Stock(
        "s",
        "sheet",
        Outline(Loop.rectangle(length, width, 5.0, -7.0)),
        keep_outs=(KeepOut(Loop.circle(300, 40, 8), "screw"),),
    )
    placed = (Placement("p", 1, 0, 20.0, 30.0), Placement("p", 2, 1, 200.0, 90.0, 90.0))
    return Job(
        "Garden <boxes>",
        (part,),
        (stock,),
        Cutting(datum=Datum.CENTRE),
        layout=Layout((Blank("s"), Blank("s")), placed),
    )


def pages(data: bytes) -> list[tuple[tuple[float, float], str]]:
    """Return the size of each page, mm, and its content."""
    boxes = re.findall(rb"/MediaBox \[ 0 0 ([\d.]+) ([\d.]+) \]", data)
    streams = re.findall(rb"stream\r?\n(.*?)endstream", data, re.DOTALL)
    texts = []
    for stream in streams:
        packed = base64.a85decode(stream.strip().removesuffix(b"~>"))
        texts.append(zlib.decompress(packed).decode("latin-1"))
    sizes = [(float(w) / MM, float(h) / MM) for w, h in boxes]
    return list(zip(sizes, texts, strict=True))


def extent(content: str) -> tuple[float, float]:
    """Return width and height of the first closed path, mm of paper."""
    path = next(line for line in content.splitlines() if line.startswith("n "))
    points: list[tuple[float, float]] = []
    for numbers, _ in MOVES.findall(path):
        values = [float(value) for value in numbers.split()]
        points += zip(values[::2], values[1::2], strict=True)
    xs, ys = zip(*points, strict=True)
    return (max(xs) - min(xs)) / MM, (max(ys) - min(ys)) / MM


def test_each_blank_has_a_page_of_its_own_at_true_scale() -> None:
    found = pages(blanks_pdf(a_job()))
    assert len(found) == 2
    for number, ((width, height), content) in enumerate(found, 1):
        assert width == pytest.approx(720, abs=0.01)
        assert height == pytest.approx(434, abs=0.01)
        assert extent(content) == pytest.approx((700, 400), abs=0.01)
        assert "(scale 1 : 1, 700 x 400 mm, Garden <boxes>: blank " in content
        assert f"blank {number} of 2" in content
        assert " c" in content


def test_fitted_pages_are_common_paper_and_state_their_scale() -> None:
    for units, paper in (("mm", (297, 210)), ("in", (279.4, 215.9))):
        job = replace(a_job(), units=units)
        for size, content in pages(blanks_pdf(job, fitted=True)):
            assert size == pytest.approx(paper, abs=0.1)
            assert "(scale 1 : 3, 700 x 400 mm" in content
            assert extent(content) == pytest.approx((700 / 3, 400 / 3), abs=0.01)


def test_a_tall_blank_is_fitted_to_an_upright_page() -> None:
    (size, content), _ = pages(blanks_pdf(a_job(400, 900), fitted=True))
    assert size == pytest.approx((210, 297), abs=0.1)
    assert "scale 1 : 4" in content


def test_what_no_page_can_hold_is_fitted_and_says_so() -> None:
    (size, content), _ = pages(blanks_pdf(a_job(6000, 1500)))
    assert max(size) <= LARGEST_PAGE + 0.01
    assert "(scale 1 : 2, 6000 x 1500 mm" in content
    assert extent(content) == pytest.approx((3000, 750), abs=0.01)


def test_screws_are_drawn_and_the_same_job_gives_the_same_bytes() -> None:
    job = a_job()
    plain, screwed = blanks_pdf(job), blanks_pdf(job, [[(50.0, 300.0)], []])
    assert plain == blanks_pdf(job)
    first, second = pages(screwed)
    assert len(first[1]) > len(pages(plain)[0][1])
    assert second[1] == pages(plain)[1][1]
