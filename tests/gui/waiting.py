"""Waiting for what takes as long as the machine is slow."""

from __future__ import annotations

import time
from collections.abc import Callable

from pytestqt.qtbot import QtBot

STILL = 120.0
"""Nothing at all moved for so long, seconds: what is waited for will not come."""


def wait_while_it_moves(
    qtbot: QtBot,
    done: Callable[[], bool],
    sign: Callable[[], object],
    still: float = STILL,
) -> None:
    """Wait until something is done, for as long as a sign of progress changes.

    Parameters
    ----------
    done : callable
        Whether the wait is over.
    sign : callable
        Anything that is another value once there is progress.
    still : float
        Without a change for so long the wait fails, seconds.
    """
    last, since = sign(), time.monotonic()
    while not done():
        qtbot.wait(20)
        now = sign()
        if now != last:
            last, since = now, time.monotonic()
        assert time.monotonic() - since < still, f"nothing moves, at {now!r}"
