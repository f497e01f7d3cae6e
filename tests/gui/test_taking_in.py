"""Drawings taken in: asked about, shown with findings, stopped, all or nothing."""

from __future__ import annotations

import math
import time
from dataclasses import replace
from pathlib import Path

import ezdxf
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from drystone.app.book.findings_box import OWN_CURES
from drystone.app.book.importing import (
    SAMPLE,
    Read,
    read_anew,
    read_drawings,
    with_parts,
)
from drystone.app.book.units_dialog import UnitsDialog
from drystone.app.window.main_window import MainWindow
from drystone.app.window.work_bar import LATE
from drystone.io.finding_table import finding_rows
from drystone.io.findings import Finding, Severity
from drystone.io.job_file import write_job
from drystone.io.operations import Meaning
from drystone.nesting.model.job import Job
from drystone.nesting.model.part import Operation

from .window_person import LEFT, drop, shelf_job, type_into


def plate(path: Path, width: float, height: float, unit: int | None = None) -> Path:
    """A rectangle in a DXF file that may say its unit."""
    drawing = ezdxf.new("R2010")  # type: ignore[attr-defined]
    drawing.header["$INSUNITS"] = unit or 0
    points = [(0, 0), (width, 0), (width, height), (0, height)]
    drawing.modelspace().add_lwpolyline(points, close=True)
    drawing.saveas(path)
    return path


def dialog_of(window: MainWindow, qtbot: QtBot) -> UnitsDialog:
    def found() -> bool:
        return window.findChild(UnitsDialog) is not None

    qtbot.waitUntil(found, timeout=180_000)
    dialog = window.findChild(UnitsDialog)
    assert isinstance(dialog, UnitsDialog)
    return dialog


def sizes(window: MainWindow) -> list[tuple[float, float]]:
    return [part.outline.size for part in window.document.job.parts]


def wait_for_parts(window: MainWindow, qtbot: QtBot, count: int) -> None:
    qtbot.waitUntil(
        lambda: len(window.document.job.parts) == count and not window.reader.busy,
        timeout=180_000,
    )


def test_another_reading_is_chosen_by_its_size(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    drop(window, [plate(tmp_path / "lid.dxf", 6, 4)])
    dialog = dialog_of(window, qtbot)
    texts = [b.text() for b in dialog.choices.buttons()]
    inches = next(n for n, text in enumerate(texts) if "152.4" in text)
    QTest.mouseClick(dialog.choices.buttons()[inches], LEFT)
    QTest.mouseClick(dialog.use, LEFT)
    wait_for_parts(window, qtbot, 1)
    assert sizes(window) == [pytest.approx((152.4, 101.6), abs=1e-9)]
    assert window.document.undo.count() == 1
    found = window.book.parts.found
    assert not [f for f in found._found if f.code.startswith("units-")]


def test_a_known_size_scales_the_drawing(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    drop(window, [plate(tmp_path / "lid.dxf", 400, 300)])
    dialog = dialog_of(window, qtbot)
    box = QPoint(10, dialog.own.height() // 2)
    QTest.mouseClick(dialog.own, LEFT, Qt.KeyboardModifier.NoModifier, box)
    assert not dialog.use.isEnabled()
    QTest.keyClicks(dialog.typed, "much")
    assert "✕" in dialog.told.text() and not dialog.use.isEnabled()
    dialog.typed.selectAll()
    QTest.keyClicks(dialog.typed, "120 mm")
    assert "90" in dialog.told.text()
    QTest.keyClick(dialog.typed, Qt.Key.Key_Return)
    wait_for_parts(window, qtbot, 1)
    assert sizes(window) == [pytest.approx((120.0, 90.0), abs=1e-6)]


def test_one_answer_for_several_drawings_and_one_left_out(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    paths = [plate(tmp_path / f"{n}.dxf", 6 + n, 4) for n in range(3)]
    sure = plate(tmp_path / "sure.dxf", 300, 200, unit=4)
    drop(window, [*paths, sure])
    dialog = dialog_of(window, qtbot)
    QTest.mouseClick(dialog.skip, LEFT)
    texts = [b.text() for b in dialog.choices.buttons()]
    inches = next(n for n, text in enumerate(texts) if "177.8" in text)
    dialog.choices.buttons()[inches].click()
    dialog.same.click()
    QTest.mouseClick(dialog.use, LEFT)
    wait_for_parts(window, qtbot, 3)
    assert [w for w, _ in sizes(window)] == pytest.approx([177.8, 203.2, 300.0])


def test_closing_the_question_adds_nothing(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    drop(window, [plate(tmp_path / "lid.dxf", 6, 4)])
    dialog = dialog_of(window, qtbot)
    QTest.keyClick(dialog, Qt.Key.Key_Escape)
    qtbot.wait(100)
    assert not window.document.job.parts and window.document.undo.count() == 0


def test_a_finding_is_shown_where_it_is(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    drawing = ezdxf.new("R2010")  # type: ignore[attr-defined]
    drawing.header["$INSUNITS"] = 4
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (300, 0), (300, 200), (0, 200)], close=True)
    space.add_line((250, 150), (280, 170))
    drawing.saveas(tmp_path / "lid.dxf")
    drop(window, [tmp_path / "lid.dxf"])
    wait_for_parts(window, qtbot, 1)
    found = window.book.parts.found
    rows = [n for n, f in enumerate(found._found) if f.place is not None]
    assert rows, found._found
    found.list.setCurrentRow(rows[0])
    qtbot.waitUntil(lambda: found.picture._sketch is not None, timeout=180_000)
    sketch = found.picture._sketch
    assert sketch is not None and sketch.box == (0, 0, 300, 200)
    place = found.picture._place
    assert place is not None
    assert math.dist(place, (265, 160)) < 20.0  # somewhere along the loose line
    assert found.cure.text() and "x 2" in found.what.text()
    # Red where the place is: the ring is painted in both views.
    image = found.picture.grab().toImage()
    red = [
        x
        for x in range(image.width())
        for y in range(image.height())
        if image.pixelColor(x, y).red() > 140 and image.pixelColor(x, y).green() < 60
    ]
    assert min(red) < image.width() / 2 < max(red)


def test_a_finding_whose_drawing_is_gone_says_so(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.document.open(shelf_job())
    gone = str(tmp_path / "gone.dxf")
    finding = Finding(
        "gap-left", Severity.WARNING, "a gap; close it", gone, place=(1.0, 2.0)
    )
    window.book.parts.show_findings([finding])
    qtbot.waitUntil(
        lambda: "gone.dxf" in window.book.parts.found.picture._words, timeout=180_000
    )


def test_a_short_reading_flashes_nothing(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    bar = window.strip.work
    bar.begin("Reading", lambda: None)
    qtbot.wait(LATE // 3)
    bar.end()
    qtbot.wait(LATE)
    assert not bar.isVisible()


def large_drawing(path: Path) -> Path:
    drawing = ezdxf.new("R2010")  # type: ignore[attr-defined]
    drawing.header["$INSUNITS"] = 4
    space = drawing.modelspace()
    for i in range(780):  # below the limit of entities
        x, y = (i % 30) * 150.0, (i // 30) * 150.0
        turns = [k * math.tau / 120 for k in range(120)]
        points = [(x + 60 * math.cos(t), y + 60 * math.sin(t)) for t in turns]
        for a, b in zip(points, points[1:] + points[:1], strict=True):
            space.add_line(a, b)
    drawing.saveas(path)
    return path


def test_a_long_reading_is_told_and_stopped_within_a_second(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.document.open(shelf_job())
    before = window.document.job
    small = plate(tmp_path / "lid.dxf", 300, 200, unit=4)
    window.open_files([small, large_drawing(tmp_path / "large.dxf")])
    assert not window.strip.nest.isEnabled()
    bar = window.strip.work
    qtbot.waitUntil(bar.isVisible, timeout=LATE + 60_000)
    qtbot.waitUntil(lambda: "large.dxf" in bar.words.text(), timeout=180_000)
    process = window.reader._process.pid
    assert process is not None
    began = time.monotonic()
    QTest.mouseClick(bar.stop, LEFT)
    assert not window.reader.busy and not bar.isVisible()
    assert time.monotonic() - began < 1.0
    qtbot.wait(500)
    assert window.document.job is before  # all or nothing: not even the small one
    assert window.strip.nest.isEnabled() and "Stopped" in window.banner.text


def test_reading_twice_takes_in_the_later(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.open_files([plate(tmp_path / "one.dxf", 300, 200, unit=4)])
    window.open_files([plate(tmp_path / "two.dxf", 310, 200, unit=4)])
    wait_for_parts(window, qtbot, 1)
    qtbot.wait(500)
    assert sizes(window) == [pytest.approx((310.0, 200.0))]


def test_one_bad_drawing_does_not_keep_the_others_out(tmp_path: Path) -> None:
    bad = tmp_path / "bad.dxf"
    bad.write_text("nothing of the kind")
    told: list[tuple[float, str]] = []
    good = SAMPLE.parent / "side.dxf"
    read = read_drawings(
        [bad, good], lambda: False, None, lambda share, name: told.append((share, name))
    )
    assert read is not None
    assert len(read.parts) == 1 and read.troubles[0].file == str(bad)
    assert told[:2] == [(0.0, "bad.dxf"), (0.5, "side.dxf")]
    assert [share for share, _ in told] == sorted(share for share, _ in told)
    assert told[-1] == (0.9, "side.dxf (telling parts from holes)")
    assert read_drawings([good], lambda: True) is None


def lid(path: Path) -> Path:
    """A lid with a square on a layer whose name says nothing."""
    drawing = ezdxf.new("R2010")  # type: ignore[attr-defined]
    drawing.header["$INSUNITS"] = 4
    space = drawing.modelspace()
    space.add_lwpolyline([(0, 0), (300, 0), (300, 200), (0, 200)], close=True)
    square = [(50, 50), (90, 50), (90, 90), (50, 90)]
    space.add_lwpolyline(square, close=True, dxfattribs={"layer": "Sunk", "color": 1})
    drawing.saveas(path)
    return path


def operations(window: MainWindow) -> list[Operation]:
    return [mark.operation for part in window.document.job.parts for mark in part.marks]


def said(window: MainWindow) -> tuple[tuple[str, str], ...]:
    return window.document.job.layers


def say(window: MainWindow, key: str, word: str) -> None:
    """Choose the work along a layer or colour by the keyboard."""
    box = window.book.parts.layers
    rows = [box.model.row(n).key for n in range(box.model.rowCount())]
    type_into(box.table, rows.index(key), 1, word)


def test_what_is_done_along_a_layer_is_said_and_read_again(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    drop(window, [lid(tmp_path / "lid.dxf")])
    wait_for_parts(window, qtbot, 1)
    page = window.book.parts
    page.layers_fold.set_open(True)
    assert operations(window) == [] and not page.layers.again.isEnabled()
    rows = [page.layers.model.row(n) for n in range(page.layers.model.rowCount())]
    assert [(r.key, r.count) for r in rows][:2] == [("0", 1), ("Sunk", 1)]
    assert "#ff0000" in [row.key for row in rows]
    say(window, "Sunk", "pocket")
    document = window.document
    assert said(window) == (("Sunk", "pocket"),)
    assert "Read them again" in page.layers.state.text()
    assert "Sunk: pocket" in page.layers_fold.summary.text()
    (part,) = document.job.parts
    QTest.mouseClick(page.layers.again, LEFT)
    qtbot.waitUntil(lambda: operations(window) == [Operation.POCKET], timeout=180_000)
    qtbot.waitUntil(lambda: not page.layers.late, timeout=180_000)
    assert [p.id for p in document.job.parts] == [part.id]
    document.undo.undo()
    assert operations(window) == [] and said(window)
    document.undo.undo()
    assert not said(window) and document.job.parts == (part,)


def test_what_is_said_counts_for_drawings_added_later(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.document.change("", shelf_job())
    box = window.book.parts.layers
    window.book.parts.layers_fold.set_open(True)
    QTest.keyClicks(box.line, "red")
    QTest.keyClick(box.line, Qt.Key.Key_Return)
    say(window, "red", "carve")
    assert not said(window) and "carve" in window.banner.words.text()
    say(window, "red", "engrave")
    assert said(window) == (("red", "engrave"),)
    count = len(window.document.job.parts)
    drop(window, [lid(tmp_path / "lid.dxf")])
    wait_for_parts(window, qtbot, count + 1)
    assert operations(window) == [Operation.ENGRAVE]
    assert "red" in [box.model.row(n).key for n in range(box.model.rowCount())]


def test_parts_read_again_keep_what_the_order_says(tmp_path: Path) -> None:
    path = lid(tmp_path / "lid.dxf")
    drawing = ezdxf.readfile(path)  # type: ignore[attr-defined]
    far = [(400, 0), (500, 0), (500, 50), (400, 50)]
    for layer, up in (("0", 0), ("Scrap", 100), ("0", 200)):
        points = [(x, y + up) for x, y in far]
        drawing.modelspace().add_lwpolyline(
            points, close=True, dxfattribs={"layer": layer}
        )
    drawing.saveas(path)

    def look(**layers: Meaning) -> Read:
        read = read_drawings([path], lambda: False, layers=layers)
        assert read is not None
        return read

    before = look()
    job = with_parts(Job("lids"), before.parts)
    assert len(job.parts) == 4
    parts = tuple(replace(part, quantity=7) for part in job.parts)
    after = look(Sunk=Meaning.POCKET, Scrap=Meaning.NOT_CUT)
    again = read_anew(replace(job, parts=parts), before.drawings, after.drawings)
    assert [part.quantity for part in again.parts] == [7, 7, 7]
    assert {part.id for part in again.parts} < {part.id for part in parts}
    (large,) = (part for part in again.parts if part.outline.size[0] > 200)
    assert [mark.operation for mark in large.marks] == [Operation.POCKET]
    # What the user has removed stays away; what is a part again comes to the end.
    left = replace(again, parts=(large,))
    back = read_anew(left, after.drawings, before.drawings)
    assert [part.quantity for part in back.parts] == [7, 1]


def opened_again(window: MainWindow, qtbot: QtBot, folder: Path) -> None:
    """Open the job anew from a file, as on another day."""
    path = folder / "lids.drystone"
    write_job(path, window.document.job)
    window.document.open(Job(""))
    window.files.open(path)
    qtbot.waitUntil(lambda: window.document.path == path, timeout=180_000)
    assert window.document.job.parts and not window.book.parts.layers.drawings


def read_again(window: MainWindow, qtbot: QtBot) -> None:
    page = window.book.parts
    page.layers_fold.set_open(True)
    assert page.layers.again.isEnabled()
    QTest.mouseClick(page.layers.again, LEFT)
    qtbot.waitUntil(lambda: not window.reader.busy, timeout=180_000)


def test_drawings_of_an_opened_job_are_read_again(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    drop(window, [lid(tmp_path / "lid.dxf")])
    wait_for_parts(window, qtbot, 1)
    opened_again(window, qtbot, tmp_path)
    page = window.book.parts
    assert "to see their layers" in page.layers.state.text()
    read_again(window, qtbot)
    assert window.document.undo.isClean()
    rows = [page.layers.model.row(n) for n in range(page.layers.model.rowCount())]
    assert ("Sunk", 1) in [(row.key, row.count) for row in rows]
    # And what is said now counts, also when the layers were never looked at.
    opened_again(window, qtbot, tmp_path)
    (part,) = window.document.job.parts
    page.layers.line.setText("Sunk")
    QTest.keyClick(page.layers.line, Qt.Key.Key_Return)
    say(window, "Sunk", "pocket")
    read_again(window, qtbot)
    assert operations(window) == [Operation.POCKET]
    assert [p.id for p in window.document.job.parts] == [part.id]
    assert not page.layers.late
    window.document.undo.undo()
    assert operations(window) == []


def test_a_drawing_read_in_a_told_unit_is_found_again_by_its_shape(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    path = lid(tmp_path / "lid.dxf")
    read = read_drawings([path], lambda: False, {str(path): "in"})
    assert read is not None
    window.document.change("", with_parts(Job("lids"), read.parts))
    opened_again(window, qtbot, tmp_path)
    window.book.parts.layers.line.setText("Sunk")
    QTest.keyClick(window.book.parts.layers.line, Qt.Key.Key_Return)
    say(window, "Sunk", "pocket")
    read_again(window, qtbot)
    assert operations(window) == [Operation.POCKET]
    assert sizes(window) == [pytest.approx((7620.0, 5080.0))]


def test_a_drawing_that_moved_is_found_beside_the_job_or_told(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    drop(window, [lid(tmp_path / "lid.dxf")])
    wait_for_parts(window, qtbot, 1)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    opened_again(window, qtbot, elsewhere)
    moved = (tmp_path / "lid.dxf").rename(elsewhere / "lid.dxf")
    read_again(window, qtbot)
    assert [part.source for part in window.document.job.parts] == [str(moved)]
    # Neither there nor beside the job.
    opened_again(window, qtbot, elsewhere)
    moved.rename(tmp_path / "other.dxf")
    before = window.document.job
    read_again(window, qtbot)
    words = window.banner.words.text()
    assert "lid.dxf is neither where it was nor beside the job" in words
    assert window.document.job == before


def test_a_drawing_that_has_changed_leaves_its_parts_alone_and_is_told(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    drop(window, [lid(tmp_path / "lid.dxf")])
    wait_for_parts(window, qtbot, 1)
    opened_again(window, qtbot, tmp_path)
    plate(tmp_path / "lid.dxf", 321, 123, 4)
    before = window.document.job
    read_again(window, qtbot)
    words = window.banner.words.text()
    assert "lid.dxf has changed since its parts were read" in words
    assert window.document.job == before


def test_long_names_of_parts_are_cut_in_their_middle(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    drawing = ezdxf.new("R2010")  # type: ignore[attr-defined]
    drawing.header["$INSUNITS"] = 0
    names = [f"the long-named wall of a tall bird box, {n} of 3" for n in (1, 2, 3)]
    for n, name in enumerate(names):
        layer = name.replace(",", "")
        drawing.layers.add(layer)
        x, w = n * 40.0, 18.0 - n
        points = [(x, 0), (x + w, 0), (x + w, 8), (x, 8)]
        drawing.modelspace().add_lwpolyline(
            points, close=True, dxfattribs={"layer": layer}
        )
    drawing.saveas(tmp_path / "walls.dxf")
    drop(window, [tmp_path / "walls.dxf"])
    dialog = dialog_of(window, qtbot)
    part = dialog.part
    shown = [part.itemText(n) for n in range(part.count())]
    assert "2 of 3" in shown[1] and "…" in shown[1]
    metrics = part.fontMetrics()
    assert all(metrics.horizontalAdvance(text) < part.width() - 30 for text in shown)
    part.setCurrentIndex(1)
    assert part.toolTip() == names[1].replace(",", "")
    dialog.reject()


def test_no_cure_in_the_window_speaks_of_the_command_line() -> None:
    speaking = {code for code, *_, cure in finding_rows() if "--" in cure}
    assert speaking and speaking <= set(OWN_CURES)
    assert not any("--" in cure for cure in OWN_CURES.values())
