"""The bench within the whole window: by keys alone, menus at the part, focus."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QPoint, QRectF, Qt
from PySide6.QtGui import QContextMenuEvent, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QMenu
from pytestqt.qtbot import QtBot

from drystone.app.window.main_window import MainWindow
from drystone.io.setup_file import read_setup
from drystone.nesting.model.holding import Holding
from drystone.nesting.shop.holddown import asked_screws

from .bench_jobs import planter_job
from .bench_person import LEFT, NONE, SHIFT, Person
from .window_person import another_window


def focus_in(window: MainWindow, name: str) -> bool:
    region = getattr(window, name)
    focus = QApplication.focusWidget()
    return focus is not None and (focus is region or region.isAncestorOf(focus))


def press(key: Qt.Key, keys: Qt.KeyboardModifier = NONE) -> None:
    """Press a key wherever the focus is, as a keyboard does."""
    focus = QApplication.focusWidget()
    assert focus is not None
    QTest.keyClick(focus, key, keys)


def hop(window: MainWindow, name: str) -> None:
    for _ in range(5):
        if focus_in(window, name):
            return
        press(Qt.Key.Key_F6)
    raise AssertionError(f"F6 never came to {name}")


def test_no_mouse_place_turn_nudge_and_lock(window: MainWindow) -> None:
    window.document.open(planter_job())
    window.book.tabBar().setFocus()
    before = {(p.part_id, p.copy) for p in window.document.job.layout.placements}
    hop(window, "tray")
    press(Qt.Key.Key_Home)
    press(Qt.Key.Key_Right)
    part = window.tray.copies.currentItem()
    assert part is not None
    press(Qt.Key.Key_Return)
    placements = window.document.job.layout.placements
    (new,) = {(p.part_id, p.copy) for p in placements} - before
    assert window.document.selection == {new}
    assert window.document.conflicts() == {}
    hop(window, "bench")
    x = window.document.placement(new)
    assert x is not None
    press(Qt.Key.Key_R)
    press(Qt.Key.Key_Right, SHIFT)
    press(Qt.Key.Key_S)
    press(Qt.Key.Key_L)
    after = window.document.placement(new)
    assert after is not None
    assert after.turn == 15 and after.locked and (after.x, after.y) != (x.x, x.y)
    assert window.document.conflicts() == {}


def test_the_menu_key_opens_the_menu_at_the_part(
    window: MainWindow, qtbot: QtBot
) -> None:
    window.document.open(planter_job())
    bench = window.bench
    bench.setFocus()
    press(Qt.Key.Key_Period)
    handle = bench.handle_at()
    assert handle is not None
    event = QContextMenuEvent(
        QContextMenuEvent.Reason.Keyboard, QPoint(3, 3), bench.mapToGlobal(QPoint(3, 3))
    )
    QApplication.sendEvent(bench.viewport(), event)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    at = bench.viewport().mapToGlobal(handle.toPoint())
    assert (menu.pos() - at).manhattanLength() < 60 or menu.geometry().contains(at)
    assert any("Lock" in action.text() for action in menu.actions())
    menu.close()


@pytest.mark.parametrize("size", [(1000, 600), (1280, 800), (1900, 1000), (900, 1100)])
def test_no_scroll_bars_stand_beside_what_is_shown_whole(
    window: MainWindow, qtbot: QtBot, size: tuple[int, int]
) -> None:
    bench = window.bench
    bars = bench.horizontalScrollBar(), bench.verticalScrollBar()
    window.resize(*size)
    window.document.open(planter_job())
    qtbot.wait(10)
    assert not any(bar.isVisible() for bar in bars)
    bench.zoom_by(3.0)
    qtbot.wait(10)
    assert all(bar.isVisible() for bar in bars)
    QTest.mouseClick(window.fit, LEFT)
    qtbot.wait(10)
    assert not any(bar.isVisible() for bar in bars)
    x0, y0, x1, y1 = bench.plan.box
    assert bench.camera.seen().contains(QRectF(x0, y0, x1 - x0, y1 - y0))
    window.resize(size[0] + 90, size[1] - 40)
    qtbot.wait(10)
    assert not any(bar.isVisible() for bar in bars)
    assert bench.camera.seen().contains(QRectF(x0, y0, x1 - x0, y1 - y0))


def test_what_the_bench_offers_stands_in_one_menu(window: MainWindow) -> None:
    """No other menu says in more words what `Arrange` and the bench's menu say."""
    window.document.open(planter_job())
    for locked in (False, True):
        window.document.select_all()
        window.document.set_locked(window.document.selection, locked)
        arrange: list[set[str]] = []
        others: list[set[str]] = []
        for heading in window.menuBar().actions():
            menu = heading.menu()
            assert isinstance(menu, QMenu)
            if menu is window.menus.arrange:
                window.menus.fill_arrange()
            for action in menu.actions():
                words = action.text().replace("&", "").partition("\t")[0]
                told = arrange if menu is window.menus.arrange else others
                told.append(set(words.casefold().split()))
        offered = [words for words in arrange if words]
        assert {"unlock" if locked else "lock"} in offered
        assert [w for w in others if any(words <= w for words in offered)] == []


def test_tab_enters_and_leaves_the_bench(window: MainWindow) -> None:
    window.document.open(planter_job())
    window.bench.setFocus()
    press(Qt.Key.Key_Tab)
    assert not focus_in(window, "bench")
    for _ in range(60):
        press(Qt.Key.Key_Tab)
        if focus_in(window, "bench"):
            break
    assert focus_in(window, "bench")
    window.bench.setFocus()
    press(Qt.Key.Key_Backtab, SHIFT)
    assert not focus_in(window, "bench")


def test_an_r_typed_into_a_field_turns_nothing(window: MainWindow) -> None:
    window.document.open(planter_job())
    window.document.select([("side", 1)])
    window.book.setCurrentWidget(window.book.cutting)
    field = next(
        f for f in window.book.cutting.findChildren(QLineEdit) if f.isVisible()
    )
    field.setFocus()
    QTest.keyClicks(field, "rlf")
    side = window.document.placement(("side", 1))
    assert side is not None and side.turn == 0 and not side.locked
    field.undo()
    field.setText("")
    window.document.undo.setClean()


def test_zoom_and_fit_are_always_in_sight(window: MainWindow) -> None:
    window.document.open(planter_job())
    assert window.fit.isVisible()
    assert min(window.fit.width(), window.fit.height()) >= 24
    before = window.zoom.text()
    window.bench.setFocus()
    window.bench.zoom_by(2.0)
    assert window.zoom.isVisible() and window.zoom.text() != before
    assert window.zoom.text().endswith("%")
    QTest.mouseClick(window.fit, LEFT)
    assert window.zoom.text() == before


def test_a_drag_tells_figures_in_the_status_line(window: MainWindow) -> None:
    window.document.open(planter_job())
    person = Person(window.bench)
    window.bench.fit_blank(0)
    person.press(60, 45)
    person.go(person.pixel(110, 45))
    assert " mm to " in window.hint.text() and "x " in window.hint.text()
    person.key(Qt.Key.Key_Escape)
    person.let_go()


def test_a_part_carried_out_of_the_bench_is_told_where_it_may_go(
    window: MainWindow,
) -> None:
    window.document.open(planter_job())
    person = Person(window.bench)
    window.bench.fit_blank(0)
    tray = window.tray.mapToGlobal(window.tray.rect().center())
    before = person.where(("side", 1))
    for end in (window.bench.viewport().mapFromGlobal(tray), QPoint(-60, 100)):
        person.press(60, 45)
        person.go(end)
        assert "over the tray" in window.hint.text()
        person.go(person.pixel(110, 45))
        assert "over the tray" not in window.hint.text()
        person.go(end)
        person.let_go()
        in_tray = window.document.placement(("side", 1)) is None
        assert in_tray == (end.x() >= 0) and "tray" not in window.hint.text()
        window.document.undo.undo()
        assert person.where(("side", 1)) == before


def test_every_press_shows_at_once(window: MainWindow, qtbot: QtBot) -> None:
    """After a press, a move or a key the viewport is painted before anything else."""
    window.document.open(planter_job())
    window.bench.fit_blank(0)
    QApplication.processEvents()
    person = Person(window.bench)
    before = window.bench.viewport().grab().toImage()
    person.press(60, 45)
    QApplication.processEvents()
    assert window.bench.viewport().grab().toImage() != before
    viewport = window.bench.viewport()
    release = QMouseEvent(
        QEvent.Type.MouseButtonRelease,
        person.at.toPointF(),
        viewport.mapToGlobal(person.at).toPointF(),
        LEFT,
        Qt.MouseButton.NoButton,
        NONE,
    )
    QApplication.sendEvent(viewport, release)


def test_screw_spots_go_by_the_practice_of_the_shop(
    own_folders: None, window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    job = replace(planter_job(), holding=Holding(screws=3))
    window.document.open(job)
    job = window.document.job
    item = window.bench.blank_items[0]
    shop = window.book.shop
    usual = asked_screws(job, 0, shop.setup.practice)
    qtbot.waitUntil(lambda: item.screws == usual, timeout=10_000)
    practice = replace(shop.setup.practice, screw_distance=45.0)
    far = asked_screws(job, 0, practice)
    assert far != usual
    shop.put(replace(shop.setup, practice=practice))
    qtbot.waitUntil(lambda: item.screws == far, timeout=10_000)
    qtbot.waitUntil(lambda: read_setup().practice == practice, timeout=10_000)
    later = another_window(qtbot, tmp_path, tmp_path / "recovery-2")
    assert later.bench.spots.practice == practice
