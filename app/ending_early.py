"""Ctrl+C during a search: the first ends it and keeps what was found."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from types import FrameType

TOLD = "stopped by Ctrl+C; going on with the best layout so far"


class EndEarly:
    """Whether the user has asked for an end, and whether there is anything to keep.

    Attributes
    ----------
    asked : bool
        Whether the search is to end.
    found : bool
        Whether a layout was found that can be gone on with; who searches says so.
    """

    def __init__(self) -> None:
        self.asked = False
        self.found = False

    def wanted(self) -> bool:
        """Return whether the search is to end, for `nesting.stop.Cancelled`."""
        return self.asked

    def on_signal(self, number: int, frame: FrameType | None) -> None:
        """Note the first Ctrl+C once there is a layout; else end the program."""
        # Nothing is printed here: it may come in the middle of other printing.
        if self.asked or not self.found:
            raise KeyboardInterrupt
        self.asked = True


@contextlib.contextmanager
def ending_early() -> Iterator[EndEarly]:
    """Hand out what Ctrl+C asks for meanwhile; afterwards it is as before.

    Where Ctrl+C is ignored or means something else already, it stays so.
    """
    early = EndEarly()
    ours = threading.current_thread() is threading.main_thread()
    if not ours or signal.getsignal(signal.SIGINT) is not signal.default_int_handler:
        yield early
        return
    signal.signal(signal.SIGINT, early.on_signal)
    try:
        yield early
    finally:
        signal.signal(signal.SIGINT, signal.default_int_handler)
