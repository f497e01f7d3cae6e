"""The whole window under real mouse and key events."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDragLeaveEvent, QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QMessageBox, QWidget
from pytestqt.qtbot import QtBot

from drystone.app.bench.words import LONGEST, shortened
from drystone.app.book.importing import SAMPLE
from drystone.app.opening import open_job
from drystone.app.window.document import Document
from drystone.app.window.main_window import MainWindow
from drystone.io.job_file import read_job, write_job
from drystone.nesting.model.placement import Blank, Layout, Placement

from .window_person import (
    CTRL,
    LEFT,
    NONE,
    another_window,
    drop,
    keep_as_if_killed,
    shelf_job,
    type_into,
)


def test_the_window_comes_up_without_the_compiled_engine() -> None:
    code = (
        "import sys; from pathlib import Path;"
        "from PySide6.QtCore import QSettings;"
        "from PySide6.QtWidgets import QApplication; app = QApplication([]);"
        "from drystone.app.window.document import Document;"
        "from drystone.app.window.main_window import MainWindow;"
        "w = MainWindow(Document(), QSettings(), Path('nowhere'));"
        "w.show(); app.processEvents(); w.shut_down();"
        "sys.exit('numba' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], timeout=200)
    assert done.returncode == 0


def test_sample_order_quantity_undo(window: MainWindow, qtbot: QtBot) -> None:
    assert window.book.parts.sample.isVisible()
    QTest.mouseClick(window.book.parts.sample, LEFT)
    qtbot.waitUntil(lambda: bool(window.document.job.parts), timeout=90_000)
    assert not window.book.parts.empty.isVisible()
    assert window.book.parts.findings.count() > 0
    assert window.isWindowModified()
    before = window.document.job
    type_into(window.book.parts.table, 0, 1, "5")
    assert window.document.job.parts[0].quantity == 5
    assert "Wanted" in window.document.undo.undoText()
    QTest.keyClick(window, Qt.Key.Key_Z, CTRL)
    assert window.document.job == before


def test_drawings_dropped_become_parts(window: MainWindow, qtbot: QtBot) -> None:
    folder = SAMPLE.parent
    drop(window, [folder / "side.dxf", folder / "foot.svg"])
    qtbot.waitUntil(lambda: len(window.document.job.parts) == 2, timeout=90_000)
    window.document.undo.undo()
    assert not window.document.job.parts


def test_a_picture_is_refused_with_the_reason(
    window: MainWindow, tmp_path: Path
) -> None:
    drop(window, [tmp_path / "photo.png"])
    assert "photo.png" in window.banner.text
    assert window.document.undo.count() == 0


def test_lengths_as_people_write_them(window: MainWindow) -> None:
    window.book.setCurrentWidget(window.book.cutting)
    field = window.book.cutting.cutter
    for text in ("1 1/2 in", "38,1", "38.1mm"):
        window.document.open(shelf_job())
        field.line.setFocus()
        field.line.selectAll()
        QTest.keyClicks(field.line, text)
        assert field.error.isHidden()
        QTest.keyClick(field.line, Qt.Key.Key_Return)
        assert window.document.job.cutting.cutter == pytest.approx(38.1, abs=1e-12)
    field.line.selectAll()
    QTest.keyClicks(field.line, "much")
    assert field.error.isHidden()
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    assert field.error.isVisible() and field.line.text() == "much"
    QTest.keyClick(field.line, Qt.Key.Key_Escape)
    assert field.error.isHidden() and field.line.text() == "38.1"


def test_twenty_pasted_rows_are_one_step(window: MainWindow) -> None:
    window.document.open(shelf_job())
    rows = [f"shelf {n}\t2\t{300 + n}\t180" for n in range(20)]
    rows.insert(3, "bad\ttwo\t300\t180")
    QGuiApplication.clipboard().setText("\n".join(rows))
    table = window.book.parts.table
    table.setFocus()
    QTest.keyClick(table, Qt.Key.Key_V, CTRL)
    assert len(window.document.job.parts) == 21
    assert window.book.parts.findings.count() == 1
    assert "1 needs attention" in window.banner.text
    window.document.undo.undo()
    assert len(window.document.job.parts) == 1


def test_columns_follow_what_is_pasted_and_typed(
    window: MainWindow, qtbot: QtBot
) -> None:
    """Names are not cut off in a narrow column while there is room beside it."""
    window.resize(1600, 900)
    window.document.open(shelf_job())
    table = window.book.parts.table
    qtbot.wait(200)

    def whole() -> bool:
        return table.columnWidth(0) >= table.sizeHintForColumn(0)

    assert whole()
    QGuiApplication.clipboard().setText("Back of the shelf\t1\t300\t180")
    table.setFocus()
    QTest.keyClick(table, Qt.Key.Key_V, CTRL)
    assert window.banner.text == "1 row added."
    assert window.document.undo.undoText() == "Paste Back of the shelf"
    assert not whole()
    qtbot.waitUntil(whole, timeout=2000)
    type_into(table, 0, 0, "Lower panel of oak")
    assert not whole()
    qtbot.waitUntil(whole, timeout=2000)


def test_findings_go_with_the_job_they_are_about(window: MainWindow) -> None:
    window.document.open(shelf_job())
    QGuiApplication.clipboard().setText("bad\ttwo\t300\t180")
    table = window.book.parts.table
    table.setFocus()
    QTest.keyClick(table, Qt.Key.Key_V, CTRL)
    assert window.banner.text == "0 rows added, 1 needs attention."
    assert window.book.parts.found.isVisible()
    window.document.open(shelf_job())
    assert window.book.parts.findings.count() == 0
    assert not window.book.parts.found.isVisible()


def test_one_blank_is_told_as_one(window: MainWindow) -> None:
    one = replace(shelf_job().parts[0], quantity=1)
    layout = Layout((Blank("board"),), (Placement("panel", 1, 0, 30.0, 30.0),))
    window.document.open(replace(shelf_job(), parts=(one,), layout=layout))
    window.show_page(3)
    assert "1 copy on 1 blank, ready" in window.book.hand_over.state.text()


def test_nest_is_one_step_and_hands_over(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.document.open(shelf_job())
    window.book.cutting.seconds.setValue(3)
    QTest.mouseClick(window.strip.nest, LEFT)
    assert window.nesting.running and not window.strip.nest.isEnabled()
    qtbot.waitUntil(lambda: not window.nesting.running, timeout=120_000)
    assert len(window.document.job.layout.placements) == 6, window.banner.text
    assert "proven fewest" in window.strip.headline.text()
    assert window.document.undo.count() == 1
    assert window.document.conflicts() == {}
    window.book.setCurrentWidget(window.book.hand_over)
    page = window.book.hand_over
    page.folder.selectAll()
    QTest.keyClicks(page.folder, str(tmp_path / "out"))
    page.with_dxf.click()
    page.with_pdf.click()
    listed = sorted(page.files.item(i).text() for i in range(page.files.count()))
    assert {name.rpartition("-all-blanks")[2] for name in listed} >= {".dxf", ".pdf"}
    QTest.mouseClick(page.write, LEFT)
    qtbot.waitUntil(lambda: not window.handing.running, timeout=120_000)
    assert "written and checked" in page.result.text(), page.result.text()
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == listed
    assert page.check.count() > 0
    window.document.undo.undo()
    assert not window.document.job.layout.placements


def test_stop_keeps_and_discard_drops(window: MainWindow, qtbot: QtBot) -> None:
    # The sample order: no layout found in a short time meets its bound.
    window.document.open(open_job([SAMPLE]).job)
    window.book.cutting.seconds.setValue(300)

    def begin() -> None:
        QTest.mouseClick(window.strip.nest, LEFT)
        qtbot.waitUntil(
            lambda: window.document.shown_layout is not window.document.job.layout,
            timeout=120_000,
        )
        qtbot.waitUntil(window.strip.keep.isVisible, timeout=30_000)

    begin()
    QTest.mouseClick(window.strip.discard, LEFT)
    assert not window.nesting.running
    assert window.document.undo.count() == 0
    begin()
    shown = window.document.shown_layout
    assert shown.placements
    QTest.mouseClick(window.strip.keep, LEFT)
    qtbot.waitUntil(lambda: not window.nesting.running, timeout=30_000)
    assert len(window.document.job.layout.placements) == 114
    assert window.document.undo.count() == 1


def test_place_from_the_tray_by_keyboard(window: MainWindow) -> None:
    window.document.open(shelf_job())
    window.tray.copies.setCurrentRow(0)
    window.tray.copies.setFocus()
    QTest.keyClick(window.tray.copies, Qt.Key.Key_Return)
    QTest.keyClick(window.tray.copies, Qt.Key.Key_Return)
    assert len(window.document.job.layout.placements) == 2
    assert window.document.conflicts() == {}


def test_save_marks_clean_and_undoing_back_too(
    window: MainWindow, tmp_path: Path
) -> None:
    path = tmp_path / "shelf.drystone"
    window.document.open(shelf_job(), path)
    assert not window.isWindowModified()
    window.document.want_more("panel")
    assert window.isWindowModified()
    QTest.keyClick(window, Qt.Key.Key_S, CTRL)
    assert not window.isWindowModified()
    assert read_job(path) == window.document.job
    window.document.want_more("panel")
    window.document.undo.undo()
    assert not window.isWindowModified()
    assert path.resolve() in window.files.recent()


def test_the_unsaved_question_has_verbs(
    window: MainWindow, monkeypatch: pytest.MonkeyPatch
) -> None:
    window.document.open(shelf_job())
    window.document.want_more("panel")
    box = window.files.question()
    assert "Shelf" in box.text()
    assert {b.text() for b in box.buttons()} == {"Save", "Don't save", "Cancel"}
    escape: QAbstractButton | None = box.escapeButton()
    assert escape is not None and escape.text() == "Cancel"
    box.deleteLater()
    monkeypatch.setattr(QMessageBox, "exec", lambda self: 0)
    monkeypatch.setattr(QMessageBox, "clickedButton", QMessageBox.escapeButton)
    assert not window.close()
    assert window.isVisible()


def test_lost_work_is_offered_and_taken_back(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    window.document.open(shelf_job())
    window.document.want_more("panel", 3)
    job = window.document.job
    keep_as_if_killed(window)
    other = another_window(qtbot, tmp_path, tmp_path / "recovery")
    assert "Shelf" in other.banner.text
    other.banner._buttons[0].click()
    qtbot.waitUntil(lambda: other.document.job == job, timeout=10_000)
    assert other.document.modified
    other.document.undo.setClean()
    other.shut_down()


def test_every_stop_of_tab_has_a_name(window: MainWindow) -> None:
    window.document.open(shelf_job())
    nameless = []
    for widget in window.findChildren(QWidget):
        if widget.focusPolicy() == Qt.FocusPolicy.NoFocus or widget.isWindow():
            continue
        if widget.isHidden():  # gets its words when it is shown
            continue
        if type(widget) is QWidget:  # a viewport: its area has the name
            continue
        text = getattr(widget, "text", None)
        name = widget.accessibleName() or (text() if callable(text) else "")
        if not name and not widget.objectName().startswith("qt_"):
            nameless.append(f"{type(widget).__name__} in {type(widget.parent())}")
    assert nameless == []


def test_f6_visits_every_region(window: MainWindow) -> None:
    window.document.open(shelf_job())
    window.activateWindow()
    window.strip.nest.setFocus()
    visited = []
    for _ in range(4):
        QTest.keyClick(window, Qt.Key.Key_F6)
        focus = QApplication.focusWidget()
        visited.append(
            next(
                name
                for name in ("strip", "book", "bench", "tray")
                if focus is getattr(window, name)
                or getattr(window, name).isAncestorOf(focus)
            )
        )
    assert visited == ["book", "bench", "tray", "strip"]


def test_the_table_of_copies_does_what_the_bench_does(window: MainWindow) -> None:
    window.document.open(shelf_job())
    window.document.add_blank("board")
    window.place("panel")
    window.place("panel")
    window.menus.placed_action.trigger()
    table = window.placed.table
    first, second = window.document.job.layout.placements
    window.document.select([("panel", second.copy)])
    assert table.selectionModel().isRowSelected(1, table.rootIndex())
    table.selectRow(0)
    assert window.document.selection == {("panel", first.copy)}
    type_into(table, 0, 2, "1 in")
    assert window.document.job.layout.placements[0].x == pytest.approx(25.4)
    type_into(table, 0, 2, str(window.placed.model.index(1, 2).data()))
    type_into(table, 0, 3, str(window.placed.model.index(1, 3).data()))
    assert len(window.document.conflicts()) == 2
    assert "2 parts lie wrongly" in window.strip.headline.text()
    QTest.mouseClick(window.strip.problems, LEFT)
    assert len(window.document.selection) == 1 and window.banner.text


def test_a_change_during_the_search_ends_it(window: MainWindow) -> None:
    window.document.open(shelf_job())
    window.start_nest()
    assert window.nesting.running
    window.document.want_more("panel")
    assert not window.nesting.running
    assert window.strip.nest.isVisible()
    assert "changed" in window.banner.text


def test_files_may_be_dropped_on_the_bench(window: MainWindow) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(SAMPLE))])
    action = Qt.DropAction.CopyAction
    enter = QDragEnterEvent(QPoint(50, 50), action, data, LEFT, NONE)
    QApplication.sendEvent(window.bench.viewport(), enter)
    assert enter.isAccepted()


def test_one_blank_nested_anew_leaves_the_others(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.document.open(shelf_job())
    for _ in range(2):
        window.document.add_blank("board")
    window.place("panel")
    key = ("panel", 1)
    other = replace(window.document.job.layout.placements[0], copy=2, x=123.0, y=45.0)
    first = window.document.placement(key)
    assert first is not None
    window.document.place([replace(other, blank=1 - first.blank)])
    stays = window.document.placement(("panel", 2))
    window.document.select([key])
    window.book.cutting.seconds.setValue(2)
    window.nest_blank()
    qtbot.waitUntil(lambda: not window.nesting.running, timeout=60_000)
    after = window.document.placement(("panel", 2))
    assert stays is not None and after is not None
    # A blank that is no longer needed leaves, so that the numbers may change.
    assert replace(after, blank=0) == replace(stays, blank=0)
    assert len(window.document.job.layout.placements) == 6, window.banner.text


def test_files_held_over_the_window_are_told_what_becomes_of_them(
    window: MainWindow, tmp_path: Path
) -> None:
    def hold(*names: str) -> str:
        data = QMimeData()
        data.setUrls([QUrl.fromLocalFile(str(tmp_path / name)) for name in names])
        action = Qt.DropAction.CopyAction
        enter = QDragEnterEvent(
            QPoint(300, 300), action, data, Qt.MouseButton.LeftButton, NONE
        )
        QApplication.sendEvent(window, enter)
        assert window.overlay.isVisible()
        centre = window.centralWidget()
        assert centre is not None and window.overlay.size() == centre.size()
        return window.overlay.words

    assert "2 drawings" in hold("a.dxf", "b.SVG")
    assert "job boxes.drystone" in hold("boxes.drystone")
    assert "order order.toml" in hold("order.toml")
    assert "Only" in hold("photo.png") and "Only" in hold("a.toml", "b.dxf")
    assert window.hint.text() == window.overlay.words
    QApplication.sendEvent(window, QDragLeaveEvent())
    assert not window.overlay.isVisible() and window.hint.text() == ""


def test_long_names_keep_both_ends_and_ask_for_no_wider_window(
    window: MainWindow,
) -> None:
    name = "left-hand front panel of the tall planter with the round corner, no. 17"
    assert len(shortened(name)) <= LONGEST
    assert shortened(name).startswith("left-hand") and shortened(name).endswith("17")
    assert shortened("roof 3") == "roof 3"
    least = window.minimumSizeHint().width()
    window.hint.setText(f"7.85 mm to {name}, {name}")
    QApplication.processEvents()
    assert window.minimumSizeHint().width() == least


def test_the_menu_bar_offers_all_that_the_menu_on_the_bench_does(
    window: MainWindow,
) -> None:
    document = window.document
    document.open(shelf_job())
    document.add_blank("board")
    for _ in range(3):
        assert window.bench.lay("panel")
    document.select_all()
    there = [a.text() for a in window.bench.menu().actions()]
    window.menus.fill_arrange()
    window.menus.fill_arrange()  # opened again, it lists everything once
    actions = window.menus.arrange.actions()
    assert [a.text() for a in actions] == there
    before = document.job.layout
    (align,) = [a for a in actions if "left edges" in a.text()]
    assert align.isEnabled()
    align.trigger()
    assert document.job.layout != before
    document.undo.undo()
    assert document.job.layout == before


def test_a_job_let_go_of_over_the_window_is_opened_once_unsaved_work_is_settled(
    window: MainWindow,
    qtbot: QtBot,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    path = tmp_path / "shelf.drystone"
    write_job(path, shelf_job())
    window.document.open(replace(shelf_job(), name="Planter"))
    window.document.want_more("panel")
    asked: list[str] = []

    def answer(words: str) -> None:
        def ask() -> str:
            asked.append(words)
            return words

        monkeypatch.setattr(window.files, "ask", ask)

    answer("stay")
    drop(window, [path])
    QTest.qWait(50)
    assert asked == ["stay"] and window.document.job.name == "Planter"
    answer("drop")
    drop(window, [path])
    qtbot.waitUntil(lambda: window.document.job.name == "Shelf", timeout=20_000)
    assert asked == ["stay", "drop"]
    assert window.document.path == path and not window.document.modified
    assert path.resolve() in window.files.recent()


def test_the_job_book_is_as_wide_as_it_was_left(
    window: MainWindow, tmp_path: Path
) -> None:
    window.resize(790, 700)  # the screen here is no larger
    usual = window.across.sizes()[0]
    window.across.setSizes([510, 270, 0])
    QApplication.processEvents()
    wide = window.across.sizes()[0]
    assert abs(wide - usual) > 20
    window.document.undo.setClean()
    window.close()
    other = MainWindow(Document(), window.settings, tmp_path / "recovery")
    try:
        other.show()
        QApplication.processEvents()
        assert abs(other.across.sizes()[0] - wide) <= 2
    finally:
        other.shut_down()
