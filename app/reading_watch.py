"""Reading at the command line that is seen to go on, and that Ctrl+C stops."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .progress import Bar
from .reading_words import naming_limits

if TYPE_CHECKING:
    from ..io.read_drawing import ReadDrawing


def watched(
    look_at: Callable[..., ReadDrawing], bar: Bar
) -> Callable[..., ReadDrawing]:
    """Return a reader that shows on a bar what it is at.

    Parameters
    ----------
    look_at : callable
        Such as `GuardedReader.look_at`.
    bar : Bar
        Where it is shown.

    Returns
    -------
    callable
        The reader; of drawings that are too large it says which option allows them.
    """

    def look(path: Path | str, *args: Any, **options: Any) -> ReadDrawing:
        begun = time.monotonic()
        at = (0.0, "opening")

        def tell(share: float, words: str) -> None:
            nonlocal at
            at = (share, words)

        def shown() -> bool:
            seconds = time.monotonic() - begun
            words = f"{Path(path).name}: {at[1]}, {seconds:.0f} s; Ctrl+C stops"
            bar.update(at[0], words)
            return False

        with naming_limits():
            return look_at(path, *args, cancelled=shown, tell=tell, **options)

    return look
