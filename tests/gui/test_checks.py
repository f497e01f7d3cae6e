"""What published guidelines ask of a window, as far as a program can look at it."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAction, QColor, QGuiApplication, QImage, QPalette
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QMessageBox,
    QPushButton,
    QToolButton,
    QWidget,
)
from pytestqt.qtbot import QtBot

from drystone.app.bench.copies import key_of
from drystone.app.book.fold import Fold
from drystone.app.window.guide import Guide
from drystone.app.window.guide_text import topics
from drystone.app.window.help import about_box, details
from drystone.app.window.look import WORDS, ink
from drystone.app.window.main_window import MainWindow

from .seeing import LEAST_TARGET, contrast, dark_palette
from .window_person import CTRL, LEFT, NONE, SHIFT, shelf_job


def filled(window: MainWindow) -> None:
    """A job with two copies on a board, and copies in the tray."""
    window.document.open(shelf_job())
    window.document.add_blank("board")
    window.place("panel")
    window.place("panel")


def test_contrast_is_what_wcag_says() -> None:
    assert contrast(QColor("#000000"), QColor("#FFFFFF")) == pytest.approx(21.0)
    # WebAIM's published example: #777777 on white is 4.48 to 1.
    grey = contrast(QColor("#777777"), QColor("#FFFFFF"))
    assert grey == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("level", WORDS)
def test_words_of_every_level_can_be_read(level: str, dark: bool) -> None:
    palette = dark_palette() if dark else QPalette()
    for role in (QPalette.ColorRole.Window, QPalette.ColorRole.Base):
        words = QColor(ink(level, palette))
        assert contrast(words, palette.color(role)) >= 4.5


def test_tab_enters_and_leaves_the_bench(window: MainWindow, qtbot: QtBot) -> None:
    filled(window)
    window.activateWindow()
    bench = window.bench
    seen: list[QWidget | None] = []
    window.tray.place.setFocus()
    for _ in range(400):
        QTest.keyClick(QApplication.focusWidget() or window, Qt.Key.Key_Tab)
        focus = QApplication.focusWidget()
        seen.append(focus)
        if seen.count(bench) == 2:
            break
    assert seen.count(bench) == 2, "Tab goes round, through the bench and out of it"
    first = seen.index(bench)
    assert seen[first + 1] is not bench


def test_a_letter_typed_in_a_field_turns_nothing(window: MainWindow) -> None:
    filled(window)
    steps = window.document.undo.count()
    window.book.parts.name.setFocus()
    QTest.keyClicks(window.book.parts.name, "rfl.m,")
    assert window.document.undo.count() == steps
    assert "rfl.m," in window.book.parts.name.text()


def test_the_zoom_keys_work_and_the_zoom_is_told(window: MainWindow) -> None:
    filled(window)
    window.bench.setFocus()
    window.bench.fit()
    told = window.zoom.text()
    before = window.bench.scale_now()
    QTest.keyClick(window.bench, Qt.Key.Key_Equal, CTRL)
    QTest.keyClick(window.bench, Qt.Key.Key_Plus, CTRL)
    assert window.bench.scale_now() == pytest.approx(before * 1.44)
    assert window.zoom.text() != told and window.fit.isVisible()
    QTest.keyClick(window.bench, Qt.Key.Key_Minus, CTRL)
    QTest.keyClick(window.bench, Qt.Key.Key_0, CTRL)
    assert window.bench.scale_now() == pytest.approx(before)


@pytest.mark.parametrize("page", range(4))
def test_what_is_pressed_is_large_enough(window: MainWindow, page: int) -> None:
    filled(window)
    window.book.setCurrentIndex(page)
    QApplication.processEvents()
    small = [
        f"{type(b).__name__} {b.text()!r} {b.width()} x {b.height()}"
        for b in window.findChildren(QAbstractButton)
        if b.isVisible()
        and not b.objectName().startswith("qt_")
        and type(b) is not QAbstractButton  # the corner of a table
        and min(b.width(), b.height()) < LEAST_TARGET
    ]
    assert small == []


def test_every_picture_button_has_words(window: MainWindow) -> None:
    filled(window)
    silent = [
        str(button)
        for button in window.findChildren(QToolButton)
        if not button.isHidden()
        and not button.objectName().startswith("qt_")
        and not button.text()
        and not (button.toolTip() and button.accessibleName())
    ]
    assert silent == []


def test_a_dark_evening_recolours_everything(
    window: MainWindow, qapp: QApplication
) -> None:
    filled(window)
    light = qapp.palette()

    def brightness(widget: QWidget) -> float:
        image = widget.grab().toImage().convertToFormat(QImage.Format.Format_Grayscale8)
        size = image.size()
        grid = [
            image.pixelColor(x, y).lightnessF()
            for x in range(2, size.width(), 7)
            for y in range(2, size.height(), 7)
        ]
        return sorted(grid)[len(grid) // 2]

    regions = (window.strip, window.book, window.bench, window.tray)
    before = [brightness(region) for region in regions]
    try:
        qapp.setPalette(dark_palette())
        QApplication.processEvents()
        after = [brightness(region) for region in regions]
    finally:
        qapp.setPalette(light)
        QApplication.processEvents()
    assert min(before) > 0.6 and max(after) < 0.4
    again = [brightness(region) for region in regions]
    assert min(again) > 0.6


def test_figures_compared_can_be_read_after_dusk(
    window: MainWindow, qapp: QApplication
) -> None:
    filled(window)
    window.keep_layout()
    key = key_of(window.document.job.layout.placements[0])
    window.document.to_tray([key])
    window.compare()
    assert window.comparing is not None
    side = window.comparing.right
    light = qapp.palette()
    try:
        qapp.setPalette(dark_palette())
        QApplication.processEvents()
        inks = [cell.palette().windowText().color() for _, cell in side._cells]
    finally:
        qapp.setPalette(light)
        QApplication.processEvents()
    assert min(ink.lightnessF() for ink in inks) > 0.6
    window.comparing.close()


def test_the_focus_can_be_seen(window: MainWindow) -> None:
    """Whatever F6 or Tab leads to looks different from before."""
    filled(window)
    window.activateWindow()
    window.document.select([("panel", 1)])
    window.strip.nest.setFocus()
    unseen = []
    for number in range(14):
        keys = SHIFT if number % 2 else NONE
        before = {w: w.grab().toImage() for w in window.findChildren(QWidget)}
        if number < 4:
            QTest.keyClick(window, Qt.Key.Key_F6)
        else:
            QTest.keyClick(QApplication.focusWidget() or window, Qt.Key.Key_Tab)
        QApplication.processEvents()
        focus = QApplication.focusWidget()
        assert focus is not None, keys
        if focus.grab().toImage() == before.get(focus):
            unseen.append(f"{type(focus).__name__} {focus.accessibleName()}")
    assert unseen == []


def test_f6_goes_both_ways(window: MainWindow) -> None:
    filled(window)
    window.activateWindow()
    window.strip.nest.setFocus()
    regions = (window.strip, window.book, window.bench, window.tray)

    def at() -> int:
        focus = QApplication.focusWidget()
        assert focus is not None
        return next(
            n for n, r in enumerate(regions) if r is focus or r.isAncestorOf(focus)
        )

    forth = []
    for _ in range(4):
        QTest.keyClick(window, Qt.Key.Key_F6)
        forth.append(at())
    back = []
    for _ in range(4):
        QTest.keyClick(window, Qt.Key.Key_F6, SHIFT)
        back.append(at())
    assert forth == [1, 2, 3, 0] and back == [3, 2, 1, 0]


def test_f6_reaches_an_empty_tray(window: MainWindow) -> None:
    window.activateWindow()
    window.bench.setFocus()
    QTest.keyClick(window, Qt.Key.Key_F6)
    assert QApplication.focusWidget() is window.tray.empty


def test_nothing_succeeds_with_a_dialog(
    window: MainWindow, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def asked(box: QMessageBox) -> int:
        raise AssertionError(box.text())

    monkeypatch.setattr(QMessageBox, "exec", asked)
    window.document.open(shelf_job(), tmp_path / "shelf.drystone")
    window.document.want_more("panel")
    assert window.files.save()
    assert QApplication.activeModalWidget() is None
    assert "Saved" in window.banner.text


def test_the_guide_tells_of_every_page_and_section_of_the_job_book(
    window: MainWindow,
) -> None:
    guide = "\n".join(topic.text() for topic in topics()).casefold()
    book = window.book
    names = [book.tabText(n).replace("&", "") for n in range(book.count())]
    names += [fold.title for fold in book.findChildren(Fold)]
    assert len(names) > 20
    assert [name for name in names if name.casefold() not in guide] == []


def test_the_guide_opens_by_key_and_can_be_searched(
    window: MainWindow, qtbot: QtBot
) -> None:
    QTest.keyClick(window, Qt.Key.Key_F1)
    guide = window.guide
    assert isinstance(guide, Guide) and guide.isVisible()
    count = guide.list.count()
    assert count >= 10
    for row in range(count):
        guide.list.setCurrentRow(row)
        assert len(guide.page.toPlainText()) > 100
    QTest.keyClicks(guide.search, "keep-out")
    assert 0 < guide.list.count() < count
    assert guide.page.textCursor().selectedText().casefold() == "keep-out"
    guide.search.setText("no such word anywhere")
    assert guide.list.count() == 0 and guide.page.toPlainText()
    guide.search.clear()
    QTest.keyClick(window, Qt.Key.Key_F1, SHIFT)
    assert "Ctrl+Return" in guide.page.toPlainText()
    guide.close()


def test_about_copies_versions(window: MainWindow) -> None:
    box = about_box(window)
    box.show()
    texts = {button.text(): button for button in box.buttons()}
    assert {"Copy details", "Show log folder", "Close"} <= set(texts)
    QTest.mouseClick(texts["Copy details"], LEFT)
    copied = QGuiApplication.clipboard().text()
    assert copied == details() and "Python" in copied and "Qt" in copied


def test_the_menu_key_opens_the_menu_at_the_part(window: MainWindow) -> None:
    filled(window)
    window.document.select([("panel", 1)])
    window.bench.setFocus()
    menu = window.bench.menu()
    words = [action.text().partition("\t")[0] for action in menu.actions()]
    assert "Flip" in words and "Put in the tray" in words
    menu.deleteLater()


def test_a_press_shows_something_at_once(window: MainWindow) -> None:
    button: QPushButton = window.book.parts.add
    QApplication.processEvents()
    before = button.grab().toImage()
    QTest.mousePress(button, LEFT, NONE, QPoint(10, 10))
    after = button.grab().toImage()
    QTest.mouseRelease(button, LEFT, NONE, QPoint(-50, -50))  # let go outside: nothing
    assert before != after


def test_no_word_is_smaller_than_nine_points(window: MainWindow) -> None:
    filled(window)
    small = {
        f"{type(w).__name__} {w.font().pointSizeF()}"
        for w in window.findChildren(QWidget)
        if 0.0 < w.font().pointSizeF() < 9.0
    }
    assert small == set()


def test_no_key_means_two_things(window: MainWindow) -> None:
    """Qt does nothing at all when two actions want the same key."""
    keys: dict[str, str] = {}
    for action in window.findChildren(QAction):
        for shortcut in action.shortcuts():
            key = shortcut.toString()
            assert key not in keys, (key, keys.get(key), action.text())
            keys[key] = action.text()
    assert "F1" in keys and "Ctrl+K" in keys
