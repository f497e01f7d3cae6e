"""The job book under real mouse and key events: fields, tables, the shop's set-up."""

from __future__ import annotations

from dataclasses import fields, replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QColor, QGuiApplication, QPalette
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel
from pytestqt.qtbot import QtBot

from drystone.app.book.book import JobBook
from drystone.app.book.fields import Field, TextField
from drystone.app.book.fold import Fold, PageColumn
from drystone.app.book.settings import RecordForm
from drystone.app.window.document import Document
from drystone.app.window.look import ink
from drystone.io.setup_file import read_setup
from drystone.io.setup_library import SetupLibrary
from drystone.nesting.model.holding import ReliefKind, TabRule
from drystone.nesting.model.machine import (
    Board,
    Cutter,
    CutterKind,
    Machine,
    Practice,
    Prices,
    Saw,
    ShopSetup,
)
from drystone.nesting.model.part import Operation

from .book_person import (
    CTRL,
    LEFT,
    bird_job,
    document_of,
    name_of,
    shelf_on_offcut,
    show,
    tab_stops,
    type_in,
)
from .waiting import wait_while_it_moves


def test_lengths_read_alike_however_they_are_written(book: JobBook) -> None:
    show(book, book.cutting)
    field = book.cutting.margin
    for unit in ("mm", "in"):
        document_of(book).open(replace(bird_job(), units=unit))
        for text in ("1 1/2 in", "38,1mm", "38.1 mm", '1-1/2"'):
            type_in(field, "2 in")
            type_in(field, text)
            margin = document_of(book).job.cutting.margin
            assert margin == pytest.approx(38.1, abs=1e-12), text
        assert field.unit_label.text() == unit
    assert field.line.text() == "1-1/2"


def test_inch_fractions_stand_in_every_length_field(book: JobBook) -> None:
    document_of(book).open(replace(bird_job(), units="in"))
    show(book, book.cutting, *book.cutting.folds)
    assert book.cutting.cutter.line.text() == "1/4"
    assert book.cutting.drawer.form.fields["diameter"].line.text() == "1/8"  # type: ignore[attr-defined]
    speed = book.cutting.machines.form.fields["feed_max"]
    assert isinstance(speed, TextField)
    assert speed.unit_label.text() == "in/min"
    type_in(speed, "100")
    assert book.shop.setup.machine.feed_max == pytest.approx(2540.0)
    heads = book.stock.model
    across = Qt.Orientation.Horizontal
    titles = [heads.headerData(n, across) for n in range(heads.columnCount())]
    assert "Size in" in titles and "Thickness in" in titles


def test_the_page_scrolls_until_what_is_wrong_can_be_read(
    book: JobBook, qtbot: QtBot
) -> None:
    book.setCurrentWidget(book.cutting)
    page = book.cutting.findChild(PageColumn)
    field = book.cutting.margin
    assert page is not None
    line = field.mapTo(page.inner, field.line.geometry().bottomLeft()).y()
    book.resize(500, book.height() - page.viewport().height() + line + 6)
    field.line.setText("a bit, but not more than what is left of the board")
    field._finished()

    def whole() -> bool:
        top = field.error.mapTo(page.viewport(), QPoint(0, 0)).y()
        high = field.error.heightForWidth(field.error.width())
        roomy = field.error.height() >= high
        return roomy and top >= 0 and top + high <= page.viewport().height()

    bar = page.verticalScrollBar()
    wait_while_it_moves(
        qtbot, whole, lambda: (bar.value(), bar.maximum(), field.error.geometry())
    )


def test_the_field_with_the_focus_stays_put_while_the_page_grows_above_it(
    book: JobBook, qtbot: QtBot
) -> None:
    show(book, book.cutting, *book.cutting.folds)
    page = book.cutting.findChild(PageColumn)
    field = book.cutting.margin.line
    assert page is not None
    field.setFocus()
    page.ensureWidgetVisible(field)
    qtbot.wait(50)  # what the page has yet to lay out

    def top() -> int:
        return field.mapTo(page.viewport(), QPoint(0, 0)).y()

    here = top()
    late = QLabel("What comes in late")
    late.setMinimumHeight(page.viewport().height())
    page.sections.insertWidget(0, late)
    bar = page.verticalScrollBar()
    wait_while_it_moves(qtbot, lambda: top() == here and bar.value() > 0, bar.value)
    bar.setValue(0)  # by hand: it is let out of sight
    late.setMinimumHeight(2 * page.viewport().height())
    qtbot.wait(50)
    assert bar.value() == 0 and top() > page.viewport().height()


def test_wrong_text_stays_with_the_reason_beside_it(book: JobBook) -> None:
    show(book, book.cutting)
    field, other = book.cutting.margin, book.cutting.allowance
    field.line.setFocus()
    field.line.selectAll()
    QTest.keyClicks(field.line, "wide")
    assert field.error.isHidden()  # half typed
    QTest.keyClick(field.line, Qt.Key.Key_Tab)
    assert field.error.isVisible() and field.line.text() == "wide"
    assert field.line.accessibleDescription()
    type_in(other, "2.5")  # another change leaves it alone
    assert document_of(book).job.cutting.allowance == 2.5
    assert field.line.text() == "wide" and field.error.isVisible()
    field.line.setFocus()
    QTest.keyClick(field.line, Qt.Key.Key_Escape)
    assert field.line.text() == "12" and field.error.isHidden()
    type_in(field, "12 km")
    assert "10000 mm" in field.error.text(), "the range with its unit"
    assert document_of(book).job.cutting.margin == 12.0


def test_what_leftovers_are_kept_can_be_changed(book: JobBook) -> None:
    """On the Cutting page; the shop's own values are what new jobs begin with."""
    cutting = book.cutting
    show(book, cutting)
    for name, text in (
        ("keep_side", "5 in"),
        ("keep_square", "280"),
        ("keep_neck", "90"),
    ):
        type_in(getattr(cutting, name), text)
    job = document_of(book).job
    kept = (job.cutting.keep_side, job.cutting.keep_square, job.cutting.keep_neck)
    assert kept == pytest.approx((127.0, 280.0, 90.0))
    assert cutting.keep_square.reset.isVisible()
    practice = replace(book.shop.setup.practice, keep_square=280.0)
    book.shop.put(replace(book.shop.setup, practice=practice))
    assert cutting.keep_square.reset.isHidden()


def test_a_changed_value_is_marked_and_set_back(book: JobBook) -> None:
    show(book, book.cutting)
    field = book.cutting.margin
    assert field.reset.isHidden()
    type_in(field, "15")
    assert field.reset.isVisible() and "12 mm" in field.reset.text()
    assert "Reset to shop default: 12 mm" in field.reset.toolTip()
    assert field.reset.height() >= 24 and field.reset.width() >= 24
    QTest.mouseClick(field.reset, LEFT)
    assert document_of(book).job.cutting.margin == 12.0
    assert field.reset.isHidden()
    document_of(book).undo.undo()
    assert document_of(book).job.cutting.margin == 15.0
    assert field.reset.isVisible()


def test_the_shop_keeps_set_ups_under_names(
    book: JobBook, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    cutting, shop = book.cutting, book.shop
    show(book, cutting, cutting.machine_fold)
    fastest = cutting.machines.form.fields["feed_max"]
    assert isinstance(fastest, TextField)
    type_in(fastest, "4500")
    assert shop.setup.machine.feed_max == 4500.0
    assert "3000" in fastest.reset.text() and shop.differs
    qtbot.waitUntil(lambda: read_setup().machine.feed_max == 4500.0, timeout=5000)
    monkeypatch.setattr(
        "PySide6.QtWidgets.QInputDialog.getText", lambda *a, **k: ("big router", True)
    )
    QTest.mouseClick(cutting.bar.keep, LEFT)
    assert shop.name == "big router" and not shop.differs
    assert fastest.reset.isHidden(), "it is the shop's default now"
    type_in(fastest, "5000")
    QTest.mouseClick(cutting.bar.reset, LEFT)
    assert shop.setup.machine.feed_max == 4500.0
    cutting.bar.choice.box.setFocus()
    QTest.keyClick(cutting.bar.choice.box, Qt.Key.Key_Home)
    assert shop.setup == ShopSetup()
    shop.close()
    library = SetupLibrary()
    assert library.names() == ("big router",)
    assert library.read("big router").machine.feed_max == 4500.0


def test_a_set_up_that_cannot_be_read_is_left_alone(
    qtbot: QtBot, own_folders: None
) -> None:
    path = SetupLibrary().in_use
    path.parent.mkdir(parents=True)
    path.write_text("machines = 3\n")
    book = JobBook(Document(bird_job()))
    qtbot.addWidget(book)
    book.show()
    show(book, book.cutting)
    assert "machines" in book.cutting.bar.state.text()
    book.shop.put(replace(ShopSetup(), machines=(Machine("other"),)))
    assert path.read_text() == "machines = 3\n"
    QTest.mouseClick(book.cutting.bar.aside, LEFT)
    assert not path.exists() and not book.shop.trouble
    assert path.with_suffix(".toml.unreadable").exists()
    book.shut_down()


def test_the_cutter_drawer(book: JobBook) -> None:
    cutting = book.cutting
    show(book, cutting, cutting.drawer_fold)
    drawer = cutting.drawer
    row = drawer.list.visualItemRect(drawer.list.item(1)).center()
    QTest.mouseClick(drawer.list.viewport(), LEFT, pos=row)
    assert drawer.chosen.name == "6 mm up-cut"
    assert drawer.use is not None
    QTest.mouseClick(drawer.use, LEFT)
    assert document_of(book).job.cutting.cutter == 6.0
    assert cutting.cutter.differs
    QTest.mouseClick(drawer.add, LEFT)
    assert len(book.shop.setup.cutters) == 6
    name = drawer.form.fields["name"]
    assert isinstance(name, TextField)
    type_in(name, "1/4 in up-cut")  # taken
    assert name.error.isVisible()
    assert len({c.name for c in book.shop.setup.cutters}) == 6
    QTest.mouseClick(drawer.remove, LEFT)
    assert len(book.shop.setup.cutters) == 5


def test_advice_stands_in_the_section_it_concerns(book: JobBook, qtbot: QtBot) -> None:
    cutting, shop = book.cutting, book.shop
    show(book, cutting)
    thin = tuple(replace(c, cutting_length=8.0) for c in shop.setup.cutters)
    shop.put(replace(shop.setup, cutters=thin))
    assert any("longer cutter" in text for _, text in cutting.cut_fold.remarks.said)
    assert cutting.cut_fold.remarks.isVisible()
    qtbot.waitUntil(lambda: bool(cutting.bed_fold.remarks.said), timeout=10_000)
    assert any("larger than the bed" in t for _, t in cutting.bed_fold.remarks.said)
    shop.put(replace(shop.setup, cutters=(replace(thin[2], kind=CutterKind.UP_CUT),)))
    box = cutting.clean.box
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Down)
    assert any("lifts fibres" in text for _, text in cutting.cut_fold.remarks.said)


def test_relief_is_one_step_and_is_drawn(book: JobBook, qtbot: QtBot) -> None:
    cutting = book.cutting
    show(book, cutting, cutting.corners_fold)
    corners = cutting.corners
    qtbot.waitUntil(corners.picture.isVisible, timeout=10_000)
    assert "2 places stay standing" in corners.words.text()
    corners.relief.box.setFocus()
    QTest.keyClick(corners.relief.box, Qt.Key.Key_Down)
    assert document_of(book).job.relief is ReliefKind.DOG_BONE
    assert corners.relief.reset.isVisible()
    assert "2 corners relieved" in corners.words.text()
    document_of(book).undo.undo()
    assert document_of(book).job.relief is ReliefKind.NONE


def test_tabs_and_screws_are_switched(book: JobBook) -> None:
    cutting, first = book.cutting, document_of(book).job
    show(book, cutting, cutting.holding_fold)
    cutting.tabs.box.setFocus()
    QTest.keyClick(cutting.tabs.box, Qt.Key.Key_End)
    job = document_of(book).job
    assert job.holding.tabs is TabRule.ALL
    assert any(m.operation is Operation.TAB for m in job.parts[0].marks)
    cutting.screws.box.setFocus()
    QTest.keyClicks(cutting.screws.box, "4")
    assert document_of(book).job.holding.screws == 4
    skin = cutting.holding.fields["onion_skin"]
    assert isinstance(skin, TextField)
    type_in(skin, "0.5")
    assert book.shop.setup.practice.onion_skin == 0.5
    document_of(book).undo.undo()
    document_of(book).undo.undo()
    assert document_of(book).job == first


def test_a_sheet_is_sawn_into_blanks_as_one_step(book: JobBook) -> None:
    cutting, first = book.cutting, document_of(book).job
    show(book, cutting, cutting.bed_fold)
    bed = cutting.bed
    assert bed.picture.isVisible() and bed.take.isVisible()
    QTest.mouseClick(bed.take, LEFT)
    stock = document_of(book).job.stock
    assert all(max(s.outline.size) <= 800.0 for s in stock)
    assert not bed.take.isVisible()
    document_of(book).undo.undo()
    assert document_of(book).job == first


def test_twenty_spreadsheet_rows_are_twenty_parts(book: JobBook) -> None:
    first = document_of(book).job
    book.setCurrentWidget(book.parts)
    rows = ["name\tquantity\tlength\twidth"]
    rows += [f"shelf {n}\t2\t{300 + n}\t180" for n in range(20)]
    rows.append("bad\ttwo\t300\t180")
    QGuiApplication.clipboard().setText("\n".join(rows))
    table = book.parts.table
    table.setFocus()
    said: list[str] = []
    document_of(book).said.connect(lambda notice: said.append(notice.text))
    QTest.keyClick(table, Qt.Key.Key_V, CTRL)
    assert len(document_of(book).job.parts) == 21
    assert any("1 needs attention" in text for text in said)
    document_of(book).undo.undo()
    assert document_of(book).job == first


def test_tab_goes_left_to_right_and_top_to_bottom(book: JobBook) -> None:
    for page, folds in (
        (book.parts, []),
        (book.stock, book.stock.folds),
        (book.cutting, book.cutting.folds),
        (book.hand_over, book.hand_over.folds),
        (book.what_if, []),
    ):
        show(book, page, *folds)
        stops = tab_stops(page)
        assert len(stops) > 3
        places = [w.mapTo(page, QPoint(0, w.height() // 2)) for w in stops]
        for (one, a), (two, b) in zip(
            zip(stops, places, strict=True),
            list(zip(stops, places, strict=True))[1:],
            strict=False,
        ):
            row = b.y() > a.y() + 8 or (abs(b.y() - a.y()) <= 14 and b.x() > a.x())
            assert row, f"{page}: {name_of(one)} {a} is followed by {name_of(two)} {b}"


def test_all_that_takes_keys_has_a_name(book: JobBook) -> None:
    for page in (book.parts, book.stock, book.cutting, book.hand_over, book.what_if):
        for fold in page.findChildren(Fold):
            fold.set_open(True)
        show(book, page)
        for widget in tab_stops(page):
            assert name_of(widget).strip(), widget
    icons = [
        b
        for b in book.findChildren(QAbstractButton)
        if b.isVisible() and not any(c.isalpha() for c in b.text())
    ]
    for button in icons:  # such as "back to 12"
        assert any(c.isalpha() for c in button.toolTip() + button.accessibleName())


def test_every_default_is_a_value_that_can_be_typed_again(book: JobBook) -> None:
    # What a field shows, typed into it, is the value it shows.
    for unit in ("mm", "in"):
        document_of(book).open(replace(bird_job(), units=unit))
        show(book, book.cutting, *book.cutting.folds)
        before = book.shop.setup, document_of(book).job
        for field in book.cutting.findChildren(TextField):
            if field.isVisible():
                text = field.line.text()
                field.line.setFocus()
                field.line.selectAll()
                QTest.keyClicks(field.line, text)
                QTest.keyClick(field.line, Qt.Key.Key_Return)
                assert field.error.isHidden(), (field.name, field.error.text())
        assert (book.shop.setup, document_of(book).job) == before


def test_empty_tick_boxes_are_seen_on_dark_ground(book: JobBook, qtbot: QtBot) -> None:
    light = QApplication.palette()
    dark = QPalette(light)
    for role, colour in (
        (QPalette.ColorRole.Window, "#2B2B2B"),
        (QPalette.ColorRole.Base, "#1E1E1E"),
        (QPalette.ColorRole.WindowText, "#E8E4DB"),
    ):
        dark.setColor(role, QColor(colour))
    QApplication.setPalette(dark)
    try:
        show(book, book.cutting, book.cutting.machine_fold)
        field = book.cutting.machines.form.fields["open_end"]
        assert isinstance(field, Field)
        box = field.focus_widget()
        picture = box.grab().toImage()
        shades = [
            picture.pixelColor(x, y).lightness()
            for y in range(picture.height())
            for x in range(min(picture.width(), 18))
        ]
        # The edge against the window's ground, by the formula of WCAG 2.
        ground = _luminance(min(shades) / 255.0)
        edge = _luminance(max(shades) / 255.0)
        assert (edge + 0.05) / (ground + 0.05) >= 3.0
    finally:
        QApplication.setPalette(light)


def _luminance(shade: float) -> float:
    return shade / 12.92 if shade <= 0.03928 else ((shade + 0.055) / 1.055) ** 2.4


def test_real_times_correct_the_estimates(book: JobBook, qtbot: QtBot) -> None:
    document_of(book).open(shelf_on_offcut())
    cutting = book.cutting
    show(book, cutting, cutting.machine_fold)
    times = cutting.times
    qtbot.waitUntil(times.minutes.isEnabled, timeout=10_000)
    estimate = times._estimated
    type_in(times.minutes, f"{100 * estimate:.3f}")
    assert times.minutes.error.isVisible(), "far from the estimate"
    type_in(times.minutes, f"{1.5 * estimate:.3f}")
    QTest.mouseClick(times.record, LEFT)
    (ratio,) = book.shop.setup.machine.actual_over_estimated
    assert ratio == pytest.approx(1.5, rel=0.01)
    assert "1.5 times" in times.state.text()
    QTest.mouseClick(times.forget, LEFT)
    assert book.shop.setup.machine.actual_over_estimated == ()


def test_every_value_of_the_set_up_can_be_seen_and_changed(book: JobBook) -> None:
    cutting = book.cutting
    forms: dict[type, list[RecordForm]] = {
        Machine: [cutting.machines.form],
        Cutter: [cutting.drawer.form],
        Board: [cutting.boards.form],
        Saw: [cutting.bed.saw],
        Practice: [cutting.depths, cutting.holding, cutting.beginnings],
        Prices: [cutting.prices],
    }
    # What else shows values: the record of real times, and the lists of cutters.
    elsewhere = {"actual_over_estimated", *cutting.own_cutters.fields}
    setup = ShopSetup()
    records = [getattr(setup, field.name) for field in fields(setup)]
    kinds = {type(r[0] if isinstance(r, tuple) else r) for r in records}
    assert kinds == set(forms)
    for kind, shown in forms.items():
        keys = {key.partition(".")[0] for form in shown for key in form.fields}
        missing = {field.name for field in fields(kind)} - keys - elsewhere
        assert missing == set(), kind.__name__


def test_pockets_get_a_cutter_of_their_own(book: JobBook) -> None:
    cutting = book.cutting
    show(book, cutting, cutting.drawer_fold)
    field = cutting.own_cutters.fields["pocket_cutter"]
    field.box.setFocus()
    QTest.keyClick(field.box, Qt.Key.Key_Down)
    assert book.shop.setup.practice.pocket_cutter == "1/8 in up-cut"
    assert field.reset.isVisible()
    QTest.mouseClick(field.reset, LEFT)
    assert book.shop.setup.practice.pocket_cutter == ""


def test_coloured_words_follow_the_palette(book: JobBook, qapp: QApplication) -> None:
    book.shop.put(replace(book.shop.setup, machines=(Machine("other"),)))
    book.setCurrentWidget(book.cutting)
    words = next(
        label
        for label in book.cutting.findChildren(QLabel)
        if label.text().startswith("i  Changed")
    )
    light = qapp.palette()
    assert words.palette().windowText().color().name() == ink("info", light).lower()
    dark = QPalette(light)
    dark.setColor(QPalette.ColorRole.Window, QColor("#2B2B2B"))
    dark.setColor(QPalette.ColorRole.WindowText, QColor("#E8E4DB"))
    try:
        qapp.setPalette(dark)
        QApplication.processEvents()
        now = words.palette().windowText().color().name()
        assert now == ink("info", dark).lower() != ink("info", light).lower()
    finally:
        qapp.setPalette(light)
    QApplication.processEvents()
    assert words.palette().windowText().color().name() == ink("info", light).lower()
