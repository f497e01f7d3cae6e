"""Columns share a table's width; the least important make way."""

from __future__ import annotations

from drystone.app.book.column_room import ColumnRoom, share

NAME = ColumnRoom(200, 80)
COUNT = ColumnRoom(50, 50)
BOARD = ColumnRoom(90, 60, hides=1)
ORDER = ColumnRoom(40, 40, hides=2)
ALL = [NAME, COUNT, BOARD, ORDER]


def test_with_room_all_have_what_they_wish_for() -> None:
    assert share(ALL, 1000, 24) == [200, 50, 90, 40]


def test_names_are_shortened_before_columns_make_way() -> None:
    assert share(ALL, 300, 24) == [150, 50, 60, 40]


def test_the_least_important_makes_way_and_the_button_has_its_room() -> None:
    assert share(ALL, 229, 24) == [95, 50, 60, 0]
    assert share(ALL, 213, 24) == [139, 50, 0, 0]


def test_what_never_makes_way_keeps_its_least() -> None:
    assert share(ALL, 100, 24) == [80, 50, 0, 0]
