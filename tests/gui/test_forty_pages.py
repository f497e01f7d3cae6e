"""The checklist's numbers 21 to 40, in the whole window: pages, colours, access, files.

`test_forty` says which test proves which number; those that were proven elsewhere
already are not done again here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QRect, Qt, QTimer
from PySide6.QtGui import QColor, QDesktopServices, QImage, QPalette
from PySide6.QtTest import QTest
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QLabel,
    QLineEdit,
    QMessageBox,
    QPushButton,
    QTableView,
    QWidget,
)
from pytestqt.qtbot import QtBot

from drystone.app.book.fold import Fold
from drystone.app.book.table import BookTable
from drystone.app.window.document import Notice
from drystone.app.window.help import about_box
from drystone.app.window.highlight import readable_ground
from drystone.app.window.log import log_folder
from drystone.app.window.look import WORDS
from drystone.app.window.main_window import MainWindow
from drystone.io.job_file import write_job

from .bench_jobs import planter_job
from .bench_person import CTRL, LEFT, Person
from .seeing import contrast, dark_palette
from .window_person import (
    another_window,
    keep_as_if_killed,
    open_shelf,
    shelf_job,
    type_into,
)

DISTINCT = 3.0
"""WCAG 2.2, 1.4.11: least contrast of what shows a state or a shape."""


@pytest.fixture(params=["light", "dark"])
def ground(request: pytest.FixtureRequest, qapp: QApplication) -> Iterator[str]:
    """Do it by day and by night."""
    before = qapp.palette()
    if request.param == "dark":
        qapp.setPalette(dark_palette())
    yield request.param
    qapp.setPalette(before)
    QApplication.processEvents()


def pages(window: MainWindow) -> Iterator[QWidget]:
    """Show one page of the job book after another, with all its sections open."""
    for number in range(window.book.count()):
        window.book.setCurrentIndex(number)
        page = window.book.widget(number)
        assert page is not None
        for fold in page.findChildren(Fold):
            fold.set_open(True)
        QApplication.processEvents()
        yield page


def grey(image: QImage) -> QImage:
    """Return an image without its colours."""
    return image.convertToFormat(QImage.Format.Format_Grayscale8)


def test_grey_is_grey() -> None:
    image = QImage(1, 1, QImage.Format.Format_RGB32)
    image.fill(Qt.GlobalColor.red)
    assert image.pixelColor(0, 0).saturation() > 0
    assert grey(image).pixelColor(0, 0).saturation() == 0


def test_check_24_escape_reverts_a_cell_of_every_table(window: MainWindow) -> None:
    window.document.open(planter_job())
    window.menus.placed_action.trigger()
    seen = 0
    for page in pages(window):
        tables = [t for t in page.findChildren(BookTable) if t.isVisible()]
        for table in [*tables, window.placed.table]:
            model = table.model()
            places = [
                model.index(row, column)
                for row in range(min(model.rowCount(), 1))
                for column in range(model.columnCount())
            ]
            editable = [
                at
                for at in places
                if at.flags() & Qt.ItemFlag.ItemIsEditable
                and not at.flags() & Qt.ItemFlag.ItemIsUserCheckable
            ]
            for at in editable:
                before = at.data()
                table.setCurrentIndex(at)
                table.setFocus()
                QTest.keyClick(table, Qt.Key.Key_F2)
                editor = QApplication.focusWidget()
                assert editor is not None and editor is not table
                QTest.keyClicks(editor, "7")
                QTest.keyClick(editor, Qt.Key.Key_Escape)
                QApplication.processEvents()
                assert at.data() == before
                seen += 1
    assert seen >= 15
    assert window.document.undo.count() == 0


def strip_states(window: MainWindow) -> dict[str, QImage]:
    """Return the strip in grey when all is well, something is missing, and wrong."""
    window.document.open(shelf_job())
    window.document.add_blank("board")
    for _ in range(5):
        window.place("panel")
    window.banner.hide()
    found = {}
    QApplication.processEvents()
    assert window.strip._level == "warn", window.strip.headline.text()
    found["warn"] = grey(window.strip.grab().toImage())
    window.place("panel")
    window.banner.hide()
    QApplication.processEvents()
    assert window.strip._level == "ok", window.strip.headline.text()
    found["ok"] = grey(window.strip.grab().toImage())
    first = window.document.job.layout.placements[0]
    window.document.move_by([("panel", first.copy)], 60.0, 3.0)
    QApplication.processEvents()
    assert window.strip._level == "error"
    found["error"] = grey(window.strip.grab().toImage())
    return found


def test_check_26_ok_warning_and_problem_differ_without_colour(
    window: MainWindow,
) -> None:
    assert len({sign for _, _, sign in WORDS.values()}) == len(WORDS)
    found = strip_states(window)
    # The sign stands at the left of the headline: its own pixels differ.
    head = window.strip.headline
    wide = head.fontMetrics().height()
    box = QRect(head.mapTo(window.strip, QPoint(0, 0)), head.size())
    box.setWidth(wide)
    signs = {level: image.copy(box) for level, image in found.items()}

    def ink_of(image: QImage) -> set[tuple[int, int]]:
        ground = image.pixelColor(0, 0).lightness()
        return {
            (x, y)
            for x in range(image.width())
            for y in range(image.height())
            if abs(image.pixelColor(x, y).lightness() - ground) > 90
        }

    inks = {level: ink_of(image) for level, image in signs.items()}
    assert all(inks.values())
    for one, two in (("ok", "warn"), ("ok", "error"), ("warn", "error")):
        assert len(inks[one] ^ inks[two]) > 0.3 * min(len(inks[one]), len(inks[two]))


def test_check_27_every_part_is_labelled_or_listed(window: MainWindow) -> None:
    window.document.open(planter_job())
    window.menus.placed_action.trigger()
    model = window.placed.model
    listed = {model.index(row, 0).data() for row in range(model.rowCount())}
    layout = window.document.job.layout
    names = {window.document.name_of((p.part_id, p.copy)) for p in layout.placements}
    assert listed == names and len(names) == len(layout.placements)


def test_check_28_words_can_be_read_on_their_ground(
    window: MainWindow, ground: str
) -> None:
    """The palette's pairs as each kind of widget uses them, and colours of our own."""
    role = QPalette.ColorRole
    window.document.open(planter_job())
    faint = set()
    for page in pages(window):
        for widget in page.findChildren(QWidget):
            parent = widget.parentWidget()
            if not widget.isVisible() or not widget.isEnabled() or parent is None:
                continue
            words, below = widget.palette(), widget.palette()
            if isinstance(widget, QLabel):
                pairs = [(role.WindowText, role.Window)]
                below = parent.palette()
            elif isinstance(widget, QPushButton):
                pairs = [(role.ButtonText, role.Button)]
            elif isinstance(widget, QTableView):
                pairs = [(role.Text, role.Base), (role.Text, role.AlternateBase)]
                pairs.append((role.HighlightedText, role.Highlight))
            elif isinstance(widget, QLineEdit | QComboBox | QAbstractSpinBox):
                pairs = [(role.Text, role.Base)]
                pairs.append((role.HighlightedText, role.Highlight))
            else:
                continue
            for one, two in pairs:
                found = contrast(words.color(one), below.color(two))
                if found < 4.5:
                    faint.add((type(widget).__name__, one.name, round(found, 2)))
    assert faint == set()


def frame_of(image: QImage, box: QRect) -> list[QColor]:
    """Return the pixels in the middle of a box's four sides, three deep."""
    middle = box.center()
    found = []
    for depth in range(3):
        found += [
            image.pixelColor(middle.x(), box.top() + depth),
            image.pixelColor(middle.x(), box.bottom() - depth),
        ]
    return found


@pytest.mark.parametrize(
    ("ground_colour", "words"),
    [("#308cc6", "#ffffff"), ("#202020", "#101010"), ("#000000", "#000000")],
)
def test_check_28_what_is_chosen_has_a_ground_its_words_can_be_read_on(
    ground_colour: str, words: str
) -> None:
    found = readable_ground(QColor(ground_colour), QColor(words))
    assert contrast(found, QColor(words)) >= 4.5
    assert readable_ground(found, QColor(words)) == found


def test_check_28_edges_of_what_is_pressed_or_typed_into_can_be_seen(
    window: MainWindow, ground: str
) -> None:
    window.document.open(planter_job())
    faint = set()
    for page in pages(window):
        image = window.grab().toImage()
        for widget in page.findChildren(QWidget):
            name = type(widget).__name__
            if name not in ("QPushButton", "Line", "Choice", "SecondsBox", "QLineEdit"):
                continue
            if not widget.isVisible() or not widget.isEnabled():
                continue
            if widget.objectName().startswith("qt_"):
                continue  # within a spin box, which has the edge
            whole = QRect(widget.mapTo(window, QPoint(0, 0)), widget.size())
            if not image.rect().adjusted(4, 4, -4, -4).contains(whole):
                continue
            if widget.visibleRegion().boundingRect() != widget.rect():
                continue
            outside = image.pixelColor(whole.left() + whole.width() // 2, whole.top())
            beside = image.pixelColor(whole.left() - 2, whole.top() - 2)
            edge = [contrast(c, beside) for c in frame_of(image, whole)]
            if max(edge) < DISTINCT:
                faint.add((name, outside.name(), beside.name(), round(max(edge), 2)))
    assert faint == set()


def test_check_31_buttons_without_words_have_name_and_key(window: MainWindow) -> None:
    window.document.open(planter_job())
    silent = []
    for page in pages(window):
        for button in {*page.findChildren(QAbstractButton)}:
            letters = any(c.isalnum() for c in button.text())
            if letters or button.objectName().startswith("qt_"):
                continue
            if not button.isVisible():
                continue
            if type(button) is QAbstractButton:
                continue  # the corner of a table
            if not (button.toolTip() and button.accessibleName()):
                silent.append(f"{type(button).__name__} {button.text()!r}")
    assert silent == []
    for action in (window.menus.undo_action, window.menus.redo_action):
        assert action.text() and action.shortcut().toString()
    assert "(Ctrl+0)" in window.fit.toolTip()


def test_check_32_the_focus_shows_at_every_stop_of_tab(
    window: MainWindow, ground: str
) -> None:
    """Two pixels round it, of 3 to 1 against what was there before (2.4.13)."""
    window.document.open(planter_job())
    window.document.select([("side", 1)])
    window.activateWindow()
    unseen, stops = [], 0
    for page in pages(window):
        window.book.tabBar().setFocus()
        seen: set[int] = set()
        while True:
            QTest.keyClick(QApplication.focusWidget() or window, Qt.Key.Key_Tab)
            focus = QApplication.focusWidget()
            assert focus is not None
            if id(focus) in seen:
                break
            seen.add(id(focus))
            if not page.isAncestorOf(focus) and stops > 20:
                continue  # strip, bench and tray were looked at with the first page
            stops += 1
            # What is worked out late may move a page meanwhile: then once more.
            for pause in (0, 0, 20, 200, 1000):
                QTest.qWait(pause)
                if ringed(window, focus):
                    break
            else:
                name = focus.accessibleName() or getattr(focus, "text", str)()
                unseen.append(f"{type(focus).__name__} {name} {window.ring.box}")
    assert stops > 120 and unseen == []


def ringed(window: MainWindow, focus: QWidget) -> bool:
    """Return whether a ring round what has the focus is seen."""
    QApplication.processEvents()
    box = window.ring.box
    if box is None:
        return False
    with_ring = window.grab(box).toImage()
    # Taking the focus away and giving it back would be no key's doing: no ring then.
    ring = window.ring._rings[window]
    ring.hide()
    without = window.grab(box).toImage()
    ring.show()
    clear = sum(
        contrast(with_ring.pixelColor(x, y), without.pixelColor(x, y)) >= DISTINCT
        for x, y in rim(box)
    )
    return clear >= 0.9 * len(rim(box)) and near(focus, box, window)


def rim(box: QRect) -> list[tuple[int, int]]:
    """Return every other pixel of the outermost two rows and columns of a box."""
    width, height = box.width(), box.height()
    across = [
        (x, y) for x in range(0, width, 2) for y in (0, 1, height - 2, height - 1)
    ]
    up = [(x, y) for y in range(2, height - 2, 2) for x in (0, 1, width - 2, width - 1)]
    return across + up


def near(focus: QWidget, box: QRect, window: MainWindow) -> bool:
    """Return whether a ring lies round what has the focus."""
    whole = QRect(focus.mapTo(window, QPoint(0, 0)), focus.size())
    return whole.adjusted(-4, -4, 4, 4).contains(box) and box.intersects(whole)


def test_check_32_the_mouse_alone_shows_no_ring(window: MainWindow) -> None:
    window.document.open(planter_job())
    window.activateWindow()
    QTest.mouseClick(window.bench.viewport(), LEFT, Qt.KeyboardModifier.NoModifier)
    QApplication.processEvents()
    assert window.ring.box is None
    QTest.keyClick(window, Qt.Key.Key_F6)
    QApplication.processEvents()
    assert window.ring.box is not None
    QTest.mouseClick(window.bench.viewport(), LEFT, Qt.KeyboardModifier.NoModifier)
    QApplication.processEvents()
    assert window.ring.box is None


def test_check_33_nothing_that_takes_the_focus_is_nameless(
    window: MainWindow,
) -> None:
    """The pages, the table of copies, the guide, comparing, and the boxes."""
    window.document.open(planter_job())
    window.menus.placed_action.trigger()
    nameless = []

    def look(top: QWidget) -> None:
        for widget in [top, *top.findChildren(QWidget)]:
            if widget.focusPolicy() == Qt.FocusPolicy.NoFocus or not widget.isVisible():
                continue
            if widget.isWindow() or widget.objectName().startswith("qt_"):
                continue
            parent = widget.parentWidget()
            if isinstance(parent, QAbstractScrollArea) and type(widget) is QWidget:
                continue  # a viewport: its area has the name
            text = getattr(widget, "text", None)
            name = widget.accessibleName() or (str(text()) if callable(text) else "")
            if not name.strip():
                nameless.append(f"{type(widget).__name__} in {type(parent).__name__}")

    for _ in pages(window):
        look(window)
    window.show_guide()
    window.keep_layout()
    window.compare()
    box = about_box(window)
    question = window.files.question()
    for other in (window.guide, window.comparing, box, question):
        assert other is not None
        other.show()
        look(other)
        other.close()
    question.deleteLater()
    assert nameless == []


def test_check_34_the_table_moves_turns_locks_and_changes_blanks(
    window: MainWindow,
) -> None:
    window.document.open(planter_job())
    window.menus.placed_action.trigger()
    table: QTableView = window.placed.table
    document = window.document

    def row_of(name: str) -> int:
        model = table.model()
        rows = [model.index(row, 0).data() for row in range(model.rowCount())]
        return rows.index(name)

    side = row_of("Side 3")
    type_into(table, side, 2, "310")
    type_into(table, side, 3, "100.5")
    type_into(table, side, 4, "90")
    p = document.placement(("side", 3))
    assert p is not None and p.turn == 90 and not document.conflicts()
    type_into(table, side, 1, "2")
    moved = document.placement(("side", 3))
    assert moved is not None and moved.blank == 1
    side = row_of("Side 3")
    at = table.model().index(side, 5)
    table.setCurrentIndex(at)
    table.setFocus()
    QTest.keyClick(table, Qt.Key.Key_Space)
    locked = document.placement(("side", 3))
    assert locked is not None and locked.locked
    assert document.undo.count() == 5
    # The selection is one, whichever side it is made on.
    table.selectRow(row_of("Rail 1"))
    assert document.selection == {("rail", 1)}
    window.bench.fit_blank(0)
    Person(window.bench).click(60, 45)
    assert document.selection == {("side", 1)}
    chosen = table.selectionModel().selectedRows()
    assert [index.data() for index in chosen] == ["Side 1"]


def test_check_36_lost_work_is_offered_by_name_and_time(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    saved = tmp_path / "shelf.drystone"
    write_job(saved, shelf_job())
    old = saved.read_bytes()
    window.document.open(shelf_job(), saved)
    window.document.want_more("panel")
    keep_as_if_killed(window)
    other = another_window(qtbot, tmp_path, tmp_path / "recovery")
    assert "“Shelf”" in other.banner.text
    assert re.search(r"\b\d\d:\d\d\b", other.banner.text)
    assert [b.text() for b in other.banner._buttons] == ["Open it", "Discard it"]
    assert saved.read_bytes() == old
    other.banner._buttons[1].click()


def test_check_37_keeping_ones_own_loses_nothing(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    path = open_shelf(window, qtbot, tmp_path)
    window.document.want_more("panel")
    mine = window.document.job
    for words in (b"theirs", b"theirs again"):
        window.banner.hide()
        path.write_bytes(words)
        qtbot.waitUntil(lambda: path.name in window.banner.text, timeout=20_000)
        assert window.document.job is mine and window.isWindowModified()
    window.banner._buttons[1].click()
    assert window.document.job is mine and window.isWindowModified()
    assert path.read_bytes() == b"theirs again"


def test_check_38_escape_stays_with_the_job(window: MainWindow) -> None:
    """The real box, a real key."""
    window.document.open(shelf_job())
    window.document.want_more("panel")
    asked: list[tuple[str, set[str]]] = []

    def press() -> None:
        box = QApplication.activeModalWidget()
        assert isinstance(box, QMessageBox)
        asked.append((box.text(), {b.text() for b in box.buttons()}))
        QTest.keyClick(box, Qt.Key.Key_Escape)

    QTimer.singleShot(100, press)
    assert not window.close()
    assert window.isVisible() and window.document.modified
    ((text, buttons),) = asked
    assert "Shelf" in text
    assert buttons == {"Save", "Don't save", "Cancel"}


def test_check_40_about_shows_the_log_folder(
    window: MainWindow, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    shown: list[str] = []
    monkeypatch.setattr(
        QDesktopServices, "openUrl", lambda url: shown.append(url.toLocalFile())
    )
    box = about_box(window)
    box.show()
    texts = {button.text(): button for button in box.buttons()}
    QTest.mouseClick(texts["Show log folder"], LEFT)
    assert shown == [str(log_folder())] and Path(shown[0]).is_dir()


def test_check_23_twenty_rows_undone_by_the_key(window: MainWindow) -> None:
    window.document.open(shelf_job())
    first = window.document.job
    heard: list[Notice] = []
    window.document.said.connect(heard.append)
    rows = [f"shelf {n}\t2\t{300 + n}\t180" for n in range(20)]
    QApplication.clipboard().setText("\n".join([*rows, "bad\ttwo\t3\t4"]))
    window.book.parts.table.setFocus()
    QTest.keyClick(window.book.parts.table, Qt.Key.Key_V, CTRL)
    assert len(window.document.job.parts) == 21
    assert "20 rows added, 1 needs attention" in heard[-1].text
    QTest.keyClick(window, Qt.Key.Key_Z, CTRL)
    assert window.document.job == first
