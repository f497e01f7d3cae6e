"""Reading drawings and orders in a process of its own: what runs there, and unpacking.

A drawing from a stranger may take a reader long, or much memory; the window must not
feel that, and stopping must end it whatever it does. Nothing here knows Qt or the
engine, so that the other process starts quickly.
"""

from __future__ import annotations

import contextlib
import pickle
import sys
from collections.abc import Callable
from pathlib import Path

from ...nesting.model.placement import Layout
from ..book.importing import Read, read_drawings, read_whole
from .engine_child import Request, Show


def read(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Read files and show the figure ``read``, which `unpacked` understands.

    The options are ``paths``, a list of names; ``whole``, whether it is one order;
    ``units``, what the user has said about the unit of drawings, by name; and
    ``layers``, what a job says of layers and colours (`Job.layers`).
    """
    _limit_memory()
    paths = [Path(name) for name in request.options["paths"]]
    found: Read | None
    if request.options["whole"]:
        show.progress(-1.0, paths[0].name)
        found = read_whole(paths[0])
    else:
        from ...io.operations import told_from

        units = request.options.get("units", {})
        layers = told_from(request.options.get("layers", ()))
        found = read_drawings(paths, stopped, units, show.progress, layers)
    if found is not None:
        data = pickle.dumps(found, pickle.HIGHEST_PROTOCOL)
        show(Layout(), 0.0, {"read": data})


def unpacked(data: bytes) -> Read:
    """Return what was read; for a thread beside the window's."""
    found = pickle.loads(data)
    assert isinstance(found, Read)
    return found


def _limit_memory() -> None:
    if sys.platform != "win32":
        import resource

        from ...io.read_guarded import MEMORY

        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_DATA, (MEMORY, MEMORY))


def sketch(request: Request, show: Show, stopped: Callable[[], bool]) -> None:
    """Read a drawing's lines and show the figure ``sketch``.

    The options are ``path`` and ``units``, the unit it was read in.
    """
    from ..book.sketch import sketch_of

    _limit_memory()
    path = Path(request.options["path"])
    drawn = sketch_of(path, request.options["units"], stopped)
    show(Layout(), 0.0, {"sketch": drawn})
