"""The check accepts a right export and rejects every kind of wrong one."""

from __future__ import annotations

import argparse
import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from ezdxf.filemanagement import readfile

from drystone.app.checking import check, check_folder, check_job
from drystone.app.commands import check as command
from drystone.app.exporting import export_job, refuse_early
from drystone.io.job_file import read_job, write_job
from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.errors import CheckError, InputError, OutputError
from drystone.nesting.model.job import Cutting, Datum, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout, Placement, Reason, Unplaced
from drystone.nesting.model.rules import Grain, TurnRule
from drystone.nesting.model.stock import KeepOut, Stock

MATERIAL, THICKNESS = "birch plywood", 12.0


def a_job() -> Job:
    """Return a right job: a frame with a disc in its window, two roofs, two blanks."""
    frame = Part(
        "frame",
        "frame",
        Outline(Loop.rectangle(300, 200), (Loop.circle(150, 100, 80),)),
        marks=(Mark(Operation.DRILL, Loop.circle(20, 20, 2).segments),),
        turn=TurnRule.parse("grain"),
        material=MATERIAL,
        thickness=THICKNESS,
    )
    disc = Part(
        "disc",
        "disc",
        Outline(Loop.circle(0, 0, 60)),
        quantity=2,
        material=MATERIAL,
        thickness=THICKNESS,
    )
    edge = Loop(
        (
            Line((0.0, 0.0), (100.0, 0.0)),
            Arc((100.0, 20.0), 20.0, -90.0, 180.0),
            Line((100.0, 40.0), (0.0, 40.0)),
            Cubic((0.0, 40.0), (-10.0, 30.0), (-10.0, 10.0), (0.0, 0.0)),
        )
    )
    engraved = (Mark(Operation.ENGRAVE, (Line((10.0, 10.0), (60.0, 10.0)),)),)
    roof = Part(
        "roof",
        "roof",
        Outline(edge),
        engraved,
        quantity=2,
        turn=TurnRule.parse("90"),
        material=MATERIAL,
        thickness=THICKNESS,
    )
    sheet = Stock(
        "sheet",
        "sheet",
        Outline(Loop.rectangle(600, 400)),
        grain=Grain.LENGTH,
        keep_outs=(KeepOut(Loop.circle(580, 20, 5), "screw"),),
        count=2,
        material=MATERIAL,
        thickness=THICKNESS,
    )
    return Job(
        "Garden boxes",
        (frame, disc, roof),
        (sheet,),
        Cutting(6.0, 1.5, 10.0, Datum.LOWER_RIGHT, offset=(30.0, -12.5)),
        layout=Layout(
            (Blank("sheet"), Blank("sheet")),
            (
                Placement("frame", 1, 0, 20.0, 20.0),
                Placement("disc", 1, 0, 170.0, 120.0),  # in the frame's window
                Placement("roof", 1, 0, 400.0, 50.0),
                Placement("roof", 2, 1, 300.0, 50.0, 90.0),
                Placement("disc", 2, 1, 100.0, 100.0, 33.3),
            ),
        ),
    )


@pytest.fixture
def cut(tmp_path: Path) -> Path:
    """Return a folder with a right export."""
    return export_job(a_job(), tmp_path / "cut", combined=True).folder


def test_a_right_export_is_accepted(cut: Path) -> None:
    report = check(cut)
    assert report.failures == []
    assert len(report.files) == 5  # two DXF, two SVG, one combined
    assert report.curves == 39  # 13 in each of DXF, SVG and the combined DXF
    assert report.worst < 1e-9
    assert report.gap == pytest.approx(20.0, abs=0.01)  # the disc in its window
    assert report.margin == pytest.approx(20.0, abs=0.01)


def test_an_export_leaves_just_its_files(cut: Path) -> None:
    assert sorted(path.name for path in cut.iterdir()) == [
        "Garden-boxes-all-blanks.dxf",
        "Garden-boxes-blank-01.dxf",
        "Garden-boxes-blank-01.svg",
        "Garden-boxes-blank-02.dxf",
        "Garden-boxes-blank-02.svg",
        "Garden-boxes.drystone",
        "cut-list.csv",
        "report.json",
    ]
    report = json.loads((cut / "report.json").read_text())
    assert report["files"] == sorted(path.name for path in cut.iterdir())
    assert read_job(cut / "Garden-boxes.drystone") == a_job()


def test_an_export_with_fewer_blanks_leaves_no_old_ones(cut: Path) -> None:
    (cut / "notes.txt").write_text("mine")
    job = a_job()
    layout = Layout(
        (Blank("sheet"),),
        tuple(p for p in job.layout.placements if p.blank == 0),
        (Unplaced("roof", 1, Reason.STOPPED), Unplaced("disc", 1, Reason.STOPPED)),
    )
    with pytest.raises(OutputError, match="is already there"):
        export_job(replace(job, layout=layout), cut)
    assert (cut / "Garden-boxes-blank-02.dxf").exists()
    report = export_job(replace(job, layout=layout), cut, force=True).check
    assert report.unplaced == 2
    names = {path.name for path in cut.iterdir()}
    assert "Garden-boxes-blank-02.dxf" not in names
    assert "Garden-boxes-all-blanks.dxf" not in names
    assert "notes.txt" in names


def test_a_useless_folder_is_refused_before_the_work(cut: Path) -> None:
    refuse_early(a_job(), cut.parent / "new" / "folder")
    refuse_early(a_job(), cut, force=True)
    with pytest.raises(OutputError, match="earlier export is already there"):
        refuse_early(a_job(), cut)
    with pytest.raises(OutputError, match="is a file, not a folder"):
        refuse_early(a_job(), cut / "report.json")


def move(job: Job, number: int, **changes: Any) -> Job:
    """Return the job with one placement changed."""
    placements = list(job.layout.placements)
    placements[number] = replace(placements[number], **changes)
    return replace(job, layout=replace(job.layout, placements=tuple(placements)))


def test_an_export_that_fails_the_check_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(CheckError, match="the check refused the files"):
        export_job(move(a_job(), 2, x=310.0), tmp_path / "cut")
    assert list(tmp_path.iterdir()) == []


# The roof's round end at x = 120; the frame's right edge lies at 320 in the blank, so
# at x = 337.5 + 7.5 and so on the distances below follow from the drawing.
WRONG_LAYOUTS: dict[str, Callable[[Job], Job]] = {
    "overlap": lambda job: move(job, 4, x=130.0, y=100.0, blank=0),
    "closer than the gap": lambda job: move(job, 2, x=320.0 + 7.5 + 7.5 - 0.03),
    "closer to the edge than the margin": lambda job: move(job, 0, x=9.98),
    "in or too close to a keep-out": lambda job: move(job, 2, x=460.0, y=10.0),
    "turned against its rule": lambda job: move(job, 0, turn=90.0, x=230.0),
    "flipped without leave": lambda job: move(job, 2, flipped=True, x=520.0),
    "missing": lambda job: replace(
        job, layout=replace(job.layout, placements=job.layout.placements[:-1])
    ),
    "placed more than once": lambda job: move(job, 4, copy=1),
    "wrong material or thickness": lambda job: replace(
        job, parts=(*job.parts[:2], replace(job.parts[2], material="MDF"))
    ),
    "more blanks than there is stock": lambda job: replace(
        job, stock=(replace(job.stock[0], count=1),)
    ),
}


@pytest.mark.parametrize("kind", WRONG_LAYOUTS)
def test_a_wrong_layout_is_rejected(kind: str) -> None:
    assert check_job(a_job()).ok
    report = check_job(WRONG_LAYOUTS[kind](a_job()))
    assert kind in {failure.kind for failure in report.failures}


def edit(path: Path, change: Callable[[Any], object]) -> None:
    """Change a DXF file as someone might in another program."""
    document = readfile(path)
    change(document.modelspace())
    document.saveas(path)


def of_part(space: Any, part: str, layer: str = "OUTSIDE") -> list[Any]:
    """Return the entities of a part on one layer."""
    return [
        entity
        for entity in space
        if entity.dxf.layer == layer
        and entity.has_xdata("DRYSTONE")
        and entity.get_xdata("DRYSTONE")[-1].value == part
    ]


def scale(space: Any) -> None:
    for disc in of_part(space, "disc"):
        disc.dxf.radius *= 1.001


def shift(space: Any) -> None:
    for disc in of_part(space, "disc"):
        disc.translate(0.01, 0, 0)


def double(space: Any) -> None:
    space.add_entity(of_part(space, "disc")[0].copy())


def drop(space: Any) -> None:
    for disc in of_part(space, "disc"):
        space.delete_entity(disc)


def drop_mark(space: Any) -> None:
    space.delete_entity(of_part(space, "frame", "DRILL")[0])


def facet(space: Any) -> None:
    """Replace the disc's circle by a fine polygon of the same area."""
    (disc,) = of_part(space, "disc")
    space.add_lwpolyline(
        list(disc.flattening(1e-5)),
        format="xy",
        close=True,
        dxfattribs={"layer": "OUTSIDE"},
    ).set_xdata("DRYSTONE", list(disc.get_xdata("DRYSTONE")))
    space.delete_entity(disc)


def move_edge(space: Any) -> None:
    for entity in space:
        if entity.dxf.layer == "BLANK_EDGE":
            entity.translate(5, 0, 0)


def shrink_keep_out(space: Any) -> None:
    for entity in space:
        if entity.dxf.layer == "KEEP_OUT":
            entity.dxf.radius = 1.0


@pytest.mark.parametrize(
    ("change", "kind", "words"),
    [
        (scale, "size", "1.001000 times as large"),
        (shift, "place", "lies 0.010 mm"),
        (double, "doubled", "2 outer edges"),
        (drop, "missing", "missing"),
        (drop_mark, "shape", "its curves are not the drawing's"),
        (facet, "shape", "its curves are not the drawing's"),
        (move_edge, "blank", "do not count from the datum"),
        (shrink_keep_out, "blank", "the keep-outs are not the stock's"),
    ],
)
def test_a_changed_dxf_is_rejected(
    cut: Path, change: Callable[[Any], object], kind: str, words: str
) -> None:
    edit(cut / "Garden-boxes-blank-01.dxf", change)
    report = check_folder(cut)
    found = [failure for failure in report.failures if failure.kind == kind]
    assert any(words in failure.text for failure in found), report.failures


@pytest.mark.parametrize(
    ("old", "new", "kind"),
    [
        ('r="60"', 'r="60.06"', "size"),
        ('r="80"', 'r="80.01"', "size"),
        ('width="600mm"', 'width="600.6mm"', "unreadable"),
        ('data-copy="1"', 'data-copy="7"', "no such copy"),
        ('data-part="disc"', 'data-part="cup"', "unknown part"),
        ("<svg", "<!DOCTYPE svg><svg", "unreadable"),
    ],
)
def test_a_changed_svg_is_rejected(cut: Path, old: str, new: str, kind: str) -> None:
    path = cut / "Garden-boxes-blank-01.svg"
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    report = check_folder(cut)
    assert kind in {failure.kind for failure in report.failures}, report.failures


def test_a_flipped_and_a_turned_copy_are_known_by_their_shape(cut: Path) -> None:
    def turn(space: Any) -> None:
        for layer in ("OUTSIDE", "ENGRAVE"):
            for entity in of_part(space, "roof", layer):
                entity.rotate_z(0.1)

    edit(cut / "Garden-boxes-blank-02.dxf", turn)
    kinds = {failure.kind for failure in check_folder(cut).failures}
    assert {"place", "turned against its rule"} <= kinds


def test_a_missing_and_a_doubled_blank_are_rejected(cut: Path) -> None:
    one, two = (cut / f"Garden-boxes-blank-0{n}.dxf" for n in (1, 2))
    two.unlink()
    shutil.copy(one, cut / "again.dxf")
    texts = [failure.text for failure in check_folder(cut).failures]
    assert "blank 2 of 2 is missing" in texts
    assert any("blank 1 is there twice" in text for text in texts)


def test_drawings_of_others_are_left_out(cut: Path) -> None:
    (cut / "mine.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"/>')
    report = check_folder(cut)
    assert report.ok
    assert report.ignored == ["mine.svg"]


def test_a_job_that_was_changed_afterwards_is_rejected(cut: Path) -> None:
    write_job(cut / "Garden-boxes.drystone", move(a_job(), 2, x=401.0))
    kinds = {failure.kind for failure in check_folder(cut).failures}
    assert "place" in kinds


def test_a_folder_without_a_job_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="holds no job file"):
        check(tmp_path)


def run(*words: str) -> int:
    """Run the command as the command line does."""
    parser = argparse.ArgumentParser()
    command.add_arguments(parser)
    for switch in ("--json", "--quiet", "--debug"):
        parser.add_argument(switch, action="store_true")
    return command.run(parser.parse_args(words))


def test_the_command_says_what_it_checked(
    cut: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(str(cut)) == 0
    text = capsys.readouterr().out
    assert "Garden boxes: 5 of 5 copies on 2 blanks" in text
    assert "gap        20.00 mm at the tightest, 7.50 wanted" in text
    assert "all correct" in text
    edit(cut / "Garden-boxes-blank-01.dxf", scale)
    assert run(str(cut)) == 1
    assert "disc 1: its area" in capsys.readouterr().out
    assert run(str(cut), "--json") == 1
    found = json.loads(capsys.readouterr().out)
    assert found["ok"] is False
    assert found["failures"][0]["kind"] == "size"
    with pytest.raises(InputError, match="there is no such file"):
        run(str(cut / "none.drystone"))
