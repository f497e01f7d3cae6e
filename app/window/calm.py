"""Large piles of objects made and unmade without holding the window up.

Python's garbage collector walks through every object there is while nothing else may
run: with a large job in memory that is felt as a stutter. And a thread that computes in
Python lets another one run only when that has waited for a while: painting, which asks
dozens of times for each frame, then takes a multiple of it.
"""

from __future__ import annotations

import contextlib
import gc
import sys
import threading
from collections.abc import Iterator

TURN = 0.000_02
"""How long a thread that wants to run waits for one that computes, seconds."""

PILE = 50_000
"""A block that has made more objects than this has them left alone for good."""

_lock = threading.Lock()
_users = 0
_turn = 0.0


@contextlib.contextmanager
def calm() -> Iterator[None]:
    """Let the window run beside a block that makes many objects that will stay.

    Collecting is put off, threads take turns quickly, and afterwards the collector
    does not look at a large pile of new objects: they go with their last user.
    """
    global _users, _turn
    with _lock:
        _users += 1
        if _users == 1:
            gc.disable()
            _turn = sys.getswitchinterval()
            sys.setswitchinterval(TURN)
    try:
        yield
    finally:
        with _lock:
            _users -= 1
            if not _users:
                sys.setswitchinterval(_turn)
                if gc.get_count()[0] > PILE:
                    gc.freeze()
                gc.enable()
