"""The wait of the other tests: it lasts as long as there is progress, no longer."""

from __future__ import annotations

from itertools import count

import pytest
from pytestqt.qtbot import QtBot

from .waiting import wait_while_it_moves


def test_a_wait_lasts_as_long_as_something_moves(qtbot: QtBot) -> None:
    steps = count()
    done = count()
    wait_while_it_moves(qtbot, lambda: next(done) > 10, lambda: next(steps), 0.15)
    with pytest.raises(AssertionError, match="nothing moves, at 'stuck'"):
        wait_while_it_moves(qtbot, lambda: False, lambda: "stuck", 0.1)
