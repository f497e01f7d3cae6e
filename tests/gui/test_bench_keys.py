"""The bench by keys, by numbers, and the helping hands that look for room."""

from __future__ import annotations

import threading
from dataclasses import replace
from typing import Any

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit
from pytestqt.qtbot import QtBot

from drystone.app.bench import arrange, laying
from drystone.app.bench.laying import room_on
from drystone.app.bench.numbers_plate import NumbersPlate
from drystone.app.window.document import Notice
from drystone.nesting.model.job import Job
from drystone.nesting.model.outline import Loop
from drystone.nesting.model.placement import Blank, Layout, Placement
from drystone.nesting.model.rules import Grain
from drystone.nesting.model.stock import KeepOut

from .bench_jobs import GAP, planter_job
from .bench_person import CTRL, LEFT, NONE, SHIFT, Person, at_the_bench


def box(person: Person, key: tuple[str, int]) -> tuple[float, float, float, float]:
    return arrange.box_of(person.document.job, person.where(key))


def test_s_settles_what_lies_wrongly_as_near_as_there_is_room(person: Person) -> None:
    person.document.nudge([("side", 2)], -37, 0)  # 3 mm from side 1
    assert person.document.conflicts()
    person.document.select([("side", 2)])
    person.key(Qt.Key.Key_S)
    assert person.document.conflicts() == {}
    x0, y0, _, _ = box(person, ("side", 2))
    assert (x0, y0) == pytest.approx((128, 20), abs=0.01)
    assert person.document.undo.undoText() == "Settle Side 2"
    steps = person.document.undo.count()
    person.key(Qt.Key.Key_S)  # lies well: nothing to do
    assert person.document.undo.count() == steps


def test_ctrl_shift_and_an_arrow_push_up_to_a_neighbour(person: Person) -> None:
    person.document.select([("side", 2)])
    person.key(Qt.Key.Key_Left, CTRL | SHIFT)
    assert box(person, ("side", 2))[0] == pytest.approx(120 + GAP, abs=0.01)
    assert person.document.undo.undoText() == "Push Side 2"
    person.key(Qt.Key.Key_Down, CTRL | SHIFT)
    assert box(person, ("side", 2))[1] == pytest.approx(10, abs=0.01)  # the margin
    assert person.document.conflicts() == {}
    steps = person.document.undo.count()
    person.key(Qt.Key.Key_Down, CTRL | SHIFT)
    assert person.document.undo.count() in (steps, steps + 1)
    assert box(person, ("side", 2))[1] == pytest.approx(10, abs=0.01)


def test_shift_and_page_down_take_a_part_to_the_next_blank(person: Person) -> None:
    person.document.select([("disc", 1)])
    person.key(Qt.Key.Key_PageDown, SHIFT)  # just there lies disc 2
    disc = person.where(("disc", 1))
    assert disc.blank == 1
    assert person.document.conflicts() == {}
    person.key(Qt.Key.Key_PageDown, SHIFT)  # there is no third blank
    assert person.where(("disc", 1)).blank == 1
    person.key(Qt.Key.Key_PageUp, SHIFT)
    assert person.where(("disc", 1)).blank == 0
    assert person.document.conflicts() == {}


def type_numbers(person: Person, *texts: str | None) -> NumbersPlate:
    person.key(Qt.Key.Key_Return)
    plates = person.view.viewport().findChildren(NumbersPlate)
    plate = plates[-1]
    for field, text in zip(plate.fields, texts, strict=False):
        if text is not None:
            field.setFocus()
            field.selectAll()
            QTest.keyClicks(field, text)
    QTest.keyClick(plate.fields[0], Qt.Key.Key_Return)
    return plate


def test_numbers_are_typed_on_the_bench(person: Person) -> None:
    person.document.select([("side", 3)])
    type_numbers(person, "380", '2"', "90")
    side = person.where(("side", 3))
    assert side.turn == 90
    x0, y0, _, _ = box(person, ("side", 3))
    assert (x0, y0) == pytest.approx((380, 50.8))
    assert person.document.undo.count() == 1
    assert person.view.hasFocus()


def test_numbers_for_several_parts_at_once(person: Person) -> None:
    person.document.select([("side", 1), ("side", 2)])
    plate = type_numbers(person, None, "31.5")
    assert plate.fields[0].placeholderText() == "several"
    assert box(person, ("side", 1))[:2] == pytest.approx((20, 31.5))
    assert box(person, ("side", 2))[:2] == pytest.approx((160, 31.5))
    assert person.document.undo.count() == 1


def test_a_wrong_number_is_told_and_kept(person: Person) -> None:
    person.document.select([("rail", 1)])
    plate = type_numbers(person, None, None, "45")
    assert plate.isVisible() and "grain" in plate.wrong.text()
    assert plate.fields[2].text() == "45"
    assert person.document.undo.count() == 0
    plate.fields[2].setText("180")
    QTest.keyClick(plate.fields[2], Qt.Key.Key_Return)
    assert person.where(("rail", 1)).turn == 180
    plate = type_numbers(person, "wide")
    assert plate.isVisible() and plate.wrong.text().startswith("✕")
    QTest.keyClick(plate.fields[0], Qt.Key.Key_Escape)
    assert not plate.isVisible()


def test_letters_typed_into_the_plate_turn_nothing(person: Person) -> None:
    person.document.select([("side", 1)])
    person.key(Qt.Key.Key_Return)
    field = QApplication.focusWidget()
    assert isinstance(field, QLineEdit)
    QTest.keyClicks(field, "rlf")
    assert person.document.undo.count() == 0
    QTest.keyClick(field, Qt.Key.Key_Escape)


def with_keep_outs(person: Person) -> None:
    stock = person.document.job.stock[0]
    person.document.set_keep_outs(
        stock.id,
        [
            KeepOut(Loop.circle(500, 150, 20), "clamp"),
            KeepOut(Loop.rectangle(40, 30, 420, 100), "vice"),
        ],
        "Add keep-outs",
    )


def test_keep_outs_by_keys_alone(person: Person) -> None:
    with_keep_outs(person)
    person.key(Qt.Key.Key_K)
    person.key(Qt.Key.Key_Right)
    person.key(Qt.Key.Key_Up, SHIFT)
    clamp, vice = person.document.job.stock[0].keep_outs
    assert clamp.loop.bounds == pytest.approx((481, 140, 521, 180))
    type_numbers(person, None, None, "60", "big clamp")
    clamp, vice = person.document.job.stock[0].keep_outs
    assert clamp.loop.bounds == pytest.approx((471, 130, 531, 190))
    assert clamp.label == "big clamp"
    person.key(Qt.Key.Key_K)
    type_numbers(person, None, None, "50", "20")
    clamp, vice = person.document.job.stock[0].keep_outs
    assert vice.loop.bounds == pytest.approx((420, 100, 470, 120))
    person.key(Qt.Key.Key_Delete)
    assert len(person.document.job.stock[0].keep_outs) == 1


def test_a_side_of_a_keep_out_is_pulled_alone(person: Person) -> None:
    with_keep_outs(person)
    person.click(440, 115)
    person.drag((460, 115), (490, 118))
    _, vice = person.document.job.stock[0].keep_outs
    x0, y0, x1, y1 = vice.loop.bounds
    assert (x0, y0, y1) == pytest.approx((420, 100, 130))
    assert x1 == pytest.approx(490, abs=1)


def test_two_selected_parts_are_measured_at_once(person: Person) -> None:
    heard: list[str] = []
    person.view.said.connect(heard.append)
    person.document.select([("side", 1), ("side", 2)])
    person.key(Qt.Key.Key_M)
    assert heard[-1].startswith("40.000 mm")


def test_measuring_by_two_clicks_from_a_curve_to_an_edge(person: Person) -> None:
    """From the disc's edge, a whole circle and not a chord of it, to a panel's."""
    person.view.set_tool("measure")
    person.click(330, 195.5)  # the disc's lowest point is (330, 195)
    person.at = person.pixel(330, 196)
    person.go(person.pixel(370, 79))  # the upper edge of side 3 is y = 80
    assert "115.000 mm" in person.view.figures
    person.click(370, 79)
    assert person.view.gesture is None
    person.view.set_tool("select")


def test_measuring_between_two_curves(person: Person) -> None:
    person.view.set_tool("measure")
    person.press(200, 287)  # the ring's outside, north east
    person.go(person.pixel(303, 252))  # the disc, north west
    measured = float(person.view.figures.split(" mm")[0])
    assert measured == pytest.approx(200 - 90 - 35, abs=0.005)
    person.let_go()
    person.view.set_tool("select")


def other_board_job() -> Job:
    job = planter_job()
    thick = replace(job.stock[0], id="thick", name="Thick", thickness=18.0)
    across = replace(job.stock[0], id="across", name="Across", grain=Grain.WIDTH)
    layout = replace(
        job.layout, blanks=(*job.layout.blanks, Blank("thick"), Blank("across"))
    )
    return replace(job, stock=(*job.stock, thick, across), layout=layout)


def test_a_part_is_not_dragged_onto_another_board(qtbot: QtBot) -> None:
    for person in at_the_bench(qtbot, other_board_job()):
        person.view.fit()
        person.press(60, 45)
        person.go(person.pixel(300, 200, 2))
        assert "another board" in person.view.figures
        person.let_go()
        assert person.where(("side", 1)).blank != 2
        assert person.document.conflicts() == {}
        heard: list[Notice] = []
        person.document.said.connect(heard.append)
        assert not person.view.carry("side", person.pixel(300, 200, 2))
        assert "another board" in heard[-1].text


def test_a_part_is_not_dragged_against_the_grain(qtbot: QtBot) -> None:
    for person in at_the_bench(qtbot, other_board_job()):
        person.view.fit()
        person.press(480, 345)
        person.go(person.pixel(300, 200, 3))
        assert "grain" in person.view.figures
        person.let_go()
        assert person.document.conflicts() == {}
        # By keys it is turned as its rule asks for there.
        person.document.select([("rail", 1)])
        person.view.keys.to_blank(3)
        assert person.where(("rail", 1)).turn in (90, 270)
        assert person.document.conflicts() == {}


def test_walking_tells_what_is_come_upon(person: Person) -> None:
    heard: list[str] = []
    person.view.said.connect(heard.append)
    person.key(Qt.Key.Key_Period)
    assert " mm to " in heard[-1] and "cut: 1 outside" in heard[-1]


def test_small_parts_take_a_press_in_an_area_of_24_pixels(person: Person) -> None:
    person.view.zoom_by(0.12)
    person.view.camera.scroll(0, 0)
    place = person.pixel(480, 345)  # the rail's middle; it is 30 mm wide
    off = QPoint(0, 11)
    assert 30 * person.view.scale_now() < 10
    QTest.mouseClick(person.view.viewport(), LEFT, NONE, place - off)
    assert person.document.selection == {("rail", 1)}


def test_a_copy_is_laid_in_the_only_room_there_is(qtbot: QtBot) -> None:
    """A board full but for one upright slot: the copy is laid there, turned."""
    job = planter_job()
    sides = replace(job.parts[0], quantity=40)
    rows = [
        Placement("side", 5 * j + i + 1, 0, 10 + 108 * i, 10 + 68 * j)
        for j in range(5)
        for i in range(5)
        if (i, j) not in ((4, 3), (4, 4))
    ]
    layout = Layout((Blank("board"),), tuple(rows))
    for person in at_the_bench(
        qtbot, replace(job, parts=(sides, *job.parts[1:]), layout=layout)
    ):
        before = set(person.document.job.layout.placements)
        assert person.view.lay("side")
        (new,) = set(person.document.job.layout.placements) - before
        assert person.document.conflicts() == {}
        assert arrange.box_of(job, new)[2] > 430
        while person.view.lay("side"):
            assert person.document.conflicts() == {}
        laid = len(person.document.job.layout.placements) - len(before)
        assert laid >= 2


def test_room_is_looked_for_while_the_window_goes_on(
    person: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On many full blanks that takes long: it is another thread's work."""
    where: list[bool] = []

    def looked(*asked: Any) -> Placement | None:
        where.append(threading.current_thread() is threading.main_thread())
        return room_on(*asked)

    monkeypatch.setattr(laying, "room_on", looked)
    assert person.view.lay("side")
    assert where == [False]


def test_a_copy_is_not_laid_into_another_job(
    person: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was found is dropped when the job has changed meanwhile."""

    def changed(work: Any) -> Placement | None:
        person.document.to_tray([("rail", 1)])
        found: Placement | None = work()
        return found

    monkeypatch.setattr(laying, "in_background", changed)
    steps = person.document.undo.count()
    assert not person.view.lay("side")
    assert person.document.undo.count() == steps + 1


def test_the_plate_of_numbers_stays_in_sight_with_what_is_wrong(person: Person) -> None:
    """Beside a part at the edge of the view there is no room for it."""
    person.view.resize(700, 360)
    person.view.fit_blank(0)
    person.click(560, 345)
    plate = type_numbers(person, None, None, "45")
    assert plate.isVisible() and "grain" in plate.wrong.text()
    around = plate.parentWidget()
    assert around is not None and around.rect().contains(plate.geometry())
    person.key(Qt.Key.Key_Escape)


def test_a_blank_is_taken_off_the_bench_but_for_locked_parts(person: Person) -> None:
    document = person.document
    before = document.job.layout
    number = len(before.on(0))
    said: list[Notice] = []
    document.said.connect(said.append)

    def take_away() -> None:
        document.select([("side", 2)])
        (action,) = [
            a
            for a in person.view.menu().actions()
            if a.text() == "Take blank 1 off the bench"
        ]
        action.trigger()

    document.set_locked([("side", 1)], True)
    take_away()
    assert len(document.job.layout.on(0)) == number
    assert said[-1].level == "warn" and "locked" in said[-1].text
    document.undo.undo()
    take_away()
    assert len(document.job.layout.blanks) == len(before.blanks) - 1
    assert sum(document.tray().values()) >= number
    assert document.undo.undoText() == "Take blank 1 off"
    document.undo.undo()
    assert document.job.layout == before
