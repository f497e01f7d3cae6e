"""What if: variants, their outcomes, the table and the plot."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest

from drystone.app.cli import run
from drystone.app.trying import Change, Outcome, Variant, changed, try_all, variants
from drystone.io.job_file import write_job
from drystone.io.whatif_plot import Bars, plot_pdf, plot_svg
from drystone.nesting.model.job import Job
from drystone.nesting.model.machine import ShopSetup
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.model.rules import TurnKind, TurnRule
from drystone.nesting.model.stock import Stock

INCH = 25.4
SHEET = Stock("s", "48 x 96", Outline(Loop.rectangle(96 * INCH, 48 * INCH)), price=60.0)
PANEL = Part(
    "p",
    "panel",
    Outline(Loop.rectangle(23 * INCH, 23 * INCH)),
    (),
    8,
    turn=TurnRule.parse("90"),
)
ORDER = Job("panels", (PANEL,), (SHEET,))
CUTTERS = [Change("cutter", 3.175, "cutter 3.175"), Change("cutter", 6.0, "cutter 6")]
MARGINS = [Change("margin", 30.0, "margin 30")]


def test_variants_one_at_a_time_or_all_combinations() -> None:
    names = [v.name for v in variants([CUTTERS, [], MARGINS], every=False)]
    assert names == ["as ordered", "cutter 3.175", "cutter 6", "margin 30"]
    names = [v.name for v in variants([CUTTERS, [], MARGINS], every=True)]
    assert names == ["as ordered", "cutter 3.175, margin 30", "cutter 6, margin 30"]
    assert len(variants([[]], every=True)) == 1


def test_changes_change_just_what_they_say() -> None:
    def after(kind: str, value: object) -> Job:
        return changed(ORDER, Variant((Change(kind, value, ""),)))  # type: ignore[arg-type]

    assert after("cutter", 3.0).cutting.gap == 4.5
    assert after("allowance", 3.0).cutting.gap == 9.35
    assert after("margin", 3.0).cutting.margin == 3.0
    assert after("times", 2.5).parts[0].quantity == 20
    assert after("turn", "fixed").parts[0].turn.kind is TurnKind.FIXED
    half = after("sheet", (48 * INCH, 48 * INCH)).stock[0]
    assert half.price == pytest.approx(30.0)
    assert after("cutter", 3.0).parts == ORDER.parts


def test_a_margin_too_wide_costs_a_sheet() -> None:
    """Eight 23 in panels fit one 48 x 96 in sheet with 12 mm free, not with 30."""
    found = try_all(
        ORDER, ShopSetup(), variants([MARGINS], every=False), seconds=9, passes=1
    )
    assert [outcome.sheets for outcome in found] == [1, 2]
    assert found[1].cost > found[0].cost
    assert all(o.missing == 0 and not o.trouble for o in found)


def test_trouble_is_told_and_the_others_go_on() -> None:
    wrong = Variant((Change("turn", "sideways", "turn sideways"),))
    told: list[int] = []
    found = try_all(
        ORDER,
        ShopSetup(),
        [wrong, Variant(())],
        seconds=9,
        passes=1,
        on_done=told.append,
    )
    assert "unknown turn rule" in found[0].trouble
    assert math.isnan(found[0].cost)
    assert found[1].sheets >= 1
    assert told == [1, 2]
    json.dumps([outcome.as_dict() for outcome in found], allow_nan=False)


def test_processes_give_the_same_as_one() -> None:
    wanted = variants([MARGINS], every=False)
    one = try_all(ORDER, ShopSetup(), wanted, seconds=9, passes=1)
    two = try_all(ORDER, ShopSetup(), wanted, seconds=9, passes=1, workers=2)
    assert one == two


def test_the_command_prints_a_table_and_writes_plots(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "panels.drystone"
    write_job(path, ORDER)
    svg, pdf = tmp_path / "w.svg", tmp_path / "w.pdf"
    words = ["whatif", str(path), "--margin", "30", "--passes", "1"]
    assert run([*words, "--plot", str(svg), str(pdf)]) == 0
    out = capsys.readouterr().out
    assert "as ordered" in out
    assert "1 fewest" in out
    ElementTree.fromstring(svg.read_bytes())
    assert b"/MediaBox [ 0 0 841.8898 595.2756 ]" in pdf.read_bytes()  # A4
    assert run([*words, "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["variants"]
    assert [row["sheets"] for row in rows] == [1, 2]


def test_an_order_in_inches_is_plotted_on_letter_paper(tmp_path: Path) -> None:
    path, pdf = tmp_path / "panels.drystone", tmp_path / "w.pdf"
    write_job(path, replace(ORDER, units="in"))
    words = ["whatif", str(path), "--margin", "30", "--passes", "1"]
    assert run([*words, "--plot", str(pdf)]) == 0
    assert b"/MediaBox [ 0 0 792 612 ]" in pdf.read_bytes()


@pytest.mark.parametrize(
    ("words", "what"),
    [
        ([], "nothing is to be different"),
        (["--cutter", "wide"], "wide"),
        (["--margin", "-3"], ""),
        (["--turn", "sideways"], "unknown turn rule"),
        (["--times", "0"], "above 0"),
        (["--cutter", "3", "--plot", "a.png"], "neither .svg nor .pdf"),
    ],
)
def test_mistakes_are_one_line(
    words: list[str], what: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "panels.drystone"
    write_job(path, ORDER)
    assert run(["whatif", str(path), *words]) == 2
    assert what in capsys.readouterr().err


def test_plots_hold_any_name_and_many_rows() -> None:
    names = [f"<variant> & {i}" for i in range(40)]
    values = tuple([math.nan, 0.0, *map(float, range(38))])
    bars = [Bars("sheets", values, tuple("x" for _ in names))]
    text = plot_svg("a & b", names, bars)
    root = ElementTree.fromstring(text)
    assert len(root.findall(".//{*}rect")) == 1 + 39
    assert plot_pdf("a", names, bars).count(b"/Type /Page\n") == 3
    assert plot_pdf("a", [], [Bars("sheets", (), ())]).startswith(b"%PDF")
    assert Outcome(Variant(())).as_dict()["bound"] is None
