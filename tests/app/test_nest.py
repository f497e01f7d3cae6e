"""``drystone nest``: from files to files, and one clear line for bad input."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from pathlib import Path

import pytest

from drystone.app import cli
from drystone.app.checking import check_folder
from drystone.app.shop_paper import bench_paper
from drystone.io.job_file import read_job
from drystone.nesting.model.errors import InputError
from drystone.nesting.model.job import Objective

ORDER = """\
name = "Shelves"
[cutting]
cutter = 6.35
allowance = 1.5
margin = 12
[[stock]]
material = "MDF"
thickness = 9
size = [600, 400]
count = "as needed"
price = 10
[[part]]
panel = [300, 180]
name = "shelf"
quantity = 3
material = "MDF"
thickness = 9
"""

OPEN_LINES = """\
<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm"
 viewBox="0 0 100 100"><path d="M0 0 L50 0 L50 50" stroke="black" fill="none"/></svg>
"""

EMPTY = """\
<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm"
 viewBox="0 0 100 100"></svg>
"""

SQUARE = """\
<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="100mm"
 viewBox="0 0 100 100"><rect x="10" y="10" width="60" height="40"/></svg>
"""


def nest(*words: object) -> int:
    return cli.run(["nest", *map(str, words), "--passes", "1"])


@pytest.fixture
def order(tmp_path: Path) -> Path:
    path = tmp_path / "order.toml"
    path.write_text(ORDER, encoding="utf-8")
    return path


def test_an_order_becomes_checked_files(
    order: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "cut"
    assert nest(order, "--out", out) == 0
    printed = capsys.readouterr()
    assert printed.err == ""
    assert "3 of 3 copies placed" in printed.out
    assert "proven fewest" in printed.out
    assert "\x1b" not in printed.out
    names = sorted(path.name for path in out.iterdir())
    assert names == [
        "Shelves-blank-01.dxf",
        "Shelves-blank-01.svg",
        "Shelves-shop-sheets.pdf",
        "Shelves.drystone",
        "cut-list.csv",
        "report.json",
    ]
    assert check_folder(out).ok


def test_json_is_one_document(
    order: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert nest(order, "--out", tmp_path / "cut", "--json") == 0
    document = json.loads(capsys.readouterr().out)
    assert document["verdict"]["sheets"] == 1
    assert document["verdict"]["bound"] == 1
    assert document["check"]["ok"] is True


def test_a_job_can_be_laid_out_again(order: Path, tmp_path: Path) -> None:
    assert nest(order, "--out", tmp_path / "a") == 0
    assert nest(tmp_path / "a" / "Shelves.drystone", "--out", tmp_path / "b") == 0
    assert check_folder(tmp_path / "b").ok


def test_drawings_nest_at_once(tmp_path: Path) -> None:
    drawing = tmp_path / "square.svg"
    drawing.write_text(SQUARE, encoding="utf-8")
    out = tmp_path / "cut"
    assert nest(drawing, "--sheet", "300x200", "--quantity", 3, "--out", out) == 0
    report = json.loads((out / "report.json").read_text("utf-8"))
    assert report["verdict"]["copies_placed"] == 3


def test_sheets_larger_than_the_bed_are_sawn_first(
    order: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order.write_text(
        ORDER.replace("[600, 400]", "[1220, 810]") + "[bed]\nsize = [620, 420]\n",
        encoding="utf-8",
    )
    assert nest(order, "--out", tmp_path / "cut", "--json") == 0
    document = json.loads(capsys.readouterr().out)
    verdict = document["verdict"]
    assert verdict["sheets"] == 1
    assert verdict["cost"] == 10
    assert verdict["sheets_sawn"][0]["count"] == 1
    report = json.loads((tmp_path / "cut" / "report.json").read_text("utf-8"))
    for blank in report["blanks"]:
        width, height = blank["size"]
        assert width <= 620
        assert height <= 420
    # Whoever opens the job later has all that its papers tell, the sawing too.
    (saved,) = (tmp_path / "cut").glob("*.drystone")
    (sheets,) = (tmp_path / "cut").glob("*shop-sheets.pdf")
    paper = sheets.read_bytes()
    assert b"(Break-down" in paper, "the page's entry among the bookmarks"
    assert paper == bench_paper(read_job(saved))


def test_what_does_not_fit_is_said_and_the_rest_is_done(
    order: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order.write_text(ORDER.replace("[300, 180]", "[900, 180]"), encoding="utf-8")
    assert nest(order, "--out", tmp_path / "cut") == 1
    assert "not placed: 3 × shelf: too large for any blank" in capsys.readouterr().out


def test_the_same_passes_give_the_same_files(order: Path, tmp_path: Path) -> None:
    for name in ("a", "b"):
        assert nest(order, "--out", tmp_path / name, "--seed", 7) == 0
    one, two = (tmp_path / n / "Shelves-blank-01.svg" for n in ("a", "b"))
    assert one.read_bytes() == two.read_bytes()


def test_existing_files_stay_without_leave(
    order: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "cut"
    assert nest(order, "--out", out) == 0
    before = (out / "report.json").read_bytes()
    assert nest(order, "--out", out) == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert (out / "report.json").read_bytes() == before
    assert nest(order, "--out", out, "--force") == 0


def bad_inputs(folder: Path) -> dict[str, tuple[list[object], str]]:
    """What is wrong, the words for it, and a piece of the line that says so."""
    (folder / "bitmap.svg").write_bytes(b"\x89PNG\r\n\x1a\n" + bytes(40))
    (folder / "empty.svg").write_text(EMPTY, encoding="utf-8")
    (folder / "open.svg").write_text(OPEN_LINES, encoding="utf-8")
    (folder / "square.svg").write_text(SQUARE, encoding="utf-8")
    (folder / "folder").mkdir()
    (folder / "file").write_text("", encoding="utf-8")

    def order_with(name: str, old: str, new: str) -> Path:
        path = folder / f"{name}.toml"
        assert old in ORDER
        path.write_text(ORDER.replace(old, new), encoding="utf-8")
        return path

    sheet = ["--sheet", "300x200"]
    return {
        "missing file": ([folder / "none.dxf", *sheet], "none.dxf"),
        "missing order": ([folder / "none.toml"], "none.toml"),
        "bitmap": ([folder / "bitmap.svg", *sheet], "bitmap.svg"),
        "empty drawing": ([folder / "empty.svg", *sheet], "empty.svg"),
        "no closed loop": ([folder / "open.svg", *sheet], "open.svg"),
        "directory": ([folder / "folder", *sheet], "folder"),
        "no sheet": ([folder / "square.svg"], "--sheet"),
        "odd sheet": ([folder / "square.svg", "--sheet", "wide"], "--sheet"),
        "negative count": (
            [folder / "square.svg", *sheet, "--quantity", "-2"],
            "--quantity",
        ),
        "odd cutter": (
            [folder / "square.svg", *sheet, "--cutter", "thick"],
            "--cutter",
        ),
        "negative quantity": (
            [order_with("negative", "quantity = 3", "quantity = -3")],
            "quantity",
        ),
        "unknown unit": (
            [order_with("unit", 'name = "Shelves"', 'units = "cubits"')],
            "cubits",
        ),
        "unreadable TOML": ([order_with("toml", "margin = 12", "margin = = 12")], ":5"),
        "missing drawing": (
            [order_with("drawing", "panel = [300, 180]", 'drawing = "none.dxf"')],
            "none.dxf",
        ),
        "not a folder": (
            [order_with("good", "margin = 12", "margin = 12.0"), "--out", "file/cut"],
            "file",
        ),
    }


CASES = (
    "missing file",
    "missing order",
    "bitmap",
    "empty drawing",
    "no closed loop",
    "directory",
    "no sheet",
    "odd sheet",
    "negative count",
    "odd cutter",
    "negative quantity",
    "unknown unit",
    "unreadable TOML",
    "missing drawing",
    "not a folder",
)


@pytest.mark.parametrize("case", CASES)
def test_bad_input_is_one_clear_line_and_leaves_nothing(
    case: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    words, said = bad_inputs(tmp_path)[case]
    if "--out" not in words:
        words = [*words, "--out", "cut"]
    before = sorted(tmp_path.rglob("*"))
    assert nest(*words) == 2
    printed = capsys.readouterr()
    assert printed.out == ""
    assert printed.err.count("\n") == 1
    assert said in printed.err
    assert "Traceback" not in printed.err
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere"
)
def test_without_permission_to_write_nothing_is_left(
    order: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o500)
    assert nest(order, "--out", shut / "cut") == 2
    assert capsys.readouterr().err.count("\n") == 1
    assert list(shut.iterdir()) == []


# ------------------------------------------------------------------- the search


def test_statistics_are_written_pass_by_pass(order: Path, tmp_path: Path) -> None:
    table, document = tmp_path / "passes.csv", tmp_path / "passes.json"
    for path in (table, document):
        out = tmp_path / path.suffix[1:]
        words = ["nest", str(order), "--out", str(out), "--passes", "3", "-q"]
        assert cli.run([*words, "--statistics", str(path)]) == 0
    lines = table.read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("pass,seconds,phase,offered,better,sheets,")
    rows = json.loads(document.read_text(encoding="utf-8"))["passes"]
    assert [row["pass"] for row in rows] == list(range(1, len(rows) + 1))
    assert len(lines) == len(rows) + 1
    assert all(row["sheets"] == 1 and row["unplaced"] == 0 for row in rows)


def test_statistics_of_no_known_format_are_refused(
    order: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "cut"
    assert nest(order, "--out", out, "--statistics", tmp_path / "passes.xls") == 2
    assert "--statistics: passes.xls says no format" in capsys.readouterr().err
    assert not out.exists()


def test_a_cluster_that_does_not_answer_is_one_line(
    order: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from drystone.app import cluster

    monkeypatch.setattr(cluster, "PATIENCE", 1.0)
    out = tmp_path / "cut"
    assert nest(order, "--out", out, "--cluster", "tcp://127.0.0.1:9") == 2
    error = capsys.readouterr().err
    assert "--cluster: no scheduler answers at tcp://127.0.0.1:9" in error
    assert len(error.splitlines()) == 1
    assert nest(order, "--out", out, "--cluster", "nonsense://x") == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
    assert not out.exists()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("none/passes.csv", "there is no folder "),
        ("a.csv", "is a folder"),
        ("cut/report.json", "is a file of the export itself"),
    ],
)
def test_statistics_that_cannot_be_written_are_refused_before_the_search(
    name: str,
    said: str,
    order: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    def search(*args: object, **options: object) -> None:
        raise AssertionError("it searches")

    monkeypatch.setattr("drystone.app.laying_out.lay_out_on_bed", search)
    (tmp_path / "a.csv").mkdir()
    out = tmp_path / "cut"
    assert nest(order, "--out", out, "--statistics", tmp_path / name) == 2
    error = capsys.readouterr().err
    assert error.startswith("--statistics: ")
    assert said in error
    assert error.count("\n") == 1
    assert not out.exists()


def test_statistics_may_lie_in_the_folder_of_the_export(
    order: Path, tmp_path: Path
) -> None:
    out = tmp_path / "cut"
    for again in ([], ["--force"]):
        words = ["--out", out, "--statistics", out / "passes.csv", *again]
        assert nest(order, *words) == 0
    assert (out / "passes.csv").read_text("utf-8").startswith("pass,")
    assert check_folder(out).ok


@pytest.mark.parametrize("words", ["shortest-length", "shortest length"])
def test_the_objective_said_here_counts_more_than_that_of_the_order(
    words: str, order: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    order.write_text('objective = "least cost"\n' + ORDER, encoding="utf-8")
    assert nest(order, "--out", tmp_path / "a") == 0
    assert "  looked for: least cost\n" in capsys.readouterr().out
    assert nest(order, "--out", tmp_path / "b", "--objective", words) == 0
    assert "  looked for: shortest length; " in capsys.readouterr().out
    saved = read_job(tmp_path / "b" / "Shelves.drystone")
    assert saved.objective is Objective.SHORTEST_LENGTH
    report = json.loads((tmp_path / "b" / "report.json").read_text("utf-8"))
    assert report["verdict"]["objective"] == "shortest length"
    assert report["verdict"]["length_used"] > 0.0
    # What is usual needs no words.
    usual = ["--objective", "fewest-sheets"]
    assert nest(order, "--out", tmp_path / "c", *usual) == 0
    assert "looked for" not in capsys.readouterr().out


def test_an_unknown_objective_is_one_line_with_the_known_ones(
    order: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert nest(order, "--out", tmp_path / "cut", "--objective", "prettiest") == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    for known in Objective:
        assert known.value.replace(" ", "-") in error


@pytest.mark.parametrize("address", ["", "foo", "https://x:80", "tcp://x:99999"])
def test_a_malformed_cluster_is_told_before_anybody_is_asked(address: str) -> None:
    from drystone.app.cluster import refuse_malformed

    with pytest.raises(InputError, match="is no address of a scheduler"):
        refuse_malformed(address)
    refuse_malformed("tcp://192.0.2.7:8786")
    refuse_malformed("192.0.2.7:8786")


def test_a_malformed_cluster_is_one_line_and_leaves_nothing_to_close(
    order: Path, tmp_path: Path
) -> None:
    # What a client leaves behind shows only when the interpreter ends.
    out = tmp_path / "cut"
    words = ["nest", str(order), "--out", str(out), "-q", "--cluster", "foo"]
    done = subprocess.run(
        [sys.executable, "-m", "drystone.app", *words],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert done.stderr.startswith("--cluster: 'foo' is no address of a scheduler: ")
    assert not out.exists()


def test_a_cluster_that_cannot_be_spoken_to_leaves_nothing_to_close() -> None:
    code = (
        "from drystone.app.cluster import executor_at\n"
        "from drystone.nesting.model.errors import InputError\n"
        "try:\n"
        "    executor_at('tls://127.0.0.1:9').__enter__()\n"
        "except InputError as error:\n"
        "    print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60
    )
    assert done.stdout.startswith("--cluster: no scheduler answers at tls://")
    assert done.stderr == ""


def test_a_stranger_at_the_clusters_port_is_one_line(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from drystone.app import cluster

    monkeypatch.setattr(cluster, "PATIENCE", 0.5)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        address = f"tcp://127.0.0.1:{silent.getsockname()[1]}"
        with (
            pytest.raises(InputError, match="no scheduler answers"),
            cluster.executor_at(address),
        ):
            pass


def test_without_the_clusters_package_the_extra_is_named(
    order: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert nest(order, "--out", tmp_path / "cut", "--cluster", "foo") == 2
    assert capsys.readouterr().err == (
        "--cluster: the package distributed is not installed; "
        "install drystone[cluster]\n"
    )
