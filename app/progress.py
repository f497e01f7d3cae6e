"""A progress bar on stderr, only where somebody can see it."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

SHOW_AFTER = 0.7
"""Work shorter than this flashes nothing, s."""


class Bar(Protocol):
    """What a long piece of work tells about itself."""

    def update(self, share: float, words: str) -> None:
        """Say how much is done (0 to 1) and what is going on."""


class _Silent:
    def update(self, share: float, words: str) -> None:
        """Show nothing."""


class _Shown:
    """A bar that appears once the work turns out to be long."""

    def __init__(self) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, Progress, TextColumn

        plain = bool(os.environ.get("NO_COLOR"))
        self._progress = Progress(
            TextColumn("{task.percentage:>3.0f} %"),
            BarColumn(bar_width=24),
            TextColumn("{task.description}"),
            console=Console(stderr=True, no_color=plain),
            transient=True,
        )
        self._task = self._progress.add_task("", total=1.0)
        self._begun = time.monotonic()
        self._showing = False

    def update(self, share: float, words: str) -> None:
        """Say how much is done (0 to 1) and what is going on."""
        if not self._showing and time.monotonic() - self._begun > SHOW_AFTER:
            self._progress.start()
            self._showing = True
        from rich.markup import escape

        self._progress.update(
            self._task, completed=min(share, 1.0), description=escape(words)
        )

    def close(self) -> None:
        """Take the bar away."""
        if self._showing:
            self._progress.stop()


@contextmanager
def progress(quiet: bool) -> Iterator[Bar]:
    """Yield a bar; it shows nothing when quiet or when stderr is no terminal."""
    if quiet or not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        yield _Silent()
        return
    bar = _Shown()
    try:
        yield bar
    finally:
        bar.close()
