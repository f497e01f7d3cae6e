"""The checklist's numbers 1 to 20, in the whole window: bench, keys, time.

`test_forty` says which test proves which number; those that were proven elsewhere
already are not done again here.
"""

from __future__ import annotations

import time
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QObject, QPoint, QRect, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QCheckBox,
    QDialog,
    QMenu,
    QScrollArea,
    QWidget,
)
from pytestqt.qtbot import QtBot

from drystone.app.bench import arrange
from drystone.app.bench.pointer import HANDLE
from drystone.app.book.fold import Fold
from drystone.app.window.main_window import MainWindow
from drystone.app.window.work_bar import LATE
from drystone.nesting.model.outline import Loop, Outline

from .bench_jobs import planter_job
from .bench_person import CTRL, LEFT, NONE, SHIFT, Person
from .seeing import LEAST_TARGET
from .window_person import shelf_job


@pytest.fixture
def person(window: MainWindow) -> Person:
    """Someone in front of the whole window, with two boards on its bench."""
    window.document.open(planter_job())
    window.activateWindow()
    window.bench.fit_blank(0)
    window.bench.setFocus()
    return Person(window.bench)


def page_of(window: MainWindow, number: int) -> QWidget:
    """Return a page of the job book."""
    page = window.book.widget(number)
    assert page is not None
    return page


def picture(widget: QWidget) -> QImage:
    """Return what a widget shows, without what is drawn about its keys."""
    return widget.grab().toImage()


def test_check_01_five_pixels_are_no_drag_and_fifteen_are_one(
    person: Person, window: MainWindow
) -> None:
    first = window.document.job
    person.press(60, 45)
    person.go(person.at + QPoint(0, -5))
    person.let_go()
    assert window.document.job is first
    person.press(60, 45)
    person.go(person.at + QPoint(0, -15))
    assert person.view._hand.isVisible(), "it follows before it is let go"
    person.let_go()
    moved = person.where(("side", 1))
    assert moved.y - 20 == pytest.approx(15 / person.view.scale_now(), rel=0.1)


def test_check_02_escape_in_mid_drag_leaves_the_undo_label(
    person: Person, window: MainWindow
) -> None:
    person.drag((350, 45), (350, 120))
    label, job = window.menus.undo_action.text(), window.document.job
    assert label == "Undo Move Side 3"
    person.press(60, 45)
    person.go(person.pixel(200, 150))
    person.key(Qt.Key.Key_Escape)
    person.let_go()
    assert window.document.job is job
    assert window.menus.undo_action.text() == label


def test_check_03_three_dragged_parts_are_one_undo(
    person: Person, window: MainWindow
) -> None:
    first = window.document.job
    person.click(60, 45)
    person.click(200, 45, CTRL)
    person.click(350, 45, CTRL)
    person.drag((60, 45), (90, 70))
    after = [person.where(("side", n)) for n in (1, 2, 3)]
    assert all(p.y > 20 for p in after)
    assert window.menus.undo_action.text() == "Undo Move 3 parts"
    QTest.keyClick(window, Qt.Key.Key_Z, CTRL)
    assert window.document.job.layout == first.layout


def test_check_04_ctrl_toggles_shift_adds_and_empty_clears(person: Person) -> None:
    document = person.document
    person.click(60, 45)
    person.click(200, 45, SHIFT)
    person.click(200, 45, SHIFT)  # adding what is there already takes nothing away
    assert document.selection == {("side", 1), ("side", 2)}
    person.click(200, 45, CTRL)
    assert document.selection == {("side", 1)}
    person.click(200, 45, CTRL)
    assert document.selection == {("side", 1), ("side", 2)}
    person.click(500, 200)
    assert document.selection == frozenset()


def test_check_05_a_band_lights_parts_and_ctrl_adds(person: Person) -> None:
    document, viewport = person.document, person.view.viewport()
    person.click(480, 345)
    assert document.selection == {("rail", 1)}
    QTest.mousePress(viewport, LEFT, CTRL, person.pixel(450, 130))
    person.at = person.pixel(450, 130)
    before = picture(viewport)
    person.go(person.pixel(350, 50), CTRL)
    assert document.selection == {("rail", 1), ("side", 3)}, "lit while it grows"
    assert picture(viewport) != before
    person.go(person.pixel(250, 50), CTRL)
    both = {("rail", 1), ("side", 2), ("side", 3)}
    assert document.selection == both
    person.let_go(CTRL)
    assert document.selection == both
    person.press(450, 130)
    person.go(person.pixel(350, 50))
    person.let_go()
    assert document.selection == {("side", 3)}, "without Ctrl it begins anew"


def test_check_06_all_that_is_pressed_is_large_enough(window: MainWindow) -> None:
    """Buttons of every page with all sections open, and the handle at Fit."""
    window.document.open(planter_job())
    small = []
    for page in range(window.book.count()):
        window.book.setCurrentIndex(page)
        for fold in page_of(window, page).findChildren(Fold):
            fold.set_open(True)
        QApplication.processEvents()
        small += [
            f"{window.book.tabText(page)}: {b.text()!r} {b.width()} x {b.height()}"
            for b in window.findChildren(QAbstractButton)
            if b.isVisible()
            and not b.objectName().startswith("qt_")
            and type(b) is not QAbstractButton  # the corner of a table
            and min(b.width(), b.height()) < LEAST_TARGET
        ]
    assert small == []
    assert 2 * HANDLE >= LEAST_TARGET


def test_check_06_the_handle_of_the_smallest_part_takes_a_press_beside_it(
    window: MainWindow,
) -> None:
    job = planter_job()
    dot = replace(job.parts[2], outline=Outline(Loop.circle(0, 0, 2)))
    window.document.open(replace(job, parts=(*job.parts[:2], dot, *job.parts[3:])))
    window.bench.fit()
    person = Person(window.bench)
    window.document.select([("disc", 1)])
    handle = window.bench.handle_at()
    assert handle is not None
    for off in (QPoint(-11, -11), QPoint(11, 11)):
        person.at = handle.toPoint() + off
        QTest.mousePress(window.bench.viewport(), LEFT, NONE, person.at)
        person.go(person.at + QPoint(40, 30))
        assert type(window.bench.gesture).__name__ == "TurnGesture"
        person.key(Qt.Key.Key_Escape)
        person.let_go()
    # The part itself, four millimetres across.
    window.document.select(())
    place = person.pixel(330, 230) + QPoint(8, 8)
    QTest.mouseClick(window.bench.viewport(), LEFT, NONE, place)
    assert window.document.selection == {("disc", 1)}


def test_check_07_a_guide_is_drawn_and_named_and_ctrl_frees(person: Person) -> None:
    viewport = person.view.viewport()
    person.press(330, 230)
    person.go(person.pixel(352, 130))
    assert "in line with Side 3" in person.view.figures
    QApplication.processEvents()
    with_guide = picture(viewport)
    (guide,) = person.view._hand.shown.guides
    # Between the part and its neighbour, where nothing but the guide is drawn.
    x = guide.line[0][0]
    line = person.view.theme.accent
    seen = []
    for y in range(84, 92):
        at = person.pixel(x, y)
        seen += [with_guide.pixelColor(at + QPoint(dx, 0)) for dx in (-1, 0, 1)]
    near = [
        c
        for c in seen
        if abs(c.redF() - line.redF())
        + abs(c.greenF() - line.greenF())
        + abs(c.blueF() - line.blueF())
        < 0.5
    ]
    assert near, "the guide is seen"
    person.go(person.pixel(352, 131), CTRL)
    assert "in line" not in person.view.figures
    assert not person.view._hand.shown.guides
    person.key(Qt.Key.Key_Escape)
    person.let_go()


def test_check_08_figures_with_units_beside_the_pointer_and_below(
    person: Person, window: MainWindow
) -> None:
    person.press(60, 45)
    person.go(person.pixel(110, 100))
    words = person.view.figures
    assert words.count(" mm") >= 2 and "x " in words and "y " in words
    for line in words.split("\n"):
        assert line in window.hint.text()
    # The plate is painted near the pointer, and not under it.
    viewport = person.view.viewport()
    plate = person.view.foreground.figures_area()
    assert plate.adjusted(-40, -40, 40, 40).contains(person.at)
    shown = picture(viewport)
    person.view.figures = ""
    bare = picture(viewport)
    assert shown.copy(plate) != bare.copy(plate)
    person.key(Qt.Key.Key_Escape)
    person.let_go()


def test_check_09_a_locked_part_has_a_padlock_stays_and_says_why(
    person: Person, window: MainWindow
) -> None:
    window.document.select(())
    person.view.camera.sharpen_all()
    open_ = picture(person.view.viewport())
    window.document.set_locked([("side", 1)], True)
    person.view.camera.sharpen_all()
    shut = picture(person.view.viewport())
    x0, y0 = person.pixel(20, 80).toTuple()
    x1, y1 = person.pixel(120, 20).toTuple()
    box = (x0, y0, x1 - x0, y1 - y0)
    assert open_.copy(*box) != shut.copy(*box)
    before = person.where(("side", 1))
    person.drag((30, 70), (100, 150))
    assert person.where(("side", 1)) == before
    assert "Side 1 is locked" in window.banner.text
    assert "unlock" in window.banner.text


def test_check_11_arrows_nudge_and_five_quick_ones_are_one_undo(
    person: Person, window: MainWindow
) -> None:
    person.click(200, 45)
    first = person.where(("side", 2))
    steps = window.document.undo.count()
    for n in range(1, 6):
        person.key(Qt.Key.Key_Right)
        assert person.where(("side", 2)).x == pytest.approx(first.x + n)
    assert window.document.undo.count() == steps + 1
    QTest.keyClick(window, Qt.Key.Key_Z, CTRL)
    assert person.where(("side", 2)) == first
    person.key(Qt.Key.Key_Up, SHIFT)
    assert person.where(("side", 2)).y == pytest.approx(first.y + 10)


@pytest.mark.parametrize(
    ("key", "keys"), [(Qt.Key.Key_Menu, NONE), (Qt.Key.Key_F10, SHIFT)]
)
@pytest.mark.parametrize("zoom", [1.0, 4.0])
def test_check_14_the_menu_opens_at_the_part_by_key(
    person: Person,
    window: MainWindow,
    key: Qt.Key,
    keys: Qt.KeyboardModifier,
    zoom: float,
) -> None:
    """The key itself, given to the window, not an event that somebody made of it."""
    person.key(Qt.Key.Key_Period)
    current = window.document.current
    assert current is not None
    person.view.zoom_by(zoom)
    person.view.show_copy(current)
    QTest.keyClick(window.windowHandle(), key, keys)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    p = person.where(current)
    x0, y0, x1, y1 = arrange.box_of(window.document.job, p)
    low, high = person.pixel(x0, y0, p.blank), person.pixel(x1, y1, p.blank)
    part = QRect(QPoint(low.x(), high.y()), QPoint(high.x(), low.y()))
    part.moveTopLeft(person.view.viewport().mapToGlobal(part.topLeft()))
    part.adjust(-4, -44, 4, 4)  # up to the handle
    corner = menu.geometry().topLeft()
    edge = person.view.screen().geometry().right() - menu.width() + 1
    assert part.contains(corner) or (corner.x() == edge and part.left() > edge)
    assert part.top() <= corner.y() <= part.bottom()
    words = [action.text().partition("\t")[0] for action in menu.actions()]
    assert "Lock" in words and "Put in the tray" in words
    QTest.keyClick(menu, Qt.Key.Key_Escape)
    assert QApplication.activePopupWidget() is None
    assert window.document.current == current


class Frames(QObject):
    """Counts how often widgets are painted."""

    def __init__(self) -> None:
        super().__init__()
        self.count = 0

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() in (QEvent.Type.Paint, QEvent.Type.UpdateRequest):
            self.count += 1
        return False


def test_check_16_every_press_shows_in_the_next_frame(window: MainWindow) -> None:
    """One turn of the event loop after a press, the window looks different.

    How long such a turn takes is measured in `bench_waiting`.
    """
    window.document.open(planter_job())
    window.activateWindow()
    person = Person(window.bench)
    window.bench.fit_blank(0)
    window.tray.copies.setCurrentRow(0)
    for _ in range(3):
        QApplication.processEvents()
    frames = Frames()
    QApplication.instance().installEventFilter(frames)  # type: ignore[union-attr]
    unseen = []

    def seen(what: str, before: QImage) -> None:
        QApplication.processEvents()
        if frames.count == 0 or window.grab().toImage() == before:
            unseen.append(what)

    def ready() -> QImage:
        QApplication.processEvents()
        before = window.grab().toImage()
        frames.count = 0
        return before

    buttons: list[QAbstractButton] = [window.strip.nest, window.tray.place, window.fit]
    for page in range(window.book.count()):
        window.book.setCurrentIndex(page)
        QApplication.processEvents()
        buttons = buttons if page == 0 else []
        buttons += [
            b
            for b in page_of(window, page).findChildren(QAbstractButton)
            if b.isVisible() and b.isEnabled() and b.text()
        ]
        for button in buttons:
            area: QWidget | None = button.parentWidget()
            while area is not None and not isinstance(area, QScrollArea):
                area = area.parentWidget()
            if area is not None:
                area.ensureWidgetVisible(button)
            before = ready()
            where = button.rect().center()
            if isinstance(button, QCheckBox):  # takes presses on what it shows only
                where.setX(10)
            QTest.mousePress(button, LEFT, NONE, where)
            seen(f"{window.book.tabText(page)}: {button.text()}", before)
            QTest.mouseRelease(button, LEFT, NONE, QPoint(-90, -90))  # nothing comes
    for page in range(window.book.count()):
        before = ready()
        bar = window.book.tabBar()
        QTest.mousePress(bar, LEFT, NONE, bar.tabRect(page).center())
        seen(f"tab {page}", before)
        QTest.mouseRelease(bar, LEFT, NONE, bar.tabRect(page).center())
    before = ready()
    person.press(60, 45)
    seen("a part", before)
    before = ready()
    person.go(person.pixel(90, 150))
    seen("dragging it", before)
    person.key(Qt.Key.Key_Escape)
    person.let_go()
    for key in (Qt.Key.Key_Right, Qt.Key.Key_R, Qt.Key.Key_L, Qt.Key.Key_Period):
        before = ready()
        person.key(key)
        seen(f"key {key}", before)
    QApplication.instance().removeEventFilter(frames)  # type: ignore[union-attr]
    assert unseen == [], "\n".join(unseen)


def test_check_17_long_work_is_told_with_stop_and_short_work_flashes_nothing(
    window: MainWindow, qtbot: QtBot
) -> None:
    """Work of 0.3 s shows nothing at any moment; a search of some seconds repaints."""
    strip = window.strip
    shown: list[str] = []

    class Watch(QObject):
        def eventFilter(self, watched: QObject, event: QEvent) -> bool:
            if event.type() == QEvent.Type.Show:
                shown.append(type(watched).__name__)
            return False

    watch = Watch()
    told = (strip.work, strip.bar, strip.keep, strip.discard, strip.plot)
    for widget in told:
        widget.installEventFilter(watch)
    for _ in range(10):
        began = time.monotonic()
        strip.work.begin("Reading", lambda: None)
        strip.set_running(True)
        qtbot.wait(300)
        strip.work.end()
        strip.set_running(False)
        if time.monotonic() - began < 0.9 * LATE / 1000.0:
            break
        shown.clear()  # on a busy machine even this was long work
    qtbot.wait(LATE + 100)
    assert shown == []
    job = shelf_job()
    panel = replace(job.parts[0], quantity=40)
    window.document.open(replace(job, parts=(panel,)))
    window.book.cutting.seconds.setValue(120)
    window.start_nest()
    qtbot.waitUntil(strip.keep.isVisible, timeout=180_000)
    assert strip.discard.isVisible() and strip.bar.isVisible()
    frames = Frames()
    strip.bar.installEventFilter(frames)
    qtbot.waitUntil(lambda: frames.count >= 3, timeout=120_000)
    assert strip.bar.text().endswith(" s")
    window.nesting.discard()
    assert not strip.keep.isVisible() and not strip.bar.isVisible()


def test_check_18_stop_keeps_the_best_and_one_undo_takes_it_away(
    window: MainWindow, qtbot: QtBot
) -> None:
    """How soon it stops is printed by `bench_waiting`; here it must be soon enough."""
    job = shelf_job()
    parts = tuple(
        replace(job.parts[0], id=f"p{n}", name=f"P{n}", quantity=12) for n in range(3)
    )
    first = replace(job, parts=parts)
    window.document.open(first)
    first = window.document.job
    window.book.cutting.seconds.setValue(300)
    window.start_nest()
    qtbot.waitUntil(
        lambda: (
            window.document.shown_layout is not window.document.job.layout
            or not window.nesting.running
        ),
        timeout=240_000,
    )
    # On a busy machine the search may end before it has run long enough to be told.
    qtbot.waitUntil(
        lambda: window.strip.keep.isVisible() or not window.nesting.running,
        timeout=240_000,
    )
    if window.nesting.running:
        shown = window.document.shown_layout
        QTest.mouseClick(window.strip.keep, LEFT)
        qtbot.waitUntil(lambda: not window.nesting.running, timeout=120_000)
        blanks = len(window.document.job.layout.blanks)
        assert blanks <= len(shown.blanks)
    assert len(window.document.job.layout.placements) == 36
    assert window.document.undo.count() == 1
    QTest.keyClick(window, Qt.Key.Key_Z, CTRL)
    assert window.document.job == first


def test_check_19_nest_save_and_export_open_no_dialog(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    opened: list[str] = []

    class Watch(QObject):
        def eventFilter(self, watched: QObject, event: QEvent) -> bool:
            if event.type() == QEvent.Type.Show and isinstance(watched, QDialog):
                opened.append(f"{type(watched).__name__} {watched.windowTitle()}")
            return False

    watch = Watch()
    QApplication.instance().installEventFilter(watch)  # type: ignore[union-attr]
    try:
        path = tmp_path / "shelf.drystone"
        window.document.open(shelf_job(), path)
        window.book.cutting.seconds.setValue(2)
        QTest.mouseClick(window.strip.nest, LEFT)
        qtbot.waitUntil(lambda: not window.nesting.running, timeout=120_000)
        assert len(window.document.job.layout.placements) == 6
        QTest.keyClick(window, Qt.Key.Key_S, CTRL)
        assert path.exists() and not window.isWindowModified()
        page = window.book.hand_over
        window.book.setCurrentWidget(page)
        page.folder.selectAll()
        QTest.keyClicks(page.folder, str(tmp_path / "out"))
        QTest.mouseClick(page.write, LEFT)
        qtbot.waitUntil(lambda: not window.handing.running, timeout=120_000)
        assert "written and checked" in page.result.text()
    finally:
        QApplication.instance().removeEventFilter(watch)  # type: ignore[union-attr]
    assert opened == []


def test_check_20_a_problem_in_the_strip_is_selected_centred_and_explained(
    person: Person, window: MainWindow
) -> None:
    person.drag((60, 45), (190, 45), CTRL)
    assert set(window.document.conflicts()) == {("side", 1), ("side", 2)}
    window.document.select(())
    window.bench.zoom_by(2.5)
    window.bench.camera.scroll(700, -700)
    assert window.strip.problems.isVisible()
    named = set()
    for _ in range(2):
        QTest.mouseClick(window.strip.problems, LEFT)
        (key,) = window.document.selection
        named.add(key)
        cx, cy = arrange.centre_of(window.document.job, person.where(key))
        off = person.pixel(cx, cy) - window.bench.viewport().rect().center()
        assert off.manhattanLength() < 40
        assert window.document.name_of(key) in window.banner.text
        assert "Move it" in window.banner.text and "Del" in window.banner.text
    assert named == {("side", 1), ("side", 2)}
