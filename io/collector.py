"""Reading without Python's search for rubbish, which would take much of the time."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def collector_paused() -> Iterator[None]:
    """Keep Python from looking for rubbish again and again while a drawing grows.

    Reading makes objects by the million and drops hardly any.
    """
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()
