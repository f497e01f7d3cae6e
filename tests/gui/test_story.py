"""One person's whole way: drawings dropped, laid out, moved, turned, locked, undone."""

from __future__ import annotations

import pytest
import shapely
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from drystone.app.bench.copies import Key, key_of
from drystone.app.bench.shapes import flat
from drystone.app.book.importing import SAMPLE
from drystone.app.window.main_window import MainWindow
from drystone.nesting.model.placement import Placement
from drystone.nesting.verify import verify

from .bench_person import Person
from .waiting import wait_while_it_moves
from .window_person import CTRL, LEFT, drop, type_into


def polygon(window: MainWindow, placement: Placement) -> shapely.Polygon:
    """The placed part, flattened much finer than the bench does."""
    outline = window.document.job.part(placement.part_id).outline.flatten(1e-4)
    rings = [placement.motion.points(r) for r in (outline.outer, *outline.holes)]
    return shapely.Polygon(rings[0], rings[1:])


def grip(window: MainWindow, placement: Placement) -> tuple[float, float]:
    """A point of a placed part where a finger finds wood."""
    part = window.document.job.part(placement.part_id)
    return placement.motion.point(flat(part.outline).label_point)


def placed(window: MainWindow, key: Key) -> Placement:
    found = window.document.placement(key)
    assert found is not None
    return found


def test_from_drawings_to_a_layout_and_back(window: MainWindow, qtbot: QtBot) -> None:
    document = window.document
    window.resize(1500, 950)
    empty = document.job
    folder = SAMPLE.parent
    drop(window, [folder / "side.dxf", folder / "foot.svg"])
    wait_while_it_moves(
        qtbot, lambda: len(document.job.parts) == 2, lambda: len(document.job.parts)
    )
    for row, count in enumerate(("3", "4")):
        type_into(window.book.parts.table, row, 1, count)
    assert [p.quantity for p in document.job.parts] == [3, 4]
    window.book.setCurrentWidget(window.book.stock)
    QTest.mouseClick(window.book.stock.sheet, LEFT)
    type_into(window.book.stock.table, 0, 1, "900 x 600")
    window.book.cutting.seconds.setValue(1)

    # The clock moves by itself: only what the engine says is progress.
    heard: list[object] = []
    window.nesting.engine.found.connect(heard.append)
    window.nesting.engine.going.connect(heard.append)

    def nest() -> None:
        QTest.mouseClick(window.strip.nest, LEFT)
        wait_while_it_moves(
            qtbot, lambda: not window.nesting.running, lambda: len(heard), 180.0
        )

    nest()
    assert len(document.job.layout.placements) == 7, window.banner.text

    # Room to work in: one side and one foot stay, the others go to the tray.
    side, foot = document.job.parts
    key = next(
        key_of(p) for p in document.job.layout.placements if p.part_id == foot.id
    )
    stays = next(
        key_of(p) for p in document.job.layout.placements if p.part_id == side.id
    )
    others = {key_of(p) for p in document.job.layout.placements} - {key, stays}
    document.select(others)
    window.bench.setFocus()
    QTest.keyClick(window.bench, Qt.Key.Key_Delete)
    assert document.tray() == {side.id: 2, foot.id: 3}
    window.bench.fit()
    person = Person(window.bench)
    person.drag(grip(window, placed(window, key)), (780.0, 480.0))
    assert document.selection == {key}
    before = placed(window, key)
    QTest.keyClick(window.bench, Qt.Key.Key_R)
    assert placed(window, key).turn == pytest.approx(before.turn + 15.0)

    # Dragged onto the other part, it stops at exactly the gap.
    at = grip(window, placed(window, key))
    person.press(*at)
    person.go(person.pixel(*grip(window, placed(window, stays))))
    person.let_go()
    one = polygon(window, placed(window, key))
    two = polygon(window, placed(window, stays))
    distance = one.distance(two)
    assert distance == pytest.approx(document.job.cutting.gap, abs=0.01)
    assert distance >= document.job.cutting.gap - 1e-6
    assert document.conflicts() == {}

    # Locked, it stays where it is whatever the engine does.
    QTest.keyClick(window.bench, Qt.Key.Key_L)
    locked = placed(window, key)
    assert locked.locked
    nest()
    assert placed(window, key) == locked
    assert len(document.job.layout.placements) == 7, window.banner.text
    assert verify(document.job, document.job.layout).ok

    # A locked part refuses to be dragged, and says why.
    steps = document.undo.count()
    at = grip(window, locked)
    person.press(*at, blank=locked.blank)
    person.go(person.at + QPoint(60, 0))
    person.let_go()
    assert document.undo.count() == steps and "locked" in window.banner.text

    final = document.job
    while document.undo.canUndo():
        QTest.keyClick(window, Qt.Key.Key_Z, CTRL)
    assert document.job == empty
    for _ in range(steps):
        QTest.keyClick(window, Qt.Key.Key_Y, CTRL)
    assert document.job == final
    assert document.job.layout.placements == final.layout.placements
