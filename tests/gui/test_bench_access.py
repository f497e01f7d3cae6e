"""What a screen reader finds on the bench."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAccessible, QAccessibleInterface

from drystone.app.bench import accessible

from .bench_person import CTRL, Person

NAME = QAccessible.Text.Name


def bench(person: Person) -> QAccessibleInterface:
    return QAccessible.queryAccessibleInterface(person.view)


def test_the_bench_is_a_list_of_all_placed_copies(person: Person) -> None:
    found = bench(person)
    assert found.role() == QAccessible.Role.List
    assert found.text(NAME) == "Bench"
    assert found.childCount() == len(person.document.job.layout.placements) == 8
    names = [found.child(i).text(NAME) for i in range(8)]
    assert names[1] == "Side 2, blank 1, x 160.00 mm, y 20.00 mm, turned 0°"
    assert found.child(8) is None
    assert found.child(3) is found.child(3)


def test_names_tell_what_is_wrong_and_what_is_locked(person: Person) -> None:
    person.document.set_locked([("side", 1)], True)
    person.document.nudge([("side", 2)], -35, 0)
    found = bench(person)
    assert "locked" in found.child(0).text(NAME)
    assert "but the gap is" in found.child(1).text(NAME)
    told = found.child(1).text(QAccessible.Text.Description)
    assert "100 × 60 mm" in told and "5.00 mm to Side 1" in told


def test_selection_and_the_keys_place_are_told(person: Person) -> None:
    person.document.select([("side", 2), ("disc", 1)], ("disc", 1))
    found = bench(person)
    states = [found.child(i).state() for i in range(8)]
    selected = [i for i, state in enumerate(states) if state.selected]
    assert selected == [1, 4]
    assert [i for i, state in enumerate(states) if state.focused] == [4]
    assert found.indexOfChild(found.focusChild()) == 4


def test_a_copy_is_found_where_it_is_seen(person: Person) -> None:
    found = bench(person)
    child = found.child(4)
    middle = child.rect().center()
    assert found.childAt(middle.x(), middle.y()) is child
    place = person.view.viewport().mapToGlobal(person.pixel(330, 230))
    assert child.rect().contains(place)
    assert child.parent() is found


def test_a_copy_put_in_the_tray_is_no_longer_valid(person: Person) -> None:
    found = bench(person)
    child = found.child(1)
    assert child.isValid()
    person.document.to_tray([("side", 2)])
    assert not child.isValid() and child.text(NAME) == ""
    assert found.childCount() == 7


def test_edits_and_walking_are_announced(
    person: Person, monkeypatch: pytest.MonkeyPatch
) -> None:
    heard: list[str] = []

    class Stand:
        """In the place of Qt's own, which says nothing where nobody listens."""

        Event, Text, Role = QAccessible.Event, QAccessible.Text, QAccessible.Role

        @staticmethod
        def isActive() -> bool:
            return True

        @staticmethod
        def updateAccessibility(event: object) -> None:
            message = getattr(event, "message", None)
            heard.append("focus" if message is None else message())

    monkeypatch.setattr(accessible, "QAccessible", Stand)
    person.key(Qt.Key.Key_Period)
    assert heard and heard[-1] == "focus"
    person.document.select([("side", 2)])
    person.key(Qt.Key.Key_Right, CTRL)
    assert heard[-1].startswith("Side 2, blank 1, x 160.10 mm")
    person.key(Qt.Key.Key_Delete)
    assert heard[-1] == "Side 2 is in the tray now"
