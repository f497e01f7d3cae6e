"""Shop sheets on paper."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from drystone.io.paper import Paper, shortened, text_width, wrapped
from drystone.io.paper_blank import datum_point, fitting_scale
from drystone.io.paper_corners import _words
from drystone.io.paper_curves import arc_cubics
from drystone.io.paper_labels import LabelMaker
from drystone.io.shop_notes import BlankNotes, CornerNote, Left, SheetCuts, ShopNotes
from drystone.io.shop_sheet import shop_sheets, write_shop_sheets
from drystone.nesting.model.breakdown import Breakdown, Piece, SawCut, SawStage
from drystone.nesting.model.curve import Arc, Cubic, Line
from drystone.nesting.model.errors import OutputError
from drystone.nesting.model.job import Cutting, Datum, Job
from drystone.nesting.model.lengths import (
    feed_text,
    length_text,
    size_text,
    weight_text,
)
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import (
    Blank,
    Layout,
    Placement,
    Reason,
    Unplaced,
)
from drystone.nesting.model.rules import Grain
from drystone.nesting.model.stock import KeepOut, Stock

DATE = datetime.date(2026, 5, 4)
FRAME = Outline(Loop.rectangle(260, 200), (Loop.circle(130, 100, 70),))
LEAF = Outline(
    Loop(
        (
            Cubic((0, 0), (40, -30), (120, -30), (160, 0)),
            Cubic((160, 0), (120, 50), (40, 50), (0, 0)),
        )
    )
)
SIDE = Part(
    "side",
    "planter side with a long name, the left one",
    Outline(Loop.rectangle(300, 120)),
    (
        Mark(Operation.POCKET, Loop.rectangle(40, 12, 20, 20).segments),
        Mark(Operation.DRILL, Loop.circle(250, 60, 3).segments),
        Mark(Operation.ENGRAVE, (Line((60, 100), (200, 100)),)),
    ),
    2,
    "birch plywood",
    12.0,
)
PARTS = (
    SIDE,
    Part("frame", "insect hotel frame", FRAME, (), 1, "birch plywood", 12.0),
    Part("leaf", "leaf", LEAF, (), 3, "birch plywood", 12.0),
    Part("peg", "peg", Outline(Loop.circle(0, 0, 5)), (), 4, "birch plywood", 12.0),
)
STOCK = Stock(
    "s",
    "birch 12 mm, quarter sheet",
    Outline(Loop.rectangle(761, 761)),
    "birch plywood",
    12.0,
    Grain.LENGTH,
    13.0,
    keep_outs=(KeepOut(Loop.circle(25, 380, 8), "screw, left"),),
)
LAYOUT = Layout(
    (Blank("s"), Blank("s")),
    (
        Placement("side", 1, 0, 20, 20),
        Placement("side", 2, 0, 500, 20, 90),
        Placement("frame", 1, 0, 60, 160),
        Placement("leaf", 1, 0, 110, 255),
        Placement("leaf", 2, 0, 330, 60, 30),
        Placement("leaf", 3, 1, 100, 100, 200, True),
        *(Placement("peg", i + 1, 0, 550 + 25 * i, 400) for i in range(3)),
    ),
    (Unplaced("peg", 1, Reason.STOPPED),),
)
JOB = Job(
    "Bird boxes for the school garden",
    PARTS,
    (STOCK,),
    Cutting(),
    (800, 800),
    layout=LAYOUT,
)
SAWING = SheetCuts(
    "birch 12 mm",
    1,
    Breakdown(
        (1525, 1525),
        3.0,
        (
            SawCut(SawStage.RIP, (0, 762.5), (1525, 762.5), 761),
            SawCut(SawStage.CROSS, (762.5, 0), (762.5, 761), 761),
            SawCut(SawStage.CROSS, (762.5, 764), (762.5, 1525), 761),
        ),
        tuple(Piece(x, y, 761, 761) for x in (0, 764) for y in (0, 764)),
    ),
)
NOTES = ShopNotes(
    (("Sheets", "1 of 1525 x 1525"),),
    (("Cutter", "1/4 in up-cut"),),
    ("about 40 min of cutting: plan two rests",),
    (
        BlankNotes(
            (("Time", "20 min"),),
            ((40.0, 40.0),),
            ((190, 260),),
        ),
    ),
    (SAWING,),
    "top of the spoilboard",
)


def page_count(pdf: bytes) -> int:
    return len(re.findall(rb"/Type /Page\b", pdf))


def test_pages_of_a_job() -> None:
    """Overview, break-down, two blanks, cut list, labels."""
    pdf = shop_sheets(JOB, NOTES, date=DATE)
    assert pdf.startswith(b"%PDF")
    assert page_count(pdf) == 6
    assert page_count(shop_sheets(JOB, date=DATE)) == 5
    assert page_count(shop_sheets(JOB, date=DATE, labels=False)) == 4


def test_the_same_job_gives_the_same_bytes() -> None:
    assert shop_sheets(JOB, NOTES, date=DATE) == shop_sheets(JOB, NOTES, date=DATE)


def test_an_empty_job_still_has_its_paper() -> None:
    assert page_count(shop_sheets(Job("nothing yet"), date=DATE)) == 2
    unplaced = replace(
        JOB, layout=Layout((), (), (Unplaced("peg", 4, Reason.STOPPED),))
    )
    assert page_count(shop_sheets(unplaced, date=DATE)) == 2


def test_inches_take_letter_paper() -> None:
    pdf = shop_sheets(replace(JOB, units="in"), NOTES, date=DATE)
    assert b"/MediaBox [ 0 0 792 612 ]" in pdf
    assert b"/MediaBox [ 0 0 841.8898 595.2756 ]" in shop_sheets(JOB, date=DATE)


def test_many_kinds_of_part_run_over_to_more_pages() -> None:
    many = tuple(
        Part(f"p{i}", f"part {i}", Outline(Loop.rectangle(20, 15))) for i in range(90)
    )
    placed = tuple(
        Placement(part.id, 1, 0, 15 + 30 * (i % 20), 15 + 25 * (i // 20))
        for i, part in enumerate(many)
    )
    job = replace(JOB, parts=many, layout=Layout((Blank("s"),), placed))
    # Overview, the blank and the rest of its list, six of cut list, four of labels.
    assert page_count(shop_sheets(job, date=DATE)) == 1 + 2 + 6 + 4


def test_letters_beyond_western_europe_are_drawn() -> None:
    named = replace(SIDE, name="Скворечник \u0007 鳥\n")
    job = replace(JOB, name="Жердь", parts=(named, *PARTS[1:]))
    assert page_count(shop_sheets(job, date=DATE)) == 5


def test_a_folder_in_the_way_is_refused(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="cannot be written"):
        write_shop_sheets(JOB, tmp_path)
    write_shop_sheets(JOB, tmp_path / "sheets.pdf")
    assert (tmp_path / "sheets.pdf").read_bytes().startswith(b"%PDF")
    assert [entry.name for entry in tmp_path.iterdir()] == ["sheets.pdf"]


def test_no_page_promises_that_a_cut_is_safe() -> None:
    from drystone.io.cautions import cautions

    texts = cautions(["MDF", "acrylic", "plastic"])
    assert len(texts) == 9
    assert len(cautions(["birch plywood"])) == 6
    assert all("safe" not in text.casefold() for text in texts)


@pytest.mark.parametrize(
    ("value", "units", "text"),
    [
        (12.0, "mm", "12"),
        (12.25, "mm", "12.2"),
        (1525.04, "mm", "1525"),
        (-0.01, "mm", "0"),
        (38.1, "in", "1 1/2"),
        (19.05, "in", "3/4"),
        (0.396875, "in", "1/64"),
        (12.0, "in", "0.472"),
        (-38.1, "in", "-1 1/2"),
        (50.8, "in", "2"),
    ],
)
def test_lengths_as_people_read_them(value: float, units: str, text: str) -> None:
    assert length_text(value, units) == text


def test_other_quantities() -> None:
    assert size_text(300, 180) == "300 \N{MULTIPLICATION SIGN} 180"
    assert weight_text(10.0) == "10.0 kg"
    assert weight_text(10.0, "in") == "22.0 lb"
    assert feed_text(4572, "in") == "180 in/min"
    assert feed_text(4572) == "4572 mm/min"


def test_text_is_shortened_and_wrapped_to_its_room() -> None:
    text = "a part with quite a long name and an unbreakablelongwordinit"
    assert shortened("peg", 50, 8) == "peg"
    cut = shortened(text, 20, 8)
    assert cut.endswith("\u2026")
    assert text_width(cut, 8) <= 20
    lines = wrapped(text, 15, 8)
    assert all(text_width(line, 8) <= 15 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_arcs_become_close_beziers() -> None:
    arc = Arc((10, -5), 100.0, 20.0, -300.0)
    start = arc.start
    for p1, p2, p3 in arc_cubics(arc):
        cubic = Cubic(start, p1, p2, p3)
        for t in (0.0, 0.1, 0.3, 0.5, 0.8, 1.0):
            x, y = cubic.point_at(t)
            assert abs(((x - 10) ** 2 + (y + 5) ** 2) ** 0.5 - 100.0) < 1e-3
        start = p3
    assert start == pytest.approx(arc.end)


def test_scales_and_datums() -> None:
    assert fitting_scale((761, 761), (160, 155)) == 5
    assert fitting_scale((50, 50), (160, 155)) == 1
    assert fitting_scale((30_000, 10), (160, 155)) == 200
    assert datum_point(Datum.LOWER_RIGHT, STOCK) == (761, 0)
    assert datum_point(Datum.CENTRE, STOCK) == (380.5, 380.5)
    assert datum_point(Datum.UPPER_LEFT, STOCK) == (0, 761)


def test_labels_stay_on_their_part() -> None:
    maker = LabelMaker()
    wide = maker.label(SIDE, Placement("side", 1, 0, 0, 0), "1-1", SIDE.name, 0.2)
    assert wide.lines[0] == "1-1"
    assert " ".join(wide.lines[1:]) == SIDE.name
    assert 0 < wide.x < 300
    turned = maker.label(SIDE, Placement("side", 1, 0, 0, 0, 90), "1-1", "side", 0.2)
    assert -120 < turned.x < 0
    tiny = maker.label(PARTS[3], Placement("peg", 1, 0, 0, 0), "4-1", "peg", 0.2)
    assert tiny.lines == ("4-1",)
    ring = maker.label(PARTS[1], Placement("frame", 1, 0, 0, 0), "2-1", "frame", 0.2)
    assert ((ring.x - 130) ** 2 + (ring.y - 100) ** 2) ** 0.5 > 70


def test_nothing_runs_below_the_frame(monkeypatch: pytest.MonkeyPatch) -> None:
    """However much there is to say, it ends above the title block."""
    lowest: list[float] = []
    pairs = Paper.pairs

    def watched(self: Paper, *args: object, **more: object) -> float:
        end = pairs(self, *args, **more)  # type: ignore[arg-type]
        lowest.append(end - self.bottom)
        return end

    monkeypatch.setattr(Paper, "pairs", watched)
    long = tuple((f"board {i}", "passes and feeds " * 6) for i in range(40))
    remarks = ("a remark that goes on for quite some time " * 4,) * 40
    notes = replace(
        NOTES,
        facts=long,
        cutting=long,
        remarks=remarks,
        blanks=(replace(NOTES.blanks[0], facts=long, remarks=remarks),) * 2,
    )
    assert page_count(shop_sheets(JOB, notes, date=DATE)) > 6
    assert min(lowest) >= 0.0


def test_what_stays_standing_has_a_page_of_its_own() -> None:
    edge = np.array([(20.0, 20.0), (21.0, 20.0), (20.0, 21.0)])
    left = (
        Left("hole", 0, True, (20.3, 20.3), edge, 0.5, 1.3),
        Left("hole", 1, False, (50.0, 50.0), edge + 30.0, 9.0, 0.0),
    )
    note = CornerNote(1, SIDE, left, 6.35, 5.0)
    plain = shop_sheets(JOB, date=DATE)
    assert b"(What the cutter leaves standing)" not in plain
    notes = ShopNotes(corners=(note,) * 7, blanks=(BlankNotes(standing=(edge,)),))
    paper = shop_sheets(JOB, notes, date=DATE)
    assert paper.count(b"(What the cutter leaves standing)") == 2, "six on a page"
    for units, texts in (("mm", ["1.3 mm", "5 mm"]), ("in", ["0.051 in", "0.197 in"])):
        words = " ".join(_words(note, units))
        assert all(text in words for text in texts), words
    assert "1 inside corner stays round" in words
    assert "does not get into 1 hole" in words
