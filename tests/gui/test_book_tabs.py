"""Tabs of a part in the job book: put, moved and taken away."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from drystone.app.book.book import JobBook
from drystone.app.book.tabs_section import TabsSection
from drystone.nesting.model.holding import Holding, TabRule
from drystone.nesting.model.job import Cutting, Job
from drystone.nesting.model.outline import Loop, Outline
from drystone.nesting.model.part import Part
from drystone.nesting.shop.holddown import held
from drystone.nesting.shop.tabs import in_hole, tabs_of

from .book_person import LEFT, document_of, show

RING = Part(
    "ring",
    "hotel frame",
    Outline(Loop.rectangle(300, 200), (Loop.circle(150, 100, 60).oriented(False),)),
    material="birch plywood",
    thickness=12.0,
)


@pytest.fixture
def section(book: JobBook, qtbot: QtBot) -> TabsSection:
    """The section, with a part that has a large hole and no tab."""
    document_of(book).open(Job("Frames", (RING,), (), Cutting(6.0, 1.5, 12.0)))
    show(book, book.cutting, book.cutting.holding_fold)
    found = book.cutting.part_tabs
    qtbot.waitUntil(lambda: found.picture.height() > 100, timeout=5000)
    return found


def part_of(book: JobBook) -> Part:
    return document_of(book).job.parts[0]


def at(section: TabsSection, x: float, y: float) -> QPoint:
    return section.picture.at(x, y).toPoint()


def test_tabs_are_put_moved_and_taken_away_by_pointer(
    book: JobBook, section: TabsSection
) -> None:
    picture = section.picture
    QTest.mouseClick(picture, LEFT, pos=at(section, 100, 3))
    (tab,) = tabs_of(part_of(book))
    assert tab.middle == pytest.approx((100, 0), abs=3.0) and tab.middle[1] == 0.0
    QTest.mouseClick(picture, LEFT, pos=at(section, 150, 155))
    assert len(tabs_of(part_of(book))) == 2
    assert in_hole(part_of(book), tabs_of(part_of(book))[1])
    assert section.list.count() == 2 and "in a hole" in section.list.item(1).text()
    # Dragged round the corner, to the right edge.
    start, end = at(section, 100, 0), at(section, 297, 80)
    QTest.mousePress(picture, LEFT, pos=start)
    QTest.mouseMove(picture, start + (end - start) / 2)
    QTest.mouseMove(picture, end)
    QTest.mouseRelease(picture, LEFT, pos=end)
    moved = tabs_of(part_of(book))[0]
    assert moved.middle == pytest.approx((300, 80), abs=3.0)
    assert document_of(book).undo.undoText() == "Move a tab of hotel frame"
    document_of(book).undo.undo()
    assert tabs_of(part_of(book))[0] == tab
    # What is put stays, whatever the rule would put there.
    job = replace(document_of(book).job, holding=Holding(TabRule.ALL))
    assert held(job, book.shop.setup.practice) is job


def test_tabs_are_changed_by_keys_and_numbers(
    book: JobBook, section: TabsSection
) -> None:
    for button in (section.add, section.add):
        button.setFocus()
        QTest.keyClick(button, Qt.Key.Key_Space)
    first, second = tabs_of(part_of(book))
    assert math.dist(first.middle, second.middle) > 200, "far from each other"
    section.list.setFocus()
    section.list.setCurrentRow(0)
    field = section.places[0]
    field.line.setFocus()
    field.line.setText("120 mm")
    QTest.keyClick(field.line, Qt.Key.Key_Return)
    assert tabs_of(part_of(book))[0].middle[0] == pytest.approx(120)
    section.put_tab((122.0, tabs_of(part_of(book))[0].middle[1]))
    assert len(tabs_of(part_of(book))) == 2
    assert "Another tab" in section.remarks.said[0][1]
    for _ in range(2):
        section.remove.setFocus()
        QTest.keyClick(section.remove, Qt.Key.Key_Space)
    assert tabs_of(part_of(book)) == ()
    # Taken away by hand, none comes back by the rule of the job.
    job = replace(document_of(book).job, holding=Holding(TabRule.ALL))
    assert tabs_of(held(job, book.shop.setup.practice).parts[0]) == ()
    QTest.mouseClick(section.anew, LEFT)
    assert len(tabs_of(part_of(book))) == 5, "one for each 200 mm of 1,000"
