"""Holes for pins of a sheet that is indexed through, in everything handed over."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from ezdxf.filemanagement import readfile

from drystone.app.checking import check_folder
from drystone.app.exporting import export_job
from drystone.io.job_file import read_job, write_job
from drystone.io.reread import read_exported_dxf, read_exported_svg
from drystone.io.write_dxf import blank_dxf
from drystone.io.write_svg import blank_svg
from drystone.nesting.model.job import Cutting, Datum, Job
from drystone.nesting.model.machine import Machine, ShopSetup
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.pin_holes import pin_holes
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock
from drystone.nesting.shop.breakdown import sawn_stock
from drystone.nesting.shop.indexing import index_through

BED = (800.0, 700.0)
SHEET = Stock("s", "long", Outline(Loop.rectangle(1900, 610)), price=60.0)
PINS = (20.0, 12.0, 6.0)


def indexed(datum: Datum = Datum.LOWER_LEFT) -> Job:
    """Three positions of a sheet: two alike and a shorter one."""
    (long, short) = sawn_stock(SHEET, index_through(SHEET, BED, 0.0, PINS), BED).blanks
    part = Part("a", "shelf", Outline(Loop.rectangle(300, 200)), (), 3)
    return Job(
        "long boards",
        (part,),
        (long, short),
        Cutting(6.0, 1.5, 12.0, datum=datum),
        BED,
        layout=Layout(
            (Blank(long.id), Blank(long.id), Blank(short.id)),
            tuple(Placement("a", n + 1, n, 60.0, 100.0) for n in range(3)),
        ),
    )


def middles(loops: tuple[Loop, ...]) -> list[tuple[float, float]]:
    found = []
    for x0, y0, x1, y1 in (loop.bounds for loop in loops):
        assert (x1 - x0, y1 - y0) == pytest.approx((6.0, 6.0))
        found.append((round((x0 + x1) / 2, 9), round((y0 + y1) / 2, 9)))
    return found


def test_each_position_but_the_last_has_the_holes_of_the_next() -> None:
    """At the bed's end, where pushed on by 760 mm they sit on the pins at its begin."""
    job = indexed()
    for blank in (0, 1):
        assert middles(pin_holes(job, blank)) == [(780.0, 20.0), (780.0, 590.0)]
    assert pin_holes(job, 2) == ()
    plain = replace(job, stock=tuple(replace(s, breakdown=None) for s in job.stock))
    assert pin_holes(plain, 0) == ()


@pytest.mark.parametrize("datum", list(Datum))
def test_pin_holes_are_read_back_as_they_were(tmp_path: Path, datum: Datum) -> None:
    job = indexed(datum)
    for blank in range(3):
        wanted = middles(pin_holes(job, blank))
        dxf, svg = tmp_path / "b.dxf", tmp_path / "b.svg"
        dxf.write_bytes(blank_dxf(job, blank))
        svg.write_bytes(blank_svg(job, blank))
        for (found,) in (read_exported_dxf(dxf), read_exported_svg(svg)):
            assert middles(found.pins) == wanted
            assert len(found.order) == 1  # they are no cuts of a part


def test_pin_holes_stand_on_the_drill_layer_and_on_the_page(tmp_path: Path) -> None:
    job, path = indexed(), tmp_path / "b.dxf"
    path.write_bytes(blank_dxf(job, 0))
    space = readfile(path).modelspace()
    circles = space.query("CIRCLE[layer=='DRILL']")
    assert [c.dxf.radius for c in circles] == [3.0, 3.0]
    width = re.search(rb'<svg[^>]* width="([\d.]+)mm"', blank_svg(job, 0))
    assert width is not None and float(width[1]) == pytest.approx(783.0)


def test_an_export_with_pin_holes_is_checked(tmp_path: Path) -> None:
    """All formats and the report hold them; a file without them is refused."""
    job, folder = indexed(), tmp_path / "out"
    export_job(job, folder, combined=True, setup=ShopSetup())
    assert check_folder(folder).ok
    report = json.loads((folder / "report.json").read_text())
    assert [blank["pin_holes"] for blank in report["blanks"]] == [
        [[780.0, 20.0], [780.0, 590.0]],
        [[780.0, 20.0], [780.0, 590.0]],
        [],
    ]
    (path,) = [p for p in folder.glob("*.svg") if "1" in p.stem]
    moved = path.read_text().replace('cx="780" cy="20"', 'cx="780" cy="21"')
    assert moved != path.read_text()
    path.write_text(moved)
    failures = check_folder(folder).failures
    assert [f.text for f in failures] == [
        "blank 1: the holes for pins are not the break-down's"
    ]


def test_the_pins_of_the_machine_are_kept_with_the_job(tmp_path: Path) -> None:
    path = tmp_path / "j.drystone"
    write_job(path, indexed())
    plan = read_job(path).stock[0].breakdown
    assert plan is not None and plan.pin == 6.0
    assert Machine(pin_diameter=10.0).pins == (20.0, 12.0, 10.0)
