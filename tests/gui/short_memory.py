"""Reading in which drawings called `huge` need more memory than there is."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

from drystone.app.window import reading
from drystone.app.window.engine_child import Request, Show
from drystone.io import read_drawing
from drystone.io.read_drawing import ReadDrawing

WORK = f"{__name__}:read"

spent = False
"""Whether a drawing has left this process without memory."""


def read(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Read as the window does, but as if memory ran out."""
    look_at = read_drawing.look_at

    def short(path: Path | str, *said: Any, **options: Any) -> ReadDrawing:
        global spent
        with open(Path(path).parent / "processes.txt", "a") as told:
            told.write(f"{os.getpid()} {Path(path).name}\n")
        spent = spent or Path(path).name.startswith("huge")
        if spent:
            raise MemoryError
        return look_at(path, *said, **options)

    vars(read_drawing)["look_at"] = short
    reading.read(request, show, stopped)
