"""Large piles of objects made and unmade without holding the window up.

Python's garbage collector walks through every object there is while nothing else may
run: with a large job in memory that is felt as a stutter.
"""

from __future__ import annotations

import contextlib
import gc
import threading
from collections.abc import Iterator

_lock = threading.Lock()
_users = 0


@contextlib.contextmanager
def calm() -> Iterator[None]:
    """Put collecting off while a block makes many objects that will stay."""
    global _users
    with _lock:
        _users += 1
        gc.disable()
    try:
        yield
    finally:
        with _lock:
            _users -= 1
            if not _users:
                gc.enable()


def settle() -> None:
    """Have the collector never look again at what there is now."""
    gc.freeze()
