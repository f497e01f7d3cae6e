"""Relief, tabs and screws from the order to the files, and the check of them."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from ezdxf.entities.lwpolyline import LWPolyline
from ezdxf.filemanagement import readfile

from drystone.app import cli
from drystone.app.checking import check_folder
from drystone.app.exporting import export_job
from drystone.io.job_file import read_job, write_job
from drystone.io.read_drawing import read_drawing
from drystone.io.reread import read_exported_dxf, read_exported_svg
from drystone.nesting.model.curve import Arc
from drystone.nesting.model.holding import Holding, ReliefKind, TabRule
from drystone.nesting.model.machine import ShopSetup
from drystone.nesting.shop.holddown import (
    advice_on_holding,
    drop_outs,
    held,
)
from drystone.nesting.shop.tabs import (
    in_hole,
    put_tabs,
    tab_at,
    tabs_of,
    with_tab_list,
)

SETUP = ShopSetup()

PLATE = """\
<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="150mm"
 viewBox="0 0 200 150" fill="none" stroke="black">
<path d="M0 0 H200 V150 H120 V130 H80 V150 H0 Z"/>
<rect x="30" y="30" width="60" height="40"/>
<g id="pocket"><rect x="110" y="30" width="60" height="60"/></g>
</svg>
"""

ORDER = """\
name = "Plates"
[cutting]
cutter = 6
margin = 12
relief = "dog-bone"
[holding]
tabs = "all"
screws = 5
screw_distance = "12 mm"
[[stock]]
material = "birch"
thickness = 9
size = [700, 500]
[[stock.keep_out]]
rectangle = [0, 200, 30, 60]
clearance = 18
label = "clamp"
[[part]]
drawing = "plate.svg"
quantity = 3
[[part]]
panel = [60, 40]
quantity = 2
tabs = false
[[part]]
drawing = "plate.svg"
name = "as drawn"
relief = "none"
"""


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An exported folder of the order, laid out once."""
    folder = tmp_path_factory.mktemp("order")
    (folder / "plate.svg").write_text(PLATE, encoding="utf-8")
    (folder / "order.toml").write_text(ORDER, encoding="utf-8")
    out = folder / "cut"
    words = ["nest", str(folder / "order.toml"), "--out", str(out), "--passes", "1"]
    assert cli.run([*words, "--combined", "--quiet"]) == 0
    return out


def copied(cut: Path, to: Path) -> Path:
    to.mkdir()
    for path in cut.iterdir():
        (to / path.name).write_bytes(path.read_bytes())
    return to


def test_the_order_is_written_into_the_files(cut: Path) -> None:
    """Twelve relieved corners a plate, four tabs or more, five screws a blank."""
    report = check_folder(cut)
    assert report.ok
    job = read_job(next(cut.glob("*.drystone")))
    assert (report.relieved, report.screws) == (1, 5 * len(job.layout.blanks))
    readers = {".dxf": read_exported_dxf, ".svg": read_exported_svg}
    shown = [
        len(blank.screws)
        for path in cut.iterdir()
        if path.suffix in readers
        for blank in readers[path.suffix](path)
    ]
    # In the DXF, the SVG and the combined DXF.
    assert shown == [5] * (3 * len(job.layout.blanks))
    assert any("1 part against" in line for line in report.lines())
    assert any("measured from every slot" in line for line in report.lines())
    assert job.relief is ReliefKind.DOG_BONE
    assert job.holding == Holding(TabRule.ALL, 5, 12.0)
    plate, panel, plain = job.parts
    assert len(tabs_of(plate)) == 4
    assert tabs_of(panel) == ()
    assert plain.relief is ReliefKind.NONE
    assert not any(isinstance(s, Arc) for s in plate.outline.outer.segments)
    blanks = len(job.layout.blanks)
    layers: Counter[str] = Counter()
    arcs: Counter[str] = Counter()
    for path in sorted(cut.glob("*-blank-*.dxf")):
        for entity in readfile(path).modelspace():
            layers[entity.dxf.layer] += 1
            if isinstance(entity, LWPolyline):
                bulges = [bulge for *_, bulge in entity.get_points("xyb")]
                arcs[entity.dxf.layer] += sum(b != 0.0 for b in bulges)
    copies = Counter(p.part_id for p in job.layout.placements)
    assert layers["SCREW"] == 5 * blanks
    assert layers["TAB"] == 4 * (copies[plate.id] + copies[plain.id])
    # Two inside corners in the notch, four in the hole, four in the pocket.
    assert arcs["OUTSIDE"] == 2 * copies[plate.id]
    assert arcs["INSIDE"] == 4 * copies[plate.id]
    assert arcs["POCKET"] == 4 * copies[plate.id]


def test_the_report_says_it_too(cut: Path) -> None:
    report = json.loads((cut / "report.json").read_text(encoding="utf-8"))
    assert report["cutting"]["relief"] == "dog-bone"
    assert report["holding"] == {"tabs": "all", "screws": 5, "screw_distance": 12.0}
    assert all(len(blank["screws"]) == 5 for blank in report["blanks"])
    assert [p["relief"] for p in report["parts"]] == ["dog-bone", "dog-bone", "none"]
    assert [p["tabs"] for p in report["parts"]] == [4, 0, 4]


def test_the_drawing_of_a_relieved_part_reads_back_as_such(cut: Path) -> None:
    """The reader of drawings, which knows nothing of the export, finds the arcs."""
    parts = read_drawing(next(cut.glob("*-blank-01.dxf"))).parts
    assert sum(isinstance(s, Arc) for p in parts for s in p.outline.outer.segments) in (
        2,
        4,
        6,
    )


def test_a_clamp_keeps_parts_off_with_its_clearance(cut: Path) -> None:
    """The clamp with 18 mm round it is the keep-out, round at its corners."""
    job = read_job(next(cut.glob("*.drystone")))
    (clamp,) = job.stock[0].keep_outs
    assert clamp.loop.bounds == (-18, 182, 48, 278)
    assert clamp.clearance == 18
    assert sum(isinstance(s, Arc) for s in clamp.loop.segments) == 4


def test_another_choice_than_was_exported_is_found(cut: Path, tmp_path: Path) -> None:
    folder = copied(cut, tmp_path / "other")
    path = next(folder.glob("*.drystone"))
    job = read_job(path)
    write_job(path, replace(job, relief=ReliefKind.NONE))
    kinds = {failure.kind for failure in check_folder(folder).failures}
    assert kinds == {"size"}
    write_job(path, replace(job, relief=ReliefKind.T_BONE))
    assert not check_folder(folder).ok


def test_screws_that_are_too_near_or_too_many_are_found(
    cut: Path, tmp_path: Path
) -> None:
    folder = copied(cut, tmp_path / "near")
    path = next(folder.glob("*.drystone"))
    job = read_job(path)
    write_job(path, replace(job, holding=Holding(TabRule.ALL, 4, 12.0)))
    assert {f.kind for f in check_folder(folder).failures} == {"screw"}
    write_job(path, job)
    assert check_folder(folder).ok
    drawing = next(folder.glob("*-blank-01.dxf"))
    document = readfile(drawing)
    screw = next(e for e in document.modelspace() if e.dxf.layer == "SCREW")
    first = job.layout.on(0)[0]
    box = job.part(first.part_id).outline.moved(first.motion).bounds
    screw.dxf.center = (box[0] - job.cutting.cutter - 11.9, (box[1] + box[3]) / 2)
    document.saveas(drawing)
    (failure,) = check_folder(folder).failures
    assert failure.kind == "screw"
    assert "less than 12 mm from a slot" in failure.text


def test_the_command_line_has_the_last_word(cut: Path, tmp_path: Path) -> None:
    order = str(cut.parent / "order.toml")
    words = ["nest", order, "--out", str(tmp_path / "x"), "--passes", "1", "--quiet"]
    more = ["--relief", "none", "--tabs", "small", "--screws", "1"]
    assert cli.run([*words, *more, "--screw-distance", "1in"]) == 0
    job = read_job(next((tmp_path / "x").glob("*.drystone")))
    assert job.relief is ReliefKind.NONE
    assert {part.relief for part in job.parts} == {None}
    assert job.holding == Holding(TabRule.SMALL, 1, 25.4)
    assert [len(tabs_of(part)) for part in job.parts] == [0, 3, 0]
    bad = ["--screw-distance", "far"]
    assert cli.run([*words[:3], str(tmp_path / "y"), *bad]) == 2


def test_tabs_are_a_list_that_a_person_can_change(cut: Path, tmp_path: Path) -> None:
    """One moved, one taken away: the export keeps them, and working anew does not."""
    job = read_job(next(cut.glob("*.drystone")))
    plate = job.parts[0]
    moved = tab_at(plate, (199.0, 60.0), 6.0, SETUP.practice)
    assert moved is not None
    assert {moved.start[0], moved.end[0]} == {200.0}
    assert (moved.start[1] + moved.end[1]) / 2 == pytest.approx(60.0)
    changed = with_tab_list(plate, [moved, *tabs_of(plate)[:2]])
    job = replace(job, parts=(changed, *job.parts[1:]))
    assert held(job, SETUP.practice) is job
    assert export_job(job, tmp_path / "out", setup=SETUP).check.ok
    again = read_job(next((tmp_path / "out").glob("*.drystone")))
    assert tabs_of(again.parts[0]) == tabs_of(changed)
    anew = put_tabs(job, SETUP.practice, anew=True)
    assert tabs_of(anew.parts[0]) == tabs_of(plate)
    none = put_tabs(replace(job, holding=Holding()), SETUP.practice, anew=True)
    assert tabs_of(none.parts[0]) == ()


def test_what_comes_loose_is_said(cut: Path) -> None:
    job = read_job(next(cut.glob("*.drystone")))
    codes = [(a.code, a.about) for a in advice_on_holding(job, SETUP.practice)]
    assert codes == [("small-parts", "panel 60 x 40"), ("drop-outs", "")]
    (holes,) = [
        a for a in advice_on_holding(job, SETUP.practice) if "hole" in a.message
    ]
    assert holes.message.startswith("4 pieces fall out of the holes of plate, as drawn")


def test_what_falls_out_of_holes_is_held_where_it_is_asked_for(
    cut: Path, tmp_path: Path
) -> None:
    """From the order to the files, beside the tabs on outer edges."""
    order = tmp_path / "order.toml"
    text = ORDER.replace('tabs = "all"', "drop_outs = true")
    order.write_text(text, encoding="utf-8")
    (tmp_path / "plate.svg").write_text(PLATE, encoding="utf-8")
    words = ["nest", str(order), "--out", str(tmp_path / "out"), "--passes", "1"]
    assert cli.run([*words, "--quiet"]) == 0
    assert check_folder(tmp_path / "out").ok
    job = read_job(next((tmp_path / "out").glob("*.drystone")))
    plate, panel, plain = job.parts
    for part in (plate, plain):
        tabs = tabs_of(part)
        assert len(tabs) == 2 and all(in_hole(part, tab) for tab in tabs)
        assert drop_outs(part, job.cutting.cutter) == ()
    assert tabs_of(panel) == ()
    codes = {a.code for a in advice_on_holding(job, SETUP.practice)}
    assert not codes & {"drop-outs", "no-room-for-hole-tabs"}
    held_job = read_job(next(cut.glob("*.drystone")))
    both = put_tabs(
        replace(held_job, holding=replace(held_job.holding, drop_outs=True)),
        SETUP.practice,
    )
    assert len(tabs_of(both.parts[0])) == len(tabs_of(held_job.parts[0])) + 2
    # A hole whose edge has no room for a tab is told.
    wide = replace(SETUP.practice, tab_width=60.0)
    bare = replace(job, parts=tuple(with_tab_list(p, ()) for p in job.parts))
    assert "no-room-for-hole-tabs" in {a.code for a in advice_on_holding(bare, wide)}
    skin = replace(SETUP.practice, onion_skin=0.5)
    assert advice_on_holding(job, skin) == []
