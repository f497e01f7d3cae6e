"""What the bench paints: numbers at every size, pictures in bits, fair colours."""

from __future__ import annotations

import itertools
import time
from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QObject, QPoint, QRect
from PySide6.QtGui import QColor, QFontMetricsF, QImage, QPaintEvent, QPalette, QRegion
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from drystone.app.bench import camera
from drystone.app.bench.colours import DARK, FILLS, LIGHT, Theme
from drystone.app.bench.painting import body, label_spots, ruler_of
from drystone.app.bench.plan import plan
from drystone.app.bench.shapes import flat
from drystone.app.bench.view import BenchView
from drystone.app.window.document import Document
from drystone.nesting.model.curve import Arc, Line
from drystone.nesting.model.holding import Holding, ReliefKind
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Mark, Operation, Part
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.stock import Stock

from .bench_jobs import planter_job
from .bench_person import Person
from .seeing import contrast


def picture(view: BenchView) -> QImage:
    """Return what the bench shows when all of it is sharp."""
    view.camera.sharpen_all()
    return view.grab().toImage()


def differing(one: QImage, two: QImage, at: QPoint, room: int) -> int:
    """Return how many pixels round a place differ in two pictures."""
    return sum(
        one.pixelColor(x, y) != two.pixelColor(x, y)
        for x in range(at.x() - room, at.x() + room)
        for y in range(at.y() - room, at.y() + room)
    )


def odd_job() -> Job:
    """Offcuts of odd outlines beside a large sheet."""
    job = planter_job()
    corner = [(0, 0), (500, 0), (500, 150), (200, 150), (200, 420), (0, 420)]
    half = Loop((Line((0.0, 0.0), (300.0, 0.0)), Arc((150.0, 0.0), 150.0, 0.0, 180.0)))
    stock = (
        *job.stock,
        Stock("corner", "Corner", Outline(Loop.polygon(corner)), offcut=True, count=1),
        Stock("half", "Half round", Outline(half), offcut=True, count=1),
        Stock("strip", "Strip", Outline(Loop.rectangle(90, 700)), offcut=True, count=1),
        Stock("sheet", "Sheet", Outline(Loop.rectangle(2440, 1220))),
    )
    blanks = tuple(Blank(i) for i in ("board", "corner", "half", "strip", "sheet"))
    placed = tuple(p for p in job.layout.placements if p.blank == 0)
    return replace(job, stock=stock, layout=Layout(blanks, placed))


def show(qtbot: QtBot, job: Job, width: int = 1000, height: int = 700) -> BenchView:
    view = BenchView(Document(job))
    qtbot.addWidget(view)
    view.resize(width, height)
    view.show()
    qtbot.waitExposed(view)
    view.fit()
    return view


def is_ink(colour: QColor, theme: Theme) -> bool:
    ink = theme.ink
    return (
        abs(colour.red() - ink.red())
        + abs(colour.green() - ink.green())
        + abs(colour.blue() - ink.blue())
    ) < 90


@pytest.mark.parametrize("size", [(1000, 700), (520, 380), (1600, 950)])
def test_every_blank_has_its_number_above_it_at_fit(
    qtbot: QtBot, size: tuple[int, int]
) -> None:
    view = show(qtbot, odd_job(), *size)
    image = picture(view)
    for frame, box in zip(view.frame_items, view.plan.boxes, strict=True):
        assert frame.title_at(view.scale_now()).split()[0] == str(frame.index + 1)
        corner = view.mapFromScene(box[0], box[3])
        above = QRect(corner + QPoint(-2, -22), corner + QPoint(12, -6))
        assert any(
            is_ink(image.pixelColor(x, y), view.theme)
            for x in range(above.left(), above.right())
            for y in range(above.top(), above.bottom())
        ), frame.index
        room = view.mapFromScene(frame.sceneBoundingRect()).boundingRect()
        assert room.contains(above.topLeft()) and room.contains(above.bottomRight())


def test_titles_end_before_the_next_blank(qtbot: QtBot) -> None:
    view = show(qtbot, odd_job(), 520, 380)
    scale = view.scale_now()
    first, second = view.frame_items[:2]
    assert first.title_at(scale) != first.title_at(100.0)
    assert second.title_at(100.0).startswith("2   Corner")
    assert first.title_at(1e-3) == "1"


@pytest.mark.parametrize("blanks", [1, 2, 3, 8])
def test_a_view_that_stays_fitted_comes_to_rest_at_every_size(
    qtbot: QtBot, blanks: int
) -> None:
    """Scroll bars that come and go must not change what fits, again and again."""
    job = planter_job()
    view = BenchView(Document(replace(job, layout=Layout((Blank("board"),) * blanks))))
    qtbot.addWidget(view)
    view.show()
    qtbot.waitExposed(view)
    count = 0

    class Counting(QObject):
        def eventFilter(self, watched: QObject, event: QEvent) -> bool:
            nonlocal count
            count += event.type() == QEvent.Type.Resize
            assert count < 500
            return False

    counting = Counting()
    view.viewport().installEventFilter(counting)
    for width in range(241, 1300, 61):
        for height in range(163, 900, 53):
            count = 0
            view.resize(width, height)
            QApplication.processEvents()
            assert count <= 4, (width, height)


def test_a_name_keeps_off_what_is_engraved() -> None:
    tag = Outline(Loop.rectangle(160, 30))
    word = Mark(Operation.ENGRAVE, Loop.rectangle(60, 20, 50, 5).segments)
    (plain,) = label_spots(Part("tag", "Tag", tag))
    beside, middle = label_spots(Part("tag", "Tag", tag, marks=(word,)))
    assert middle == plain and plain[0] == pytest.approx((80.0, 15.0), abs=1.0)
    assert not 50.0 < beside[0][0] < 110.0
    assert beside[1] == pytest.approx(15.0, abs=1.5)


def test_the_overview_hides_while_something_is_dragged(person: Person) -> None:
    view = person.view
    view.document.open(replace(planter_job(), layout=Layout((Blank("board"),) * 6)))
    side = Placement("side", 1, 0, 20, 20)
    layout = replace(view.document.job.layout, placements=(side,))
    view.document.open(replace(view.document.job, layout=layout))
    view.fit_blank(0)
    assert view.overview.isVisible()
    person.press(60, 50)
    person.go(person.pixel(200, 150))
    assert not view.overview.isVisible()
    person.let_go()
    assert view.overview.isVisible()
    view.overview.want(False)
    view.camera.scroll(5, 5)
    assert not view.overview.isVisible()


@pytest.mark.parametrize("size", [(520, 380), (1000, 700), (1600, 950)])
def test_no_title_is_cut_at_the_edge_of_the_view(
    qtbot: QtBot, size: tuple[int, int]
) -> None:
    job = odd_job()
    long = [replace(s, name=f"{s.name} from the rack in the shed") for s in job.stock]
    view = show(qtbot, replace(job, stock=tuple(long)), *size)
    scale = view.scale_now()
    shortened = 0
    for frame, box in zip(view.frame_items, view.plan.boxes, strict=True):
        title = frame.title_at(scale)
        metrics = QFontMetricsF(frame._bold())
        left = view.mapFromScene(box[0], box[3]).x()
        assert left + metrics.horizontalAdvance(title) <= view.viewport().width()
        titles = frame._titles
        assert title in titles  # words are left out, none is cut off
        shortened += title != titles[0]
    assert shortened


def test_ruler_numbers_keep_off_the_blank_on_the_left(qtbot: QtBot) -> None:
    view = show(qtbot, odd_job(), 520, 380)
    frame = view.frame_items[1]
    assert frame._job is not None
    for scale, told in ((0.6 * view.scale_now(), False), (2.0, True)):
        ruler = ruler_of(frame._job.stock_of(1), scale, "mm")
        kept = frame._with_room(ruler, scale).numbers
        # Below it the titles of the next row come first.
        assert any(below for _, _, below in kept) is told
        assert any(not below for _, _, below in kept) is told


def test_names_stand_above_the_hatching_of_a_conflict(qtbot: QtBot) -> None:
    job = planter_job()
    first = job.layout.placements[0]
    view = show(qtbot, job)
    name = flat(job.part(first.part_id).outline).label_point
    at = view.mapFromScene(*view.plan.on_bench(0, first.motion.point(name)))
    plate = QRect(at - QPoint(8, 5), at + QPoint(8, 5))

    def red(image: QImage) -> int:
        problem = view.theme.problem
        return sum(
            image.pixelColor(x, y) == problem
            for x in range(plate.left(), plate.right())
            for y in range(plate.top(), plate.bottom())
        )

    moved = replace(job.layout.placements[1], x=first.x, y=first.y)
    rest = job.layout.placements[2:]
    both = replace(job.layout, placements=(first, moved, *rest))
    view.document.change("clash", replace(job, layout=both))
    assert view.document.conflicts()
    there = red(picture(view))
    view._selected.named = []
    assert there == 0 < red(picture(view))


def test_mixed_blanks_stand_close(qtbot: QtBot) -> None:
    """Four offcuts stand in one row above the sheet, not in two half empty ones."""
    boxes = plan(odd_job()).boxes
    bases = [round(b[1], 3) for b in boxes]
    assert len(set(bases[:4])) == 1 and bases[4] < bases[0]
    for a, b in itertools.pairwise(boxes[:4]):
        assert a[2] < b[0]


def test_a_sharp_picture_is_painted_in_bits(person: Person) -> None:
    """However short the time granted, a bit is done; the rest comes later."""
    view = person.view
    whole = picture(view)
    item = view.blank_items[0]
    item.repaint_all()
    item.until = 0.0
    scale, seen = view.scale_now(), view.camera.seen()
    ratio = view.devicePixelRatioF()
    bits = 0
    while item.is_blurred(scale, ratio, seen):
        item.sharpen(scale, ratio, seen, 0.0)
        bits += 1
    assert bits >= 4
    assert view.grab().toImage() == whole


def test_when_time_is_up_the_parts_are_shown_plainly_and_sharp_soon(
    person: Person, qtbot: QtBot
) -> None:
    view = person.view
    whole = picture(view)
    view.blank_items[0].repaint_all()
    view.camera.hurry()
    rough = view.grab().toImage()
    assert rough != whole
    at = person.pixel(60, 30)  # beside the name
    assert rough.pixelColor(at) != view.theme.board  # the part is there all the same
    qtbot.waitUntil(lambda: view.grab().toImage() == whole, timeout=5000)


def test_scrolled_in_hatches_meet(person: Person) -> None:
    """What comes into view by scrolling looks as if it had been there all along."""
    view = person.view
    for _ in range(9):
        view.zoom_by(1.4)
    view.centerOn(*view.plan.on_bench(0, (210, 50)))
    view.camera.sharpen_all()
    view.grab()
    view.camera.scroll(37, 23)
    patched = view.grab().toImage()
    for item in view.blank_items:
        item.repaint_all()
    fresh = picture(view)
    # Every third pixel: hatches repeat every eighth, which every fourth would miss.
    changed = sum(
        patched.pixelColor(x, y) != fresh.pixelColor(x, y)
        for x in range(0, fresh.width(), 3)
        for y in range(0, fresh.height(), 3)
    )
    assert changed < 0.002 * fresh.width() * fresh.height() / 9


def test_a_nudge_repaints_no_more_than_it_must(
    person: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other blank's frame is not painted when something moves on this one."""
    view = person.view
    view.fit()
    picture(view)
    QApplication.processEvents()
    painted: list[int] = []
    for frame in view.frame_items:
        monkeypatch.setattr(
            frame, "paint", lambda *a, index=frame.index: painted.append(index)
        )
    person.document.nudge([("side", 2)], 1.0, 0.0)
    end = time.monotonic() + 1.0
    while not painted and time.monotonic() < end:
        QApplication.processEvents()
    assert 1 not in painted


def relief_job() -> Job:
    """A corner bracket with relief, tabs and screws asked for."""
    outline = Outline(
        Loop.polygon([(0, 0), (150, 0), (150, 40), (110, 40), (110, 80), (0, 80)])
    )
    tab = Mark(Operation.TAB, (Line((60.0, 0.0), (70.0, 0.0)),), "tab")
    part = Part("bracket", "Bracket", outline, (tab,))
    job = planter_job()
    layout = Layout((Blank("board"),), (Placement("bracket", 1, 0, 200, 150),))
    return replace(job, parts=(part,), layout=layout)


def test_relief_tabs_and_screw_spots_are_drawn(qtbot: QtBot) -> None:
    plain = show(qtbot, relief_job())
    before = picture(plain)
    job = replace(relief_job(), relief=ReliefKind.DOG_BONE, holding=Holding(screws=2))
    view = show(qtbot, job)
    qtbot.waitUntil(lambda: len(view.blank_items[0].screws) == 2, timeout=5000)
    after = picture(view)
    corner = view.mapFromScene(*view.plan.on_bench(0, (310.0, 190.0)))
    assert differing(before, after, corner, 5) >= 6
    x, y = view.plan.on_bench(0, view.blank_items[0].screws[0])
    assert after.pixelColor(view.mapFromScene(x, y)) != before.pixelColor(
        view.mapFromScene(x, y)
    )
    x, y = view.plan.on_bench(0, (265.0, 150.0))
    tab = before.pixelColor(view.mapFromScene(x, y))
    assert tab.lightnessF() > 0.9  # white amid the dark outline


def test_a_padlock_shows_on_parts_too_small_for_a_name(qtbot: QtBot) -> None:
    view = show(qtbot, planter_job(), 420, 300)
    assert 30 * view.scale_now() < 12  # the rail
    before = picture(view)
    view.document.set_locked([("rail", 1)], True)
    after = picture(view)
    at = view.mapFromScene(*view.plan.on_bench(0, (480, 345)))
    assert differing(before, after, at, 12) > 60


def test_the_contrast_formula_gives_the_published_extremes() -> None:
    """21:1 for black on white, 4.54:1 for #767676 (both stand in WCAG's notes)."""
    assert contrast(QColor("#000"), QColor("#fff")) == pytest.approx(21.0)
    assert contrast(QColor("#767676"), QColor("#fff")) == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_words_on_the_bench_can_be_read(theme: Theme) -> None:
    """Text 4.5:1, lines and signs that mean something 3:1 (WCAG 1.4.3, 1.4.11)."""
    for ink, ground in (
        (theme.ink, theme.bench),
        (theme.faint, theme.bench),
        (theme.plate_ink, theme.plate),
        (theme.keep_out, theme.board),
    ):
        assert contrast(ink, ground) >= 4.5
    for fill, label, _ in FILLS:
        assert contrast(QColor(label), QColor(fill)) >= 4.5
    for line, ground in (
        (theme.accent, theme.board),
        (theme.accent, theme.bench),
        (theme.accent, theme.halo),
        (theme.problem, theme.board),
        (theme.problem, theme.halo),
        (theme.keep_out, theme.board),
        (theme.board_edge, theme.board),
    ):
        assert contrast(line, ground) >= 3.0


@pytest.mark.parametrize("theme", [LIGHT, DARK])
def test_parts_stand_out_from_their_edges_in_grey(theme: Theme) -> None:
    """In a grey picture the line round each part still parts it from the next."""
    for index in range(len(FILLS)):
        fill, _, _ = theme.part_fill(index)
        assert contrast(body(fill, theme), theme.outline) >= 3.0


def test_touching_parts_are_told_apart_in_grey(qtbot: QtBot) -> None:
    """Two copies side by side without any gap: a dark line lies between them."""
    job = planter_job()
    layout = Layout(
        (Blank("board"),),
        (Placement("side", 1, 0, 200, 100), Placement("side", 2, 0, 300, 100)),
    )
    none = Cutting(0.0, 0.0, 10.0)
    view = show(qtbot, replace(job, layout=layout, cutting=none))
    assert not view.document.conflicts()
    grey = picture(view).convertToFormat(QImage.Format.Format_Grayscale8)
    row = view.mapFromScene(*view.plan.on_bench(0, (300, 108)))
    line = [grey.pixelColor(row.x() + dx, row.y()).lightness() for dx in range(-8, 9)]
    assert min(line[5:12]) < 70 < 110 < min(line[0], line[-1])


def test_rulers_reach_their_numbers(qtbot: QtBot) -> None:
    view = show(qtbot, odd_job())
    frame = view.frame_items[4]
    room = view.mapFromScene(frame.sceneBoundingRect()).boundingRect()
    corner = view.mapFromScene(view.plan.boxes[4][0], view.plan.boxes[4][1])
    words = view.fontMetrics().horizontalAdvance("1000")
    assert room.left() <= corner.x() - 9 - words
    assert room.bottom() >= corner.y() + 9 + view.fontMetrics().height()


def test_a_dark_bench_is_repainted(person: Person) -> None:
    light = picture(person.view)
    dark = QPalette()
    dark.setColor(QPalette.ColorRole.Window, QColor("#202020"))
    person.view.setPalette(dark)
    after = picture(person.view)
    place = person.pixel(500, 200)
    assert light.pixelColor(place).lightness() > 200
    assert after.pixelColor(place).lightness() < 60


class Listener(QObject):
    """Hears what of a widget is painted."""

    def __init__(self) -> None:
        super().__init__()
        self.region = QRegion()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if isinstance(event, QPaintEvent):
            self.region = self.region.united(event.region())
        return False


def test_the_handle_leaves_nothing_behind(person: Person) -> None:
    """Where it stood is painted anew when nothing is selected any more."""
    view = person.view
    view.zoom_by(0.12)  # the handle stands far from the part, as the bench counts
    person.click(350, 45)
    assert person.document.selection == {("side", 3)}
    handle = view.handle_at()
    assert handle is not None
    picture(view)
    QApplication.processEvents()
    listener = Listener()
    view.viewport().installEventFilter(listener)
    person.document.select(())
    end = time.monotonic() + 2.0
    while listener.region.isEmpty() and time.monotonic() < end:
        QApplication.processEvents()
    assert listener.region.contains(handle.toPoint())
    assert not listener.region.contains(QPoint(700, 600))  # and not just everything
    view.viewport().removeEventFilter(listener)


def test_what_was_shown_plainly_is_painted_anew_when_a_corner_is_sharp(
    qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sharp picture that is ready while a corner is repainted is for all of it."""
    view = show(qtbot, planter_job())
    sharp = picture(view)
    item = view.blank_items[0]
    scale, ratio = view.scale_now(), view.devicePixelRatioF()
    item.repaint_all()
    monkeypatch.setattr(camera, "AT_ONCE", -1.0)  # no time: shown plainly
    assert view.viewport().grab().toImage() != sharp
    monkeypatch.setattr(camera, "AT_ONCE", 100.0)
    at = view.mapFromScene(item.pos())
    view.viewport().grab(QRect(at - QPoint(-9, 29), at - QPoint(-29, 9)))
    assert item._picture is not None and item._picture.finished
    seen = view.camera.seen().translated(-item.pos())
    assert item.is_blurred(scale, ratio, seen)
    updates: list[object] = []
    item.update = lambda *box: updates.append(box)  # type: ignore[method-assign]
    view.camera.sharpen_all()
    assert updates and not item.is_blurred(scale, ratio, seen)


@pytest.mark.parametrize("stocked", [False, True])
def test_words_on_an_empty_bench_are_whole_where_it_is_narrow(
    qtbot: QtBot, stocked: bool
) -> None:
    job = planter_job()
    stock = job.stock if stocked else ()
    view = BenchView(Document(replace(job, stock=stock, layout=Layout())))
    qtbot.addWidget(view)
    inked = []
    for width in (900, 240):
        view.resize(width, 400)
        view.show()
        qtbot.waitExposed(view)
        image = picture(view)
        plain = view.theme.bench.rgb()
        inked.append(
            sum(
                image.pixel(x, y) != plain
                for x in range(image.width())
                for y in range(image.height())
            )
        )
    whole, narrow = inked
    assert narrow > 0.95 * whole > 0
